//! A plot in characters: 72 columns, with a key in words below.
//!
//! Never in here: what is told beside the drawing. Changes when a plot in a terminal looks otherwise.

mod canvas;

use self::canvas::Canvas;
use super::super::words::say;
use super::scale::Scale;
use super::{Marker, Plot, Role, Series, key};

/// Most columns of a drawing.
const WIDTH: usize = 72;
/// Rows between the axes.
const ROWS: usize = 16;
/// Widest label of a mark.
const LABEL: usize = 14;

/// The filter `chart`: the drawing and its key.
pub(in super::super) fn chart(plot: minijinja::value::Serde<Plot>) -> String {
    let plot = plot.0;
    let sheet = Sheet::new(&plot);
    let mut lines = vec![key::cut(&plot.y.title(), WIDTH)];
    lines.extend(sheet.events(&plot));
    lines.extend(sheet.body(&plot));
    lines.extend(sheet.foot(&plot));
    lines.extend(words(&plot));
    let trimmed: Vec<&str> = lines.iter().map(|l| l.trim_end()).collect();
    trimmed.join("\n")
}

/// The scales and how wide the parts are.
struct Sheet {
    right: Scale,
    up: Scale,
    gutter: usize,
    columns: usize,
}

impl Sheet {
    fn new(plot: &Plot) -> Self {
        let up = Scale::up(plot, 7);
        let widest = up.ticks().iter().map(|(_, l)| key::width(l)).max();
        let gutter = widest.unwrap_or(0).min(LABEL);
        let beside = plot.levels.len().min(4) + 1;
        Self {
            right: Scale::right(plot, 8),
            up,
            gutter,
            columns: WIDTH - gutter - 2 - beside,
        }
    }

    fn column(&self, x: f64) -> usize {
        (self.right.share(x) * (self.columns - 1) as f64).round() as usize
    }

    fn row(&self, y: f64) -> usize {
        ((1.0 - self.up.share(y)) * (ROWS - 1) as f64).round() as usize
    }

    /// The numbers of events above their lines.
    fn events(&self, plot: &Plot) -> Option<String> {
        let before = self.gutter + 2;
        let at = |(n, e): (usize, &super::Event)| (before + self.column(e.at), (n + 1).to_string());
        let labels: Vec<(usize, String)> = plot.events.iter().enumerate().map(at).collect();
        (!labels.is_empty()).then(|| beside_each_other(&labels, false))
    }

    /// The drawing with the marks of the axis upwards and the letters of the horizontal lines.
    fn body(&self, plot: &Plot) -> Vec<String> {
        let mut canvas = Canvas::new(self.columns, ROWS);
        for level in &plot.levels {
            canvas.across(self.row(level.value), sign(level.role));
        }
        for event in &plot.events {
            canvas.upright(self.column(event.at), '┊');
        }
        for series in &plot.series {
            self.series(&mut canvas, series);
        }
        let ticks = self.up.ticks();
        let label = |row: usize| ticks.iter().find(|(v, _)| self.row(*v) == row);
        let line = |(row, drawn): (usize, String)| {
            let (label, axis) = label(row).map_or(("", '│'), |(_, l)| (l.as_str(), '┤'));
            let label = key::cut(label, self.gutter);
            let before = " ".repeat(self.gutter - key::width(&label));
            format!("{before}{label} {axis}{drawn} {}", self.letters(plot, row))
        };
        canvas.rows().into_iter().enumerate().map(line).collect()
    }

    /// The letters of the horizontal lines in a row; `+` where there are more than fit.
    fn letters(&self, plot: &Plot, row: usize) -> String {
        let here = (0..plot.levels.len()).filter(|n| self.row(plot.levels[*n].value) == row);
        let text: String = here.map(key::letters).collect();
        let room = WIDTH - self.gutter - 3 - self.columns;
        if text.len() > room {
            format!("{}+", &text[..room - 1])
        } else {
            text
        }
    }

    fn series(&self, canvas: &mut Canvas, series: &Series) {
        let dot = |x: f64, y: f64| canvas::Dot {
            x: (self.right.share(x) * (self.columns * 2 - 1) as f64).round() as i32,
            y: ((1.0 - self.up.share(y)) * (ROWS * 4 - 1) as f64).round() as i32,
        };
        for point in &series.points {
            let half = point.uncertainty.unwrap_or(0.0);
            let ends = [dot(point.x, point.y - half), dot(point.x, point.y + half)];
            canvas.line(&ends, false);
        }
        let mut dots = Vec::new();
        for point in &series.points {
            let next = dot(point.x, point.y);
            if let (Some(super::Line::Steps), Some(last)) = (series.line, dots.last().copied()) {
                let canvas::Dot { y, .. } = last;
                dots.push(canvas::Dot { x: next.x, y });
            }
            dots.push(next);
        }
        if series.line.is_some() {
            canvas.line(&dots, series.dashed);
        }
        // A single point has no line to be seen by.
        let single = (series.points.len() == 1).then_some(Marker::Circle);
        if let Some(shape) = series.marker.or(single) {
            let at = series.points.iter().map(|p| dot(p.x, p.y));
            at.for_each(|dot| canvas.put(dot, shape_of(shape)));
        }
    }

    /// The axis to the right with its marks, their labels and what it is.
    fn foot(&self, plot: &Plot) -> [String; 3] {
        let before = self.gutter + 1;
        let ticks = self.right.ticks();
        let mut axis = vec!['─'; self.columns];
        ticks.iter().for_each(|(v, _)| axis[self.column(*v)] = '┬');
        let at = |(v, l): &(f64, String)| (before + 1 + self.column(*v), key::cut(l, LABEL));
        let labels: Vec<(usize, String)> = ticks.iter().map(at).collect();
        let title = key::cut(&plot.x.title(), WIDTH);
        let wide = before + 1 + self.columns;
        let room = " ".repeat(wide.saturating_sub(key::width(&title)));
        [
            format!("{}└{}", " ".repeat(before), axis.iter().collect::<String>()),
            beside_each_other(&labels, true),
            format!("{room}{title}"),
        ]
    }
}

/// Labels at their columns in one line; those that would touch the one before are left out, or joined to it
/// where they don't stand in the middle.
fn beside_each_other(labels: &[(usize, String)], middle: bool) -> String {
    let mut line = String::new();
    for (at, label) in labels {
        let wide = key::width(label);
        let half = if middle { (wide - wide.min(1)) / 2 } else { 0 };
        let from = at.saturating_sub(half).min(WIDTH.saturating_sub(wide));
        let used = key::width(&line);
        if used == 0 || from > used {
            line.push_str(&" ".repeat(from - used));
            line.push_str(label);
        } else if !middle && used + wide < WIDTH {
            line.push(',');
            line.push_str(label);
        }
    }
    line
}

fn sign(role: Role) -> char {
    match role {
        Role::AtLeast | Role::AtMost => '╌',
        Role::Nominal => '─',
        Role::Mean => '·',
    }
}

fn shape_of(marker: Marker) -> char {
    match marker {
        Marker::Circle => '●',
        Marker::Up => '▲',
        Marker::Down => '▽',
    }
}

/// The key in words.
fn words(plot: &Plot) -> Vec<String> {
    let mut items = Vec::new();
    for series in &plot.series {
        let line = match (series.line, series.dashed) {
            (None, _) => None,
            (_, true) => Some(say!("broken line")),
            (_, false) => Some(say!("line")),
        };
        let marker = series.marker.map(|m| shape_of(m).to_string());
        let signs: Vec<String> = line.into_iter().chain(marker).collect();
        items.push(format!(
            "{}: {}",
            signs.join(&say!(" with ")),
            key::series(series)
        ));
    }
    for (n, level) in plot.levels.iter().enumerate() {
        let (letters, sign) = (key::letters(n), sign(level.role));
        items.push(format!(
            "{letters} {sign}{sign}: {}",
            key::level(plot, level)
        ));
    }
    for (n, event) in plot.events.iter().enumerate() {
        items.push(format!("{} ┊: {}", n + 1, key::event(plot, event)));
    }
    let wrapped = |text: String| super::super::text::wrap(text, Some(2), Some(6));
    items.into_iter().map(wrapped).collect()
}
