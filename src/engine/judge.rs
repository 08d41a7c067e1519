//! Judging: a criterion against a value.
//!
//! Never in here: decision rules (see `decide`), limits (see `limits`). Changes when a verdict is added.

use crate::plan::{
    BinaryOperator, Bound, Criterion, Decision, EvaluationError, Node, Scope, Value, evaluate_node,
    is_close, show_with_values,
};

use super::Limit;
use super::decide::{Margin, decide};
use super::limits::{Drawn, drawn};
use super::values::Values;

/// The verdict of a criterion.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[allow(missing_docs, reason = "the words of the language")]
pub enum Verdict {
    Pass,
    ConditionalPass,
    ConditionalFail,
    Fail,
    NotApplicable,
    NotJudged,
}

impl Verdict {
    /// The word that records use.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Pass => "pass",
            Self::ConditionalPass => "conditional pass",
            Self::ConditionalFail => "conditional fail",
            Self::Fail => "fail",
            Self::NotApplicable => "not applicable",
            Self::NotJudged => "not judged",
        }
    }

    /// Whether it stands against a pass: a fail, conditional or not.
    #[must_use]
    pub fn is_fail(self) -> bool {
        matches!(self, Self::Fail | Self::ConditionalFail)
    }
}

/// A criterion, judged.
#[derive(Clone, Debug)]
pub struct Judged {
    /// The verdict.
    pub verdict: Verdict,
    /// The expression with its values, or why it was not judged.
    pub shown: String,
    /// The limits.
    pub limits: Vec<Limit>,
    /// Whether it rests on an inexact number that lies within its numerical error of what it is compared with.
    pub close: bool,
}

/// Judges the criteria of a step with this value; `scope_of` says what the names of one stand for. They are judged
/// together, since the ends of what is allowed for one value may stand in two of them.
pub(super) fn judge<'a>(
    criteria: &'a [Criterion],
    own: Option<&Value>,
    scope_of: &dyn Fn(&'a Bound) -> Values<'a>,
    decision: Decision,
) -> Vec<Judged> {
    let weighed: Vec<Option<Weighed<'a>>> = criteria
        .iter()
        .map(|c| Some(Weighed::new(c.that.as_ref()?, scope_of, decision)))
        .collect();
    let margins = |w: &'_ Weighed<'a>| -> Vec<Margin> {
        w.drawn.iter().flat_map(|d| d.margins.clone()).collect()
    };
    let all: Vec<Vec<Margin>> = weighed
        .iter()
        .map(|w| w.as_ref().map(margins).unwrap_or_default())
        .collect();
    let judged = |(at, weighed): (usize, Option<Weighed<'a>>)| match weighed {
        Some(weighed) => {
            let others = all.iter().enumerate().filter(|(n, _)| *n != at);
            let others: Vec<&Margin> = others.flat_map(|(_, m)| m).collect();
            weighed.judged(decision, &all[at], &others)
        }
        None => answered(own),
    };
    weighed.into_iter().enumerate().map(judged).collect()
}

fn answered(own: Option<&Value>) -> Judged {
    let (verdict, answer) = match own.and_then(Value::as_truth) {
        Some(true) => (Verdict::Pass, "yes"),
        _ => (Verdict::Fail, "no"),
    };
    Judged {
        verdict,
        shown: format!("answered {answer}"),
        limits: Vec::new(),
        close: false,
    }
}

/// A criterion held against its value, not decided yet.
struct Weighed<'n> {
    /// What the expression itself says; nothing where nothing of it applies.
    holds: Result<Option<bool>, EvaluationError>,
    /// The expression with its values, or why it says nothing.
    shown: String,
    close: bool,
    drawn: Vec<Drawn<'n>>,
    /// Why errors can't be drawn where what is decided rests on that.
    undrawn: Option<&'static str>,
}

impl<'n> Weighed<'n> {
    fn new(
        bound: &'n Bound,
        scope_of: &dyn Fn(&'n Bound) -> Values<'n>,
        decision: Decision,
    ) -> Self {
        let (expression, scope) = (&bound.expression, scope_of(bound));
        let mut drawn = drawn(&expression.root, &expression.names, &scope);
        let holds = holds(&expression.root, &scope);
        let mut undrawn = None;
        if decision != Decision::Simple && matches!(holds, Ok(Some(_))) {
            for limit in &mut drawn {
                undrawn = undrawn.or(limit.draw(&scope).err());
            }
        }
        let shown = match &holds {
            Ok(Some(_)) => show_with_values(expression, &scope),
            Ok(None) => {
                let why = evaluate_node(&expression.root, &scope).err();
                why.map(|e| e.to_string()).unwrap_or_default()
            }
            Err(error) => error.to_string(),
        };
        Self {
            holds,
            shown,
            close: is_close(&expression.root, &scope),
            drawn,
            undrawn,
        }
    }

    fn judged(self, decision: Decision, own: &[Margin], others: &[&Margin]) -> Judged {
        let (verdict, shown) = match self.holds {
            Ok(Some(holds)) => self.verdict(holds, decision, own, others),
            Ok(None) => (Verdict::NotApplicable, self.shown),
            Err(_) => (Verdict::NotJudged, self.shown),
        };
        Judged {
            verdict,
            shown,
            limits: self.drawn.into_iter().map(|d| d.limit).collect(),
            close: self.close,
        }
    }

    /// The verdict by the decision rule; `holds` is what the expression itself says.
    fn verdict(
        &self,
        holds: bool,
        decision: Decision,
        own: &[Margin],
        others: &[&Margin],
    ) -> (Verdict, String) {
        let shown = || self.shown.clone();
        let simple = if holds { Verdict::Pass } else { Verdict::Fail };
        if decision == Decision::Simple || self.drawn.is_empty() {
            return (simple, shown());
        }
        // What draws no limit must hold all the same.
        if !holds && own.iter().all(Margin::holds) {
            return (Verdict::Fail, shown());
        }
        let why = match (self.undrawn, decide(decision, own, others)) {
            (Some(_), _) if !holds && decision == Decision::Guarded => {
                return (Verdict::Fail, shown());
            }
            (Some(why), _) => {
                format!("first order is not enough for its uncertainty, and {why}")
            }
            (None, Some(verdict)) => return (verdict, shown()),
            (None, None) => {
                "the uncertainty leaves no zone of acceptance between the limits".to_owned()
            }
        };
        (Verdict::NotJudged, format!("{why}: {}", self.shown))
    }
}

/// Whether a criterion holds. What rests on a value that is not applicable drops out of a conjunction; nothing where
/// nothing is left of it.
fn holds(node: &Node, scope: &dyn Scope) -> Result<Option<bool>, EvaluationError> {
    if let Node::Binary(BinaryOperator::And, left, right) = node {
        return Ok(match (holds(left, scope), holds(right, scope)) {
            (Ok(Some(false)), _) | (_, Ok(Some(false))) => Some(false),
            (left, right) => match (left?, right?) {
                (None, None) => None,
                _ => Some(true),
            },
        });
    }
    match evaluate_node(node, scope) {
        Ok(value) => Ok(Some(value.as_truth() == Some(true))),
        Err(error) if error.is_inapplicable() => Ok(None),
        Err(error) => Err(error),
    }
}
