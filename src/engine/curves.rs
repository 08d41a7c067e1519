//! What of logged series is to be drawn: trumpets, start-up graphs, and the times at which levels are passed.
//!
//! Never in here: drawing. Changes when another figure of a log is drawn.

use crate::plan::{
    Bound, Function, Node, Plan, Slot, TrumpetCurve, Value, Verb, start_up_of, trumpet_of,
};

use super::State;
use super::values::Values;

/// A curve that a `compute` step asks for.
#[derive(Clone, Debug)]
pub enum Curve {
    /// A trumpet.
    Trumpet(TrumpetCurve),
    /// Flow in m³/s against time in s, and the set rate in m³/s.
    StartUp(Vec<(f64, f64)>, f64),
}

/// The curves of a step.
#[must_use]
pub fn curves(plan: &Plan, state: &State, index: usize) -> Vec<Curve> {
    let Verb::Compute { expression, .. } = &plan.items[index].verb else {
        return Vec::new();
    };
    let scope = Values {
        bound: expression,
        plan,
        state,
        index,
        own: None,
    };
    let mut curves = Vec::new();
    calls(&expression.expression.root, &mut |function, arguments| {
        let curve = match function {
            // One window is a number, not a curve; both curves belong to one drawing.
            Function::TrumpetHigh | Function::TrumpetLow => trumpet_of(arguments, &scope)
                .ok()
                .filter(|t| t.points.len() > 1)
                .map(Curve::Trumpet),
            Function::StartupError => start_up_of(arguments, &scope)
                .ok()
                .map(|(points, rate)| Curve::StartUp(points, rate)),
            _ => None,
        };
        curves.extend(curve);
    });
    curves
}

/// The times in s at which `compute` steps found that the log at an item passes a level, with the steps' titles or paths.
#[must_use]
pub fn passed_levels(plan: &Plan, state: &State, log: usize) -> Vec<(String, f64)> {
    let items = plan.items.iter().enumerate().skip(log + 1);
    let found = items.filter_map(|(index, item)| {
        let Verb::Compute { expression, .. } = &item.verb else {
            return None;
        };
        if !looks_for_a_time(expression, log) {
            return None;
        }
        let Value::Quantity(time) = state.items[index].value()? else {
            return None;
        };
        let name = item.title.clone().unwrap_or_else(|| item.path.clone());
        Some((name, time.si().to_f64()))
    });
    found.collect()
}

/// Whether an expression is a time at which the log at an item passes a level.
fn looks_for_a_time(bound: &Bound, log: usize) -> bool {
    let Node::Call(Function::FirstTime, arguments) = &bound.expression.root else {
        return false;
    };
    let Some(Node::Name(name)) = arguments.first() else {
        return false;
    };
    matches!(bound.slots.get(*name), Some(Slot::Column(item, _)) if *item == log)
}

/// Calls `visit` for every call in an expression.
fn calls(node: &Node, visit: &mut dyn FnMut(Function, &[Node])) {
    match node {
        Node::Call(function, arguments) => {
            visit(*function, arguments);
            arguments.iter().for_each(|a| calls(a, visit));
        }
        Node::Negate(of) | Node::Not(of) | Node::Power(of, _) => calls(of, visit),
        Node::Binary(_, left, right) => {
            calls(left, visit);
            calls(right, visit);
        }
        Node::List(items) => items.iter().for_each(|i| calls(i, visit)),
        Node::Quantity(_) | Node::Text(_) | Node::Truth(_) | Node::Name(_) => {}
    }
}
