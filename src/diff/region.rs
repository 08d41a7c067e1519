//! What two conditions accept, held against each other: by values that stand for all others.
//!
//! The bounds that both name cut the line of each value into points and gaps; a condition is the same all over a gap, so
//! that one value of each tells all. Never in here: steps. Changes when values are found to depend on each other otherwise.

use std::collections::{BTreeMap, BTreeSet};

use crate::quantity::Exact;

use super::formula::{Axis, Formula, Order};
use super::polynomial::Polynomial;
use super::values::Values;

/// Most combinations of values that are tried.
const MAX_SAMPLES: usize = 5_000;

/// How what is accepted now differs from what was.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Change {
    /// Not at all.
    Same,
    /// Less is accepted.
    Tightened,
    /// More is accepted.
    Loosened,
    /// Some that was accepted is not, and the other way about.
    Shifted,
    /// That can't be told, and why.
    Undecided(&'static str),
}

/// A value for an axis.
#[derive(Clone, Debug)]
enum Sample {
    Number(Exact),
    Truth(bool),
    Text(String),
}

/// Values for some axes, and whether they can all be had at once for sure.
#[derive(Clone, Debug, Default)]
struct Point {
    at: BTreeMap<usize, Sample>,
    sure: bool,
}

/// A formula with its axes by number.
enum Indexed<'f> {
    Always(bool),
    Number(usize, Order, &'f Exact),
    Truth(usize),
    Text(usize, &'f BTreeSet<String>),
    Not(Box<Self>),
    All(Vec<Self>),
    Any(Vec<Self>),
}

impl Indexed<'_> {
    fn holds(&self, point: &Point) -> bool {
        match self {
            Self::Always(truth) => *truth,
            Self::Number(at, order, bound) => {
                matches!(point.at.get(at), Some(Sample::Number(x)) if order.holds(x, bound))
            }
            Self::Truth(at) => matches!(point.at.get(at), Some(Sample::Truth(true))),
            Self::Text(at, texts) => {
                matches!(point.at.get(at), Some(Sample::Text(text)) if texts.contains(text))
            }
            Self::Not(inner) => !inner.holds(point),
            Self::All(parts) => parts.iter().all(|p| p.holds(point)),
            Self::Any(parts) => parts.iter().any(|p| p.holds(point)),
        }
    }
}

/// What is known of the conditions together.
struct Space<'a> {
    values: &'a Values,
    axes: Vec<Axis>,
    numbers: BTreeMap<Axis, usize>,
    bounds: Vec<Vec<Exact>>,
    texts: Vec<BTreeSet<String>>,
}

/// Holds what `new` accepts against what `old` did.
pub fn compare(old: &Formula, new: &Formula, values: &Values) -> Change {
    if old == new {
        return Change::Same;
    }
    let space = Space::of(&[old, new], values);
    let Some(points) = space.points() else {
        return Change::Undecided("it has too many parts to be taken apart");
    };
    let (mut lost, mut gained) = (Seen::default(), Seen::default());
    let (before, now) = (space.indexed(old), space.indexed(new));
    for point in &points {
        let (was, is) = (before.holds(point), now.holds(point));
        lost.see(was && !is, point.sure);
        gained.see(is && !was, point.sure);
    }
    match (lost, gained) {
        (Seen::No, Seen::No) => Change::Same,
        (Seen::Sure, Seen::No) => Change::Tightened,
        (Seen::No, Seen::Sure) => Change::Loosened,
        (Seen::Sure, Seen::Sure) if axes_of(old) == axes_of(new) => Change::Shifted,
        (Seen::Sure, Seen::Sure) => Change::Undecided("it is about another value than before"),
        _ if axes_of(old) != axes_of(new) => Change::Undecided(
            "it is about another value than before, which may rest on the same reading",
        ),
        _ => Change::Undecided("its values depend on each other, or can't be told ahead"),
    }
}

#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
enum Seen {
    #[default]
    No,
    Maybe,
    Sure,
}

impl Seen {
    fn see(&mut self, seen: bool, sure: bool) {
        let now = match (seen, sure) {
            (false, _) => Self::No,
            (true, false) => Self::Maybe,
            (true, true) => Self::Sure,
        };
        *self = (*self).max(now);
    }
}

/// What a condition is about.
pub fn axes_of(formula: &Formula) -> BTreeSet<Axis> {
    let mut axes = BTreeSet::new();
    formula.visit(&mut |axis, _| _ = axes.insert(axis));
    axes
}

/// The numbers that a condition on one number accepts: runs with their ends, which are inside or not; nothing where it is
/// about something else.
pub fn accepted(formula: &Formula, values: &Values) -> Option<(Polynomial, Vec<Run>)> {
    let space = Space::of(&[formula], values);
    let [Axis::Number(of)] = &space.axes[..] else {
        return None;
    };
    let mut bounds = space.bounds[0].clone();
    bounds.sort();
    bounds.dedup();
    // All numbers, whatever can be had: the ends are to be those that the author wrote.
    let samples = super::reach::Reach::any().samples(&bounds);
    let indexed = space.indexed(formula);
    let mut runs: Vec<Run> = Vec::new();
    let mut open = false;
    for (n, sample) in samples.iter().enumerate() {
        let point = Point {
            at: BTreeMap::from([(0, Sample::Number(sample.clone()))]),
            sure: true,
        };
        let inside = indexed.holds(&point);
        // Samples are: before the first bound, it, between it and the next, and so on.
        let bound = |n: usize| bounds.get(n / 2).cloned();
        match (inside, open) {
            (true, false) => runs.push(Run {
                low: if n % 2 == 1 {
                    bound(n - 1).map(|b| (b, true))
                } else {
                    n.checked_sub(1)
                        .and_then(|n| bound(n - 1))
                        .map(|b| (b, false))
                },
                high: None,
            }),
            (false, true) => {
                if let Some(run) = runs.last_mut() {
                    run.high = if n % 2 == 1 {
                        bound(n - 1).map(|b| (b, false))
                    } else {
                        bound(n - 2).map(|b| (b, true))
                    };
                }
            }
            _ => {}
        }
        open = inside;
    }
    Some((of.clone(), runs))
}

/// Accepted numbers: each end with whether it is accepted itself.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Run {
    /// The lower end.
    pub low: Option<(Exact, bool)>,
    /// The upper end.
    pub high: Option<(Exact, bool)>,
}

impl<'a> Space<'a> {
    fn of(formulas: &[&Formula], values: &'a Values) -> Self {
        let mut space = Self {
            values,
            axes: Vec::new(),
            numbers: BTreeMap::new(),
            bounds: Vec::new(),
            texts: Vec::new(),
        };
        for formula in formulas {
            formula.visit(&mut |axis, condition| space.note(axis, condition));
        }
        space
    }

    fn note(&mut self, axis: Axis, condition: &Formula) {
        let at = *self.numbers.entry(axis.clone()).or_insert_with(|| {
            self.axes.push(axis);
            self.bounds.push(Vec::new());
            self.texts.push(BTreeSet::new());
            self.axes.len() - 1
        });
        match condition {
            Formula::Number(_, _, bound) => self.bounds[at].push(bound.clone()),
            Formula::Text(_, texts) => self.texts[at].extend(texts.iter().cloned()),
            _ => {}
        }
    }

    /// The formula with its axes by number: it is asked for many points.
    fn indexed<'f>(&self, formula: &'f Formula) -> Indexed<'f> {
        let at = |axis: &Axis| self.numbers.get(axis).copied().unwrap_or(usize::MAX);
        let all = |parts: &'f [Formula]| parts.iter().map(|p| self.indexed(p)).collect();
        match formula {
            Formula::Always(truth) => Indexed::Always(*truth),
            Formula::Number(of, order, bound) => {
                Indexed::Number(at(&Axis::Number(of.clone())), *order, bound)
            }
            Formula::Truth(of) => Indexed::Truth(at(&Axis::Truth(*of))),
            Formula::Text(of, texts) => Indexed::Text(at(&Axis::Text(*of)), texts),
            Formula::Not(inner) => Indexed::Not(Box::new(self.indexed(inner))),
            Formula::All(parts) => Indexed::All(all(parts)),
            Formula::Any(parts) => Indexed::Any(all(parts)),
        }
    }

    /// Values for all axes that stand for all others; nothing where there are too many.
    fn points(&self) -> Option<Vec<Point>> {
        let mut all = vec![Point {
            sure: true,
            ..Point::default()
        }];
        for group in self.groups() {
            let points = self.points_of(&group)?;
            if all.len().checked_mul(points.len())? > MAX_SAMPLES {
                return None;
            }
            all = product(&all, &points);
        }
        Some(all)
    }

    /// The axes, those together that rest on a common reading.
    fn groups(&self) -> Vec<Vec<usize>> {
        let mut groups: Vec<(BTreeSet<usize>, Vec<usize>)> = Vec::new();
        if self.axes.len() == 1 {
            return vec![vec![0]];
        }
        for (at, axis) in self.axes.iter().enumerate() {
            let mut readings = self.values.readings_behind(match axis {
                Axis::Number(sum) => sum.atoms().collect(),
                Axis::Truth(atom) | Axis::Text(atom) => vec![*atom],
            });
            let (mut together, apart): (Vec<_>, Vec<_>) = groups
                .into_iter()
                .partition(|(behind, _)| !behind.is_disjoint(&readings));
            groups = apart;
            let mut axes = vec![at];
            for (behind, inside) in together.drain(..) {
                readings.extend(behind);
                axes.extend(inside);
            }
            axes.sort_unstable();
            groups.push((readings, axes));
        }
        groups.into_iter().map(|(_, axes)| axes).collect()
    }

    fn points_of(&self, group: &[usize]) -> Option<Vec<Point>> {
        let mut all = vec![Point {
            sure: group.len() == 1 || self.is_independent(group),
            ..Point::default()
        }];
        for axis in group {
            let points = self.points_on(*axis);
            if all.len().checked_mul(points.len())? > MAX_SAMPLES {
                return None;
            }
            all = product(&all, &points);
        }
        all.extend(self.alike(group));
        Some(all)
    }

    fn points_on(&self, axis: usize) -> Vec<Point> {
        let point = |sure: bool, sample: Sample| Point {
            at: BTreeMap::from([(axis, sample)]),
            sure,
        };
        match &self.axes[axis] {
            Axis::Number(of) => {
                let reach = self.values.reach(of);
                let samples = reach.samples(&self.bounds[axis]);
                let sure = reach.is_known();
                samples
                    .into_iter()
                    .map(|s| point(sure, Sample::Number(s)))
                    .collect()
            }
            Axis::Truth(atom) => {
                let sure = matches!(self.values.shape(*atom), super::values::Shape::Reading(_));
                [false, true].map(|t| point(sure, Sample::Truth(t))).into()
            }
            Axis::Text(_) => {
                // A text that nobody wrote stands for all others.
                let other = std::iter::once("\u{0}".to_owned());
                let texts = self.texts[axis].iter().cloned().chain(other);
                texts.map(|t| point(true, Sample::Text(t))).collect()
            }
        }
    }

    /// Whether any values of the axes can be had at once: each brings a reading of its own, when taken in some order.
    fn is_independent(&self, group: &[usize]) -> bool {
        let sums: Option<Vec<&Polynomial>> = group
            .iter()
            .map(|axis| match &self.axes[*axis] {
                Axis::Number(sum) => Some(sum),
                _ => None,
            })
            .collect();
        let Some(mut rest) = sums else {
            return false;
        };
        let linear = |sum: &Polynomial| -> Option<BTreeSet<u32>> {
            let atom = |(product, _): (&Vec<(u32, u32)>, &Exact)| match product[..] {
                [(atom, 1)] if self.values.is_free_reading(atom) => Some(atom),
                _ => None,
            };
            sum.terms().map(atom).collect()
        };
        while !rest.is_empty() {
            let all: Option<Vec<BTreeSet<u32>>> = rest.iter().map(|s| linear(s)).collect();
            let Some(all) = all else {
                return false;
            };
            let own = |at: usize| {
                let others = all.iter().enumerate().filter(|(n, _)| *n != at);
                let others: BTreeSet<u32> =
                    others.flat_map(|(_, set)| set.iter().copied()).collect();
                !all[at].is_subset(&others)
            };
            let Some(at) = (0..rest.len()).find(|at| own(*at)) else {
                return false;
            };
            rest.remove(at);
        }
        true
    }

    /// Series whose values are all alike: their mean, least and greatest are one, and their spread is none.
    fn alike(&self, group: &[usize]) -> Vec<Point> {
        let of = |axis: &usize| match &self.axes[*axis] {
            Axis::Number(sum) => {
                let (series, is_level) = self.values.alike(sum)?;
                Some((*axis, series, is_level, self.values.reach(sum)))
            }
            _ => None,
        };
        let Some(all) = group.iter().map(of).collect::<Option<Vec<_>>>() else {
            return Vec::new();
        };
        let Some((_, series, ..)) = all.first() else {
            return Vec::new();
        };
        if group.len() < 2 || all.iter().any(|(_, other, ..)| other != series) {
            return Vec::new();
        }
        let levels = || all.iter().filter(|(_, _, is_level, _)| *is_level);
        let bounds: Vec<Exact> = levels()
            .flat_map(|(axis, ..)| self.bounds[*axis].clone())
            .collect();
        let Some((.., reach)) = levels().find(|(.., reach)| reach.is_known()) else {
            return Vec::new();
        };
        let point = |level: Exact| Point {
            at: all
                .iter()
                .map(|(axis, _, is_level, _)| {
                    let value = if *is_level {
                        level.clone()
                    } else {
                        Exact::zero()
                    };
                    (*axis, Sample::Number(value))
                })
                .collect(),
            sure: true,
        };
        let mut samples = reach.samples(&bounds);
        samples.retain(|x| levels().all(|(.., reach)| reach.has(x)));
        samples.into_iter().map(point).collect()
    }
}

fn product(all: &[Point], points: &[Point]) -> Vec<Point> {
    let both = |a: &Point, b: &Point| Point {
        at: a
            .at
            .iter()
            .chain(&b.at)
            .map(|(axis, s)| (*axis, s.clone()))
            .collect(),
        sure: a.sure && b.sure,
    };
    all.iter()
        .flat_map(|a| points.iter().map(move |b| both(a, b)))
        .collect()
}
