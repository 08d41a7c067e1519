//! Arithmetic on values in normal form, and conditions on them taken apart: sizes, the greatest of several, choices.
//!
//! Never in here: the text of expressions. Changes when more arithmetic is to be recognised as the same.

use crate::plan::Function;
use crate::quantity::Exact;

use super::formula::{Formula, Order};
use super::polynomial::{Atom, Polynomial};
use super::values::{Form, Shape, Values};

/// Most parts of conditions that are put together twice.
const MAX_PARTS: usize = 200;

impl Values {
    /// What a function gives that is not taken apart.
    pub fn opaque(&mut self, function: Function, parts: Vec<Form>) -> Polynomial {
        // A series of one reading is called as the reading itself: how often it is read is told elsewhere.
        let plain = |form: Form| match form {
            Form::Number(sum) => sum.as_atom().map_or(Form::Number(sum), Form::Value),
            other => other,
        };
        if let (Function::Convert, [Form::Value(atom)]) = (function, &parts[..]) {
            return Polynomial::atom(*atom);
        }
        let parts = match parts.len() {
            1 => parts.into_iter().map(plain).collect(),
            _ => parts,
        };
        Polynomial::atom(self.number(Shape::Call(function, parts)))
    }

    /// A product, as one value where it grows too large.
    pub fn product(&mut self, a: &Polynomial, b: &Polynomial) -> Polynomial {
        a.times(b).unwrap_or_else(|| {
            let mut parts = [Form::Number(a.clone()), Form::Number(b.clone())];
            parts.sort();
            self.opaque(Function::Convert, parts.to_vec())
        })
    }

    /// A quotient: what is divided by is never cancelled, since nothing may be divided by zero.
    pub fn quotient(&mut self, a: &Polynomial, b: &Polynomial) -> Polynomial {
        let by = b.as_constant().and_then(|c| Exact::one().checked_div(&c));
        if let Some(by) = by {
            return a.scaled(&by);
        }
        let (factor, rest) = b.signless();
        let inverse = Polynomial::atom(self.number(Shape::Inverse(rest)));
        let one = Exact::one().checked_div(&factor).unwrap_or_else(Exact::one);
        self.product(a, &inverse.scaled(&one))
    }

    /// The size of a number: that of its opposite is the same.
    pub fn size(&mut self, of: &Polynomial) -> Polynomial {
        if let Some(constant) = of.as_constant() {
            return Polynomial::constant(constant.abs());
        }
        let (factor, rest) = of.signless();
        let size = self.opaque(Function::Abs, vec![Form::Number(rest)]);
        size.scaled(&factor.abs())
    }

    /// The sum of a series: as often its mean as it has readings, where that is known.
    pub fn sum_of(&mut self, series: Atom) -> Polynomial {
        let of = vec![Form::Value(series)];
        match self.repeat_of(series) {
            Some(n) => self
                .opaque(Function::Mean, of)
                .scaled(&Exact::from(i64::from(n))),
            None => self.opaque(Function::Sum, of),
        }
    }

    /// One condition where another holds, else a third.
    pub fn either(&mut self, condition: Formula, a: Formula, b: Formula) -> Formula {
        // The condition stands in it twice: nested, that would double without end.
        if condition.size(MAX_PARTS) + a.size(MAX_PARTS) + b.size(MAX_PARTS) > MAX_PARTS {
            let (a, b) = (Box::new(Form::Truth(a)), Box::new(Form::Truth(b)));
            return Formula::Truth(self.number(Shape::If(condition, a, b)));
        }
        let not = condition.clone().negated();
        Formula::any(vec![
            Formula::all(vec![condition, a]),
            Formula::all(vec![not, b]),
        ])
    }

    /// A sum against zero, sizes, choices, and the greatest and least of several taken apart, so often at most.
    pub fn against_zero(&mut self, sum: &Polynomial, order: Order, apart: &mut usize) -> Formula {
        let spread = self.with_spread(sum);
        let formula = Formula::against_zero(&spread, order);
        let Formula::Number(of, order, bound) = &formula else {
            return formula;
        };
        if *apart == 0 {
            return formula;
        }
        if let Some((condition, a, b)) = self.chosen(of, bound) {
            *apart -= 1;
            let a = self.against_zero(&a, *order, apart);
            let b = self.against_zero(&b, *order, apart);
            return self.either(condition, a, b);
        }
        let Some(Shape::Call(function, parts)) = of.as_atom().map(|a| self.shape(a).clone()) else {
            return formula;
        };
        let alone = parts.len() == 1;
        let numbers: Option<Vec<Polynomial>> = parts.iter().map(|p| as_number(p, alone)).collect();
        *apart -= 1;
        match (function, numbers) {
            (Function::Abs, Some(numbers)) => self.size_against(&numbers[0], *order, bound, apart),
            (Function::Min | Function::Max, Some(numbers)) if numbers.len() > 1 => {
                let each = |n: &Polynomial| n.clone().plus(&Polynomial::constant(-bound.clone()));
                let above = matches!(order, Order::Above | Order::AtLeast);
                if *order == Order::At {
                    return formula;
                }
                let parts = numbers
                    .iter()
                    .map(|n| self.against_zero(&each(n), *order, apart))
                    .collect();
                match above == (function == Function::Min) {
                    true => Formula::all(parts),
                    false => Formula::any(parts),
                }
            }
            _ => formula,
        }
    }

    /// Two sums less a bound, one for each of what a choice in a sum comes to.
    fn chosen(&self, of: &Polynomial, bound: &Exact) -> Option<(Formula, Polynomial, Polynomial)> {
        let choice = of.atoms().find_map(|atom| match self.shape(atom) {
            Shape::If(condition, a, b) => match (&**a, &**b) {
                (Form::Number(a), Form::Number(b)) => Some((atom, condition, a, b)),
                _ => None,
            },
            _ => None,
        });
        let (atom, condition, a, b) = choice?;
        let less = |by: &Polynomial| {
            let sum = of.with(atom, by)?;
            Some(sum.plus(&Polynomial::constant(-bound.clone())))
        };
        Some((condition.clone(), less(a)?, less(b)?))
    }

    /// The greatest of a series less the least of it is its range.
    fn with_spread(&mut self, sum: &Polynomial) -> Polynomial {
        let ends = |values: &Self, wanted: Function| -> Vec<(Atom, Vec<Form>, Exact)> {
            let end = |(product, factor): (&Vec<(Atom, u32)>, &Exact)| match product[..] {
                [(atom, 1)] => match values.shape(atom) {
                    Shape::Call(function, parts) if *function == wanted && parts.len() == 1 => {
                        Some((atom, parts.clone(), factor.clone()))
                    }
                    _ => None,
                },
                _ => None,
            };
            sum.terms().filter_map(end).collect()
        };
        let (greatest, least) = (ends(self, Function::Max), ends(self, Function::Min));
        let mut spread = sum.clone();
        for (high, parts, factor) in greatest {
            let opposite = |(_, other, f): &&(Atom, Vec<Form>, Exact)| {
                *other == parts && *f == -factor.clone()
            };
            if let Some((low, ..)) = least.iter().find(opposite) {
                let range = self.opaque(Function::Range, parts.clone()).scaled(&factor);
                let ends = Polynomial::atom(high).plus(&Polynomial::atom(*low).negative());
                spread = spread.plus(&ends.scaled(&-factor)).plus(&range);
            }
        }
        spread
    }

    /// `abs(x) <= b` by the conditions on x.
    fn size_against(
        &mut self,
        of: &Polynomial,
        order: Order,
        bound: &Exact,
        apart: &mut usize,
    ) -> Formula {
        let less = |by: &Exact| of.clone().plus(&Polynomial::constant(-by.clone()));
        let (high, low) = (less(bound), less(&-bound.clone()));
        let mut both = |low_order, high_order| {
            vec![
                self.against_zero(&low, low_order, apart),
                self.against_zero(&high, high_order, apart),
            ]
        };
        let negative = bound.is_negative();
        match order {
            Order::AtMost if !negative => Formula::all(both(Order::AtLeast, Order::AtMost)),
            Order::Below if !negative => Formula::all(both(Order::Above, Order::Below)),
            Order::At if !negative => Formula::any(both(Order::At, Order::At)),
            Order::AtLeast if !negative => Formula::any(both(Order::AtMost, Order::AtLeast)),
            Order::Above if !negative => Formula::any(both(Order::Below, Order::Above)),
            Order::AtLeast | Order::Above => Formula::Always(true),
            _ => Formula::Always(false),
        }
    }
}

fn as_number(form: &Form, alone: bool) -> Option<Polynomial> {
    match form {
        Form::Number(sum) => Some(sum.clone()),
        Form::Value(atom) if alone => Some(Polynomial::atom(*atom)),
        _ => None,
    }
}
