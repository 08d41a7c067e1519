//! Spreadsheets as they are met: separators, encodings, headings, days; and what an import leaves alone.
//!
//! Never in here: faulty rows. Changes when another dialect is understood.

use super::made::{data, device, put, said, shop, shop_with, text};

const REGISTER: &str = "tag,serial,location,interval,last_done,shelf\nA-1,S1,Ward 1,12,2025-03-18,top\nA-2,S2,\"Ward 2, east\",6,,low\n";

/// A file taken into the register above, with these words.
fn taken(bytes: impl AsRef<[u8]>, words: &[&str]) -> tempfile::TempDir {
    let shop = shop_with(REGISTER);
    put(shop.path(), "in.csv", bytes);
    let words = [&["devices", "import", "in.csv"], words].concat();
    said(shop.path(), 0, &words);
    shop
}

#[test]
fn commas_semicolons_and_tabs_are_told_apart() {
    for separator in [",", ";", "\t"] {
        let rows = ["Asset Tag|Serial No|Ward", "A-9|S9|Ward 9"].map(|r| r.replace('|', separator));
        let shop = taken(rows.join("\r\n"), &[]);
        assert_eq!(device(shop.path(), "A-9")["serial"], "S9", "{separator:?}");
    }
    let shop = taken("sep=;\ntag;ward\nA-9;\"Ward 9, east; bay 2\"\n", &[]);
    assert_eq!(
        device(shop.path(), "A-9")["location"],
        "Ward 9, east; bay 2"
    );
}

#[test]
fn letters_are_utf_8_or_windows_1252_when_asked() {
    let shop = taken("\u{feff}tag,ward\nA-9,Höhe “3”\n", &[]);
    assert_eq!(device(shop.path(), "A-9")["location"], "Höhe “3”");
    // Windows-1252, from the WHATWG table: ö is F6, “ 93, ” 94, € 80.
    let old = b"tag,ward\nA-9,H\xF6he \x933\x94 \x80\n";
    let shop = taken(old, &["--encoding", "windows-1252"]);
    assert_eq!(device(shop.path(), "A-9")["location"], "Höhe “3” €");
    // What was said is kept for files with these headings; a file that is UTF-8 is read as that all the same.
    put(shop.path(), "in.csv", old);
    let told = data(shop.path(), 0, &["devices", "import", "in.csv"]);
    assert_eq!(told["unchanged"], 1);
    put(shop.path(), "in.csv", "tag,ward\nA-9,Höhe “4”\n");
    data(shop.path(), 0, &["devices", "import", "in.csv"]);
    assert_eq!(device(shop.path(), "A-9")["location"], "Höhe “4”");
    let shop = shop_with(REGISTER);
    put(shop.path(), "in.csv", old);
    let told = data(shop.path(), 1, &["devices", "import", "in.csv"]);
    assert_eq!(
        (&told["faults"][0]["line"], &told["faults"][0]["column"]),
        (&2.into(), &2.into())
    );
    let wide: Vec<u8> = "\u{feff}tag\n"
        .encode_utf16()
        .flat_map(u16::to_le_bytes)
        .collect();
    put(shop.path(), "wide.csv", wide);
    assert!(said(shop.path(), 2, &["devices", "import", "wide.csv"]).contains("UTF-16"));
}

#[test]
fn days_are_read_as_told_or_where_one_form_alone_can_be_meant() {
    let days = |rows: &str, words: &[&str]| {
        let shop = taken(format!("tag;Last check\n{rows}"), words);
        device(shop.path(), "A-9")["last_done"]
            .as_str()
            .expect("text")
            .to_owned()
    };
    assert_eq!(days("A-9;03/04/2026\nA-8;25/04/2026\n", &[]), "2026-04-03");
    assert_eq!(days("A-9;03/04/2026\nA-8;04/25/2026\n", &[]), "2026-03-04");
    assert_eq!(
        days("A-9;03/04/2026\n", &["--dates", "month-day-year"]),
        "2026-03-04"
    );
    assert_eq!(days("A-9;2026/4/3\n", &[]), "2026-04-03");
    assert_eq!(days("A-9;2026-04-03 00:00:00\n", &[]), "2026-04-03");
    for open in ["A-9;03/04/2026\n", "A-9;25/04/2026\nA-8;04/25/2026\n"] {
        let shop = shop_with(REGISTER);
        put(shop.path(), "in.csv", format!("tag;Last check\n{open}"));
        let told = said(shop.path(), 2, &["devices", "import", "in.csv"]);
        assert!(told.contains("--dates"), "{told}");
        assert_eq!(text(shop.path(), "devices.csv"), REGISTER);
    }
}

#[test]
fn line_breaks_in_quotes_and_quotes_in_cells_are_text() {
    let shop = taken(
        "tag,model,ward\nA-9,12\" arm,\"Ward\r\n9, \"\"new\"\"\"\n\n,,\nA-8,,Ward 8\n",
        &[],
    );
    let shown = device(shop.path(), "A-9");
    assert_eq!(
        (&shown["model"], &shown["location"]),
        (&"12\" arm".into(), &"Ward 9, \"new\"".into())
    );
    assert_eq!(device(shop.path(), "A-8")["model"], "");
}

#[test]
fn what_a_file_does_not_say_stays() {
    let shop = taken(
        "tag,serial,ward,Interval (weeks)\nA-1,S1,Ward 7,\nA-3,,\"a; \"\"b\"\"\",26\n",
        &["--column", "interval-weeks=Interval (weeks)"],
    );
    let wanted = REGISTER.replace("Ward 1,", "Ward 7,") + "A-3,,\"a; \"\"b\"\"\",26 weeks,,\n";
    assert_eq!(text(shop.path(), "devices.csv"), wanted);
}

#[test]
fn a_column_that_the_register_lacks_is_added() {
    let shop = taken("tag,manufacturer\nA-2,\"Example, Works\"\n", &[]);
    let wanted = "tag,serial,location,interval,last_done,shelf,maker\nA-1,S1,Ward 1,12,2025-03-18,top,\nA-2,S2,\"Ward 2, east\",6,,low,\"Example, Works\"\n";
    assert_eq!(text(shop.path(), "devices.csv"), wanted);
}

#[test]
fn a_dry_run_says_what_would_change_and_keeps_what_it_was_told() {
    let shop = shop_with(REGISTER);
    put(
        shop.path(),
        "in.csv",
        "Nr,location,interval\nA-1,Ward 7,12 months\nA-2,\"Ward 2, east\",6\nA-3,Ward 3,1 year\n",
    );
    let words = [
        "devices",
        "import",
        "in.csv",
        "--dry-run",
        "--column",
        "tag=Nr",
    ];
    let told = data(shop.path(), 0, &words);
    assert_eq!(
        told["changed"],
        serde_json::json!([{"id": "A-1", "fields": [{"field": "location", "old": "Ward 1", "new": "Ward 7"}]}])
    );
    assert_eq!(told["new"][0]["id"], "A-3");
    assert_eq!(
        (&told["unchanged"], &told["written"]),
        (&1.into(), &false.into())
    );
    let shown = said(shop.path(), 0, &words);
    assert!(
        shown.contains("changed A-1: location `Ward 1` → `Ward 7`"),
        "{shown}"
    );
    assert_eq!(text(shop.path(), "devices.csv"), REGISTER);
    assert!(
        text(shop.path(), "imports.yaml")
            .contains("columns: [\"tag\", \"location\", \"interval\"]")
    );
    said(shop.path(), 0, &["devices", "import", "in.csv"]);
    assert!(text(shop.path(), "devices.csv").contains("A-3"));
}

#[test]
fn what_columns_are_is_told_once() {
    let shop = shop_with(REGISTER);
    put(
        shop.path(),
        "in.csv",
        "Inv.Nr.;Farbe;Last check\nA-1;grey;03/04/2026\n",
    );
    let told = said(shop.path(), 2, &["devices", "import", "in.csv"]);
    assert!(
        told.contains("`Inv.Nr.`") && told.contains("--column tag="),
        "{told}"
    );
    said(
        shop.path(),
        0,
        &[
            "devices",
            "import",
            "in.csv",
            "--column",
            "tag=inv.nr.",
            "--column",
            "-=#2",
            "--dates",
            "day-month-year",
        ],
    );
    assert_eq!(device(shop.path(), "A-1")["last_done"], "2026-04-03");
    put(
        shop.path(),
        "again.csv",
        "Inv.Nr.;Farbe;Last check\nA-1;grey;04/04/2026\n",
    );
    let told = data(shop.path(), 0, &["devices", "import", "again.csv"]);
    assert_eq!(
        (&told["passed_over"], &told["way_kept"]),
        (&serde_json::json!([]), &false.into())
    );
    assert_eq!(device(shop.path(), "A-1")["last_done"], "2026-04-04");
    assert!(said(shop.path(), 0, &["check", "imports.yaml"]).contains("0 errors"));
    let mistyped = said(
        shop.path(),
        2,
        &["devices", "import", "in.csv", "--column", "serail=Farbe"],
    );
    assert!(mistyped.contains("`serial`"), "{mistyped}");
}

#[test]
fn people_and_instruments_come_from_spreadsheets_too() {
    let shop = shop();
    put(
        shop.path(),
        "people.csv",
        "Staff ID,Full name,Role,Left\ntech-04,Technician 4,technician,2026-01-31\ntech-20,\"Twenty, Technician\",Technician; Reviewer,\n",
    );
    said(shop.path(), 0, &["people", "import", "people.csv"]);
    let people = text(shop.path(), "people.yaml");
    let left = "# Invented.\npeople:\n  - {id: tech-04, name: Technician 4, roles: [technician], left: 2026-01-31}\n";
    assert!(people.starts_with(left), "{people}");
    assert!(
        people.ends_with(
            "  - {id: tech-20, name: \"Twenty, Technician\", roles: [technician, reviewer]}\n"
        ),
        "{people}"
    );
    put(
        shop.path(),
        "inst.csv",
        "ID,Description,Cal date,Cal due\nPG-09,\"Pressure gauge, old\",2026-03-02,2027-03-02\nXX-1,Timer,,2027-01-31\n",
    );
    said(shop.path(), 0, &["instruments", "import", "inst.csv"]);
    let before = include_str!("../../demo-data/shop/instruments.yaml");
    let wanted = before
        .replace("2024-06-30", "2026-03-02")
        .replace("due: 2025-06-30", "due: 2027-03-02");
    assert_eq!(
        text(shop.path(), "instruments.yaml"),
        wanted + "  - id: XX-1\n    kind: Timer\n    due: 2027-01-31\n"
    );
    put(shop.path(), "inst.csv", "ID,Description\nXX-2,Timer\n");
    assert!(said(shop.path(), 1, &["instruments", "import", "inst.csv"]).contains("without due"));
}
