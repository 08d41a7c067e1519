//! evalexpr's tree to the typed tree, with kinds of quantity checked on the way.
//!
//! Never in here: what functions take (see `call`), what operators take (see `operator`). Changes when the tree is read otherwise.

use evalexpr::{Node as Tree, Operator, Value as Constant, build_operator_tree};

use crate::plan::{Expression, Function, Node, Type, Value};
use crate::quantity::{
    Exact, Kind, KindError, QuantityError, Unit, parse_quantity, unknown_symbol,
};
use crate::recipe::schema::nearest;
use crate::text::Code;

use super::operator::binary;
use super::remedy::remedy;
use super::token::{Sort, Token, scan};

/// What other programs call our functions.
const ELSEWHERE: [(&str, &str); 8] = [
    ("avg", "mean"),
    ("average", "mean"),
    ("std", "sd"),
    ("stdev", "sd"),
    ("stddev", "sd"),
    ("len", "count"),
    ("log", "ln"),
    ("error", "deviation"),
];
/// Deepest tree that is lowered: long sums are deep to evalexpr, though not to a reader.
const MAX_TREE_DEPTH: usize = 500;

/// Why an expression was refused, and where in its text.
#[derive(Clone, Debug)]
pub struct LoweringError {
    /// The code.
    pub code: Code,
    /// What is wrong.
    pub message: String,
    /// How to mend it.
    pub help: String,
    /// First byte in the text.
    pub start: usize,
    /// Byte after the last.
    pub end: usize,
}

/// What a name turned out to be.
#[derive(Clone, Debug)]
pub enum Found {
    /// A value of this type.
    Type(Type),
    /// Something that has been reported elsewhere.
    Reported,
    /// Something that can't be used here: code, message, help.
    Refused(Code, String, String),
}

/// The names that an expression can use.
pub trait Names {
    /// What a name is.
    fn find(&self, name: &str) -> Found;

    /// Shows the values of a part that no reading changes, one for each combination of rows it rests on, until one is
    /// answered with false. Whether all were answered with true; nothing where the part rests on a reading.
    fn visit(
        &self,
        _part: &Node,
        _names: &[String],
        _on_value: &mut dyn FnMut(&Value) -> bool,
    ) -> Option<bool> {
        None
    }

    /// The unit that quantities of a kind have at this place.
    fn unit(&self, _kind: Kind) -> Option<Unit> {
        None
    }

    /// Takes something worth saying of an expression that is sound.
    fn remark(&self, _remark: LoweringError) {}
}

/// What is known of a part of the expression.
#[derive(Clone, Debug)]
pub(super) enum Shape {
    /// Its type.
    Known(Type),
    /// A quoted text that is a quantity or a text, by what it meets.
    Quoted(String),
    /// Nothing: a fault in it was reported.
    Reported,
}

/// A part with its place.
pub(super) struct Part {
    pub node: Node,
    pub shape: Shape,
    pub start: usize,
    pub end: usize,
}

pub(super) struct Lowering<'a> {
    pub(super) text: &'a str,
    tokens: std::vec::IntoIter<Token>,
    pub(super) names: &'a dyn Names,
    pub(super) used: Vec<String>,
    pub(super) errors: Vec<LoweringError>,
}

/// Lowers an expression.
///
/// # Errors
/// All that is wrong with it, one finding a cause.
pub fn lower(text: &str, names: &dyn Names) -> Result<Expression, Vec<LoweringError>> {
    let tokens = scan(text).map_err(|e| vec![e])?;
    let tree = build_operator_tree(text).map_err(|error| {
        let help = "check the parentheses, commas and operators";
        vec![LoweringError {
            code: Code::ExpressionSyntax,
            message: format!("not an expression: {}", plain(&error.to_string())),
            help: help.to_owned(),
            start: 0,
            end: text.len(),
        }]
    })?;
    let mut lowering = Lowering {
        text,
        tokens: tokens.into_iter(),
        names,
        used: Vec::new(),
        errors: Vec::new(),
    };
    let part = lowering.tree(&tree, 0);
    let part = lowering.settled(part);
    match part.shape {
        Shape::Known(result) if lowering.errors.is_empty() => Ok(Expression {
            text: text.to_owned(),
            root: part.node,
            names: lowering.used,
            result,
        }),
        _ => Err(lowering.errors),
    }
}

/// evalexpr's message without its capital and full stop.
fn plain(message: &str) -> String {
    let mut characters = message.trim_end_matches('.').chars();
    characters.next().map_or_else(String::new, |c| {
        c.to_lowercase().chain(characters).collect()
    })
}

impl Lowering<'_> {
    pub(super) fn error(
        &mut self,
        code: Code,
        (start, end): (usize, usize),
        message: impl Into<String>,
        help: impl Into<String>,
    ) -> Part {
        self.errors.push(LoweringError {
            code,
            message: message.into(),
            help: help.into(),
            start,
            end,
        });
        Part {
            node: Node::Truth(false),
            shape: Shape::Reported,
            start,
            end,
        }
    }

    fn next(&mut self, sort: Sort) -> Token {
        let whole = Token {
            sort,
            start: 0,
            end: self.text.len(),
        };
        self.tokens.find(|t| t.sort == sort).unwrap_or(whole)
    }

    pub(super) fn tree(&mut self, tree: &Tree, depth: usize) -> Part {
        let whole = (0, self.text.len());
        if depth > MAX_TREE_DEPTH {
            return self.error(
                Code::ExpressionTooLarge,
                whole,
                "the expression has too many parts",
                "split it into `compute` steps",
            );
        }
        let children = tree.children();
        match tree.operator() {
            Operator::RootNode => match children {
                [] => self.error(
                    Code::ExpressionSyntax,
                    whole,
                    "there is no expression",
                    "write one, or remove the key",
                ),
                [only] => self.tree(only, depth + 1),
                _ => self.error(
                    Code::ExpressionSyntax,
                    whole,
                    "values without an operator between them",
                    "put an operator or a comma between them",
                ),
            },
            Operator::Const { value } => self.constant(value),
            Operator::VariableIdentifierRead { identifier } => self.name(identifier),
            Operator::FunctionIdentifier { identifier } => self.call(identifier, children, depth),
            Operator::Tuple => self.list(children, depth),
            Operator::Chain => self.error(
                Code::Sequence,
                whole,
                "several expressions in a row",
                "write one expression",
            ),
            Operator::Neg | Operator::Not => self.unary(tree, depth),
            Operator::Exp => self.power(children, depth),
            _ => match binary(tree.operator()) {
                Some(op) => self.binary(op, children, depth),
                None => self.error(
                    Code::Assignment,
                    whole,
                    "an assignment",
                    "nothing can be assigned in an expression",
                ),
            },
        }
    }

    fn constant(&mut self, value: &Constant) -> Part {
        match value {
            Constant::String(text) => {
                let token = self.next(Sort::Text);
                let node = Node::Text(text.clone());
                Part {
                    node,
                    shape: Shape::Quoted(text.clone()),
                    start: token.start,
                    end: token.end,
                }
            }
            Constant::Boolean(truth) => {
                let token = self.next(Sort::Name);
                Part {
                    node: Node::Truth(*truth),
                    shape: Shape::Known(Type::Truth),
                    start: token.start,
                    end: token.end,
                }
            }
            Constant::Int(_) | Constant::Float(_) => {
                let token = self.next(Sort::Number);
                // The author's digits, not the double that evalexpr made of them.
                let exact = Exact::parse(&self.text[token.start..token.end]).unwrap_or_default();
                let shape = Shape::Known(Type::Quantity {
                    kind: Kind::RATIO,
                    exact: true,
                });
                Part {
                    node: Node::Quantity(exact.into()),
                    shape,
                    start: token.start,
                    end: token.end,
                }
            }
            _ => self.error(
                Code::ExpressionSyntax,
                (0, self.text.len()),
                "an empty value",
                "write a value",
            ),
        }
    }

    fn name(&mut self, name: &str) -> Part {
        let Token { start, end, .. } = self.next(Sort::Name);
        match self.names.find(name) {
            Found::Type(found) => {
                let index = self.used.iter().position(|n| n == name).unwrap_or_else(|| {
                    self.used.push(name.to_owned());
                    self.used.len() - 1
                });
                Part {
                    node: Node::Name(index),
                    shape: Shape::Known(found),
                    start,
                    end,
                }
            }
            Found::Reported => Part {
                node: Node::Truth(false),
                shape: Shape::Reported,
                start,
                end,
            },
            Found::Refused(code, message, help) => self.error(code, (start, end), message, help),
        }
    }

    fn list(&mut self, children: &[Tree], depth: usize) -> Part {
        let parts: Vec<Part> = children.iter().map(|c| self.tree(c, depth + 1)).collect();
        let parts: Vec<Part> = parts.into_iter().map(|p| self.settled(p)).collect();
        let place = (
            parts.first().map_or(0, |p| p.start),
            parts.last().map_or(self.text.len(), |p| p.end),
        );
        let mut of: Option<Type> = None;
        for part in &parts {
            match (&part.shape, &of) {
                (Shape::Known(found), None) => of = Some(found.clone()),
                (Shape::Known(found), Some(first)) if !alike(first, found) => {
                    let message = format!("a list of {first} with {found} in it");
                    return self.error(
                        Code::KindMismatch,
                        (part.start, part.end),
                        message,
                        "a list holds values of one kind",
                    );
                }
                (Shape::Known(_), Some(_)) => {}
                _ => {
                    return Part {
                        node: Node::Truth(false),
                        shape: Shape::Reported,
                        start: place.0,
                        end: place.1,
                    };
                }
            }
        }
        let Some(of) = of else {
            return self.error(
                Code::ExpressionSyntax,
                place,
                "an empty list",
                "write its values",
            );
        };
        let nodes = parts.into_iter().map(|p| p.node).collect();
        Part {
            node: Node::List(nodes),
            shape: Shape::Known(Type::List(Box::new(of))),
            start: place.0,
            end: place.1,
        }
    }

    pub(super) fn kind_error(&mut self, error: &KindError, place: (usize, usize)) -> Part {
        let (code, help) = match error {
            KindError::BareNumber(kind) => (
                Code::BareNumber,
                format!(
                    "write the number as a quantity of kind {kind} in quotes, with its unit; a setting gets its unit where it stands in `settings`"
                ),
            ),
            KindError::Differ(a, b) if a.dimension != b.dimension => (
                Code::KindMismatch,
                "compare, add and subtract quantities of one kind".to_owned(),
            ),
            _ => (
                Code::KindMismatch,
                "work with differences of temperature, in `K` or `delta_degC`".to_owned(),
            ),
        };
        self.error(code, place, error.to_string(), help)
    }

    /// Settles two sides of which one or both may be quoted, by each other.
    pub(super) fn settle_pair(&mut self, left: Part, right: Part) -> (Part, Part) {
        let text = |p: &Part| matches!(p.shape, Shape::Known(Type::Text));
        let quoted = |p: &Part| matches!(p.shape, Shape::Quoted(_));
        let reported = |p: &Part| matches!(p.shape, Shape::Reported);
        match (quoted(&left), quoted(&right)) {
            (true, false) if text(&right) => (as_text(left), right),
            (false, true) if text(&left) => (left, as_text(right)),
            (true, false) if reported(&right) => (right, left),
            (false, true) if reported(&left) => (left, right),
            (true, false) => (self.quantity(left), right),
            (false, true) => {
                let right = self.quantity(right);
                (left, right)
            }
            _ => (self.settled(left), self.settled(right)),
        }
    }

    /// A quoted text that meets nothing: a quantity where it can be read as one.
    pub(super) fn settled(&mut self, part: Part) -> Part {
        match &part.shape {
            // What begins like a number is meant as a quantity; a mistyped unit doesn't make it a text.
            Shape::Quoted(text) if !begins_like_a_number(text) => as_text(part),
            Shape::Quoted(_) => self.quantity(part),
            _ => part,
        }
    }

    /// Wants a truth.
    pub(super) fn truth(&mut self, part: Part) -> Part {
        match &part.shape {
            Shape::Known(Type::Truth) | Shape::Reported => part,
            Shape::Known(other) => {
                let message = format!("{other} where a truth is wanted");
                self.error(
                    Code::TypeMismatch,
                    (part.start, part.end),
                    message,
                    "write a comparison, `within` or `between`",
                )
            }
            Shape::Quoted(_) => self.error(
                Code::TypeMismatch,
                (part.start, part.end),
                "a quoted text where a truth is wanted",
                "write a comparison",
            ),
        }
    }

    /// Wants one text.
    pub(super) fn text(&mut self, part: Part) -> Part {
        match &part.shape {
            Shape::Known(Type::Text) | Shape::Reported => part,
            Shape::Quoted(_) => as_text(part),
            Shape::Known(other) => {
                let message = format!("{other} where a text is wanted");
                self.error(
                    Code::TypeMismatch,
                    (part.start, part.end),
                    message,
                    "use what was entered or chosen, or a field of the device",
                )
            }
        }
    }

    /// Wants one quantity; a quoted text is read as one.
    pub(super) fn quantity(&mut self, part: Part) -> Part {
        match &part.shape {
            Shape::Known(Type::Quantity { .. }) | Shape::Reported => part,
            Shape::Known(list @ Type::List(_)) => {
                let message = format!("{list} where one value is wanted");
                self.error(
                    Code::ListForValue,
                    (part.start, part.end),
                    message,
                    "take one value of it: `mean`, `max`, `min`, `first`, `last`, `nth`",
                )
            }
            Shape::Known(other) => {
                let message = format!("{other} where a quantity is wanted");
                self.error(
                    Code::TypeMismatch,
                    (part.start, part.end),
                    message,
                    "use a value that was measured, counted, timed or computed",
                )
            }
            Shape::Quoted(text) => self.read_quantity(&text.clone(), &part),
        }
    }

    fn read_quantity(&mut self, text: &str, part: &Part) -> Part {
        match parse_quantity(text) {
            Ok(quantity) => {
                let kind = quantity.kind();
                let shape = Shape::Known(Type::Quantity { kind, exact: true });
                Part {
                    node: Node::Quantity(quantity),
                    shape,
                    start: part.start,
                    end: part.end,
                }
            }
            Err(error) => {
                let code = if matches!(error, QuantityError::Unit(_)) {
                    Code::UnknownUnit
                } else {
                    Code::BadQuantity
                };
                // The place of the unit itself, where it is the unit that is wrong.
                let place = (part.start, part.end);
                let place = match unknown_symbol(&self.text[part.start..part.end], &error) {
                    Some((start, end)) => (part.start + start, part.start + end),
                    None => place,
                };
                let help = remedy(text, &error, "\"");
                self.error(code, place, error.to_string(), help)
            }
        }
    }

    pub(super) fn take_name(&mut self) -> (usize, usize) {
        let token = self.next(Sort::Name);
        (token.start, token.end)
    }

    pub(super) fn call(&mut self, name: &str, children: &[Tree], depth: usize) -> Part {
        let place = self.take_name();
        let Some(function) = Function::from_name(name) else {
            let elsewhere = ELSEWHERE.iter().find(|(other, _)| *other == name);
            let near = nearest(name, crate::plan::FUNCTION_NAMES.iter().copied());
            if let ([argument], None, None) = (children, elsewhere, near)
                && !matches!(argument.operator(), Operator::RootNode)
            {
                drop(self.tree(argument, depth + 1));
                return self.no_operator(place);
            }
            let help = match elsewhere.map(|(_, ours)| *ours).or(near) {
                Some(near) => format!("the nearest known function is `{near}`"),
                None => "the functions are listed in the README".to_owned(),
            };
            // Faults inside the arguments are faults of their own.
            children.iter().for_each(|c| drop(self.tree(c, depth + 1)));
            return self.error(
                Code::UnknownFunction,
                place,
                format!("there is no function `{name}`"),
                help,
            );
        };
        let [argument] = children else {
            return self.error(
                Code::WrongArguments,
                place,
                format!("`{name}` without arguments"),
                format!("write `{name}(…)`"),
            );
        };
        if !matches!(argument.operator(), Operator::RootNode) {
            drop(self.tree(argument, depth + 1));
            return self.error(
                Code::CallWithoutParentheses,
                place,
                format!("`{name}` is called without parentheses"),
                format!("write `{name}(…)`"),
            );
        }
        let arguments = match argument.children() {
            [tuple] if matches!(tuple.operator(), Operator::Tuple) => tuple.children(),
            other => other,
        };
        let parts: Vec<Part> = arguments.iter().map(|a| self.tree(a, depth + 1)).collect();
        self.apply(function, parts, place)
    }
}

pub(super) fn as_text(part: Part) -> Part {
    Part {
        shape: Shape::Known(Type::Text),
        ..part
    }
}

/// Kind and exactness of a known quantity.
pub(super) fn quantity_of(shape: &Shape) -> Option<(Kind, bool)> {
    match shape {
        Shape::Known(Type::Quantity { kind, exact }) => Some((*kind, *exact)),
        _ => None,
    }
}

fn alike(a: &Type, b: &Type) -> bool {
    match (a, b) {
        (Type::Quantity { kind: x, .. }, Type::Quantity { kind: y, .. }) => {
            x.comparable(*y).is_ok()
        }
        _ => a == b,
    }
}

/// Whether a quoted text begins as a number does: a digit, perhaps behind a sign.
fn begins_like_a_number(text: &str) -> bool {
    let unsigned = text.trim_start().trim_start_matches(['-', '+', '\u{2212}']);
    unsigned.starts_with(|c: char| c.is_ascii_digit())
}
