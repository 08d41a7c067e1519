//! The limits that an expression draws, and how far inside them a value lies.
//!
//! Never in here: verdicts. Changes when another form of expression draws a limit.

use crate::maths::Linear;
use crate::plan::{
    BinaryOperator, Distances, Expression, Function, Node, Scope, Target, Tolerated, Trials,
    Uncertainty, Value, behind, conformance, distances, evaluate_node, is_first_order_enough,
    is_relative, propagate,
};
use crate::quantity::{Exact, Quantity};

use super::decide::{Guard, Margin, Side, is_inside};

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
    /// That of the distance to the limit, which decides.
    pub distance: Distance,
    /// Whether errors act on what the value was computed from, even if nothing is left of them in it.
    pub is_acted_upon: bool,
    /// The probability that the true value is inside, where there is an uncertainty.
    pub conformance: Option<f64>,
}

/// What is known of the distance of a value to the nearer of its limits: errors that both share cancel in it, those of a
/// limit that was read itself add.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Distance {
    /// To first order; nothing where no error is left in it.
    pub uncertainty: Option<Uncertainty>,
    /// What drawing errors for it gave, where first order is not enough and the decision rests on that.
    pub drawn: Option<Trials>,
}

/// A limit with how far inside its ends the value lies.
pub(super) struct Drawn<'n> {
    /// What is held against the limit.
    pub node: &'n Node,
    pub limit: Limit,
    /// One for each end, where the value is known.
    pub margins: Vec<Margin>,
    /// The distances that the margins are about.
    targets: Vec<Target<'n>>,
}

impl Drawn<'_> {
    /// Draws errors for the distances where first order is not enough for them, as what is decided by then. Whether they were
    /// drawn and do not agree with it.
    ///
    /// # Errors
    /// Why they can't be drawn.
    pub fn draw(&mut self, scope: &dyn Scope) -> Result<bool, &'static str> {
        let strict = self.limit.strict;
        let margins = &self.margins;
        let inside = |numbers: &[f64]| {
            let ends = numbers.iter().zip(margins);
            ends.into_iter()
                .all(|(distance, m)| is_inside(*distance, m.magnitude, strict))
        };
        let (each, share) = match distances(&self.targets, scope, &inside) {
            Distances::FirstOrder => return Ok(false),
            Distances::Refused(why) => return Err(why),
            Distances::Drawn { each, inside } => (each, inside),
        };
        for (margin, trials) in self.margins.iter_mut().zip(&each) {
            margin.guard = Guard::drawn(&margin.inside, trials);
        }
        let nearest = nearest(&self.margins);
        self.limit.distance.drawn = nearest.and_then(|at| each.get(at)).copied();
        self.limit.conformance = Some(share);
        Ok(each.iter().any(|trials| !trials.agrees))
    }

    /// Whether first order is enough for the distances.
    pub fn is_first_order_enough(&self, scope: &dyn Scope) -> bool {
        is_first_order_enough(&self.targets, scope)
    }
}

/// The margin of the end that a value is nearest to, or farthest outside of.
fn nearest(margins: &[Margin]) -> Option<usize> {
    let all = margins.iter().enumerate();
    all.min_by(|(_, a), (_, b)| a.inside.cmp(&b.inside))
        .map(|(at, _)| at)
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
            let held = &parts[0];
            let low = End::low(held, &parts[1], scope);
            let high = End::high(held, &parts[2], scope);
            let ends: Vec<End<'_>> = low.into_iter().chain(high).collect();
            match ends.is_empty() {
                true => Vec::new(),
                false => vec![of(held).against(ends, false)],
            }
        }
        Node::Call(Function::Within, parts) => match End::around(parts, scope) {
            Some(ends) => vec![of(&parts[0]).against(ends, false)],
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
    // The limit is the side that can be told without a reading; with both known, the right one, unless an absolute value
    // is to be below the left one.
    let size_is_right = above && size_of(right).is_some() && size_of(left).is_none();
    let turned = (!reads(left) && reads(right)) || size_is_right;
    let (of, limit) = if turned { (right, left) } else { (left, right) };
    let is_upper = (below || above) && below != turned;
    if let Some(ends) = size_of(of).filter(|_| is_upper) {
        return between_signs(ends, limit, strict, names, scope);
    }
    let low = || End::low(of, limit, scope);
    let high = || End::high(of, limit, scope);
    let ends: Vec<End<'_>> = match (below || above, below != turned) {
        (false, _) => low().into_iter().chain(high()).collect(),
        (true, true) => high().into_iter().collect(),
        (true, false) => low().into_iter().collect(),
    };
    if ends.is_empty() {
        return Vec::new();
    }
    vec![Held::new(of, names, scope).against(ends, strict)]
}

/// What an absolute value is taken of.
fn size_of(node: &Node) -> Option<&Node> {
    match node {
        Node::Call(Function::Abs, parts) => parts.first(),
        _ => None,
    }
}

/// The limits of `abs(e) <= L`: −L and L, of e itself.
fn between_signs<'n>(
    of: &'n Node,
    limit: &'n Node,
    strict: bool,
    names: &[String],
    scope: &dyn Scope,
) -> Vec<Drawn<'n>> {
    let low = End::turned(of, limit, scope);
    match low.zip(End::high(of, limit, scope)) {
        Some((low, high)) => vec![Held::new(of, names, scope).against(vec![low, high], strict)],
        None => Vec::new(),
    }
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

/// An end of what is allowed, and the distance of what is held to it.
struct End<'n> {
    side: Side,
    at: Quantity,
    target: Target<'n>,
}

impl<'n> End<'n> {
    fn low(of: &'n Node, limit: &'n Node, scope: &dyn Scope) -> Option<Self> {
        Some(Self {
            side: Side::Low,
            at: quantity(limit, scope)?,
            target: Target::Difference(of, limit),
        })
    }

    fn high(of: &'n Node, limit: &'n Node, scope: &dyn Scope) -> Option<Self> {
        Some(Self {
            side: Side::High,
            at: quantity(limit, scope)?,
            target: Target::Difference(limit, of),
        })
    }

    /// A lower end that is an upper one with its sign turned.
    fn turned(of: &'n Node, limit: &'n Node, scope: &dyn Scope) -> Option<Self> {
        let high = quantity(limit, scope)?;
        Some(Self {
            side: Side::Low,
            at: Quantity::from_si(high.si().neg(), high.unit().clone()),
            target: Target::Sum(of, limit),
        })
    }

    /// The ends of nominal ± tolerance, by the rule of `within`.
    fn around(parts: &'n [Node], scope: &dyn Scope) -> Option<Vec<Self>> {
        let (nominal, tolerance) = (quantity(&parts[1], scope)?, quantity(&parts[2], scope)?);
        let (low, high) = around(&nominal, &tolerance)?;
        let end = |side: Side, at: Quantity| Self {
            side,
            at,
            target: Target::Inside(Tolerated {
                of: &parts[0],
                nominal: &parts[1],
                tolerance: &parts[2],
                relative: is_relative(&nominal, &tolerance),
                high: side == Side::High,
            }),
        };
        Some(vec![end(Side::Low, low), end(Side::High, high)])
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

    fn against(self, ends: Vec<End<'n>>, strict: bool) -> Drawn<'n> {
        let uncertainty = self.number.as_ref().and_then(|n| self.uncertainty(n));
        let told: Vec<(Margin, Option<Uncertainty>)> = ends
            .iter()
            .filter_map(|end| self.margin(end, strict))
            .collect();
        let (margins, of_distances): (Vec<Margin>, Vec<Option<Uncertainty>>) =
            told.into_iter().unzip();
        let nearest = nearest(&margins).and_then(|at| of_distances[at]);
        let known = uncertainty.is_some() || of_distances.iter().any(Option::is_some);
        let probability = self.value.as_ref().filter(|_| known);
        let probability = probability.and_then(|x| inside(x, &ends, &of_distances));
        let targets = ends.iter().map(|e| e.target).collect();
        let at = |side: Side| {
            let end = ends.iter().find(|e| e.side == side);
            alike(end.map(|e| e.at.clone()), self.value.as_ref())
        };
        let limit = Limit {
            low: at(Side::Low),
            high: at(Side::High),
            strict,
            uncertainty,
            distance: Distance {
                uncertainty: nearest,
                drawn: None,
            },
            is_acted_upon: uncertainty.is_some() || behind(self.node, self.scope).acted_upon,
            conformance: probability,
            of: self.of,
            value: self.value,
            number: self.number,
        };
        Drawn {
            node: self.node,
            limit,
            margins,
            targets,
        }
    }

    /// How far the value lies inside an end, with the uncertainty of that; nothing where the value is not known.
    fn margin(&self, end: &End<'_>, strict: bool) -> Option<(Margin, Option<Uncertainty>)> {
        let (value, number) = (self.value.as_ref()?, self.number.as_ref()?);
        let si = |q: &Quantity| q.si().to_exact();
        let inside: Exact = match end.side {
            Side::Low => si(value) - si(&end.at),
            Side::High => si(&end.at) - si(value),
        };
        let distance = end.target.first_order_with(self.node, number, self.scope);
        let uncertainty = self.uncertainty(distance.as_ref().unwrap_or(number));
        let size = |q: &Quantity| q.si().to_f64().abs();
        let margin = Margin {
            of: self.of.clone(),
            side: end.side,
            inside,
            guard: Guard::first_order(uncertainty.as_ref()),
            magnitude: size(value).max(size(&end.at)),
            strict,
        };
        Some((margin, uncertainty))
    }

    fn uncertainty(&self, number: &Linear) -> Option<Uncertainty> {
        let (sources, _) = self.scope.sources()?;
        sources.borrow().uncertainty(number)
    }
}

/// The probability that the true value is inside all ends: what is outside of one is outside of no other.
fn inside(x: &Quantity, ends: &[End<'_>], of_distances: &[Option<Uncertainty>]) -> Option<f64> {
    let mut outside = 0.0;
    for (end, uncertainty) in ends.iter().zip(of_distances) {
        let (low, high) = match end.side {
            Side::Low => (Some(&end.at), None),
            Side::High => (None, Some(&end.at)),
        };
        outside += 1.0 - conformance(x, low, high, uncertainty.as_ref()).ok()?;
    }
    Some((1.0 - outside).max(0.0))
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
