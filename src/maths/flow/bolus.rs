//! Accuracy of successive boluses.
//!
//! Never in here: demands and lockouts, which `infusion` has. Changes when the figures of a series do.

use super::FlowFault;
use super::fault::above_zero;

/// How many successive boluses the standard asks for, at the minimum and at the maximum setting (IEC 60601-2-24, from
/// memory).
pub const BOLUSES: usize = 25;

/// A bolus that departs from the setting.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Deviation {
    /// By how much, in % of the setting.
    pub percent: f64,
    /// The index of the first bolus that does.
    pub index: usize,
}

/// What a series of boluses comes to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BolusSeries {
    /// How many boluses.
    pub count: usize,
    /// The mean, in the unit of the boluses.
    pub mean: f64,
    /// The error of the mean in % of the setting.
    pub mean_error: f64,
    /// The largest deviation above the setting; none where no bolus was above.
    pub largest_positive: Option<Deviation>,
    /// The largest deviation below the setting; none where no bolus was below.
    pub largest_negative: Option<Deviation>,
}

impl BolusSeries {
    /// Whether there are as many boluses as the standard asks for.
    #[must_use]
    pub fn is_long_enough(&self) -> bool {
        self.count >= BOLUSES
    }
}

/// Mean, mean error and largest deviations of boluses against their setting, both in one unit (IEC 60601-2-24, from memory).
///
/// A series shorter than [`BOLUSES`] is computed too; [`BolusSeries::is_long_enough`] tells.
///
/// # Errors
/// No bolus; a bolus that is not finite or below zero; a setting that is not above zero.
pub fn bolus_series(volumes: &[f64], set: f64) -> Result<BolusSeries, FlowFault> {
    let set = above_zero("bolus setting", set)?;
    if volumes.is_empty() {
        return Err(FlowFault::TooFew {
            readings: 0,
            needed: 1,
        });
    }
    for volume in volumes {
        super::fault::not_below_zero("bolus", *volume)?;
    }
    let deviation = |volume: f64| 100.0 * (volume - set) / set;
    let mean = volumes.iter().sum::<f64>() / volumes.len() as f64;
    let largest = |sign: f64| {
        let signed: Vec<f64> = volumes.iter().map(|v| sign * deviation(*v)).collect();
        let sample = super::peak(&signed).filter(|s| s.value > 0.0)?;
        Some(Deviation {
            percent: sign * sample.value,
            index: sample.index,
        })
    };
    Ok(BolusSeries {
        count: volumes.len(),
        mean,
        mean_error: deviation(mean),
        largest_positive: largest(1.0),
        largest_negative: largest(-1.0),
    })
}
