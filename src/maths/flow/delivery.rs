//! A logged delivery: collected volumes at times, the flows between them, and periods of it.
//!
//! Never in here: windows. Changes when another figure of a whole delivery is added.

use super::FlowFault;
use super::fault::sound;

/// One hour, in s.
const HOUR: f64 = 3600.0;
/// Length of the start-up graph in s (IEC 60601-2-24, from memory).
const START_UP: f64 = 2.0 * HOUR;

/// What a delivery may have and still be taken.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Allowed {
    /// How far a reading may lie off the regular grid, as a part of the sample interval. Flows are computed from the
    /// times as they are, so that this only shifts the ends of windows.
    pub spacing: f64,
    /// How much a reading may be lower than the one before, in m³; a fall beyond it is refused.
    pub fall: f64,
}

impl Default for Allowed {
    /// 1 % of the sample interval, and no fall at all.
    fn default() -> Self {
        Self {
            spacing: 0.01,
            fall: 0.0,
        }
    }
}

/// Indices of the two end readings that a result comes from; what its uncertainty needs.
pub type Ends = (usize, usize);

/// A part of a delivery from one time to another, in s on the axis of its times.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Period {
    /// Where it begins.
    pub from: f64,
    /// Where it ends.
    pub to: f64,
}

/// A volume between two readings.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Portion {
    /// The volume in m³.
    pub volume: f64,
    /// The time between the readings in s.
    pub duration: f64,
    /// The readings.
    pub ends: Ends,
}

impl Portion {
    /// The mean flow in m³/s, by the end readings; zero for no duration.
    #[must_use]
    pub fn mean_flow(&self) -> f64 {
        if self.duration > 0.0 {
            self.volume / self.duration
        } else {
            0.0
        }
    }
}

/// A flow and the time at which its sample interval ends.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FlowPoint {
    /// Time since the first reading, in s.
    pub time: f64,
    /// The flow in m³/s.
    pub flow: f64,
}

/// Collected volumes in m³ at times in s: at least two, finite, times increasing, volumes not falling.
#[derive(Clone, Debug)]
pub struct Delivery<'a> {
    pub(super) times: &'a [f64],
    pub(super) volumes: &'a [f64],
    pub(super) allowed: Allowed,
    interval: Result<f64, FlowFault>,
}

impl<'a> Delivery<'a> {
    /// Checks the readings once; whether they are equidistant is only asked by what needs it.
    ///
    /// # Errors
    /// Fewer than two readings, different numbers of times and volumes, readings that are not finite, times that don't
    /// increase, a fall beyond what is allowed.
    pub fn new(times: &'a [f64], volumes: &'a [f64], allowed: Allowed) -> Result<Self, FlowFault> {
        sound(times, volumes, "volume", 2)?;
        let fall = |pair: &[f64]| pair[0] - pair[1];
        if let Some(at) = volumes.windows(2).position(|p| fall(p) > allowed.fall) {
            return Err(FlowFault::Falling {
                at: at + 1,
                by: fall(&volumes[at..]),
            });
        }
        Ok(Self {
            times,
            volumes,
            allowed,
            interval: equal_spacing(times, allowed.spacing),
        })
    }

    /// The sample interval S in s: the mean spacing.
    ///
    /// # Errors
    /// [`FlowFault::NotEquidistant`] for the first reading that lies too far off; nothing is resampled silently.
    pub fn interval(&self) -> Result<f64, FlowFault> {
        self.interval.clone()
    }

    /// The flows Q_i = (V_i − V_{i−1})/(t_i − t_{i−1}) in m³/s; with equal spacing, and masses over density, the
    /// standard's Q_i = 60·(W_i − W_{i−1})/(S·d) in mL/h for g, min and g/mL (from memory).
    ///
    /// # Errors
    /// Readings that are not equidistant.
    pub fn flows(&self) -> Result<Vec<f64>, FlowFault> {
        self.interval()?;
        Ok(self.steps().collect())
    }

    fn steps(&self) -> impl Iterator<Item = f64> {
        let pairs = self.volumes.windows(2).zip(self.times.windows(2));
        pairs.map(|(v, t)| (v[1] - v[0]) / (t[1] - t[0]))
    }

    /// The whole delivery.
    #[must_use]
    pub fn whole(&self) -> Period {
        Period {
            from: self.times[0],
            to: self.times[self.times.len() - 1],
        }
    }

    /// The analysis period T1: the second hour (from memory). Whether the readings reach so far is asked by its user.
    #[must_use]
    pub fn second_hour(&self) -> Period {
        let from = self.times[0] + HOUR;
        Period {
            from,
            to: from + HOUR,
        }
    }

    /// The analysis period T2: the last hour, of the interval at which the administration set is changed (from memory).
    #[must_use]
    pub fn last_hour(&self) -> Period {
        let to = self.whole().to;
        Period {
            from: to - HOUR,
            to,
        }
    }

    /// What was delivered in a period, by its end readings alone: the mean flow is Q = (V_end − V_start)/T.
    ///
    /// # Errors
    /// A period outside the series or without length; no reading where it begins or ends.
    pub fn portion(&self, period: Period) -> Result<Portion, FlowFault> {
        let ends = self.ends(period)?;
        Ok(self.between(ends))
    }

    /// What was delivered after a time, from the last reading at or before it to the end: never less than it was.
    ///
    /// # Errors
    /// A time outside the series.
    pub fn volume_after(&self, time: f64) -> Result<Portion, FlowFault> {
        self.inside("time", time)?;
        let first = self.times.partition_point(|t| *t <= time).max(1) - 1;
        Ok(self.between((first, self.times.len() - 1)))
    }

    /// The start-up graph: flows over the first 120 min, or over as much of it as was logged (from memory).
    ///
    /// # Errors
    /// Readings that are not equidistant.
    pub fn start_up(&self) -> Result<Vec<FlowPoint>, FlowFault> {
        let slack = self.interval()? * self.allowed.spacing;
        let since = self.times[1..].iter().map(|t| t - self.times[0]);
        let points = since
            .zip(self.steps())
            .map(|(time, flow)| FlowPoint { time, flow });
        Ok(points.take_while(|p| p.time <= START_UP + slack).collect())
    }

    fn between(&self, ends: Ends) -> Portion {
        let (first, last) = ends;
        Portion {
            volume: self.volumes[last] - self.volumes[first],
            duration: self.times[last] - self.times[first],
            ends,
        }
    }

    /// The readings at which a period begins and ends.
    pub(super) fn ends(&self, period: Period) -> Result<Ends, FlowFault> {
        let (first, last) = (
            self.reading_at("begin of the period", period.from)?,
            self.reading_at("end of the period", period.to)?,
        );
        if first < last {
            return Ok((first, last));
        }
        Err(FlowFault::Outside {
            what: "begin of the period",
            time: period.from,
            from: self.times[0],
            to: period.to,
        })
    }

    /// The index of the reading at a time, to the part of the mean spacing that is allowed.
    fn reading_at(&self, what: &'static str, time: f64) -> Result<usize, FlowFault> {
        self.inside(what, time)?;
        let after = self.times.partition_point(|t| *t < time);
        let off = |index: &usize| (self.times[*index] - time).abs();
        let near = [after.saturating_sub(1), after.min(self.times.len() - 1)];
        let index = near
            .into_iter()
            .min_by(|a, b| off(a).total_cmp(&off(b)))
            .unwrap_or(0);
        if off(&index) <= self.slack() {
            return Ok(index);
        }
        Err(FlowFault::NoReading {
            time,
            nearest: self.times[index],
        })
    }

    fn inside(&self, what: &'static str, time: f64) -> Result<(), FlowFault> {
        let Period { from, to } = self.whole();
        if (from - self.slack()..=to + self.slack()).contains(&time) {
            return Ok(());
        }
        Err(FlowFault::Outside {
            what,
            time,
            from,
            to,
        })
    }

    /// How far a time may be off a reading and still mean it, in s.
    fn slack(&self) -> f64 {
        mean_spacing(self.times) * self.allowed.spacing
    }
}

fn mean_spacing(times: &[f64]) -> f64 {
    (times[times.len() - 1] - times[0]) / (times.len() - 1) as f64
}

/// The mean spacing, if every time lies within that part of it of its place.
fn equal_spacing(times: &[f64], part: f64) -> Result<f64, FlowFault> {
    let interval = mean_spacing(times);
    let place = |index: usize| times[0] + interval * index as f64;
    let off = (0..times.len()).find(|i| (times[*i] - place(*i)).abs() > part * interval);
    match off {
        // The mean spacing is off itself: the first step that differs from the step before it says where.
        Some(_) => Err(first_uneven(times, part)),
        None => Ok(interval),
    }
}

/// The first reading that is not as far from the one before as the second is from the first.
fn first_uneven(times: &[f64], part: f64) -> FlowFault {
    let step = times[1] - times[0];
    let uneven = |i: &usize| (times[*i] - times[i - 1] - step).abs() > part * step;
    let at = (2..times.len()).find(uneven).unwrap_or(times.len() - 1);
    FlowFault::NotEquidistant {
        at,
        time: times[at],
        expected: times[at - 1] + step,
    }
}
