//! The fixed texts: all are in the shipped language, all of that are said, and none is said past it.

use std::collections::BTreeSet;
use std::path::Path;

use regex::Regex;
use stepwell::render::words::fixed_texts;
use stepwell::render::{Beside, Format, House, Label, Words, render};

use crate::made;
use crate::shaped::due;

/// What the source marks as fixed: `say!("…")`, `fixed!("…")`, and `"…" | say` in templates.
fn marked() -> BTreeSet<String> {
    let marks = Regex::new(r#"(?s)\b(?:say|fixed)!\(\s*"((?:[^"\\]|\\.)*)""#).unwrap();
    let joints = Regex::new(r"\\\n\s*").unwrap();
    let filtered = Regex::new(r#""([^"]+)" \| say"#).unwrap();
    let mut all = BTreeSet::new();
    let mut folders = vec![Path::new(env!("CARGO_MANIFEST_DIR")).join("src/render")];
    while let Some(folder) = folders.pop() {
        for entry in std::fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                folders.push(path);
                continue;
            }
            let text = std::fs::read_to_string(&path).unwrap();
            let is_rust = path.extension().is_some_and(|e| e == "rs");
            let found = if is_rust { &marks } else { &filtered };
            if !path.ends_with("words.rs") {
                let texts = found
                    .captures_iter(&text)
                    .map(|c| joints.replace_all(&c[1], "").into_owned());
                all.extend(texts.map(|t| t.replace("\\\"", "\"")));
            }
        }
    }
    all
}

#[test]
fn every_fixed_text_is_in_german_and_every_german_text_is_said() {
    let shipped: BTreeSet<String> = fixed_texts().map(str::to_owned).collect();
    let marked = marked();
    assert!(marked.len() > 200, "the texts were not found");
    let missing: Vec<_> = marked.difference(&shipped).collect();
    let unused: Vec<_> = shipped.difference(&marked).collect();
    assert!(missing.is_empty(), "not in de.yaml: {missing:#?}");
    assert!(unused.is_empty(), "said by nothing: {unused:#?}");
}

#[test]
fn parts_are_those_of_the_english_text() {
    let german = Words::of("de");
    for english in fixed_texts() {
        let own = german.speak(|| filtered(english));
        let again = Words::of("de").with(english, &own);
        assert!(again.is_ok(), "{english}: {}", again.unwrap_err());
    }
    let broken = Words::of("fr").with("{n} in all", "{m} en tout");
    assert_eq!(broken.unwrap_err(), "its parts must be `{n}`, not `{m}`");
    assert!(Words::of("fr").with("never said", "x").is_err());
}

/// A text in the language that is spoken: by a template of nothing but the text.
fn filtered(english: &str) -> String {
    stepwell::render::words::spoken(english)
}

/// Every fixed text between angle quotes: what stands outside of them is not said by the catalogue.
fn quoted() -> Words {
    fixed_texts().fold(Words::of("xx"), |words, english| {
        words.with(english, &format!("«{english}»")).unwrap()
    })
}

#[test]
fn nothing_is_said_past_the_catalogue() {
    // Texts of the record itself, which no catalogue can know.
    let mut known: Vec<String> = Vec::new();
    let mut said = String::new();
    for record in [made::pass(), made::fail(), made::retried()] {
        known.extend(texts(&serde_json::to_value(&record).unwrap()));
        // A step is shown by its title; what follows stands in the record.
        let remarks = record.remarks.iter().filter_map(|r| r.split_once("`: "));
        known.extend(remarks.map(|(_, rest)| rest.to_owned()));
        let house = House {
            words: quoted(),
            ..House::default()
        };
        let beside = Beside {
            house,
            ..Beside::default()
        };
        said += &render(&record, &beside, Format::Text).unwrap();
        said += &Label::of(&record, &beside, Some(&due("2027-03-09"))).text();
    }
    let said = said.split_whitespace().collect::<Vec<_>>().join(" ");
    known.sort_by_key(|t| std::cmp::Reverse(t.len()));
    let mut rest = said.clone();
    for text in known.iter().filter(|t| t.len() > 2) {
        rest = rest.replace(text, "");
    }
    // Innermost quotes first, since texts are parts of others.
    let inner = Regex::new("«[^«»]*»").unwrap();
    while inner.is_match(&rest) {
        rest = inner.replace_all(&rest, "").into_owned();
    }
    let word = Regex::new("[A-Za-z]{4,}").unwrap();
    let left: BTreeSet<&str> = word.find_iter(&rest).map(|m| m.as_str()).collect();
    // Names of programs in lines to be typed, and of this one.
    let typed = [
        "stepwell", "keygen", "verify", "record", "SIGNED", "FILE", "ALLOWED", "PERSON", "sha",
        "seal",
    ];
    let strange: Vec<_> = left
        .into_iter()
        .filter(|w| !typed.contains(w) && !BY_HAND.iter().any(|line| line.contains(w)))
        .collect();
    assert!(strange.is_empty(), "{strange:?} in {rest}");
}

/// Lines that are typed as they stand, in any language.
const BY_HAND: [&str; 3] = [
    "ssh-keygen -Y check-novalidate -n stepwell-record -s SIGNED.sig < SIGNED",
    "jq -cSj '.seal.signatures[0] | del(.signature)' FILE | tr -d sha256sum",
    "ssh-keygen -Y verify -f ALLOWED -I PERSON -n stepwell-record -s SIGNED.sig < SIGNED",
];

fn texts(json: &serde_json::Value) -> Vec<String> {
    use serde_json::Value as Json;
    match json {
        Json::String(text) => vec![text.split_whitespace().collect::<Vec<_>>().join(" ")],
        Json::Array(items) => items.iter().flat_map(texts).collect(),
        Json::Object(map) => {
            let keys = map.keys().cloned();
            keys.chain(map.values().flat_map(texts)).collect()
        }
        _ => Vec::new(),
    }
}

#[test]
fn a_record_is_told_in_german() {
    let beside = Beside {
        house: House {
            words: Words::of("de"),
            ..House::default()
        },
        ..Beside::default()
    };
    let text = render(&made::fail(), &beside, Format::Text).unwrap();
    for sentence in [
        "Prüfprotokoll B1-2026-0042, VP-1001",
        "Urteil: NICHT BESTANDEN",
        "Grenze: höchstens 15 psi",
        "Abweichung: 2.2 psi über der Grenze",
    ] {
        assert!(text.contains(sentence), "{sentence}");
    }
    let html = render(&made::fail(), &beside, Format::Html).unwrap();
    assert!(html.contains("<html lang=\"de\">"));
    // The language ends with the rendering.
    let english = render(&made::fail(), &Beside::default(), Format::Text).unwrap();
    assert!(english.contains("Verdict: FAIL"));
}
