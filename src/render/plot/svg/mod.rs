//! A plot as two drawings in SVG, one for paper and wide screens and one for narrow screens, with a key below.
//!
//! Never in here: colours and fonts, which the page gives. Changes when a plot looks otherwise.

mod frame;
mod sample;
mod shapes;

use svg::node::element::{Description, Element, SVG, Title};

use self::frame::{Frame, NARROW, WIDE};
use self::shapes::{dashed, line, path, words};
use super::{Plot, Role, key};

/// The filter `drawing`: the drawings of a plot. `id` is unique on the page and begins the ids of titles.
pub(in super::super) fn drawing(
    plot: minijinja::value::Serde<Plot>,
    id: String,
) -> minijinja::Value {
    let plot = plot.0;
    let wide = picture(&plot, &Frame::new(&plot, WIDE), &id);
    let narrow = picture(&plot, &Frame::new(&plot, NARROW), &format!("{id}-narrow"));
    // A page that knows these classes shows the one that fits.
    let narrow = narrow.set("display", "none");
    let key = sample::key(&plot);
    minijinja::Value::from_safe_string(format!("{wide}\n{narrow}\n{key}"))
}

fn picture(plot: &Plot, frame: &Frame, id: &str) -> SVG {
    let (title, desc) = (format!("{id}-title"), format!("{id}-desc"));
    let mut picture = SVG::new()
        .set("class", frame.size.class)
        .set("viewBox", (0, 0, frame.size.width, frame.size.height))
        .set("role", "img")
        .set("aria-labelledby", format!("{title} {desc}"))
        .set("font-size", frame.size.font)
        .set("fill", "none")
        .set("stroke", "currentColor")
        .add(Title::new(plot.title.as_str()).set("id", title))
        .add(
            Description::new()
                .set("id", desc)
                .add(svg::node::Text::new(plot.shows.as_str())),
        );
    for part in [grid(plot, frame), levels(plot, frame), events(plot, frame)] {
        picture = part.into_iter().fold(picture, SVG::add);
    }
    let drawn = plot.series.iter().flat_map(|s| shapes::series(s, frame));
    drawn.fold(picture, SVG::add)
}

/// The band, the axes with marks at round numbers, and what they are.
fn grid(plot: &Plot, frame: &Frame) -> Vec<Element> {
    let mut parts = Vec::new();
    let [left, right, top, bottom] = frame.edges();
    if let Some([low, high]) = plot.band {
        let d = format!(
            "M{left:.1} {:.1}H{right:.1}V{:.1}H{left:.1}Z",
            frame.y(low),
            frame.y(high)
        );
        let band = path(&d)
            .set("fill", "currentColor")
            .set("fill-opacity", 0.07);
        parts.push(band.set("stroke", "none").set("class", "band").into());
    }
    for (v, label) in frame.up.ticks() {
        let y = frame.y(v);
        parts.push(
            line([left, y, right, y], 0.8)
                .set("stroke-opacity", 0.18)
                .into(),
        );
        let at = (left - 6.0, y + frame.size.font as f64 * 0.35);
        parts.push(words(&label, at, "end").set("class", "mark-up").into());
    }
    let axes = format!("M{left:.1} {top:.1}V{bottom:.1}H{right:.1}");
    parts.push(path(&axes).set("stroke-width", 1.2).into());
    let mut free = f64::MIN;
    for (v, label) in frame.right.ticks() {
        let x = frame.x(v);
        parts.push(line([x, bottom, x, bottom + 5.0], 1.0).into());
        let half = frame.length(&label) / 2.0;
        let middle = x.min(frame.size.width as f64 - half - 1.0);
        if middle - half > free {
            let under = bottom + 7.0 + frame.size.font as f64;
            parts.push(
                words(&label, (middle, under), "middle")
                    .set("class", "mark-right")
                    .into(),
            );
            free = middle + half + frame.size.font as f64 * 0.5;
        }
    }
    parts.extend(titles(plot, frame));
    parts
}

/// What the axes are: above the one upwards, below the one to the right.
fn titles(plot: &Plot, frame: &Frame) -> [Element; 2] {
    let [_, right, _, bottom] = frame.edges();
    let font = frame.size.font as f64;
    let up = key::cut(
        &plot.y.title(),
        frame.columns(frame.size.width as f64 - 4.0),
    );
    let across = key::cut(&plot.x.title(), frame.columns(right - 2.0));
    [
        words(&up, (2.0, font + 1.0), "start").into(),
        words(&across, (right, bottom + 12.0 + 2.0 * font), "end").into(),
    ]
}

/// Limits, set values and means, with their names beside them.
fn levels(plot: &Plot, frame: &Frame) -> Vec<Element> {
    let [left, right, ..] = frame.edges();
    let mut parts = Vec::new();
    for (n, level) in plot.levels.iter().enumerate() {
        let y = frame.y(level.value);
        let kind = match level.role {
            Role::AtLeast | Role::AtMost => "level limit",
            Role::Nominal => "level nominal",
            Role::Mean => "level mean",
        };
        let drawn = dashed(line([left, y, right, y], 1.3), level.role);
        parts.push(drawn.set("class", kind).into());
        if let Some(place) = frame.beside.get(n).copied().flatten() {
            let leader = [right + 2.0, y, right + 10.0, place];
            parts.push(line(leader, 0.8).set("stroke-opacity", 0.6).into());
            let at = (right + 13.0, place + frame.size.font as f64 * 0.35);
            parts.push(words(&frame.level_label(plot, n), at, "start").into());
        }
    }
    parts
}

/// What happened, with its names above.
fn events(plot: &Plot, frame: &Frame) -> Vec<Element> {
    let [_, _, top, bottom] = frame.edges();
    let mut parts = Vec::new();
    for (event, place) in plot.events.iter().zip(&frame.above) {
        let x = frame.x(event.at);
        let from = place.as_ref().map_or(top, |p| p.foot);
        let drawn = line([x, from, x, bottom], 1.1).set("stroke-dasharray", "1.5 2.5");
        parts.push(drawn.set("class", "event").into());
        if let Some(place) = place {
            parts.push(words(&place.text, (place.x, place.y), "start").into());
        }
    }
    parts
}
