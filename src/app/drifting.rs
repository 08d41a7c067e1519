//! `trend --drifting`: which values of which devices run towards a limit, and when they meet it.
//!
//! Never in here: the straight line itself (see `trend`). Changes when another run of values counts as a drift.

use std::cell::Cell;

use jiff::ToSpan;
use jiff::civil::Date;

use crate::host::Host;
use crate::index::{Chosen, Kept, Series};
use crate::shop::Paths;

use super::AppError;
use super::amendments::overruled;
use super::trace::{notes, open_index};
use super::trend::{Crossing, Fit, TrendPoint, fit, known, point};

/// What |slope| over its standard error must exceed to be significant at 95 %, however many values there are.
const LEAST: f64 = 1.95;

/// A value that runs towards a limit.
#[derive(Clone, Debug)]
pub struct Drift {
    /// Its name.
    pub name: String,
    /// The newest value, with its record and limits.
    pub newest: TrendPoint,
    /// Of how many records it is told.
    pub records: usize,
    /// The straight line.
    pub fit: Fit,
    /// The day on which the line meets the limit; nothing where it has met it already.
    pub meets: Option<String>,
}

/// The values that drift, the most urgent first, and what is to be known.
pub type Drifts = (Vec<Drift>, Vec<String>);

/// Seeks the values whose straight line meets a limit within a year from today, or has met it.
///
/// # Errors
/// Those of the system; a device, model or recipe that nobody knows.
pub fn drifting(host: &dyn Host, paths: &Paths, chosen: Chosen<'_>) -> Result<Drifts, AppError> {
    let index = open_index(host, paths)?;
    let mut notes = notes(&index)?;
    known(host, paths, &index, chosen)?;
    let overruled = overruled(host, paths)?;
    let left_out = Cell::new(0usize);
    let counts = |record: &str| {
        let holds = !overruled.contains_key(record);
        left_out.set(left_out.get() + usize::from(!holds));
        holds
    };
    let until = in_a_year(&host.now());
    let mut all = Vec::new();
    index.each_series(chosen, &counts, &mut |series| {
        all.extend(drift(series, until.as_deref()));
    })?;
    if left_out.get() > 0 {
        notes.push(format!(
            "records that do not hold any longer are left out: {}",
            left_out.get()
        ));
    }
    all.sort_by(|a: &Drift, b: &Drift| place(a).cmp(&place(b)));
    Ok((all, notes))
}

/// Its place among others: what has met its limit, then by the day on which it does.
fn place(of: &Drift) -> (Option<&str>, &str, &str, &str) {
    let kept = &of.newest.kept;
    (of.meets.as_deref(), &kept.device, &kept.recipe, &of.name)
}

fn in_a_year(now: &str) -> Option<String> {
    let today: Date = now.get(..10)?.parse().ok()?;
    today.checked_add(1.year()).ok().map(|day| day.to_string())
}

fn drift(series: Series, until: Option<&str>) -> Option<Drift> {
    let newest = series.kept.back()?;
    if newest.low.is_none() && newest.high.is_none() || !may_slope(&series) {
        return None;
    }
    let unit = newest.unit.clone();
    let points = series
        .kept
        .into_iter()
        .filter_map(|kept| point(kept, &unit));
    let points: Vec<TrendPoint> = points.collect();
    let fit = fit(&points)?;
    let meets = match fit.crossing.as_ref()? {
        Crossing::Before => None,
        Crossing::On(day) if until.is_none_or(|until| day.as_str() <= until) => Some(day.clone()),
        Crossing::On(_) | Crossing::Never => return None,
    };
    Some(Drift {
        name: series.name,
        records: points.len(),
        newest: points.into_iter().last()?,
        fit,
        meets,
    })
}

/// Whether the slope may be significant, in doubles and quickly: most are not. Exact numbers tell then.
fn may_slope(series: &Series) -> bool {
    let kept = &series.kept;
    let (Some(first), Some(last)) = (kept.front(), kept.back()) else {
        return false;
    };
    if kept.len() < 3 {
        return false;
    }
    let value = |k: &Kept| k.value.parse::<f64>().ok().filter(|_| k.unit == last.unit);
    let Some(y) = kept.iter().map(value).collect::<Option<Vec<f64>>>() else {
        return true;
    };
    let x: Vec<f64> = kept
        .iter()
        .map(|k| (k.at_ms - first.at_ms) as f64)
        .collect();
    let n = y.len() as f64;
    let mean = |of: &[f64]| of.iter().sum::<f64>() / n;
    let (x_mean, y_mean) = (mean(&x), mean(&y));
    let sum = |of: &dyn Fn(f64, f64) -> f64| {
        let both = x.iter().zip(&y);
        both.map(|(x, y)| of(x - x_mean, y - y_mean)).sum::<f64>()
    };
    let (xx, xy, yy) = (sum(&|x, _| x * x), sum(&|x, y| x * y), sum(&|_, y| y * y));
    let residual = (yy - xy * xy / xx).max(0.0);
    // |slope| / its standard error, squared so that nothing is divided by zero.
    xy * xy * (n - 2.0) >= LEAST * LEAST * residual * xx && xy != 0.0
}
