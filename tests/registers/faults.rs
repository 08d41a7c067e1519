//! Five thousand rows, thirty-seven of them faulty: exactly these are told, each with its line.
//!
//! Never in here: dialects. Changes when a row can be faulty in another way.

use serde_json::Value;

use super::made::{data, put, said, shop_with, text};

const REGISTER: &str = "tag,serial,maker,model,category,location,interval,last_done\n";
const ROWS: usize = 5000;
const FAULTY: usize = 37;

/// What is planted, and a part of what must be told.
const KINDS: [(&str, &str); 16] = [
    ("few", "7 cells under 8 headings"),
    ("many", "9 cells under 8 headings"),
    ("open", "never closed"),
    ("open last", "never closed"),
    ("bytes", "not UTF-8"),
    ("twice", "it stands in line 2 already"),
    ("no tag", "without a tag"),
    ("february", "the calendar does not have"),
    ("other form", "another form"),
    ("century", "without its century"),
    ("year 1899", "outside 1900 to 2199"),
    ("year 2200", "outside 1900 to 2199"),
    ("control", "can't be seen"),
    ("long", "more than 500 characters"),
    ("interval", "not an interval"),
    ("behind", "behind a closing quotation mark"),
];

fn faulty(kind: &str, tag: &str) -> Vec<u8> {
    let row = |tag: &str, serial: &str, location: &str, interval: &str, day: &str| {
        format!("{tag},{serial},Example Works,VP-1,volumetric,{location},{interval},{day}")
            .into_bytes()
    };
    let usual = |serial: &str| row(tag, serial, "Ward 3", "12", "2025-03-18");
    match kind {
        "few" => format!("{tag},S,Example Works,VP-1,volumetric,Ward 3,12").into_bytes(),
        "many" => row(tag, "S", "Ward 3, east", "12", "2025-03-18"),
        "open" => usual("\"S"),
        "open last" => row(tag, "S", "Ward 3", "12", "\""),
        "bytes" => {
            let mut bytes = usual("S");
            bytes[tag.len() + 1] = 0xF6;
            bytes
        }
        "twice" => row("D-00001", "S", "Ward 3", "12", "2025-03-18"),
        "no tag" => row(" ", "S", "Ward 3", "12", "2025-03-18"),
        "february" => row(tag, "S", "Ward 3", "12", "2025-02-31"),
        "other form" => row(tag, "S", "Ward 3", "12", "18.03.2025"),
        "century" => row(tag, "S", "Ward 3", "12", "18.03.25"),
        "year 1899" => row(tag, "S", "Ward 3", "12", "1899-12-31"),
        "year 2200" => row(tag, "S", "Ward 3", "12", "2200-01-01"),
        "control" => usual("S\u{7}1"),
        "long" => usual(&"S".repeat(501)),
        "interval" => row(tag, "S", "Ward 3", "now and then", "2025-03-18"),
        _ => usual("\"S\"1"),
    }
}

/// The file, with the line and kind of each faulty row.
fn file() -> (Vec<u8>, Vec<(usize, &'static str)>) {
    let mut bytes = b"Tag,Serial,Maker,Model,Category,Location,Interval,Last done\n".to_vec();
    let (mut planted, mut line) = (Vec::new(), 2);
    for number in 1..=ROWS {
        let tag = format!("D-{number:05}");
        // Spread over the file; two neighbours, and the last row too.
        let is_faulty = number % 139 == 0 || number == 140 || number == ROWS;
        if is_faulty && planted.len() < FAULTY {
            let (kind, told) = KINDS[planted.len() % KINDS.len()];
            planted.push((line, told));
            bytes.extend(faulty(kind, &tag));
        } else if number % 97 == 0 {
            bytes.extend(format!("{tag},\"S, \"\"new\"\"\",Example Works,VP-1,volumetric,\"Ward\n3\",12,2025-03-18").bytes());
            line += 1;
        } else {
            let category = if number % 500 == 1 {
                "infusor"
            } else {
                "volumetric"
            };
            bytes.extend(
                format!("{tag},S{number},\"Example\",VP-1,{category},12\" bay,12,2025-03-18")
                    .bytes(),
            );
        }
        bytes.push(b'\n');
        line += 1;
    }
    (bytes, planted)
}

#[test]
fn exactly_the_faulty_rows_are_told() {
    let shop = shop_with(REGISTER);
    let (bytes, planted) = file();
    assert_eq!(planted.len(), FAULTY);
    put(shop.path(), "in.csv", bytes);
    let told = data(shop.path(), 1, &["devices", "import", "in.csv"]);
    assert_eq!(told["faulty_rows"], FAULTY);
    let faults = told["faults"].as_array().expect("faults");
    let lines: Vec<usize> = faults.iter().map(line).collect();
    let wanted: Vec<usize> = planted.iter().map(|p| p.0).collect();
    assert_eq!(lines, wanted);
    for (fault, (line, told)) in faults.iter().zip(&planted) {
        let message = fault["message"].as_str().expect("text");
        assert!(message.contains(told), "line {line}: {message}, not {told}");
        assert!(!fault["help"].as_str().expect("text").is_empty());
    }
    assert!(
        told["notices"][0]
            .as_str()
            .expect("text")
            .contains("`infusor`"),
        "{}",
        told["notices"]
    );
    assert_eq!(text(shop.path(), "devices.csv"), REGISTER);
    let rest = data(
        shop.path(),
        0,
        &["devices", "import", "in.csv", "--leave-out-faulty"],
    );
    assert_eq!(rest["written"], true);
    let all = data(shop.path(), 0, &["devices", "list"]);
    assert_eq!(all.as_array().expect("a list").len(), ROWS - FAULTY);
}

fn line(fault: &Value) -> usize {
    usize::try_from(fault["line"].as_u64().expect("a number")).expect("a line")
}

#[test]
fn an_open_quotation_mark_costs_one_row_even_beside_quoted_ones() {
    let rows = [
        "A-1,\"open,x",
        "A-2,\"one, two\",x",
        "A-3,x,\"",
        "A-4,x,\"",
        "A-5,\"two\nlines\",x",
        "\"A-6\",x,x",
        "A-7,\"a\nb",
    ];
    let shop = shop_with(REGISTER);
    put(
        shop.path(),
        "in.csv",
        format!("tag,serial,model\n{}", rows.join("\n")),
    );
    let told = data(
        shop.path(),
        1,
        &["devices", "import", "in.csv", "--dry-run"],
    );
    let lines: Vec<usize> = told["faults"]
        .as_array()
        .expect("faults")
        .iter()
        .map(line)
        .collect();
    // A-7 is open to the end: its second line is a row of its own with too few cells.
    assert_eq!(lines, [2, 4, 5, 9, 10]);
    let new: Vec<&str> = told["new"]
        .as_array()
        .expect("new")
        .iter()
        .map(|n| n["id"].as_str().expect("text"))
        .collect();
    assert_eq!(new, ["A-2", "A-5", "A-6"]);
}

#[test]
fn a_row_says_its_column_cell_and_remedy() {
    let shop = shop_with(REGISTER);
    put(
        shop.path(),
        "in.csv",
        "tag,serial,Last done\nA-1,S,2026-02-31\n",
    );
    let told = said(shop.path(), 1, &["devices", "import", "in.csv"]);
    assert!(told.contains("line 2, column 3 `Last done`: `2026-02-31`: a day that the calendar does not have; write it as 2026-03-31"), "{told}");
    assert!(told.contains("--leave-out-faulty"), "{told}");
}

#[test]
fn limits_are_told() {
    let shop = shop_with(REGISTER);
    let rows: String = (0..100_001).map(|n| format!("{n}\n")).collect();
    put(shop.path(), "in.csv", format!("tag\n{rows}"));
    assert!(said(shop.path(), 2, &["devices", "import", "in.csv"]).contains("100000 rows"));
    put(shop.path(), "big.csv", vec![b'a'; 64 * 1024 * 1024 + 1]);
    assert!(said(shop.path(), 2, &["devices", "import", "big.csv"]).contains("64 MiB"));
}

#[test]
fn what_can_not_be_meant_is_a_fault() {
    let shop = shop_with(REGISTER);
    put(
        shop.path(),
        "in.csv",
        "tag,serial,Last done\nA-7,S7,2099-01-01\nTotal,,\nA-8,S8,2026-01-01\n",
    );
    let told = said(shop.path(), 1, &["devices", "import", "in.csv"]);
    assert!(
        told.contains("line 2, column 3 `Last done`: `2099-01-01`: 2099-01-01 lies in the future"),
        "{told}"
    );
    assert!(
        told.contains("line 3, the row: `Total`: nothing but a tag"),
        "{told}"
    );
    put(
        shop.path(),
        "devices.csv",
        "tag,serial,last_done\nA-7,S7,2099-01-01\n",
    );
    let told = said(shop.path(), 1, &["check", "devices.csv"]);
    assert!(
        told.contains("devices.csv:2:1") && told.contains("lies in the future"),
        "{told}"
    );
}

/// A register that was edited by hand holds no more than one that was imported.
#[test]
fn what_an_import_refuses_check_finds() {
    let shop = shop_with(REGISTER);
    let tag = "T".repeat(501);
    put(
        shop.path(),
        "devices.csv",
        format!(
            "tag,serial,location\nA-1\u{202e},S1,Ward 3\nA-2,S2,Ward\t3\n{tag},S3,Ward 3\nA-4,S4,Ward 3\n"
        ),
    );
    let told = said(shop.path(), 1, &["check", "devices.csv"]);
    for (place, words) in [
        (
            "devices.csv:2:1",
            "`tag` holds a character that can't be seen",
        ),
        (
            "devices.csv:3:1",
            "`location` holds a character that can't be seen",
        ),
        ("devices.csv:4:1", "`tag` holds more than 500 characters"),
    ] {
        assert!(
            told.contains(place) && told.contains(words),
            "{words}: {told}"
        );
    }
    assert_eq!(told.matches(" holds ").count(), 3, "{told}");
}

#[test]
fn what_looks_like_a_mistake_is_told() {
    let shop = shop_with("tag,serial,maker,model\nA-1,S1,Example Works,VP-1\n");
    put(
        shop.path(),
        "in.csv",
        "tag,serial,maker,model\na-1,S9,Example Works,VP-1\nA-2,s1,Example Works,VP-1\nA-3,\"1,23E+08\",Example Works,VP-1\nA-4,12E5,Example Works,VP-1\nA-5,,Example Works,VP-1\nA-6,,Example Works,VP-1\n",
    );
    let odd = [
        "`a-1` and `A-1` differ only in case",
        "`A-2` and `A-1` are the same device: Example Works VP-1, serial s1",
        "the serial `1,23E+08` of `A-3` looks like a number that a spreadsheet rounded",
    ];
    let told = said(shop.path(), 0, &["devices", "import", "in.csv"]);
    assert!(odd.iter().all(|o| told.contains(o)), "{told}");
    assert_eq!(told.matches("notice:").count(), odd.len(), "{told}");
    let told = said(shop.path(), 0, &["check", "devices.csv"]);
    assert!(odd.iter().all(|o| told.contains(o)), "{told}");
    assert_eq!(
        told.matches("warning[odd-entry]").count(),
        odd.len(),
        "{told}"
    );
    assert!(told.contains("devices.csv:3:1"), "{told}");
    // Nothing is new to tell where nothing of it is touched.
    let told = said(shop.path(), 0, &["devices", "import", "in.csv"]);
    assert!(!told.contains("notice:"), "{told}");
}
