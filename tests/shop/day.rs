//! The demo's day, as it stands in its document: every command, in its order, with the exit code that is said of it.
//!
//! Never in here: what each command does. Changes with `demo-data/a-day.md`.

use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use stepwell::app::lay_out_demo;
use stepwell::host::{Host, HurriedHost, RealHost};

use super::made::records;

const DAY: &str = include_str!("../../demo-data/a-day.md");

/// What is typed in the session that is paused: nothing else of the day is typed.
const TYPED: &str = "yes\nyes\nEW-200517\n:pause\n";

/// The commands of the document, with the exit code that is said of each.
fn commands() -> Vec<(String, i32)> {
    let blocks = DAY.split("```sh\n").skip(1);
    let blocks = blocks.map(|b| b.split("```").next().expect("its end"));
    let line = |line: &str| match line.split_once(" # exit ") {
        Some((command, code)) => (command.to_owned(), code.parse().expect("a code")),
        None => (line.to_owned(), 0),
    };
    blocks.flat_map(str::lines).map(line).collect()
}

/// The name of the only session under way.
fn session(shop: &Path) -> String {
    let files = std::fs::read_dir(shop.join("sessions")).expect("sessions");
    let names = files.map(|f| f.expect("a file").file_name());
    let names = names.map(|n| n.to_string_lossy().into_owned());
    let open: Vec<String> = names
        .filter_map(|n| Some(n.strip_suffix(".jsonl")?.to_owned()))
        .collect();
    assert_eq!(open.len(), 1, "{open:?}");
    open[0].clone()
}

struct Day {
    folder: tempfile::TempDir,
}

impl Day {
    fn file(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn shop(&self) -> PathBuf {
        self.file("shop")
    }

    /// Runs a command as it stands there; its exit code and what it said.
    fn run(&self, line: &str, year: &str) -> (i32, String) {
        let mut line = line.replace("B1-2026-", &format!("B1-{year}-"));
        if line.contains("SESSION") {
            line = line.replace("SESSION", &session(&self.shop()));
        }
        let all = shlex::split(&line).expect("quotes that close");
        let mut program = Command::new(env!("CARGO_BIN_EXE_stepwell"));
        program
            .args(&all[1..])
            .current_dir(self.shop())
            .env("STEPWELL_KEYS", self.file("keys"));
        // What somebody would type.
        let signs = ["people", "run", "countersign", "amend"].contains(&all[1].as_str());
        if signs || line.contains("--answers") {
            program
                .arg("--passphrase-file")
                .arg(self.file("passphrase"));
        }
        program.stdin(Stdio::piped());
        program.stdout(Stdio::piped()).stderr(Stdio::piped());
        let mut child = program.spawn().expect("the program");
        // A command that asks for nothing may have ended.
        let _ = child
            .stdin
            .take()
            .expect("its input")
            .write_all(TYPED.as_bytes());
        let out = child.wait_with_output().expect("what it said");
        let said = String::from_utf8_lossy(&out.stdout) + String::from_utf8_lossy(&out.stderr);
        (out.status.code().expect("a code"), said.into_owned())
    }
}

#[test]
fn a_day_goes_from_what_is_due_to_the_countersignatures() {
    let folder = tempfile::tempdir().expect("a folder");
    let day = Day { folder };
    std::fs::create_dir(day.shop()).expect("room");
    lay_out_demo(&HurriedHost::at_present(), &day.shop()).expect("a demo shop");
    std::fs::write(day.file("passphrase"), "wet gloves\n").expect("room");
    let today = RealHost::default().today();
    let year = today.get(..4).expect("a year");
    let mut lists = Vec::new();
    for (line, code) in commands() {
        let (found, said) = day.run(&line, year);
        assert_eq!(found, code, "{line}: {said}");
        if line == "stepwell due" {
            lists.push(said);
        }
    }
    // The document says: ten devices, one of them twice; all signed by two.
    let all = records(&day.shop());
    assert_eq!(all.len(), 11);
    let mut tags = Vec::new();
    for file in &all {
        let text = std::fs::read_to_string(file).expect("a record");
        let record: serde_json::Value = serde_json::from_str(&text).expect("JSON");
        let signatures = record["seal"]["signatures"].as_array().expect("signatures");
        assert_eq!(signatures.len(), 2, "{}", file.display());
        tags.push(record["device"]["tag"].as_str().expect("a tag").to_owned());
    }
    tags.sort();
    tags.dedup();
    assert_eq!(tags.len(), 10, "{tags:?}");
    // None of them is overdue in the evening.
    let overdue = |list: &str, tag: &str| {
        list.lines()
            .any(|l| l.contains(tag) && l.contains("overdue"))
    };
    for tag in ["CU-6001", "ST-6005", "SU-6002", "VP-1001"] {
        assert!(!overdue(&lists[1], tag), "{tag}: {}", lists[1]);
    }
    assert_ne!(lists[0], lists[1]);
}
