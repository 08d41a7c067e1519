//! Conditions on computed values, told by what these are computed from.
//!
//! Where a step computes something else in the newer revision the two values have nothing in common; what they are made of
//! has. Never in here: holding conditions against each other. Changes when another sort of value is opened.

use std::collections::{BTreeSet, HashMap};

use crate::plan::Function;
use crate::quantity::Exact;

use super::formula::Formula;
use super::polynomial::{Atom, Polynomial};
use super::values::{Form, Shape, Values};

/// How many steps deep computed values are opened.
const MAX_DEEP: usize = 16;
/// Most sums of a condition that are opened.
const MAX_OPENED: usize = 200;

/// Opens conditions.
pub struct Opening<'a> {
    values: &'a mut Values,
    known: HashMap<Atom, Polynomial>,
    apart: usize,
}

impl<'a> Opening<'a> {
    /// With these values.
    pub fn new(values: &'a mut Values, apart: usize) -> Self {
        Self {
            values,
            known: HashMap::new(),
            apart,
        }
    }

    /// The condition without computed values, as far as they can be opened.
    pub fn formula(&mut self, formula: &Formula) -> Formula {
        if formula.size(MAX_OPENED) > MAX_OPENED {
            return formula.clone();
        }
        match formula {
            Formula::Number(of, order, bound) => {
                let sum = self.sum(of, 0);
                if sum == *of {
                    return formula.clone();
                }
                let sum = sum.plus(&Polynomial::constant(-bound.clone()));
                self.values.against_zero(&sum, *order, &mut self.apart)
            }
            Formula::Not(inner) => self.formula(inner).negated(),
            Formula::All(parts) => Formula::all(parts.iter().map(|p| self.formula(p)).collect()),
            Formula::Any(parts) => Formula::any(parts.iter().map(|p| self.formula(p)).collect()),
            other => other.clone(),
        }
    }

    fn sum(&mut self, of: &Polynomial, deep: usize) -> Polynomial {
        let mut sum = of.clone();
        for atom in of.atoms().collect::<BTreeSet<_>>() {
            let opened = self.atom(atom, deep);
            if opened.as_atom() != Some(atom) {
                sum = sum.with(atom, &opened).unwrap_or(sum);
            }
        }
        sum
    }

    fn atom(&mut self, atom: Atom, deep: usize) -> Polynomial {
        if let Some(known) = self.known.get(&atom) {
            return known.clone();
        }
        let closed = Polynomial::atom(atom);
        if deep >= MAX_DEEP {
            return closed;
        }
        let opened = match self.values.shape(atom).clone() {
            Shape::Computed(Form::Number(sum)) => self.sum(&sum, deep + 1),
            Shape::Inverse(sum) => {
                let by = self.sum(&sum, deep + 1);
                match by == sum {
                    true => closed,
                    false => self
                        .values
                        .quotient(&Polynomial::constant(Exact::one()), &by),
                }
            }
            Shape::Call(Function::Abs, parts) => match &parts[..] {
                [of] => self.size(of, closed, deep),
                _ => closed,
            },
            Shape::Off(off, nominal) => self.off((&off, &nominal), closed, deep),
            _ => closed,
        };
        self.known.insert(atom, opened.clone());
        opened
    }

    fn size(&mut self, of: &Form, closed: Polynomial, deep: usize) -> Polynomial {
        let of = match of {
            Form::Number(sum) => sum.clone(),
            Form::Value(atom) => Polynomial::atom(*atom),
            _ => return closed,
        };
        let opened = self.sum(&of, deep + 1);
        match opened == of {
            true => closed,
            false => self.values.size(&opened),
        }
    }

    fn off(
        &mut self,
        (off, nominal): (&Polynomial, &Polynomial),
        closed: Polynomial,
        deep: usize,
    ) -> Polynomial {
        let (a, b) = (self.sum(off, deep + 1), self.sum(nominal, deep + 1));
        if (&a, &b) == (off, nominal) {
            return closed;
        }
        let (factor, rest) = a.signless();
        let shape = Shape::Off(rest.scaled(&factor.abs()), b);
        Polynomial::atom(self.values.number(shape))
    }
}

impl Values {
    /// The computed values that a condition rests on, at any depth.
    pub fn computed_behind(&self, formula: &Formula) -> BTreeSet<Atom> {
        let (mut found, mut seen) = (BTreeSet::new(), BTreeSet::new());
        let mut open = Vec::new();
        super::values::atoms_of_formula(formula, &mut open);
        while let Some(atom) = open.pop() {
            if !seen.insert(atom) {
                continue;
            }
            if matches!(self.shape(atom), Shape::Computed(_)) {
                found.insert(atom);
            }
            self.made_of(atom, &mut open);
        }
        found
    }
}
