//! Expressions that are a linear function of one reading: what they come to ahead of a run, but for that reading.
//!
//! Never in here: limits. Changes when another form leads straight to one reading.

use crate::plan::{BinaryOperator, Bound, Function, Node, Plan, Slot, Value, Verb, evaluate_node};
use crate::quantity::Exact;

use super::State;
use super::values::Values;

/// Most computed values between an expression and the reading.
const MAX_DEPTH: usize = 16;

/// `slope · reading + offset`, in SI units.
#[derive(Clone, Debug)]
pub(super) struct Affine {
    /// The step that the reading is of, as an index of the plan's items; nothing where none is read.
    reading: Option<usize>,
    /// What the reading is multiplied by.
    slope: Exact,
    /// What is added.
    offset: Exact,
}

impl Affine {
    fn known(offset: Exact) -> Self {
        Self {
            reading: None,
            slope: Exact::zero(),
            offset,
        }
    }

    fn plus(self, other: Self) -> Option<Self> {
        let reading = match (self.reading, other.reading) {
            (Some(a), Some(b)) if a != b => return None,
            (a, b) => a.or(b),
        };
        Some(Self {
            reading,
            slope: self.slope + other.slope,
            offset: self.offset + other.offset,
        })
    }

    fn times(self, factor: &Exact) -> Self {
        Self {
            reading: self.reading,
            slope: self.slope * factor.clone(),
            offset: self.offset * factor.clone(),
        }
    }

    fn over(self, divisor: &Exact) -> Option<Self> {
        Some(self.times(&Exact::one().checked_div(divisor)?))
    }

    fn negative(self) -> Self {
        self.times(&-Exact::one())
    }

    /// The step that the reading is of and what it is multiplied by; nothing where none is read, or nothing is left of it.
    pub fn reading(&self) -> Option<(usize, &Exact)> {
        let at = self.reading.filter(|_| !self.slope.is_zero())?;
        Some((at, &self.slope))
    }

    /// Whether it is the reading as it stands.
    pub fn is_bare(&self) -> bool {
        self.slope == Exact::one() && self.offset.is_zero()
    }

    /// The reading that gives this value, in SI.
    pub fn reading_at(&self, value: &Exact) -> Option<Exact> {
        (value.clone() - self.offset.clone()).checked_div(&self.slope)
    }
}

/// A part of an expression of a step as a linear function of one reading, if it is that.
pub(super) fn affine(
    node: &Node,
    bound: &Bound,
    at: (&Plan, &State),
    index: usize,
) -> Option<Affine> {
    Walk {
        bound,
        plan: at.0,
        state: at.1,
        index,
        depth: 0,
    }
    .of(node)
}

struct Walk<'a> {
    bound: &'a Bound,
    plan: &'a Plan,
    state: &'a State,
    index: usize,
    depth: usize,
}

impl Walk<'_> {
    fn of(&self, node: &Node) -> Option<Affine> {
        use BinaryOperator as Op;
        use Function as F;
        if let Some(known) = self.known(node) {
            return Some(Affine::known(known));
        }
        match node {
            Node::Name(name) => self.named(*name),
            Node::Negate(of) => Some(self.of(of)?.negative()),
            Node::Binary(Op::Add, a, b) => self.of(a)?.plus(self.of(b)?),
            Node::Binary(Op::Subtract, a, b) => self.of(a)?.plus(self.of(b)?.negative()),
            Node::Binary(Op::Multiply, a, b) => match self.known(a) {
                Some(factor) => Some(self.of(b)?.times(&factor)),
                None => Some(self.of(a)?.times(&self.known(b)?)),
            },
            Node::Binary(Op::Divide, a, b) => self.of(a)?.over(&self.known(b)?),
            Node::Call(F::Deviation, parts) => {
                let [x, nominal] = &parts[..] else {
                    return None;
                };
                let nominal = self.known(nominal)?;
                let off = self.of(x)?.plus(Affine::known(-nominal.clone()))?;
                off.over(&nominal)
            }
            Node::Call(F::Convert, parts) => self.of(parts.first()?),
            Node::Call(F::Mean | F::Min | F::Max | F::First | F::Last, parts) => match &parts[..] {
                [only] => self.of(only),
                _ => None,
            },
            _ => None,
        }
    }

    fn named(&self, name: usize) -> Option<Affine> {
        let Slot::Item(item) = *self.bound.slots.get(name)? else {
            return None;
        };
        let planned = self.plan.items.get(item)?;
        if let Verb::Compute { expression, .. } = &planned.verb {
            let inner = Walk {
                bound: expression,
                index: item,
                depth: self.depth + 1,
                ..*self
            };
            return (inner.depth < MAX_DEPTH)
                .then(|| inner.of(&expression.expression.root))
                .flatten();
        }
        planned.verb.role()?;
        Some(Affine {
            reading: Some(item),
            slope: Exact::one(),
            offset: Exact::zero(),
        })
    }

    /// What a part comes to before the run; nothing where it rests on a reading.
    fn known(&self, node: &Node) -> Option<Exact> {
        let scope = Values {
            bound: self.bound,
            plan: self.plan,
            state: self.state,
            index: self.index,
            own: None,
        };
        match evaluate_node(node, &scope) {
            Ok(Value::Quantity(q)) => Some(q.si().to_exact()),
            _ => None,
        }
    }
}
