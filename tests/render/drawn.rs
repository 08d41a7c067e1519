//! Plots made by hand: a start-up graph, a trumpet curve, a trace with events, repeats. With `STEPWELL_LOOK` set to a folder,
//! the test here writes them there in every form, to be looked at.
//!
//! Never in here: what is expected of them. Changes when another kind of plot is added.

use stepwell::render::document::{Block, of_record};
use stepwell::render::plot::{Axis, Event, Level, Plot, Window};
use stepwell::render::{Beside, Format, render_document};

use crate::made;

/// A number between -1 and 1 that looks like noise.
fn noise(n: u32) -> f64 {
    let mixed = n.wrapping_mul(747_796_405).wrapping_add(2_891_336_453);
    let mixed = (mixed >> ((mixed >> 28) + 4) ^ mixed).wrapping_mul(277_803_737);
    f64::from((mixed >> 22) ^ mixed) / f64::from(u32::MAX) * 2.0 - 1.0
}

pub fn start_up() -> Plot {
    let flow = |n: u32| {
        let t = f64::from(n) * 0.5;
        (t, 25.2 * (1.0 - (-t / 6.0).exp()) + 1.4 * noise(n))
    };
    Plot::start_up(
        "Start-up graph at 25 mL/h",
        Axis::new("time", "min"),
        Axis::new("flow", "mL/h"),
        (1..=240).map(flow),
        25.0,
    )
}

/// Windows of the worked example of the design (section c of the calculations), cut to two decimals.
pub fn trumpet() -> Plot {
    let windows = [
        (1.0, 6.68, -5.37),
        (2.0, 5.07, -3.45),
        (5.0, 3.10, -1.87),
        (11.0, 1.58, -0.21),
        (19.0, 0.96, 0.30),
        (31.0, 0.89, 0.35),
    ];
    let window = |(length, high, low)| Window { length, high, low };
    Plot::trumpet(
        "Trumpet curve, second hour",
        "min",
        &windows.map(window),
        Some(0.847_695_390_782),
        vec![
            Level::at_most("upper limit", 5.0),
            Level::at_least("lower limit", -5.0),
        ],
    )
}

pub fn trace(readings: u32) -> Plot {
    let pressure = move |n: u32| {
        let t = f64::from(n) * 90.0 / f64::from(readings);
        let p = match t {
            t if t < 12.0 => 18.0,
            t if t < 61.3 => 18.0 + (t - 12.0) * 15.5,
            t if t < 70.0 => 782.0 - (t - 61.3) * 30.0,
            t => 20.0 + 501.0 * (-(t - 70.0) * 1.4).exp(),
        };
        (t, p + 4.0 * noise(n))
    };
    Plot::trace(
        "Pressure at the occlusion",
        Axis::new("time", "s"),
        Axis::new("pressure", "mmHg"),
        (0..readings).map(pressure),
        vec![Level::at_most("alarm at most", 900.0)],
        vec![
            Event::new("occlusion start", 12.0),
            Event::new("alarm", 61.3),
            Event::new("pump stops", 62.1),
            Event::new("release", 70.0),
        ],
    )
}

pub fn repeats() -> Plot {
    let volumes = [5.03, 4.98, 5.01, 5.08, 4.95, 5.02, 5.27, 5.00, 4.99, 5.04];
    Plot::repeats(
        "Delivered volume, ten repeats",
        Axis::new("volume", "mL"),
        volumes.map(|v| (v, Some(0.04))),
        Some(5.0),
        vec![
            Level::at_most("upper limit", 5.25),
            Level::at_least("lower limit", 4.75),
        ],
    )
}

pub fn all() -> Vec<Plot> {
    vec![start_up(), trumpet(), trace(200_000), repeats()]
}

/// A record's rendering with plots at its end.
pub fn rendered(plots: &[Plot], format: Format) -> String {
    let record = made::pass();
    let mut document = of_record(&record, &Beside::default());
    let block = |plot: &Plot| Block::Plot {
        plot: Box::new(plot.clone()),
    };
    document.blocks = plots.iter().map(block).collect();
    render_document(&record, &document, format).unwrap()
}

#[test]
fn examples_can_be_looked_at() {
    let Some(folder) = std::env::var_os("STEPWELL_LOOK") else {
        return;
    };
    let folder = std::path::PathBuf::from(folder);
    let hard = crate::plots::hard();
    for (name, plots) in [("plots", &all()), ("hard", &hard)] {
        for (ending, format) in [
            ("html", Format::Html),
            ("md", Format::Markdown),
            ("txt", Format::Text),
        ] {
            let file = folder.join(name).with_extension(ending);
            std::fs::write(file, rendered(plots, format)).unwrap();
        }
    }
}
