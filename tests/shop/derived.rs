//! Derived recipes and fragments in a shop: the README's example from its check to its record, and what becomes of it when
//! files change.
//!
//! Never in here: what single faults give (see `tests/spec`). Changes when recipes are found or kept otherwise.

use std::path::Path;

use serde_json::Value;
use tempfile::TempDir;

use super::made::{records, shop, step, stepwell};

const README: &str = include_str!("../../README.md");

/// A block of the README.
fn block(word: &str) -> &'static str {
    let after = README.split(&format!("```{word}\n")).nth(1);
    let block = after.and_then(|rest| rest.split("```").next());
    block.expect("the block is in the README")
}

/// The demo shop with the README's derived recipe and fragment.
fn with_example() -> TempDir {
    let shop = shop();
    let recipes = shop.path().join("recipes");
    std::fs::write(
        recipes.join("volumetric-vp2-old.yaml"),
        block("yaml derived"),
    )
    .expect("room");
    std::fs::write(recipes.join("battery-run.yaml"), block("yaml fragment")).expect("room");
    shop
}

struct Said {
    code: Option<i32>,
    text: String,
}

/// What the program says to these words.
fn says(shop: &Path, line: &str) -> Said {
    let words: Vec<&str> = line.split(' ').collect();
    let output = stepwell(shop, &words);
    let text = [output.stdout, output.stderr].concat();
    Said {
        code: output.status.code(),
        text: String::from_utf8_lossy(&text).into_owned(),
    }
}

/// Changes a file of the shop.
fn edit(shop: &Path, file: &str, from: &str, to: &str) {
    let path = shop.join(file);
    let text = std::fs::read_to_string(&path).expect("the file");
    assert!(text.contains(from), "{file} has no `{from}`");
    std::fs::write(path, text.replacen(from, to, 1)).expect("room");
}

/// The findings of a check.
fn found(shop: &Path, what: &str) -> Vec<Value> {
    let said = says(shop, &format!("check {what} --format json"));
    serde_json::from_str(&said.text).unwrap_or_else(|_| panic!("{}", said.text))
}

/// A list of findings, as code and file.
fn codes(findings: &[Value]) -> Vec<(String, String)> {
    let word = |f: &Value, key: &str| f[key].as_str().expect("a text").to_owned();
    findings
        .iter()
        .map(|f| (word(f, "code"), word(f, "file")))
        .collect()
}

/// Answers to the whole derived recipe.
fn run(shop: &Path) -> Said {
    let answers = std::fs::read_to_string(shop.join("answers/pass.yaml")).expect("answers");
    let answers = answers.replace("EW-100231", "EW-200517").replace(
        "battery.battery_run: 2 h 10 min",
        "battery.run_time: 3 h 10 min",
    );
    std::fs::write(shop.join("answers/vp2.yaml"), answers).expect("room");
    says(
        shop,
        "run volumetric-vp2-old --device VP-1002 --by tech-04 --answers answers/vp2.yaml",
    )
}

fn approve(shop: &Path, recipe: &str) -> Said {
    says(shop, &format!("approve {recipe} --by review-01"))
}

#[test]
fn the_example_of_the_readme_goes_from_check_to_record() {
    let shop = with_example();
    let shop = shop.path();
    let both = "recipes/volumetric-vp2-old.yaml recipes/battery-run.yaml";
    assert_eq!(codes(&found(shop, both)), []);
    let approved = approve(shop, "volumetric-vp2-old");
    assert_eq!(approved.code, Some(0), "{}", approved.text);
    let walked = run(shop);
    assert_eq!(walked.code, Some(0), "{}", walked.text);
    let record = records(shop).pop().expect("a record");
    let record: Value =
        serde_json::from_slice(&std::fs::read(record).expect("the record")).expect("JSON");
    let source = record["recipe"]["source"].as_str().expect("a text");
    assert!(
        source.starts_with("# volumetric-vp2-old@1 written out"),
        "{source}"
    );
    assert!(
        !source.contains("\nextends:") && !source.contains(" use: "),
        "{source}"
    );
    // 4 % of 5 mL, where the base has 5 %: the setting that the derived recipe gives is the one that is judged by.
    let delivered = step(&record, "accuracy.1.delivered");
    assert_eq!(
        delivered["criteria"][0]["limits"][0]["high"]["value"],
        "5.2"
    );
    assert_eq!(
        step(&record, "battery.run_time")["criteria"][0]["limits"][0]["low"]["value"],
        "3"
    );
    let paths = record["steps"].as_array().expect("steps").iter();
    assert!(paths.clone().any(|s| s["path"] == "battery.charged"));
    assert!(paths.clone().all(|s| s["path"] != "alarms.near_end"));
    assert_eq!(says(shop, "verify").code, Some(0));
    // The effective text by itself is what was approved.
    let alone = shop.join("alone");
    std::fs::create_dir(&alone).expect("room");
    std::fs::write(alone.join("volumetric-vp2-old.yaml"), source).expect("room");
    let findings = found(shop, "alone/volumetric-vp2-old.yaml");
    // Settings of the base that no step has any more; where that can be told whose they are, it is no fault.
    let unused = |f: &Value| {
        f["code"] == "unused-value"
            && f["path"]
                .as_str()
                .is_some_and(|p| p.starts_with("/settings/"))
    };
    assert!(findings.iter().all(unused), "{findings:?}");
}

#[test]
fn an_outline_says_where_each_step_comes_from() {
    let shop = with_example();
    let said = says(shop.path(), "outline volumetric-vp2-old --to md").text;
    for told in [
        "volumetric-annual@3",
        "battery-run@1",
        "volumetric-vp2-old@1, inserted",
        "in place of",
        "removed alarms.near",
        "This model has no near-end warning",
    ] {
        let plain = said.replace('\\', "");
        assert!(plain.contains(told), "{told}: {said}");
    }
}

/// What a reviewer has to know of each step before it is approved.
#[test]
fn an_outline_tells_what_each_step_asks_and_what_its_fail_comes_to() {
    let shop = with_example();
    let told = says(shop.path(), "outline syringe-annual").text;
    assert!(
        told.lines().all(|line| line.chars().count() <= 80),
        "{told}"
    );
    let told = told.split_whitespace().collect::<Vec<_>>().join(" ");
    for words in [
        "Category: syringe",
        "Decision rule: the shop's",
        "Applies to: Sample Instruments, models SY-10",
        "Instrument: watch: kind Stop watch, measures time",
        "Caution: Nothing is connected to a patient. Outlet in a vessel.",
        "Plausible: 0 g to 200 g",
        "Must hold: the answer is yes (CRITICAL, basis practice) If not: the session ends",
        "If not: asked again until it holds",
        "for each syringe: size 10 mL; size 20 mL; size 50 mL",
        "Help: Use the stop watch itself",
        "BASES practice: ",
    ] {
        assert!(told.contains(words), "{words}\n{told}");
    }
    let told = says(shop.path(), "outline volumetric-vp2-old").text;
    let told = told.split_whitespace().collect::<Vec<_>>().join(" ");
    for words in ["Applies to: ", "Optional: ", "may be repeated once; then"] {
        assert!(told.contains(words), "{words}\n{told}");
    }
}

#[test]
fn a_base_changed_under_its_revision_changes_what_was_approved() {
    let shop = with_example();
    let shop = shop.path();
    assert_eq!(approve(shop, "volumetric-vp2-old").code, Some(0));
    edit(
        shop,
        "recipes/volumetric-annual.yaml",
        "occlusion_max: 15 psi",
        "occlusion_max: 18 psi",
    );
    let refused = run(shop);
    assert_eq!(refused.code, Some(2), "{}", refused.text);
    for told in [
        "was changed after revision 1",
        "-  occlusion_max: 15 psi",
        "+  occlusion_max: 18 psi",
    ] {
        assert!(refused.text.contains(told), "{}", refused.text);
    }
}

#[test]
fn an_approved_revision_of_the_base_can_still_be_rested_on() {
    let shop = with_example();
    let shop = shop.path();
    assert_eq!(approve(shop, "volumetric-vp2-old").code, Some(0));
    let before = says(shop, "outline volumetric-vp2-old").text;
    edit(
        shop,
        "recipes/volumetric-annual.yaml",
        "revision: 3",
        "revision: 4",
    );
    edit(
        shop,
        "recipes/volumetric-annual.yaml",
        "changes:\n",
        "changes:\n  - {revision: 4, date: 2026-06-01, why: Limit raised}\n",
    );
    edit(
        shop,
        "recipes/volumetric-annual.yaml",
        "occlusion_max: 15 psi",
        "occlusion_max: 18 psi",
    );
    let findings = found(shop, "recipes/volumetric-vp2-old.yaml");
    let place = "recipes/volumetric-vp2-old.yaml".to_owned();
    assert_eq!(codes(&findings), [("newer-revision".to_owned(), place)]);
    assert_eq!(says(shop, "outline volumetric-vp2-old").text, before);
    assert_eq!(run(shop).code, Some(0));
}

#[test]
fn another_revision_that_was_never_approved_is_refused_by_both_numbers() {
    let shop = with_example();
    let shop = shop.path();
    edit(
        shop,
        "recipes/battery-run.yaml",
        "revision: 1",
        "revision: 2",
    );
    let findings = found(shop, "recipes/volumetric-vp2-old.yaml");
    let message = findings[0]["message"].as_str().expect("a text");
    assert_eq!(findings[0]["code"], "other-revision");
    assert!(
        message.contains("revision 1") && message.contains("revision 2"),
        "{message}"
    );
}

#[test]
fn a_fault_of_the_base_is_told_once_with_the_way_to_it() {
    let shop = with_example();
    let shop = shop.path();
    edit(
        shop,
        "recipes/volumetric-annual.yaml",
        "unit: psi",
        "unit: psy",
    );
    let base = (
        "unknown-unit".to_owned(),
        "recipes/volumetric-annual.yaml".to_owned(),
    );
    let both = "recipes/volumetric-annual.yaml recipes/volumetric-vp2-old.yaml";
    assert_eq!(codes(&found(shop, both)), std::slice::from_ref(&base));
    let findings = found(shop, "recipes/volumetric-vp2-old.yaml");
    assert_eq!(codes(&findings), [base]);
    assert_eq!(
        findings[0]["chain"][0],
        "recipes/volumetric-vp2-old.yaml:4 extends volumetric-annual@3"
    );
    let text = says(shop, "check recipes/volumetric-vp2-old.yaml").text;
    assert!(text.contains("vp2-old.yaml:4 extends"), "{text}");
}

#[test]
fn a_base_is_found_by_its_id_and_beside_the_file_without_a_shop() {
    let folder = TempDir::new().expect("a folder");
    let folder = folder.path();
    let base = include_str!("../../recipes/volumetric-annual.yaml");
    // As some editors save it.
    let base = format!("\u{feff}{}", base.replace('\n', "\r\n"));
    std::fs::write(folder.join("annual.yml"), base).expect("room");
    std::fs::write(folder.join("battery-run.yaml"), block("yaml fragment")).expect("room");
    std::fs::write(
        folder.join("volumetric-vp2-old.yaml"),
        block("yaml derived"),
    )
    .expect("room");
    assert_eq!(codes(&found(folder, "volumetric-vp2-old.yaml")), []);
    edit(
        folder,
        "volumetric-vp2-old.yaml",
        "volumetric-annual@3",
        "volumetric-anual@3",
    );
    let findings = found(folder, "volumetric-vp2-old.yaml");
    assert_eq!(findings[0]["code"], "missing-base");
    assert_eq!(
        findings[0]["help"],
        "the nearest one is `volumetric-annual`"
    );
}

#[test]
fn a_fragment_is_approved_but_not_run_by_itself() {
    let shop = with_example();
    let shop = shop.path();
    assert_eq!(approve(shop, "battery-run").code, Some(0));
    let refused = says(shop, "run battery-run --device VP-1002 --by tech-04");
    assert_eq!(refused.code, Some(2));
    assert!(refused.text.contains("is a fragment"), "{}", refused.text);
}

#[test]
fn what_rests_on_a_withdrawn_revision_is_named_and_not_approved() {
    let shop = with_example();
    let shop = shop.path();
    assert_eq!(approve(shop, "volumetric-vp2-old").code, Some(0));
    let said = says(
        shop,
        "withdraw volumetric-annual@3 --by review-01 --why wrong",
    );
    assert_eq!(said.code, Some(0), "{}", said.text);
    for name in ["volumetric-vp2-old@1", "volumetric-vp2@1"] {
        assert!(said.text.contains(name), "{}", said.text);
    }
    let findings = found(shop, "recipes/volumetric-vp2-old.yaml");
    let place = "recipes/volumetric-vp2-old.yaml".to_owned();
    assert_eq!(codes(&findings), [("withdrawn-base".to_owned(), place)]);
    let walked = run(shop);
    let remark = "`volumetric-annual@3` was withdrawn on";
    assert!(walked.text.contains(remark), "{}", walked.text);
    edit(
        shop,
        "recipes/volumetric-vp2-old.yaml",
        "revision: 1\n",
        "revision: 2\n",
    );
    let refused = approve(shop, "volumetric-vp2-old");
    assert!(
        refused.code == Some(2) && refused.text.contains(remark),
        "{}",
        refused.text
    );
}
