//! What a revision does to past results, for people: how many records of which model, and what of which record.
//!
//! Never in here: judging records again. Changes when past results are told otherwise.

use super::clean::plain;
use super::document::{Block, Cell, Column, Mark, section};

/// What came of a shop's records.
#[derive(Clone, Debug, Default)]
pub struct PastResults {
    /// How many came to what.
    pub summary: String,
    /// What a reader has to know.
    pub notes: Vec<String>,
    /// By model: records, and how many have the same verdict, would have failed, would have passed, have another verdict,
    /// lack a reading, were not judged.
    pub models: Vec<(String, [usize; 7])>,
    /// The records of which there is something to tell.
    pub records: Vec<PastRecord>,
}

/// A record of which there is something to tell.
#[derive(Clone, Debug, Default)]
pub struct PastRecord {
    /// Its id, with the day, the device and the revision.
    pub record: String,
    /// The verdict as it was.
    pub was: String,
    /// What it would be.
    pub now: String,
    /// Which criteria, which readings.
    pub why: String,
}

/// The sections about past results.
pub(super) fn blocks(past: &PastResults) -> Vec<Block> {
    let mut blocks = vec![
        section("past results"),
        Block::Paragraph {
            text: plain(&past.summary),
        },
    ];
    if !past.notes.is_empty() {
        blocks.push(Block::Note {
            caution: false,
            title: "how they were judged".to_owned(),
            items: past.notes.iter().map(|n| plain(n)).collect(),
        });
    }
    if !past.models.is_empty() {
        blocks.push(Block::Table {
            caption: "By model".to_owned(),
            header: Column::all([
                ("Model", 16),
                ("Records", 12),
                ("Same", 10),
                ("Would fail", 12),
                ("Would pass", 12),
                ("Otherwise", 12),
                ("Lack a reading", 14),
                ("Not judged", 12),
            ]),
            rows: past.models.iter().map(model).collect(),
            dense: true,
        });
    }
    if !past.records.is_empty() {
        blocks.push(Block::Table {
            caption: "Records that are not as they were".to_owned(),
            header: Column::all([("Record", 24), ("Was", 17), ("Would be", 17), ("Why", 42)]),
            rows: past.records.iter().map(record).collect(),
            dense: false,
        });
    }
    blocks
}

fn model((name, counts): &(String, [usize; 7])) -> Vec<Cell> {
    let counts = counts.iter().map(|n| Cell::new(n.to_string()));
    [Cell::new(plain(name))].into_iter().chain(counts).collect()
}

fn record(of: &PastRecord) -> Vec<Cell> {
    let verdict = |word: &str| Cell {
        mark: Some(Mark::of(word)),
        ..Cell::default()
    };
    vec![
        Cell::new(plain(&of.record)),
        verdict(&of.was),
        verdict(&of.now),
        Cell::new(plain(&of.why)),
    ]
}
