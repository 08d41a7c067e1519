//! A made-up shop whose clock stands where a test sets it, and sessions of a small recipe in it.
//!
//! Never in here: what is asked of the records. Changes when a session asks for more.

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use indexmap::IndexMap;
use serde_json::Value;
use stepwell::app::{self, OpenShop, Session, Start};
use stepwell::engine::{Event, question};
use stepwell::host::{Host, HurriedHost};
use tempfile::TempDir;

/// The recipe of all sessions.
pub const RECIPE: &str = include_str!("recipe.yaml");

/// A shop in a folder that goes away.
pub struct Made {
    pub host: HurriedHost,
    folder: TempDir,
    open: OpenShop,
}

/// What is typed in a session.
#[derive(Clone, Copy)]
pub struct Typed<'a> {
    pub delivered: &'a str,
    pub pressure: &'a str,
    pub again: [&'a str; 3],
}

/// What is done where a session stands.
#[derive(Clone, Debug)]
pub enum Did {
    Type(String),
    /// An earlier entry is corrected: of which step, which one, to what.
    Fix(&'static str, usize, &'static str),
    Skip,
    Stop,
}

/// Readings that pass by far.
pub const GOOD: Typed<'static> = Typed {
    delivered: "10.0",
    pressure: "9.0",
    again: ["0.20", "0.21", "0.22"],
};

impl Made {
    /// A shop with the recipe, approved; the recipe may be changed before.
    pub fn shop(change: impl Fn(&str) -> String) -> Self {
        Self::shop_with(change, &[])
    }

    /// The same with other recipes beside it.
    pub fn shop_with(change: impl Fn(&str) -> String, others: &[(&str, &str)]) -> Self {
        let host = HurriedHost::new();
        host.set("2025-12-01T08:00:00.000+00:00");
        let folder = TempDir::new().expect("a folder");
        let root = folder.path();
        app::lay_out_demo(&host, root).expect("a demo shop");
        std::fs::write(root.join("recipes/looked-back.yaml"), change(RECIPE)).expect("room");
        for (name, text) in others {
            std::fs::write(root.join("recipes").join(name), text).expect("room");
        }
        let mut devices = "tag,serial,maker,model,category\n".to_owned();
        for n in 1..=9 {
            devices += &format!("D-{n},S{n},Example Works,VP-{},volumetric\n", n % 2 + 1);
        }
        std::fs::write(root.join("devices.csv"), devices).expect("room");
        let open = app::open_shop(&host, root).expect("a shop");
        let reviewed =
            app::review(&host, &open, "looked-back", "review-01").expect("a good recipe");
        app::approve(&host, &open, reviewed, &mut |_| Ok(None)).expect("an approval");
        Self { host, folder, open }
    }

    pub fn root(&self) -> &Path {
        self.folder.path()
    }

    /// Runs a session on a day; the record's id.
    pub fn run(&self, device: &str, day: &str, typed: Typed<'_>) -> String {
        self.run_as(device, day, typed, false)
    }

    pub fn run_as(&self, device: &str, day: &str, typed: Typed<'_>, trial: bool) -> String {
        self.run_typing(device, day, trial, &|path, given| {
            let text = match path {
                "delivered" => typed.delivered,
                "pressure" => typed.pressure,
                "again" => typed.again[given % 3],
                _ => "yes",
            };
            Did::Type(text.to_owned())
        })
    }

    /// Runs a session in which something is done at each step, by its path and the number of entries given there.
    pub fn run_typing(
        &self,
        device: &str,
        day: &str,
        trial: bool,
        does: &dyn Fn(&str, usize) -> Did,
    ) -> String {
        self.host.set(&format!("{day}T09:00:00.000+00:00"));
        let host: &dyn Host = &self.host;
        let runnable = app::runnable(host, &self.open, "looked-back", trial).expect("approved");
        let start = Start {
            device,
            by: "tech-04",
            occasion: "scheduled check",
            trial,
            with: IndexMap::new(),
            beside: true,
            other_device: false,
        };
        let mut next = |session: &Session<'_>| Ok(next(session, does));
        let record = app::run_through(host, &self.open, runnable, &start, &mut next, &mut |_| {
            Ok(None)
        })
        .expect("a record");
        record.record
    }

    /// The file of a record.
    pub fn file(&self, record: &str) -> PathBuf {
        self.open.paths.record(record)
    }

    /// Runs the program in the shop's folder.
    pub fn program(&self, words: &[&str]) -> Output {
        Command::new(env!("CARGO_BIN_EXE_stepwell"))
            .args(words)
            .current_dir(self.root())
            .output()
            .expect("the program runs")
    }

    /// Runs the program; what it prints as data, with its exit code.
    pub fn data(&self, words: &[&str]) -> (Value, i32) {
        let words = [words, &["--format", "json"]].concat();
        let output = self.program(&words);
        let said = String::from_utf8_lossy(&output.stderr);
        let json = serde_json::from_slice(&output.stdout)
            .unwrap_or_else(|e| panic!("{words:?}: {e}\n{said}"));
        (json, output.status.code().expect("an exit code"))
    }
}

fn next(session: &Session<'_>, does: &dyn Fn(&str, usize) -> Did) -> Option<Event> {
    let question = question(&session.plan, &session.state)?;
    let path = question.item.path.clone();
    let given = session.state.items[session.state.cursor].readings.len();
    let (at, why) = (session.now(), "as it was".to_owned());
    Some(match does(&path, given) {
        Did::Type(text) => Event::Entry {
            path,
            text,
            confirmed: true,
            timer: None,
            heard: None,
            at,
        },
        Did::Fix(path, reading, text) => Event::Fix {
            path: path.to_owned(),
            reading,
            text: text.to_owned(),
            confirmed: true,
            why,
            at,
        },
        Did::Skip => Event::Skip { path, why, at },
        Did::Stop => Event::Stop { why, at },
    })
}
