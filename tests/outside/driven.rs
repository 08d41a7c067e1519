//! git drives `diff`: as the external diff of recipes, and as the keeper of earlier revisions.
//!
//! Never in here: what a change weighs (see `tests/diff`). Changes when git is given something else.

use std::path::Path;
use std::process::{Command, Output};

const RECIPE: &str = include_str!("../diff/base.yaml");

fn git(folder: &Path, words: &[&str]) -> Output {
    let own = [
        "-c",
        "user.name=Bench",
        "-c",
        "user.email=bench@example.invalid",
    ];
    let driver = format!(
        "diff.stepwell.command='{}' diff",
        env!("CARGO_BIN_EXE_stepwell")
    );
    let mut git = Command::new("git");
    git.args(own)
        .args(["-c", &driver])
        .args(words)
        .current_dir(folder);
    git.output().expect("git")
}

fn said(folder: &Path, words: &[&str]) -> String {
    let output = git(folder, words);
    let text = String::from_utf8_lossy(&output.stdout).into_owned();
    assert!(
        output.status.success(),
        "git {words:?}: {text}{}",
        String::from_utf8_lossy(&output.stderr)
    );
    text
}

/// A repository with the recipe and a plain file, committed.
fn repository() -> tempfile::TempDir {
    let folder = tempfile::tempdir().expect("a folder");
    let write =
        |name: &str, text: &str| std::fs::write(folder.path().join(name), text).expect("room");
    write(".gitattributes", "*.yaml diff=stepwell\n");
    write("pair.yaml", RECIPE);
    write("other.yaml", "name: nothing that is walked\n");
    said(folder.path(), &["init", "-q"]);
    said(folder.path(), &["add", "-A"]);
    said(folder.path(), &["commit", "-qm", "First issue"]);
    folder
}

fn edit(folder: &Path, from: &str, to: &str) {
    let path = folder.join("pair.yaml");
    let text = std::fs::read_to_string(&path).expect("a recipe");
    assert!(text.contains(from));
    std::fs::write(&path, text.replace(from, to)).expect("room");
}

#[test]
fn git_shows_what_changed_in_effect() {
    let folder = repository();
    let at = folder.path();
    edit(at, "tolerance: 5 %", "tolerance: 3 %");
    let text = said(at, &["diff"]);
    assert!(text.contains("What changed in pair.yaml"), "{text}");
    assert!(
        text.contains("accepts 4.85 mL to 5.15 mL, before 4.75 mL to 5.25 mL"),
        "{text}"
    );
    said(at, &["commit", "-qam", "Narrowed"]);
    let log = said(at, &["log", "-p", "--ext-diff", "-1"]);
    assert!(log.contains("2 tightened, 1 setting"), "{log}");
}

#[test]
fn git_goes_on_where_a_recipe_has_errors_and_for_other_files() {
    let folder = repository();
    let at = folder.path();
    edit(at, "unit: psi", "unit: pzi");
    std::fs::write(at.join("other.yaml"), "name: something else\n").expect("room");
    let text = said(at, &["diff"]);
    assert!(
        text.contains("unknown-unit") && text.contains("+        unit: pzi"),
        "{text}"
    );
    assert!(text.contains("+name: something else"), "{text}");
}

#[test]
fn git_shows_recipes_that_come_go_and_change_their_name() {
    let folder = repository();
    let at = folder.path();
    edit(at, "tolerance: 5 %", "tolerance: 3 %");
    std::fs::rename(at.join("pair.yaml"), at.join("pair-two.yaml")).expect("a file");
    said(at, &["add", "-A"]);
    let renamed = said(at, &["diff", "--cached", "-M"]);
    assert!(
        renamed.contains("renamed to pair-two.yaml") && renamed.contains("2 tightened"),
        "{renamed}"
    );
    let plain = said(at, &["diff", "--cached", "--no-renames"]);
    assert!(
        plain.contains("recipe removed: pair revision 1")
            && plain.contains("new recipe: pair revision 1"),
        "{plain}"
    );
}

#[test]
fn an_earlier_commit_is_a_revision() {
    let folder = repository();
    let at = folder.path();
    edit(at, "tolerance: 5 %", "tolerance: 3 %");
    let diff = |words: &[&str]| {
        let mut command = Command::new(env!("CARGO_BIN_EXE_stepwell"));
        let output = command
            .arg("diff")
            .args(words)
            .current_dir(at)
            .output()
            .expect("the program");
        let text = String::from_utf8_lossy(&output.stdout).into_owned()
            + &String::from_utf8_lossy(&output.stderr);
        (output.status.code(), text)
    };
    let (code, text) = diff(&["HEAD:pair.yaml", "pair.yaml", "--format", "json"]);
    let json: serde_json::Value = serde_json::from_str(&text).expect("JSON");
    assert_eq!(
        (code, json["counts"]["tightened"].as_u64()),
        (Some(1), Some(2)),
        "{text}"
    );
    assert_eq!(diff(&["pair.yaml", "pair.yaml"]).0, Some(0));
    for (named, wanted) in [
        ("HEAD:no.yaml", "git does not have it"),
        ("no.yaml", "there is no file or recipe"),
        ("--help:x", ""),
        (":pair.yaml", "write it as GITREV:PATH"),
    ] {
        let (code, text) = diff(&[named, "pair.yaml"]);
        if !wanted.is_empty() {
            assert!(
                code == Some(2) && text.contains(wanted),
                "{named}: {code:?} {text}"
            );
        }
    }
    edit(at, "unit: psi", "unit: pzi");
    let (code, text) = diff(&["HEAD:pair.yaml", "pair.yaml"]);
    assert!(
        code == Some(2) && text.contains("pair.yaml") && text.contains("pzi"),
        "{text}"
    );
}
