//! Made-up logs of any length, and what is done with them.
//!
//! `trumpet_numpy.py` makes the same readings. Never in here: what is printed of benchmarks. Changes when another work on
//! logs should be timed.

use std::fmt::Write;
use std::time::Instant;

use stepwell::maths::flow::{Allowed, Delivery, TrumpetPoint, trumpet};
use stepwell::quantity::Unit;
use stepwell::trace::{ColumnChoice, Header, Mapping, TimeColumn, Wanted, read};

/// Sample interval in s.
const INTERVAL: f64 = 30.0;
/// Set rate in m³/s, 25 mL/h.
const RATE: f64 = 25e-6 / 3600.0;
/// Windows in min (IEC 60601-2-24, from memory).
const WINDOWS: [f64; 6] = [1.0, 2.0, 5.0, 11.0, 19.0, 31.0];
/// Runs of which the fastest counts.
const RUNS: usize = 7;

/// What is collected in one interval, in 0.1 µL: about 25 mL/h.
fn step(index: usize) -> usize {
    1883 + index * 7919 % 401
}

/// Times in s and volumes in m³.
pub fn delivery(rows: usize) -> (Vec<f64>, Vec<f64>) {
    let times = (0..rows).map(|i| i as f64 * INTERVAL).collect();
    let mut sum = 0;
    let volume = |index: usize| {
        sum += if index == 0 { 0 } else { step(index) };
        sum as f64 / 1e10
    };
    (times, (0..rows).map(volume).collect())
}

/// The trumpet over all of it.
pub fn six_windows(times: &[f64], volumes: &[f64]) -> Vec<TrumpetPoint> {
    let delivery = Delivery::new(times, volumes, Allowed::default()).expect("a sound delivery");
    let windows = WINDOWS.map(|minutes| minutes * 60.0);
    trumpet(&delivery, delivery.whole(), RATE, &windows).expect("sound windows")
}

/// A log of times in s and masses in g, as a balance writes them.
pub fn csv(rows: usize) -> Vec<u8> {
    let mut text = String::from("time_s,mass_g\n");
    let mut sum = 0;
    for index in 0..rows {
        sum += if index == 0 { 0 } else { step(index) };
        let (grams, rest) = (sum / 10_000, sum % 10_000);
        writeln!(text, "{}.0,{grams}.{rest:04}", index * 30).expect("text can be written to");
    }
    text.into_bytes()
}

/// Reads a log.
pub fn import(file: &[u8], rows: usize) {
    let mapping = Mapping {
        time: TimeColumn {
            column: ColumnChoice::Heading("time".to_owned()),
            form: None,
        },
        columns: vec![Wanted {
            name: "mass".to_owned(),
            column: ColumnChoice::Heading("mass".to_owned()),
            unit: Unit::parse("g").expect("a unit"),
            written_in: None,
        }],
        separator: None,
        decimal: None,
        header: Header::Find,
    };
    assert_eq!(read(file, &mapping).expect("a sound log").rows(), rows);
}

/// The fastest time of a trumpet over a million readings, and its extremes.
pub fn print_trumpet() {
    let (times, volumes) = delivery(1_000_000);
    let mut fastest = f64::INFINITY;
    let mut points = Vec::new();
    for _ in 0..RUNS {
        let start = Instant::now();
        points = six_windows(&times, &volumes);
        fastest = fastest.min(start.elapsed().as_secs_f64());
    }
    println!("{fastest:.6} s");
    for point in points {
        let (largest, smallest) = (point.largest, point.smallest);
        let minutes = point.window / 60.0;
        println!(
            "{minutes} {:.9} {} {:.9} {}",
            largest.error, largest.window, smallest.error, smallest.window
        );
    }
}
