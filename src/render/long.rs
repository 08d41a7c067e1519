//! Long texts of persons: shortened where a reader looks first, and whole at the end, in the full width.
//!
//! Never in here: texts that are whole at their own step. Changes when another text of a person stands on the first page.

use crate::record::{Amendment, Record};

use super::beside::Beside;
use super::clean::prose;
use super::document::{Block, Fact, section};
use super::went::ended;
use super::words::say;
use super::{appendix, signed};

/// Most characters of a text that is not told at its own place.
const MOST: usize = 240;

/// A text on one line; of one that is too long its beginning, and where the whole of it stands.
pub(super) fn shortened(text: &str, place: &str) -> String {
    let text = prose(text);
    match is_long(&text) {
        true => {
            let begun: String = text.chars().take(MOST).collect();
            format!("{}… ({place})", begun.trim_end())
        }
        false => text,
    }
}

/// The same for a text that is whole in the section below.
pub(super) fn at_the_end(text: &str) -> String {
    let place = say!("Texts in full");
    shortened(text, &say!("in full under “{place}”", place = place))
}

fn is_long(text: &str) -> bool {
    text.chars().count() > MOST
}

/// The texts that were shortened and stand nowhere else, whole.
pub(super) fn blocks(record: &Record, beside: &Beside) -> Vec<Block> {
    let mut all: Vec<(String, String)> = Vec::new();
    for of in beside.amendments.iter().chain(&beside.corrects) {
        if let Some(amendment) = &of.amendment {
            all.extend(of_amendment(&prose(&of.id), amendment));
        }
    }
    let ended = record.ended.as_ref().map(|e| ended(record, e));
    all.extend(ended.map(|text| (say!("End of the session"), text)));
    all.push((say!("Recipe approval"), signed::approval(record, beside)));
    for (role, i) in &record.instruments {
        let named = appendix::of_role(role, [&i.id, &i.kind, &i.serial]);
        all.push((say!("Instrument"), named));
        all.push((say!("Certificate"), prose(&i.certificate)));
    }
    let of_step = |r: &&String| r.starts_with('`');
    let remarks = record.remarks.iter().filter(|r| !of_step(r));
    all.extend(remarks.map(|r| (say!("Remark"), prose(r))));
    let long = all.into_iter().filter(|(_, text)| is_long(text));
    let facts: Vec<Fact> = long.map(|(label, text)| Fact::new(label, text)).collect();
    match facts.is_empty() {
        true => Vec::new(),
        false => vec![
            section(&say!("Texts in full")),
            Block::Facts {
                facts,
                brief: false,
            },
        ],
    }
}

fn of_amendment(id: &str, amendment: &Amendment) -> Vec<(String, String)> {
    let mut all = vec![
        (
            say!("Amendment {id}, by", id = id),
            signed::by_whom(amendment),
        ),
        (say!("Amendment {id}, why", id = id), prose(&amendment.why)),
    ];
    let note = amendment.note.as_deref().map(prose);
    all.extend(note.map(|note| (say!("Amendment {id}, note", id = id), note)));
    all
}
