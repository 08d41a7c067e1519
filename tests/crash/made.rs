//! Made-up shops and sessions: a folder to work in, a scripted session, and records made comparable.
//!
//! Never in here: crashes. Changes when a session can do something new.

use std::path::Path;

use indexmap::IndexMap;
use serde_json::Value;
use stepwell::app::{
    AppError, DEMO_DEVICE, DEMO_PERSON, Held, OpenShop, Session, Start, lay_out_demo, open_shop,
    roles_of, runnable, start,
};
use stepwell::engine::{Event, Timer};
use stepwell::host::{Host, HurriedHost, RealHost};
use stepwell::record::Record;
use stepwell::trust::digest_bytes;
use tempfile::TempDir;

/// A recipe with each verb once.
pub const EVERY_VERB: &str = include_str!("every_verb.yaml");
/// A recipe with as little as can be.
pub const SMALL: &str = include_str!("small.yaml");
/// What is attached.
pub const ATTACHED: &[u8] = b"a printout";

/// The demo shop with the two recipes, in a folder that goes away.
pub fn shop() -> TempDir {
    let folder = TempDir::new().expect("a folder");
    lay_out_demo(&HurriedHost::at_present(), folder.path()).expect("a demo shop");
    let recipes = folder.path().join("recipes");
    for (name, text) in [("every-verb", EVERY_VERB), ("small", SMALL)] {
        std::fs::write(recipes.join(format!("{name}.yaml")), text).expect("a recipe");
    }
    std::fs::write(folder.path().join("printout.txt"), ATTACHED).expect("a file to attach");
    folder
}

/// Opens the shop in a folder.
pub fn open(folder: &Path) -> OpenShop {
    open_shop(&RealHost::default(), folder).expect("the demo shop is good")
}

/// Begins a session on the demo device.
pub fn begin<'h>(
    host: &'h dyn Host,
    open: &OpenShop,
    recipe: &str,
) -> Result<Session<'h>, AppError> {
    let runnable = runnable(host, open, recipe, true)?;
    let how = Start {
        device: DEMO_DEVICE,
        by: DEMO_PERSON,
        occasion: "scheduled check",
        trial: true,
        with: IndexMap::new(),
        beside: true,
        other_device: false,
    };
    let choices = roles_of(open, &runnable.plan, &how.with, &host.today())?;
    let instruments = choices
        .into_iter()
        .map(|mut c| (c.role, c.suitable.swap_remove(0)))
        .collect();
    start(host, open, runnable, &how, instruments)
}

/// One thing that is done in a session.
#[derive(Clone, Debug)]
pub enum Act {
    /// An entry; whether a value that is not plausible is confirmed.
    Entry(&'static str, &'static str, bool),
    /// An entry by the watch.
    Watched(&'static str, &'static str),
    /// The watch is started.
    Started(&'static str),
    /// A correction: step, reading, right entry, why.
    Fix(&'static str, usize, &'static str, &'static str),
    /// A skip.
    Skip(&'static str, &'static str),
    /// A note.
    Note(&'static str, &'static str),
    /// The printout is attached.
    File(&'static str),
    /// The session is stopped.
    Stop(&'static str),
    /// The stop is taken back.
    Back,
}

/// A whole session of `every-verb`, with everything that a session can do.
pub const SCRIPT: [Act; 29] = [
    Act::Entry("clean", "yes", false),
    Act::Note(
        "serial",
        "the plate is scratched: µ, ä, „quoted“, \"quoted\", 水",
    ),
    Act::Entry("serial", "EW-100231", false),
    Act::Entry("start", "", false),
    Act::Entry("delivered", "6.00", false),
    Act::Entry("delivered", "41 mL", true),
    Act::Entry("delivered", "5.02", false),
    Act::Note("delivered", "the filter was cleaned"),
    Act::Entry("delivered", "0.00504 L", false),
    Act::Fix("delivered", 1, "6.10", "mistyped"),
    Act::Started("rates.1.run_time"),
    Act::Note("rates.1.run_time", "the watch runs"),
    Act::Watched("rates.1.run_time", "721.350 s"),
    Act::Entry("rates.2.run_time", "24:03.5", false),
    Act::Entry("pressure.cord", "det", false),
    Act::File("pressure.highest"),
    Act::Entry("pressure.highest", "78.6 kPa", false),
    Act::Entry("pressure.cord_pull", "no", false),
    Act::Fix("pressure.cord", 1, "fixed", "looked again"),
    Act::Entry("pressure.drops", "2", false),
    Act::Fix("delivered", 4, "5.06", "read from the printout"),
    Act::Fix("delivered", 4, "5.05 mL", "read again"),
    Act::Stop("the wrong key"),
    Act::Back,
    Act::Note("remark", "nothing to remark"),
    Act::Skip("remark", ""),
    Act::Fix("pressure.drops", 1, "0", "the drops came from the bag"),
    Act::Fix("pressure.cord", 1, "detachable", "and again"),
    Act::Note("clean", "after the end"),
];

impl Act {
    fn event(&self, session: &Session<'_>) -> Result<Event, AppError> {
        let at = session.now();
        let owned = |text: &&str| (*text).to_owned();
        Ok(match self {
            Self::Entry(path, text, confirmed) => Event::Entry {
                path: owned(path),
                text: owned(text),
                confirmed: *confirmed,
                timer: None,
                heard: None,
                at,
            },
            Self::Watched(path, text) => Event::Entry {
                path: owned(path),
                text: owned(text),
                confirmed: false,
                timer: Some(Timer {
                    started: at.clone(),
                    stopped: at.clone(),
                }),
                heard: None,
                at,
            },
            Self::Started(path) => Event::TimerStarted {
                path: owned(path),
                at,
            },
            Self::Fix(path, reading, text, why) => Event::Fix {
                path: owned(path),
                reading: *reading,
                text: owned(text),
                confirmed: false,
                why: owned(why),
                at,
            },
            Self::Skip(path, why) => Event::Skip {
                path: owned(path),
                why: owned(why),
                at,
            },
            Self::Note(path, text) => Event::Note {
                path: owned(path),
                text: owned(text),
                at,
            },
            Self::Stop(why) => Event::Stop {
                why: owned(why),
                at,
            },
            Self::Back => Event::Reopen { path: None, at },
            Self::File(path) => {
                let root = session.journal();
                let root = root.ancestors().nth(2).expect("a shop").to_owned();
                let (name, digest, bytes) = session.keep_file(&root.join("printout.txt"))?;
                Event::File {
                    path: owned(path),
                    name,
                    digest,
                    bytes,
                    at,
                }
            }
        })
    }
}

/// How many of the script's acts a session has kept: all events but pauses and resumptions.
pub fn kept(events: &[Event]) -> usize {
    let own = |e: &&Event| !matches!(e, Event::Pause { .. } | Event::Resume { .. });
    events.iter().filter(own).count()
}

/// Does what of the script is not done yet.
pub fn go_on(session: &mut Session<'_>, script: &[Act]) -> Result<(), AppError> {
    for act in script.iter().skip(kept(&session.events)) {
        let event = act.event(session)?;
        session.keep(event).map_err(|held| match held {
            Held::Refused(refusal) => panic!("{act:?} was refused: {refusal}"),
            Held::Unwritten(error) => error,
        })?;
    }
    Ok(())
}

/// A record without what differs between two runs: times, ids, pauses and resumptions, the seal.
pub fn bare(record: &Record) -> Value {
    let mut json = serde_json::to_value(record).expect("a record is data");
    let map = json.as_object_mut().expect("an object");
    for key in ["record", "session", "seal"] {
        map.shift_remove(key).expect("a record has it");
    }
    // Each shop of these tests has approvals of its own.
    let recipe = map["recipe"].as_object_mut().expect("an object");
    recipe.shift_remove("approval");
    let lines = map["journal"].as_array_mut().expect("a list");
    lines.retain(|l| l["event"] != "pause" && l["event"] != "resume");
    for line in lines {
        let line = line.as_object_mut().expect("an event");
        line.shift_remove("n");
        line.shift_remove("record");
    }
    without_times(&mut json);
    json
}

fn without_times(json: &mut Value) {
    match json {
        Value::Object(map) => {
            for (key, value) in map {
                match key.as_str() {
                    "at" | "before_at" | "started" | "stopped" | "finished" => *value = Value::Null,
                    _ => without_times(value),
                }
            }
        }
        Value::Array(items) => items.iter_mut().for_each(without_times),
        _ => {}
    }
}

/// The records and whatever else lies in the folder of records.
pub fn in_records(folder: &Path) -> Vec<String> {
    let mut names = Vec::new();
    let years = std::fs::read_dir(folder.join("records"));
    let years = years.into_iter().flatten();
    let years = years.map(|y| y.expect("a year").path());
    for year in years.filter(|y| y.is_dir()) {
        let files = std::fs::read_dir(year).expect("a folder");
        names.extend(files.map(|f| {
            f.expect("a file")
                .file_name()
                .to_string_lossy()
                .into_owned()
        }));
    }
    names
}

/// The one record of a shop; all that is checked on it must be good.
pub fn only_record(folder: &Path) -> Record {
    let host = RealHost::default();
    let all = stepwell::app::all_records(&host, &open(folder).paths).expect("a folder of records");
    let [path] = &all[..] else {
        panic!("one record was awaited, there are {all:?}");
    };
    let mut outcome = None;
    let named = [path.display().to_string()];
    stepwell::app::verify_records(&host, None, &named, &mut |v| outcome = Some(v.outcome))
        .expect("readable");
    let (record, checks) = outcome.expect("an outcome").expect("a record");
    for check in checks {
        assert!(check.answer != stepwell::record::Answer::Bad, "{check:?}");
    }
    *record
}

/// Where the attached file is kept.
pub fn attachment(folder: &Path) -> std::path::PathBuf {
    let digest = digest_bytes(ATTACHED);
    folder
        .join("attachments")
        .join(digest.trim_start_matches("sha256:"))
}

/// Numbers that look random and are the same in every run (xorshift, Marsaglia 2003).
pub struct Dice(pub u64);

impl Dice {
    /// A number below a limit.
    pub fn below(&mut self, limit: u64) -> u64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        self.0 % limit.max(1)
    }
}
