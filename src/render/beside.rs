//! What a shop knows about a record beside the record itself: whether it verifies, what was added to it.
//!
//! Never in here: finding it out. Changes when a rendering tells something more of that kind.

use std::collections::BTreeMap;
use std::sync::Arc;

use serde::Serialize;
use serde::de::DeserializeOwned;

use crate::record::Amendment;

use super::clean::{brief, clean, clean_json, prose};
use super::document::Block;
use super::house::House;
use super::long::at_the_end;
use super::signed;
use super::words::say;

/// What is known beside a record.
#[derive(Clone, Debug, Default)]
pub struct Beside {
    /// Why the record does not verify: it stands above everything else.
    pub doubts: Vec<String>,
    /// What was found of its signatures; nothing where nobody checked them.
    pub signatures: Option<String>,
    /// What was checked and is good, by the names that `verify` has for it.
    pub good: Vec<&'static str>,
    /// What was added to it.
    pub amendments: Vec<Addition>,
    /// The amendments by which it corrects other records.
    pub corrects: Vec<Addition>,
    /// The record that holds instead, at the end of all corrections; nothing where the record itself holds.
    pub holds: Option<String>,
    /// Names of people by their ids, as the shop's register has them.
    pub names: BTreeMap<String, String>,
    /// The bytes of the record's own file.
    pub text: Arc<Vec<u8>>,
    /// The bytes of what was attached to it, in the record's order; nothing where a file is gone.
    pub files: Vec<Option<Arc<Vec<u8>>>>,
    /// The shop, as it names itself.
    pub house: House,
    /// Whether the device is kept after an incident: no pass releases it.
    pub kept: bool,
}

/// Something that was added to a record.
#[derive(Clone, Debug, Serialize)]
pub struct Addition {
    /// Its id, from the name of its file.
    pub id: String,
    /// What it says; nothing where it is gone or can't be read.
    pub amendment: Option<Amendment>,
    /// Why it does not verify.
    pub doubts: Vec<String>,
    /// The bytes of its file, which a PDF of the record carries.
    #[serde(skip)]
    pub text: Arc<Vec<u8>>,
}

impl Beside {
    /// A copy whose texts hold no deceiving characters.
    pub(super) fn cleaned(&self) -> Self {
        let texts = |all: &[String]| -> Vec<String> { all.iter().map(|t| clean(t)).collect() };
        let one = |one: &Addition| Addition {
            id: clean(&one.id),
            amendment: one.amendment.as_ref().map(cleaned),
            doubts: texts(&one.doubts),
            text: one.text.clone(),
        };
        Self {
            kept: self.kept,
            doubts: texts(&self.doubts),
            signatures: self.signatures.as_deref().map(clean),
            good: self.good.clone(),
            amendments: self.amendments.iter().map(one).collect(),
            corrects: self.corrects.iter().map(one).collect(),
            holds: self.holds.as_deref().map(clean),
            names: self
                .names
                .iter()
                .map(|(id, n)| (clean(id), clean(n)))
                .collect(),
            text: self.text.clone(),
            files: self.files.clone(),
            house: House {
                name: self.house.words.speak(|| brief(&clean(&self.house.name))),
                ..self.house.clone()
            },
        }
    }
}

fn cleaned<T: Serialize + DeserializeOwned>(of: &T) -> T {
    let json = serde_json::to_value(of).expect("it has a form as data");
    serde_json::from_value(clean_json(json)).expect("cleaning changes texts only")
}

/// Why a record does not count any longer.
pub(super) struct Overruled {
    /// The word for it.
    pub word: String,
    /// What stands on every page.
    pub running: String,
}

/// Whether a record was declared void, or another one holds instead of it.
pub(super) fn overruled(beside: &Beside) -> Option<Overruled> {
    let all = || {
        beside
            .amendments
            .iter()
            .filter_map(|of| Some((of, of.amendment.as_ref()?)))
    };
    if let Some((by, _)) = all().find(|(_, a)| a.void) {
        return Some(Overruled {
            word: say!("void"),
            running: say!(
                "VOID: does not count any longer (amendment {amendment})",
                amendment = brief(&by.id)
            ),
        });
    }
    let next = all().find_map(|(_, a)| Some(&a.correction.as_ref()?.record));
    let holds = beside.holds.as_ref().filter(|_| next.is_some()).or(next)?;
    Some(Overruled {
        word: say!("corrected"),
        running: say!("CORRECTED: {record} holds instead", record = brief(holds)),
    })
}

/// What stands above the answer: what was added to the record, and what it corrects.
pub(super) fn blocks(beside: &Beside) -> Vec<Block> {
    let added = beside.amendments.iter().map(amended);
    let corrects = beside.corrects.iter().filter_map(corrects);
    added.chain(corrects).collect()
}

fn amended(of: &Addition) -> Block {
    let mut items = doubtful(of);
    if let Some(amendment) = &of.amendment {
        if amendment.void {
            items.push(say!(
                "This record is declared void: it proves nothing about the device"
            ));
        }
        items.push(say!(
            "By {whom}",
            whom = at_the_end(&signed::by_whom(amendment))
        ));
        items.push(say!("Why: {reason}", reason = at_the_end(&amendment.why)));
        items.extend(
            amendment
                .note
                .iter()
                .map(|n| say!("Note: {note}", note = at_the_end(n))),
        );
        let other = amendment.correction.as_ref();
        items.extend(other.map(|c| {
            say!(
                "Corrected by record {record}, which holds instead of this one",
                record = prose(&c.record)
            )
        }));
    }
    Block::Note {
        caution: true,
        title: say!("Amended: {amendment}", amendment = prose(&of.id)),
        items,
    }
}

fn corrects(of: &Addition) -> Option<Block> {
    let amendment = of.amendment.as_ref()?;
    let mut items = doubtful(of);
    items.push(say!(
        "Amendment {amendment}, by {whom}",
        amendment = prose(&of.id),
        whom = at_the_end(&signed::by_whom(amendment))
    ));
    items.push(say!("Why: {reason}", reason = at_the_end(&amendment.why)));
    Some(Block::Note {
        caution: true,
        title: say!(
            "This record corrects record {record}",
            record = prose(&amendment.of.record)
        ),
        items,
    })
}

fn doubtful(of: &Addition) -> Vec<String> {
    let told = |d: &String| {
        say!(
            "This amendment does not verify: it {reason}",
            reason = prose(d)
        )
    };
    of.doubts.iter().map(told).collect()
}
