//! Completions in a real bash: names of the shop, and files only where one is wanted.
//!
//! Never in here: what commands do. Changes when something else can be completed.

use std::path::Path;
use std::process::Command;

use stepwell::app::lay_out_demo;
use stepwell::host::HurriedHost;
use tempfile::TempDir;

/// What bash offers for the last of these words.
fn offered(shop: &Path, words: &[&str]) -> Vec<String> {
    let program = Path::new(env!("CARGO_BIN_EXE_stepwell"));
    let folder = program.parent().expect("a folder").display();
    let script = format!(
        "compopt() {{ :; }}; PATH=\"{folder}:$PATH\"; source <(stepwell completions bash); COMP_WORDS=(\"$@\"); \
         COMP_CWORD=$(($# - 1)); _stepwell_names stepwell \"${{@: -1}}\" \"${{@: -2:1}}\"; \
         printf '%s\\n' \"${{COMPREPLY[@]}}\""
    );
    let mut bash = Command::new("bash");
    bash.args(["--norc", "-c", &script, "bash", "stepwell"]);
    let out = bash.args(words).current_dir(shop).output().expect("bash");
    let text = String::from_utf8(out.stdout).expect("UTF-8");
    assert!(
        out.stderr.is_empty(),
        "{words:?}: {out:?}",
        out = String::from_utf8_lossy(&out.stderr)
    );
    text.lines().map(str::to_owned).collect()
}

#[test]
fn names_of_the_shop_are_offered_and_files_only_where_one_is_wanted() {
    let folder = TempDir::new().expect("a folder");
    lay_out_demo(&HurriedHost::at_present(), folder.path()).expect("a demo shop");
    std::fs::write(folder.path().join(".approvals-B1.lock"), "").expect("room");
    let of = |words: &[&str]| offered(folder.path(), words);
    let run = ["run", "volumetric-annual", "--device", "VP-1001"];
    assert_eq!(of(&["run", "volumetric-an"]), ["volumetric-annual"]);
    assert_eq!(
        of(&["run", "volumetric-annual", "--device", "VP-1001"]),
        ["VP-1001"]
    );
    assert_eq!(
        of(&[&run[..], &["--by", "tech-0"]].concat()),
        ["tech-04", "tech-07"]
    );
    assert_eq!(
        of(&["trace", "FM-0"]).first().map(String::as_str),
        Some("FM-01")
    );
    for none in [&["--by", ".app"][..], &["--occasion", ".app"]] {
        let all = of(&[&run[..], none].concat());
        assert!(all.iter().all(|a| a == ".app"), "{all:?}");
    }
    // Where a file may stand too, bash offers its own.
    assert_eq!(of(&["run", "recipes/volumetric-an"]), [""]);
}
