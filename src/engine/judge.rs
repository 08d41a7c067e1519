//! Judging: a criterion against a value.
//!
//! Never in here: decision rules (see `decide`), limits (see `limits`). Changes when a verdict is added.

use crate::plan::{
    BinaryOperator, Criterion, Decision, EvaluationError, Node, Scope, evaluate_node, is_close,
    show_with_values,
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

/// Judges a criterion.
pub(super) fn judge(criterion: &Criterion, scope: &Values<'_>, decision: Decision) -> Judged {
    let Some(bound) = &criterion.that else {
        let yes = scope.own.and_then(|(v, _)| v.as_truth()) == Some(true);
        let (verdict, answer) = if yes {
            (Verdict::Pass, "yes")
        } else {
            (Verdict::Fail, "no")
        };
        return Judged {
            verdict,
            shown: format!("answered {answer}"),
            limits: Vec::new(),
            close: false,
        };
    };
    let expression = &bound.expression;
    let drawn = drawn(&expression.root, &expression.names, scope);
    let (verdict, shown) = match holds(&expression.root, scope) {
        Ok(Some(holds)) => verdict(holds, decision, &drawn, || {
            show_with_values(expression, scope)
        }),
        Ok(None) => {
            let why = evaluate_node(&expression.root, scope).err();
            let why = why.map(|e| e.to_string()).unwrap_or_default();
            (Verdict::NotApplicable, why)
        }
        Err(error) => (Verdict::NotJudged, error.to_string()),
    };
    Judged {
        verdict,
        shown,
        limits: drawn.into_iter().map(|d| d.limit).collect(),
        close: is_close(&expression.root, scope),
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

/// The verdict by the decision rule; `holds` is what the expression itself says.
fn verdict(
    holds: bool,
    decision: Decision,
    drawn: &[Drawn<'_>],
    shown: impl Fn() -> String,
) -> (Verdict, String) {
    let simple = if holds { Verdict::Pass } else { Verdict::Fail };
    if decision == Decision::Simple || drawn.is_empty() {
        return (simple, shown());
    }
    let pairs: Vec<Vec<Margin>> = drawn.iter().map(|d| d.margins.clone()).collect();
    let Some(verdict) = decide(decision, &pairs) else {
        let text = format!(
            "the uncertainty leaves no zone of acceptance between the limits: {}",
            shown()
        );
        return (Verdict::NotJudged, text);
    };
    // What draws no limit must hold all the same.
    let inside = drawn.iter().flat_map(|d| &d.margins).all(Margin::holds);
    if inside && !holds {
        return (Verdict::Fail, shown());
    }
    (verdict, shown())
}
