//! A shop with a short recipe, and the program in it.
//!
//! Never in here: assertions about trust. Changes when a shop needs more.

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use stepwell::app::lay_out_demo;
use stepwell::host::HurriedHost;
use tempfile::TempDir;

/// A recipe of one reading; its author is author-02.
pub const SHORT: &str = "format: 1
recipe: short
revision: 1
title: Short check
category: volumetric
basis: {practice: \"common practice, no source; the maker's manual governs\"}
changes: [{revision: 1, date: 2026-01-15, why: First issue, by: author-02}]
cautions: [Never test a pump that is connected to a patient.]
steps:
  - id: clean
    confirm: The pump is clean
    basis: practice
  - id: drops
    count: Drops that fall in a minute
    accept: drops <= 2
    basis: practice
";

/// The passphrase of the keys of these tests.
pub const PASSPHRASE: &str = "wet gloves";

/// A shop in a folder that goes away, with a folder of keys of its own.
pub struct Shop {
    /// The shop.
    pub folder: TempDir,
    keys: TempDir,
}

/// What a run of the program came to.
pub struct Said {
    /// Its exit code.
    pub code: i32,
    /// What it printed, to both places.
    pub text: String,
}

impl Shop {
    /// The demo shop with the short recipe, which nobody has approved yet.
    pub fn new() -> Self {
        let folder = TempDir::new().expect("a folder");
        lay_out_demo(&HurriedHost::at_present(), folder.path()).expect("a demo shop");
        let shop = Self {
            folder,
            keys: TempDir::new().expect("a folder"),
        };
        shop.write("recipes/short.yaml", SHORT);
        shop.write("answers.yaml", "confirm: all\nanswers: {drops: 0}\n");
        shop.write("passphrase", &format!("{PASSPHRASE}\n"));
        shop
    }

    /// With the short recipe approved.
    pub fn approved() -> Self {
        let shop = Self::new();
        assert_eq!(shop.says("approve short --by review-01").code, 0);
        shop
    }

    /// A file of it.
    pub fn file(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    /// The folder.
    pub fn path(&self) -> &Path {
        self.folder.path()
    }

    /// The folder of keys.
    pub fn keys(&self) -> &Path {
        self.keys.path()
    }

    /// Writes a file of it.
    pub fn write(&self, name: &str, text: &str) {
        std::fs::write(self.file(name), text).expect("room");
    }

    /// Reads a file of it.
    pub fn read(&self, name: &str) -> String {
        std::fs::read_to_string(self.file(name)).expect("a file")
    }

    /// Changes a file of it.
    pub fn edit(&self, name: &str, from: &str, to: &str) {
        let text = self.read(name);
        assert!(text.contains(from), "{name} has no {from}");
        self.write(name, &text.replacen(from, to, 1));
    }

    /// The program with words split at blanks; `_` stands for a blank in a word.
    pub fn command(&self, words: &str) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_stepwell"));
        let words = words.split(' ').map(|w| w.replace('_', " "));
        command
            .args(words)
            .current_dir(self.path())
            .env("STEPWELL_KEYS", self.keys.path());
        command
    }

    /// What the program says to these words.
    pub fn says(&self, words: &str) -> Said {
        said(&self.command(words).output().expect("the program"))
    }

    /// A session of the short recipe that passes.
    pub fn run(&self, device: &str, by: &str) -> Said {
        self.says(&format!(
            "run short --device {device} --by {by} --answers answers.yaml --passphrase-file passphrase"
        ))
    }

    /// The one session that is open.
    pub fn session(&self) -> String {
        let list = self.says("resume").text;
        let mut lines = list.lines();
        let session = lines.next().and_then(|l| l.split(' ').next());
        assert!(lines.next().is_none(), "{list}");
        session.expect("a session").to_owned()
    }

    /// A session of tech-04 as a process leaves it that dies between closing and sealing; its id, and the day.
    pub fn closed(&self) -> (String, String) {
        self.write("none.yaml", "confirm: all\n");
        let begun = self.says("run short --device VP-1001 --by tech-04 --answers none.yaml");
        assert_eq!(begun.code, 3, "{}", begun.text);
        let session = self.session();
        let journal = format!("sessions/{session}.jsonl");
        let text = self.read(&journal);
        let last = text.lines().last().expect("a line");
        let last: serde_json::Value = serde_json::from_str(last).expect("JSON");
        let at = last["at"].as_str().expect("a time");
        let n = text.lines().count();
        let entry = format!(
            "{{\"n\":{n},\"event\":\"entry\",\"path\":\"drops\",\"text\":\"0\",\"at\":\"{at}\"}}\n"
        );
        let next = n + 1;
        let close = format!(
            "{{\"n\":{next},\"event\":\"close\",\"record\":\"B1-2026-0001\",\"at\":\"{at}\"}}\n"
        );
        self.write(&journal, &format!("{text}{entry}{close}"));
        (session, at[..10].to_owned())
    }

    /// Makes a key for a person.
    pub fn key(&self, person: &str) {
        let made = self.says(&format!("people key {person} --passphrase-file passphrase"));
        assert_eq!(made.code, 0, "{}", made.text);
    }

    /// The records, by their names.
    pub fn records(&self) -> Vec<PathBuf> {
        let mut all = Vec::new();
        for year in folder(&self.file("records")) {
            all.extend(folder(&year));
        }
        all.retain(|f| f.extension().is_some_and(|e| e == "json"));
        all
    }

    /// The one record of it, or the last one.
    pub fn record(&self) -> serde_json::Value {
        let path = self.records().pop().expect("a record");
        serde_json::from_slice(&std::fs::read(path).expect("a record")).expect("JSON")
    }
}

/// The files of a folder, sorted; none of one that is not there.
pub fn folder(path: &Path) -> Vec<PathBuf> {
    let entries = std::fs::read_dir(path).into_iter().flatten();
    let mut all: Vec<PathBuf> = entries.map(|e| e.expect("an entry").path()).collect();
    all.sort();
    all
}

/// What an output holds.
pub fn said(output: &Output) -> Said {
    let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    Said {
        code: output.status.code().unwrap_or(-1),
        text: text(&output.stdout) + &text(&output.stderr),
    }
}
