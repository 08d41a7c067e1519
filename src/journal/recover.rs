//! Reading a journal back: the whole lines, and what of a torn last one was lost.
//!
//! Never in here: writing. Changes when the form of the lines does.

use std::collections::HashMap;
use std::fmt;
use std::sync::Arc;

use crate::engine::{Bench, Event, Fitted, State, apply, begin};
use crate::plan::{Accuracy, Capability, Decision, DeviceField, Plan, Verb};
use crate::quantity::{DecimalSign, Dimension, parse_quantity};
use crate::trace::{self, Mapping, Trace};

use super::wire::{Device, Head, Instrument, Measure, VERSION, event_from_line};

/// Most characters of a lost line that are shown.
const SHOWN: usize = 80;

/// What a journal held.
#[derive(Clone, Debug)]
pub struct Recovered {
    /// The first line.
    pub head: Head,
    /// The events, in order.
    pub events: Vec<Event>,
    /// Bytes of the whole lines; what follows is to be cut off.
    pub length: u64,
    /// The beginning of a torn last line, if there was one.
    pub lost: Option<String>,
}

/// A journal that can't be read. `Display` says what and where.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Damage {
    /// The line, from 1.
    pub line: usize,
    /// What is wrong with it.
    pub message: String,
}

impl fmt::Display for Damage {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "line {}: {}", self.line, self.message)
    }
}

/// Reads a journal's bytes. A last line that is torn is dropped and told; damage anywhere else is an error.
///
/// # Errors
/// A first line that is missing or torn, a line that can't be read and is not the last, a number that is out of order.
pub fn recover(bytes: &[u8]) -> Result<Recovered, Damage> {
    let mut lines = bytes.split_inclusive(|b| *b == b'\n').enumerate();
    let damage = |line: usize, message: String| Damage {
        line: line + 1,
        message,
    };
    let (_, first) = lines
        .next()
        .ok_or_else(|| damage(0, "the journal is empty".to_owned()))?;
    let head = head(first).map_err(|message| damage(0, message))?;
    let mut recovered = Recovered {
        head,
        events: Vec::new(),
        length: first.len() as u64,
        lost: None,
    };
    let last = bytes
        .split_inclusive(|b| *b == b'\n')
        .count()
        .saturating_sub(1);
    for (index, line) in lines {
        match event(line, recovered.events.len() as u64 + 1) {
            Ok(event) => {
                recovered.events.push(event);
                recovered.length += line.len() as u64;
            }
            Err(_) if index == last => {
                recovered.lost = Some(
                    String::from_utf8_lossy(line)
                        .trim_end()
                        .chars()
                        .take(SHOWN)
                        .collect(),
                );
            }
            Err(message) => return Err(damage(index, message)),
        }
    }
    Ok(recovered)
}

fn head(line: &[u8]) -> Result<Head, String> {
    let text = whole(line)
        .map_err(|_| "the first line is not whole: nothing had been entered yet".to_owned())?;
    let head: Head =
        serde_json::from_str(text).map_err(|e| format!("not the first line of a session: {e}"))?;
    if head.journal > VERSION {
        return Err(format!(
            "written in format {} by a newer program; this one reads up to {VERSION}",
            head.journal
        ));
    }
    Ok(head)
}

fn whole(line: &[u8]) -> Result<&str, String> {
    let line = line.strip_suffix(b"\n").ok_or("the line is not whole")?;
    std::str::from_utf8(line).map_err(|e| e.to_string())
}

fn event(line: &[u8], wanted: u64) -> Result<Event, String> {
    let (number, event) = event_from_line(whole(line)?)?;
    if number != wanted {
        return Err(format!("entry number {number} where {wanted} is due"));
    }
    Ok(event)
}

impl Head {
    /// What the engine has to know of the bench.
    #[must_use]
    pub fn bench(&self) -> Bench {
        self.bench_with(Arc::new(self.fitted()))
    }

    /// What the engine has to know of the instruments in their roles.
    #[must_use]
    pub fn fitted(&self) -> HashMap<String, Fitted> {
        let fitted = self.instruments.iter().map(|(role, instrument)| {
            let fitted = Fitted {
                id: instrument.id.clone(),
                capabilities: instrument.capabilities(),
            };
            (role.clone(), fitted)
        });
        fitted.collect()
    }

    /// The bench, with its instruments as they were read before.
    #[must_use]
    pub fn bench_with(&self, instruments: Arc<HashMap<String, Fitted>>) -> Bench {
        let decimal = if self.decimal == "," {
            DecimalSign::Comma
        } else {
            DecimalSign::Point
        };
        Bench {
            decimal,
            decision: Decision::from_word(&self.decision).unwrap_or(Decision::Simple),
            device: self.device.known(&self.by),
            instruments,
            logs: HashMap::new(),
        }
    }
}

impl Device {
    /// The device as names in a recipe mean it, in a session of this person.
    fn known(&self, by: &str) -> crate::plan::Device {
        crate::plan::Device::new(|field| {
            let text = match field {
                DeviceField::Tag => &self.tag,
                DeviceField::Serial => &self.serial,
                DeviceField::Maker => &self.maker,
                DeviceField::Model => &self.model,
                DeviceField::Category => &self.category,
                DeviceField::Location => &self.location,
                DeviceField::By => by,
            };
            text.to_owned()
        })
    }
}

impl Instrument {
    /// What it measures, as far as its register entry can be read; the checks of the shop say what can't.
    #[must_use]
    pub fn capabilities(&self) -> Vec<Capability> {
        let of = |(kind, measure): (&String, &Measure)| {
            let dimension = Dimension::from_name(kind)?;
            let quantity = |text: &String| parse_quantity(text).ok();
            let ends = measure.range.as_ref();
            Some(Capability {
                dimension,
                range: ends.and_then(|[low, high]| quantity(low).zip(quantity(high))),
                accuracy: measure
                    .accuracy
                    .as_ref()
                    .and_then(|a| Accuracy::parse(a, measure.k.as_deref(), dimension).ok()),
                resolution: measure.resolution.as_ref().and_then(quantity),
            })
        };
        self.measures.iter().filter_map(of).collect()
    }
}

/// What can be read of the loggers' files that were attached at `trace` steps.
fn logs(
    plan: &Plan,
    events: &[Event],
    attached: &dyn Fn(&str) -> Option<Vec<u8>>,
) -> HashMap<(String, String), Arc<Trace>> {
    let steps = plan.items.iter();
    let mappings: HashMap<&str, &Mapping> = steps
        .filter_map(|i| match &i.verb {
            Verb::Trace { mapping, .. } => Some((i.path.as_str(), &**mapping)),
            _ => None,
        })
        .collect();
    let files = events.iter().filter_map(|event| match event {
        Event::File { path, digest, .. } => Some((path, digest, *mappings.get(path.as_str())?)),
        _ => None,
    });
    let read = |(path, digest, mapping): (&String, &String, &Mapping)| {
        // The bytes go before the trace is unpacked.
        let trace = trace::read_packed(&attached(digest)?, mapping).ok()?;
        Some(((path.clone(), digest.clone()), Arc::new(trace.unpacked())))
    };
    files.filter_map(read).collect()
}

/// Runs the events of a journal again, at a bench that gets the logs among them; `attached` gives the bytes of an attached
/// file by its digest, if it is at hand.
///
/// # Errors
/// An event that the plan does not take.
pub fn replay(
    plan: &Plan,
    bench: &mut Bench,
    events: &[Event],
    attached: &dyn Fn(&str) -> Option<Vec<u8>>,
) -> Result<State, Damage> {
    bench.logs = logs(plan, events, attached);
    let mut state = begin(plan, bench);
    for (index, event) in events.iter().enumerate() {
        apply(plan, bench, &mut state, event).map_err(|e| Damage {
            line: index + 2,
            message: e.to_string(),
        })?;
    }
    Ok(state)
}
