//! Judging: a criterion against a value, and the limits that it draws.
//!
//! Never in here: uncertainty. Changes when a verdict or a decision rule is added.

use crate::plan::{
    BinaryOperator, Bound, Criterion, EvaluationError, Expression, Function, Node, Scope, Slot,
    Value, evaluate, evaluate_node, show_with_values,
};
use crate::quantity::{Exact, Kind, Quantity};

use super::{State, Status};

/// The verdict of a criterion.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[allow(missing_docs, reason = "the words of the language")]
pub enum Verdict {
    Pass,
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
            Self::Fail => "fail",
            Self::NotApplicable => "not applicable",
            Self::NotJudged => "not judged",
        }
    }
}

/// What a criterion allows; an end that is missing is open.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Limit {
    /// What is held against it, as the author wrote it: `mean(delivered)`.
    pub of: String,
    /// Its value, where it is known.
    pub value: Option<Quantity>,
    /// The lowest value.
    pub low: Option<Quantity>,
    /// The highest value.
    pub high: Option<Quantity>,
    /// Whether the ends themselves are outside (`<`, `>`).
    pub strict: bool,
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
}

/// The names of a bound expression, read from a state; `own` is the value of the item at hand.
pub(super) struct Values<'a> {
    pub bound: &'a Bound,
    pub state: &'a State,
    pub paths: &'a dyn Fn(usize) -> String,
    pub own: Option<(usize, &'a Value)>,
}

impl Values<'_> {
    fn item(&self, index: usize) -> Result<Value, EvaluationError> {
        if let Some((own, value)) = self.own
            && own == index
        {
            return Ok(value.clone());
        }
        let item = &self.state.items[index];
        let missing = |state| {
            Err(EvaluationError::Missing {
                state,
                path: (self.paths)(index),
            })
        };
        match &item.status {
            Status::Done => item
                .value()
                .cloned()
                .map_or_else(|| missing("without a value"), Ok),
            Status::Skipped(_) => missing("skipped"),
            Status::NotApplicable(_) => missing("not applicable"),
            Status::Undone(_) | Status::Pending => missing("not done"),
        }
    }
}

impl Scope for Values<'_> {
    fn value(&self, index: usize) -> Result<Value, EvaluationError> {
        match &self.bound.slots[index] {
            Slot::Constant(value) => Ok(value.clone()),
            Slot::Item(item) => self.item(*item),
            Slot::Items(items) => {
                // A row that did not apply keeps its place, empty; a row that is missing makes the list incomplete.
                let mut values = Vec::with_capacity(items.len());
                let mut inapplicable = None;
                for item in items {
                    match self.item(*item) {
                        Ok(value) => values.push(value),
                        Err(
                            error @ EvaluationError::Missing {
                                state: "not applicable",
                                ..
                            },
                        ) => {
                            values.push(Value::Absent((self.paths)(*item)));
                            inapplicable = Some(error);
                        }
                        Err(error) => return Err(error),
                    }
                }
                match inapplicable {
                    Some(error) if values.iter().all(|v| matches!(v, Value::Absent(_))) => {
                        Err(error)
                    }
                    _ => Ok(Value::List(values)),
                }
            }
        }
    }
}

/// Judges a criterion.
pub(super) fn judge(criterion: &Criterion, scope: &Values<'_>) -> Judged {
    let Some(bound) = &criterion.that else {
        let yes = scope.own.and_then(|(_, v)| v.as_truth()) == Some(true);
        let (verdict, answer) = if yes {
            (Verdict::Pass, "yes")
        } else {
            (Verdict::Fail, "no")
        };
        return Judged {
            verdict,
            shown: format!("answered {answer}"),
            limits: Vec::new(),
        };
    };
    let limits = limits(&bound.expression, scope);
    match evaluate(&bound.expression, scope) {
        Ok(value) => {
            let verdict = if value.as_truth() == Some(true) {
                Verdict::Pass
            } else {
                Verdict::Fail
            };
            Judged {
                verdict,
                shown: show_with_values(&bound.expression, scope),
                limits,
            }
        }
        Err(error) => {
            let inapplicable = matches!(
                error,
                EvaluationError::Missing {
                    state: "not applicable",
                    ..
                }
            );
            let verdict = if inapplicable {
                Verdict::NotApplicable
            } else {
                Verdict::NotJudged
            };
            Judged {
                verdict,
                shown: error.to_string(),
                limits,
            }
        }
    }
}

/// The limits that an expression draws: comparisons, `within`, `between`, joined by `&&`.
#[must_use]
pub fn limits(expression: &Expression, scope: &dyn Scope) -> Vec<Limit> {
    drawn(&expression.root, &expression.names, scope)
}

fn drawn(node: &Node, names: &[String], scope: &dyn Scope) -> Vec<Limit> {
    let value = |n: &Node| match evaluate_node(n, scope) {
        Ok(Value::Quantity(q)) => Some(q),
        _ => None,
    };
    let held = |of: &Node, low, high, strict| {
        let (value, text) = (value(of), of.written(names));
        vec![Limit {
            of: text,
            low: alike(low, value.as_ref()),
            high: alike(high, value.as_ref()),
            value,
            strict,
        }]
    };
    match node {
        Node::Binary(BinaryOperator::And, left, right) => {
            [drawn(left, names, scope), drawn(right, names, scope)].concat()
        }
        Node::Binary(op, left, right) => {
            // The limit is the side that can be told without a reading; with both known, the right one.
            let (of, limit, turned) = match (reads(left), reads(right)) {
                (false, true) => (right, value(left), true),
                _ => (left, value(right), false),
            };
            let below = matches!(op, BinaryOperator::Less | BinaryOperator::LessOrEqual);
            let above = matches!(op, BinaryOperator::Greater | BinaryOperator::GreaterOrEqual);
            let strict = matches!(op, BinaryOperator::Less | BinaryOperator::Greater);
            match limit {
                Some(limit) if below != turned && (below || above) => {
                    held(of, None, Some(limit), strict)
                }
                Some(limit) if below || above => held(of, Some(limit), None, strict),
                Some(limit) if *op == BinaryOperator::Equal => {
                    held(of, Some(limit.clone()), Some(limit), false)
                }
                _ => Vec::new(),
            }
        }
        Node::Call(Function::Between, parts) => match (value(&parts[1]), value(&parts[2])) {
            (None, None) => Vec::new(),
            (low, high) => held(&parts[0], low, high, false),
        },
        Node::Call(Function::Within, parts) => {
            let ends = value(&parts[1])
                .zip(value(&parts[2]))
                .and_then(|(n, t)| around(&n, &t));
            ends.map_or_else(Vec::new, |(low, high)| {
                held(&parts[0], Some(low), Some(high), false)
            })
        }
        _ => Vec::new(),
    }
}

/// A limit that is a bare ratio (`0.8`), in the unit of what is held against it (`80 %`).
fn alike(limit: Option<Quantity>, value: Option<&Quantity>) -> Option<Quantity> {
    match (limit, value) {
        (Some(limit), Some(value)) if limit.unit().text() == "1" => {
            Some(limit.convert(value.unit()).unwrap_or(limit))
        }
        (limit, _) => limit,
    }
}

/// Whether a part reads a name: what it gives is a reading rather than a limit.
fn reads(node: &Node) -> bool {
    match node {
        Node::Name(_) => true,
        Node::Negate(inner) | Node::Not(inner) | Node::Power(inner, _) => reads(inner),
        Node::Binary(_, left, right) => reads(left) || reads(right),
        Node::Call(_, parts) | Node::List(parts) => parts.iter().any(reads),
        Node::Quantity(_) | Node::Text(_) | Node::Truth(_) => false,
    }
}

/// The ends of nominal ± tolerance, by the rule of `within`.
fn around(nominal: &Quantity, tolerance: &Quantity) -> Option<(Quantity, Quantity)> {
    let bare = nominal.unit().text() == "1" && tolerance.unit().text() != "1";
    let relative = tolerance.kind() == Kind::RATIO && (nominal.kind() != Kind::RATIO || bare);
    let half = if relative {
        let one = Quantity::from(Exact::one());
        let magnitude = Quantity::from_si(nominal.si().abs(), nominal.unit().clone());
        magnitude.mul(&tolerance.convert(one.unit()).ok()?).ok()??
    } else {
        tolerance.clone()
    };
    let (low, high) = (nominal.sub(&half).ok()??, nominal.add(&half).ok()??);
    // 6 min ± 5 s is 355 s to 365 s, not 5.91667 min to 6.08333 min.
    let ends = |q: &Quantity| q.value().to_exact().decimal_places().is_some();
    let round = ends(&low) && ends(&high);
    if !relative && !round {
        return Some((
            low.convert(tolerance.unit()).ok()?,
            high.convert(tolerance.unit()).ok()?,
        ));
    }
    Some((low, high))
}
