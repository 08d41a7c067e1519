//! Operators: what kinds of quantity they take and what they give.
//!
//! Never in here: functions (see `call`). Changes when an operator is added.

use evalexpr::{Node as Tree, Operator};

use crate::plan::{BinaryOperator, Node, Type};
use crate::quantity::{Kind, KindError};
use crate::text::Code;

use super::lower::{Lowering, Part, Shape, quantity_of};

impl Lowering<'_> {
    pub(super) fn unary(&mut self, tree: &Tree, depth: usize) -> Part {
        let [operand] = tree.children() else {
            return self.error(
                Code::ExpressionSyntax,
                (0, self.text.len()),
                "an operator without a value",
                "write the value",
            );
        };
        let part = self.tree(operand, depth + 1);
        if matches!(tree.operator(), Operator::Not) {
            let part = self.truth(part);
            return Part {
                node: Node::Not(Box::new(part.node)),
                ..part
            };
        }
        let part = self.quantity(part);
        if let Some((kind, _)) = quantity_of(&part.shape)
            && kind.scale == crate::quantity::Scale::Point
        {
            return self.error(
                Code::KindMismatch,
                (part.start, part.end),
                KindError::PointArithmetic.to_string(),
                "put the sign inside the quotes: `\"-5 degC\"`",
            );
        }
        Part {
            node: Node::Negate(Box::new(part.node)),
            ..part
        }
    }

    pub(super) fn power(&mut self, children: &[Tree], depth: usize) -> Part {
        let [base, exponent] = children else {
            return self.error(
                Code::ExpressionSyntax,
                (0, self.text.len()),
                "`^` without a value on both sides",
                "write `x^2`",
            );
        };
        let base = self.tree(base, depth + 1);
        let base = self.quantity(base);
        let exponent = self.tree(exponent, depth + 1);
        let (start, end) = (base.start, exponent.end);
        let n = match &exponent.node {
            Node::Quantity(q) => q.si().to_exact().to_i64(),
            Node::Negate(inner) => match &**inner {
                Node::Quantity(q) => q.si().to_exact().to_i64().map(|n| -n),
                _ => None,
            },
            _ => None,
        };
        let Some(n) = n
            .and_then(|n| i8::try_from(n).ok())
            .filter(|n| n.abs() <= 64)
        else {
            return self.error(
                Code::WrongArguments,
                (exponent.start, exponent.end),
                "the exponent is not a whole number up to 64",
                "write a whole number behind `^`, or use `sqrt`",
            );
        };
        let Some((kind, exact)) = quantity_of(&base.shape) else {
            return base;
        };
        if kind.scale == crate::quantity::Scale::Point {
            return self.error(
                Code::KindMismatch,
                (start, end),
                KindError::PointArithmetic.to_string(),
                "subtract another temperature first",
            );
        }
        let Some(dimension) = kind.dimension.power(n) else {
            return self.error(
                Code::KindMismatch,
                (start, end),
                KindError::TooLarge.to_string(),
                "use a smaller exponent",
            );
        };
        let shape = Shape::Known(Type::Quantity {
            kind: Kind::of(dimension),
            exact,
        });
        Part {
            node: Node::Power(Box::new(base.node), n),
            shape,
            start,
            end,
        }
    }

    pub(super) fn binary(&mut self, op: BinaryOperator, children: &[Tree], depth: usize) -> Part {
        let [left, right] = children else {
            return self.error(
                Code::ExpressionSyntax,
                (0, self.text.len()),
                "an operator without a value on both sides",
                "write the missing value",
            );
        };
        let chain = comparison(op)
            && [left, right]
                .into_iter()
                .any(|c| binary(c.operator()).is_some_and(comparison));
        let before = self.errors.len();
        let (left, right) = (self.tree(left, depth + 1), self.tree(right, depth + 1));
        let place = (left.start, right.end.max(left.end));
        if chain {
            // What is wrong inside follows from the chain.
            self.errors.truncate(before);
            return self.error(
                Code::ComparisonChain,
                place,
                "a chain of comparisons",
                "write `between(x, low, high)`, or join two comparisons with `&&`",
            );
        }
        if matches!(op, BinaryOperator::And | BinaryOperator::Or) {
            let (left, right) = (self.truth(left), self.truth(right));
            return joined(op, left, right, Some(Type::Truth), place);
        }
        let (left, right) = self.settle_pair(left, right);
        if matches!(op, BinaryOperator::Equal | BinaryOperator::NotEqual) {
            return self.equality(op, left, right, place);
        }
        let (left, right) = (self.quantity(left), self.quantity(right));
        let (Some((a, x)), Some((b, y))) = (quantity_of(&left.shape), quantity_of(&right.shape))
        else {
            return joined(op, left, right, None, place);
        };
        let kind = match op {
            BinaryOperator::Add => a.sum(b),
            BinaryOperator::Subtract => a.difference(b),
            BinaryOperator::Multiply => a.product(b),
            BinaryOperator::Divide => a.quotient(b),
            _ => a.comparable(b),
        };
        let kind = match kind {
            Ok(kind) => kind,
            Err(error) => return self.kind_error(&error, place),
        };
        if op == BinaryOperator::Divide
            && (matches!(&right.node, Node::Quantity(q) if q.si().to_exact().is_zero())
                || self.is_zero(&right.node))
        {
            return self.error(
                Code::DividedByZero,
                (right.start, right.end),
                "this divides by zero",
                "mend the numbers or settings that the divisor is made of",
            );
        }
        let result = if comparison(op) {
            Type::Truth
        } else {
            Type::Quantity {
                kind,
                exact: x && y,
            }
        };
        joined(op, left, right, Some(result), place)
    }

    fn equality(
        &mut self,
        op: BinaryOperator,
        left: Part,
        right: Part,
        place: (usize, usize),
    ) -> Part {
        let (Shape::Known(a), Shape::Known(b)) = (&left.shape, &right.shape) else {
            return joined(op, left, right, None, place);
        };
        match (a, b) {
            (Type::Quantity { kind: x, exact: p }, Type::Quantity { kind: y, exact: q }) => {
                if let Err(error) = x.comparable(*y) {
                    return self.kind_error(&error, place);
                }
                if !(p & q) {
                    return self.error(
                        Code::InexactEquality,
                        place,
                        "equality of numbers that are not exact",
                        "write `within(x, nominal, tolerance)`",
                    );
                }
            }
            (Type::List(_), _) | (_, Type::List(_)) => {
                return self.error(
                    Code::ListForValue,
                    place,
                    format!("{a} compared with {b}"),
                    "take one value of the list: `first`, `last`, `nth`, `mean`, `max`",
                );
            }
            _ if a != b => {
                return self.error(
                    Code::TypeMismatch,
                    place,
                    format!("{a} compared with {b}"),
                    "compare values of one sort",
                );
            }
            _ => {}
        }
        joined(op, left, right, Some(Type::Truth), place)
    }
}

fn joined(
    op: BinaryOperator,
    left: Part,
    right: Part,
    result: Option<Type>,
    (start, end): (usize, usize),
) -> Part {
    let reported = matches!(left.shape, Shape::Reported) || matches!(right.shape, Shape::Reported);
    let shape = match result {
        Some(result) if !reported => Shape::Known(result),
        _ => Shape::Reported,
    };
    Part {
        node: Node::Binary(op, Box::new(left.node), Box::new(right.node)),
        shape,
        start,
        end,
    }
}

fn comparison(op: BinaryOperator) -> bool {
    use BinaryOperator as B;
    matches!(
        op,
        B::Less | B::LessOrEqual | B::Greater | B::GreaterOrEqual | B::Equal | B::NotEqual
    )
}

/// The operator with two sides that stands in evalexpr's tree.
pub(super) fn binary(operator: &Operator) -> Option<BinaryOperator> {
    use BinaryOperator as B;
    Some(match operator {
        Operator::Add => B::Add,
        Operator::Sub => B::Subtract,
        Operator::Mul => B::Multiply,
        Operator::Div => B::Divide,
        Operator::Lt => B::Less,
        Operator::Leq => B::LessOrEqual,
        Operator::Gt => B::Greater,
        Operator::Geq => B::GreaterOrEqual,
        Operator::Eq => B::Equal,
        Operator::Neq => B::NotEqual,
        Operator::And => B::And,
        Operator::Or => B::Or,
        _ => return None,
    })
}
