//! The limits that an expression draws, and how far inside them a value lies.
//!
//! Never in here: verdicts. Changes when another form of expression draws a limit.

use crate::maths::{Linear, Scalar};
use crate::plan::{
    BinaryOperator, Expression, Function, Node, Scope, Uncertainty, Value, conformance,
    evaluate_node, is_relative, propagate,
};
use crate::quantity::{Exact, Quantity};

use super::decide::Margin;

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
    /// The value with its sensitivities.
    pub number: Option<Linear>,
    /// The uncertainty of the value, where a source of error acts on it.
    pub uncertainty: Option<Uncertainty>,
    /// The probability that the true value is inside, where there is an uncertainty.
    pub conformance: Option<f64>,
}

/// A limit with how far inside its ends the value lies.
pub(super) struct Drawn<'n> {
    /// What is held against the limit.
    pub node: &'n Node,
    pub limit: Limit,
    pub margins: Vec<Margin>,
}

/// The limits that an expression draws: comparisons, `within`, `between`, joined by `&&`.
#[must_use]
pub fn limits(expression: &Expression, scope: &dyn Scope) -> Vec<Limit> {
    let drawn = drawn(&expression.root, &expression.names, scope);
    drawn.into_iter().map(|d| d.limit).collect()
}

/// The limits of an expression, and the parts of it that draw none, as written.
pub(super) fn limits_and_rest(
    expression: &Expression,
    scope: &dyn Scope,
) -> (Vec<Limit>, Vec<String>) {
    let (mut all, mut rest) = (Vec::new(), Vec::new());
    let mut parts = vec![&expression.root];
    while let Some(part) = parts.pop() {
        if let Node::Binary(BinaryOperator::And, left, right) = part {
            parts.extend([&**right, &**left]);
            continue;
        }
        match drawn(part, &expression.names, scope) {
            of_part if of_part.is_empty() => rest.push(part.written(&expression.names)),
            of_part => all.extend(of_part.into_iter().map(|d| d.limit)),
        }
    }
    (all, rest)
}

pub(super) fn drawn<'n>(node: &'n Node, names: &[String], scope: &dyn Scope) -> Vec<Drawn<'n>> {
    let of = |of: &'n Node| Held::new(of, names, scope);
    match node {
        Node::Binary(BinaryOperator::And, left, right) => {
            let mut both = drawn(left, names, scope);
            both.extend(drawn(right, names, scope));
            both
        }
        Node::Binary(op, left, right) => compared(*op, left, right, names, scope),
        Node::Call(Function::Between, parts) => {
            let ends = [End::at(&parts[1], scope), End::at(&parts[2], scope)];
            match ends {
                [None, None] => Vec::new(),
                [low, high] => vec![of(&parts[0]).against(low, high, false)],
            }
        }
        Node::Call(Function::Within, parts) => match End::around(&parts[1], &parts[2], scope) {
            Some((low, high)) => vec![of(&parts[0]).against(Some(low), Some(high), false)],
            None => Vec::new(),
        },
        _ => Vec::new(),
    }
}

fn compared<'n>(
    op: BinaryOperator,
    left: &'n Node,
    right: &'n Node,
    names: &[String],
    scope: &dyn Scope,
) -> Vec<Drawn<'n>> {
    use BinaryOperator as Op;
    let below = matches!(op, Op::Less | Op::LessOrEqual);
    let above = matches!(op, Op::Greater | Op::GreaterOrEqual);
    if !(below || above || op == Op::Equal) {
        return Vec::new();
    }
    let strict = matches!(op, Op::Less | Op::Greater);
    // The limit is the side that can be told without a reading; with both known, the right one.
    let turned = !reads(left) && reads(right);
    let (of, limit) = if turned { (right, left) } else { (left, right) };
    let Some(end) = End::at(limit, scope) else {
        return Vec::new();
    };
    let held = Held::new(of, names, scope);
    vec![match (below || above, below != turned) {
        (false, _) => held.against(Some(end.clone()), Some(end), false),
        (true, true) => held.against(None, Some(end), strict),
        (true, false) => held.against(Some(end), None, strict),
    }]
}

fn quantity(node: &Node, scope: &dyn Scope) -> Option<Quantity> {
    match evaluate_node(node, scope) {
        Ok(Value::Quantity(q)) => Some(q),
        _ => None,
    }
}

fn number(node: &Node, scope: &dyn Scope) -> Option<Linear> {
    propagate(node, scope).ok()?.as_number().cloned()
}

/// An end of what is allowed.
#[derive(Clone)]
struct End {
    at: Quantity,
    number: Linear,
}

impl End {
    fn at(node: &Node, scope: &dyn Scope) -> Option<Self> {
        let at = quantity(node, scope)?;
        let known = || Linear::constant(at.si().to_f64());
        let number = number(node, scope).unwrap_or_else(known);
        Some(Self { at, number })
    }

    /// The ends of nominal ± tolerance, by the rule of `within`.
    fn around(nominal: &Node, tolerance: &Node, scope: &dyn Scope) -> Option<(Self, Self)> {
        let (n, t) = (Self::at(nominal, scope)?, Self::at(tolerance, scope)?);
        let (low, high) = around(&n.at, &t.at)?;
        let half = if is_relative(&n.at, &t.at) {
            n.number.abs() * t.number
        } else {
            t.number
        };
        let end = |at, number| Self { at, number };
        Some((
            end(low, n.number.clone() - half.clone()),
            end(high, n.number + half),
        ))
    }
}

/// What is held against limits.
struct Held<'n, 'a> {
    node: &'n Node,
    of: String,
    value: Option<Quantity>,
    number: Option<Linear>,
    scope: &'a dyn Scope,
}

impl<'n, 'a> Held<'n, 'a> {
    fn new(of: &'n Node, names: &[String], scope: &'a dyn Scope) -> Self {
        Self {
            node: of,
            of: of.written(names),
            value: quantity(of, scope),
            number: number(of, scope),
            scope,
        }
    }

    fn against(self, low: Option<End>, high: Option<End>, strict: bool) -> Drawn<'n> {
        let uncertainty = self.number.as_ref().and_then(|n| self.uncertainty(n));
        let mut margins = Vec::new();
        if let (Some(value), Some(number)) = (&self.value, &self.number) {
            let si = |q: &Quantity| q.si().to_exact();
            let mut margin = |inside: Exact, number: Linear| {
                margins.push(Margin {
                    inside,
                    uncertainty: self.uncertainty(&number),
                    strict,
                });
            };
            if let Some(end) = &low {
                margin(si(value) - si(&end.at), number.clone() - end.number.clone());
            }
            if let Some(end) = &high {
                margin(si(&end.at) - si(value), end.number.clone() - number.clone());
            }
        }
        let [low, high] = [low, high].map(|end| alike(end.map(|e| e.at), self.value.as_ref()));
        // What counts is the distance to the limit: errors that both share cancel, those of the limit itself add.
        let standard = |u: &Uncertainty| u.standard_si;
        let of_distance = margins.iter().filter_map(|m| m.uncertainty);
        let widest = of_distance.max_by(|a, b| standard(a).total_cmp(&standard(b)));
        let known = uncertainty.is_some() || widest.is_some();
        let probability = self
            .value
            .as_ref()
            .filter(|_| known)
            .and_then(|x| conformance(x, low.as_ref(), high.as_ref(), widest.as_ref()).ok());
        let limit = Limit {
            of: self.of,
            value: self.value,
            low,
            high,
            strict,
            number: self.number,
            uncertainty,
            conformance: probability,
        };
        Drawn {
            node: self.node,
            limit,
            margins,
        }
    }

    fn uncertainty(&self, number: &Linear) -> Option<Uncertainty> {
        let (sources, _) = self.scope.sources()?;
        sources.borrow().uncertainty(number)
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
    let relative = is_relative(nominal, tolerance);
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
