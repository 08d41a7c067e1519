//! Comparisons that rest on inexact numbers too near to each other to be told apart.
//!
//! Never in here: measurement uncertainty. Changes when another function compares.

use crate::quantity::Quantity;

use super::{BinaryOperator, Function, Node, Scope, Value, evaluate_node};

/// Whether a part of an expression compares an inexact value with one that lies within its numerical error.
#[must_use]
pub fn is_close(node: &Node, scope: &dyn Scope) -> bool {
    let inner = |nodes: &[Node]| nodes.iter().any(|n| is_close(n, scope));
    match node {
        Node::Binary(op, left, right) => {
            let compares = matches!(
                op,
                BinaryOperator::Less
                    | BinaryOperator::LessOrEqual
                    | BinaryOperator::Greater
                    | BinaryOperator::GreaterOrEqual
            );
            (compares && near(left, right, scope))
                || is_close(left, scope)
                || is_close(right, scope)
        }
        Node::Call(Function::Between, parts) => {
            near(&parts[0], &parts[1], scope) || near(&parts[0], &parts[2], scope) || inner(parts)
        }
        Node::Call(Function::Within, parts) => near_tolerance(parts, scope) || inner(parts),
        Node::Call(_, parts) | Node::List(parts) => inner(parts),
        Node::Negate(of) | Node::Not(of) | Node::Power(of, _) => is_close(of, scope),
        Node::Quantity(_) | Node::Text(_) | Node::Truth(_) | Node::Name(_) => false,
    }
}

fn quantity(node: &Node, scope: &dyn Scope) -> Option<Quantity> {
    match evaluate_node(node, scope) {
        Ok(Value::Quantity(q)) => Some(q),
        _ => None,
    }
}

fn near(a: &Node, b: &Node, scope: &dyn Scope) -> bool {
    let both = quantity(a, scope).zip(quantity(b, scope));
    both.is_some_and(|(a, b)| a.si().is_near(b.si()))
}

/// Whether the deviation lies on the tolerance, as near as it can be told.
fn near_tolerance(parts: &[Node], scope: &dyn Scope) -> bool {
    let close = || {
        let [x, nominal, tolerance] = [0, 1, 2].map(|at| quantity(&parts[at], scope));
        let (x, nominal, tolerance) = (x?, nominal?, tolerance?);
        let limit = super::evaluate::limit_of(&nominal, &tolerance)?;
        let off = x.si().sub(nominal.si())?.abs();
        Some(off.is_near(&limit))
    };
    close().unwrap_or(false)
}
