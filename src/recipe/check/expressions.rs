//! Expressions at their places: lowering, conditions, criteria.
//!
//! Never in here: the language of expressions itself. Changes when criteria or conditions carry something new.

use std::cell::{Cell, RefCell};
use std::sync::Arc;

use crate::plan::{BinaryOperator, CriterionSeverity, Decision, Node, Type, draws_limits};
use crate::recipe::checked::{Criterion, Read};
use crate::recipe::constants::Constants;
use crate::recipe::cursor::At;
use crate::recipe::expression::{LoweringError, lower};
use crate::recipe::here::Here;
use crate::recipe::memo::Sound;
use crate::recipe::schema::nearest;
use crate::recipe::scope::{Id, Source};
use crate::text::{Code, quoted};

use super::Checker;

/// Most settings of which a finding tells the values.
const MAX_VALUES: usize = 4;

impl Checker<'_> {
    /// Lowers the expression at a place; reports all that is wrong with it.
    pub(super) fn read(&mut self, at: &At<'_>, own: Option<Id>) -> Option<Read> {
        let text = at.text()?;
        if self.shape_faults.contains(&at.pointer) {
            words(&text).for_each(|word| self.scopes.mention(word));
            return None;
        }
        if let Some(read) = self.read_before(&text, own) {
            self.words_not_offered(at, &read);
            return Some(read);
        }
        let here = Here {
            scopes: &self.scopes,
            own,
            sources: RefCell::default(),
            constants: self.constants(),
            unit: self.unit.clone(),
            visited: Cell::default(),
            remarks: RefCell::default(),
        };
        let lowered = lower(&text, &here);
        let visited = here.visited.get();
        let (sources, remarks) = (here.sources.into_inner(), here.remarks.into_inner());
        match lowered {
            Ok(expression) => {
                let sources = expression
                    .names
                    .iter()
                    .map(|n| sources[n].clone())
                    .collect();
                let read = Read {
                    expression: Arc::new(expression),
                    sources,
                };
                if remarks.is_empty() {
                    self.keep(&read, own, visited);
                }
                self.words_not_offered(at, &read);
                self.report(at, remarks);
                Some(read)
            }
            Err(errors) => {
                // What a faulty expression names was meant to be used.
                words(&text).for_each(|word| self.scopes.mention(word));
                self.report(at, errors.into_iter().chain(remarks));
                None
            }
        }
    }

    /// The expression as it was lowered before, if its names stand for the same.
    fn read_before(&self, text: &str, own: Option<Id>) -> Option<Read> {
        self.memo.expression(text).into_iter().find_map(|sound| {
            let names = sound.thing.names.iter();
            let sources = self.sources_as_before(names, &sound.stood, own)?;
            Some(Read {
                expression: Arc::clone(&sound.thing),
                sources,
            })
        })
    }

    /// Keeps a sound expression; `visited` says whether values of settings or rows were looked at.
    fn keep(&self, read: &Read, own: Option<Id>, visited: bool) {
        let rows = read.sources.iter().any(|s| matches!(s, Source::Field(..)));
        if visited && rows {
            return;
        }
        let names = read.expression.names.iter();
        let stood = names.map(|name| Some(self.stands(name, own, visited)?.0));
        if let Some(stood) = stood.collect() {
            let thing = Arc::clone(&read.expression);
            self.memo
                .keep_expression(&read.expression.text, Sound { stood, thing });
        }
    }

    fn report(&mut self, at: &At<'_>, told: impl IntoIterator<Item = LoweringError>) {
        let finding =
            |e: LoweringError| at.finding_within(e.code, (e.start, e.end), e.message, e.help);
        self.findings.extend(told.into_iter().map(finding));
    }

    /// Reports words that are compared with a choice that does not offer them: the two are never equal.
    fn words_not_offered(&mut self, at: &At<'_>, read: &Read) {
        let mut compared = Vec::new();
        comparisons(&read.expression.root, &mut compared);
        for (index, word) in compared {
            let Source::Leaf(id, _) = &read.sources[index] else {
                continue;
            };
            let Some(options) = self
                .options
                .get(id)
                .filter(|o| !o.iter().any(|o| o == word))
            else {
                continue;
            };
            let help = match nearest(word, options.iter().map(String::as_str)) {
                Some(near) => format!("the nearest option is `{near}`"),
                None => format!("the options are `{}`", options.join("`, `")),
            };
            let message = format!(
                "`{word}` is none of the options of `{}`",
                read.expression.names[index]
            );
            let quoted = format!("\"{word}\"");
            let start = read.expression.text.find(&quoted).unwrap_or_default();
            self.findings.push(at.finding_within(
                Code::WrongValue,
                (start, start + quoted.len()),
                message,
                help,
            ));
        }
    }

    /// Lowers an expression that must give a truth.
    fn read_truth(&mut self, at: &At<'_>, own: Option<Id>) -> Option<Read> {
        let read = self.read(at, own)?;
        if read.expression.result == Type::Truth {
            return Some(read);
        }
        let message = format!(
            "the expression gives {}, not a truth",
            read.expression.result
        );
        self.findings.push(at.finding(
            Code::TypeMismatch,
            message,
            "write a comparison, `within` or `between`",
        ));
        None
    }

    /// The `when` of a step.
    pub(super) fn condition(&mut self, step: &At<'_>) -> Option<Read> {
        let at = step.get("when")?;
        let read = self.read_truth(&at, None)?;
        if let Some(always) = self.always(&read) {
            let word = if always { "always" } else { "never" };
            let help = if always {
                "remove `when`"
            } else {
                "remove the step, or let `when` depend on something that is asked or measured"
            };
            self.findings.push(at.finding(
                Code::ConstantCondition,
                format!(
                    "{} is {word} true, whatever is read{}",
                    quoted(&read.expression.text),
                    self.known_values(&read)
                ),
                help,
            ));
        }
        Some(read)
    }

    /// What a condition gives in every row, if it rests on nothing that is read and is the same in all of them.
    fn always(&self, read: &Read) -> Option<bool> {
        let mut outcome = None;
        let expression = &read.expression;
        let constants = self.constants();
        let agree = constants.visit(
            &expression.root,
            &expression.names,
            &read.sources,
            &mut |value| {
                let truth = value.as_truth();
                let same = truth.is_some() && (outcome.is_none() || outcome == truth);
                outcome = truth;
                same
            },
        );
        outcome.filter(|_| agree == Some(true))
    }

    /// The settings that an expression names, with their values: the numbers that show what it comes to.
    fn known_values(&self, read: &Read) -> String {
        let value = |(name, source): (&String, &Source)| match source {
            Source::Setting(id) => {
                let value = self.settings.get(id)?.shown();
                Some(format!("`{name}` is {value}"))
            }
            _ => None,
        };
        let names = read.expression.names.iter().zip(&read.sources);
        let values: Vec<String> = names.filter_map(value).take(MAX_VALUES).collect();
        match values.is_empty() {
            true => String::new(),
            false => format!(": {}", values.join(", ")),
        }
    }

    fn constants(&self) -> Constants<'_> {
        Constants {
            settings: &self.settings,
            rows: &self.rows,
        }
    }

    /// Whether no reading can change what the expression gives.
    pub(super) fn is_constant(&self, read: &Read) -> bool {
        read.sources.iter().all(|s| self.scopes.is_constant(s))
    }

    /// The criteria of a step: `accept` as a text, a mapping, or a list of these.
    pub(super) fn criteria(
        &mut self,
        step: &At<'_>,
        own: Id,
        severity: CriterionSeverity,
    ) -> Vec<Criterion> {
        let basis = step.get("basis");
        let shared = basis.as_ref().and_then(At::text);
        if let Some(at) = &basis {
            self.known_basis(at);
        }
        let Some(accept) = step.get("accept") else {
            return Vec::new();
        };
        let list: Vec<At<'_>> = if accept.value.is_array() {
            accept.items().collect()
        } else {
            vec![accept]
        };
        list.into_iter()
            .filter_map(|at| self.criterion(&at, own, severity, shared.clone()))
            .collect()
    }

    fn criterion(
        &mut self,
        at: &At<'_>,
        own: Id,
        severity: CriterionSeverity,
        shared: Option<String>,
    ) -> Option<Criterion> {
        let (that, basis, severity) = if at.value.is_object() {
            if let Some(basis) = at.get("basis") {
                self.known_basis(&basis);
            }
            let word = at.text_of("severity");
            let severity = word
                .and_then(|w| CriterionSeverity::from_word(&w))
                .unwrap_or(severity);
            (at.get("that")?, at.text_of("basis").or(shared), severity)
        } else {
            (at.clone(), shared, severity)
        };
        let read = self.read_truth(&that, Some(own));
        if basis.is_none() {
            let help =
                "say where the limit comes from: `basis:` with a key of the recipe's `basis`";
            self.findings.push(that.finding(
                Code::MissingBasis,
                "a criterion without a basis",
                help,
            ));
        }
        let read = read?;
        if self.is_constant(&read) {
            let help = "let it depend on the step's value or on an earlier one";
            self.findings.push(that.finding(
                Code::ConstantCriterion,
                "no reading can influence this criterion",
                help,
            ));
        }
        self.check_limits(&that, &read);
        Some(Criterion {
            that: Some(read),
            basis,
            severity,
        })
    }

    /// Where the decision counts the uncertainty, limits must be read off the criterion.
    fn check_limits(&mut self, at: &At<'_>, read: &Read) {
        let decision = self.decision.unwrap_or(Decision::Simple);
        if decision == Decision::Simple || draws_limits(&read.expression.root) {
            return;
        }
        let message = format!(
            "`{}` needs limits, and none can be read off this criterion",
            decision.word()
        );
        let help = "write comparisons, `within` or `between`, joined by `&&`; split the rest off";
        self.findings
            .push(at.finding(Code::NoLimits, message, help));
    }

    fn known_basis(&mut self, at: &At<'_>) {
        let Some(key) = at.text().filter(|key| !self.basis.contains_key(key)) else {
            return;
        };
        let help = match nearest(&key, self.basis.keys().map(String::as_str)) {
            Some(near) => format!("the nearest declared one is `{near}`"),
            None => format!("declare it above: `basis: {{{key}: …}}`"),
        };
        self.findings.push(at.finding(
            Code::UnknownBasis,
            format!("the recipe declares no basis `{key}`"),
            help,
        ));
    }
}

/// The names that are compared with a quoted word for equality, with the word.
fn comparisons<'n>(node: &'n Node, found: &mut Vec<(usize, &'n str)>) {
    match node {
        Node::Binary(BinaryOperator::Equal | BinaryOperator::NotEqual, left, right) => {
            match (&**left, &**right) {
                (Node::Name(name), Node::Text(word)) | (Node::Text(word), Node::Name(name)) => {
                    found.push((*name, word));
                }
                _ => [left, right]
                    .into_iter()
                    .for_each(|n| comparisons(n, found)),
            }
        }
        Node::Binary(_, left, right) => {
            [left, right]
                .into_iter()
                .for_each(|n| comparisons(n, found));
        }
        Node::Not(inner) => comparisons(inner, found),
        Node::Call(_, arguments) => arguments.iter().for_each(|n| comparisons(n, found)),
        _ => {}
    }
}

/// The words of a text that can be names.
pub(super) fn words(text: &str) -> impl Iterator<Item = &str> {
    let inside = |c: char| c.is_ascii_alphanumeric() || matches!(c, '_' | '.');
    text.split(move |c| !inside(c))
        .filter(|w| w.starts_with(|c: char| c.is_ascii_alphabetic()))
}
