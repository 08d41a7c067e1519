//! Data made fit for drawing: what is no number goes, what is too dense to be seen is thinned.
//!
//! Never in here: drawing. Changes when other data can't be drawn.

use super::super::words::{counted, fixed, say};
use super::{Plot, Point};

/// Pixel columns for which the extremes are kept.
const COLUMNS: usize = 600;
/// Points kept for one column: first, least, greatest, last.
const A_COLUMN: usize = 4;
/// Numbers beyond this can't be told from infinity by a drawing.
const GREATEST: f64 = 1e300;

/// Whether a number has a place in a drawing.
pub(super) fn has_place(v: f64) -> bool {
    v.is_finite() && v.abs() <= GREATEST
}

/// The points that have a place, by rising x.
pub(super) fn placed(points: impl IntoIterator<Item = Point>) -> (Vec<Point>, usize) {
    let mut all = 0;
    let seen = points.into_iter().inspect(|_| all += 1);
    let mut kept: Vec<Point> = seen.filter(|p| has_place(p.x) && has_place(p.y)).collect();
    for point in &mut kept {
        let bar = point.uncertainty.map(f64::abs);
        point.uncertainty = bar.filter(|u| has_place(*u));
    }
    let lost = all - kept.len();
    if !kept.is_sorted_by(|a, b| a.x <= b.x) {
        kept.sort_by(|a, b| a.x.total_cmp(&b.x));
    }
    (kept, lost)
}

/// Of each pixel column the first, the least, the greatest and the last point; all of them where they are few.
pub(super) fn thinned(points: &[Point]) -> Vec<Point> {
    let (Some(first), Some(last)) = (points.first(), points.last()) else {
        return Vec::new();
    };
    if points.len() <= COLUMNS * A_COLUMN {
        return points.to_vec();
    }
    let wide = (last.x - first.x) / COLUMNS as f64;
    let column = |p: &Point| ((p.x - first.x) / wide) as usize;
    points
        .chunk_by(|a, b| column(a) == column(b))
        .flat_map(extremes)
        .collect()
}

fn extremes(points: &[Point]) -> Vec<Point> {
    let places = 0..points.len();
    let (low, high) = (
        |p: &Point| p.y - p.uncertainty.unwrap_or(0.0),
        |p: &Point| p.y + p.uncertainty.unwrap_or(0.0),
    );
    let least = places
        .clone()
        .min_by(|a, b| low(&points[*a]).total_cmp(&low(&points[*b])));
    let most = places.max_by(|a, b| high(&points[*a]).total_cmp(&high(&points[*b])));
    let mut kept = vec![0, points.len() - 1];
    kept.extend(least.into_iter().chain(most));
    kept.sort_unstable();
    kept.dedup();
    kept.into_iter().map(|n| points[n]).collect()
}

/// The same plot with its lines at places only, and with remarks on what is thinned and what is left out.
pub(super) fn remarked(mut plot: Plot, lost: usize) -> Plot {
    plot.levels.retain(|l| has_place(l.value));
    plot.events.retain(|e| has_place(e.at));
    plot.events.sort_by(|a, b| a.at.total_cmp(&b.at));
    let thin = plot.series.iter().find(|s| s.points.len() < s.readings);
    if let Some(series) = thin {
        plot.remarks.push(say!(
            "Drawn from {some} of {n} readings, the lowest and the highest of each stretch.",
            some = series.points.len(),
            n = series.readings
        ));
    }
    if lost > 0 {
        plot.remarks.push(counted(
            lost,
            fixed!("reading is no number that can be drawn and is left out."),
            fixed!("readings are no numbers that can be drawn and are left out."),
        ));
    }
    plot
}
