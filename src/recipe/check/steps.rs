//! The steps one by one: verbs, values, what goes with them.
//!
//! Never in here: the parts of a step (see the other families). Changes when a verb is added.

use indexmap::IndexMap;

use crate::plan::{CriterionSeverity, OnFail, Then, Type, Value};
use crate::quantity::{Dimension, Kind, Unit};
use crate::recipe::checked::{Body, Criterion, Leaf, Sentence, Step};
use crate::recipe::cursor::At;
use crate::recipe::model::Written;
use crate::recipe::scope::{Declared, Id};
use crate::text::{Code, Severity};

use super::{Checker, exact_quantity, settings_at};

/// What is known of the rows of an `each` before its steps are walked.
type Rows = (Vec<IndexMap<String, Value>>, IndexMap<String, Type>);

impl<'d> Checker<'d> {
    /// Declares all names in advance, so that one that is filled later can be told from one that does not exist.
    pub(super) fn declare(&mut self, scope: Id, steps: &[Written<'d>], names: &mut Vec<Id>) {
        for step in steps {
            let inside = matches!(&step.verb, Some(("group" | "each", _)));
            let rows = step
                .at
                .get("in")
                .filter(|_| matches!(&step.verb, Some(("each", _))))
                .map(|list| list.items().count());
            let declared = if inside {
                Declared::Scope { rows }
            } else {
                Declared::Leaf {
                    of: None,
                    constant: false,
                }
            };
            // A name that nobody can write.
            let unwritten = || format!("({})", step.at.pointer);
            let name = if step.id.is_empty() {
                unwritten()
            } else {
                step.id.clone()
            };
            let hidden = self.scopes.hidden_by(scope, &name);
            if let (Some(hidden), Some(at)) = (hidden, step.at.get("id")) {
                let message = format!("`{name}` hides another name that can be seen from here");
                self.hides(&at, message, hidden);
            }
            let id = match self.scopes.declare(scope, &name, declared.clone()) {
                Ok(id) => id,
                Err(first) => {
                    if let Some(at) = step.at.get("id").filter(|_| self.scopes.is_setting(first)) {
                        let message = format!("`{name}` is a setting of the group already");
                        self.hides(&at, message, first);
                    } else if let Some(at) = step.at.get("id") {
                        let message = format!("a second step `{name}` in the same scope");
                        let help = format!("rename one of the two; {}", self.whose(&at, first));
                        self.findings
                            .push(at.finding(Code::DuplicateId, message, help));
                    }
                    // Its steps are still checked.
                    let second = self
                        .scopes
                        .declare(scope, &unwritten(), declared)
                        .unwrap_or_default();
                    self.scopes.contest(second, first);
                    second
                }
            };
            if let Some(hidden) = hidden {
                self.scopes.contest(id, hidden);
            }
            self.declared_at
                .insert(id, [&*step.at.pointer, "/id"].concat());
            if name.contains(char::is_uppercase) {
                // It was reported; its value is found all the same.
                self.scopes.declare_alias(scope, &name.to_lowercase(), id);
            }
            names.push(id);
            if matches!(&step.verb, Some(("use", _))) {
                // That it could not be found was reported.
                self.scopes.veil(id);
            }
            if inside {
                self.own_settings(id, step);
                self.declare(id, &step.steps, names);
            }
        }
    }

    /// The settings of a group, whose names go before those outside of it.
    fn own_settings(&mut self, group: Id, step: &Written<'d>) {
        let Some(settings) = step.at.get("settings") else {
            return;
        };
        self.scopes.close(group);
        let (sound, broken) = settings_at(&settings, &mut self.findings);
        self.declare_settings(group, &settings.pointer, &sound, &broken);
    }

    /// Checks the steps of a list, in order.
    pub(super) fn list(
        &mut self,
        steps: &[Written<'d>],
        names: &mut std::vec::IntoIter<Id>,
    ) -> Vec<Step> {
        steps.iter().map(|step| self.step(step, names)).collect()
    }

    fn step(&mut self, written: &Written<'d>, names: &mut std::vec::IntoIter<Id>) -> Step {
        let name = names.next().unwrap_or_default();
        let at = &written.at;
        self.scopes.stand_at(name);
        self.unit = at.text_of("unit").and_then(|u| Unit::parse(&u).ok());
        self.plain_texts(at);
        let when = self.condition(at);
        let (sentence, body) = match &written.verb {
            Some(("group", value)) => {
                let sentence = self.title(value);
                self.no_criteria(at, "group");
                self.scopes.enter(name);
                let steps = self.list(&written.steps, names);
                self.scopes.leave();
                (sentence, Body::Group(steps))
            }
            Some(("each", value)) => {
                self.no_criteria(at, "each");
                (Sentence::default(), self.each(written, value, name, names))
            }
            verb => self.leaf(written, verb.as_ref(), name),
        };
        Step {
            name,
            place: at.pointer.as_str().into(),
            id: written.id.clone(),
            title: at.text_of("title"),
            sentence,
            why: at.text_of("why"),
            caution: at.text_of("caution"),
            help: at.text_of("help"),
            picture: at.text_of("picture"),
            when,
            after_stop: at
                .get("after_stop")
                .is_some_and(|a| a.value.as_bool() == Some(true)),
            body,
        }
    }

    fn no_criteria(&mut self, at: &At<'_>, verb: &str) {
        for key in ["accept", "on_fail", "record_only", "optional"] {
            if let Some(extra) = at.get(key) {
                self.findings.push(extra.finding_at_key(
                    Code::MisplacedKey,
                    format!("`{key}` does not go with `{verb}`"),
                    "put it at a step inside",
                ));
            }
        }
        if at.get("on_fail").or(at.get("accept")).is_none() {
            self.nothing_to_fail(at, true);
        }
    }

    fn each(
        &mut self,
        written: &Written<'d>,
        value: &At<'d>,
        name: Id,
        names: &mut std::vec::IntoIter<Id>,
    ) -> Body {
        let (rows, fields): Rows = written
            .at
            .get("in")
            .map(|list| self.rows(&list))
            .unwrap_or_default();
        let row_name = value.text().unwrap_or_default();
        let hidden = self.scopes.hidden_by_row(name, &row_name);
        if let Some(hidden) = hidden {
            self.scopes.contest(hidden, hidden);
            let message =
                format!("the row `{row_name}` hides another name that can be seen from here");
            self.hides(value, message, hidden);
        }
        let row = self
            .scopes
            .declare_row(name, &row_name, fields, hidden.is_some());
        self.declared_at.insert(row, value.pointer.clone());
        self.rows.push((name, rows.clone()));
        self.scopes.enter(name);
        let steps = self.list(&written.steps, names);
        self.scopes.leave();
        Body::Each { rows, steps }
    }

    fn leaf(
        &mut self,
        written: &Written<'d>,
        verb: Option<&(&'static str, At<'d>)>,
        name: Id,
    ) -> (Sentence, Body) {
        let at = &written.at;
        let (word, value) = match verb {
            Some((word, value)) => (*word, Some(value)),
            None => ("", None),
        };
        let sentence = match (word, value) {
            ("compute", _) | (_, None) => Sentence::default(),
            (_, Some(value)) => self.sentence(value),
        };
        if let (None, Some(role)) = (value, at.text_of("with")) {
            // A step whose verb is not known still means its instrument.
            self.used_roles.insert(role);
        }
        let (leaf, of, constant) = self.verb(at, word, value, name);
        let of = of.filter(|_| !written.unsure);
        self.scopes.fill(name, of, constant);
        let severity = at
            .text_of("severity")
            .and_then(|w| CriterionSeverity::from_word(&w))
            .unwrap_or(CriterionSeverity::Major);
        let before = self.findings.len();
        let mut criteria = self.criteria(at, name, severity);
        // A criterion with a fault may be about the value.
        let sound = self.findings[before..]
            .iter()
            .all(|f| f.severity() != Severity::Error);
        if word == "confirm" && !at.has("accept") {
            criteria.push(Criterion {
                that: None,
                basis: at.text_of("basis"),
                severity,
            });
        }
        let on_fail = self.on_fail(at, word, &criteria);
        if !written.faulty {
            if sound {
                self.idle_value(at, word, name);
            }
            if !word.is_empty() && criteria.is_empty() && !at.has("accept") {
                self.nothing_to_fail(at, false);
            }
        }
        if word == "tell"
            && let Some(extra) = at.get("accept")
        {
            self.findings.push(extra.finding_at_key(
                Code::MisplacedKey,
                "`accept` does not go with `tell`",
                "use `confirm` or `judge`",
            ));
        }
        if word == "confirm"
            && let Some(extra) = at
                .get("record_only")
                .filter(|r| r.value.as_bool() == Some(true))
        {
            self.findings.push(extra.finding_at_key(
                Code::MisplacedKey,
                "`record_only` does not go with `confirm`, whose answer is judged",
                "use `choose` with the options `yes` and `no` for what is asked for the file",
            ));
        }
        let optional = at
            .get("optional")
            .and_then(|o| o.value.as_bool())
            .unwrap_or(false);
        (
            sentence,
            Body::Leaf {
                verb: leaf,
                criteria,
                on_fail,
                optional,
            },
        )
    }

    /// The verb's own parts, the type of the step's value, and whether no reading can change it.
    fn verb(
        &mut self,
        at: &At<'d>,
        word: &str,
        value: Option<&At<'d>>,
        name: Id,
    ) -> (Leaf, Option<Type>, bool) {
        let time = Kind::of(Dimension::from_name("time").unwrap_or_default());
        match (word, value) {
            ("confirm", _) => (Leaf::Confirm, Some(Type::Truth), false),
            ("choose", _) => {
                let options: Vec<String> = at
                    .get("options")
                    .map(|o| o.items().filter_map(|i| i.text()).collect())
                    .unwrap_or_default();
                self.options.insert(name, options.clone());
                (Leaf::Choose(options), Some(Type::Text), false)
            }
            ("enter", _) => {
                let pattern = at.get("pattern").and_then(|p| self.pattern(&p));
                (Leaf::Enter(pattern), Some(Type::Text), false)
            }
            ("count", _) => {
                let reading = self.reading(at, Some(Kind::RATIO));
                let of = listed(exact_quantity(Kind::RATIO), reading.repeat);
                (Leaf::Count(reading), Some(of), false)
            }
            ("time", _) => {
                let reading = self.reading(at, Some(time));
                let of = listed(exact_quantity(time), reading.repeat);
                (Leaf::Time(reading), Some(of), false)
            }
            ("measure", _) => self.measure(at),
            ("compute", Some(value)) => self.compute(at, value),
            ("judge", _) => (Leaf::Judge, None, false),
            ("trace", Some(_)) => self.trace(at),
            _ => (Leaf::Tell, None, false),
        }
    }

    fn pattern(&mut self, at: &At<'_>) -> Option<regex::Regex> {
        let text = at.text()?;
        match self.memo.pattern(&text) {
            Ok(pattern) => Some(pattern),
            Err(error) => {
                let reason = error.to_string();
                let reason = reason
                    .lines()
                    .last()
                    .unwrap_or_default()
                    .trim_start_matches("error: ")
                    .to_owned();
                self.findings.push(at.finding(
                    Code::BadPattern,
                    format!("not a regular expression: {reason}"),
                    "mend the pattern; a plain word needs none",
                ));
                None
            }
        }
    }

    fn measure(&mut self, at: &At<'d>) -> (Leaf, Option<Type>, bool) {
        let unit = at.get("unit").and_then(|u| self.unit(&u));
        let before = self.findings.len();
        let reading = self.reading(at, unit.as_ref().map(crate::quantity::Unit::kind));
        // Where role or range don't fit it is likely to be the unit that is wrong: nothing more is said of its kind.
        let sound = self.findings.len() == before;
        let Some(unit) = unit else {
            return (Leaf::Tell, None, false);
        };
        let step_of_display = crate::quantity::Kind::of(unit.kind().dimension);
        let resolution = at
            .get("resolution")
            .and_then(|r| self.quantity_of_kind(&r, step_of_display));
        let of = listed(exact_quantity(unit.kind()), reading.repeat);
        (
            Leaf::Measure {
                unit,
                resolution,
                reading,
            },
            sound.then_some(of),
            false,
        )
    }

    fn compute(&mut self, at: &At<'d>, value: &At<'d>) -> (Leaf, Option<Type>, bool) {
        let read = self.read(value, None);
        let unit_at = at.get("unit");
        let unit = unit_at.as_ref().and_then(|u| self.unit(u));
        let Some(read) = read else {
            return (Leaf::Tell, None, false);
        };
        let of = read.expression.result.clone();
        if let (Some(unit), Some(unit_at)) = (&unit, &unit_at) {
            let message = match innermost(&of) {
                Type::Quantity { kind, .. } => kind.comparable(unit.kind()).err().map(|_| {
                    format!("the expression gives {of}, and `{unit}` measures another kind")
                }),
                other => Some(format!("the expression gives {other}, which has no unit")),
            };
            if let Some(message) = message {
                self.findings.push(unit_at.finding(
                    Code::KindMismatch,
                    message,
                    "write a unit of the kind that the expression gives",
                ));
                return (Leaf::Tell, None, false);
            }
        }
        let constant = self.is_constant(&read);
        (
            Leaf::Compute {
                expression: read,
                unit,
            },
            Some(of),
            constant,
        )
    }

    fn on_fail(&mut self, at: &At<'_>, word: &str, criteria: &[Criterion]) -> OnFail {
        let silent = if self.in_setup {
            Then::AskAgain
        } else {
            Then::StopIfCritical
        };
        let Some(value) = at.get("on_fail") else {
            return OnFail {
                retries: 0,
                then: silent,
            };
        };
        let retries = value.get("retry").and_then(|r| r.whole()).unwrap_or(0);
        let then = match value.text().or_else(|| value.text_of("then")).as_deref() {
            Some("stop") => Then::Stop,
            Some("continue") => Then::Continue,
            _ => silent,
        };
        if retries > 0 && !at.has("accept") && criteria.is_empty() {
            self.findings.push(value.finding(
                Code::RetryWithoutCriteria,
                "a retry, but nothing that can fail",
                "add `accept`, or remove `on_fail`",
            ));
        } else if retries > 0 && matches!(word, "compute" | "judge") {
            self.findings.push(value.finding(
                Code::MisplacedKey,
                format!("`{word}` asks for nothing that could be done again"),
                "put the retry at the step that is read",
            ));
        }
        OnFail { retries, then }
    }

    /// Keeps a reading for the look at what is left over: one that no criterion names, its own neither, is judged by none.
    fn idle_value(&mut self, at: &At<'d>, word: &str, name: Id) {
        let filed = at
            .get("record_only")
            .is_some_and(|r| r.value.as_bool() == Some(true));
        let read =
            matches!(word, "measure" | "count" | "time") || (word == "confirm" && at.has("accept"));
        if read
            && !filed
            && let Some(id) = at.get("id")
        {
            self.idle.push((name, id));
        }
    }
}

fn listed(of: Type, repeat: u32) -> Type {
    if repeat > 1 {
        Type::List(Box::new(of))
    } else {
        of
    }
}

fn innermost(of: &Type) -> &Type {
    match of {
        Type::List(inner) => innermost(inner),
        other => other,
    }
}
