//! A plot without a form of output: what is shown, on which axes, with which limits and events, and the table beside it.
//!
//! Never in here: judging, pixels, characters, tags. Changes when a plot holds something new.

pub(super) mod chart;
mod key;
mod make;
mod number;
mod scale;
pub(super) mod sketch;
pub(super) mod svg;
mod table;
mod thin;

pub(super) use key::{cut, width};
pub use make::Window;

use serde::{Deserialize, Serialize};

use super::clean::plain;
use super::document::{Cell, Column};
use super::words::say;

/// A plot. Its texts are plain, on one line each, and hold no deceiving characters; its numbers are finite.
#[derive(Clone, Debug, Default, Serialize, Deserialize, PartialEq)]
pub struct Plot {
    /// The title.
    pub title: String,
    /// What it shows, in one sentence.
    pub shows: String,
    /// What a reader has to know of the drawing: that it is thinned, that readings are left out.
    pub remarks: Vec<String>,
    /// The axis to the right.
    pub x: Axis,
    /// The axis upwards.
    pub y: Axis,
    /// What is drawn.
    pub series: Vec<Series>,
    /// Horizontal lines.
    pub levels: Vec<Level>,
    /// Lower and upper end of what lies between a lower and an upper limit.
    pub band: Option<[f64; 2]>,
    /// Vertical lines.
    pub events: Vec<Event>,
    /// What the table shows.
    pub caption: String,
    /// The columns of the table.
    pub header: Vec<Column>,
    /// The rows of the table; the first cell names the row.
    pub rows: Vec<Vec<Cell>>,
}

/// An axis.
#[derive(Clone, Debug, Default, Serialize, Deserialize, PartialEq)]
pub struct Axis {
    /// The kind of quantity.
    pub label: String,
    /// The unit; empty for a number.
    pub unit: String,
    /// What the axis reaches at least.
    pub least: Option<[f64; 2]>,
    /// Whether it counts: whole numbers only.
    pub counts: bool,
    /// What stands at 0, 1, 2 … instead of a number; empty where the numbers stand.
    pub names: Vec<String>,
}

/// Points that belong together.
#[derive(Clone, Debug, Serialize, Deserialize, PartialEq)]
pub struct Series {
    /// The name.
    pub name: String,
    /// How points are joined, if they are.
    pub line: Option<Line>,
    /// Whether the line is broken.
    pub dashed: bool,
    /// What stands at each point.
    pub marker: Option<Marker>,
    /// The points by rising x, thinned for drawing: the least and the greatest y of each pixel column are kept.
    pub points: Vec<Point>,
    /// How many readings there were before thinning.
    pub readings: usize,
}

/// A point.
#[derive(Clone, Copy, Debug, Serialize, Deserialize, PartialEq)]
pub struct Point {
    /// To the right.
    pub x: f64,
    /// Upwards.
    pub y: f64,
    /// Half the length of its bar, the expanded uncertainty; not negative.
    pub uncertainty: Option<f64>,
}

/// How points are joined.
#[derive(Clone, Copy, Debug, Serialize, Deserialize, PartialEq, Eq)]
#[serde(rename_all = "lowercase")]
pub enum Line {
    /// By straight lines.
    Straight,
    /// By steps: a value holds until the next.
    Steps,
}

/// The shape at a point.
#[derive(Clone, Copy, Debug, Serialize, Deserialize, PartialEq, Eq)]
#[serde(rename_all = "lowercase")]
pub enum Marker {
    /// A filled circle.
    Circle,
    /// A filled triangle that points up.
    Up,
    /// An open triangle that points down.
    Down,
}

/// A horizontal line.
#[derive(Clone, Debug, Serialize, Deserialize, PartialEq)]
pub struct Level {
    /// What it is.
    pub name: String,
    /// Where it lies.
    pub value: f64,
    /// What it is for, which decides its dashes.
    pub role: Role,
}

/// What a horizontal line is for.
#[derive(Clone, Copy, Debug, Serialize, Deserialize, PartialEq, Eq)]
#[serde(rename_all = "lowercase")]
pub enum Role {
    /// A lower limit: dashes.
    AtLeast,
    /// An upper limit: dashes.
    AtMost,
    /// A nominal or set value: long dashes with points between.
    Nominal,
    /// A mean: dots.
    Mean,
}

/// A vertical line: something that happened.
#[derive(Clone, Debug, Serialize, Deserialize, PartialEq)]
pub struct Event {
    /// What happened.
    pub name: String,
    /// When.
    pub at: f64,
}

impl Axis {
    /// An axis of a kind of quantity in a unit; the unit is empty for a number.
    #[must_use]
    pub fn new(label: &str, unit: &str) -> Self {
        Self {
            label: plain(label),
            unit: plain(unit),
            ..Self::default()
        }
    }

    /// The words at the axis, as `flow in mL/h`.
    #[must_use]
    pub fn title(&self) -> String {
        match self.unit.as_str() {
            "" | "1" => self.label.clone(),
            unit => say!("{quantity} in {unit}", quantity = self.label, unit = unit),
        }
    }

    /// A value of the axis with its unit, to six significant digits; a name where the axis has names.
    #[must_use]
    pub fn value(&self, v: f64) -> String {
        let number = match self.names.get(v as usize) {
            Some(name) => name.clone(),
            None => number::short(v),
        };
        match self.unit.as_str() {
            "" | "1" => number,
            unit => format!("{number} {unit}"),
        }
    }
}

impl Level {
    /// A lower limit.
    #[must_use]
    pub fn at_least(name: &str, value: f64) -> Self {
        Self::of(name, value, Role::AtLeast)
    }

    /// An upper limit.
    #[must_use]
    pub fn at_most(name: &str, value: f64) -> Self {
        Self::of(name, value, Role::AtMost)
    }

    /// A mean, or what else follows from the points.
    #[must_use]
    pub fn mean(name: &str, value: f64) -> Self {
        Self::of(name, value, Role::Mean)
    }

    pub(super) fn of(name: &str, value: f64, role: Role) -> Self {
        Self {
            name: plain(name),
            value,
            role,
        }
    }
}

impl Event {
    /// Something that happened at a time.
    #[must_use]
    pub fn new(name: &str, at: f64) -> Self {
        Self {
            name: plain(name),
            at,
        }
    }
}
