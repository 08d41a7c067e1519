//! Laws of a session: run again it is the same, any beginning of it goes on, and a correction to the same changes nothing.
//!
//! Never in here: disks and crashes. Changes when a session can do something new.

use std::sync::LazyLock;

use proptest::prelude::*;
use serde_json::{Value, json};
use stepwell::diff::{Partners, Revision, partners};
use stepwell::engine::{Ended, Event, RecordVerdict, State, Status, Timer, apply, begin, question};
use stepwell::journal::{Head, event_to_line, head_to_line, recover, replay};
use stepwell::plan::{Decision, Plan};
use stepwell::record::{Known, Ran, Under, make, rejudged, seal, verify, verify_session};
use stepwell::text::Source;

/// A recipe with each verb once, with repeat, retry, when, group, each and optional; its last step is asked after a stop too.
static RECIPE: LazyLock<String> = LazyLock::new(|| {
    let text = include_str!("../crash/every_verb.yaml");
    let (optional, after_stop) = ("    optional: true\n", "    after_stop: true\n");
    assert!(text.contains(optional), "one step may be skipped");
    text.replace(optional, &[optional, after_stop].concat())
});

static PLAN: LazyLock<Plan> = LazyLock::new(|| {
    let reading = stepwell::recipe::read(Source::new("every-verb", RECIPE.as_str()));
    reading.plan.expect("a good recipe")
});

/// Each step is its own partner.
static PARTNERS: LazyLock<Partners> = LazyLock::new(|| {
    let revision = || Revision::new("every-verb", PLAN.clone()).expect("a good recipe");
    partners(&revision(), &revision())
});

/// What is typed: right somewhere, wrong elsewhere.
const TEXTS: [&str; 24] = [
    "yes",
    "no",
    "",
    "EW-1",
    "5.02",
    "5.05 mL",
    "0.0049 L",
    "6.1",
    "41 mL",
    "500",
    "5 psi",
    "5,0",
    "12:01.35",
    "0 s",
    "90",
    "-1",
    "11.4",
    "17 psi",
    "fixed",
    "det",
    "2",
    "0",
    "3",
    "µ „x“",
];

/// What somebody does: the kind of event, a step, a text, a number.
type Move = (u8, usize, usize, usize);

fn moves() -> impl Strategy<Value = Vec<Move>> {
    let one = (0u8..42, 0usize..64, 0usize..TEXTS.len(), 0usize..6);
    proptest::collection::vec(one, 0..120)
}

fn head() -> Head {
    let meter = |id: &str, kind: &str, range: [&str; 2]| {
        json!({"id": id, "kind": "made up", "serial": "1", "certificate": "1", "calibrated": "2026-01-15",
               "due": "2099-12-31", "measures": {kind: {"range": range}}})
    };
    let digest = stepwell::trust::digest_bytes(RECIPE.as_bytes());
    serde_json::from_value(json!({
        "journal": 1, "program": "0", "session": "B1-1", "started": at(0), "by": "tech-04", "bench": "B1",
        "decimal": ".", "occasion": "made up",
        "device": {"tag": "VP-1", "serial": "1", "maker": "m", "model": "m", "category": "gauge", "location": "l"},
        "recipe": {"id": "every-verb", "revision": 1, "digest": digest, "source": *RECIPE},
        "instruments": {
            "meter": meter("FM-01", "volume", ["0 mL", "200 mL"]),
            "gauge": meter("PG-02", "pressure", ["-10 psi", "50 psi"]),
        },
    }))
    .expect("a head")
}

fn at(second: usize) -> String {
    format!(
        "2026-11-25T{:02}:{:02}:{:02}.000+00:00",
        second / 3600 % 24,
        second / 60 % 60,
        second % 60
    )
}

/// The event that a move means where the session stands.
fn event(state: &State, (kind, step, text, number): Move, second: usize) -> Event {
    let asked = question(&PLAN, state).map(|q| q.item.path.clone());
    let any = PLAN.items[step % PLAN.items.len()].path.clone();
    let path = asked.unwrap_or_else(|| any.clone());
    let text = TEXTS[text].to_owned();
    let (at, why) = (at(second), text.clone());
    let confirmed = number % 2 == 0;
    match kind {
        0..=23 => Event::Entry {
            heard: None,
            path,
            text,
            confirmed,
            timer: None,
            at,
        },
        24 => {
            let timer = Some(Timer {
                started: at.clone(),
                stopped: at.clone(),
            });
            Event::Entry {
                path,
                text: "721.350 s".to_owned(),
                confirmed,
                timer,
                heard: None,
                at,
            }
        }
        25 => Event::TimerStarted { path, at },
        26..=31 => Event::Fix {
            path: any,
            reading: number,
            text,
            confirmed,
            why: "mistyped".to_owned(),
            at,
        },
        32 | 33 => Event::Skip { path, why, at },
        34 => Event::Note {
            path: any,
            text,
            at,
        },
        35 => Event::File {
            path: any,
            name: text,
            digest: "sha256:0".to_owned(),
            bytes: 1,
            at,
        },
        36 => Event::Pause { at },
        37 => Event::Resume {
            lost: None,
            by: None,
            withdrawn: None,
            at,
        },
        38 if number == 0 => Event::Stop { why, at },
        39 => Event::Reopen { path: None, at },
        40 => Event::Reopen {
            path: Some(any),
            at,
        },
        _ => Event::Entry {
            path: any,
            text,
            confirmed,
            timer: None,
            heard: None,
            at,
        },
    }
}

/// A session as it was lived, with what was kept of it.
struct Lived {
    head: Head,
    state: State,
    events: Vec<Event>,
}

impl Lived {
    fn through(moves: &[Move]) -> Self {
        let head = head();
        let (bench, mut events) = (head.bench(), Vec::new());
        let mut state = begin(&PLAN, &bench);
        for (second, one) in moves.iter().enumerate() {
            let event = event(&state, *one, second);
            if apply(&PLAN, &bench, &mut state, &event).is_ok() {
                events.push(event);
            }
        }
        Self {
            head,
            state,
            events,
        }
    }

    fn record(&self, state: &State, events: &[Event]) -> Value {
        let session = Ran {
            head: &self.head,
            plan: &PLAN,
            bench: &self.head.bench(),
            state,
            events,
        };
        let mut record = make(&session, "B1-2026-0001", &at(0));
        seal(&mut record).expect("a seal");
        serde_json::to_value(record).expect("a record is data")
    }

    /// Ends it, if it has not come to its end, and closes it.
    fn close(&mut self) {
        let close = Event::Close {
            record: "B1-2026-0001".to_owned(),
            at: at(0),
        };
        let stop = Event::Stop {
            why: "enough".to_owned(),
            at: at(0),
        };
        let open = self.state.ended.is_none().then_some(stop);
        for event in open.into_iter().chain([close]) {
            apply(&PLAN, &self.head.bench(), &mut self.state, &event).expect("an end");
            self.events.push(event);
        }
    }

    fn journal(&self) -> Vec<u8> {
        let lines = self
            .events
            .iter()
            .cloned()
            .zip(1..)
            .map(|(e, n)| event_to_line(n, e));
        (head_to_line(&self.head) + &lines.collect::<String>()).into_bytes()
    }

    /// The entry at a place of the events corrected, against the same events with the right entry in the first place.
    fn corrected_as_entered(&self, place: usize, right: &str) -> Result<(), TestCaseError> {
        let mut events = self.events.clone();
        let Event::Entry {
            path,
            text,
            confirmed,
            ..
        } = &mut events[place]
        else {
            return Ok(());
        };
        (*text, *confirmed) = (right.to_owned(), true);
        let path = path.clone();
        let of_step = |e: &&Event| matches!(e, Event::Entry { path: p, .. } if *p == path);
        let fix = Event::Fix {
            reading: self.events[..=place].iter().filter(of_step).count(),
            text: right.to_owned(),
            confirmed: true,
            why: "mistyped".to_owned(),
            at: at(0),
            path: path.clone(),
        };
        let mut state = self.state.clone();
        let fixed = apply(&PLAN, &self.head.bench(), &mut state, &fix);
        // Where the right entry leads elsewhere, what came after it was never asked for.
        if let (Ok(()), Ok(entered)) = (
            fixed,
            replay(&PLAN, &mut self.head.bench(), &events, &|_| None),
        ) {
            prop_assert_eq!(state.cursor, entered.cursor);
            prop_assert_eq!(self.derived(&state), self.derived(&entered));
        }
        Ok(())
    }

    /// Everything that follows from what was entered.
    fn derived(&self, state: &State) -> Value {
        let mut record = self.record(state, &[]);
        for section in ["setup", "steps"] {
            for step in record[section].as_array_mut().expect("steps") {
                step["corrections"] = Value::Null;
                step["at"] = Value::Null;
                step["attempts"]
                    .as_array_mut()
                    .expect("attempts")
                    .iter_mut()
                    .for_each(|a| {
                        // What is corrected was typed, whatever clock took it before.
                        a["at"] = Value::Null;
                        a["timed"] = Value::Null;
                    });
            }
        }
        json!([
            record["setup"],
            record["steps"],
            record["verdict"],
            record["ended"]
        ])
    }
}

proptest! {
    #[test]
    fn a_session_run_again_gives_the_same_record(moves in moves()) {
        let lived = Lived::through(&moves);
        let found = recover(&lived.journal()).expect("a whole journal");
        prop_assert_eq!(&found.events, &lived.events);
        prop_assert_eq!(&found.head, &lived.head);
        let again = replay(&PLAN, &mut found.head.bench(), &found.events, &|_| None).expect("events that were taken");
        prop_assert_eq!(again.cursor, lived.state.cursor);
        prop_assert_eq!(lived.record(&again, &found.events), lived.record(&lived.state, &lived.events));
    }

    #[test]
    fn a_refused_event_leaves_the_state_as_it_was(moves in moves(), refused in moves()) {
        let Lived { head, mut state, events } = Lived::through(&moves);
        let lived = Lived { head, state: state.clone(), events };
        let before = lived.record(&state, &[]);
        for one in refused.into_iter().take(4) {
            let event = event(&state, one, 0);
            if apply(&PLAN, &lived.head.bench(), &mut state, &event).is_err() {
                prop_assert_eq!(lived.record(&state, &[]), before.clone());
            } else {
                state = lived.state.clone();
            }
        }
    }

    #[test]
    fn any_beginning_of_a_journal_goes_on(moves in moves(), cut in 0.0f64..1.0, after in moves()) {
        let journal = Lived::through(&moves).journal();
        let head = journal.iter().position(|b| *b == b'\n').expect("a head") + 1;
        let cut = head + ((journal.len() - head) as f64 * cut) as usize;
        let found = recover(&journal[..cut]).expect("at most a torn last line");
        prop_assert_eq!(found.lost.is_some(), found.length < cut as u64);
        let mut state = replay(&PLAN, &mut found.head.bench(), &found.events, &|_| None).expect("events that were taken");
        for (second, one) in after.iter().enumerate() {
            let event = event(&state, *one, second);
            // Whether it is taken depends on where the session stands; nothing may panic.
            let _ = apply(&PLAN, &found.head.bench(), &mut state, &event);
        }
    }

    #[test]
    fn a_correction_to_the_same_changes_nothing_that_follows(moves in moves(), pick in 0usize..64) {
        let lived = Lived::through(&moves);
        let given: Vec<usize> =
            (0..PLAN.items.len()).filter(|i| !lived.state.items[*i].readings.is_empty()).collect();
        prop_assume!(!given.is_empty());
        let index = given[pick % given.len()];
        let reading = &lived.state.items[index].readings[0];
        let fix = Event::Fix {
            path: PLAN.items[index].path.clone(),
            reading: 1,
            text: reading.text.clone(),
            confirmed: true,
            why: "looked again".to_owned(),
            at: at(0),
        };
        let mut state = lived.state.clone();
        if apply(&PLAN, &lived.head.bench(), &mut state, &fix).is_ok() {
            prop_assert_eq!(state.cursor, lived.state.cursor);
            prop_assert_eq!(lived.derived(&state), lived.derived(&lived.state));
        }
    }

    #[test]
    fn a_correction_counts_as_if_it_had_been_entered_at_first(moves in moves(), pick in 0usize..64) {
        let moves: Vec<Move> = moves.into_iter().filter(|m| !(26..=31).contains(&m.0)).collect();
        let lived = Lived::through(&moves);
        let entries: Vec<usize> = (0..lived.events.len())
            .filter(|i| matches!(lived.events[*i], Event::Entry { .. }))
            .collect();
        prop_assume!(!entries.is_empty());
        let place = entries[pick % entries.len()];
        for right in TEXTS {
            lived.corrected_as_entered(place, right)?;
        }
    }

    #[test]
    fn behind_a_fail_that_stops_only_what_is_asked_after_a_stop_is_come_to(moves in moves()) {
        let lived = Lived::through(&moves);
        let stopped = lived.state.stopped_at.unwrap_or(PLAN.items.len());
        let all = PLAN.items.iter().zip(&lived.state.items).enumerate();
        for (index, (item, went)) in all.filter(|(index, _)| *index > stopped) {
            prop_assert!(item.after_stop || went.status == Status::Pending, "{}", item.path);
            let asked = index == lived.state.cursor && lived.state.ended.is_none();
            prop_assert!(!asked || item.after_stop, "{}", item.path);
        }
        let ended = matches!(lived.state.ended, Some(Ended::Complete));
        prop_assert!(!ended || lived.state.stopped_at.is_none());
    }

    #[test]
    fn a_closed_session_makes_a_record_that_verifies(moves in moves()) {
        let mut lived = Lived::through(&moves);
        lived.close();
        let stopped = matches!(lived.state.ended, Some(Ended::Stopped(_)));
        let verdict = lived.state.verdict(&PLAN);
        prop_assert!(!stopped || matches!(verdict, RecordVerdict::Incomplete | RecordVerdict::Fail));
        let text = lived.record(&lived.state, &lived.events).to_string();
        let (_, checks) = verify(&text, &|_| None, &Known::default()).expect("a record");
        for check in checks {
            prop_assert!(check.answer != stepwell::record::Answer::Bad, "{:?}", check);
        }
    }

    #[test]
    fn a_record_judged_again_under_its_own_revision_is_as_it_was(moves in moves()) {
        let mut lived = Lived::through(&moves);
        lived.close();
        let text = lived.record(&lived.state, &lived.events).to_string();
        let (_, _, session) = verify_session(&text, &|_| None, &Known::default()).expect("a record");
        let under = Under {
            plan: &PLAN,
            items: &PARTNERS.items,
            criteria: &PARTNERS.criteria,
            default: Decision::Simple,
        };
        let again = rejudged(&session.expect("a session"), &under, &|_| None);
        prop_assert!(again.is_unchanged(), "{:?}", again);
        prop_assert_eq!(again.was, lived.state.verdict(&PLAN).word());
    }
}

/// The moves reach what the laws are about: steps retried, corrected, skipped, not applicable, and ends of each kind.
#[test]
fn the_moves_reach_far() {
    use proptest::strategy::ValueTree;
    use proptest::test_runner::TestRunner;
    let mut runner = TestRunner::deterministic();
    let mut seen = String::new();
    for _ in 0..400 {
        let moves = moves().new_tree(&mut runner).expect("moves").current();
        let lived = Lived::through(&moves);
        seen.push_str(&lived.record(&lived.state, &lived.events).to_string());
    }
    for word in [
        "attempts, the last one decides",
        "corrected",
        "skipped",
        "not applicable",
        "not done",
        "not judged",
        "stopped: ",
        "which failed",
        "confirmed",
        "\"verdict\":\"fail\"",
        "timer_started",
        "taken up again",
    ] {
        assert!(seen.contains(word), "no session had `{word}`");
    }
}
