//! Shipped recipes by their stored readings: a document a recipe tells what each file of answers comes to.
//!
//! Never in here: expectations; they stand in `tests/spec/shipped/`, and `STEPWELL_UPDATE=1` writes them anew, to be read before they
//! are kept. Changes when a document tells something more of a record.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write;
use std::path::Path;
use std::process::Command;

use serde_json::Value as Json;
use stepwell::app::{demo_data, lay_out_demo, recipes};
use stepwell::host::HurriedHost;

/// A file of stored readings, by what its first lines say.
struct Stored {
    file: String,
    recipe: String,
    device: String,
    about: String,
}

/// The stored readings that say for which recipe and device they are.
fn stored() -> Vec<Stored> {
    let mut all = Vec::new();
    for (name, text) in demo_data() {
        let Some(file) = name.strip_prefix("answers/") else {
            continue;
        };
        let mut lines = text.lines().map(|l| l.trim_start_matches("# "));
        let first = lines.next().unwrap_or_default();
        let said = first.strip_prefix("Stored readings for the recipe ");
        let said = said.unwrap_or_else(|| panic!("{name}: its first line names recipe and device"));
        let mut words = said.split(' ');
        let recipe = words.next().expect("a recipe").to_owned();
        let device = words
            .find(|w| w.contains('-') && w.chars().next().is_some_and(char::is_uppercase))
            .unwrap_or_else(|| panic!("{name}: its first line names the device"));
        all.push(Stored {
            file: file.to_owned(),
            recipe,
            device: device.to_owned(),
            about: lines.next().unwrap_or_default().to_owned(),
        });
    }
    all
}

/// The record that stored readings come to.
fn record(shop: &Path, stored: &Stored) -> Json {
    let file = format!("answers/{}", stored.file);
    let mut program = Command::new(env!("CARGO_BIN_EXE_stepwell"));
    let words = ["run", &stored.recipe, "--device", &stored.device];
    program.args(words).args(["--by", "tech-04", "--beside"]);
    let output = program
        .args(["--answers", &file])
        .current_dir(shop)
        .output();
    let output = output.expect("the program runs");
    let said = String::from_utf8_lossy(&output.stdout).into_owned();
    let code = output.status.code();
    let errors = String::from_utf8_lossy(&output.stderr);
    assert!(
        matches!(code, Some(0 | 1 | 3)),
        "{file}: {code:?}\n{errors}\n{said}"
    );
    let id = said.lines().rev().find_map(|l| {
        let at = l.find("B1-20")?;
        l[at..]
            .split(|c: char| !c.is_ascii_alphanumeric() && c != '-')
            .next()
    });
    let id = id.unwrap_or_else(|| panic!("{file}: {said}"));
    let year = id.split('-').nth(1).expect("a year");
    let path = shop.join("records").join(year).join(format!("{id}.json"));
    let text = std::fs::read(&path).unwrap_or_else(|e| panic!("{}: {e}", path.display()));
    serde_json::from_slice(&text).expect("JSON")
}

fn text<'a>(json: &'a Json, key: &str) -> &'a str {
    json[key].as_str().unwrap_or_default()
}

/// The steps of a record in order.
fn steps(record: &Json) -> impl Iterator<Item = &Json> {
    ["setup", "steps"]
        .into_iter()
        .flat_map(|part| record[part].as_array().into_iter().flatten())
}

/// What a step came to, in a line; nothing for what was only told.
fn line(step: &Json) -> Option<String> {
    let mut out = format!("{}:", text(step, "path"));
    match text(step, "state") {
        "done" => {}
        other => {
            let _ = write!(out, " {other}");
        }
    }
    let value = |v: &Json| match (v["value"].as_str(), v["unit"].as_str()) {
        (Some(value), Some(unit)) => format!("{value} {unit}"),
        _ => v.to_string(),
    };
    match &step["value"] {
        Json::Null => {}
        Json::Array(all) => {
            let all: Vec<String> = all.iter().map(value).collect();
            let _ = write!(out, " {}", all.join(", "));
        }
        one => {
            let _ = write!(out, " {}", value(one));
        }
    }
    for criterion in step["criteria"].as_array().into_iter().flatten() {
        let (verdict, severity) = (text(criterion, "verdict"), text(criterion, "severity"));
        let _ = write!(out, " · {verdict} ({severity}) {}", text(criterion, "that"));
    }
    (!out.ends_with(':')).then_some(out)
}

fn is_not_met(step: &Json) -> bool {
    let criteria = step["criteria"].as_array().into_iter().flatten();
    criteria
        .map(|c| text(c, "verdict"))
        .any(|v| v.contains("fail"))
}

/// The path and condition of criteria, of those for which `wanted` is true.
fn criteria(record: &Json, wanted: &dyn Fn(&Json) -> bool) -> BTreeSet<(String, String)> {
    let mut all = BTreeSet::new();
    for step in steps(record) {
        for criterion in step["criteria"].as_array().into_iter().flatten() {
            if wanted(criterion) {
                // Rows of an `each` are one criterion.
                let path = text(step, "path").split('.');
                let path: Vec<&str> = path.filter(|p| p.parse::<u32>().is_err()).collect();
                all.insert((path.join("."), text(criterion, "that").to_owned()));
            }
        }
    }
    all
}

/// All stored readings with their records, made by a few sessions at once.
fn records(shop: &Path) -> Vec<(Stored, Json)> {
    const AT_ONCE: usize = 4;
    let all = stored();
    let part = all.len().div_ceil(AT_ONCE);
    let records: Vec<Json> = std::thread::scope(|scope| {
        let some = |some| scope.spawn(move || some_records(shop, some));
        let threads: Vec<_> = all.chunks(part).map(some).collect();
        let ended = threads
            .into_iter()
            .map(|t| t.join().expect("they all come to records"));
        ended.flatten().collect()
    });
    all.into_iter().zip(records).collect()
}

/// A recipe and those that it is derived from.
fn lineage<'a>(
    recipe: &'a str,
    texts: &'a BTreeMap<String, &str>,
) -> impl Iterator<Item = &'a str> {
    std::iter::successors(Some(recipe), |one| {
        let text = texts.get(&format!("{one}.yaml"))?;
        let base = text.lines().find_map(|l| l.strip_prefix("extends: "))?;
        base.split('@').next()
    })
}

fn some_records(shop: &Path, stored: &[Stored]) -> Vec<Json> {
    stored.iter().map(|one| record(shop, one)).collect()
}

#[test]
fn stored_readings_come_to_what_the_documents_say() {
    let folder = tempfile::tempdir().expect("a folder");
    let shop = folder.path().join("shop");
    std::fs::create_dir(&shop).expect("room");
    lay_out_demo(&HurriedHost::at_present(), &shop).expect("the demo shop");
    let mut documents: BTreeMap<String, String> = BTreeMap::new();
    let mut critical: BTreeMap<String, BTreeSet<(String, String)>> = BTreeMap::new();
    let mut failed = critical.clone();
    for (one, record) in records(&shop) {
        let document = documents.entry(one.recipe.clone()).or_insert_with(|| {
            format!("# {}\n\nWhat stored readings come to. Written by the test beside it; read what changes.\n", one.recipe)
        });
        let _ = write!(document, "\n## {}\n\n{}\n\n```text\n", one.file, one.about);
        let _ = writeln!(document, "{}: {}", one.device, text(&record, "verdict"));
        // Of what passes all is told; of the others what is not met.
        let whole = text(&record, "verdict") == "pass";
        for step in steps(&record).filter(|s| whole || is_not_met(s)) {
            if let Some(step) = line(step) {
                let _ = writeln!(document, "{step}");
            }
        }
        let _ = writeln!(document, "```");
        let is = |key: &'static str, word: &'static str| move |c: &Json| text(c, key) == word;
        let of = one.recipe.clone();
        let all = criteria(&record, &is("severity", "critical"));
        critical.entry(of.clone()).or_default().extend(all);
        let not = criteria(&record, &is("verdict", "fail"));
        failed.entry(of).or_default().extend(not);
    }
    let texts: BTreeMap<String, &str> = recipes().into_iter().collect();
    for (name, text) in &texts {
        let recipe = name.trim_end_matches(".yaml");
        let fragment = text.contains("\nfragment: true");
        assert!(
            fragment || documents.contains_key(recipe),
            "{recipe}: no stored readings"
        );
        // What a derived recipe leaves as it is fails in the stored readings of its base.
        let lineage: Vec<&str> = lineage(recipe, &texts).collect();
        let fails = |c: &&(String, String)| {
            let of = |recipe: &&str| failed.get(*recipe).is_some_and(|all| all.contains(c));
            lineage.iter().any(of)
        };
        let missing: Vec<_> = critical
            .get(recipe)
            .into_iter()
            .flatten()
            .filter(|c| !fails(c))
            .collect();
        assert!(
            missing.is_empty(),
            "{recipe}: no stored readings fail {missing:#?}"
        );
    }
    let verified = Command::new(env!("CARGO_BIN_EXE_stepwell"))
        .arg("verify")
        .current_dir(&shop)
        .output()
        .expect("the program runs");
    assert!(
        verified.status.success(),
        "{}",
        String::from_utf8_lossy(&verified.stdout)
    );
    let kept = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/spec/shipped");
    for (recipe, document) in documents {
        let file = kept.join(format!("{recipe}.md"));
        if std::env::var_os("STEPWELL_UPDATE").is_some() {
            std::fs::create_dir_all(&kept).expect("room");
            std::fs::write(&file, &document).expect("room");
        }
        let before = std::fs::read_to_string(&file).unwrap_or_default();
        assert_eq!(before, document, "{}", file.display());
    }
}
