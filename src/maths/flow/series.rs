//! Single samples of any series: its peak, and the first that passes a level.
//!
//! Never in here: what the series is of. Changes when another sample is looked for.

/// A sample of a series.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sample {
    /// Its index.
    pub index: usize,
    /// Its value.
    pub value: f64,
}

/// The first sample with the largest value; none of an empty series. NaN is passed over.
#[must_use]
pub fn peak(values: &[f64]) -> Option<Sample> {
    let samples = values.iter().enumerate();
    samples
        .filter(|(_, v)| !v.is_nan())
        .fold(None, |best: Option<Sample>, (index, &value)| match best {
            Some(sample) if value <= sample.value => best,
            _ => Some(Sample { index, value }),
        })
}

/// On which side of a level a sample has to be.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Level {
    /// At it or above (`>=`).
    AtLeast(f64),
    /// At it or below (`<=`).
    AtMost(f64),
    /// Above it (`>`).
    Above(f64),
    /// Below it (`<`).
    Below(f64),
}

impl Level {
    fn holds(self, value: f64) -> bool {
        match self {
            Self::AtLeast(level) => value >= level,
            Self::AtMost(level) => value <= level,
            Self::Above(level) => value > level,
            Self::Below(level) => value < level,
        }
    }
}

/// The first sample from index `from` on that is on that side of the level; its time is the time of the reading.
///
/// Nothing is interpolated: the level itself was passed between this reading and the one before, by up to one sample
/// interval earlier. NaN never passes.
#[must_use]
pub fn first_passing(values: &[f64], level: Level, from: usize) -> Option<Sample> {
    let samples = values.iter().enumerate().skip(from);
    samples
        .map(|(index, &value)| Sample { index, value })
        .find(|sample| level.holds(sample.value))
}
