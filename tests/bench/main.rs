//! How the work grows: checking, comparing, running and verifying recipes of 100 to 10,000 steps, many recipes at once, and logged
//! series of up to a million rows.
//!
//! `cargo bench` prints the times; with `STEPWELL_GROWTH=1` it prints the exponents of growth of one run instead, with
//! `STEPWELL_TRUMPET=1` the time of one trumpet, for `trumpet_numpy.py`, with `STEPWELL_DERIVED=1` how many times as long a
//! shop of derived recipes takes as one of them. Never
//! in here: a bound that fails; no test asserts a time. Changes when another kind of work should stay in proportion.

mod derived;
mod logged;
mod made;

use std::path::Path;
use std::time::Instant;

use criterion::{BenchmarkId, Criterion};
use stepwell::app::{check, verify_records};
use stepwell::diff::{Revision, compare};
use stepwell::host::RealHost;
use stepwell::recipe;
use stepwell::text::Source;

/// The allocator of the program.
#[global_allocator]
static ALLOCATOR: mimalloc::MiMalloc = mimalloc::MiMalloc;

const STEPS: [usize; 3] = [100, 1_000, 10_000];
const ROWS: [usize; 3] = [10_000, 100_000, 1_000_000];
/// Runs of which the fastest counts, for the exponent.
const RUNS: usize = 3;

/// Checks a recipe from its text.
fn check_text(text: &str) {
    let reading = recipe::read(Source::new("made.yaml", text));
    assert!(
        reading.plan.is_some(),
        "a made recipe has no errors: {:?}",
        reading.findings.first()
    );
}

/// Reads two revisions and compares them.
fn compare_texts(old: &str, new: &str) {
    let revision = |text: &str| {
        let plan = recipe::read(Source::new("made.yaml", text)).plan;
        Revision::new("made.yaml", plan.expect("a made recipe has no errors")).expect("YAML")
    };
    let difference = compare(&revision(old), &revision(new));
    assert!(!difference.changes.is_empty(), "a made revision differs");
}

fn verify_record(record: &Path) {
    let named = [record.display().to_string()];
    verify_records(&RealHost::default(), None, &named, &mut |verified| {
        assert!(verified.outcome.is_ok());
    })
    .expect("a readable record");
}

/// A kind of work: what is laid out before, and what is timed.
struct Work {
    name: &'static str,
    /// What the sizes count.
    of: &'static str,
    sizes: [usize; 3],
    lay_out: fn(usize) -> Box<dyn FnMut()>,
}

fn works() -> [Work; 6] {
    [
        Work {
            name: "check",
            of: "steps",
            sizes: STEPS,
            lay_out: |steps| {
                let text = made::recipe(steps);
                Box::new(move || check_text(&text))
            },
        },
        Work {
            name: "diff",
            of: "steps",
            sizes: STEPS,
            lay_out: |steps| {
                let (old, new) = made::revisions(steps);
                Box::new(move || compare_texts(&old, &new))
            },
        },
        Work {
            name: "run",
            of: "steps",
            sizes: STEPS,
            lay_out: |steps| {
                let shop = made::shop(steps);
                Box::new(move || _ = made::walk(&shop))
            },
        },
        Work {
            name: "verify",
            of: "steps",
            sizes: STEPS,
            lay_out: |steps| {
                let shop = made::shop(steps);
                let record = made::walk(&shop);
                // The closure keeps the shop: its folder goes away with it.
                Box::new(move || {
                    let _ = &shop;
                    verify_record(&record)
                })
            },
        },
        Work {
            name: "trumpet",
            of: "rows",
            sizes: ROWS,
            lay_out: |rows| {
                let (times, volumes) = logged::delivery(rows);
                Box::new(move || drop(logged::six_windows(&times, &volumes)))
            },
        },
        Work {
            name: "import",
            of: "rows",
            sizes: ROWS,
            lay_out: |rows| {
                let file = logged::csv(rows);
                Box::new(move || logged::import(&file, rows))
            },
        },
    ]
}

/// The slope of log time over log steps, by least squares.
fn exponent(points: &[(f64, f64)]) -> f64 {
    let count = points.len() as f64;
    let (x, y): (Vec<f64>, Vec<f64>) = points
        .iter()
        .map(|(steps, time)| (steps.ln(), time.ln()))
        .unzip();
    let (mx, my) = (x.iter().sum::<f64>() / count, y.iter().sum::<f64>() / count);
    let both: f64 = x.iter().zip(&y).map(|(x, y)| (x - mx) * (y - my)).sum();
    both / x.iter().map(|x| (x - mx).powi(2)).sum::<f64>()
}

fn fastest_s(work: &mut dyn FnMut()) -> f64 {
    let times = (0..RUNS).map(|_| {
        let start = Instant::now();
        work();
        start.elapsed().as_secs_f64()
    });
    times.fold(f64::INFINITY, f64::min)
}

fn print_growth() {
    for work in works() {
        let Work { name, of, .. } = work;
        let points = work
            .sizes
            .map(|size| (size as f64, fastest_s(&mut *(work.lay_out)(size))));
        let times = points.map(|(size, time_s)| format!("{size} {of} {time_s:.4} s"));
        println!(
            "{name}: exponent {:.2} ({})",
            exponent(&points),
            times.join(", ")
        );
    }
}

fn grow(criterion: &mut Criterion) {
    for work in works() {
        let mut group = criterion.benchmark_group(work.name);
        group.sample_size(10);
        for size in work.sizes {
            let mut work = (work.lay_out)(size);
            group.bench_function(BenchmarkId::from_parameter(size), |b| b.iter(&mut work));
        }
    }
}

fn many(criterion: &mut Criterion) {
    let folder = made::many_recipes(1_000);
    let mut group = criterion.benchmark_group("check many");
    group.sample_size(10);
    group.bench_function("1000 recipes of 200 lines", |b| {
        b.iter(|| {
            check(&RealHost::default(), &[folder.path().to_owned()]).expect("readable recipes")
        });
    });
    let (folder, one) = derived::lay_out();
    for (name, path) in [
        ("one derived recipe", one),
        ("40 of one base", folder.path().to_owned()),
    ] {
        group.bench_function(name, |b| {
            b.iter(|| {
                check(&RealHost::default(), std::slice::from_ref(&path)).expect("readable recipes")
            });
        });
    }
}

fn main() {
    if std::env::var_os("STEPWELL_GROWTH").is_some() {
        return print_growth();
    }
    if std::env::var_os("STEPWELL_TRUMPET").is_some() {
        return logged::print_trumpet();
    }
    if std::env::var_os("STEPWELL_DERIVED").is_some() {
        return derived::print_ratio();
    }
    let mut criterion = Criterion::default().configure_from_args();
    grow(&mut criterion);
    many(&mut criterion);
    criterion.final_summary();
}
