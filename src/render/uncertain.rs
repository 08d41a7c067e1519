//! The uncertainty of measurement in words: what U is, what it counts, what it leaves out, and how verdicts heed it.
//!
//! Never in here: numbers of a single value (see `budget`, `judged`). Changes when more is counted or a decision rule is added.

use serde_json::Value as Json;

use crate::record::{Limit, Record, Step, Uncertainty};

use super::clean::prose;
use super::document::{Block, section};
use super::figure::{as_quantity, short};
use super::remarks;
use super::words::{counted, fixed, said, say};

/// The decision rule for the first page.
pub(super) fn rule_in_brief(decision: &str) -> String {
    match decision {
        "simple" => say!("simple: the value itself against the limit"),
        "guarded" => say!("guarded: inside the limit by at least U"),
        "banded" => {
            say!("banded: pass, conditional pass, conditional fail or fail, by the uncertainty U")
        }
        other => prose(other),
    }
}

/// The section that states the uncertainty.
pub(super) fn statement(record: &Record) -> Vec<Block> {
    let all = all(record);
    let mut blocks = vec![section(&say!("Measurement uncertainty"))];
    let mut paragraph = |text: String| blocks.push(Block::Paragraph { text });
    paragraph(rule(&record.decision));
    if all.is_empty() {
        paragraph(say!(
            "This record states no measurement uncertainty for any value. A value close to its limit may lie on the other side of \
             it; the accuracy of the instruments above helps to judge that."
        ));
    }
    if record.decision == "banded" {
        blocks.push(list(&FOUR));
    }
    if !all.is_empty() {
        let mut items = vec![expanded(&all)];
        items.extend(COUNTED.map(|c| said(c, &[])));
        items.extend(drawn(&all));
        items.extend(remarks::of_drawing(record));
        blocks.push(Block::List { items });
    }
    blocks
}

fn list(items: &[&str]) -> Block {
    Block::List {
        items: items.iter().map(|i| said(i, &[])).collect(),
    }
}

fn rule(decision: &str) -> String {
    match decision {
        "simple" => say!(
            "Decision rule: simple acceptance. The value itself is held against its limit; its uncertainty does not change the \
                     verdict. A value nearer to its limit than its U may lie on the other side of it."
        ),
        "guarded" => say!(
            "Decision rule: guarded acceptance (ILAC-G8:09/2019, guard band of the width U). A value passes where it lies \
                      inside its limit by at least its expanded uncertainty U; every other value fails. Where no uncertainty is \
                      known, the value itself is held against the limit."
        ),
        "banded" => say!(
            "Decision rule: four verdicts (ILAC-G8:09/2019, non-binary statement with a guard band of the width U). Where no \
                     uncertainty is known, the value itself is held against the limit and passes or fails."
        ),
        other => say!(
            "The decision rule of the recipe is “{rule}”.",
            rule = prose(other)
        ),
    }
}

/// What each of the four verdicts means for release.
const FOUR: [&str; 4] = [
    fixed!("pass: inside the limit by at least U. Nothing in this value stands against release."),
    fixed!(
        "conditional pass: inside the limit, but by less than U. The true value may lie outside; who releases decides whether that can be borne."
    ),
    fixed!(
        "conditional fail: outside the limit by no more than U. The true value may lie inside; the criterion counts as not met, and the device is not to be released on it without measuring better."
    ),
    fixed!("fail: outside the limit by more than U. The criterion is not met."),
];

/// What is counted, and what is not.
const COUNTED: [&str; 4] = [
    fixed!(
        "Counted: the accuracy of each instrument as the register states it, read as the bounds of a rectangular distribution (divided by √3), \
     or as an expanded uncertainty where the register gives its k (divided by k); the step of its display (divided by √12); the scatter of \
     repeated readings (their standard deviation, for a mean divided by √n); uncertainties that the recipe states."
    ),
    fixed!(
        "Combined to first order after the law of propagation. A source that several readings share, as the calibration of one instrument, is \
     counted once with its sign (JCGM 100:2008, 5.1 and 5.2). Degrees of freedom are the effective ones (annex G.4)."
    ),
    fixed!(
        "Rounded for reading only: U to two significant digits, to the nearest, or upwards where that would understate it by more than 1 %, and the \
     value to the same place (JCGM 100:2008, 7.2.6). Verdicts rest on \
     the unrounded numbers, which stand in the JSON file."
    ),
    fixed!(
        "Not counted: readings without an instrument, as counts and times by hand; influences that nobody entered, as temperature, drift since the \
     calibration, or how the instrument was connected; settings and limits, which are taken as exact."
    ),
];

fn expanded(all: &[Uncertainty]) -> String {
    let factors = all.iter().filter_map(|u| u.k.parse::<f64>().ok());
    let least = factors.clone().fold(f64::INFINITY, f64::min);
    let most = factors.fold(0.0, f64::max);
    let (least, most) = (short(&least.to_string(), 3), short(&most.to_string(), 3));
    let here = if least == most {
        say!("here {k} for every value", k = least)
    } else {
        say!("here from {least} to {most}", least = least, most = most)
    };
    say!(
        "value ± U: U = k · u is the expanded uncertainty, for a coverage probability of 95.45 %. k is 2, or larger where few readings \
         stand behind the value; {here}.",
        here = here
    )
}

/// What is said of errors drawn at random, where they were.
fn drawn(all: &[Uncertainty]) -> Option<String> {
    let drawn: Vec<_> = all.iter().filter_map(|u| u.drawn.as_ref()).collect();
    let first = drawn.first()?;
    let differ = drawn.iter().filter(|d| !d.agrees).count();
    let differ = match differ {
        0 => say!("All agree with value ± U"),
        1 => say!("1 of them does not agree with value ± U; the budgets below say which"),
        n => say!(
            "{n} of them do not agree with value ± U; the budgets below say which",
            n = n
        ),
    };
    Some(say!(
        "Where first order may not be enough, errors were also drawn at random and carried through the whole expression \
         (JCGM 101:2008): {trials} drawings, seed {seed}, for {values}. {differ}.",
        trials = first.trials,
        seed = first.seed,
        values = counted(drawn.len(), fixed!("value"), fixed!("values")),
        differ = differ
    ))
}

/// All uncertainties of a record: of what was judged, and of the values of the steps.
fn all(record: &Record) -> Vec<Uncertainty> {
    let steps = record.setup.iter().chain(&record.steps);
    let of_step = |step: &Step| {
        let limits = step.criteria.iter().flat_map(|c| &c.limits);
        let mut all = of_value(&step.uncertainty);
        for judged in limits.filter_map(|l: &Limit| l.uncertainty.clone()) {
            // The value of a step that is itself held against a limit is one value.
            if !all.contains(&judged) {
                all.push(judged);
            }
        }
        all
    };
    steps.flat_map(of_step).collect()
}

/// The uncertainties that a step holds for its value: one, or one of each reading.
pub(super) fn of_value(json: &Json) -> Vec<Uncertainty> {
    match json {
        Json::Array(items) => items.iter().flat_map(of_value).collect(),
        other => serde_json::from_value(other.clone()).into_iter().collect(),
    }
}

/// The uncertainty of a step's value in words; empty where the value is no quantity.
pub(super) fn in_words(step: &Step) -> String {
    let all = of_value(&step.uncertainty);
    let shown: Vec<String> = all.iter().map(|u| prose(&u.shown)).collect();
    match &shown[..] {
        [] if is_measured(&step.value) => say!("uncertainty not stated"),
        [] => String::new(),
        [only] => say!("value ± U: {value}", value = only),
        several => match alike(&all) {
            Some(each) => say!("each ± {each}", each = each),
            None => say!("value ± U: {value}", value = several.join("; ")),
        },
    }
}

/// Whether a value is or holds a quantity with a unit: a count has no uncertainty.
fn is_measured(value: &Json) -> bool {
    match value {
        Json::Array(items) => items.iter().any(is_measured),
        other => as_quantity(other).is_some_and(|q| q.unit != "1"),
    }
}

/// U to two digits with its unit, where it is the same for all.
fn alike(all: &[Uncertainty]) -> Option<String> {
    let tail = |u: &Uncertainty| u.shown.split_once('±').map(|(_, u)| prose(u));
    let first = tail(all.first()?)?;
    let same = all.iter().all(|u| tail(u).as_ref() == Some(&first));
    same.then(|| first.replace(')', ""))
}
