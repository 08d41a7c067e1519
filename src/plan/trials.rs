//! The distribution of what an expression gives, by drawing errors at random: JCGM 101:2008.
//!
//! Done where first order may not be enough: each source of error is moved by its standard uncertainty in turn, then all of
//! them together, and if the result does not move as its sensitivities say, errors are drawn. The seed is fixed, so that a
//! record can be computed again.
//! Never in here: what sources there are. Changes when a distribution is added.

use std::collections::{BTreeMap, BTreeSet};

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{RngCore, SeedableRng};

use crate::maths::Linear;

use super::evaluate::Outcome;
use super::propagate::{Numbers, deviation_of_repeats, numbers, over_list, walk};
use super::uncertainty::{Cause, Shape, Source, Sources, Spread, Uncertainty};
use super::{Function, Node, Scope, propagate};

/// Draws of one check.
pub const TRIALS: usize = 20_000;
/// The seed of the random numbers.
pub const SEED: u64 = 101_2008;
/// The largest share of the standard uncertainty that the result may stray from its sensitivities by.
const STRAY: f64 = 0.05;
/// How often all sources are moved together, up or down at random: products of errors show only so.
const MOVED_TOGETHER: usize = 32;
/// Most sources for which this is looked at.
const MAX_SOURCES: usize = 200;
/// The probability that an interval covers.
const COVERED: f64 = 0.9545;

/// What drawing errors gave, in SI units.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Trials {
    /// The standard deviation of the results.
    pub standard_si: f64,
    /// The lower end of the interval that leaves as many results below it as above the upper end.
    pub low_si: f64,
    /// The upper end.
    pub high_si: f64,
    /// Whether value ± U agrees with the interval to one significant digit of u (JCGM 101:2008, 8.1.3).
    pub agrees: bool,
}

/// Draws errors for a part of an expression, where first order may not be enough for it; else nothing.
#[must_use]
pub fn trials(node: &Node, scope: &dyn Scope) -> Option<Trials> {
    let first_order = propagate(node, scope).ok()?.as_number()?.clone();
    let (sources, _) = scope.sources()?;
    let mut drawing = Drawing::of(node, scope, &first_order);
    let count = drawing.sources.len();
    if count == 0 || count > MAX_SOURCES || !drawing.strays(&first_order) {
        return None;
    }
    let mut draws = Draws::new(&sources.borrow(), &drawing.sources);
    let mut results = Vec::with_capacity(TRIALS);
    for _ in 0..TRIALS {
        draws.next(&mut drawing.errors);
        // A draw outside the domain of a formula is no result; where there are many, nothing is said.
        results.extend(drawing.result());
    }
    if results.len() < TRIALS * 9 / 10 {
        return None;
    }
    let uncertainty = sources.borrow().uncertainty(&first_order);
    Some(summed_up(results, first_order.value, uncertainty))
}

/// An expression with the sources that act on it and an error for each of them.
struct Drawing<'a> {
    node: &'a Node,
    scope: &'a dyn Scope,
    /// What the names stand for, looked up once.
    names: BTreeMap<usize, Spread>,
    /// The sources, in rising order.
    sources: Vec<u32>,
    /// Their errors, in multiples of their standard uncertainties.
    errors: Vec<f64>,
}

impl<'a> Drawing<'a> {
    fn of(node: &'a Node, scope: &'a dyn Scope, first_order: &Linear) -> Self {
        let mut indices = BTreeSet::new();
        collect_names(node, &mut indices);
        let spreads = indices.into_iter();
        let names: BTreeMap<usize, Spread> = spreads
            .filter_map(|n| Some((n, scope.spread(n).ok()?)))
            .collect();
        let of_names = names.values().flat_map(|s| s.numbers());
        let parts = of_names.chain([first_order]).flat_map(|n| &n.parts);
        let sources: BTreeSet<u32> = parts.map(|(source, _)| *source).collect();
        Self {
            node,
            scope,
            names,
            errors: vec![0.0; sources.len()],
            sources: sources.into_iter().collect(),
        }
    }

    fn error(&self, source: u32) -> f64 {
        let at = self.sources.binary_search(&source);
        at.map_or(0.0, |at| self.errors[at])
    }

    /// What the expression gives for these errors.
    fn result(&self) -> Option<f64> {
        let found = walk::<f64>(self.node, self).ok()?.as_number().copied();
        found.filter(|f| f.is_finite())
    }

    /// Whether the result moves otherwise than its sensitivities say when sources err by their standard uncertainty.
    fn strays(&mut self, first_order: &Linear) -> bool {
        let mut squares = 0.0;
        for at in 0..self.sources.len() {
            for sign in [1.0, -1.0] {
                self.errors[at] = sign;
                let expected = first_order.shifted(|s| self.error(s));
                let moved = self.result();
                self.errors[at] = 0.0;
                let Some(moved) = moved else { return true };
                squares += (moved - expected).powi(2) / 2.0;
            }
        }
        f64::sqrt(squares) > STRAY * first_order.standard() || self.strays_together(first_order)
    }

    /// Whether the result moves otherwise than its sensitivities say when all sources err at once. The mean square of what
    /// is left over signs at random is the sum of the squares of the terms of products, as those of second order in JCGM
    /// 100:2008, 5.1.2, note, are.
    fn strays_together(&mut self, first_order: &Linear) -> bool {
        let mut random = ChaCha8Rng::seed_from_u64(SEED);
        let mut squares = 0.0;
        for _ in 0..MOVED_TOGETHER {
            for error in &mut self.errors {
                *error = f64::from(random.next_u32() >> 31) * 2.0 - 1.0;
            }
            let expected = first_order.shifted(|s| self.error(s));
            let Some(moved) = self.result() else {
                return true;
            };
            squares += (moved - expected).powi(2) / MOVED_TOGETHER as f64;
        }
        f64::sqrt(squares) > STRAY * first_order.standard()
    }

    fn shifted(&self, spread: &Spread) -> Spread<f64> {
        match spread {
            Spread::Number(number) => Spread::Number(number.shifted(|s| self.error(s))),
            Spread::List(items) => Spread::List(items.iter().map(|i| self.shifted(i)).collect()),
            Spread::Other(value) => Spread::Other(value.clone()),
        }
    }
}

fn collect_names(node: &Node, into: &mut BTreeSet<usize>) {
    match node {
        Node::Name(index) => _ = into.insert(*index),
        Node::Negate(of) | Node::Not(of) | Node::Power(of, _) => collect_names(of, into),
        Node::Binary(_, left, right) => {
            collect_names(left, into);
            collect_names(right, into);
        }
        Node::Call(_, parts) | Node::List(parts) => {
            parts.iter().for_each(|p| collect_names(p, into));
        }
        Node::Quantity(_) | Node::Text(_) | Node::Truth(_) => {}
    }
}

impl Numbers<f64> for Drawing<'_> {
    fn name(&self, index: usize) -> Outcome<Spread<f64>> {
        match self.names.get(&index) {
            Some(spread) => Ok(self.shifted(spread)),
            None => self.scope.value(index).map(|value| Spread::known(&value)),
        }
    }

    fn stated(&self, place: usize, value: f64, source: Source) -> f64 {
        let number = self
            .scope
            .sources()
            .and_then(|(sources, item)| sources.borrow().known(&Cause::Stated(item, place)));
        value + number.map_or(0.0, |n| self.error(n)) * source.standard_si
    }

    fn deviation(&self, arguments: &[Node]) -> Outcome<f64> {
        Ok(match deviation_of_repeats(arguments, self.scope) {
            Some(s) => s.shifted(|source| self.error(source)),
            None => over_list(Function::Sd, &numbers(arguments, self)?),
        })
    }

    fn of_linear(&self, number: Linear) -> f64 {
        number.shifted(|source| self.error(source))
    }

    fn scope(&self) -> &dyn Scope {
        self.scope
    }

    fn decides_exactly(&self) -> bool {
        false
    }
}

/// Random errors, in multiples of the standard uncertainties.
struct Draws {
    random: ChaCha8Rng,
    /// Shape and degrees of freedom of each source, and the series whose estimate it shares.
    sources: Vec<(Shape, f64, u32)>,
}

impl Draws {
    fn new(sources: &Sources, numbers: &[u32]) -> Self {
        let of = |number: &u32| match sources.source(*number) {
            Some(source) => (source.shape, source.freedom, sources.series(*number)),
            None => (Shape::Normal, f64::INFINITY, *number),
        };
        Self {
            random: ChaCha8Rng::seed_from_u64(SEED),
            sources: numbers.iter().map(of).collect(),
        }
    }

    fn next(&mut self, errors: &mut [f64]) {
        let mut scales: BTreeMap<u32, f64> = BTreeMap::new();
        for (at, error) in errors.iter_mut().enumerate() {
            let (shape, freedom, series) = self.sources[at];
            *error = match shape {
                Shape::Rectangular => (2.0 * self.uniform() - 1.0) * 3.0_f64.sqrt(),
                Shape::Normal => {
                    let scale = match scales.get(&series) {
                        Some(scale) => *scale,
                        None => *scales.entry(series).or_insert(self.scale(freedom)),
                    };
                    self.normal() * scale
                }
            };
        }
    }

    /// Evenly between 0 and 1, neither included.
    fn uniform(&mut self) -> f64 {
        ((self.random.next_u64() >> 11) as f64 + 0.5) / (1_u64 << 53) as f64
    }

    /// The standard normal distribution, after Box and Muller (1958).
    fn normal(&mut self) -> f64 {
        let (radius, angle) = (self.uniform(), self.uniform());
        (-2.0 * libm::log(radius)).sqrt() * libm::cos(std::f64::consts::TAU * angle)
    }

    /// √(ν/χ²_ν), which makes Student's t of a normal number (JCGM 101:2008, 6.4.9.4): an estimate from few readings.
    fn scale(&mut self, freedom: f64) -> f64 {
        const MANY: f64 = 1_000.0;
        if freedom > MANY {
            return 1.0;
        }
        let count = (freedom as usize).max(1);
        let squares: f64 = (0..count).map(|_| self.normal().powi(2)).sum();
        (count as f64 / squares).sqrt()
    }
}

fn summed_up(mut results: Vec<f64>, value: f64, uncertainty: Option<Uncertainty>) -> Trials {
    results.sort_by(f64::total_cmp);
    let n = results.len() as f64;
    let mean = results.iter().sum::<f64>() / n;
    let squares: f64 = results.iter().map(|r| (r - mean).powi(2)).sum();
    let tail = ((1.0 - COVERED) / 2.0 * n) as usize;
    let (low_si, high_si) = (results[tail], results[results.len() - 1 - tail]);
    let agrees = uncertainty.is_some_and(|u| {
        // Half a unit in the first digit of u.
        let tolerance = 10.0_f64.powf(u.standard_si.log10().floor()) / 2.0;
        let near = |a: f64, b: f64| (a - b).abs() <= tolerance;
        near(value - u.expanded_si, low_si) && near(value + u.expanded_si, high_si)
    });
    Trials {
        standard_si: (squares / (n - 1.0)).sqrt(),
        low_si,
        high_si,
        agrees,
    }
}
