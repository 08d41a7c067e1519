//! The neutral document: what is told of a record and in which order, without a form of output.
//!
//! Never in here: escaping, wrapping, tags. Changes when a record tells something new or a kind of block is added.

use serde::{Deserialize, Serialize};

use crate::record::Record;

use super::beside::{self, Beside};
use super::clean::{brief, foreseen, prose};
use super::house::House;
use super::picture::Picture;
use super::plot::Plot;
use super::words::{fixed, said, say};
use super::{answer, appendix, signed, units, went};

/// A document. Its texts are plain, on one line each, and hold no deceiving characters.
#[derive(Clone, Debug, Default, Serialize, PartialEq)]
pub struct Document {
    /// The title.
    pub title: String,
    /// Id of the record, for the head of each page.
    pub record: String,
    /// Words that stand at the head and the foot of every page, if there are any.
    pub running: Option<String>,
    /// What stands at the foot of every page besides.
    pub foot: String,
    /// Language of the texts.
    pub language: String,
    /// The shop whose record it is.
    pub house: House,
    /// What is told, in order.
    pub blocks: Vec<Block>,
}

/// A part of a document.
#[derive(Clone, Debug, Serialize, PartialEq)]
#[serde(tag = "kind", rename_all = "lowercase")]
pub enum Block {
    /// A heading; the title is level 1.
    Heading {
        /// 2 and more.
        level: u8,
        /// The words.
        text: String,
    },
    /// A paragraph.
    Paragraph {
        /// The words.
        text: String,
    },
    /// The verdict of the whole.
    Verdict {
        /// The word and its shape.
        mark: Mark,
        /// What it means.
        text: String,
    },
    /// Names with what they stand for.
    Facts {
        /// The facts.
        facts: Vec<Fact>,
        /// Whether all are short enough to stand two abreast.
        brief: bool,
    },
    /// A table; the first cell of a row names it. A row of one cell is the heading of the rows below it.
    Table {
        /// What the table shows.
        caption: String,
        /// The columns.
        header: Vec<Column>,
        /// The rows.
        rows: Vec<Vec<Cell>>,
        /// Whether its rows are short enough to be read in one line.
        dense: bool,
    },
    /// A plot with its table.
    Plot {
        /// The plot.
        plot: Box<Plot>,
    },
    /// A photograph.
    Picture {
        /// The picture.
        picture: Picture,
    },
    /// A bullet list.
    List {
        /// The items.
        items: Vec<String>,
    },
    /// Something to heed.
    Note {
        /// Whether it is a caution rather than a remark.
        caution: bool,
        /// A word or two.
        title: String,
        /// The sentences.
        items: Vec<String>,
    },
    /// A step of the work.
    Item {
        /// Level of its heading.
        level: u8,
        /// Its number in the record.
        number: usize,
        /// What it is called.
        title: String,
        /// Its path in the recipe.
        path: String,
        /// How it ended.
        mark: Mark,
        /// What was asked, entered, judged and noted.
        facts: Vec<Fact>,
    },
}

/// A verdict or a state: a word with a shape.
#[derive(Clone, Debug, Serialize, Deserialize, PartialEq, Eq)]
pub struct Mark {
    /// The word, in capitals where it needs the reader's eye.
    pub word: String,
    /// The shape that goes with it.
    pub shape: Shape,
}

/// The shape of a mark, so that nothing rests on colour.
#[derive(Clone, Copy, Debug, Serialize, Deserialize, PartialEq, Eq)]
#[serde(rename_all = "lowercase")]
pub enum Shape {
    /// Met.
    Pass,
    /// Not met.
    Fail,
    /// Met with something to know.
    Remark,
    /// Met, but by less than the uncertainty.
    #[serde(rename = "conditional-pass")]
    ConditionalPass,
    /// Not met, but by no more than the uncertainty.
    #[serde(rename = "conditional-fail")]
    ConditionalFail,
    /// Open: not judged or incomplete.
    Open,
    /// Nothing counts of it: not valid, void, or another record holds instead.
    Void,
    /// No judgement in it.
    Plain,
}

impl Mark {
    /// The mark of a verdict or state word.
    #[must_use]
    pub fn of(word: &str) -> Self {
        let shape = match word {
            "pass" => Shape::Pass,
            "pass with remarks" => Shape::Remark,
            "conditional pass" => Shape::ConditionalPass,
            "fail" => Shape::Fail,
            "conditional fail" => Shape::ConditionalFail,
            "incomplete" | "not judged" | "not done" => Shape::Open,
            _ => Shape::Plain,
        };
        let loud = matches!(shape, Shape::Fail | Shape::ConditionalFail | Shape::Open);
        let word = said(word, &[]);
        let word = if loud { word.to_uppercase() } else { word };
        Self { word, shape }
    }
}

/// A name with what it stands for.
#[derive(Clone, Debug, Default, Serialize, PartialEq)]
pub struct Fact {
    /// The name.
    pub label: String,
    /// A verdict that goes before the text.
    pub mark: Option<Mark>,
    /// What it stands for.
    pub text: String,
    /// Whether the text is literal: an entry, a digest, a command.
    pub literal: bool,
    /// Less important words after it.
    pub asides: Vec<String>,
    /// A drawing of limit and value.
    pub bar: Option<Bar>,
}

impl Fact {
    /// A fact with a text.
    #[must_use]
    pub fn new(label: impl Into<String>, text: impl Into<String>) -> Self {
        Self {
            label: label.into(),
            text: text.into(),
            ..Self::default()
        }
    }

    /// The same fact with its text marked as literal.
    #[must_use]
    pub fn literal(mut self) -> Self {
        self.literal = true;
        self
    }

    /// The same fact with words after it; empty ones are left out.
    #[must_use]
    pub fn aside(mut self, words: impl Into<String>) -> Self {
        let words = words.into();
        if !words.is_empty() {
            self.asides.push(words);
        }
        self
    }
}

/// A column of a table.
#[derive(Clone, Debug, Serialize, Deserialize, PartialEq, Eq)]
pub struct Column {
    /// Its head.
    pub title: String,
    /// Its share of the width, in percent.
    pub share_percent: u8,
}

impl Column {
    /// Columns from heads and shares.
    pub(super) fn all<const N: usize>(columns: [(&str, u8); N]) -> Vec<Self> {
        let one = |(title, share_percent): (&str, u8)| Self {
            title: said(title, &[]),
            share_percent,
        };
        columns.map(one).to_vec()
    }
}

/// A cell of a table.
#[derive(Clone, Debug, Default, Serialize, Deserialize, PartialEq)]
pub struct Cell {
    /// The words.
    pub text: String,
    /// A verdict in the cell.
    pub mark: Option<Mark>,
    /// Number of the step that it speaks of.
    pub step: Option<usize>,
}

impl Cell {
    /// A cell with a text.
    #[must_use]
    pub fn new(text: impl Into<String>) -> Self {
        Self {
            text: text.into(),
            ..Self::default()
        }
    }
}

/// A drawing of a limit and a value, in percent of its width.
#[derive(Clone, Debug, Serialize, PartialEq)]
pub struct Bar {
    /// Where what is allowed begins.
    pub from: f64,
    /// Where what is allowed ends.
    pub to: f64,
    /// Whether there is a lower limit.
    pub has_low: bool,
    /// Whether there is an upper limit.
    pub has_high: bool,
    /// Where the value lies.
    pub at: f64,
    /// Where value − U and value + U lie, cut at the ends of the drawing.
    pub reach: Option<[f64; 2]>,
    /// Whether the criterion was met.
    pub met: bool,
}

/// The document of a record, with what is known beside it.
#[must_use]
pub fn of_record(record: &Record, beside: &Beside) -> Document {
    of_cleaned(&foreseen(record, &beside.files), &beside.cleaned())
}

/// The words for verdicts and states.
const _: [&str; 11] = [
    fixed!("pass"),
    fixed!("pass with remarks"),
    fixed!("conditional pass"),
    fixed!("fail"),
    fixed!("conditional fail"),
    fixed!("incomplete"),
    fixed!("not judged"),
    fixed!("not done"),
    fixed!("done"),
    fixed!("skipped"),
    fixed!("not applicable"),
];

/// The document of a record whose texts are clean.
pub(super) fn of_cleaned(record: &Record, beside: &Beside) -> Document {
    beside.house.words.speak(|| in_words(record, beside))
}

fn in_words(record: &Record, beside: &Beside) -> Document {
    let mut blocks = answer::doubts(&beside.doubts);
    blocks.extend(beside::blocks(beside));
    blocks.extend(answer::blocks(record, beside));
    blocks.extend(went::blocks(record));
    blocks.extend(appendix::blocks(record, beside));
    units::for_people(Document {
        title: prose(&say!(
            "Test record {record}, {device}",
            record = brief(&record.record),
            device = brief(&record.device.tag)
        )),
        record: prose(&record.record),
        running: signed::running(record, beside),
        foot: answer::foot(record, beside),
        language: beside.house.words.language().to_owned(),
        house: beside.house.clone(),
        blocks,
    })
}

/// A heading of a section.
pub(super) fn section(text: &str) -> Block {
    Block::Heading {
        level: 2,
        text: text.to_owned(),
    }
}
