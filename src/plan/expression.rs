//! Typed expressions: what an author's text was lowered to.
//!
//! Never in here: text or its syntax, values of a run. Changes when the language gets an operator.

use std::fmt;

use crate::quantity::{Kind, Quantity};

use super::Function;

/// The type of an expression, known before a run.
#[derive(Clone, Debug, PartialEq)]
pub enum Type {
    /// A quantity of a kind; `exact` says whether its numbers are sure to be.
    Quantity {
        /// Its kind.
        kind: Kind,
        /// Whether it is exact.
        exact: bool,
    },
    /// A truth.
    Truth,
    /// A text.
    Text,
    /// Several values of one type.
    List(Box<Self>),
    /// A logged series: its columns with their kinds.
    Trace(Vec<(String, Kind)>),
    /// A column of a logged series.
    Series(Kind),
}

impl fmt::Display for Type {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Quantity { kind, .. } if *kind == Kind::RATIO => f.write_str("a number"),
            Self::Quantity { kind, .. } => write!(f, "a quantity of kind {kind}"),
            Self::Truth => f.write_str("a truth"),
            Self::Text => f.write_str("a text"),
            Self::Trace(_) => f.write_str("a logged series"),
            Self::Series(_) => f.write_str("a column of a logged series"),
            Self::List(inner) => match &**inner {
                Self::Quantity { kind, .. } if *kind == Kind::RATIO => {
                    f.write_str("a list of numbers")
                }
                Self::Quantity { kind, .. } => write!(f, "a list of quantities of kind {kind}"),
                Self::Truth => f.write_str("a list of truths"),
                Self::Text => f.write_str("a list of texts"),
                Self::List(_) => f.write_str("a list of lists"),
                Self::Trace(_) | Self::Series(_) => f.write_str("a list of logged series"),
            },
        }
    }
}

/// An operator between two operands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[allow(missing_docs, reason = "the variants are named after what they do")]
pub enum BinaryOperator {
    Add,
    Subtract,
    Multiply,
    Divide,
    Less,
    LessOrEqual,
    Greater,
    GreaterOrEqual,
    Equal,
    NotEqual,
    And,
    Or,
}

/// A node of the typed tree.
#[derive(Clone, Debug)]
pub enum Node {
    /// A number or a quoted quantity.
    Quantity(Quantity),
    /// A quoted text.
    Text(String),
    /// `true` or `false`.
    Truth(bool),
    /// The name at this index of [`Expression::names`].
    Name(usize),
    /// `-x`
    Negate(Box<Self>),
    /// `!x`
    Not(Box<Self>),
    /// `x ^ n` with a whole `n`.
    Power(Box<Self>, i8),
    /// Two operands.
    Binary(BinaryOperator, Box<Self>, Box<Self>),
    /// A call.
    Call(Function, Vec<Self>),
    /// A list written out.
    List(Vec<Self>),
}

/// A typed expression with the text it came from.
#[derive(Clone, Debug)]
pub struct Expression {
    /// The author's text.
    pub text: String,
    /// The tree.
    pub root: Node,
    /// The names it reads, each once.
    pub names: Vec<String>,
    /// What it gives.
    pub result: Type,
}

impl BinaryOperator {
    /// The sign that authors write.
    #[must_use]
    pub fn sign(self) -> &'static str {
        match self {
            Self::Add => "+",
            Self::Subtract => "-",
            Self::Multiply => "*",
            Self::Divide => "/",
            Self::Less => "<",
            Self::LessOrEqual => "<=",
            Self::Greater => ">",
            Self::GreaterOrEqual => ">=",
            Self::Equal => "==",
            Self::NotEqual => "!=",
            Self::And => "&&",
            Self::Or => "||",
        }
    }
}

impl Node {
    /// The part as an author would write it; operators inside operators stand in parentheses.
    #[must_use]
    pub fn written(&self, names: &[String]) -> String {
        let inner = |node: &Self| match node {
            Self::Binary(..) => format!("({})", node.written(names)),
            _ => node.written(names),
        };
        let list = |parts: &[Self]| {
            parts
                .iter()
                .map(|p| p.written(names))
                .collect::<Vec<_>>()
                .join(", ")
        };
        match self {
            Self::Quantity(q) if q.unit().text() == "1" => q.shown(),
            Self::Quantity(q) => format!("\"{}\"", q.shown()),
            Self::Text(text) => format!("\"{text}\""),
            Self::Truth(truth) => truth.to_string(),
            Self::Name(index) => names.get(*index).cloned().unwrap_or_default(),
            Self::Negate(of) => format!("-{}", inner(of)),
            Self::Not(of) => format!("!{}", inner(of)),
            Self::Power(of, n) => format!("{}^{n}", inner(of)),
            Self::Binary(op, left, right) => {
                format!("{} {} {}", inner(left), op.sign(), inner(right))
            }
            Self::Call(function, parts) => format!("{}({})", function.name(), list(parts)),
            Self::List(parts) => format!("({})", list(parts)),
        }
    }
}
