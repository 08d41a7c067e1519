//! What an item of a plan gives, in normal form.
//!
//! Never in here: which items are the same in two revisions. Changes when another verb gives a value.

use crate::plan::{Item, Plan, Type, Verb};
use crate::quantity::Unit;

use super::formula::{Axis, Formula};
use super::lower::{Given, Lowering, MAX_APART};
use super::polynomial::Polynomial;
use super::reach::Reach;
use super::region::axes_of;
use super::values::{Form, Reading, Shape, Values};

/// What an item gives before that was said.
pub const UNKNOWN: Form = Form::Text(String::new());

impl Given {
    /// Adds what the next item gives, its reading by this number.
    pub fn add(&mut self, values: &mut Values, plan: &Plan, number: usize) {
        let item = self.forms.len();
        self.forms.push(UNKNOWN);
        self.set(values, plan, item, number);
    }

    /// Says of an item what it gives; what it is computed from was said before.
    pub fn set(&mut self, values: &mut Values, plan: &Plan, item: usize, number: usize) {
        let form = form(values, plan, self, item, number);
        if let (Form::Value(atom), Verb::Choose(options)) = (&form, &plan.items[item].verb) {
            self.options
                .insert(*atom, options.iter().cloned().collect());
        }
        self.forms[item] = form;
    }

    /// What is said, choices taken from what is offered.
    pub fn in_force(&self, said: Formula) -> Formula {
        let offered = self.offered(&said).into_iter();
        Formula::all(offered.chain([said]).collect())
    }

    /// A choice can be nothing but what is offered.
    pub fn offered(&self, said: &Formula) -> Vec<Formula> {
        let of_axis = |axis: Axis| match axis {
            Axis::Text(atom) => Some(Formula::Text(atom, self.options.get(&atom)?.clone())),
            _ => None,
        };
        axes_of(said).into_iter().filter_map(of_axis).collect()
    }
}

fn form(values: &mut Values, plan: &Plan, given: &Given, item: usize, number: usize) -> Form {
    let item = &plan.items[item];
    if let Verb::Compute { expression, unit } = &item.verb {
        let mut lowering = Lowering {
            values,
            plan,
            given,
            bound: expression,
            apart: MAX_APART,
        };
        let form = lowering.result();
        let shown = unit.clone().or(match &expression.expression.result {
            Type::Quantity { kind, .. } => Some(Unit::si(*kind)),
            _ => None,
        });
        return computed(values, form, shown);
    }
    values.declare(number, reading(item));
    let atom = values.number(Shape::Reading(number));
    match &item.verb {
        Verb::Confirm => Form::Truth(Formula::Truth(atom)),
        verb if verb.unit().is_some() && verb.entries() == 1 => {
            Form::Number(Polynomial::atom(atom))
        }
        _ => Form::Value(atom),
    }
}

fn computed(values: &mut Values, form: Form, shown: Option<Unit>) -> Form {
    match &form {
        Form::Number(sum) if sum.as_constant().is_none() && sum.as_atom().is_none() => {
            let atom = values.number(Shape::Computed(form));
            if let Some(unit) = shown {
                values.show_in(atom, unit);
            }
            Form::Number(Polynomial::atom(atom))
        }
        _ => form,
    }
}

fn reading(item: &Item) -> Reading {
    let reach = match &item.verb {
        Verb::Count { .. } => Reach::whole(),
        Verb::Time { .. } => Reach::not_negative(),
        _ => Reach::any(),
    };
    Reading {
        reach,
        unit: item.verb.unit(),
        repeat: u32::try_from(item.verb.entries()).unwrap_or(u32::MAX),
    }
}
