//! Readings from the instruments of a session that speak: the newest one, or why there is none.
//!
//! Never in here: entering one; somebody confirms it first. Changes when another reading is offered.

use std::time::Duration;

use indexmap::IndexMap;

use crate::engine::Heard;
use crate::host::{HeardLine, Hearing, Host, Listening, Speaker};
use crate::plan::{Item, Verb};
use crate::quantity::DecimalSign;
use crate::shop::Speaks;

use super::{OpenShop, Session};

/// A reading that is older is not what the instrument shows now.
const CURRENT: Duration = Duration::from_secs(5);
/// How long it is waited for a reading that is asked for; a command has to be started first.
const PATIENCE: Duration = Duration::from_secs(3);
const PATIENCE_WITH_COMMAND: Duration = Duration::from_secs(10);
/// How long a command that goes on has been running before its lines count: one that fails at once has said nothing.
const SETTLED: Duration = Duration::from_millis(500);
/// How often it is looked meanwhile.
const LOOK: Duration = Duration::from_millis(20);
/// How often it is told that it is waited.
const TOLD_EACH: Duration = Duration::from_secs(2);
/// Most characters of a line that are shown where it can't be used.
const SHOWN: usize = 60;

/// A reading that can be confirmed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Offered {
    /// As it would be typed.
    pub text: String,
    /// Where it was read from.
    pub heard: Heard,
    number: u64,
}

/// The instruments of a session that speak.
pub struct Ears<'s> {
    all: IndexMap<String, Ear<'s>>,
    roles: IndexMap<String, String>,
    decimal: DecimalSign,
}

struct Ear<'s> {
    speaks: &'s Speaks,
    listening: Listening,
    /// The line that was entered last: one line is one reading.
    used: u64,
}

impl<'s> Ears<'s> {
    /// Listens to the instruments of a session.
    #[must_use]
    pub fn of(open: &'s OpenShop, session: &Session<'_>) -> Self {
        let roles: IndexMap<String, String> = session
            .head
            .instruments
            .iter()
            .map(|(role, instrument)| (role.clone(), instrument.id.clone()))
            .collect();
        let decimal = session.head.bench().decimal;
        let listen = |(id, speaks): (&String, &'s Speaks)| {
            let ear = Ear {
                speaks,
                listening: listening(session.host(), open, speaks),
                used: 0,
            };
            (id.clone(), ear)
        };
        let mine = open.speaks.iter();
        let mine = mine.filter(|(id, _)| roles.values().any(|filled| filled == *id));
        Self {
            all: mine.map(listen).collect(),
            roles,
            decimal,
        }
    }

    /// The instrument that an item can be read from; nothing where none speaks of it.
    #[must_use]
    pub fn speaking(&self, item: &Item) -> Option<&str> {
        self.place(item).map(|(id, _)| id)
    }

    /// The id of the instrument, and which of its readings is meant.
    fn place(&self, item: &Item) -> Option<(&str, usize)> {
        let Verb::Measure { unit, .. } = &item.verb else {
            return None;
        };
        let id = self.roles.get(item.verb.role()?)?;
        let kind = unit.kind().dimension;
        let spoken = &self.all.get(id)?.speaks.spoken;
        let at = spoken.iter().position(|s| s.dimension() == kind)?;
        Some((id, at))
    }

    /// The reading that an item's instrument shows now; waits shortly for one, and tells so now and then.
    ///
    /// # Errors
    /// Why there is none, for the person who asked.
    pub fn read(
        &self,
        host: &dyn Host,
        item: &Item,
        tell: &mut dyn FnMut(&str),
    ) -> Result<Offered, String> {
        let (id, at) = self
            .place(item)
            .ok_or("no instrument that speaks fills this role; type the value")?;
        let ear = &self.all[id];
        let patience = match ear.speaks.speaker {
            Speaker::Command(_) => PATIENCE_WITH_COMMAND,
            _ => PATIENCE,
        };
        ear.listening.ask();
        let begun = host.monotonic();
        let mut silent = TOLD_EACH;
        loop {
            let hearing = ear.listening.now();
            let waited = host.monotonic().saturating_sub(begun);
            let is_settled = match ear.speaks.speaker {
                Speaker::Command(_) if hearing.gave_up => hearing.silent.is_none(),
                Speaker::Command(_) => waited >= SETTLED,
                _ => true,
            };
            let newest = hearing.newest.get(at).cloned().flatten();
            let fresh = newest.filter(|l| is_settled && l.ago <= CURRENT && l.number > ear.used);
            if let Some(offered) = fresh.and_then(|line| self.offered(id, at, line)) {
                return Ok(offered);
            }
            if waited >= patience || hearing.gave_up {
                return Err(silence(id, &ear.speaks.speaker, ear.used, &hearing));
            }
            if waited >= silent {
                let (gone, most) = (waited.as_secs(), patience.as_secs());
                tell(&format!("waiting for {id}, {gone} s of at most {most} s"));
                silent += TOLD_EACH;
            }
            std::thread::sleep(LOOK);
        }
    }

    /// What a line comes to; nothing where its number is not sure to be whole. An earlier line does not take its place:
    /// the instrument shows something else by now.
    fn offered(&self, id: &str, at: usize, line: HeardLine) -> Option<Offered> {
        let spoken = &self.all[id].speaks.spoken[at];
        let number = spoken.number(&line.text, self.decimal)?;
        Some(Offered {
            text: format!("{number} {}", spoken.unit.text()),
            number: line.number,
            heard: Heard {
                instrument: id.to_owned(),
                line: line.text,
            },
        })
    }

    /// A reading was entered: its line is not offered again.
    pub fn entered(&mut self, offered: &Offered) {
        if let Some(ear) = self.all.get_mut(&offered.heard.instrument) {
            ear.used = offered.number;
        }
    }
}

fn listening(host: &dyn Host, open: &OpenShop, speaks: &Speaks) -> Listening {
    let wanted = speaks.spoken.iter().cloned().map(|spoken| {
        let wants = move |line: &str| spoken.is_told(line);
        Box::new(wants) as crate::host::Wanted
    });
    host.listen(&speaks.speaker, &open.paths.root, wanted.collect())
}

/// Why nothing can be offered.
fn silence(id: &str, speaker: &Speaker, used: u64, hearing: &Hearing) -> String {
    let said = match (&hearing.silent, &hearing.last) {
        (Some(why), _) => format!("{id} can't be read: {} ({why})", tried(speaker)),
        (None, None) if hearing.gave_up => format!("{id} said nothing ({speaker})"),
        (None, None) => format!("{id} has said nothing yet ({speaker})"),
        (None, Some(last)) if last.ago > CURRENT => format!(
            "{id} has said nothing for {} s; its last line was \"{}\"",
            last.ago.as_secs(),
            short(&last.text)
        ),
        (None, Some(last)) if last.number <= used => {
            format!("{id} has said nothing since its last reading was entered")
        }
        (None, Some(last)) => format!(
            "{id} said \"{}\", in which there is no reading that is sure to be whole",
            short(&last.text)
        ),
    };
    format!("{said}\nEnter asks again, or type the value")
}

/// What was tried where there is no connection, and what to look at.
fn tried(speaker: &Speaker) -> String {
    match speaker {
        Speaker::Serial(line) => format!(
            "the serial line `{}` can't be opened or was closed; look whether the instrument is on and its lead plugged in, and whether `speaks` in instruments.yaml names this line",
            line.path.display()
        ),
        Speaker::Tcp(address) => format!(
            "nothing answers at `{address}`; look whether the instrument is on and in the network, and whether `speaks` in instruments.yaml names its address"
        ),
        Speaker::Command(words) => format!(
            "the command `{}` can't be run or ended badly; run it by itself, and mend `speaks` in instruments.yaml",
            words.join(" ")
        ),
    }
}

fn short(text: &str) -> String {
    let mut cut: String = text.chars().take(SHOWN).collect();
    if cut.len() < text.len() {
        cut.push('…');
    }
    cut
}
