//! A record falsified by hand and sealed again with a right digest: what its entries don't give is found.
//!
//! Never in here: flips that break the seal (see `flip`). Changes when a record tells something that it can't prove.

use serde_json::{Value, json};
use stepwell::host::RealHost;
use stepwell::record::{Answer, Known, verify};
use stepwell::trust::digest_json;

use super::made::{ATTACHED, SCRIPT, begin, go_on, open, shop};

/// What rests on nothing in the record, so that the seal alone holds it: who, when, with what, on which device. The journal
/// is what everything else is made from.
const TOLD_ONLY: [&str; 10] = [
    "session",
    "program",
    "trial",
    "device",
    "occasion",
    "by",
    "bench",
    "started",
    "instruments",
    "journal",
];

/// What the seal is compared with, and what the ledger of approvals proves.
const HELD_ELSEWHERE: [&str; 2] = ["/seal/digest", "/recipe/approval"];

fn whole_record() -> Value {
    let folder = shop();
    let host = RealHost::default();
    let mut session = begin(&host, &open(folder.path()), "every-verb").expect("a session");
    go_on(&mut session, &SCRIPT).expect("a disk with room");
    let (record, _) = session
        .close(&open(folder.path()), &mut |_| Ok(None))
        .expect("a record");
    serde_json::to_value(record).expect("data")
}

/// What `verify` finds bad in a record that is sealed anew.
fn bad(mut record: Value) -> Vec<(&'static str, String)> {
    let seal = record
        .as_object_mut()
        .and_then(|map| map.shift_remove("seal"));
    let digest = digest_json(&record).expect("a canonical form");
    record["seal"] = seal.expect("a seal");
    record["seal"]["digest"] = json!(digest);
    let (_, checks) = match verify(
        &record.to_string(),
        &|_| Some(ATTACHED.to_vec()),
        &Known::default(),
    ) {
        Ok(verified) => verified,
        Err(why) => return vec![("no record", why)],
    };
    let bad = checks.into_iter().filter(|c| c.answer == Answer::Bad);
    bad.map(|c| (c.what, c.reason)).collect()
}

/// The places of all texts, numbers and truths.
fn leaves(json: &Value, pointer: &str, into: &mut Vec<String>) {
    let below = |key: &str| format!("{pointer}/{}", key.replace('~', "~0").replace('/', "~1"));
    match json {
        Value::Object(map) => map.iter().for_each(|(k, v)| leaves(v, &below(k), into)),
        Value::Array(items) => {
            let numbered = items.iter().enumerate();
            numbered.for_each(|(n, v)| leaves(v, &below(&n.to_string()), into));
        }
        _ => into.push(pointer.to_owned()),
    }
}

fn falsified(leaf: &Value) -> Value {
    match leaf {
        Value::String(text) => json!(format!("{text} 7")),
        Value::Bool(truth) => json!(!truth),
        Value::Number(number) => json!(number.as_f64().unwrap_or_default() + 1.0),
        _ => json!("made up"),
    }
}

#[test]
fn a_record_falsified_in_any_place_that_is_printed_is_found() {
    let record = whole_record();
    assert_eq!(bad(record.clone()), []);
    let mut places = Vec::new();
    leaves(&record, "", &mut places);
    let told_only = |place: &&String| TOLD_ONLY.contains(&place.split('/').nth(1).unwrap_or(""));
    places.retain(|p| !told_only(&p) && !HELD_ELSEWHERE.contains(&p.as_str()));
    let unfound = places.iter().filter(|place| {
        let mut changed = record.clone();
        let leaf = changed.pointer_mut(place).expect("a leaf");
        *leaf = falsified(leaf);
        bad(changed).is_empty()
    });
    let unfound: Vec<&String> = unfound.collect();
    println!("{} places", places.len());
    assert!(unfound.is_empty(), "{unfound:#?}");
}

/// What `verify` says of the numbers, after a change.
fn said(record: &Value, change: impl Fn(&mut Value)) -> String {
    let mut changed = record.clone();
    change(&mut changed);
    let of_values = bad(changed).into_iter();
    let mut of_values = of_values.filter(|(what, _)| *what == "values and verdicts");
    of_values.next().map(|(_, why)| why).unwrap_or_default()
}

fn index_of(record: &Value, path: &str) -> usize {
    let steps = record["steps"].as_array().expect("steps");
    let at = steps.iter().position(|s| s["path"] == path);
    at.expect("the step")
}

#[test]
fn sentences_are_compared_and_told_by_their_place() {
    let record = whole_record();
    let at = |path: &str| index_of(&record, path);
    let printed = record["steps"][at("pressure.highest")]["uncertainty"]["shown"].clone();
    assert!(printed.is_string(), "{printed}");
    let highest = at("pressure.highest");
    let why = said(&record, |r| {
        r["steps"][highest]["uncertainty"]["shown"] = json!("(11.4 ± 0.01) psi");
    });
    assert!(
        why.contains("step `pressure.highest`, uncertainty shown"),
        "{why}"
    );
    let why = said(&record, |r| {
        r["steps"][highest]["criteria"][0]["shown"] = json!("11 psi is fine");
    });
    assert!(
        why.contains("step `pressure.highest`, criteria 1 shown"),
        "{why}"
    );
    let why = said(&record, |r| {
        r["steps"][highest]["prompt"] = json!("Read it")
    });
    assert!(why.contains("step `pressure.highest`, prompt"), "{why}");
    let why = said(&record, |r| {
        r["steps"][at("remark")]["why"] = json!("told so")
    });
    assert!(why.contains("step `remark`, why"), "{why}");
    let why = said(&record, |r| r["remarks"][0] = json!("all is well"));
    assert!(why.contains("remarks 1"), "{why}");
    let why = said(&record, |r| r["remarks"] = json!([]));
    assert!(why.contains("remarks: the record says []"), "{why}");
    let why = said(&record, |r| r["ended"] = json!("stopped: at noon"));
    assert!(
        why.contains("ended: the record says stopped: at noon"),
        "{why}"
    );
    let why = said(&record, |r| r["decision"] = json!("banded"));
    assert!(!why.is_empty());
}

#[test]
fn another_version_may_word_sentences_otherwise_but_not_their_numbers() {
    let mut record = whole_record();
    record["program"] = json!("0.0.1");
    assert_eq!(bad(record.clone()), []);
    let highest = index_of(&record, "pressure.highest");
    let printed = record["steps"][highest]["uncertainty"]["shown"].clone();
    let printed = printed.as_str().expect("a text").to_owned();
    let worded = |text: String| {
        said(&record, |r| {
            r["steps"][highest]["uncertainty"]["shown"] = json!(text);
        })
    };
    assert_eq!(worded(printed.replace('±', "plus or minus")), "");
    let why = worded(format!("{printed} 7"));
    assert!(
        why.contains("step `pressure.highest`, uncertainty shown"),
        "{why}"
    );
    let why = said(&record, |r| r["remarks"] = json!([]));
    assert!(why.contains("remarks"), "{why}");
    let why = said(&record, |r| r["ended"] = json!("stopped"));
    assert!(why.contains("ended"), "{why}");
}
