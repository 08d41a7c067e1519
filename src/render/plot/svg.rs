//! A plot as two drawings in SVG, one for paper and wide screens and one for narrow screens, with a key below.
//!
//! Never in here: where things lie; colours and fonts, which the page gives. Changes when SVG is written otherwise.

use std::fmt::Write;

use svg::Node;
use svg::node::element::{Description, Element, Path as Drawn, SVG, Text, Title};

use super::Plot;
use super::sketch::{Anchor, Fill, Move, NARROW, Path, SAMPLE, Shape, Size, WIDE, key, sketch};

/// The filter `drawing`: the drawings of a plot. `id` is unique on the page and begins the ids of titles.
pub(in super::super) fn drawing(
    plot: minijinja::value::Serde<Plot>,
    id: String,
) -> minijinja::Value {
    let plot = plot.0;
    let wide = picture(&plot, WIDE, &id);
    // A page that knows these classes shows the one that fits.
    let narrow = picture(&plot, NARROW, &format!("{id}-narrow")).set("display", "none");
    let key = list(&plot);
    minijinja::Value::from_safe_string(format!("{wide}\n{narrow}\n{key}"))
}

fn picture(plot: &Plot, size: Size, id: &str) -> SVG {
    let (title, desc) = (format!("{id}-title"), format!("{id}-desc"));
    let shows = svg::node::Text::new(plot.shows.as_str());
    let picture = pen(SVG::new())
        .set("class", size.class)
        .set("viewBox", (0, 0, size.width, size.height))
        .set("role", "img")
        .set("aria-labelledby", format!("{title} {desc}"))
        .set("font-size", size.font)
        .add(Title::new(plot.title.as_str()).set("id", title))
        .add(Description::new().set("id", desc).add(shows));
    let shapes = sketch(plot, size);
    shapes.iter().map(element).fold(picture, SVG::add)
}

/// A drawing whose lines have the colour of the text around it.
fn pen(picture: SVG) -> SVG {
    picture.set("fill", "none").set("stroke", "currentColor")
}

/// The key as a list.
fn list(plot: &Plot) -> Element {
    let mut list = Element::new("ul");
    list.assign("class", "plot-key");
    for (shapes, text) in key(plot) {
        list.append(item(&shapes, text));
    }
    list
}

fn item(shapes: &[Shape], text: String) -> Element {
    let (wide, high) = SAMPLE;
    let sample = pen(SVG::new())
        .set("class", "sample")
        .set("width", wide)
        .set("height", high)
        .set("viewBox", (0, 0, wide, high))
        .set("aria-hidden", "true");
    let mut words = Element::new("span");
    words.append(svg::node::Text::new(text));
    let mut item = Element::new("li");
    item.append(shapes.iter().map(element).fold(sample, SVG::add));
    item.append(words);
    item
}

fn element(shape: &Shape) -> Element {
    let (mut element, class): (Element, _) = match shape {
        Shape::Path(path) => (drawn(path).into(), path.class),
        Shape::Words(words) => {
            let anchor = match words.anchor {
                Anchor::Start => "start",
                Anchor::Middle => "middle",
                Anchor::End => "end",
            };
            let text = Text::new(words.text.as_str())
                .set("x", round(words.at.0))
                .set("y", round(words.at.1))
                .set("text-anchor", anchor)
                .set("fill", "currentColor")
                .set("stroke", "none");
            (text.into(), words.class)
        }
    };
    if !class.is_empty() {
        element.assign("class", class);
    }
    element
}

fn drawn(path: &Path) -> Drawn {
    let mut drawn = Drawn::new().set("d", way(&path.moves));
    drawn = match path.fill {
        Fill::None => drawn,
        Fill::Paper => drawn.set("fill", "var(--paper, #fff)"),
        Fill::Ink(share) if share < 1.0 => {
            drawn.set("fill", "currentColor").set("fill-opacity", share)
        }
        Fill::Ink(_) => drawn.set("fill", "currentColor"),
    };
    if path.width <= 0.0 {
        return drawn.set("stroke", "none");
    }
    drawn = drawn
        .set("stroke-width", path.width)
        .set("stroke-linejoin", "round");
    if path.opacity < 1.0 {
        drawn = drawn.set("stroke-opacity", path.opacity);
    }
    if !path.dashes.is_empty() {
        let dashes: Vec<String> = path.dashes.iter().map(f64::to_string).collect();
        drawn = drawn.set("stroke-dasharray", dashes.join(" "));
    }
    drawn
}

/// A tenth of a pixel is enough.
fn round(v: f64) -> f64 {
    (v * 10.0).round() / 10.0
}

fn way(moves: &[Move]) -> String {
    let mut d = String::new();
    let mut at = (f64::NAN, f64::NAN);
    for step in moves {
        let to = match *step {
            Move::To(x, y) | Move::Line(x, y) => (round(x), round(y)),
            Move::Circle(x, y, r) => (round(x - r), round(y)),
            Move::Close => at,
        };
        let (x, y) = to;
        let _ = match *step {
            Move::To(..) => write!(d, "M{x} {y}"),
            Move::Line(..) if y == at.1 => write!(d, "H{x}"),
            Move::Line(..) if x == at.0 => write!(d, "V{y}"),
            Move::Line(..) => write!(d, "L{x} {y}"),
            Move::Circle(_, _, r) => {
                let (r, across) = (round(r), round(2.0 * r));
                let half = |across: f64| format!("a{r} {r} 0 1 0 {across} 0");
                write!(d, "M{x} {y}{}{}Z", half(across), half(-across))
            }
            Move::Close => write!(d, "Z"),
        };
        at = to;
    }
    d
}
