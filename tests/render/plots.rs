//! What a reader finds of plots: every line with its words, in XML that holds, drawn without colour, whatever the data.
//!
//! Never in here: how a plot looks, which has to be looked at. Changes when a plot shows something new.

use proptest::prelude::*;
use roxmltree::{Document, Node};
use stepwell::render::Format;
use stepwell::render::plot::{Axis, Event, Level, Line, Plot, Window};

use crate::drawn::{all, rendered, repeats, start_up, trace, trumpet};

const FORMATS: [Format; 3] = [Format::Text, Format::Markdown, Format::Html];
const HOSTILE: &str = "</svg><script>\"'&amp;]]>\u{202e}\u{1}\u{ffff} {{ x }} | *b*";

/// Plots that are hard to draw.
pub fn hard() -> Vec<Plot> {
    let time = || Axis::new("time", "s");
    let value = || Axis::new("value", "");
    let events = (0..40).map(|n| Event::new(&format!("event {n} of many"), f64::from(n % 7)));
    let levels = (0..30).map(|n| Level::at_most(&format!("limit {n}"), f64::from(n % 9) / 10.0));
    let long = "a name that goes on and on ".repeat(8);
    let window = Window {
        length: 0.5,
        high: f64::NAN,
        low: 1.0,
    };
    vec![
        Plot::trace("no data", time(), value(), [], vec![], vec![]),
        Plot::trace("one point", time(), value(), [(3.0, 4.0)], vec![], vec![]),
        Plot::trace(
            "always the same",
            time(),
            value(),
            [(0.0, 5.0), (9.0, 5.0)],
            vec![],
            vec![],
        ),
        Plot::trace(
            "many events and lines",
            time(),
            value(),
            [(0.0, 0.1), (6.0, 0.7)],
            levels.collect(),
            events.collect(),
        ),
        Plot::trace(
            &long,
            Axis::new(&long, "s"),
            Axis::new(&long, "mL"),
            [(1e-9, -1e12), (2e-9, 1e12)],
            vec![Level::at_most(&long, 1e11)],
            vec![
                Event::new(&long, 1.5e-9),
                Event::new("水の圧力の警報", 1.9e-9),
            ],
        ),
        Plot::start_up(HOSTILE, time(), value(), [(0.0, f64::NAN)], f64::INFINITY),
        Plot::trumpet(
            "no window that can be drawn",
            "min",
            &[window],
            None,
            vec![],
        ),
        Plot::repeats(
            "many",
            value(),
            (0..5000).map(|n| (f64::from(n % 100), None)),
            None,
            vec![],
        ),
    ]
}

/// The drawings and keys of a page.
fn drawings(html: &str) -> Vec<String> {
    let figures = html.split("<figure").skip(1);
    figures
        .map(|f| {
            let from = f.find("<svg").unwrap();
            let to = f.find("</ul>").unwrap() + "</ul>".len();
            format!("<all>{}</all>", &f[from..to])
        })
        .collect()
}

fn texts(node: Node) -> Vec<String> {
    let texts = node
        .descendants()
        .filter(|n| n.has_tag_name("text") || n.is_text());
    texts.filter_map(|n| n.text().map(str::to_owned)).collect()
}

fn of_class<'a>(all: &'a Document, class: &str) -> Vec<Node<'a, 'a>> {
    let has = |n: &Node| {
        n.attribute("class")
            .is_some_and(|c| c.split(' ').any(|c| c == class))
    };
    all.descendants().filter(has).collect()
}

#[test]
fn drawings_are_xml_with_titles_for_those_who_hear_them() {
    for plots in [all(), hard()] {
        let html = rendered(&plots, Format::Html);
        let drawn = drawings(&html);
        assert_eq!(drawn.len(), plots.len());
        for (plot, text) in plots.iter().zip(drawn) {
            let xml = Document::parse(&text).unwrap_or_else(|e| panic!("{e}: {text}"));
            for class in ["wide", "narrow"] {
                let svg = of_class(&xml, class)[0];
                assert_eq!(svg.attribute("role"), Some("img"));
                let ids = svg.attribute("aria-labelledby").unwrap();
                let named = |id: &str| {
                    let found = xml.descendants().find(|n| n.attribute("id") == Some(id));
                    assert_eq!(html.matches(&format!("id=\"{id}\"")).count(), 1);
                    found.and_then(|n| n.text()).unwrap().to_owned()
                };
                let said: Vec<String> = ids.split(' ').map(named).collect();
                assert_eq!(said, [plot.title.clone(), plot.shows.clone()]);
            }
        }
    }
}

#[test]
fn every_line_has_its_words_in_the_drawing_and_in_the_key() {
    let html = rendered(&all(), Format::Html);
    let expected: [&[&str]; 4] = [
        &["flow", "set rate 25 mL/h", "time in min", "flow in mL/h"],
        &[
            "Ep(max)",
            "Ep(min)",
            "upper limit 5 %",
            "lower limit -5 %",
            "overall error A 0.847695 %",
        ],
        &[
            "alarm at most 900 mmHg",
            "occlusion start, 12 s",
            "alarm, 61.3 s",
            "release, 70 s",
        ],
        &[
            "volume; bars: expanded uncertainty",
            "nominal 5 mL",
            "upper limit 5.25 mL",
        ],
    ];
    for (drawing, expected) in drawings(&html).iter().zip(expected) {
        for words in expected {
            assert!(drawing.contains(words), "{words} lacks in {drawing}");
        }
    }
    for (plot, drawing) in all().iter().zip(drawings(&html)) {
        let xml = Document::parse(&drawing).unwrap();
        let wide = texts(of_class(&xml, "wide")[0]);
        for name in plot
            .levels
            .iter()
            .map(|l| &l.name)
            .chain(plot.events.iter().map(|e| &e.name))
        {
            assert!(
                wide.iter().any(|t| t.contains(name)),
                "{name} lacks in {wide:?}"
            );
        }
        for (class, count) in [
            ("level", plot.levels.len()),
            ("event", plot.events.len()),
            ("band", usize::from(plot.band.is_some())),
        ] {
            assert_eq!(of_class(&xml, class).len(), 2 * count, "{class}");
        }
        assert_eq!(
            of_class(&xml, "series").is_empty(),
            plot.series[0].line.is_none()
        );
    }
}

#[test]
fn the_figures_stand_in_every_form() {
    for format in FORMATS {
        let text = rendered(&all(), format);
        let text = text
            .replace('\\', "")
            .split_whitespace()
            .collect::<Vec<_>>()
            .join(" ");
        for words in [
            "of 200000 readings, the lowest and the highest of each stretch.",
            "Largest and smallest mean flow error, Ep(max) and Ep(min)",
            "set rate",
            "occlusion start",
            "pump stops",
            "6.68",
            "-5.37",
            "5.27",
            "expanded uncertainty",
        ] {
            assert!(text.contains(words), "{format:?} lacks {words}: {text}");
        }
    }
    let markdown = rendered(&all(), Format::Markdown);
    assert!(!markdown.contains("<svg") && markdown.contains("\n| 31 min | 0\\.89 | 0\\.35 |\n"));
}

#[test]
fn nothing_rests_on_colour() {
    for drawing in drawings(&rendered(&all(), Format::Html)) {
        let xml = Document::parse(&drawing).unwrap();
        let paints = ["none", "currentColor", "var(--paper, #fff)"];
        for node in xml.descendants() {
            for name in ["fill", "stroke"] {
                let paint = node.attribute(name);
                assert!(paint.is_none_or(|p| paints.contains(&p)), "{paint:?}");
            }
        }
        let look = |n: &Node| {
            let of = |name| n.attribute(name).unwrap_or_default().to_owned();
            (of("stroke-dasharray"), of("stroke-width"))
        };
        let one = |class: &str| of_class(&xml, class).iter().map(look).next();
        let series: Vec<_> = of_class(&xml, "series").iter().map(look).collect();
        let half = series.len() / 2;
        let lines = [one("limit"), one("nominal"), one("mean"), one("event")];
        let mut looks: Vec<_> = lines
            .into_iter()
            .flatten()
            .chain(series[..half].to_vec())
            .collect();
        looks.sort();
        let before = looks.len();
        looks.dedup();
        assert_eq!(looks.len(), before, "two lines look the same: {looks:?}");
    }
}

#[test]
fn marks_stand_at_round_numbers_and_nothing_outside() {
    for drawing in drawings(&rendered(
        &[start_up(), trace(1000), repeats()],
        Format::Html,
    )) {
        let xml = Document::parse(&drawing).unwrap();
        for class in ["wide", "narrow"] {
            let svg = of_class(&xml, class)[0];
            let size: Vec<f64> = svg
                .attribute("viewBox")
                .unwrap()
                .split(' ')
                .map(|v| v.parse().unwrap())
                .collect();
            for node in svg.descendants() {
                for (names, end) in [(["x", "x1", "x2"], size[2]), (["y", "y1", "y2"], size[3])] {
                    for v in names.iter().filter_map(|n| node.attribute(*n)) {
                        let v: f64 = v.parse().unwrap();
                        assert!((0.0..=end).contains(&v), "{v} of {end}");
                    }
                }
            }
            for axis in ["mark-up", "mark-right"] {
                let here = |n: &Node| n.attribute("class") == Some(axis);
                let marks: Vec<f64> = svg
                    .descendants()
                    .filter(here)
                    .map(|n| n.text().unwrap().parse().unwrap())
                    .collect();
                assert!((3..=13).contains(&marks.len()), "{marks:?}");
                let step = (marks[1] - marks[0]).abs();
                let first = step / 10f64.powf(step.log10().floor() + 1e-9);
                let round = [1.0, 2.0, 5.0, 10.0]
                    .iter()
                    .any(|r| (first - r).abs() < 1e-6);
                assert!(round, "{marks:?}");
            }
        }
    }
}

#[test]
fn a_limit_of_a_trumpet_is_no_error_of_one_side() {
    let plot = trumpet();
    let limit = plot
        .rows
        .iter()
        .find(|r| r[0].text == "lower limit -5 %")
        .unwrap();
    assert!(limit[1].text.is_empty() && limit[2].text.is_empty());
}

#[test]
fn two_upper_limits_have_nothing_between_them() {
    let levels = [Level::at_most("warning", 1.0), Level::at_most("alarm", 2.0)];
    let banded = |levels: Vec<Level>| {
        let (x, y) = (Axis::new("time", "s"), Axis::new("pressure", "kPa"));
        Plot::trace("p", x, y, [(0.0, 1.0)], levels, vec![]).band
    };
    assert_eq!(banded(levels.to_vec()), None);
    let low = Level::at_least("low", 0.5);
    assert_eq!(banded([&levels[..], &[low]].concat()), Some([0.5, 1.0]));
}

#[test]
fn steps_hold_a_value_until_the_next() {
    let mut plot = start_up();
    plot.series[0].line = Some(Line::Steps);
    let drawing = &drawings(&rendered(&[plot], Format::Html))[0];
    let xml = Document::parse(drawing).unwrap();
    let d = of_class(&xml, "series")[0].attribute("d").unwrap();
    // Two moves for each reading after the first; one along no way at all may be written as either.
    let (level, upright) = (d.matches('H').count(), d.matches('V').count());
    assert_eq!((level + upright, d.matches('L').count()), (478, 0));
    assert!(level >= 239 && upright > 200);
}

#[test]
fn texts_cannot_break_out() {
    let plot = Plot::trace(
        HOSTILE,
        Axis::new(HOSTILE, HOSTILE),
        Axis::new(HOSTILE, HOSTILE),
        [(0.0, 1.0), (1.0, 2.0)],
        vec![Level::at_most(HOSTILE, 1.5)],
        vec![Event::new(HOSTILE, 0.5)],
    );
    for format in FORMATS {
        let text = rendered(std::slice::from_ref(&plot), format);
        assert!(
            text.contains("U+202E") && !text.contains('\u{202e}'),
            "{format:?}"
        );
        assert!(format != Format::Html || !text.contains("<script"));
        assert!(format != Format::Markdown || !text.replace("\\<", "").contains("<script"));
    }
    let html = rendered(&[plot], Format::Html);
    Document::parse(&drawings(&html)[0]).unwrap();
}

#[test]
fn a_terminal_has_room_for_it() {
    for plots in [all(), hard()] {
        let text = rendered(&plots, Format::Text);
        for line in text.lines() {
            let wide = textwrap::core::display_width(line);
            let drawn = line.contains(['┤', '│', '└']) || line.contains('\u{28ff}');
            assert!(wide <= if drawn { 72 } else { 80 }, "{wide}: {line}");
            assert!(!line.ends_with(' '), "{line:?}");
        }
    }
}

/// 10,000 readings of a log, of which a record keeps 400: the caption counts them all, and highest is the first of equal ones.
#[test]
fn a_log_is_told_with_all_its_readings() {
    let kept = (0..400).map(|n| (f64::from(n), if n == 399 { 7.0 } else { f64::from(n % 50) }));
    let plot = Plot::log(
        "log",
        Axis::new("time", "min"),
        Axis::new("mass", "g"),
        kept,
        10_000,
        vec![],
    );
    assert!(
        plot.shows
            .contains("; 10000 readings, lowest 0 g at 0 min, highest 49 g at 49 min."),
        "{}",
        plot.shows
    );
    assert_eq!(
        plot.remarks,
        ["Drawn from 400 of 10000 readings, the lowest and the highest of each stretch."]
    );
    let row = |name: &str| {
        let found = plot.rows.iter().find(|r| r[0].text == name).expect(name);
        (found[1].text.as_str(), found[2].text.as_str())
    };
    assert_eq!(row("highest"), ("49", "49"));
    assert_eq!(row("last"), ("399", "7"));
}

/// What was not drawn can't be told: beside the exact time of an event stands no reading of another time.
#[test]
fn an_event_between_drawn_readings_has_those_around_it() {
    let told = |readings: usize| {
        let kept = (0..10).map(|n| (f64::from(n) * 10.0, f64::from(n)));
        let (time, mass) = (Axis::new("time", "min"), Axis::new("mass", "g"));
        let at = [("there", 50.0), ("between", 54.0), ("behind", 99.0)];
        let events = at.map(|(name, at)| Event::new(name, at)).to_vec();
        let plot = Plot::log("log", time, mass, kept, readings, events);
        at.map(|(name, _)| {
            let row = plot.rows.iter().find(|r| r[0].text == name).expect(name);
            row[2].text.clone()
        })
    };
    assert_eq!(
        told(10_000),
        ["5", "5 before it, 6 after it", "9 before it"]
    );
    assert_eq!(told(10), ["5", "5", "9"]);
}

#[test]
fn a_spike_of_one_reading_among_millions_is_kept() {
    let spike = |n: u32| {
        (
            f64::from(n),
            if n == 1_234_567 {
                99.0
            } else {
                f64::from(n % 7)
            },
        )
    };
    let plot = Plot::trace(
        "spike",
        Axis::new("time", "s"),
        Axis::new("pressure", "mmHg"),
        (0..3_000_000).map(spike),
        vec![],
        vec![],
    );
    let points = &plot.series[0].points;
    assert!(points.len() <= 4 * 601, "{}", points.len());
    assert!(points.iter().any(|p| (p.x, p.y) == (1_234_567.0, 99.0)));
    let told = "of 3000000 readings, the lowest and the highest of each stretch.";
    assert!(plot.remarks[0].ends_with(told), "{:?}", plot.remarks);
    assert_eq!(plot.series[0].readings, 3_000_000);
}

#[test]
fn readings_without_a_place_are_left_out_and_counted() {
    let data = [
        (f64::NAN, None),
        (5.0, Some(f64::INFINITY)),
        (f64::NEG_INFINITY, Some(0.1)),
    ];
    let plot = Plot::repeats(
        "few",
        Axis::new("volume", "mL"),
        data,
        Some(f64::NAN),
        vec![],
    );
    assert_eq!(plot.series[0].points.len(), 1);
    assert_eq!(plot.series[0].points[0].x, 2.0);
    assert_eq!(plot.series[0].points[0].uncertainty, None);
    assert!(plot.levels.is_empty());
    assert_eq!(
        plot.remarks,
        ["2 readings are no numbers that can be drawn and are left out."]
    );
}

/// Numbers of every kind, with those in favour that break scales.
fn number() -> impl Strategy<Value = f64> {
    prop_oneof![
        any::<f64>(),
        -10.0..10.0,
        Just(0.0),
        Just(f64::NAN),
        Just(f64::INFINITY),
        Just(f64::MAX),
        Just(f64::MIN_POSITIVE),
        Just(1e16),
        Just(1e16 + 2.0),
    ]
}

fn numbers() -> impl Strategy<Value = Vec<(f64, f64)>> {
    let plain = prop::collection::vec((number(), number()), 0..12);
    let same = (number(), 0_usize..4).prop_map(|(v, n)| vec![(v, v); n]);
    prop_oneof![plain, same]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    #[test]
    fn whatever_the_data_it_is_drawn(
        points in numbers(),
        levels in prop::collection::vec(number(), 0..5),
        events in prop::collection::vec(number(), 0..9),
        rate in number(),
    ) {
        let (x, y) = (Axis::new("time", "s"), Axis::new("pressure", "mmHg"));
        let sided = |(n, l): (usize, &f64)| if n % 2 == 0 { Level::at_most("high", *l) } else { Level::at_least("low", *l) };
        let limits: Vec<Level> = levels.iter().enumerate().map(sided).collect();
        let happened = events.iter().map(|e| Event::new("event", *e)).collect();
        let window = |(length, high): &(f64, f64)| Window { length: *length, high: *high, low: rate };
        let windows: Vec<Window> = points.iter().map(window).collect();
        let values = points.iter().map(|(v, u)| (*v, Some(*u)));
        let plots = [
            Plot::start_up("s", x.clone(), y.clone(), points.clone(), rate),
            Plot::trumpet("t", "min", &windows, Some(rate), limits.clone()),
            Plot::trace("p", x, y.clone(), points.clone(), limits.clone(), happened),
            Plot::repeats("r", y, values, Some(rate), limits),
        ];
        let html = rendered(&plots, Format::Html);
        prop_assert!(!html.contains("NaN") && !html.contains("inf\"") && !html.contains(" inf"));
        for drawing in drawings(&html) {
            prop_assert!(Document::parse(&drawing).is_ok(), "{}", drawing);
        }
        for line in rendered(&plots, Format::Text).lines() {
            prop_assert!(textwrap::core::display_width(line) <= 80, "{}", line);
        }
    }

    #[test]
    fn thinning_keeps_the_extremes(values in prop::collection::vec(-1e6..1e6, 2500..9000)) {
        let points = values.iter().enumerate().map(|(n, v)| (n as f64, *v));
        let axes = (Axis::new("time", "s"), Axis::new("flow", "mL/h"));
        let plot = Plot::trace("t", axes.0, axes.1, points, vec![], vec![]);
        let kept = &plot.series[0].points;
        prop_assert!(kept.len() <= 4 * 601 && kept.len() < values.len());
        let low = values.iter().copied().fold(f64::MAX, f64::min);
        let high = values.iter().copied().fold(f64::MIN, f64::max);
        for v in [low, high, values[0], values[values.len() - 1]] {
            prop_assert!(kept.iter().any(|p| p.y == v));
        }
        prop_assert!(kept.iter().all(|p| values[p.x as usize] == p.y));
    }
}
