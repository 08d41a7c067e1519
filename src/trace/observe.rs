//! What is odd in a series but no fault: gaps, times that stand twice, uneven spacing, falls.
//!
//! Never in here: mending any of it. Changes when another oddity is told.

use crate::quantity::{Kind, Unit};

use super::si::ToSi;

/// A spacing beyond so many times the median is a gap.
const GAP: f64 = 1.5;
/// A spacing that differs from the median by more than this part of it is uneven.
const UNEVEN: f64 = 0.01;
/// Spacings closer than this part of them are the same.
const ROUNDING: f64 = 1e-6;

/// What is odd.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Oddity {
    /// Spacings of more than 1.5 times the median; `largest` is the longest, in s.
    Gaps,
    /// Times that are the same as the one before.
    SameTimes,
    /// Spacings that differ from the median by more than 1 %, gaps not counted; `largest` is the largest difference, in s.
    UnevenSpacing,
    /// A mass or volume lower than the one before; `largest` is the largest fall, in SI.
    Falls,
    /// The heading names no unit, so that the unit wanted was taken.
    UnitTaken,
    /// The unit stated is not the heading's.
    UnitStated,
    /// Times with one colon were read as minutes and seconds.
    MinutesTaken,
}

/// Something odd, to be looked at by the person whose log it is.
#[derive(Clone, Debug, PartialEq)]
pub struct Observation {
    /// What.
    pub oddity: Oddity,
    /// The first line of the file where it is so, from 1.
    pub row: usize,
    /// The column of the file, from 1.
    pub column: usize,
    /// How often.
    pub count: usize,
    /// How much at most; zero where there is nothing to measure.
    pub largest: f64,
    /// All of it in words.
    pub message: String,
}

/// What is counted: the index of the reading where it first is so, how often, how much at most.
#[derive(Clone, Copy, Default)]
struct Tally {
    first: usize,
    count: usize,
    largest: f64,
}

impl Tally {
    fn add(&mut self, index: usize, size: f64) {
        if self.count == 0 {
            self.first = index;
        }
        self.count += 1;
        self.largest = self.largest.max(size);
    }

    fn counted(self, one: &str, many: &str) -> String {
        match self.count {
            1 => format!("1 {one}"),
            count => format!("{count} {many}"),
        }
    }
}

/// Looks at the spacing of times; `row_of` gives the line of a reading.
pub(super) fn spacing(
    times: impl Iterator<Item = f64> + Clone,
    column: usize,
    row_of: impl Fn(usize) -> usize,
) -> Vec<Observation> {
    let steps = steps(times);
    let Some(median) = median_spacing(steps.clone()) else {
        return Vec::new();
    };
    let (mut gaps, mut same, mut uneven) = (Tally::default(), Tally::default(), Tally::default());
    for (index, step) in steps.enumerate() {
        if step == 0.0 {
            same.add(index + 1, 0.0);
        } else if step > GAP * median {
            gaps.add(index + 1, step);
        } else if (step - median).abs() > UNEVEN * median {
            uneven.add(index + 1, (step - median).abs());
        }
    }
    let tell = |oddity, tally: Tally, words: String| {
        (tally.count > 0).then(|| observation(oddity, tally, column, row_of(tally.first), &words))
    };
    let typical = short(median);
    let told = [
        tell(
            Oddity::Gaps,
            gaps,
            gaps.counted("gap in time of", "gaps in time, up to")
                + &format!(" {} s where {typical} s is usual", short(gaps.largest)),
        ),
        tell(
            Oddity::SameTimes,
            same,
            same.counted("time that is", "times that are") + " the same as the one before",
        ),
        tell(
            Oddity::UnevenSpacing,
            uneven,
            uneven.counted("spacing that is", "spacings that are up to")
                + &format!(" {} s off the usual {typical} s", short(uneven.largest)),
        ),
    ];
    told.into_iter().flatten().collect()
}

fn observation(
    oddity: Oddity,
    tally: Tally,
    column: usize,
    row: usize,
    words: &str,
) -> Observation {
    Observation {
        oddity,
        row,
        column,
        count: tally.count,
        largest: tally.largest,
        message: match tally.count {
            1 => format!("{words}; in row {row}"),
            _ => format!("{words}; the first in row {row}"),
        },
    }
}

/// What each number is more than the one before.
fn steps(numbers: impl Iterator<Item = f64> + Clone) -> impl Iterator<Item = f64> + Clone {
    let before = numbers.clone();
    numbers.skip(1).zip(before).map(|(b, a)| b - a)
}

/// The median spacing: the middle one if most are as long, else by selection.
fn median_spacing(steps: impl Iterator<Item = f64> + Clone) -> Option<f64> {
    let count = steps.clone().count();
    let middle = steps.clone().nth(count / 2)?;
    let alike = |step: &f64| (step - middle).abs() <= ROUNDING * middle;
    if steps.clone().filter(alike).count() > count.div_ceil(2) {
        return Some(middle);
    }
    let mut steps: Vec<f64> = steps.collect();
    let (_, median, _) = steps.select_nth_unstable_by(count / 2, f64::total_cmp);
    Some(*median)
}

/// Looks for falls of a mass or a volume; other kinds may fall.
pub(super) fn falls(
    values: impl Iterator<Item = f64> + Clone,
    unit: &Unit,
    column: usize,
    row_of: impl Fn(usize) -> usize,
) -> Option<Observation> {
    let collected = ["mass", "volume"]
        .iter()
        .any(|n| crate::quantity::Dimension::from_name(n).map(Kind::of) == Some(unit.kind()));
    let mut falls = Tally::default();
    if !collected {
        return None;
    }
    for (index, step) in steps(values).enumerate().filter(|(_, step)| *step < 0.0) {
        falls.add(index + 1, -step);
    }
    if falls.count == 0 {
        return None;
    }
    let largest = short(falls.largest / ToSi::of(unit).apply(1.0));
    let words = falls.counted(
        "reading lower than the one before, by",
        "readings lower than the one before, by up to",
    );
    let words = format!("{words} {largest} {unit}");
    Some(observation(
        Oddity::Falls,
        falls,
        column,
        row_of(falls.first),
        &words,
    ))
}

/// Something about a heading that a person should know.
pub(super) fn about_heading(
    oddity: Oddity,
    row: usize,
    column: usize,
    message: String,
) -> Observation {
    Observation {
        oddity,
        row,
        column,
        count: 1,
        largest: 0.0,
        message,
    }
}

/// A number to six significant digits.
fn short(value: f64) -> String {
    let rounded: f64 = format!("{value:.5e}").parse().unwrap_or(value);
    format!("{rounded}")
}
