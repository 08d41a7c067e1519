//! Rows for spreadsheets: what stands where, and that no cell is a formula.

use std::collections::BTreeMap;

use serde_json::json;
use stepwell::record::Record;
use stepwell::render::{Beside, columns, csv_head, csv_rows};

use crate::made;

/// The rows by the names of their columns, as another reader of CSV has them.
fn rows(record: &Record, beside: &Beside) -> Vec<BTreeMap<String, String>> {
    let bytes = [csv_head(), csv_rows(record, beside)].concat();
    let mut reader = csv::Reader::from_reader(&bytes[..]);
    reader.deserialize().map(Result::unwrap).collect()
}

fn of<'r>(rows: &'r [BTreeMap<String, String>], step: &str) -> Vec<&'r BTreeMap<String, String>> {
    rows.iter().filter(|r| r["step"] == step).collect()
}

#[test]
fn a_reading_stands_with_its_limit() {
    let rows = rows(&made::pass(), &Beside::default());
    let [pressure] = of(&rows, "occlusion.pressure")[..] else {
        panic!("one row was expected");
    };
    for (column, wanted) in [
        ("record", "B1-2026-0042"),
        ("record_verdict", "pass"),
        ("device", "VP-1001"),
        ("kind", "reading"),
        ("entry", "78.6 kPa"),
        ("value", "78.6"),
        ("unit", "kPa"),
        ("low", ""),
        ("high", "15"),
        ("high_unit", "psi"),
        ("limits_included", "yes"),
        ("severity", "critical"),
        ("verdict", "pass"),
        ("instrument", "PG-02"),
        ("certificate", "DEMO-2025-0202"),
    ] {
        assert_eq!(pressure[column], wanted, "{column}");
    }
    let cord = of(&rows, "cord_alone")[0];
    assert_eq!(
        (&*cord["kind"], &*cord["state"]),
        ("step", "not applicable")
    );
    assert_eq!(of(&rows, "spread")[0]["exact"], "no");
}

#[test]
fn repeats_attempts_and_corrections_each_have_their_row() {
    let rows = rows(&made::retried(), &Beside::default());
    let delivered = of(&rows, "accuracy.1.delivered");
    // Two attempts of three readings, and the mean that was judged.
    assert_eq!(delivered.len(), 7);
    let entries: Vec<&str> = delivered.iter().map(|r| &*r["entry"]).collect();
    assert_eq!(
        entries,
        ["4.61", "4.60", "4.62", "5.05", "5.03", "5.04", ""]
    );
    let decides: Vec<&str> = delivered.iter().map(|r| &*r["decides"]).collect();
    assert_eq!(decides, ["no", "no", "no", "yes", "yes", "yes", ""]);
    // The fifth reading over all attempts was corrected.
    let first: Vec<&str> = delivered.iter().map(|r| &*r["first_entry"]).collect();
    assert_eq!(first, ["", "", "", "", "50.3", "", ""]);
    let mean = delivered[6];
    assert_eq!(mean["value_of"], "mean(delivered)");
    assert_eq!(
        (&*mean["low"], &*mean["value"], &*mean["high"]),
        ("4.75", "5.04", "5.25")
    );
}

#[test]
fn a_cell_is_no_formula_unless_it_is_a_plain_number() {
    for (typed, wanted) in [
        ("=1+1", "'=1+1"),
        ("+49 1", "'+49 1"),
        ("@SUM(A1)", "'@SUM(A1)"),
        ("-cmd|' /C calc'!A0", "'-cmd|' /C calc'!A0"),
        ("  =1+1", "'  =1+1"),
        ("\u{ff1d}1+1", "'\u{ff1d}1+1"),
        ("-", "'-"),
        ("-1-1", "'-1-1"),
        ("-5.2", "-5.2"),
        ("-5,2", "-5,2"),
        ("+1e-3", "+1e-3"),
        ("5 = 5", "5 = 5"),
    ] {
        let mut record = made::pass();
        record.steps[0].attempts[0].entry = json!(typed);
        let rows = rows(&record, &Beside::default());
        assert_eq!(of(&rows, "occlusion.pressure")[0]["entry"], wanted);
    }
    let mut record = made::pass();
    record.steps[0].attempts[0].entry = json!("\t=1+1");
    let rows = rows(&record, &Beside::default());
    assert_eq!(of(&rows, "occlusion.pressure")[0]["entry"], "[U+0009]=1+1");
}

#[test]
fn hostile_texts_stay_in_their_cells() {
    let rows = rows(&made::hostile(), &made::hostile_beside());
    assert!(rows.len() >= 5);
    for cell in rows.iter().flat_map(|r| r.values()) {
        assert!(!cell.starts_with(['=', '+', '@', '\t', '\r']), "{cell}");
        assert!(!cell.contains(['\u{202e}', '\u{1b}', '\n']), "{cell}");
    }
}

#[test]
fn the_readme_tells_every_column() {
    let readme = include_str!("../../README.md");
    for (name, holds) in columns() {
        let line = format!("| `{name}` | {holds} |");
        assert!(readme.contains(&line), "{line}");
    }
}
