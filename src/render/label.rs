//! The label of a device after its test: what stands on it, and its text of 40 columns.
//!
//! Never in here: when the device is due (see the shop room), sizes of paper. Changes when a label tells something else.

use serde::Serialize;

use crate::record::Record;

use super::beside::Beside;
use super::clean::{cleaned, plain, prose};
use super::document::{Fact, Mark};
use super::figure::day_and_zone;
use super::plot::{cut, width};
use super::words::{counted, fixed, say};

/// Columns of its text.
const WIDTH: usize = 40;
/// Columns of the names before their values.
const NAMES: usize = 12;

/// What stands on a label. Its texts are plain, on one line each.
#[derive(Clone, Debug, Serialize, PartialEq)]
pub struct Label {
    /// Language of its texts.
    pub language: String,
    /// The shop.
    pub house: String,
    /// Asset tag of the device.
    pub tag: String,
    /// The verdict.
    pub verdict: Mark,
    /// What a pass with remarks is under; empty of any other.
    pub condition: String,
    /// The days and the record.
    pub facts: Vec<Fact>,
}

/// What a device is due for next.
#[derive(Clone, Debug)]
pub struct NextDue {
    /// The day.
    pub day: String,
    /// The recipe, where it is due by one of its own.
    pub recipe: Option<String>,
    /// Whether the day has passed.
    pub overdue: bool,
}

impl Label {
    /// The label of a record, with what the device is due for next, if that is known.
    #[must_use]
    pub fn of(record: &Record, beside: &Beside, next: Option<&NextDue>) -> Self {
        let (record, beside) = (cleaned(record), beside.cleaned());
        let day = day_and_zone(&record.finished).map_or_else(String::new, |(day, _)| day);
        let house = &beside.house;
        house.words.speak(|| {
            // What is kept after an incident is not released by a pass, and due for nothing.
            let verdict = match beside.kept {
                true => Mark::of("incomplete"),
                false => Mark::of(&record.verdict),
            };
            let word = match beside.kept {
                true => say!("kept after an incident: do not use"),
                false => heed(&record.verdict, &verdict.word),
            };
            let next = next.filter(|_| !beside.kept);
            let facts = [
                (say!("Tested"), day),
                next.map_or_else(Default::default, due),
                (say!("Record"), prose(&record.record)),
            ];
            let told = facts.into_iter().filter(|(_, text)| !text.is_empty());
            Self {
                language: house.words.language().to_owned(),
                house: house.name.clone(),
                tag: prose(&record.device.tag),
                verdict: Mark {
                    word: word.to_uppercase(),
                    ..verdict
                },
                condition: condition(&record),
                facts: told.map(|(name, text)| Fact::new(name, text)).collect(),
            }
        })
    }

    /// The label as lines of at most 40 columns; what is longer ends in `…`, but for the tag, which goes on once.
    #[must_use]
    pub fn text(&self) -> String {
        let fact = |f: &Fact| {
            let name = cut(&f.label, NAMES - 2);
            format!("{name:<NAMES$}{}", f.text)
        };
        let [tag, more] = in_two(&self.tag);
        let head = [
            &self.house,
            &tag,
            &more,
            &self.verdict.word,
            &self.condition,
        ];
        let lines = head.into_iter().filter(|l| !l.is_empty()).cloned();
        let lines = lines.chain(self.facts.iter().map(fact));
        lines.map(|line| cut(&line, WIDTH) + "\n").collect()
    }
}

/// A tag on one line, or on two where it is longer; its end tells devices apart and is never left out.
fn in_two(tag: &str) -> [String; 2] {
    let mut first = String::new();
    let mut rest = tag.chars();
    for c in rest.by_ref() {
        first.push(c);
        if width(&first) + 2 > WIDTH {
            break;
        }
    }
    let rest: String = rest.collect();
    if width(tag) <= WIDTH {
        return [tag.to_owned(), String::new()];
    }
    if width(&rest) <= WIDTH {
        return [first, rest];
    }
    let backwards: String = rest.chars().rev().collect();
    let end: Vec<char> = cut(&backwards, WIDTH).chars().rev().collect();
    [first, end.into_iter().collect()]
}

/// The name of the day and what stands there.
fn due(next: &NextDue) -> (String, String) {
    let name = match next.overdue {
        true => say!("Overdue"),
        false => say!("Next due"),
    };
    let recipe = next
        .recipe
        .as_deref()
        .map_or_else(String::new, |r| format!(" {r}"));
    (name, plain(&format!("{}{recipe}", next.day)))
}

/// What a pass with remarks is under, in a few words: values that passed under a condition, minor criteria that did not, or that
/// there are remarks. The record, whose id stands below, tells the rest.
fn condition(record: &Record) -> String {
    if record.verdict != "pass with remarks" {
        return String::new();
    }
    let steps = record.setup.iter().chain(&record.steps);
    let verdicts = steps.flat_map(|s| &s.criteria).map(|c| c.verdict.as_str());
    let of = |wanted: fn(&str) -> bool| verdicts.clone().filter(|v| wanted(v)).count();
    let near = of(|v| v == "conditional pass");
    let failed = of(|v| v.ends_with("fail"));
    match (near, failed) {
        (0, 0) => counted(
            record.remarks.len(),
            fixed!("remark, see the record"),
            fixed!("remarks, see the record"),
        ),
        (near, 0) => counted(
            near,
            fixed!("value nearer to its limit than U"),
            fixed!("values nearer to their limit than U"),
        ),
        (0, failed) => counted(
            failed,
            fixed!("minor criterion is not met"),
            fixed!("minor criteria are not met"),
        ),
        (near, failed) => say!(
            "{near} near a limit, {failed} minor not met",
            near = near,
            failed = failed
        ),
    }
}

/// The verdict, with what it asks of everybody where it is no pass.
fn heed(verdict: &str, word: &str) -> String {
    match verdict {
        "fail" => say!("{verdict}: keep out of use", verdict = word),
        "incomplete" => say!("{verdict}: not released", verdict = word),
        _ => word.to_owned(),
    }
}
