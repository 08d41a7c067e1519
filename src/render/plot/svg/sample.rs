//! The key below a drawing: a sample of each line with its words.
//!
//! Never in here: the words. Changes when a kind of line is added.

use svg::Node;
use svg::node::element::{Element, SVG};

use super::super::{Plot, Role, Series, key};
use super::shapes::{dashed, filled, line, marker, path, stroke};

/// Width and height of a sample, and the height of its middle.
const SAMPLE: (f64, f64, f64) = (34.0, 12.0, 6.0);

/// The key as a list.
pub(super) fn key(plot: &Plot) -> Element {
    let mut items = Vec::new();
    for series in &plot.series {
        items.push(item(of_series(series), key::series(series)));
    }
    for (n, level) in plot.levels.iter().enumerate() {
        let text = format!("{} {}", key::letters(n), key::level(plot, level));
        items.push(item(vec![of_level(level.role)], text));
    }
    if plot.band.is_some() {
        items.push(item(vec![band()], key::band()));
    }
    for (n, event) in plot.events.iter().enumerate() {
        let text = format!("{} {}", n + 1, key::event(plot, event));
        items.push(item(vec![of_event()], text));
    }
    let mut list = Element::new("ul");
    list.assign("class", "plot-key");
    items.into_iter().for_each(|i| list.append(i));
    list
}

fn item(drawn: Vec<Element>, text: String) -> Element {
    let (wide, high, _) = SAMPLE;
    let sample = SVG::new()
        .set("class", "sample")
        .set("width", wide)
        .set("height", high)
        .set("viewBox", (0, 0, wide, high))
        .set("aria-hidden", "true")
        .set("fill", "none")
        .set("stroke", "currentColor");
    let mut words = Element::new("span");
    words.append(svg::node::Text::new(text));
    let mut item = Element::new("li");
    item.append(drawn.into_iter().fold(sample, SVG::add));
    item.append(words);
    item
}

fn of_series(series: &Series) -> Vec<Element> {
    let (wide, _, middle) = SAMPLE;
    let mut drawn = Vec::new();
    if series.line.is_some() {
        let across = format!("M0 {middle}H{wide}");
        drawn.push(stroke(path(&across), series.dashed).into());
    }
    if let Some(shape) = series.marker {
        let at = marker(shape, wide / 2.0, middle);
        drawn.push(filled(path(&at), shape).into());
    }
    drawn
}

fn of_level(role: Role) -> Element {
    let (wide, _, middle) = SAMPLE;
    dashed(line([0.0, middle, wide, middle], 1.3), role).into()
}

fn of_event() -> Element {
    let (wide, high, _) = SAMPLE;
    let upright = line([wide / 2.0, 0.0, wide / 2.0, high], 1.1);
    upright.set("stroke-dasharray", "1.5 2.5").into()
}

fn band() -> Element {
    let (wide, high, _) = SAMPLE;
    let filled = path(&format!("M0 0H{wide}V{high}H0Z"));
    let filled = filled
        .set("fill", "currentColor")
        .set("stroke-opacity", 0.3);
    filled.set("fill-opacity", 0.07).into()
}
