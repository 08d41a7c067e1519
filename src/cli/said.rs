//! Expressions in words: a comparison of a step with a value, by the step's title.
//!
//! Never in here: limits (see `show`). Changes when another form of expression can be said.

use crate::plan::{BinaryOperator, Bound, Function, Item, Node, Plan, Slot, Value};

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

/// A part of an expression that is joined by `and`, by its text; or the whole of it.
pub(super) fn part_in_words(plan: &Plan, bound: &Bound, own: usize, text: &str) -> Option<String> {
    let of = Spoken { plan, bound, own };
    if bound.expression.text.trim() == text {
        return truth(of, &bound.expression.root);
    }
    let names = &bound.expression.names;
    parts(&bound.expression.root)
        .into_iter()
        .find(|part| part.written(names) == text)
        .and_then(|part| truth(of, part))
}

/// What is computed in words; nothing where it has more in it than sums, ratios and figures of steps.
pub(super) fn phrase_in_words(plan: &Plan, bound: &Bound, own: usize) -> Option<String> {
    phrase(Spoken { plan, bound, own }, &bound.expression.root)
}

/// What is joined by `and`.
fn parts(node: &Node) -> Vec<&Node> {
    match node {
        Node::Binary(BinaryOperator::And, a, b) => parts(a).into_iter().chain(parts(b)).collect(),
        other => vec![other],
    }
}

/// What stands on one side of a comparison.
fn phrase(of: Spoken<'_>, node: &Node) -> Option<String> {
    let figure = |words: &str, parts: &[Node]| {
        let told: Option<Vec<String>> = parts.iter().map(|p| phrase(of, p)).collect();
        Some(format!("{words} {}", told?.join(", ")))
    };
    match node {
        Node::Binary(operator, a, b) => {
            let word = match operator {
                BinaryOperator::Add => "plus",
                BinaryOperator::Subtract => "minus",
                BinaryOperator::Multiply => "times",
                BinaryOperator::Divide => "divided by",
                _ => return None,
            };
            Some(format!("{} {word} {}", operand(of, a)?, operand(of, b)?))
        }
        Node::Call(Function::Min, parts) => figure("the smallest of", parts),
        Node::Call(Function::Max, parts) => figure("the largest of", parts),
        Node::Call(Function::Mean, parts) => figure("the mean of", parts),
        Node::Call(Function::Sum, parts) => figure("the sum of", parts),
        Node::Call(Function::Sd, parts) => figure("the standard deviation of", parts),
        Node::Call(Function::Range, parts) => figure("the largest less the smallest of", parts),
        Node::Call(Function::Abs, parts) => figure("the size of", parts),
        Node::Call(Function::If, parts) => match &parts[..] {
            [condition, yes, no] => Some(format!(
                "{} if {}, else {}",
                operand(of, yes)?,
                truth(of, condition)?,
                operand(of, no)?
            )),
            _ => None,
        },
        Node::Call(Function::Deviation, parts) => match &parts[..] {
            [a, b] => Some(format!(
                "the deviation of {} from {}",
                operand(of, a)?,
                operand(of, b)?
            )),
            _ => None,
        },
        other => all_steps(of, other)
            .or_else(|| step(of, other))
            .or_else(|| value(of.bound, other)),
    }
}

/// A part of a sum or ratio, in brackets where it is one itself.
fn operand(of: Spoken<'_>, node: &Node) -> Option<String> {
    let told = phrase(of, node)?;
    Some(match node {
        Node::Binary(..) | Node::Call(Function::If, _) => format!("({told})"),
        _ => told,
    })
}

/// All steps that a name stands for, where they have one title.
fn all_steps(of: Spoken<'_>, node: &Node) -> Option<String> {
    let Node::Name(n) = node else { return None };
    let Slot::Items(indices) = of.bound.slots.get(*n)? else {
        return None;
    };
    let items = indices.iter().map(|i| of.plan.items.get(*i));
    let items: Vec<&Item> = items.collect::<Option<_>>()?;
    let mut titles: Vec<String> = items.iter().map(|item| called(item)).collect();
    titles.dedup();
    match &titles[..] {
        [title] => Some(format!("all \"{title}\"")),
        _ => {
            let (first, last) = (items.first()?, items.last()?);
            Some(format!("steps {} to {}", first.number, last.number))
        }
    }
}

/// What a step is called: its title, or its id.
pub(super) fn called(item: &Item) -> String {
    let id = item.path.rsplit('.').next().unwrap_or(&item.path);
    item.title.clone().unwrap_or_else(|| id.replace('_', " "))
}

/// What is held against a limit in words, by its text.
pub(super) fn held_in_words(plan: &Plan, bound: &Bound, own: usize, text: &str) -> Option<String> {
    let of = Spoken { plan, bound, own };
    let node = found(&bound.expression.root, &bound.expression.names, text)?;
    phrase(of, node)
}

/// The part of an expression that is written so.
fn found<'n>(node: &'n Node, names: &[String], text: &str) -> Option<&'n Node> {
    if node.written(names) == text {
        return Some(node);
    }
    match node {
        Node::Negate(of) | Node::Not(of) | Node::Power(of, _) => found(of, names, text),
        Node::Binary(_, a, b) => found(a, names, text).or_else(|| found(b, names, text)),
        Node::Call(_, parts) | Node::List(parts) => {
            parts.iter().find_map(|part| found(part, names, text))
        }
        Node::Quantity(_) | Node::Text(_) | Node::Truth(_) | Node::Name(_) => None,
    }
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
            Some(format!("{} {is} {}", phrase(of, a)?, phrase(of, b)?))
        }
        Node::Call(Function::Within, parts) => match &parts[..] {
            [a, nominal, by] => Some(format!(
                "{} is within {} of {}",
                phrase(of, a)?,
                phrase(of, by)?,
                phrase(of, nominal)?
            )),
            _ => None,
        },
        Node::Call(Function::Between, parts) => match &parts[..] {
            [a, low, high] => Some(format!(
                "{} is from {} to {}",
                phrase(of, a)?,
                phrase(of, low)?,
                phrase(of, high)?
            )),
            _ => None,
        },
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
            Slot::Device(field) => Some(field.said()),
            _ => None,
        },
        _ => None,
    }
}
