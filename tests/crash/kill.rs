//! The program killed at any moment of a session: what was acknowledged is there when it is taken up again.
//!
//! `STEPWELL_KILLS=200` tries more moments than the usual twenty.
//! Never in here: a power cut, which can't be made by a test. Changes when a session can be killed in a new place.

use std::io::{Read, Write};
use std::path::Path;
use std::process::{Child, ChildStdin, Command, Stdio};
use std::sync::mpsc::{Receiver, RecvTimeoutError, channel};
use std::time::{Duration, Instant};

use stepwell::app::{self, DEMO_DEVICE, DEMO_PERSON, DEMO_RECIPE};
use stepwell::engine::{Bench, Event, apply, begin, question};
use stepwell::host::RealHost;
use stepwell::journal::recover;
use stepwell::shop::Paths;
use stepwell::text::Source;

use super::made::{Dice, bare, in_records, kept, only_record, open, shop};

/// Moments that are tried unless more are asked for.
const KILLS: u64 = 20;
/// Longest that a prompt is waited for.
const PATIENCE: Duration = Duration::from_secs(60);

/// Lines that together give one event.
type Act = Vec<String>;

fn act(lines: &[&str]) -> Act {
    lines.iter().map(|l| (*l).to_owned()).collect()
}

/// A whole session with the demo's readings, and with notes, corrections, and entries that are refused.
fn script() -> Vec<Act> {
    let folder = shop();
    let host = RealHost::default();
    let plan = app::runnable(&host, &open(folder.path()), DEMO_RECIPE, false)
        .expect("a good recipe")
        .plan;
    let answers = app::read_answers(Source::new("answers", app::demo_answers()), &plan)
        .expect("good answers")
        .answers;
    let mut state = begin(&plan, &Bench::default());
    let mut acts = Vec::new();
    while let Some(question) = question(&plan, &state) {
        let path = question.item.path.clone();
        let texts = answers.get(&path);
        let text = texts.map_or("yes", |t| t[question.reading - 1].as_str());
        let event = Event::Entry {
            path: path.clone(),
            text: text.to_owned(),
            confirmed: true,
            timer: None,
            heard: None,
            at: String::new(),
        };
        acts.extend(around(&path, question.reading, text));
        apply(&plan, &Default::default(), &mut state, &event).expect("the answers fit");
    }
    acts.push(act(&[":fix closing.remark", "None", "said otherwise"]));
    acts.push(act(&[""]));
    acts
}

/// An entry with what is done before it.
fn around(path: &str, reading: usize, text: &str) -> Vec<Act> {
    match (path, reading) {
        ("room_temperature", 1) => vec![act(&["5.0", "no", "9.5", "yes"])],
        ("accuracy.1.delivered", 2) => vec![
            act(&[":note the meter was reset"]),
            act(&["5.05 psi", "5,05", ":where", text]),
        ],
        ("accuracy.2.delivered", 1) => vec![
            act(&[":fix accuracy.1.delivered", "2", "5.02", "mistyped"]),
            act(&[text]),
            act(&[":fix", "10.05", "mistyped as well"]),
        ],
        ("occlusion.alarm_time", 1) => vec![
            act(&[":stop the wrong key"]),
            act(&[":back"]),
            act(&["-1 s", text]),
        ],
        _ => vec![act(&[text])],
    }
}

/// The program with pipes; what it writes is collected.
struct Piped {
    child: Child,
    input: ChildStdin,
    chunks: Receiver<Vec<u8>>,
    screen: String,
    /// From where a prompt is awaited.
    mark: usize,
}

/// What came of waiting.
#[derive(PartialEq)]
enum Seen {
    Prompt,
    End,
    Late,
}

impl Piped {
    fn begin(folder: &Path, session: Option<&str>) -> Self {
        let mut command = Command::new(env!("CARGO_BIN_EXE_stepwell"));
        match session {
            Some(session) => command.args(["resume", session]),
            None => command.args([
                "run",
                DEMO_RECIPE,
                "--device",
                DEMO_DEVICE,
                "--by",
                DEMO_PERSON,
            ]),
        };
        let command = command.current_dir(folder);
        command
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::inherit());
        let mut child = command.spawn().expect("the program");
        let input = child.stdin.take().expect("a pipe");
        let mut output = child.stdout.take().expect("a pipe");
        let (sender, chunks) = channel();
        std::thread::spawn(move || {
            let mut bytes = [0; 4096];
            while let Ok(n @ 1..) = output.read(&mut bytes) {
                // Nobody listens any more after a failed test.
                let _ = sender.send(bytes[..n].to_vec());
            }
        });
        Self {
            child,
            input,
            chunks,
            screen: String::new(),
            mark: 0,
        }
    }

    /// Waits for a prompt, the end of the output, or a moment.
    fn wait(&mut self, until: Instant) -> Seen {
        let patience = Instant::now() + PATIENCE;
        loop {
            if self.screen.len() > self.mark && self.screen.ends_with("> ") {
                return Seen::Prompt;
            }
            let moment = until.min(patience);
            match self
                .chunks
                .recv_timeout(moment.saturating_duration_since(Instant::now()))
            {
                Ok(chunk) => self.screen.push_str(&String::from_utf8_lossy(&chunk)),
                Err(RecvTimeoutError::Disconnected) => return Seen::End,
                Err(RecvTimeoutError::Timeout) => {
                    assert!(moment == until, "no prompt came:\n{}", self.screen);
                    return Seen::Late;
                }
            }
        }
    }

    fn type_line(&mut self, line: &str) {
        self.mark = self.screen.len();
        self.input
            .write_all(format!("{line}\n").as_bytes())
            .expect("the program reads");
    }

    /// Ends it without a word; true if a prompt came after the last line all the same.
    fn kill(mut self) -> bool {
        self.child.kill().expect("it runs");
        self.child.wait().expect("it has ended");
        while self.wait(Instant::now() + PATIENCE) == Seen::Late {}
        self.screen.len() > self.mark && self.screen.ends_with("> ")
    }
}

/// When to kill: after that many lines, and then after that time.
#[derive(Clone, Copy, Debug)]
struct Moment {
    lines: usize,
    after: Duration,
}

/// Plays acts until the end or until it is killed; gives how many acts were acknowledged, if it was killed.
fn play(
    folder: &Path,
    session: Option<&str>,
    acts: &[Act],
    moment: Option<Moment>,
) -> Option<usize> {
    let mut program = Piped::begin(folder, session);
    let far = Instant::now() + PATIENCE * 10;
    let mut until = far;
    let lines: Vec<(usize, &String)> = acts
        .iter()
        .enumerate()
        .flat_map(|(n, act)| act.iter().map(move |l| (n, l)))
        .collect();
    for (typed, (number, line)) in lines.iter().enumerate() {
        if let Some(moment) = moment.filter(|m| m.lines == typed) {
            until = Instant::now() + moment.after;
        }
        match program.wait(until) {
            Seen::Prompt => program.type_line(line),
            Seen::End => panic!("ended before its time:\n{}", program.screen),
            Seen::Late => {
                let prompted = program.kill();
                // The line before this one was acknowledged if its prompt came at the last moment.
                let begun = typed > 0 && lines[typed - 1].0 == *number;
                let before = if typed == 0 || begun || prompted {
                    *number
                } else {
                    number - 1
                };
                return Some(before);
            }
        }
    }
    if let Some(moment) = moment.filter(|m| m.lines >= lines.len()) {
        until = Instant::now() + moment.after;
    }
    match program.wait(until) {
        Seen::End => {
            let status = program.child.wait().expect("it has ended");
            assert!(status.success(), "{status}:\n{}", program.screen);
            None
        }
        Seen::Late => {
            program.kill();
            Some(acts.len().saturating_sub(1))
        }
        Seen::Prompt => panic!("asks for more:\n{}", program.screen),
    }
}

/// The open session of a shop with how many acts it has kept; nothing where there is none.
fn on_disk(folder: &Path) -> Option<(String, usize)> {
    let paths = Paths::at(folder);
    let open = app::list_sessions(&RealHost::default(), &paths).expect("a folder");
    let session = open.into_iter().next()?;
    let journal = std::fs::read(paths.journal(&session)).expect("a journal");
    let found = recover(&journal).expect("at most the last line is torn");
    Some((session, kept(&found.events)))
}

/// What was counted over all moments.
#[derive(Debug, Default)]
struct Count {
    kills: usize,
    before_the_first_line: usize,
    in_the_walk: usize,
    closed: usize,
    ended: usize,
    left_over: usize,
}

/// Kills a session once or more often, and finishes it.
fn one(
    acts: &[Act],
    dice: &mut Dice,
    span: Duration,
    count: &mut Count,
) -> stepwell::record::Record {
    let folder = shop();
    let folder = folder.path();
    let mut done = 0;
    for round in 0.. {
        let open = on_disk(folder);
        let written = !in_records(folder).iter().all(|n| n.starts_with('.'));
        match &open {
            Some((_, kept)) => {
                assert!(
                    *kept >= done,
                    "{done} acts were acknowledged, {kept} are kept"
                );
                done = *kept;
            }
            // The record was written and the journal removed: nothing is left to do.
            None if written => break,
            None => assert_eq!(done, 0, "the session is gone"),
        }
        let left = &acts[done.min(acts.len())..];
        let session = open.as_ref().map(|(name, _)| name.as_str());
        let moment = (round == 0 || dice.below(4) == 0).then(|| a_moment(dice, left, span));
        let Some(acknowledged) = play(folder, session, left, moment) else {
            break;
        };
        done += acknowledged.min(left.len());
        count.kills += 1;
        match on_disk(folder) {
            None if done == 0 => count.before_the_first_line += 1,
            None => count.ended += 1,
            Some((_, kept)) if kept == acts.len() => count.closed += 1,
            Some(_) => count.in_the_walk += 1,
        }
    }
    let names = in_records(folder);
    count.left_over += names.iter().filter(|n| n.starts_with('.')).count();
    assert!(on_disk(folder).is_none());
    only_record(folder)
}

/// A moment right behind a line, or any time from the start on; every tenth at the closing.
fn a_moment(dice: &mut Dice, left: &[Act], span: Duration) -> Moment {
    let lines = left.iter().map(Vec::len).sum::<usize>() as u64;
    let micros = u64::try_from(span.as_micros()).expect("a short while");
    match dice.below(10) {
        0 => Moment {
            lines: lines as usize,
            after: Duration::from_micros(dice.below(micros / 10)),
        },
        1..=5 => Moment {
            lines: dice.below(lines + 1) as usize,
            after: Duration::from_micros(dice.below(1_500)),
        },
        _ => Moment {
            lines: 0,
            after: Duration::from_micros(dice.below(micros)),
        },
    }
}

#[test]
fn whenever_it_is_killed_nothing_that_was_acknowledged_is_lost() {
    let acts = script();
    let undisturbed = shop();
    let begun = Instant::now();
    assert_eq!(play(undisturbed.path(), None, &acts, None), None);
    let span = begun.elapsed();
    let wanted = bare(&only_record(undisturbed.path()));
    let wished = std::env::var("STEPWELL_KILLS").ok();
    let kills = wished.map_or(KILLS, |n| n.parse().expect("a number of kills"));
    let mut dice = Dice(0x5354_4550_5745_4C4C);
    let mut count = Count::default();
    for number in 0..kills {
        let record = one(&acts, &mut dice, span, &mut count);
        assert_eq!(bare(&record), wanted, "moment {number}");
    }
    println!("{} acts, {span:?} undisturbed; {count:?}", acts.len());
    assert_eq!(
        count.left_over, 0,
        "half-written files are left in records/"
    );
}
