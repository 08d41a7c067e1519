//! Records of the kinds that renderings have to tell apart, made by the program in a demo shop.
//!
//! Never in here: what is expected of them. Changes when a rendering has to tell another kind.

use std::fmt::Write as _;
use std::io::Write as _;
use std::process::{Output, Stdio};

use flate2::Compression;
use flate2::write::ZlibEncoder;

use crate::made::Shop;

/// A recipe with a log and photographs.
const LOGGED: &str = "format: 1
recipe: logged
revision: 1
title: Occlusion with a long log
category: volumetric
basis: {practice: \"common practice, no source; the maker's manual governs\"}
changes: [{revision: 1, date: 2026-01-15, why: First issue, by: author-02}]
steps:
  - id: looks
    confirm: The case is whole, as the photographs show
    basis: practice
  - id: log
    trace: File of the pressure log
    columns:
      time: {column: time_s, unit: s}
      pressure: {column: p_mmhg, unit: mmHg}
  - id: top
    compute: peak(log.pressure)
    unit: mmHg
    accept: top <= \"600 mmHg\"
    basis: practice
";
/// Photographs of the record with a log.
pub const PHOTOGRAPHS: usize = 12;
/// Rows of its log.
const ROWS: usize = 10_000;

/// A shop with a record of each kind.
pub struct Kinds {
    pub shop: Shop,
    /// What it is and its id.
    pub records: Vec<(&'static str, String)>,
}

impl Kinds {
    pub fn made() -> Self {
        let shop = Shop::new();
        shop.write("recipes/logged.yaml", LOGGED);
        shop.write("log.csv", &log());
        for n in 0..PHOTOGRAPHS {
            let shade = u8::try_from(20 * n).expect("few photographs");
            let file = shop.file(&format!("photo {n}.png"));
            std::fs::write(file, png(640, 480, shade)).expect("room");
        }
        assert_eq!(shop.says("approve logged --by review-01").code, 0);
        let annual = "run volumetric-annual --device VP-1001 --by tech-04";
        let stored = |name: &str| format!("{annual} --answers answers/{name}.yaml");
        let mut records = vec![
            ("pass", typed(&shop, &stored("pass"), "")),
            ("fail", typed(&shop, &stored("fail"), "")),
            ("corrected", typed(&shop, &stored("corrected"), "")),
            ("retried", typed(&shop, &stored("retry"), "")),
            ("trial", typed(&shop, &(stored("pass") + " --trial"), "")),
        ];
        let stopped = "yes\nyes\n:stop The fluid ran out\n\n";
        records.push(("incomplete", typed(&shop, annual, stopped)));
        shop.edit("shop.yaml", "decision: simple", "decision: banded");
        let weighed = "run volumetric-weighed --device VP-1003 --by tech-04 --answers answers/weighed-near.yaml";
        records.push(("banded", typed(&shop, weighed, "")));
        let mut words = String::new();
        for n in 0..PHOTOGRAPHS {
            writeln!(words, ":file photo {n}.png").expect("room");
        }
        words.push_str("yes\nlog.csv\n\n");
        let logged = "run logged --device VP-1001 --by tech-04";
        records.push(("logged", typed(&shop, logged, &words)));
        Self { shop, records }
    }

    /// The id of a kind.
    pub fn id(&self, kind: &str) -> &str {
        let found = self.records.iter().find(|(k, _)| *k == kind);
        &found.expect("a kind").1
    }

    /// Renders all records into files of the shop with this ending; gives their names.
    pub fn rendered(&self, to: &str, more: &str) -> Vec<(&'static str, String)> {
        let one = |(kind, id): &(&'static str, String)| {
            let file = format!("{kind}{}.{to}", more.len());
            let said = self
                .shop
                .says(&format!("render {id} --to {to} --output {file}{more}"));
            assert!(matches!(said.code, 0 | 1), "{kind}: {}", said.text);
            (*kind, file)
        };
        self.records.iter().map(one).collect()
    }
}

/// Walks a session with typed words; gives the id of its record.
fn typed(shop: &Shop, command: &str, words: &str) -> String {
    let mut run = shop.command(command);
    let mut child = run
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the program");
    let mut stdin = child.stdin.take().expect("a pipe");
    // Nothing is read where stored answers are enough.
    let _ = stdin.write_all(words.as_bytes());
    drop(stdin);
    let Output { stdout, stderr, .. } = child.wait_with_output().expect("the program");
    let text = String::from_utf8_lossy(&stdout).into_owned();
    let id = regex::Regex::new("Record (B1-[0-9]{4}-[0-9]{4}):").expect("a pattern");
    let found = id
        .captures(&text)
        .unwrap_or_else(|| panic!("{command}: {text}{}", String::from_utf8_lossy(&stderr)));
    found[1].to_owned()
}

/// A log of a pressure that rises and stays.
fn log() -> String {
    let mut text = String::from("time_s,p_mmhg\n");
    for n in 0..ROWS {
        let pressure = (18 + n / 10).min(510);
        writeln!(text, "{}.{:02},{pressure}", n / 50, n % 50 * 2).expect("room");
    }
    text
}

/// A PNG in one grey (ISO/IEC 15948: signature, IHDR, IDAT, IEND).
pub fn png(width: u32, height: u32, shade: u8) -> Vec<u8> {
    let mut head = [width.to_be_bytes(), height.to_be_bytes()].concat();
    head.extend([8, 0, 0, 0, 0]);
    let mut packed = ZlibEncoder::new(Vec::new(), Compression::fast());
    let mut row = vec![shade; width as usize + 1];
    row[0] = 0;
    for _ in 0..height {
        packed.write_all(&row).expect("room");
    }
    let mut out = b"\x89PNG\r\n\x1a\n".to_vec();
    let chunks = [
        (b"IHDR", head),
        (b"IDAT", packed.finish().expect("room")),
        (b"IEND", Vec::new()),
    ];
    for (name, body) in chunks {
        let mut sum = flate2::Crc::new();
        sum.update(name);
        sum.update(&body);
        out.extend(u32::try_from(body.len()).expect("small").to_be_bytes());
        out.extend(name);
        out.extend(body);
        out.extend(sum.sum().to_be_bytes());
    }
    out
}
