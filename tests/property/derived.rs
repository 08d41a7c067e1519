//! A derived recipe and its effective text are the same procedure, whatever is edited.
//!
//! Never in here: which findings faults give. Changes when recipes can be made of others otherwise.

use std::fmt::Write as _;

use proptest::prelude::*;
use stepwell::recipe::{Absent, Door, Fetched, Library, Name, read, read_with};
use stepwell::text::Source;

const BASE: &str = include_str!("../../recipes/volumetric-annual.yaml");
const FRAGMENT: &str = include_str!("fragment.yaml");

struct Beside;

impl Door for Beside {
    fn fetch(&self, name: &Name) -> Result<Fetched, Absent> {
        let (text, newest) = match name.id.as_str() {
            "volumetric-annual" => (BASE, 3),
            "electrical-safety" => (FRAGMENT, 2),
            _ => return Err(Absent::Unknown(None)),
        };
        let source = Source::new(&format!("{}.yaml", name.id), text);
        Ok(Fetched { source, newest })
    }
}

/// The paths of the base's steps.
fn paths() -> Vec<String> {
    fn walk(steps: &serde_yaml::Value, around: &str, found: &mut Vec<String>) {
        for step in steps.as_sequence().into_iter().flatten() {
            let id = step["id"].as_str().unwrap_or_default();
            let path = format!("{around}{id}");
            if !step["steps"].is_null() {
                walk(&step["steps"], &format!("{path}."), found);
            }
            found.push(path);
        }
    }
    let base: serde_yaml::Value = serde_yaml::from_str(BASE).expect("the base is YAML");
    let mut found = Vec::new();
    walk(&base["setup"], "", &mut found);
    walk(&base["steps"], "", &mut found);
    found
}

/// A text as YAML takes it.
fn quoted(text: &str) -> String {
    serde_json::to_string(text).expect("a text is JSON")
}

/// A step of one's own, of one of several kinds.
fn step(kind: usize, id: &str, text: &str) -> String {
    let text = quoted(text);
    match kind {
        0 => format!("{{id: {id}, tell: {text}}}"),
        1 => format!(
            "{{id: {id}, measure: {text}, unit: mL, range: [-1.50 mL, 5], record_only: true}}"
        ),
        2 => format!("{{id: {id}, use: electrical-safety@2, settings: {{earth_max: 0.20 ohm}}}}"),
        3 => format!(
            "{{id: {id}, group: {text}, settings: {{tolerance: 7.00 %}}, steps: [{{id: in_it, use: electrical-safety@2}}]}}"
        ),
        _ => format!(
            "{{id: {id}, each: line, in: [{{wait: 5.0 min, word: {text}}}, {{wait: 90 s, word: \"5.00\"}}], steps: [{{id: run, tell: 'wait {{{{ line.wait }}}}, {{{{ line.word }}}}'}}]}}"
        ),
    }
}

/// An edit of a step of the base.
fn edit(how: usize, path: &str, step: &str) -> String {
    match how {
        0 => format!("  - {{before: {path}, insert: [{step}]}}\n"),
        1 => format!("  - {{after: {path}, insert: [{step}]}}\n"),
        2 => format!("  - {{replace: {path}, by: {step}}}\n"),
        _ => format!("  - {{remove: {path}, why: not on this model}}\n"),
    }
}

fn derived() -> impl Strategy<Value = String> {
    let paths = paths();
    let one = (
        0..4usize,
        0..paths.len(),
        0..5usize,
        "\\PC{1,24}|[ -~]{1,40}|[a-z: #\n\"'\\\\-]{1,20}",
    );
    let edits = prop::collection::vec(one, 0..6);
    ("[ -~]{1,30}", edits).prop_map(move |(title, edits)| {
        let mut text = format!(
            "format: 1\nrecipe: made\nrevision: 1\nextends: volumetric-annual@3\ntitle: {}\nchanges:\n  - {{revision: 1, date: 2026-04-01, why: made}}\nsettings: {{tolerance: 4.50 %}}\n",
            quoted(&title)
        );
        if !edits.is_empty() {
            text.push_str("steps:\n");
        }
        for (index, (how, path, kind, said)) in edits.iter().enumerate() {
            let step = step(*kind, &format!("own_{index}"), said);
            let _ = write!(text, "{}", edit(*how, &paths[*path], &step));
        }
        text
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    #[test]
    fn the_effective_text_alone_is_the_same_procedure(text in derived()) {
        let reading = read_with(Source::new("made.yaml", &text), &Library::new(&Beside));
        let Some(whole) = &reading.whole else {
            return Ok(());
        };
        // Written out although a recipe may have errors: what it was made from is in it.
        let effective = whole.text();
        prop_assert!(effective.contains("extends volumetric-annual@3 sha256:"));
        let again = read(Source::new("effective.yaml", effective));
        if let Some(plan) = &reading.plan {
            prop_assert_eq!(&**effective, &*plan.source);
            let same = again.plan.map(|plan| format!("{plan:?}"));
            prop_assert_eq!(same, Some(format!("{plan:?}")));
        }
    }

    #[test]
    fn the_same_parts_give_the_same_text(text in derived()) {
        let whole = |name: &str| {
            let reading = read_with(Source::new(name, &text), &Library::new(&Beside));
            reading.whole.map(|whole| whole.text().to_string())
        };
        prop_assert_eq!(whole("made.yaml"), whole("elsewhere/made.yaml"));
    }
}

#[test]
fn some_of_what_is_made_up_has_no_errors() {
    let steps = (0..5).map(|kind| edit(1, "accuracy", &step(kind, &format!("own_{kind}"), "Said")));
    let text = format!(
        "format: 1\nrecipe: made\nrevision: 1\nextends: volumetric-annual@3\nchanges:\n  - {{revision: 1, why: made}}\nsteps:\n{}",
        steps.take(1).collect::<String>()
    );
    let reading = read_with(Source::new("made.yaml", &text), &Library::new(&Beside));
    assert!(reading.plan.is_some(), "{:?}", reading.findings);
}

#[test]
fn a_recipe_that_rests_on_no_other_is_its_own_effective_text() {
    let plan = read(Source::new("volumetric-annual.yaml", BASE)).plan;
    assert_eq!(&*plan.expect("the base has no errors").source, BASE);
}

/// Fragments that use the next one this many times, up to the last one.
struct Nested {
    times: usize,
    last: usize,
}

fn nested(number: usize, times: usize, last: usize) -> String {
    let mut text = format!(
        "format: 1\nrecipe: f-{number}\nrevision: 1\nfragment: true\ntitle: Inner\nsteps:\n"
    );
    for n in 0..times {
        let _ = if number == last {
            writeln!(text, "  - {{id: u{n}, tell: Said at the bottom}}")
        } else {
            writeln!(text, "  - {{id: u{n}, use: f-{}@1}}", number + 1)
        };
    }
    text
}

impl Door for Nested {
    fn fetch(&self, name: &Name) -> Result<Fetched, Absent> {
        let number = name.id.trim_start_matches("f-").parse().expect("a number");
        let text = nested(number, self.times, self.last);
        let source = Source::new(&format!("{}.yaml", name.id), &text);
        Ok(Fetched { source, newest: 1 })
    }
}

/// What is found in the first of nested fragments: the codes, each once, and how many steps it comes to.
fn found(times: usize, last: usize) -> (Vec<&'static str>, usize) {
    let door = Nested { times, last };
    let source = Source::new("f-1.yaml", &nested(1, times, last));
    let reading = read_with(source, &Library::new(&door));
    let mut codes: Vec<&str> = reading.findings.iter().map(|f| f.code.name()).collect();
    codes.dedup();
    (codes, reading.plan.map_or(0, |plan| plan.items.len()))
}

#[test]
fn recipes_rest_on_one_another_up_to_a_depth() {
    assert_eq!(found(1, 8), (vec![], 1));
    assert_eq!(found(1, 9), (vec!["too-large"], 0));
    assert_eq!(found(1, usize::MAX), (vec!["too-large"], 0));
}

#[test]
fn fragments_in_fragments_do_not_explode() {
    assert_eq!(found(3, 6), (vec![], 3usize.pow(6)));
    assert_eq!(found(30, 8), (vec!["too-large"], 0));
}
