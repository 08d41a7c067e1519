//! A made-up shop of many records: ten benches, ten years, a thousand devices, a recipe of five readings.
//!
//! Never in here: what is timed. Changes when a session asks for more.

use std::path::Path;

use indexmap::IndexMap;
use rayon::prelude::*;
use stepwell::app::{self, Session, Start};
use stepwell::engine::{Event, question};
use stepwell::host::HurriedHost;
use stepwell::trust::{RECORD, SecretKey};

const RECIPE: &str = include_str!("made-up.yaml");
const BENCHES: usize = 10;
const YEARS: usize = 10;
const DEVICES: usize = 1_000;

/// Makes the shop by real sessions.
pub fn make(folder: &Path, count: usize) {
    let host = HurriedHost::new();
    host.set("2015-01-01T00:00:00.000+00:00");
    app::lay_out_demo(&host, folder).expect("a folder");
    std::fs::write(folder.join("recipes/made-up.yaml"), RECIPE).expect("room");
    calibrate_early(&folder.join("instruments.yaml"));
    let mut devices =
        "tag,serial,maker,model,category,location,interval_months,last_done\n".to_owned();
    for n in 1..=DEVICES {
        devices += &format!(
            "D-{n:05},S{n},Example Works,VP-{},volumetric,Ward {},12,\n",
            n % 3 + 1,
            n % 20
        );
    }
    std::fs::write(folder.join("devices.csv"), devices).expect("room");
    let key = SecretKey::make(&[7; 52], "tech-04").expect("a key");
    let people = format!(
        "people:\n  - {{id: tech-04, name: Technician 04, roles: [technician], public_key: {}}}\n  - {{id: review-01, name: Reviewer 01, roles: [reviewer]}}\n",
        key.public().line()
    );
    std::fs::write(folder.join("people.yaml"), people).expect("room");
    std::fs::write(folder.join("shop.yaml"), "name: Made up\nbench: B1\n").expect("room");
    let open = app::open_shop(&host, folder).expect("a shop");
    let reviewed = app::review(&host, &open, "made-up", "review-01").expect("a good recipe");
    app::approve(&host, &open, reviewed, &mut |_| Ok(None)).expect("an approval");
    let per = count.div_ceil(BENCHES * YEARS);
    // The benches work at the same time, each by a clock of its own.
    (0..BENCHES).into_par_iter().for_each(|bench| {
        let host = HurriedHost::new();
        let mut open = app::open_shop(&host, folder).expect("a shop");
        open.shop.bench = format!("B{}", bench + 1);
        for n in 0..per * YEARS {
            let made = bench * per * YEARS + n;
            if made >= count {
                return;
            }
            host.set(&time(n / per, n % per, per));
            walk(&host, &open, made, &key);
        }
    });
}

/// The instruments were calibrated before the first record.
fn calibrate_early(register: &Path) {
    const KEY: &str = "calibrated: ";
    let text = std::fs::read_to_string(register).expect("a register");
    let mut parts = text.split(KEY);
    let mut early = parts.next().unwrap_or_default().to_owned();
    for part in parts {
        early += &format!("{KEY}2014-06-30{}", &part["2014-06-30".len()..]);
    }
    std::fs::write(register, early).expect("room");
}

/// The n-th time of `per` in a year, later than the one before: a ledger takes no record from before its last one.
fn time(year: usize, n: usize, per: usize) -> String {
    let minutes = n * 336 * 24 * 60 / per;
    let (day, minute) = (minutes / (24 * 60), minutes % (24 * 60));
    format!(
        "{}-{:02}-{:02}T{:02}:{:02}:00.000+00:00",
        2016 + year,
        day / 28 + 1,
        day % 28 + 1,
        minute / 60,
        minute % 60
    )
}

fn walk(host: &HurriedHost, open: &app::OpenShop, n: usize, key: &SecretKey) {
    let runnable = app::runnable(host, open, "made-up", false).expect("approved");
    let device = format!("D-{:05}", n % DEVICES + 1);
    let how = Start {
        device: &device,
        by: "tech-04",
        occasion: "scheduled check",
        trial: false,
        with: IndexMap::new(),
        beside: true,
        other_device: false,
    };
    let mut sign = |statement: stepwell::trust::Statement| {
        Ok(Some(statement.sign(key, RECORD).expect("a signature")))
    };
    let mut next = |session: &Session<'_>| Ok(next(session, n));
    app::run_through(host, open, runnable, &how, &mut next, &mut sign).expect("a record");
}

fn next(session: &Session<'_>, n: usize) -> Option<Event> {
    let question = question(&session.plan, &session.state)?;
    let spread = (n * 7919 + session.events.len() * 104_729) % 100;
    let text = match question.item.path.as_str() {
        "accuracy.1.delivered" => format!("{:.2}", 4.90 + spread as f64 * 0.002),
        "accuracy.2.delivered" => format!("{:.2}", 9.80 + spread as f64 * 0.004),
        "occlusion_pressure" => format!("{:.1}", 9.0 + spread as f64 * 0.02),
        _ => "yes".to_owned(),
    };
    Some(Event::Entry {
        path: question.item.path.clone(),
        text,
        confirmed: true,
        timer: None,
        heard: None,
        at: session.now(),
    })
}
