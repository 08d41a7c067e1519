//! Sums of products of values with exact coefficients: one normal form for all ways of writing the same arithmetic.
//!
//! Never in here: what the values are. Changes when more arithmetic is to be recognised as the same.

use std::collections::BTreeMap;

use crate::quantity::Exact;

/// A value that is not taken apart, by its number.
pub type Atom = u32;

/// Most terms that multiplying out may come to.
const MAX_TERMS: usize = 64;
/// Highest power that is multiplied out.
const MAX_POWER: u32 = 16;

/// A product of values: each with its power, in order; empty for a constant.
pub type Product = Vec<(Atom, u32)>;

/// A sum of products, in SI.
#[derive(Clone, Debug, Default, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Polynomial(BTreeMap<Product, Exact>);

impl Polynomial {
    /// A constant.
    pub fn constant(value: Exact) -> Self {
        let mut sum = Self::default();
        sum.add_term(Vec::new(), value);
        sum
    }

    /// A value.
    pub fn atom(atom: Atom) -> Self {
        Self(BTreeMap::from([(vec![(atom, 1)], Exact::one())]))
    }

    fn add_term(&mut self, product: Product, factor: Exact) {
        let sum = self.0.remove(&product).unwrap_or_default() + factor;
        if !sum.is_zero() {
            self.0.insert(product, sum);
        }
    }

    /// The products with their factors.
    pub fn terms(&self) -> impl Iterator<Item = (&Product, &Exact)> {
        self.0.iter()
    }

    /// The values in it.
    pub fn atoms(&self) -> impl Iterator<Item = Atom> {
        self.0.keys().flatten().map(|(atom, _)| *atom)
    }

    /// The constant that it is, if it is one.
    pub fn as_constant(&self) -> Option<Exact> {
        match self.0.len() {
            0 => Some(Exact::zero()),
            1 => self.0.get(&Vec::new()).cloned(),
            _ => None,
        }
    }

    /// The value that it is, if it is nothing but one.
    pub fn as_atom(&self) -> Option<Atom> {
        let (product, factor) = self.only()?;
        match product[..] {
            [(atom, 1)] if *factor == Exact::one() => Some(atom),
            _ => None,
        }
    }

    fn only(&self) -> Option<(&Product, &Exact)> {
        let mut terms = self.0.iter();
        terms.next().filter(|_| terms.next().is_none())
    }

    /// The sum.
    pub fn plus(mut self, other: &Self) -> Self {
        for (product, factor) in &other.0 {
            self.add_term(product.clone(), factor.clone());
        }
        self
    }

    /// All factors multiplied by a number.
    pub fn scaled(&self, by: &Exact) -> Self {
        let mut scaled = Self::default();
        for (product, factor) in &self.0 {
            scaled.add_term(product.clone(), factor.clone() * by.clone());
        }
        scaled
    }

    /// With its sign turned.
    pub fn negative(&self) -> Self {
        self.scaled(&-Exact::one())
    }

    /// The product; nothing where it grows too large.
    pub fn times(&self, other: &Self) -> Option<Self> {
        if self.0.len() * other.0.len() > MAX_TERMS {
            return None;
        }
        let mut all = Self::default();
        for (a, x) in &self.0 {
            for (b, y) in &other.0 {
                all.add_term(merged(a, b)?, x.clone() * y.clone());
            }
        }
        let small = all.0.values().all(|factor| !factor.is_oversized());
        small.then_some(all)
    }

    /// With a sum in place of one of its values; nothing where it grows too large.
    pub fn with(&self, atom: Atom, by: &Self) -> Option<Self> {
        let mut all = Self::default();
        for (product, factor) in &self.0 {
            let power = product
                .iter()
                .find(|(a, _)| *a == atom)
                .map_or(0, |(_, n)| *n);
            let rest = product
                .iter()
                .filter(|(a, _)| *a != atom)
                .copied()
                .collect();
            let rest = Self(BTreeMap::from([(rest, factor.clone())]));
            all = all.plus(&rest.times(&by.power(power)?)?);
        }
        (all.0.len() <= MAX_TERMS).then_some(all)
    }

    /// A whole power; nothing where it grows too large.
    pub fn power(&self, n: u32) -> Option<Self> {
        if n > MAX_POWER {
            return None;
        }
        (0..n).try_fold(Self::constant(Exact::one()), |power, _| power.times(self))
    }

    /// Taken apart as `factor · (rest) + constant`, where the first factor of the rest is one; nothing for a constant.
    pub fn apart(&self) -> Option<(Exact, Self, Exact)> {
        let mut rest = self.clone();
        let constant = rest.0.remove(&Vec::new()).unwrap_or_default();
        let factor = rest.0.values().next()?.clone();
        let one = Exact::one().checked_div(&factor)?;
        Some((factor, rest.scaled(&one), constant))
    }

    /// With a first factor of one, the constant among the rest; what is left of a size when its sign does not count.
    pub fn signless(&self) -> (Exact, Self) {
        let first = self.0.iter().find(|(product, _)| !product.is_empty());
        let Some((_, factor)) = first.or_else(|| self.0.iter().next()) else {
            return (Exact::one(), self.clone());
        };
        let factor = factor.clone();
        let one = Exact::one().checked_div(&factor).unwrap_or_else(Exact::one);
        (factor, self.scaled(&one))
    }
}

fn merged(a: &Product, b: &Product) -> Option<Product> {
    let mut powers: BTreeMap<Atom, u32> = a.iter().copied().collect();
    for (atom, power) in b {
        let sum = powers.entry(*atom).or_default();
        *sum = sum.checked_add(*power)?;
    }
    Some(powers.into_iter().collect())
}
