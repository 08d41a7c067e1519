//! `trace`: which records rest on an instrument, and what an error of it could have overturned, worked by hand.
//!
//! Never in here: the index. Changes when more is told of a record.

use serde_json::Value;

use crate::made::{GOOD, Made, Typed};

/// The meter and the gauge that the demo shop's register gives first.
const METER: &str = "FM-01";
const GAUGE: &str = "PG-02";

fn delivered(delivered: &str) -> Typed<'_> {
    Typed { delivered, ..GOOD }
}

/// What became of the verdict of the only record, too low and too high, with the exit code.
fn outcome(made: &Made, instrument: &str, error: &str) -> ([String; 2], i32, Value) {
    let (json, code) = made.data(&["trace", instrument, "--error", error]);
    let of = json["records"][0]["with_error"].clone();
    let word = |side: &str| of[side].as_str().unwrap_or_default().to_owned();
    ([word("too_low"), word("too_high")], code, of)
}

fn criterion<'j>(of: &'j Value, step: &str) -> &'j Value {
    let all = of["criteria"].as_array().expect("criteria");
    all.iter()
        .find(|c| c["step"] == step)
        .unwrap_or(&Value::Null)
}

const SAME: &str = "unchanged";
const FAILED: &str = "would have failed";
const PASSED: &str = "would have passed";

#[test]
fn every_record_with_a_reading_is_told_with_how_near_its_limit_it_was() {
    let made = Made::shop(str::to_owned);
    made.run("D-1", "2026-01-10", delivered("10.3"));
    made.run("D-2", "2026-02-10", GOOD);
    let (json, code) = made.data(&["trace", METER]);
    assert_eq!((code, &json["resting"]), (0, &Value::from(2)));
    let first = &json["records"][0];
    assert_eq!(
        (&first["record"], &first["device"]),
        (&"B1-2026-0001".into(), &"D-1".into())
    );
    assert_eq!(first["roles"][0]["role"], "meter");
    let uses: Vec<(&str, &str, bool)> = first["uses"]
        .as_array()
        .expect("uses")
        .iter()
        .map(|u| {
            let text = |key: &str| u[key].as_str().expect("a text");
            (text("step"), text("value"), u["reading"] == true)
        })
        .collect();
    // 10.3 mL in 6 min are 103 mL/h; the mean of 0.20, 0.21 and 0.22 mL.
    assert_eq!(
        uses,
        [
            ("delivered", "10.3", true),
            ("flow", "103", false),
            ("again", "0.21", true)
        ]
    );
    // 103 mL/h lie 8 mL/h above 95 mL/h: 8.4 % of the limit; 10.3 mL lie 0.2 mL below 10.5 mL: 40 % of 0.5 mL.
    let near = &first["nearest"];
    assert_eq!(
        (&near["step"], &near["inside"]),
        (&"flow".into(), &"8".into())
    );
    assert!((near["share"].as_f64().expect("a share") - 8.0 / 95.0).abs() < 1e-12);
    // The gauge has other uses.
    let (json, _) = made.data(&["trace", GAUGE]);
    assert_eq!(json["records"][1]["uses"][0]["step"], "pressure");
    assert_eq!(json["records"][1]["nearest"]["inside"], "6");
}

#[test]
fn days_narrow_and_unknown_instruments_are_refused() {
    let made = Made::shop(str::to_owned);
    for day in ["2026-01-10", "2026-02-10", "2026-03-10"] {
        made.run("D-1", day, GOOD);
    }
    let days = |words: &[&str]| {
        let (json, _) = made.data(&[&["trace", METER][..], words].concat());
        let records = json["records"].as_array().expect("records").clone();
        records
            .iter()
            .map(|r| r["day"].as_str().expect("a day").to_owned())
            .collect::<Vec<_>>()
    };
    assert_eq!(
        days(&["--since", "2026-02-10"]),
        ["2026-02-10", "2026-03-10"]
    );
    assert_eq!(
        days(&["--until", "2026-02-10"]),
        ["2026-01-10", "2026-02-10"]
    );
    let refused = made.program(&["trace", "FM-1"]);
    assert_eq!(refused.status.code(), Some(2));
    let said = String::from_utf8_lossy(&refused.stderr).into_owned();
    assert!(said.contains("the nearest one is `FM-01`"), "{said}");
    assert_eq!(
        made.program(&["trace", METER, "--since", "2026-02-30"])
            .status
            .code(),
        Some(2)
    );
    assert_eq!(
        made.program(&["trace", METER, "--error", "-2 %"])
            .status
            .code(),
        Some(2)
    );
}

#[test]
fn since_begins_at_the_calibration_before_the_present_one() {
    let made = Made::shop(str::to_owned);
    made.run("D-1", "2026-01-10", GOOD);
    let register = made.root().join("instruments.yaml");
    let text = std::fs::read_to_string(&register).expect("a register");
    std::fs::write(
        &register,
        text.replacen("calibrated: 2025-11-03", "calibrated: 2026-03-01", 1),
    )
    .expect("room");
    let (json, _) = made.data(&["trace", METER]);
    assert_eq!(json["since"], "2025-11-03");
    // One that left the register is still found by its records.
    let text = text.replacen("id: FM-01", "id: FM-77", 1);
    std::fs::write(&register, text).expect("room");
    let (json, code) = made.data(&["trace", METER]);
    assert_eq!(
        (code, &json["resting"], &json["since"]),
        (0, &Value::from(1), &Value::Null)
    );
    assert_eq!(made.data(&["trace", "FM-77"]).0["resting"], 0);
}

/// An error that was found at a calibration says nothing of what was read after it.
#[test]
fn an_error_ends_at_the_present_calibration() {
    let made = Made::shop(str::to_owned);
    made.run("D-1", "2026-01-10", delivered("10.3"));
    let register = made.root().join("instruments.yaml");
    let text = std::fs::read_to_string(&register).expect("a register");
    let text = text.replacen("calibrated: 2025-11-03", "calibrated: 2026-03-01", 1);
    std::fs::write(&register, text).expect("room");
    made.run("D-2", "2026-03-10", delivered("10.3"));
    let (json, code) = made.data(&["trace", METER, "--error", "2 %"]);
    assert_eq!((code, &json["until"]), (1, &Value::from("2026-03-01")));
    let counted =
        |json: &Value| [&json["resting"], &json["later"], &json["doubted"]].map(Value::as_u64);
    assert_eq!(counted(&json), [Some(1), Some(1), Some(1)]);
    let text = made.program(&["trace", METER, "--error", "2 %"]);
    let text = String::from_utf8_lossy(&text.stdout).into_owned();
    for words in [
        "since 2025-11-03: the calibration before, until 2026-03-01: its present calibration",
        "could have been another one: 1: B1-2026-0001.",
        "left out: 1; `--until` takes them in",
    ] {
        assert!(text.contains(words), "{words}\n{text}");
    }
    let asked = ["trace", METER, "--error", "2 %", "--until", "2026-12-31"];
    assert_eq!(counted(&made.data(&asked).0), [Some(2), Some(0), Some(2)]);
}

#[test]
fn a_pass_near_its_limit_would_have_failed() {
    let made = Made::shop(str::to_owned);
    made.run("D-1", "2026-01-10", delivered("10.3"));
    // 10.3 mL + 2 % are 10.506 mL, above 10.5 mL; 10.3 mL − 2 % are 10.094 mL: 100.94 mL/h.
    let (both, code, of) = outcome(&made, METER, "2 %");
    assert_eq!((both, code), ([FAILED.into(), SAME.into()], 1));
    assert_eq!(criterion(&of, "delivered")["too_low"], FAILED);
    assert_eq!(criterion(&of, "flow"), &Value::Null);
    // 1.9 % are 10.4957 mL.
    assert_eq!(outcome(&made, METER, "1.9 %").1, 0);
    // 10.3 mL + 1 % + 0.1 mL are 10.503 mL.
    assert_eq!(outcome(&made, METER, "1 % + 0.1 mL").0[0], FAILED);
}

#[test]
fn an_error_that_acts_on_nothing_is_refused() {
    let made = Made::shop(str::to_owned);
    made.run("D-1", "2026-01-10", delivered("10.3"));
    let refused = |error: &str, part: &str| {
        let output = made.program(&["trace", METER, "--error", error]);
        let said = String::from_utf8_lossy(&output.stderr).into_owned();
        assert!(
            output.status.code() == Some(2) && said.contains(part),
            "{said}"
        );
    };
    refused(
        "5 psi",
        "no pressure was read from FM-01: its readings are volume",
    );
    refused("1 % + 5 psi", "no pressure was read");
    refused("5", "say `5 %`");
    refused("-5 %", "the sign makes no difference");
}

#[test]
fn days_the_wrong_way_round_are_refused() {
    let made = Made::shop(str::to_owned);
    made.run("D-1", "2026-01-10", GOOD);
    for words in [["trace", METER], ["trend", "--device=D-1"]] {
        let days = ["--since", "2027-01-01", "--until", "2026-01-01"];
        let output = made.program(&[&words[..], &days].concat());
        let said = String::from_utf8_lossy(&output.stderr).into_owned();
        assert_eq!(output.status.code(), Some(2), "{said}");
        assert!(said.contains("is after"), "{said}");
    }
}

#[test]
fn an_instrument_without_a_first_calibration_is_told_in_whole_sentences() {
    let made = Made::shop(str::to_owned);
    let record = made.run("D-1", "2026-01-10", GOOD);
    // A record from before the instrument's first entry of a calibration.
    let file = made.file(&record);
    let mut json: Value =
        serde_json::from_slice(&std::fs::read(&file).expect("a record")).expect("JSON");
    let instruments = json["instruments"].as_object_mut().expect("instruments");
    for instrument in instruments.values_mut() {
        instrument["certificate"] = "".into();
        instrument["calibrated"] = "".into();
    }
    std::fs::write(&file, json.to_string()).expect("room");
    let said = String::from_utf8_lossy(&made.program(&["trace", METER]).stdout).into_owned();
    assert!(
        said.starts_with(&format!("Records that rest on {METER}\n")),
        "{said}"
    );
    assert!(
        said.contains("no certificate, calibrated on no known day, due "),
        "{said}"
    );
}

#[test]
fn what_lands_on_the_limit_itself_is_unchanged() {
    let made = Made::shop(str::to_owned);
    made.run("D-1", "2026-01-10", GOOD);
    // 10 mL ± 5 % are 9.5 mL (95 mL/h) and 10.5 mL: on the limits, which are inside.
    assert_eq!(outcome(&made, METER, "5 %").1, 0);
    let (both, code, of) = outcome(&made, METER, "5.001 %");
    assert_eq!((both, code), ([FAILED.into(), FAILED.into()], 1));
    assert_eq!(criterion(&of, "flow")["too_high"], FAILED);
}

#[test]
fn a_window_that_the_whole_error_passes_through_is_not_missed() {
    let made = Made::shop(str::to_owned);
    made.run("D-1", "2026-01-10", delivered("9.4"));
    // 9.4 mL fails, and 9.4 + 1.2 = 10.6 mL fails again; between 9.5 and 10.5 mL it would have passed, and 95 mL/h too.
    let (both, code, of) = outcome(&made, METER, "1.2 mL");
    assert_eq!((both, code), ([PASSED.into(), SAME.into()], 1));
    assert_eq!(criterion(&of, "delivered")["too_low"], PASSED);
    assert_eq!(criterion(&of, "delivered")["verdict"], "fail");
    // 16 mL pass the window within the first quarter, and the bolus of 0.21 mL stays below 0.5 mL for the first 0.29 mL.
    let (both, ..) = outcome(&made, METER, "16 mL");
    assert_eq!(both[0], PASSED);
}

/// As `abs` writes it, the value runs down to the nominal one and up again: 9.4 mL fails, and so does each quarter of an error of
/// 16 mL: 13.4, 17.4, 21.4 and 25.4 mL; 9.5 to 10.5 mL would have passed.
#[test]
fn a_bend_between_quarters_of_the_error_is_not_missed() {
    let made = Made::shop(|text| {
        let bent = "accept: abs(delivered - nominal) <= \"0.5 mL\"";
        text.replace("accept: within(delivered, nominal, tolerance)", bent)
    });
    made.run("D-1", "2026-01-10", delivered("9.4"));
    let (both, code, of) = outcome(&made, METER, "16 mL");
    assert_eq!((both[0].as_str(), code), (PASSED, 1));
    assert_eq!(criterion(&of, "delivered")["too_low"], PASSED);
    assert_eq!(criterion(&of, "delivered")["too_high"], SAME);
}

#[test]
fn a_critical_fail_would_have_ended_the_session() {
    let made = Made::shop(str::to_owned);
    made.run(
        "D-1",
        "2026-01-10",
        Typed {
            pressure: "14.9",
            ..GOOD
        },
    );
    // 14.9 psi + 0.2 psi are 15.1 psi, above 15 psi; 0.1 psi more land on it.
    assert_eq!(outcome(&made, GAUGE, "0.1 psi").1, 0);
    let (both, code, of) = outcome(&made, GAUGE, "0.2 psi");
    assert_eq!((both, code), ([FAILED.into(), SAME.into()], 1));
    assert_eq!(criterion(&of, "pressure")["too_low"], FAILED);
    assert_eq!(
        criterion(&of, "again")["too_low"],
        "would not have been reached"
    );
}

#[test]
fn a_critical_fail_that_would_have_passed_leaves_open_what_else_would_have_come() {
    let made = Made::shop(str::to_owned);
    made.run(
        "D-1",
        "2026-01-10",
        Typed {
            pressure: "15.1",
            ..GOOD
        },
    );
    let (both, code, of) = outcome(&made, GAUGE, "0.2 psi");
    assert_eq!((both[0].as_str(), code), (SAME, 1));
    assert!(both[1].contains("incomplete"), "{both:?}");
    assert_eq!(criterion(&of, "pressure")["too_high"], PASSED);
    assert_eq!(of["asked_too_high"], serde_json::json!(["again"]));
}

#[test]
fn a_step_that_may_be_repeated_is_named_as_asked_again() {
    let made = Made::shop(str::to_owned);
    let typed = Typed {
        again: ["0.48", "0.49", "0.50"],
        ..GOOD
    };
    made.run("D-1", "2026-01-10", typed);
    // The mean of 0.49 mL + 0.02 mL is 0.51 mL, above 0.5 mL.
    let (both, code, of) = outcome(&made, METER, "0.02 mL");
    assert_eq!((both, code), ([FAILED.into(), SAME.into()], 1));
    assert_eq!(of["asked_too_low"], serde_json::json!(["again"]));
}

#[test]
fn the_records_own_decision_rule_decides() {
    let guarded = Made::shop(|text| text.replace("decision: simple", "decision: guarded"));
    let simple = Made::shop(str::to_owned);
    for made in [&guarded, &simple] {
        made.run("D-1", "2026-01-10", delivered("10.40"));
    }
    // The meter's accuracy of 0.5 % + 0.01 mL is 0.062 mL at 10.40 mL; U = 2·√((0.062 mL/√3)² + (0.01 mL/√12)²) = 0.072 mL
    // (JCGM 100:2008, 4.3.7): 10.472 mL is inside 10.5 mL, 10.45 mL + 0.072 mL is not.
    let (both, code, _) = outcome(&guarded, METER, "0.05 mL");
    assert_eq!((both, code), ([FAILED.into(), SAME.into()], 1));
    assert_eq!(outcome(&simple, METER, "0.05 mL").1, 0);
}

#[test]
fn a_record_that_was_altered_is_not_judged_again_in_silence() {
    let made = Made::shop(str::to_owned);
    made.run("D-1", "2026-01-10", delivered("9.4"));
    let file = made.file("B1-2026-0001");
    let text = std::fs::read_to_string(&file).expect("a record");
    std::fs::write(
        &file,
        text.replace("\"verdict\": \"fail\"", "\"verdict\": \"pass\""),
    )
    .expect("room");
    let (_, code, of) = outcome(&made, METER, "0.01 mL");
    assert_eq!(code, 1);
    assert!(
        of["not_known"]
            .as_str()
            .expect("a reason")
            .contains("verify"),
        "{of}"
    );
}
