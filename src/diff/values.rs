//! The values that criteria rest on, by numbers that both revisions share: what is read at matched steps, and what is made
//! of it. The same arithmetic gets the same number, however it is written.
//!
//! Never in here: the text of expressions. Changes when another sort of value is told apart.

use std::collections::{BTreeSet, HashMap, HashSet};

use crate::plan::{DeviceField, Function};
use crate::quantity::{Exact, Unit};

use super::formula::{Axis, Formula};
use super::polynomial::{Atom, Polynomial};
use super::reach::Reach;

/// What a part of an expression gives, in normal form.
#[derive(Clone, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Form {
    /// A number.
    Number(Polynomial),
    /// A truth.
    Truth(Formula),
    /// A text that is written out.
    Text(String),
    /// A value that is not taken apart: a list, a log, a text that is asked for.
    Value(Atom),
    /// A list written out.
    List(Vec<Self>),
}

/// How a value comes about.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub enum Shape {
    /// What is read at a step, by the number of the step.
    Reading(usize),
    /// What the register says of the device.
    Device(DeviceField),
    /// A column of a log.
    Column(Atom, String),
    /// The values of a step over rows.
    Rows(Vec<Form>),
    /// What a function gives.
    Call(Function, Vec<Form>),
    /// One over a sum.
    Inverse(Polynomial),
    /// How far a number is off a nominal one, as a ratio of that: the difference and the nominal number.
    Off(Polynomial, Polynomial),
    /// One of two, by a condition.
    If(Formula, Box<Form>, Box<Form>),
    /// What is computed at a step.
    Computed(Form),
}

/// What can be read at a step.
#[derive(Clone, Debug, Default)]
pub struct Reading {
    /// What values it can have.
    pub reach: Reach,
    /// The unit that it is shown in.
    pub unit: Option<Unit>,
    /// How many are read.
    pub repeat: u32,
}

/// The values of both revisions.
#[derive(Debug, Default)]
pub struct Values {
    shapes: Vec<Shape>,
    /// What each of them can be.
    reaches: Vec<Reach>,
    numbers: HashMap<Shape, Atom>,
    readings: HashMap<usize, Reading>,
    /// What a computed value is shown in.
    units: HashMap<Atom, Unit>,
}

impl Values {
    /// The number of a value.
    pub fn number(&mut self, shape: Shape) -> Atom {
        if let Some(atom) = self.numbers.get(&shape) {
            return *atom;
        }
        let atom = Atom::try_from(self.shapes.len()).unwrap_or(Atom::MAX);
        // Told at once, from what it is made of: a chain of values may be as long as the recipe.
        self.reaches.push(self.reach_of_shape(&shape));
        self.shapes.push(shape.clone());
        self.numbers.insert(shape, atom);
        atom
    }

    /// Declares what can be read at a step; what the newer revision says holds for both.
    pub fn declare(&mut self, number: usize, reading: Reading) {
        self.readings.insert(number, reading);
    }

    /// Says what a computed value is shown in.
    pub fn show_in(&mut self, atom: Atom, unit: Unit) {
        self.units.insert(atom, unit);
    }

    /// How a value comes about.
    pub fn shape(&self, atom: Atom) -> &Shape {
        &self.shapes[atom as usize]
    }

    /// The unit in which a number is shown, where one is known.
    pub fn unit(&self, of: &Polynomial) -> Option<Unit> {
        let mut products = of.terms().map(|(product, _)| product);
        match products.next()?[..] {
            [(atom, 1)] => self.unit_of(atom),
            _ => None,
        }
    }

    fn unit_of(&self, atom: Atom) -> Option<Unit> {
        use Function as F;
        if let Some(unit) = self.units.get(&atom) {
            return Some(unit.clone());
        }
        match self.shape(atom) {
            Shape::Reading(number) => self.readings.get(number)?.unit.clone(),
            Shape::Call(
                F::Mean | F::Min | F::Max | F::First | F::Last | F::Nth | F::Sum | F::Round,
                parts,
            ) => self.unit_of_form(parts.first()?),
            Shape::Call(F::Sd | F::Range | F::Abs, parts) => {
                Some(self.unit_of_form(parts.first()?)?.of_difference())
            }
            Shape::Rows(rows) => self.unit_of_form(rows.first()?),
            Shape::Computed(form) => self.unit_of_form(form),
            Shape::Off(..) => Unit::parse("%").ok(),
            _ => None,
        }
    }

    fn unit_of_form(&self, form: &Form) -> Option<Unit> {
        match form {
            Form::Number(sum) => self.unit(sum),
            Form::Value(atom) => self.unit_of(*atom),
            Form::List(parts) => self.unit_of_form(parts.first()?),
            Form::Truth(_) | Form::Text(_) => None,
        }
    }

    /// What a number can be.
    pub fn reach(&self, of: &Polynomial) -> Reach {
        let mut whole = Reach::exactly(&Exact::zero());
        for (product, factor) in of.terms() {
            let one = match product[..] {
                [] => Reach::exactly(factor),
                [(atom, 1)] => self.reach_of(atom).scaled(factor),
                _ if product.iter().all(|(a, _)| self.is_known(*a)) => Reach::any(),
                _ => Reach::unknown(),
            };
            whole = whole.plus(&one);
        }
        whole
    }

    fn is_known(&self, atom: Atom) -> bool {
        self.reach_of(atom).is_known()
    }

    fn reach_of(&self, atom: Atom) -> Reach {
        self.reaches[atom as usize].clone()
    }

    fn reach_of_shape(&self, shape: &Shape) -> Reach {
        match shape {
            Shape::Reading(number) => self
                .readings
                .get(number)
                .map_or_else(Reach::any, |r| r.reach.clone()),
            Shape::Column(..) | Shape::Inverse(_) => Reach::any(),
            Shape::Rows(rows) => rows
                .first()
                .map_or_else(Reach::unknown, |r| self.reach_of_form(r)),
            Shape::Call(function, parts) => self.reach_of_call(*function, parts),
            Shape::Off(..) => Reach::not_negative(),
            Shape::If(..) | Shape::Device(_) => Reach::unknown(),
            Shape::Computed(form) => self.reach_of_form(form),
        }
    }

    fn reach_of_form(&self, form: &Form) -> Reach {
        match form {
            Form::Number(sum) => self.reach(sum),
            Form::Value(atom) => self.reach_of(*atom),
            _ => Reach::unknown(),
        }
    }

    fn reach_of_call(&self, function: Function, parts: &[Form]) -> Reach {
        use Function as F;
        let first = || {
            parts
                .first()
                .map_or_else(Reach::unknown, |p| self.reach_of_form(p))
        };
        match function {
            F::Sd | F::Range | F::Sqrt | F::Abs | F::Exp => Reach::not_negative(),
            // Of numbers that are written out nobody knows which one it is.
            F::Min | F::Max if parts.len() > 1 => Reach::unknown(),
            F::Min | F::Max | F::First | F::Last | F::Nth => first(),
            F::Mean => match (first(), parts) {
                (reach, [Form::Value(atom)]) => match self.repeat_of(*atom) {
                    Some(n) => reach.divided(n),
                    None => reach.without_steps(),
                },
                _ => Reach::any(),
            },
            F::Sum => first().summed(),
            F::Round | F::Floor | F::Ceil => match parts.get(1) {
                Some(Form::Number(step)) => step
                    .as_constant()
                    .map_or_else(Reach::unknown, |s| Reach::steps_of(&s)),
                _ => Reach::unknown(),
            },
            F::Ln | F::Convert | F::DripRate | F::WeighedVolume | F::ColumnPressure => Reach::any(),
            F::MeanFlow | F::StartupError | F::TrumpetHigh | F::TrumpetLow | F::Peak => {
                Reach::any()
            }
            F::VolumeAfter | F::Uncertain => Reach::any(),
            F::FirstTime | F::Expanded => Reach::not_negative(),
            _ => Reach::unknown(),
        }
    }

    /// How many readings a series has, where it is that of one step.
    pub fn repeat_of(&self, atom: Atom) -> Option<u32> {
        match self.shape(atom) {
            Shape::Reading(number) => self
                .readings
                .get(number)
                .map(|r| r.repeat)
                .filter(|n| *n > 0),
            _ => None,
        }
    }

    /// The series that a number stands for where all its values are alike: its mean, its least, its spread, which is none.
    pub fn alike(&self, of: &Polynomial) -> Option<(Atom, bool)> {
        use Function as F;
        match self.shape(of.as_atom()?) {
            Shape::Call(F::Mean | F::Min | F::Max | F::First | F::Last | F::Nth, parts) => {
                match parts.first() {
                    Some(Form::Value(series))
                        if parts.len() == 1 || !matches!(parts.get(1), Some(Form::Value(_))) =>
                    {
                        Some((*series, true))
                    }
                    _ => None,
                }
            }
            Shape::Call(F::Sd | F::Range, parts) => match parts[..] {
                [Form::Value(series)] => Some((series, false)),
                _ => None,
            },
            _ => None,
        }
    }

    /// The steps whose readings values rest on.
    pub fn readings_behind(&self, atoms: Vec<Atom>) -> BTreeSet<usize> {
        let (mut found, mut seen) = (BTreeSet::new(), HashSet::new());
        let mut open = atoms;
        while let Some(atom) = open.pop() {
            if !seen.insert(atom) {
                continue;
            }
            if let Shape::Reading(number) = self.shape(atom) {
                found.insert(*number);
            }
            self.made_of(atom, &mut open);
        }
        found
    }

    /// Adds the values that one is made of.
    pub fn made_of(&self, atom: Atom, open: &mut Vec<Atom>) {
        match self.shape(atom) {
            Shape::Reading(_) | Shape::Device(_) => {}
            Shape::Column(log, _) => open.push(*log),
            Shape::Rows(forms) | Shape::Call(_, forms) => {
                forms.iter().for_each(|f| atoms_of_form(f, open));
            }
            Shape::Inverse(sum) => open.extend(sum.atoms()),
            Shape::Off(a, b) => open.extend(a.atoms().chain(b.atoms())),
            Shape::If(condition, a, b) => {
                atoms_of_formula(condition, open);
                [a, b].iter().for_each(|f| atoms_of_form(f, open));
            }
            Shape::Computed(form) => atoms_of_form(form, open),
        }
    }

    /// Whether a number is one that can have any value whatever the others are: a reading that nothing holds back.
    pub fn is_free_reading(&self, atom: Atom) -> bool {
        matches!(self.shape(atom), Shape::Reading(_)) && self.reach_of(atom) == Reach::any()
    }
}

fn atoms_of_form(form: &Form, atoms: &mut Vec<Atom>) {
    match form {
        Form::Number(sum) => atoms.extend(sum.atoms()),
        Form::Truth(formula) => atoms_of_formula(formula, atoms),
        Form::Value(atom) => atoms.push(*atom),
        Form::List(parts) => parts.iter().for_each(|p| atoms_of_form(p, atoms)),
        Form::Text(_) => {}
    }
}

pub fn atoms_of_formula(formula: &Formula, atoms: &mut Vec<Atom>) {
    formula.visit(&mut |axis, _| match axis {
        Axis::Number(sum) => atoms.extend(sum.atoms()),
        Axis::Truth(atom) | Axis::Text(atom) => atoms.push(atom),
    });
}
