//! The plots of the trade: start-up graph, trumpet curve, trace with events, repeats.
//!
//! Never in here: computing what is drawn. Changes when another kind of plot is asked for.

use super::super::clean::plain;
use super::super::figure::capital;
use super::super::words::say;
use super::table::{
    caption, every_reading, every_window, extent, head_of_points, head_of_windows, summary,
};
use super::thin::{has_place, placed, remarked, thinned};
use super::{Axis, Event, Level, Line, Marker, Plot, Point, Role, Series};

/// One observation window of a trumpet curve.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Window {
    /// Its length.
    pub length: f64,
    /// Ep(max), the largest mean error over any window of this length.
    pub high: f64,
    /// Ep(min), the smallest.
    pub low: f64,
}

impl Plot {
    /// A start-up graph: flow against time since the start, with the set rate. The axis upwards runs from 0 to twice the set
    /// rate at least (IEC 60601-2-24, from memory). Points without a place in a drawing are left out and counted.
    #[must_use]
    pub fn start_up(
        title: &str,
        time: Axis,
        flow: Axis,
        points: impl IntoIterator<Item = (f64, f64)>,
        set_rate: f64,
    ) -> Self {
        let levels = vec![Level::of(&say!("set rate"), set_rate, Role::Nominal)];
        let least = [0.0, 2.0 * set_rate];
        let reach = least.into_iter().all(has_place).then_some(least);
        let flow = Axis {
            least: reach,
            ..flow
        };
        let time = Axis {
            least: Some([0.0; 2]),
            ..time
        };
        Self::over_time(title, time, flow, points, None, levels, Vec::new())
    }

    /// A trace over time with limits and with what happened, as the pressure at an occlusion. Points without a place in a
    /// drawing are left out and counted.
    #[must_use]
    pub fn trace(
        title: &str,
        time: Axis,
        value: Axis,
        points: impl IntoIterator<Item = (f64, f64)>,
        limits: Vec<Level>,
        events: Vec<Event>,
    ) -> Self {
        Self::over_time(title, time, value, points, None, limits, events)
    }

    /// A trace of which some points are left for drawing, of so many readings: the least and the greatest of each stretch.
    #[must_use]
    pub fn log(
        title: &str,
        time: Axis,
        value: Axis,
        points: impl IntoIterator<Item = (f64, f64)>,
        readings: usize,
        events: Vec<Event>,
    ) -> Self {
        let readings = Some(readings);
        Self::over_time(title, time, value, points, readings, Vec::new(), events)
    }

    /// A value over the records of a time: a point each with its expanded uncertainty where that is known, limits, the lines
    /// of a control chart, and a straight line through the points from its first to its last place. Points without a place in
    /// a drawing are left out and counted.
    #[must_use]
    pub fn trend(
        title: &str,
        time: Axis,
        value: Axis,
        points: impl IntoIterator<Item = Point>,
        levels: Vec<Level>,
        line: Option<[(f64, f64); 2]>,
    ) -> Self {
        let mut points: Vec<Point> = points.into_iter().collect();
        let places = points.iter().map(|p| (p.x, p.y)).collect::<Vec<_>>();
        let mut plot = Self::over_time(title, time, value, places, None, levels, Vec::new());
        let (all, _) = placed(points.drain(..));
        if let Some(series) = plot.series.first_mut() {
            series.line = None;
            series.marker = Some(Marker::Circle);
            series.points = thinned(&all);
        }
        let ends = line.into_iter().flatten().map(|(x, y)| Point {
            x,
            y,
            uncertainty: None,
        });
        let (ends, _) = placed(ends);
        if ends.len() == 2 {
            plot.series.push(Series {
                name: say!("straight line through them"),
                line: Some(Line::Straight),
                dashed: true,
                marker: None,
                points: ends,
                readings: 0,
            });
        }
        plot.rows = Vec::new();
        plot
    }

    fn over_time(
        title: &str,
        x: Axis,
        y: Axis,
        points: impl IntoIterator<Item = (f64, f64)>,
        readings: Option<usize>,
        levels: Vec<Level>,
        events: Vec<Event>,
    ) -> Self {
        let point = |(x, y)| Point {
            x,
            y,
            uncertainty: None,
        };
        let (all, lost) = placed(points.into_iter().map(point));
        let series = Series {
            name: y.label.clone(),
            line: Some(Line::Straight),
            dashed: false,
            marker: None,
            points: thinned(&all),
            readings: readings.unwrap_or(0).max(all.len()),
        };
        let plot = Self {
            title: plain(title),
            band: band(&levels),
            series: vec![series],
            x,
            y,
            levels,
            events,
            ..Self::default()
        };
        let mut plot = remarked(plot, lost);
        plot.shows = say!(
            "{quantity} against {other}",
            quantity = capital(&plot.y.label),
            other = plot.x.label
        ) + &extent(&plot);
        plot.caption = caption(&plot);
        plot.header = head_of_points(&plot);
        plot.rows = summary(&plot, &all);
        plot
    }

    /// A trumpet curve: the largest and the smallest mean error of the flow against the length of the observation window,
    /// with limits and the mean error A. The windows stand by rising length, equally far apart. Errors in percent.
    #[must_use]
    pub fn trumpet(
        title: &str,
        time_unit: &str,
        windows: &[Window],
        mean_error: Option<f64>,
        limits: Vec<Level>,
    ) -> Self {
        let fits = |w: &&Window| [w.length, w.high, w.low].into_iter().all(has_place);
        let mut kept: Vec<Window> = windows.iter().filter(fits).copied().collect();
        kept.sort_by(|a, b| a.length.total_cmp(&b.length));
        let mut levels = limits;
        levels.extend(mean_error.map(|a| Level::of(&say!("overall error A"), a, Role::Mean)));
        let mut x = Axis::new(&say!("observation window"), time_unit);
        x.names = kept
            .iter()
            .map(|w| super::number::short(w.length))
            .collect();
        let plot = Self {
            title: plain(title),
            band: band(&levels),
            series: vec![
                side("Ep(max)", Marker::Up, &kept, |w| w.high),
                side("Ep(min)", Marker::Down, &kept, |w| w.low),
            ],
            x,
            y: Axis::new(&say!("flow error"), "%"),
            levels,
            ..Self::default()
        };
        let mut plot = remarked(plot, windows.len() - kept.len());
        plot.shows = say!(
            "Largest and smallest mean flow error, Ep(max) and Ep(min), against the length of the observation window"
        ) + &extent(&plot);
        plot.caption = caption(&plot);
        plot.header = head_of_windows();
        plot.rows = every_window(&plot, &kept);
        plot
    }

    /// Repeated readings by their number, from 1, each with its expanded uncertainty where that is known, with limits and the
    /// nominal value. A reading without a place in a drawing is left out and counted; the others keep their numbers.
    #[must_use]
    pub fn repeats(
        title: &str,
        value: Axis,
        readings: impl IntoIterator<Item = (f64, Option<f64>)>,
        nominal: Option<f64>,
        limits: Vec<Level>,
    ) -> Self {
        let point = |(n, (y, uncertainty)): (usize, _)| Point {
            x: (n + 1) as f64,
            y,
            uncertainty,
        };
        let (all, lost) = placed(readings.into_iter().enumerate().map(point));
        let series = Series {
            name: value.label.clone(),
            line: None,
            dashed: false,
            marker: Some(Marker::Circle),
            points: thinned(&all),
            readings: all.len(),
        };
        let mut levels = limits;
        levels.extend(nominal.map(|v| Level::of(&say!("nominal"), v, Role::Nominal)));
        let mut x = Axis::new(&say!("reading"), "");
        x.counts = true;
        let plot = Self {
            title: plain(title),
            band: band(&levels),
            series: vec![series],
            x,
            y: value,
            levels,
            ..Self::default()
        };
        let mut plot = remarked(plot, lost);
        plot.shows = say!(
            "{quantity} of each reading",
            quantity = capital(&plot.y.label)
        ) + &extent(&plot);
        plot.caption = caption(&plot);
        plot.header = head_of_points(&plot);
        plot.rows = every_reading(&plot, &all);
        plot
    }
}

/// One side of a trumpet.
fn side(name: &str, marker: Marker, windows: &[Window], of: fn(&Window) -> f64) -> Series {
    let point = |(n, w)| Point {
        x: n as f64,
        y: of(w),
        uncertainty: None,
    };
    Series {
        name: name.to_owned(),
        line: Some(Line::Straight),
        dashed: marker == Marker::Down,
        marker: Some(marker),
        points: windows
            .iter()
            .enumerate()
            .map(|(n, w)| point((n, w)))
            .collect(),
        readings: windows.len(),
    }
}

/// What lies between the highest lower and the lowest upper limit, if both are there and anything does.
fn band(levels: &[Level]) -> Option<[f64; 2]> {
    let of = |role| {
        let alike = move |l: &&Level| l.role == role && has_place(l.value);
        levels.iter().filter(alike).map(|l| l.value)
    };
    let low = of(Role::AtLeast).reduce(f64::max)?;
    let high = of(Role::AtMost).reduce(f64::min)?;
    (low < high).then_some([low, high])
}
