//! The values of a record as rows of a table, for spreadsheets and maintenance systems: CSV after RFC 4180.
//!
//! Never in here: fixed texts in another language; words and names of columns never change. Changes when a column is
//! added, at the end.

use serde_json::Value as Json;

use crate::record::{
    Amendment, Attempt, Correction, Criterion, Limit, Quantity, Record, Step, Uncertainty,
};

use super::beside::{Addition, Beside};
use super::clean::{cleaned, prose, typed};
use super::figure::{as_quantity, entry};
use super::uncertain::of_value;
use super::went::{name, own_name};

/// A column: its name, what stands in it, and where that is found.
struct Column {
    name: &'static str,
    holds: &'static str,
    of: fn(&Seen<'_>) -> String,
}

/// What a row tells of: a reading, a criterion, both, or a step without either.
struct Seen<'r> {
    record: &'r Record,
    beside: &'r Beside,
    step: &'r Step,
    number: usize,
    reading: Option<Reading<'r>>,
    judged: Option<(&'r Criterion, Option<&'r Limit>)>,
}

/// A reading, or an element of what was computed.
#[derive(Clone)]
struct Reading<'r> {
    attempt: usize,
    attempts: usize,
    number: usize,
    in_all: usize,
    entry: Json,
    value: Json,
    uncertainty: Option<Uncertainty>,
    at: Option<&'r str>,
    verdict: Option<&'r str>,
}

/// The names of the columns with what they hold, in their order.
pub fn columns() -> impl Iterator<Item = (&'static str, &'static str)> {
    COLUMNS.iter().map(|c| (c.name, c.holds))
}

/// The row of the columns' names.
#[must_use]
pub fn csv_head() -> Vec<u8> {
    written(std::iter::once(
        COLUMNS.iter().map(|c| c.name.to_owned()).collect(),
    ))
}

/// The rows of a record, without the row of names.
#[must_use]
pub fn csv_rows(record: &Record, beside: &Beside) -> Vec<u8> {
    let (record, beside) = (cleaned(record), beside.cleaned());
    let rows = seen(&record, &beside);
    let cells = rows.iter().map(|row| {
        let cell = |c: &Column| harmless((c.of)(row));
        COLUMNS.iter().map(cell).collect()
    });
    written(cells)
}

fn written(rows: impl Iterator<Item = Vec<String>>) -> Vec<u8> {
    let mut out = csv::WriterBuilder::new()
        .terminator(csv::Terminator::CRLF)
        .from_writer(Vec::new());
    for row in rows {
        out.write_record(&row)
            .expect("memory takes rows, which are all equally long");
    }
    out.into_inner().expect("memory takes what is left")
}

/// A cell that no spreadsheet takes for a formula: where it begins like one and is no plain number, an apostrophe goes before
/// it. Signs that begin formulas: `=`, `+`, `-`, `@` (from memory), also in full width; blanks before them are passed over.
fn harmless(cell: String) -> String {
    let begins = cell.trim_start().starts_with(|c| {
        matches!(
            c,
            '=' | '+' | '-' | '@' | '\u{ff1d}' | '\u{ff0b}' | '\u{ff0d}' | '\u{ff20}'
        )
    });
    match begins && !is_plain_number(&cell) {
        true => format!("'{cell}"),
        false => cell,
    }
}

/// A sign, digits with at most one point or comma, an exponent.
fn is_plain_number(text: &str) -> bool {
    let digits = |t: &str| !t.is_empty() && t.bytes().all(|b| b.is_ascii_digit());
    let unsigned = |t: &'_ str| t.strip_prefix(['+', '-']).unwrap_or(t).to_owned();
    let number = unsigned(text);
    let (number, exponent) = match number.split_once(['e', 'E']) {
        Some((number, exponent)) => (number, Some(unsigned(exponent))),
        None => (number.as_str(), None),
    };
    let (whole, part) = number.split_once(['.', ',']).unwrap_or((number, "0"));
    digits(whole) && digits(part) && exponent.is_none_or(|e| digits(&e))
}

/// All rows of a record.
fn seen<'r>(record: &'r Record, beside: &'r Beside) -> Vec<Seen<'r>> {
    let mut rows = Vec::new();
    for (step, number) in record.setup.iter().chain(&record.steps).zip(1..) {
        let row = |reading, judged| Seen {
            record,
            beside,
            step,
            number,
            reading,
            judged,
        };
        let mut readings = readings(step);
        let last = readings.pop();
        // A criterion on the only reading stands beside it; others have rows of their own.
        let is_only = last.as_ref().is_some_and(|r| r.in_all == 1);
        let mut judged: Vec<_> = step.criteria.iter().flat_map(ends).collect();
        let own = judged.iter().position(|(_, limit)| is_own(step, *limit));
        let own = own.filter(|_| is_only).map(|n| judged.remove(n));
        rows.extend(readings.into_iter().map(|r| row(Some(r), None)));
        rows.extend(last.map(|r| row(Some(r), own)));
        rows.extend(judged.into_iter().map(|j| row(None, Some(j))));
        if rows.last().is_none_or(|r| r.number != number) {
            rows.push(row(None, None));
        }
    }
    rows
}

/// A criterion with each of its limits; by itself where it has none.
fn ends(criterion: &Criterion) -> Vec<(&Criterion, Option<&Limit>)> {
    match &criterion.limits[..] {
        [] => vec![(criterion, None)],
        limits => limits.iter().map(|l| (criterion, Some(l))).collect(),
    }
}

/// Whether a limit is about the value of the step itself.
fn is_own(step: &Step, limit: Option<&Limit>) -> bool {
    let own = step.path.rsplit('.').next();
    limit.is_none_or(|l| own == Some(l.of.as_str()))
}

/// The readings of all attempts in order; what was computed counts as one attempt.
fn readings(step: &Step) -> Vec<Reading<'_>> {
    let computed = Attempt {
        entry: step.entry.clone(),
        value: step.value.clone(),
        at: step.at.clone(),
        verdict: None,
        heard: Vec::new(),
        timed: Vec::new(),
    };
    if step.attempts.is_empty() {
        return of_attempt(step, &computed, None, (1, 1));
    }
    let count = step.attempts.len();
    let all = step.attempts.iter().zip(1..);
    all.flat_map(|(a, n)| of_attempt(step, a, Some(a), (n, count)))
        .collect()
}

fn of_attempt<'r>(
    step: &'r Step,
    attempt: &Attempt,
    stored: Option<&'r Attempt>,
    (n, attempts): (usize, usize),
) -> Vec<Reading<'r>> {
    let count = [&attempt.entry, &attempt.value]
        .map(|json| match json {
            Json::Array(items) => items.len(),
            Json::Null => 0,
            _ => 1,
        })
        .into_iter()
        .max()
        .unwrap_or(0);
    let one = |i: usize| Reading {
        attempt: n,
        attempts,
        number: i + 1,
        in_all: count,
        entry: part(&attempt.entry, i),
        value: part(&attempt.value, i),
        uncertainty: of_value(&part(&step.uncertainty, i))
            .into_iter()
            .next()
            .filter(|_| n == attempts),
        at: stored.map_or(step.at.as_deref(), |a| a.at.as_deref()),
        verdict: stored.and_then(|a| a.verdict.as_deref()),
    };
    (0..count).map(one).collect()
}

/// An element of a list; what is no list is its own first.
fn part(json: &Json, index: usize) -> Json {
    match json {
        Json::Array(items) => items.get(index).cloned().unwrap_or_default(),
        other if index == 0 => other.clone(),
        _ => Json::Null,
    }
}

impl Seen<'_> {
    fn limit(&self) -> Option<&Limit> {
        self.judged.and_then(|(_, limit)| limit)
    }

    fn criterion(&self, of: fn(&Criterion) -> String) -> String {
        self.judged.map_or_else(String::new, |(c, _)| of(c))
    }

    fn read(&self, of: fn(&Reading<'_>) -> String) -> String {
        self.reading.as_ref().map_or_else(String::new, of)
    }

    /// The quantity of the row: that of the reading, else what was held against the limit.
    fn quantity(&self, of: fn(Quantity) -> String) -> String {
        let found = match &self.reading {
            Some(reading) => as_quantity(&reading.value),
            None => self.limit().and_then(|l| l.value.clone()),
        };
        found.map_or_else(String::new, of)
    }

    fn end(&self, of: fn(&Limit) -> &Option<Quantity>, part: fn(&Quantity) -> String) -> String {
        let end = self.limit().and_then(|l| of(l).as_ref());
        end.map_or_else(String::new, part)
    }

    fn uncertainty(&self, of: fn(&Uncertainty) -> String) -> String {
        let found = match &self.reading {
            Some(reading) => reading.uncertainty.as_ref(),
            None => self.limit().and_then(|l| l.uncertainty.as_ref()),
        };
        found.map_or_else(String::new, of)
    }

    /// Certificate and due date of the instrument.
    fn calibration(&self) -> [String; 2] {
        let id = self.step.instrument.as_deref();
        let mut all = self.record.instruments.values();
        let found = id.and_then(|id| all.find(|i| i.id == id));
        found.map_or_else(Default::default, |i| {
            [&i.certificate, &i.due].map(|t| prose(t))
        })
    }

    fn correction(&self, of: fn(&Correction) -> &String) -> String {
        let place = self
            .reading
            .as_ref()
            .map(|r| (r.attempt - 1) * r.in_all + r.number);
        let mut all = self.step.corrections.iter();
        let found = place.and_then(|n| all.find(|c| c.reading == n));
        found.map_or_else(String::new, |c| typed(of(c)))
    }

    fn signed(&self, role: &str) -> String {
        let all = self.record.seal.signatures.iter();
        let those = all.filter(|s| s.statement.role == role);
        joined(those.map(|s| prose(&s.statement.by)), " ")
    }

    fn additions(&self, of: fn(&Amendment) -> String) -> String {
        let all = self.beside.amendments.iter();
        let those = all.filter_map(|a: &Addition| a.amendment.as_ref());
        joined(those.map(of).filter(|t| !t.is_empty()), " ")
    }
}

fn joined(texts: impl Iterator<Item = String>, between: &str) -> String {
    texts.collect::<Vec<_>>().join(between)
}

fn yes(is_so: bool) -> String {
    if is_so { "yes" } else { "no" }.to_owned()
}

/// A value that is no quantity: a text, a yes or a no.
fn bare(value: &Json) -> String {
    match value {
        Json::Object(_) => as_quantity(value).map_or_else(String::new, |q| q.value),
        Json::Bool(is_so) => yes(*is_so),
        other => entry(other),
    }
}

fn kind(of: &Seen<'_>) -> &'static str {
    match (&of.reading, of.judged) {
        (Some(reading), _) if reading.entry.is_null() => "computed",
        (Some(_), _) => "reading",
        (None, Some(_)) => "judged",
        (None, None) => "step",
    }
}

macro_rules! columns {
    ($($name:literal $holds:literal $of:expr;)+) => {
        [$(Column { name: $name, holds: $holds, of: $of }),+]
    };
}

const COLUMNS: [Column; 61] = columns! {
    "record" "id of the record" |s| prose(&s.record.record);
    "record_verdict" "`pass`, `pass with remarks`, `fail`, `incomplete`" |s| prose(&s.record.verdict);
    "trial" "`yes` for a trial, which proves nothing" |s| yes(s.record.trial);
    "verifies" "`no` where the record does not verify" |s| yes(s.beside.doubts.is_empty());
    "amended_by" "ids of amendments" |s| s.additions(|a| prose(&a.amendment));
    "corrected_by" "id of the record that holds instead" |s| {
        s.additions(|a| a.correction.as_ref().map_or_else(String::new, |c| prose(&c.record)))
    };
    "device" "asset tag" |s| prose(&s.record.device.tag);
    "serial" "serial number in the register" |s| prose(&s.record.device.serial);
    "maker" "of the device" |s| prose(&s.record.device.maker);
    "model" "of the device" |s| prose(&s.record.device.model);
    "category" "of the device" |s| prose(&s.record.device.category);
    "location" "of the device" |s| prose(&s.record.device.location);
    "recipe" "id of the recipe" |s| prose(&s.record.recipe.id);
    "revision" "of the recipe" |s| s.record.recipe.revision.to_string();
    "occasion" "why it was tested" |s| prose(&s.record.occasion);
    "by" "who tested" |s| prose(&s.record.by);
    "bench" "where" |s| prose(&s.record.bench);
    "started" "RFC 3339" |s| prose(&s.record.started);
    "finished" "RFC 3339" |s| prose(&s.record.finished);
    "signed_technician" "who signed so" |s| s.signed("technician");
    "signed_reviewer" "who signed so" |s| s.signed("reviewer");
    "decision" "the decision rule" |s| prose(&s.record.decision);
    "digest" "of the record" |s| prose(&s.record.seal.digest);
    "number" "of the step in the record" |s| s.number.to_string();
    "step" "path of the step in the recipe" |s| prose(&s.step.path);
    "title" "what the step is called" |s| own_name(s.step);
    "part" "with the groups that it stands in" |s| name(s.step);
    "verb" "of the step" |s| prose(&s.step.verb);
    "state" "`done`, `skipped`, `not applicable`, `not done`" |s| prose(&s.step.state);
    "why" "why it was skipped, or does not apply" |s| prose(s.step.why.as_deref().unwrap_or_default());
    "kind" "`reading`, `computed`, `judged` (a criterion about something else than the only reading), `step` (no value)"
        |s| kind(s).to_owned();
    "attempt" "from 1" |s| s.read(|r| r.attempt.to_string());
    "decides" "`no` for an attempt that was repeated" |s| s.read(|r| yes(r.attempt == r.attempts));
    "attempt_verdict" "of the whole attempt" |s| s.read(|r| prose(r.verdict.unwrap_or_default()));
    "reading" "number of the repeat, from 1" |s| s.read(|r| r.number.to_string());
    "at" "when it was entered, RFC 3339" |s| s.read(|r| prose(r.at.unwrap_or_default()));
    "entry" "as typed" |s| s.read(|r| entry(&r.entry));
    "value_of" "what was held against the limits" |s| s.limit().map_or_else(String::new, |l| prose(&l.of));
    "value" "decimal point; or `yes`, `no`, a text" |s| match &s.reading {
        Some(reading) => bare(&reading.value),
        None => s.quantity(|q| prose(&q.value)),
    };
    "unit" "of the value; `1` for a number" |s| s.quantity(|q| prose(&q.unit));
    "ucum" "the unit in UCUM" |s| s.quantity(|q| prose(&q.ucum));
    "exact" "`no` for a value that was computed with rounding" |s| s.quantity(|q| yes(q.exact));
    "uncertainty" "expanded uncertainty U" |s| s.uncertainty(|u| prose(&u.expanded));
    "uncertainty_unit" "of U" |s| s.uncertainty(|u| prose(&u.unit));
    "k" "coverage factor" |s| s.uncertainty(|u| prose(&u.k));
    "low" "lower limit" |s| s.end(|l| &l.low, |q| prose(&q.value));
    "low_unit" "of the lower limit" |s| s.end(|l| &l.low, |q| prose(&q.unit));
    "high" "upper limit" |s| s.end(|l| &l.high, |q| prose(&q.value));
    "high_unit" "of the upper limit" |s| s.end(|l| &l.high, |q| prose(&q.unit));
    "limits_included" "`no` where a value on the limit is outside" |s| {
        s.limit().map_or_else(String::new, |l| yes(!l.strict))
    };
    "criterion" "as written in the recipe" |s| s.criterion(|c| prose(&c.that));
    "severity" "`critical`, `major`, `minor`" |s| s.criterion(|c| prose(&c.severity));
    "verdict" "`pass`, `conditional pass`, `conditional fail`, `fail`, `not judged`" |s| s.criterion(|c| prose(&c.verdict));
    "instrument" "id" |s| prose(s.step.instrument.as_deref().unwrap_or_default());
    "certificate" "of the instrument" |s| {
        let [certificate, _] = s.calibration();
        certificate
    };
    "due" "when the calibration of the instrument ends" |s| {
        let [_, due] = s.calibration();
        due
    };
    "first_entry" "where the entry was corrected: what was typed first" |s| s.correction(|c| &c.before);
    "corrected_why" "why it was corrected" |s| s.correction(|c| &c.why);
    "void_by" "id of the amendment that declares the record void" |s| {
        s.additions(|a| if a.void { prose(&a.amendment) } else { String::new() })
    };
    "basis" "what the limits rest on" |s| s.criterion(|c| prose(c.basis.as_deref().unwrap_or_default()));
    "notes" "of the step" |s| joined(s.step.notes.iter().map(|n| prose(&n.text)), "; ");
};
