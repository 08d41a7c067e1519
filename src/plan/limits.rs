//! Whether limits can be read off a criterion.
//!
//! Never in here: the limits themselves, which need values (see the engine). Changes when another form draws a limit.

use super::{BinaryOperator, Function, Node};

/// Whether all comparisons of quantities stand in a form that draws limits: alone, or joined by `&&`.
#[must_use]
pub fn draws_limits(node: &Node) -> bool {
    match node {
        Node::Binary(BinaryOperator::And, left, right) => draws_limits(left) && draws_limits(right),
        Node::Binary(BinaryOperator::NotEqual, left, right) => {
            !is_quantity(left) && !is_quantity(right)
        }
        Node::Binary(BinaryOperator::Or, _, _) | Node::Not(_) | Node::Call(Function::If, _) => {
            !compares(node)
        }
        _ => true,
    }
}

/// Whether a part is a quantity as it stands there.
fn is_quantity(node: &Node) -> bool {
    matches!(
        node,
        Node::Quantity(_) | Node::Negate(_) | Node::Power(..) | Node::Binary(..) | Node::Call(..)
    )
}

/// Whether quantities are compared anywhere in it.
fn compares(node: &Node) -> bool {
    use BinaryOperator as Op;
    match node {
        Node::Binary(Op::Less | Op::LessOrEqual | Op::Greater | Op::GreaterOrEqual, ..)
        | Node::Call(Function::Within | Function::Between, _) => true,
        Node::Binary(_, left, right) => compares(left) || compares(right),
        Node::Negate(of) | Node::Not(of) | Node::Power(of, _) => compares(of),
        Node::Call(_, parts) | Node::List(parts) => parts.iter().any(compares),
        Node::Quantity(_) | Node::Text(_) | Node::Truth(_) | Node::Name(_) => false,
    }
}
