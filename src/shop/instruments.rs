//! The register of instruments: calibration, upkeep, and what each measures.
//!
//! Never in here: writing it. Changes when an instrument gets a key.

use indexmap::IndexMap;

use crate::journal::{Instrument, Measure};
use crate::plan::Accuracy;
use crate::quantity::{Dimension, named_kinds, parse_quantity};
use crate::recipe::cursor::At;
use crate::recipe::schema::{Form, nearest};
use crate::text::{Code, Finding, Source};

use super::folder::{day, document, once};
use super::interval::{Interval, Unit};
use super::speaks::{Speaks, speaks};
use super::upkeep::CALIBRATION;

/// An instrument with what a session does not need of it.
#[derive(Clone, Debug)]
pub struct Kept {
    /// What sessions know of it.
    pub instrument: Instrument,
    /// Who made it.
    pub maker: String,
    /// The maker's name of the model.
    pub model: String,
    /// What is done for it from time to time, and how often.
    pub upkeep: Vec<(String, Interval)>,
    /// Where and how it prints its readings.
    pub speaks: Option<Speaks>,
}

/// Reads what sessions need of `instruments.yaml`.
#[must_use]
pub fn read_instruments(source: Source) -> (Vec<Instrument>, Vec<Finding>) {
    let (kept, findings) = read_kept(source);
    let instruments = kept.into_iter().map(|k| k.instrument).collect();
    (instruments, findings)
}

/// Reads `instruments.yaml`.
#[must_use]
pub fn read_kept(source: Source) -> (Vec<Kept>, Vec<Finding>) {
    let mut findings = Vec::new();
    let Some(document) = document(source, Form::Instruments, &mut findings) else {
        return (Vec::new(), findings);
    };
    let mut seen = Vec::new();
    let mut instruments = Vec::new();
    for at in At::root(&document)
        .get("instruments")
        .iter()
        .flat_map(At::items)
    {
        let text = |key: &str| at.text_of(key).unwrap_or_default();
        once(&at, &text("id"), &mut seen, &mut findings);
        day(&at, "calibrated", &mut findings);
        day(&at, "due", &mut findings);
        let measures = at
            .get("measures")
            .map(|m| measures(&m, &mut findings))
            .unwrap_or_default();
        let kinds: Vec<Dimension> = measures
            .keys()
            .filter_map(|kind| Dimension::from_name(kind))
            .collect();
        let speaks = at
            .get("speaks")
            .and_then(|s| speaks(&s, &kinds, &mut findings));
        let instrument = Instrument {
            id: text("id"),
            kind: text("kind"),
            serial: text("serial"),
            certificate: text("certificate"),
            calibrated: text("calibrated"),
            due: text("due"),
            measures,
        };
        instruments.push(Kept {
            instrument,
            maker: text("maker"),
            model: text("model"),
            upkeep: upkeep(&at, &mut findings),
            speaks,
        });
    }
    (instruments, findings)
}

/// What is done from time to time.
fn upkeep(at: &At<'_>, findings: &mut Vec<Finding>) -> Vec<(String, Interval)> {
    let mut list = Vec::new();
    let tasks = at.get("upkeep");
    for (what, interval) in tasks.iter().flat_map(At::entries) {
        if what == CALIBRATION {
            findings.push(interval.finding_at_key(
                Code::ShopFault,
                "calibration is no upkeep",
                "its day stands in `due`",
            ));
        }
        let Some(text) = interval.text() else {
            continue;
        };
        match Interval::parse(&text, Unit::Months) {
            Ok(read) => list.push((what.to_owned(), read)),
            Err(error) => {
                findings.push(interval.finding(Code::ShopFault, error.message, error.help));
            }
        }
    }
    list
}

fn measures(at: &At<'_>, findings: &mut Vec<Finding>) -> IndexMap<String, Measure> {
    let mut measures = IndexMap::new();
    for (kind, entry) in at.entries() {
        let Some(dimension) = Dimension::from_name(kind) else {
            let help = match nearest(kind, named_kinds()) {
                Some(near) => format!("the nearest known kind is `{near}`"),
                None => "kinds are volume, flow, pressure, mass, time, temperature, length, current, resistance, voltage …".to_owned(),
            };
            findings.push(entry.finding_at_key(
                Code::ShopFault,
                format!("`{kind}` is not a kind of quantity"),
                help,
            ));
            continue;
        };
        let range = entry
            .get("range")
            .and_then(|r| range(&r, dimension, findings));
        accuracy(&entry, dimension, findings);
        measures.insert(
            kind.to_owned(),
            Measure {
                range,
                accuracy: entry.text_of("accuracy"),
                limits: entry.text_of("limits"),
                k: entry.text_of("k"),
                resolution: entry.text_of("resolution"),
            },
        );
    }
    measures
}

/// Says what can't be read of accuracy and resolution.
fn accuracy(entry: &At<'_>, dimension: Dimension, findings: &mut Vec<Finding>) {
    if let Some(at) = entry.get("accuracy")
        && let Some(text) = at.text()
        && let Err(message) = Accuracy::parse(&text, entry.text_of("k").as_deref(), dimension)
    {
        let help = "write a part of the reading, a fixed part, or both: `1 % + 0.02 mL`";
        findings.push(at.finding(Code::ShopFault, message, help));
    }
    if let Some(at) = entry.get("resolution")
        && let Some(text) = at.text()
    {
        let message = match parse_quantity(&text) {
            Ok(q) if q.kind().dimension == dimension && !q.value().to_exact().is_negative() => {
                return;
            }
            Ok(q) => format!(
                "`{text}` is a {}, not a step of a {} display",
                q.kind(),
                dimension.name()
            ),
            Err(error) => error.to_string(),
        };
        findings.push(at.finding(
            Code::ShopFault,
            message,
            "write the step of the display: `0.01 mL`",
        ));
    }
}

fn range(at: &At<'_>, dimension: Dimension, findings: &mut Vec<Finding>) -> Option<[String; 2]> {
    let mut ends = Vec::new();
    for end in at.items() {
        let text = end.text()?;
        match parse_quantity(&text) {
            Ok(quantity) if quantity.kind().dimension == dimension => ends.push((text, quantity)),
            Ok(quantity) => {
                let message = format!(
                    "`{text}` is of kind {}, not {}",
                    quantity.kind(),
                    dimension.name()
                );
                findings.push(end.finding(
                    Code::ShopFault,
                    message,
                    "write both ends in units of the kind",
                ));
            }
            Err(error) => findings.push(end.finding(
                Code::ShopFault,
                error.to_string(),
                "write a number and a unit: `0 mL`",
            )),
        }
    }
    let [(low, a), (high, b)] = &ends[..] else {
        return None;
    };
    if a.compare(b).is_ok_and(std::cmp::Ordering::is_ge) {
        findings.push(at.finding(
            Code::ShopFault,
            format!("the range from {a} to {b} is empty"),
            "write the lower end first",
        ));
    }
    Some([low.clone(), high.clone()])
}
