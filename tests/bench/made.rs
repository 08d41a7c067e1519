//! Made-up recipes, shops and walks of any size.
//!
//! Never in here: timing. Changes when recipes of another shape should be timed.

use std::fmt::Write;
use std::path::PathBuf;

use indexmap::IndexMap;
use stepwell::app::{Session, Start, init, open_shop, runnable, start};
use stepwell::engine::{Event, question};
use stepwell::host::RealHost;
use tempfile::TempDir;

const HEAD: &str = "format: 1
revision: 1
title: Made up
category: gauge
basis: {practice: made up}
changes: [{revision: 1, date: 2026-01-15, why: First issue}]
cautions: [Never test a device that is connected to a patient.]
settings: {tolerance: 5 %, nominal: 5 mL}
steps:
";

/// A recipe of that many steps: readings that are judged, what is computed from them, and sentences with values.
pub fn recipe(steps: usize) -> String {
    format!("recipe: made-up\n{HEAD}{}", body(steps))
}

/// Two revisions of a recipe of that many steps: a setting changed on which half of them rest, every hundredth step is
/// called otherwise, every hundredth is no more, and the last one comes first.
pub fn revisions(steps: usize) -> (String, String) {
    let old = recipe(steps);
    let body = body(steps);
    let mut parts: Vec<String> = body
        .split_inclusive("  - id: ")
        .map(str::to_owned)
        .collect();
    for (n, part) in parts.iter_mut().enumerate() {
        if n % 100 == 50 {
            *part = part.replace("Volume of run", "Volume in run");
        }
    }
    let mut body: Vec<String> = parts
        .concat()
        .split("  - id: volume_")
        .skip(1)
        .map(|p| format!("  - id: volume_{p}"))
        .collect();
    body.rotate_right(1);
    let mut n = 0;
    body.retain(|_| {
        n += 1;
        n % 100 != 30
    });
    let head = HEAD.replace("tolerance: 5 %", "tolerance: 4 %");
    let new = format!("recipe: made-up\n{head}{}", body.concat());
    (old, new)
}

fn body(steps: usize) -> String {
    let mut text = String::new();
    for n in 0..steps / 2 {
        write!(
            text,
            "  - id: volume_{n}
    title: Volume {n}
    measure: Volume of run {n} at {{{{ nominal }}}}
    unit: mL
    range: [0 mL, 20 mL]
    accept: within(volume_{n}, nominal, tolerance)
    basis: practice
  - id: error_{n}
    compute: deviation(volume_{n}, nominal)
    unit: \"%\"
"
        )
        .expect("text can be written to");
    }
    text
}

/// A shop with the recipe of that many steps.
pub struct Shop {
    folder: TempDir,
}

/// Lays a shop out.
pub fn shop(steps: usize) -> Shop {
    let folder = tempfile::tempdir().expect("a folder");
    init(&RealHost::default(), folder.path()).expect("an empty folder");
    let file = |name: &str| folder.path().join(name);
    let devices = "tag,serial,maker,model,category,location,interval_months,last_done\nD-1,1,Made,M,gauge,here,12,\n";
    std::fs::write(file("devices.csv"), devices).expect("a register");
    std::fs::write(file("recipes/made-up.yaml"), recipe(steps)).expect("a recipe");
    Shop { folder }
}

/// Walks the recipe with readings that pass; gives the record.
pub fn walk(shop: &Shop) -> PathBuf {
    let host = RealHost::default();
    let open = open_shop(&host, shop.folder.path()).expect("a sound shop");
    let plan = runnable(&host, &open, "made-up", true).expect("a sound recipe");
    let how = Start {
        device: "D-1",
        by: "tech-01",
        occasion: "made up",
        trial: true,
        with: IndexMap::new(),
        beside: true,
        other_device: false,
    };
    let mut session = start(&host, &open, plan, &how, IndexMap::new()).expect("a session");
    while let Some(event) = next(&session) {
        session.keep(event).expect("a reading that fits");
    }
    session.close(&open, &mut |_| Ok(None)).expect("a record").1
}

fn next(session: &Session<'_>) -> Option<Event> {
    let question = question(&session.plan, &session.state)?;
    Some(Event::Entry {
        path: question.item.path.clone(),
        text: "5.01".to_owned(),
        confirmed: false,
        timer: None,
        heard: None,
        at: session.now(),
    })
}

/// A folder with that many recipes of 200 lines, each of its own name.
pub fn many_recipes(count: usize) -> TempDir {
    let folder = tempfile::tempdir().expect("a folder");
    let head_lines = HEAD.lines().count() + 1;
    let steps = 2 * (200 - head_lines).div_ceil(10);
    for n in 0..count {
        let text = format!("recipe: made-{n}\n{HEAD}{}", body(steps));
        std::fs::write(folder.path().join(format!("made-{n}.yaml")), text).expect("a recipe");
    }
    folder
}
