//! Units as people write them: `°C`, `Ω`, `µA` on pages, where data has `degC`, `ohm`, `uA`.
//!
//! Never in here: entries, digests and commands, which stand as they are. Changes when a unit looks strange on paper.

use super::document::{Block, Cell, Column, Document, Fact};
use super::plot::Plot;

/// Units by their names in data. A difference of temperatures is told in kelvin, which is the same.
const UNITS: [(&str, &str); 16] = [
    ("degC", "°C"),
    ("delta_degC", "K"),
    ("degF", "°F"),
    ("ohm", "Ω"),
    ("mohm", "mΩ"),
    ("kohm", "kΩ"),
    ("Mohm", "MΩ"),
    ("Gohm", "GΩ"),
    ("uA", "µA"),
    ("uV", "µV"),
    ("uW", "µW"),
    ("uS", "µS"),
    ("uL", "µL"),
    ("ug", "µg"),
    ("umol", "µmol"),
    ("ukat", "µkat"),
];

/// Whether a word is a unit as people write it.
pub(super) fn is_told(word: &str) -> bool {
    UNITS.iter().any(|(_, shown)| *shown == word)
}

/// The text with units as people write them.
fn told(text: &str) -> String {
    let inside = |c: char| c.is_alphanumeric() || c == '_';
    let mut out = String::with_capacity(text.len());
    let mut rest = text;
    while let Some(first) = rest.chars().next() {
        let is_word = inside(first);
        let end = rest.find(|c| inside(c) != is_word).unwrap_or(rest.len());
        let (word, after) = rest.split_at(end);
        let unit = UNITS.iter().find(|(data, _)| *data == word);
        out.push_str(unit.map_or(word, |(_, shown)| shown));
        rest = after;
    }
    out
}

/// A document whose units stand as people write them.
pub(super) fn for_people(mut document: Document) -> Document {
    document.blocks.iter_mut().for_each(block);
    document
}

fn text(text: &mut String) {
    if UNITS.iter().any(|(data, _)| text.contains(data)) {
        *text = told(text);
    }
}

fn block(block: &mut Block) {
    match block {
        Block::Heading { text: own, .. }
        | Block::Paragraph { text: own }
        | Block::Verdict { text: own, .. } => text(own),
        Block::Facts { facts, .. } => facts.iter_mut().for_each(fact),
        Block::Table {
            caption,
            header,
            rows,
            ..
        } => {
            text(caption);
            table(header, rows);
        }
        Block::Plot { plot } => drawn(plot),
        Block::Picture { .. } => {}
        Block::List { items } => items.iter_mut().for_each(text),
        Block::Note { title, items, .. } => {
            text(title);
            items.iter_mut().for_each(text);
        }
        Block::Item { title, facts, .. } => {
            text(title);
            facts.iter_mut().for_each(fact);
        }
    }
}

fn fact(fact: &mut Fact) {
    if !fact.literal {
        text(&mut fact.text);
    }
    fact.asides.iter_mut().for_each(text);
}

fn table(header: &mut [Column], rows: &mut [Vec<Cell>]) {
    header.iter_mut().for_each(|c| text(&mut c.title));
    rows.iter_mut()
        .flatten()
        .for_each(|cell| text(&mut cell.text));
}

fn drawn(plot: &mut Plot) {
    for own in [
        &mut plot.title,
        &mut plot.shows,
        &mut plot.caption,
        &mut plot.x.unit,
        &mut plot.y.unit,
    ] {
        text(own);
    }
    plot.remarks.iter_mut().for_each(text);
    plot.levels.iter_mut().for_each(|l| text(&mut l.name));
    table(&mut plot.header, &mut plot.rows);
}
