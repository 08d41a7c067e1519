//! A disk that fills up at the n-th write: a register is as it was, or as it was to be, and never in between.
//!
//! Never in here: other faults. Changes when something else is written.

use std::path::Path;

use stepwell::app::{
    AppError, Calibrated, Done, Told, add_entry, begin_import, calibrated, import, upkeep_done,
};
use stepwell::host::{FailingHost, Host, RealHost};
use stepwell::shop::import::{DateForm, Register};

use super::made::{put, shop, text};

const FILES: [&str; 4] = [
    "people.yaml",
    "devices.csv",
    "instruments.yaml",
    "upkeep-B1.jsonl",
];

fn files(shop: &Path) -> [String; 4] {
    FILES.map(|f| text(shop, f))
}

/// Does something with ever more writes until all go through; each file is old or new after each failure, and doing it
/// again on a disk with room comes to the same files.
fn whichever_write_fails(act: &dyn Fn(&dyn Host, &Path) -> Result<(), AppError>) {
    let undisturbed = shop();
    prepare(undisturbed.path());
    let old = files(undisturbed.path());
    act(&RealHost::default(), undisturbed.path()).expect("a disk with room");
    let new = files(undisturbed.path()).map(|t| timeless(&t));
    let mut n = 1;
    loop {
        let shop = shop();
        prepare(shop.path());
        let Err(error) = act(&FailingHost::new(n), shop.path()) else {
            break;
        };
        assert!(
            error.to_string().contains("disk is full"),
            "write {n}: {error}"
        );
        for ((now, old), new) in files(shop.path()).iter().zip(&old).zip(&new) {
            assert!(now == old || timeless(now) == *new, "write {n}: {now}");
        }
        act(&RealHost::default(), shop.path()).unwrap_or_else(|e| panic!("write {n}: {e}"));
        assert_eq!(files(shop.path()).map(|t| timeless(&t)), new, "write {n}");
        n += 1;
    }
    assert!(n > 2, "only {n} writes were tried");
}

/// Without the moment at which a line was entered.
fn timeless(text: &str) -> String {
    let cut = |line: &str| match line.strip_prefix("{\"at\":\"") {
        Some(rest) => rest.get(29..).unwrap_or_default().to_owned(),
        None => line.to_owned(),
    };
    text.lines().map(cut).collect::<Vec<_>>().join("\n")
}

fn prepare(shop: &Path) {
    put(
        shop,
        "in.csv",
        "Nr;location;Last check\nVP-1001;Ward 8;03/04/2026\nVP-9999;Ward 9;\n",
    );
}

#[test]
fn an_import() {
    whichever_write_fails(&|host, root| {
        let told = Told {
            columns: vec![("tag".to_owned(), "Nr".to_owned())],
            dates: Some(DateForm::DayMonthYear),
            ..Told::default()
        };
        let begun = begin_import(host, root, Register::Devices, &root.join("in.csv"), &told)?;
        import(host, root, &begun, false, false).map(drop)
    });
}

#[test]
fn an_addition() {
    whichever_write_fails(&|host, root| {
        let values = [("name", "New".to_owned()), ("roles", "author".to_owned())];
        add_entry(host, root, Register::People, "n-1", &values).map(drop)
    });
}

fn done<'a>(instrument: &'a str) -> Done<'a> {
    Done {
        instrument,
        by: "tech-04",
        on: Some("2026-03-02"),
        note: "",
    }
}

#[test]
fn upkeep() {
    whichever_write_fails(&|host, root| {
        upkeep_done(host, root, "cleaning", &done("FM-01")).map(drop)
    });
}

#[test]
fn a_calibration() {
    whichever_write_fails(&|host, root| {
        let new = Calibrated {
            certificate: "C-2026-9",
            due: "2027-03-02",
        };
        calibrated(host, root, &new, &done("PG-09")).map(drop)
    });
}
