//! Steps that are read more or less often than before, and what of their readings depends on how many there are.
//!
//! A mean and a spread tell of the same value however often it is read; a sum, the least, the greatest and the range do not.
//! Never in here: criteria. Changes when a function depends on how many values it is given.

use std::collections::BTreeSet;

use crate::plan::{Bound, Function, Node, Slot};

/// The items of both revisions that are read another number of times.
#[derive(Debug, Default)]
pub struct Repeated {
    pub old: BTreeSet<usize>,
    pub new: BTreeSet<usize>,
}

/// A call that depends on how many readings there are of one of these items, as it is written.
pub fn grown(bound: &Bound, of: &BTreeSet<usize>) -> Option<String> {
    match of.is_empty() {
        true => None,
        false => in_node(&bound.expression.root, bound, of),
    }
}

fn in_node(node: &Node, bound: &Bound, of: &BTreeSet<usize>) -> Option<String> {
    let inside = |node: &Node| in_node(node, bound, of);
    match node {
        Node::Call(function, parts) => {
            let own = name(*function).and_then(|call| match &parts[..] {
                [Node::Name(index)] => match &bound.slots[*index] {
                    Slot::Item(item) if of.contains(item) => {
                        Some(format!("{call}({})", bound.expression.names[*index]))
                    }
                    _ => None,
                },
                _ => None,
            });
            own.or_else(|| parts.iter().find_map(inside))
        }
        Node::Negate(a) | Node::Not(a) | Node::Power(a, _) => inside(a),
        Node::Binary(_, a, b) => inside(a).or_else(|| inside(b)),
        Node::List(parts) => parts.iter().find_map(inside),
        Node::Quantity(_) | Node::Text(_) | Node::Truth(_) | Node::Name(_) => None,
    }
}

fn name(function: Function) -> Option<&'static str> {
    match function {
        Function::Sum => Some("sum"),
        Function::Min => Some("min"),
        Function::Max => Some("max"),
        Function::Range => Some("range"),
        _ => None,
    }
}
