//! Where things lie in a drawing: margins, and labels that keep out of each other's way.
//!
//! Never in here: shapes. Changes when a drawing gets another size or labels another place.

use super::super::scale::Scale;
use super::super::{Plot, key};

/// A size of a drawing, in user units; a unit is about a pixel.
#[derive(Clone, Copy, Debug)]
pub(in crate::render) struct Size {
    /// The name of the size.
    pub class: &'static str,
    /// Its width.
    pub width: u32,
    /// Its height.
    pub height: u32,
    /// Height of letters.
    pub font: u32,
    /// Whether there is room for names beside lines and events; else letters and numbers stand there.
    pub names: bool,
    /// Most marks to the right and upwards.
    marks: [usize; 2],
}

/// For paper and wide screens.
pub(in crate::render) const WIDE: Size = Size {
    class: "wide",
    width: 720,
    height: 330,
    font: 13,
    names: true,
    marks: [10, 8],
};

/// For narrow screens.
pub(in crate::render) const NARROW: Size = Size {
    class: "narrow",
    width: 360,
    height: 290,
    font: 13,
    names: false,
    marks: [7, 8],
};

/// Width of a column of text, as a share of the font's size: on the safe side for common fonts.
const LETTER: f64 = 0.57;
/// Height of a line of text, as a share of the font's size.
const LINE: f64 = 1.2;
/// Most columns of a name beside a line or an event.
const NAME: usize = 26;
/// Most lines of names above a plot.
const LINES: usize = 4;

/// Least distance of labels in a line of text.
const GAP: f64 = 7.0;

/// A label above the plot.
#[derive(Clone, Debug)]
pub(super) struct Place {
    pub x: f64,
    pub y: f64,
    /// Where the event's line begins.
    pub foot: f64,
    pub text: String,
}

/// A label above the plot while places are sought: its line of text, its ends, and where its event is.
struct Tag {
    line: usize,
    at: f64,
    from: f64,
    to: f64,
    text: String,
}

impl Tag {
    fn covers(&self, x: f64) -> bool {
        self.from - 2.0 < x && x < self.to + 2.0
    }

    /// Whether two labels overlap or the line of one goes through the other.
    fn meets(&self, other: &Self) -> bool {
        let (low, high) = if self.line < other.line {
            (self, other)
        } else {
            (other, self)
        };
        if low.line == high.line {
            return low.from < high.to + GAP && high.from < low.to + GAP;
        }
        // What happens at the same time has one line, which begins below both.
        low.covers(high.at) && (low.at - high.at).abs() > GAP
    }
}

/// A drawing with its margins, its scales and the places of its labels.
pub(super) struct Frame {
    pub size: Size,
    pub right: Scale,
    pub up: Scale,
    /// Height of the label of each horizontal line, where it has one.
    pub beside: Vec<Option<f64>>,
    /// The label of each event, where it has one.
    pub above: Vec<Option<Place>>,
    edges: [f64; 4],
}

impl Frame {
    pub(super) fn new(plot: &Plot, size: Size) -> Self {
        let up = Scale::up(plot, size.marks[1]);
        let font = f64::from(size.font);
        let mut frame = Self {
            size,
            right: Scale::right(plot, size.marks[0]),
            up,
            beside: Vec::new(),
            above: Vec::new(),
            edges: [0.0, 0.0, 2.0 * font, f64::from(size.height) - 3.2 * font],
        };
        let labels = frame.up.ticks();
        let widest = labels
            .iter()
            .map(|(_, l)| frame.length(l))
            .fold(0.0, f64::max);
        let names = (0..plot.levels.len()).map(|n| frame.level_label(plot, n));
        let beside = names.map(|l| frame.length(&l) + 16.0).fold(12.0, f64::max);
        frame.edges[0] = widest + 12.0;
        frame.edges[1] = f64::from(size.width) - beside;
        frame.thin_marks(plot);
        frame.place_events(plot);
        frame.place_levels(plot);
        frame
    }

    /// Left, right, top and bottom of what is drawn.
    pub(super) fn edges(&self) -> [f64; 4] {
        self.edges
    }

    pub(super) fn x(&self, v: f64) -> f64 {
        let [left, right, ..] = self.edges;
        left + (right - left) * self.right.share(v)
    }

    pub(super) fn y(&self, v: f64) -> f64 {
        let [_, _, top, bottom] = self.edges;
        bottom - (bottom - top) * self.up.share(v)
    }

    /// How long a text is.
    pub(super) fn length(&self, text: &str) -> f64 {
        key::width(text) as f64 * f64::from(self.size.font) * LETTER
    }

    /// How many columns of text fit in a length.
    pub(super) fn columns(&self, length: f64) -> usize {
        (length / (f64::from(self.size.font) * LETTER)) as usize
    }

    /// The label beside a horizontal line.
    pub(super) fn level_label(&self, plot: &Plot, n: usize) -> String {
        let letters = key::letters(n);
        match plot.levels.get(n).filter(|_| self.size.names) {
            Some(level) => format!("{letters} {}", key::cut(&key::level(plot, level), NAME)),
            None => letters,
        }
    }

    /// Fewer marks to the right until their labels keep apart.
    fn thin_marks(&mut self, plot: &Plot) {
        for most in (1..self.size.marks[0]).rev() {
            let ticks = self.right.ticks();
            let gap = f64::from(self.size.font);
            let touch = ticks.windows(2).any(|w| {
                let apart = self.x(w[1].0) - self.x(w[0].0);
                apart < (self.length(&w[0].1) + self.length(&w[1].1)) / 2.0 + gap
            });
            if !touch || !plot.x.names.is_empty() {
                return;
            }
            self.right = Scale::right(plot, most);
        }
    }

    /// Names above the plot in few lines; numbers where the names don't fit.
    fn place_events(&mut self, plot: &Plot) {
        let number = |n: usize| (n + 1).to_string();
        let name = |n: usize| format!("{} {}", number(n), key::cut(&plot.events[n].name, NAME));
        let mut tags = Vec::new();
        if self.size.names {
            tags = self.tags(plot, &name);
        }
        if tags.iter().flatten().count() < plot.events.len() {
            tags = self.tags(plot, &number);
        }
        let used = tags.iter().flatten().map(|t| t.line + 1).max();
        let high = f64::from(self.size.font) * LINE;
        self.edges[2] += used.unwrap_or(0) as f64 * high;
        let top = self.edges[2];
        let under = |tag: &Tag| {
            let below = |t: &&Tag| t.line < tag.line && t.covers(tag.at);
            tags.iter().flatten().find(below).is_some()
        };
        let place = |tag: &Tag| {
            let y = top - 5.0 - tag.line as f64 * high;
            Place {
                x: tag.from,
                y,
                foot: if under(tag) { top } else { y + 3.0 },
                text: tag.text.clone(),
            }
        };
        let places = tags.iter().map(|t| t.as_ref().map(place)).collect();
        self.above = places;
    }

    /// For each event the tag that keeps clear of the others, if there is one. From right to left, so that lines go down beside
    /// the tags of later events.
    fn tags(&self, plot: &Plot, label: &dyn Fn(usize) -> String) -> Vec<Option<Tag>> {
        let end = f64::from(self.size.width) - 1.0;
        let mut tags: Vec<Option<Tag>> = Vec::new();
        for (n, event) in plot.events.iter().enumerate().rev() {
            let (text, at) = (label(n), self.x(event.at));
            let long = self.length(&text);
            let from = (at - 3.0).min(end - long).max(1.0);
            let on = |line| Tag {
                line,
                at,
                from,
                to: from + long,
                text: text.clone(),
            };
            let clear = |tag: &Tag| tags.iter().flatten().all(|t| !tag.meets(t));
            let tag = (0..LINES).map(on).find(clear);
            tags.push(tag);
        }
        tags.reverse();
        tags
    }

    /// Labels beside the plot, moved apart; none where there is no room for all.
    fn place_levels(&mut self, plot: &Plot) {
        let high = f64::from(self.size.font) * LINE;
        let [_, _, top, bottom] = self.edges;
        let room = ((bottom - top + high) / high) as usize;
        self.beside = vec![None; plot.levels.len()];
        let mut order: Vec<usize> = (0..plot.levels.len()).collect();
        order.sort_by(|a, b| plot.levels[*b].value.total_cmp(&plot.levels[*a].value));
        order.truncate(room);
        let mut places: Vec<f64> = Vec::new();
        for n in &order {
            let wanted = self.y(plot.levels[*n].value);
            let least = places.last().map_or(top - high, |p| p + high);
            places.push(wanted.max(least));
        }
        let mut most = bottom;
        for place in places.iter_mut().rev() {
            *place = place.min(most);
            most = *place - high;
        }
        for (n, place) in order.into_iter().zip(places) {
            self.beside[n] = Some(place);
        }
    }
}
