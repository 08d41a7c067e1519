//! Expressions in words: a comparison of a step with a value, by the step's title.
//!
//! Never in here: limits (see `show`). Changes when another form of expression can be said.

use crate::plan::{BinaryOperator, Bound, Node, Plan, Slot, Value};

/// What an expression is said of: the plan, the names in it, and the step that it stands at.
#[derive(Clone, Copy)]
struct Spoken<'a> {
    plan: &'a Plan,
    bound: &'a Bound,
    own: usize,
}

/// An expression at a step in words; nothing where it is more than comparisons of steps with values, joined by `and`.
pub(super) fn in_words(plan: &Plan, bound: &Bound, own: usize) -> Option<String> {
    truth(Spoken { plan, bound, own }, &bound.expression.root)
}

fn truth(of: Spoken<'_>, node: &Node) -> Option<String> {
    match node {
        Node::Name(_) => Some(format!("{} is yes", step(of, node)?)),
        Node::Not(inner) => match **inner {
            Node::Name(_) => Some(format!("{} is no", step(of, inner)?)),
            _ => None,
        },
        Node::Binary(BinaryOperator::And, a, b) => {
            let (a, b) = (truth(of, a)?, truth(of, b)?);
            Some(format!("{a} and {b}"))
        }
        Node::Binary(operator, a, b) => {
            let is = is(*operator)?;
            Some(format!("{} {is} {}", step(of, a)?, value(of.bound, b)?))
        }
        _ => None,
    }
}

fn is(operator: BinaryOperator) -> Option<&'static str> {
    Some(match operator {
        BinaryOperator::Equal => "is",
        BinaryOperator::NotEqual => "is not",
        BinaryOperator::Less => "is below",
        BinaryOperator::LessOrEqual => "is at most",
        BinaryOperator::Greater => "is above",
        BinaryOperator::GreaterOrEqual => "is at least",
        _ => return None,
    })
}

/// The step that a name stands for: its title, or its number where it has none.
fn step(of: Spoken<'_>, node: &Node) -> Option<String> {
    let Node::Name(n) = node else { return None };
    let Slot::Item(index) = of.bound.slots.get(*n)? else {
        return None;
    };
    if *index == of.own {
        return Some("it".to_owned());
    }
    let item = of.plan.items.get(*index)?;
    Some(match &item.title {
        Some(title) => format!("\"{title}\""),
        None => format!("step {}", item.number),
    })
}

/// What a step is compared with.
fn value(bound: &Bound, node: &Node) -> Option<String> {
    match node {
        Node::Text(text) => Some(format!("\"{text}\"")),
        Node::Quantity(quantity) => Some(quantity.shown()),
        Node::Truth(true) => Some("yes".to_owned()),
        Node::Truth(false) => Some("no".to_owned()),
        Node::Name(n) => match bound.slots.get(*n)? {
            Slot::Constant(Value::Text(text)) => Some(format!("\"{text}\"")),
            Slot::Constant(Value::Quantity(quantity)) => Some(quantity.shown()),
            Slot::Device(field) => Some(format!("the {} in the register", field.word())),
            _ => None,
        },
        _ => None,
    }
}
