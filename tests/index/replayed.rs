//! `diff --replay`: what a revision does to past results, each case worked by hand on one or two records.
//!
//! The recipe asks for 10 mL within 5 % (9.5 mL to 10.5 mL), a mean flow of at least 95 mL/h over 6 min, at most 15 psi
//! (critical), and three boluses of at most 0.5 mL on the mean, with one retry. Never in here: what differs between
//! revisions (see `tests/diff`). Changes when records are judged again otherwise.

use std::cell::Cell;

use serde_json::{Value, json};

use crate::made::{Did, GOOD, Made, RECIPE, Typed};

/// The recipe with a part replaced that stands in it once.
fn edited(edits: &[(&str, &str)]) -> String {
    edits.iter().fold(RECIPE.to_owned(), |text, (old, new)| {
        assert_eq!(text.matches(old).count(), 1, "`{old}` stands once");
        text.replace(old, new)
    })
}

impl Made {
    /// What is told of the records under another text of the recipe, with the exit code.
    fn replayed(&self, new: &str, more: &[&str]) -> (Value, i32) {
        let file = self.root().join("new.yaml");
        std::fs::write(&file, new).expect("room");
        let words = [&["diff", "looked-back@1", "new.yaml", "--replay"], more].concat();
        let (json, code) = self.data(&words);
        (json["replay"].clone(), code)
    }

    /// What is told of the only record.
    fn only(&self, new: &str) -> Value {
        let (told, _) = self.replayed(new, &[]);
        assert_eq!(told["counts"]["records"], 1, "{told:#}");
        told["records"][0].clone()
    }
}

fn shop_with(typed: Typed<'_>) -> Made {
    let made = Made::shop(str::to_owned);
    made.run("D-1", "2026-01-10", typed);
    made
}

fn delivered(delivered: &str) -> Typed<'_> {
    Typed { delivered, ..GOOD }
}

fn verdicts(of: &Value) -> (&str, &str) {
    let word = |key: &str| of[key].as_str().unwrap_or_default();
    (word("was"), word("now"))
}

#[test]
fn under_the_same_text_nothing_is_told() {
    let made = shop_with(delivered("10.6"));
    let (told, code) = made.replayed(RECIPE, &[]);
    assert_eq!((&told["records"], code), (&json!([]), 0));
    assert_eq!(
        (&told["counts"]["same"], &told["models"]["VP-2"]["same"]),
        (&1.into(), &1.into())
    );
}

#[test]
fn a_loosened_limit_lets_a_failed_record_pass() {
    // 10.6 mL is above 10.5 mL, and below 11 mL.
    let made = shop_with(delivered("10.6"));
    let new = edited(&[("tolerance: 5 %", "tolerance: 10 %")]);
    let (told, code) = made.replayed(&new, &[]);
    let record = &told["records"][0];
    assert_eq!((verdicts(record), code), (("fail", "pass"), 1));
    assert_eq!(record["record"], "B1-2026-0001");
    assert_eq!(record["criteria"].as_array().map(Vec::len), Some(1));
    assert_eq!(verdicts(&record["criteria"][0]), ("fail", "pass"));
    assert_eq!(
        (&told["counts"]["would_pass"], &told["counts"]["same"]),
        (&1.into(), &0.into())
    );
}

#[test]
fn a_tightened_limit_fails_a_record_and_shows_value_and_limit() {
    // 10.3 mL is inside 5 % of 10 mL, and above 10.2 mL.
    let made = shop_with(delivered("10.3"));
    let new = edited(&[("tolerance: 5 %", "tolerance: 2 %")]);
    let (told, _) = made.replayed(&new, &[]);
    let record = &told["records"][0];
    assert_eq!(verdicts(record), ("pass", "fail"));
    let criterion = &record["criteria"][0];
    assert_eq!(criterion["step"], "delivered");
    assert_eq!(criterion["that"], "within(delivered, nominal, tolerance)");
    assert_eq!(
        criterion["limits"],
        json!(["delivered 10.3 mL, allowed 9.8 mL to 10.2 mL"])
    );
    assert_eq!(told["counts"]["would_fail"], 1);
    // A page tells the same.
    for form in ["text", "md", "html"] {
        let words = [
            "diff",
            "looked-back@1",
            "new.yaml",
            "--replay",
            "--format",
            form,
        ];
        let output = made.program(&words);
        let page = String::from_utf8(output.stdout).expect("text");
        let page = page.split_whitespace().collect::<Vec<_>>().join(" ");
        for part in [
            "1 record judged again, 1 would have failed",
            "B1-2026-0001",
            "9.8 mL",
            "VP-2",
        ] {
            assert!(page.contains(part), "{form}: no `{part}` in {page}");
        }
    }
}

#[test]
fn an_exact_limit_holds_for_past_readings_too() {
    let made = shop_with(delivered("10.2"));
    let (told, _) = made.replayed(&edited(&[("tolerance: 5 %", "tolerance: 2 %")]), &[]);
    assert_eq!(told["counts"]["same"], 1);
}

#[test]
fn a_new_step_lacks_its_reading_a_sentence_does_not() {
    let made = shop_with(GOOD);
    let step = "steps:\n  - {id: door, confirm: The door alarm sounds, basis: practice}\n  - {id: rest, tell: Wait a minute}\n  - id: delivered";
    let record = made.only(&edited(&[("steps:\n  - id: delivered", step)]));
    assert_eq!(verdicts(&record), ("pass", "incomplete"));
    assert_eq!(
        record["lacking"],
        json!([{"step": "door", "why": "there was no such step"}])
    );
    assert_eq!(record["criteria"], json!([]));
}

#[test]
fn a_removed_step_leaves_its_reading() {
    // 16 psi failed, and ended the session before the boluses.
    let made = shop_with(GOOD);
    made.run(
        "D-2",
        "2026-01-11",
        Typed {
            pressure: "16",
            ..GOOD
        },
    );
    let start = RECIPE.find("  - id: pressure").expect("the step");
    let end = RECIPE.find("  - id: again").expect("the step");
    let new = format!("{}{}", &RECIPE[..start], &RECIPE[end..]);
    let new = new
        .replace("  gauge: {measures: [pressure]}\n", "")
        .replace(", most: 15 psi", "");
    let (told, _) = made.replayed(&new, &[]);
    let (good, bad) = (&told["records"][0], &told["records"][1]);
    assert_eq!(verdicts(good), ("pass", "pass"));
    let left = json!([{"step": "pressure", "readings": 1, "why": "the step is no more"}]);
    assert_eq!((&good["left"], &bad["left"]), (&left, &left));
    assert_eq!(verdicts(bad), ("fail", "incomplete"));
    assert_eq!(verdicts(&bad["criteria"][0]), ("fail", "none"));
    let lacking = json!([{"step": "again", "why": "the session had ended before"}]);
    assert_eq!(bad["lacking"], lacking);
}

#[test]
fn another_name_and_another_unit_change_no_verdict() {
    // 10.6 typed where mL was asked for is 0.0106 L.
    let made = shop_with(delivered("10.6"));
    made.run("D-2", "2026-01-11", delivered("10.4"));
    made.run("D-3", "2026-01-12", delivered("0.0105 L"));
    let new = edited(&[
        ("  - id: delivered\n", "  - id: volume_out\n"),
        (
            "    measure: Volume shown by the meter\n    unit: mL\n",
            "    measure: Volume shown by the meter\n    unit: L\n",
        ),
        ("within(delivered, nominal", "within(volume_out, nominal"),
        (
            "compute: delivered / running",
            "compute: volume_out / running",
        ),
    ]);
    let (told, code) = made.replayed(&new, &[]);
    assert_eq!((&told["records"], code), (&json!([]), 1));
    assert_eq!(told["counts"]["same"], 3);
}

#[test]
fn the_last_attempt_decides_as_far_as_there_may_be_more_than_one() {
    // Means of 0.6 mL, then of 0.4 mL.
    let made = Made::shop(str::to_owned);
    made.run_typing("D-1", "2026-01-10", false, &|path, given| {
        Did::Type(match path {
            "delivered" => "10.0".to_owned(),
            "pressure" => "9".to_owned(),
            "again" if given < 3 => "0.6".to_owned(),
            "again" => "0.4".to_owned(),
            _ => "yes".to_owned(),
        })
    });
    let limit = "mean(again) <= \"0.5 mL\"";
    let (told, _) = made.replayed(&edited(&[(limit, "mean(again) <= \"0.45 mL\"")]), &[]);
    assert_eq!(told["counts"]["same"], 1);
    // 0.4 mL is too much now, and a third attempt would not have been made.
    let record = made.only(&edited(&[(limit, "mean(again) <= \"0.3 mL\"")]));
    assert_eq!(
        (verdicts(&record), &record["again"]),
        (("pass", "fail"), &json!([]))
    );
    // With one more attempt allowed, one would have been.
    let retry = "on_fail: {retry: 1}";
    let record = made.only(&edited(&[
        (limit, "mean(again) <= \"0.3 mL\""),
        (retry, "on_fail: {retry: 2}"),
    ]));
    assert_eq!(
        (verdicts(&record), &record["again"]),
        (("pass", "fail"), &json!(["again"]))
    );
    // Without a second attempt the first one stands.
    let record = made.only(&edited(&[(retry, "on_fail: continue")]));
    assert_eq!(verdicts(&record), ("pass", "fail"));
    let left =
        json!([{"step": "again", "readings": 3, "why": "it may not be tried as often any more"}]);
    assert_eq!(record["left"], left);
}

#[test]
fn of_other_numbers_of_repeats_the_last_attempt_counts() {
    let made = shop_with(GOOD);
    let record = made.only(&edited(&[("repeat: 3", "repeat: 5")]));
    assert_eq!(verdicts(&record), ("pass", "incomplete"));
    assert_eq!(
        record["lacking"],
        json!([{"step": "again", "why": "there are fewer repeats"}])
    );
    let record = made.only(&edited(&[("repeat: 3", "repeat: 2")]));
    assert_eq!(verdicts(&record), ("pass", "pass"));
    let left = json!([{"step": "again", "readings": 1, "why": "fewer repeats are asked for"}]);
    assert_eq!(record["left"], left);
}

#[test]
fn a_corrected_entry_counts_as_it_was_corrected() {
    // 13 mL was typed, 10.3 mL was meant: inside 5 %, outside 2 %, inside 10 %.
    let made = Made::shop(str::to_owned);
    let fixed = Cell::new(false);
    made.run_typing("D-1", "2026-01-10", false, &|path, _| match path {
        "delivered" => Did::Type("13".to_owned()),
        "pressure" if !fixed.replace(true) => Did::Fix("delivered", 1, "10.3"),
        "pressure" => Did::Type("9".to_owned()),
        "again" => Did::Type("0.2".to_owned()),
        _ => Did::Type("yes".to_owned()),
    });
    let with = |tolerance| edited(&[("tolerance: 5 %", tolerance)]);
    let record = made.only(&with("tolerance: 2 %"));
    assert_eq!(verdicts(&record), ("pass", "fail"));
    let (told, _) = made.replayed(&with("tolerance: 10 %"), &[]);
    assert_eq!(told["counts"]["same"], 1);
}

#[test]
fn an_ended_session_lacks_what_it_did_not_come_to() {
    let made = shop_with(Typed {
        pressure: "16",
        ..GOOD
    });
    let record = made.only(&edited(&[("most: 15 psi", "most: 17 psi")]));
    assert_eq!(verdicts(&record), ("fail", "incomplete"));
    let lacking = json!([{"step": "again", "why": "the session had ended before"}]);
    assert_eq!(record["lacking"], lacking);
}

#[test]
fn what_was_asked_after_a_stop_is_judged_again_and_what_was_passed_over_is_lacking() {
    let last =
        "  - id: kept\n    confirm: It is under lock\n    basis: practice\n    after_stop: true\n";
    let made = Made::shop(|text| text.to_owned() + last);
    made.run(
        "D-1",
        "2026-01-10",
        Typed {
            pressure: "16",
            ..GOOD
        },
    );
    let new = edited(&[("most: 15 psi", "most: 17 psi")]) + last;
    let record = made.only(&new);
    assert_eq!(verdicts(&record), ("fail", "incomplete"));
    let lacking = json!([{"step": "again", "why": "the session had ended before"}]);
    assert_eq!(record["lacking"], lacking);
    assert_eq!(record["criteria"][0]["step"], "pressure", "{record:#}");
    assert_eq!(
        record["criteria"].as_array().map(Vec::len),
        Some(1),
        "{record:#}"
    );
}

#[test]
fn a_stopped_session_goes_no_farther_and_a_skip_stays() {
    let made =
        Made::shop(|text| text.replace("    repeat: 3\n", "    repeat: 3\n    optional: true\n"));
    let upto = |last: &'static str, does: Did| {
        move |path: &str, _: usize| match path {
            _ if path == last => does.clone(),
            "delivered" => Did::Type("10".to_owned()),
            "pressure" => Did::Type("9".to_owned()),
            _ => Did::Type("yes".to_owned()),
        }
    };
    made.run_typing("D-1", "2026-01-10", false, &upto("pressure", Did::Stop));
    made.run_typing("D-2", "2026-01-11", false, &upto("again", Did::Skip));
    // The boluses may not be passed over any more, the alarm is asked for once more before them.
    let new = edited(&[("most: 15 psi", "most: 17 psi")]);
    let (told, _) = made.replayed(&new, &[]);
    assert_eq!(
        told["records"].as_array().map(Vec::len),
        Some(1),
        "{told:#}"
    );
    let record = &told["records"][0];
    assert_eq!(
        (&record["device"], verdicts(record)),
        (&"D-2".into(), ("pass", "incomplete"))
    );
    let lacking = json!([{"step": "again", "why": "it was passed over, as it might be then"}]);
    assert_eq!(record["lacking"], lacking);
}

/// A choice typed by its number, and two rows, the second of which does not hold.
const ROWS: &str = "  - id: cord\n    choose: How is the cord fitted\n    options: [fixed, detachable]\n    accept: cord == \"detachable\"\n    basis: practice\n    on_fail: continue\n  - id: rows\n    each: point\n    in:\n      - {volume: 5 mL}\n      - {volume: 10 mL}\n    steps:\n      - {id: holds, confirm: 'It holds at {{ point.volume }}', basis: practice, on_fail: continue}\n";

fn with_rows(text: &str) -> String {
    text.to_owned() + ROWS
}

fn shop_with_rows() -> Made {
    let made = Made::shop(with_rows);
    made.run_typing("D-1", "2026-01-10", false, &|path, _| {
        let text = match path {
            "delivered" => "10",
            "pressure" => "9",
            "again" => "0.2",
            "cord" => "2",
            "rows.2.holds" => "no",
            _ => "yes",
        };
        Did::Type(text.to_owned())
    });
    made
}

#[test]
fn rows_keep_their_answers_and_a_new_row_lacks_one() {
    let made = shop_with_rows();
    let new = with_rows(RECIPE).replace(
        "      - {volume: 5 mL}\n",
        "      - {volume: 1 mL}\n      - {volume: 5 mL}\n",
    );
    let record = made.only(&new);
    // What failed at 10 mL fails there still, in the third row.
    assert_eq!(
        (verdicts(&record), &record["criteria"]),
        (("fail", "fail"), &json!([]))
    );
    assert_eq!(
        record["lacking"],
        json!([{"step": "rows.1.holds", "why": "there was no such step"}])
    );
    // Without that row nothing fails.
    let record = made.only(&with_rows(RECIPE).replace("      - {volume: 10 mL}\n", ""));
    assert_eq!(verdicts(&record), ("fail", "pass"));
    assert_eq!(
        record["left"],
        json!([{"step": "rows.2.holds", "readings": 1, "why": "the step is no more"}])
    );
}

#[test]
fn a_choice_is_the_word_and_not_its_number() {
    let made = shop_with_rows();
    let options = |new: &str| with_rows(RECIPE).replace("options: [fixed, detachable]", new);
    // The second one is another one now.
    let (told, _) = made.replayed(&options("options: [detachable, fixed]"), &[]);
    assert_eq!(told["counts"]["same"], 1);
    assert_eq!(told["records"], json!([]));
    let record = made.only(
        &options("options: [fixed, detachable by hand]")
            .replace("cord == \"detachable\"", "cord != \"fixed\""),
    );
    let lacking = json!([{"step": "cord", "why": "what was entered is not taken any more"}]);
    assert_eq!(record["lacking"], lacking);
    assert_eq!(record["left"][0]["why"], "it is not taken any more");
}

#[test]
fn a_changed_base_shows_in_the_records_of_a_derived_recipe() {
    let base = RECIPE.replace("recipe: looked-back", "recipe: small-base");
    let derived = |revision: u32| {
        format!(
            "format: 1\nrecipe: looked-back\nrevision: {revision}\nextends: small-base@{revision}\nchanges:\n  - {{revision: {revision}, date: 2026-04-01, why: After the bulletin}}\n"
        )
    };
    let made = Made::shop_with(|_| derived(1), &[("small-base.yaml", &base)]);
    made.run(
        "D-1",
        "2026-01-10",
        Typed {
            pressure: "14",
            ..GOOD
        },
    );
    made.run("D-2", "2026-01-11", GOOD);
    let newer = base
        .replace("revision: 1, date", "revision: 2, date")
        .replace("revision: 1\n", "revision: 2\n")
        .replace("most: 15 psi", "most: 12 psi");
    let recipes = made.root().join("recipes");
    std::fs::write(recipes.join("small-base.yaml"), newer).expect("room");
    std::fs::write(recipes.join("looked-back.yaml"), derived(2)).expect("room");
    let (json, code) = made.data(&["diff", "looked-back@1", "looked-back", "--replay"]);
    assert_eq!(code, 1);
    let told = &json["replay"];
    assert_eq!(
        (&told["counts"]["would_fail"], &told["counts"]["same"]),
        (&1.into(), &1.into())
    );
    let record = &told["records"][0];
    assert_eq!(record["device"], "D-1");
    assert_eq!(
        record["criteria"][0]["limits"],
        json!(["pressure 14 psi, allowed at most 12 psi"])
    );
}

#[test]
fn the_decision_rule_of_the_revision_counts() {
    // FM-01 reads volumes to 0.5 % + 0.02 mL: 10.49 mL is inside 10.5 mL, but not by its expanded uncertainty.
    let made = shop_with(delivered("10.49"));
    let record = made.only(&edited(&[("decision: simple", "decision: guarded")]));
    assert_eq!(verdicts(&record), ("pass", "fail"));
    // Without one it is the shop's, where the older revision stated its own: the demo's shop says nothing, so simple.
    let (told, _) = made.replayed(&edited(&[("decision: simple\n", "")]), &[]);
    assert_eq!(told["counts"]["same"], 1);
    let shop = made.root().join("shop.yaml");
    let text = std::fs::read_to_string(&shop).expect("a shop");
    let text: String = text
        .lines()
        .filter(|l| !l.starts_with("decision:"))
        .map(|l| format!("{l}\n"))
        .collect();
    std::fs::write(&shop, text + "decision: guarded\n").expect("room");
    let record = made.only(&edited(&[("decision: simple\n", "")]));
    assert_eq!(verdicts(&record), ("pass", "fail"));
}

#[test]
fn a_record_that_does_not_verify_is_named_and_not_judged() {
    let made = shop_with(delivered("10.3"));
    let id = made.run("D-2", "2026-01-11", delivered("10.3"));
    let file = made.file(&id);
    let text = std::fs::read_to_string(&file).expect("a record");
    std::fs::write(&file, text.replace("10.3", "10.1")).expect("room");
    let (told, _) = made.replayed(&edited(&[("tolerance: 5 %", "tolerance: 2 %")]), &[]);
    let counts = &told["counts"];
    assert_eq!(
        (&counts["not_judged"], &counts["would_fail"]),
        (&1.into(), &1.into())
    );
    let record = &told["records"][1];
    let why = record["not_judged"].as_str().expect("a reason");
    assert!(
        record["record"] == id.as_str() && why.contains("seal"),
        "{record}"
    );
}

#[test]
fn trials_later_revisions_and_corrected_records_are_left_out() {
    let made = Made::shop(str::to_owned);
    let wrong = made.run("D-1", "2026-01-10", delivered("10.3"));
    let right = made.run("D-1", "2026-01-10", GOOD);
    made.run_as("D-1", "2026-01-11", delivered("10.3"), true);
    made.run("D-2", "2026-02-10", delivered("10.3"));
    let words = [
        "amend",
        &wrong,
        "--by",
        "tech-04",
        "--why",
        "another pump",
        "--correction",
        &right,
    ];
    let output = made.program(&words);
    assert!(
        output.status.success(),
        "{}",
        String::from_utf8_lossy(&output.stderr)
    );
    let new = edited(&[("tolerance: 5 %", "tolerance: 2 %")]);
    let tally = |more: &[&str]| {
        let (told, _) = made.replayed(&new, more);
        let count = |key: &str| told["counts"][key].as_u64().expect("a count");
        [count("records"), count("would_fail"), count("corrected")]
    };
    assert_eq!(tally(&[]), [3, 1, 1]);
    assert_eq!(tally(&["--trials"]), [4, 2, 1]);
    assert_eq!(tally(&["--device", "D-1"]), [2, 0, 1]);
    assert_eq!(tally(&["--model", "VP-1"]), [1, 1, 0]);
    assert_eq!(tally(&["--since", "2026-01-11"]), [1, 1, 0]);
    assert_eq!(tally(&["--until", "2026-01-31"]), [2, 0, 1]);
}

#[test]
fn what_nothing_has_is_refused() {
    let made = shop_with(GOOD);
    std::fs::write(made.root().join("new.yaml"), RECIPE).expect("room");
    let refused = |more: &[&str]| {
        let words = [&["diff", "looked-back@1", "new.yaml"], more].concat();
        let output = made.program(&words);
        assert_eq!(output.status.code(), Some(2), "{words:?}");
        String::from_utf8(output.stderr).expect("text")
    };
    let said = refused(&["--replay", "--device", "D-11"]);
    assert!(
        said.contains("`D-1`") && said.contains("--device"),
        "{said}"
    );
    let said = refused(&["--replay", "--since", "2026-02-01", "--until", "2026-01-01"]);
    assert!(said.contains("is after"), "{said}");
    assert!(refused(&["--since", "2026-02-01"]).contains("--replay"));
}
