//! What is wrong with a series, a window or a setting, and what to do about it.
//!
//! Never in here: formulas. Changes when a fault is told apart or said otherwise.

use std::fmt;

/// Why a figure can't be computed. Readings are numbered from 1 in messages, from 0 in fields.
#[derive(Clone, Debug, PartialEq)]
pub enum FlowFault {
    /// Fewer readings than the figure needs.
    TooFew {
        /// How many there are.
        readings: usize,
        /// How many it needs.
        needed: usize,
    },
    /// Times and values of different number.
    Lengths {
        /// How many times.
        times: usize,
        /// How many values.
        values: usize,
    },
    /// A reading that is no finite number.
    NotFinite {
        /// What it is a reading of.
        what: &'static str,
        /// Its index.
        at: usize,
    },
    /// A time that is not after the one before.
    NotIncreasing {
        /// Its index.
        at: usize,
    },
    /// A reading that lies off the regular grid.
    NotEquidistant {
        /// Its index.
        at: usize,
        /// Its time in s.
        time: f64,
        /// Where it should lie, in s.
        expected: f64,
    },
    /// A reading lower than the one before by more than is allowed.
    Falling {
        /// Its index.
        at: usize,
        /// By how much, in the unit of the readings.
        by: f64,
    },
    /// A value that has to be above zero, or may not be below it.
    Sign {
        /// What it is a value of.
        what: &'static str,
        /// The value in SI.
        value: f64,
        /// Whether zero is allowed.
        zero: bool,
    },
    /// An observation window longer than the analysis period.
    WindowTooLong {
        /// The window P in s.
        window: f64,
        /// The period T in s.
        period: f64,
    },
    /// A length that is no whole multiple of the sample interval.
    NotMultiple {
        /// What has the length.
        what: &'static str,
        /// The length in s.
        length: f64,
        /// The sample interval S in s.
        interval: f64,
    },
    /// A time outside the series, or a period that begins at its end or later.
    Outside {
        /// What the time is of.
        what: &'static str,
        /// The time in s.
        time: f64,
        /// Earliest time allowed, in s.
        from: f64,
        /// Latest time allowed, in s.
        to: f64,
    },
    /// No reading at the time where a period begins or ends.
    NoReading {
        /// The time in s.
        time: f64,
        /// The time of the nearest reading, in s.
        nearest: f64,
    },
    /// More points than a resampled series may have.
    TooMany {
        /// How many it would have.
        points: f64,
        /// How many it may have.
        limit: usize,
    },
}

impl fmt::Display for FlowFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::TooFew { readings, needed } => write!(
                f,
                "{readings} readings where at least {needed} are needed; log for longer"
            ),
            Self::Lengths { times, values } => write!(
                f,
                "{times} times but {values} values; give one value for each time"
            ),
            Self::NotFinite { what, at } => {
                write!(f, "{what} {} is not a finite number; leave it out", at + 1)
            }
            Self::NotIncreasing { at } => write!(
                f,
                "time {} is not after the one before; put the readings in order of time, each time once",
                at + 1
            ),
            Self::Falling { at, by } => write!(
                f,
                "reading {} is {by:e} lower than the one before; look for evaporation, a touched vessel or a leak, or allow the fall that the balance's repeatability explains",
                at + 1
            ),
            Self::Sign { what, value, zero } => {
                let must = if *zero {
                    "may not be below zero"
                } else {
                    "must be above zero"
                };
                write!(f, "{what} of {value} {must}")
            }
            Self::TooMany { points, limit } => write!(
                f,
                "{points:.0} points where {limit} are the most; take a longer interval"
            ),
            _ => self.write_time(f),
        }
    }
}

impl FlowFault {
    /// The faults that are about times.
    fn write_time(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NotEquidistant { at, time, expected } => write!(
                f,
                "reading {} is at {time} s where equal spacing has {expected} s; resample the series, and say so",
                at + 1
            ),
            Self::WindowTooLong { window, period } => write!(
                f,
                "a window of {window} s is longer than the analysis period of {period} s; leave the window out or analyse a longer period"
            ),
            Self::NotMultiple {
                what,
                length,
                interval,
            } => write!(
                f,
                "{what} of {length} s is not a whole multiple of the sample interval of {interval} s; take one that is"
            ),
            Self::Outside {
                what,
                time,
                from,
                to,
            } => write!(
                f,
                "{what} at {time} s is outside {from} s to {to} s; take a time inside"
            ),
            Self::NoReading { time, nearest } => write!(
                f,
                "no reading at {time} s, the nearest is at {nearest} s; take the time of a reading, or resample the series"
            ),
            _ => Ok(()),
        }
    }
}

impl std::error::Error for FlowFault {}

/// Passes a value above zero; NaN and infinity are not.
pub(crate) fn above_zero(what: &'static str, value: f64) -> Result<f64, FlowFault> {
    if value > 0.0 && value.is_finite() {
        Ok(value)
    } else {
        Err(FlowFault::Sign {
            what,
            value,
            zero: false,
        })
    }
}

/// Passes a value that is zero or above; NaN and infinity are not.
pub(crate) fn not_below_zero(what: &'static str, value: f64) -> Result<f64, FlowFault> {
    if value >= 0.0 && value.is_finite() {
        Ok(value)
    } else {
        Err(FlowFault::Sign {
            what,
            value,
            zero: true,
        })
    }
}

/// Checks that there are as many values as times, at least `needed`, all finite, and that the times increase.
pub(super) fn sound(
    times: &[f64],
    values: &[f64],
    what: &'static str,
    needed: usize,
) -> Result<(), FlowFault> {
    if times.len() != values.len() {
        return Err(FlowFault::Lengths {
            times: times.len(),
            values: values.len(),
        });
    }
    if times.len() < needed {
        return Err(FlowFault::TooFew {
            readings: times.len(),
            needed,
        });
    }
    for (what, list) in [("time", times), (what, values)] {
        if let Some(at) = list.iter().position(|v| !v.is_finite()) {
            return Err(FlowFault::NotFinite { what, at });
        }
    }
    match times.windows(2).position(|pair| pair[1] <= pair[0]) {
        Some(at) => Err(FlowFault::NotIncreasing { at: at + 1 }),
        None => Ok(()),
    }
}
