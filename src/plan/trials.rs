//! The distribution of what an expression gives, by drawing errors at random: JCGM 101:2008.
//!
//! Done where first order may not be enough: each source of error is moved by its standard uncertainty in turn, then all of
//! them together, and if the result does not move as its sensitivities say, errors are drawn. The seed is fixed, so that a
//! record can be computed again.
//! Never in here: what sources there are. Changes when a distribution is added.

use std::cell::RefCell;
use std::collections::BTreeMap;

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{RngCore, SeedableRng};

use crate::maths::Linear;

use super::model::{Model, are_straight};
use super::target::Target;
use super::uncertainty::{Shape, Sources, Uncertainty};
use super::{Node, Scope};

/// Draws of one check.
pub const TRIALS: usize = 20_000;
/// The seed of the random numbers.
pub const SEED: u64 = 101_2008;
/// The largest share of the standard uncertainty that the result may stray from its sensitivities by.
const STRAY: f64 = 0.05;
/// The share of a result that the rounding of doubles may come to.
const ROUNDING: f64 = 1e-12;
/// How often all sources are moved together, up or down at random: products of errors show only so.
const MOVED_TOGETHER: usize = 32;
/// Most sources for which each is moved alone, and for which errors are drawn.
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
    let targets = [Target::Value(node)];
    match distances(&targets, scope, &|_| true) {
        Distances::Drawn { each, .. } => each.into_iter().next(),
        Distances::FirstOrder | Distances::Refused(_) => None,
    }
}

/// What drawing errors for distances came to.
#[derive(Clone, Debug, PartialEq)]
pub enum Distances {
    /// Errors move them as their sensitivities say: first order is enough.
    FirstOrder,
    /// They were drawn, all with the same errors.
    Drawn {
        /// What came of each.
        each: Vec<Trials>,
        /// The share of the draws in which they are inside.
        inside: f64,
    },
    /// They would have to be drawn, and can't be; why.
    Refused(&'static str),
}

/// Draws errors for targets, where first order may not be enough for one of them; `inside` says of the numbers of a draw
/// whether they count as inside.
#[must_use]
pub fn distances(
    targets: &[Target<'_>],
    scope: &dyn Scope,
    inside: &dyn Fn(&[f64]) -> bool,
) -> Distances {
    let Straying {
        mut model,
        first_order,
        sources,
    } = match straying(targets, scope) {
        Ok(Some(straying)) => straying,
        Ok(None) => return Distances::FirstOrder,
        Err(why) => return Distances::Refused(why),
    };
    let mut draws = Draws::new(&sources.borrow(), &model.sources);
    let mut results: Vec<Vec<f64>> = vec![Vec::with_capacity(TRIALS); targets.len()];
    let mut count_inside = 0;
    for _ in 0..TRIALS {
        draws.next(&mut model.errors);
        // A draw outside the domain of a formula is no result; where there are many, nothing is said.
        let Some(numbers) = model.results() else {
            continue;
        };
        count_inside += usize::from(inside(&numbers));
        let columns = results.iter_mut().zip(&numbers);
        columns.for_each(|(column, number)| column.push(*number));
    }
    let count = results.first().map_or(0, Vec::len);
    if count < TRIALS * 9 / 10 {
        return Distances::Refused("too many of the errors that were drawn give no result");
    }
    let summed = results.into_iter().zip(&first_order).map(|(drawn, first)| {
        let uncertainty = sources.borrow().uncertainty(first);
        summed_up(drawn, first.value, uncertainty)
    });
    Distances::Drawn {
        each: summed.collect(),
        inside: count_inside as f64 / count as f64,
    }
}

/// Whether first order is enough for targets, as far as that can be told.
#[must_use]
pub fn is_first_order_enough(targets: &[Target<'_>], scope: &dyn Scope) -> bool {
    matches!(straying(targets, scope), Ok(None))
}

/// What errors are to be drawn for.
struct Straying<'a> {
    model: Model<'a>,
    first_order: Vec<Linear>,
    sources: &'a RefCell<Sources>,
}

/// The model of targets that errors are to be drawn for; nothing where first order is enough.
fn straying<'a>(
    targets: &'a [Target<'a>],
    scope: &'a dyn Scope,
) -> Result<Option<Straying<'a>>, &'static str> {
    if are_straight(targets, scope) {
        return Ok(None);
    }
    let first_order: Result<Vec<Linear>, _> =
        targets.iter().map(|t| t.first_order(scope)).collect();
    let (Ok(first_order), Some((sources, _))) = (first_order, scope.sources()) else {
        return Ok(None);
    };
    let Some(mut model) = Model::of(targets, scope) else {
        return Err("it was computed from too many values to draw errors for it");
    };
    if model.sources.is_empty() || !strays(&mut model, &first_order) {
        return Ok(None);
    }
    if model.sources.len() > MAX_SOURCES {
        return Err("too many sources of error act on it to draw errors for it");
    }
    Ok(Some(Straying {
        model,
        first_order,
        sources,
    }))
}

/// Whether results move otherwise than their sensitivities say, when sources err by their standard uncertainty one at a
/// time, or when all err at once.
fn strays(model: &mut Model<'_>, first_order: &[Linear]) -> bool {
    let few = model.sources.len() <= MAX_SOURCES;
    (few && strays_alone(model, first_order)) || strays_together(model, first_order)
}

fn strays_alone(model: &mut Model<'_>, first_order: &[Linear]) -> bool {
    let mut squares = vec![0.0; first_order.len()];
    for at in 0..model.sources.len() {
        for sign in [1.0, -1.0] {
            model.errors[at] = sign;
            let off = leftover(model, first_order);
            model.errors[at] = 0.0;
            let Some(off) = off else { return true };
            let sums = squares.iter_mut().zip(off);
            sums.for_each(|(sum, off)| *sum += off.powi(2) / 2.0);
        }
    }
    too_far(&squares, first_order)
}

/// All sources at once. The mean square of what is left over signs at random is the sum of the squares of the terms of
/// products, as those of second order in JCGM 100:2008, 5.1.2, note, are.
fn strays_together(model: &mut Model<'_>, first_order: &[Linear]) -> bool {
    let mut random = ChaCha8Rng::seed_from_u64(SEED);
    let mut squares = vec![0.0; first_order.len()];
    for _ in 0..MOVED_TOGETHER {
        for error in &mut model.errors {
            *error = f64::from(random.next_u32() >> 31) * 2.0 - 1.0;
        }
        let Some(off) = leftover(model, first_order) else {
            return true;
        };
        let sums = squares.iter_mut().zip(off);
        sums.for_each(|(sum, off)| *sum += off.powi(2) / MOVED_TOGETHER as f64);
    }
    too_far(&squares, first_order)
}

/// By how much results differ from what their sensitivities say; nothing where one has no result.
fn leftover(model: &mut Model<'_>, first_order: &[Linear]) -> Option<Vec<f64>> {
    let moved = model.results()?;
    let expected = first_order.iter().map(|f| f.shifted(|s| model.error(s)));
    Some(moved.iter().zip(expected).map(|(m, e)| m - e).collect())
}

fn too_far(squares: &[f64], first_order: &[Linear]) -> bool {
    let far = |(square, first): (&f64, &Linear)| {
        square.sqrt() > STRAY * first.standard() + ROUNDING * first.value.abs()
    };
    squares.iter().zip(first_order).any(far)
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
