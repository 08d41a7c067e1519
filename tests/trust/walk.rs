//! The README's walk from nothing to a record with two signatures, as it stands there.
//!
//! Never in here: what each command does. Changes with the README.

use std::path::PathBuf;
use std::process::Command;

use stepwell::host::{Host, RealHost};

use super::made::said;

#[test]
fn a_shop_of_ones_own_comes_to_a_record_with_two_signatures() {
    let readme = include_str!("../../README.md");
    let begin = readme.find("stepwell init my-shop").expect("the walk");
    let lines = readme[begin..].split("```").next().expect("its end");
    let folder = tempfile::tempdir().expect("a folder");
    let file = |name: &str| folder.path().join(name);
    std::fs::write(file("passphrase"), "wet gloves\n").expect("room");
    let answers = include_str!("../../demo-data/answers/pass.yaml");
    let answers = answers.replace("EW-100231", "1234");
    std::fs::write(file("answers.yaml"), answers).expect("room");
    let mut here: PathBuf = folder.path().to_owned();
    let today = RealHost::default().today();
    let year = today.get(..4).expect("a year");
    for line in lines.lines() {
        // The README's record is of the year in which it was written.
        let mut all = shlex::split(&line.replace("B1-2026-", &format!("B1-{year}-")))
            .expect("quotes that close");
        let program = all.remove(0);
        if program == "cd" {
            here.push(&all[0]);
            continue;
        }
        let mut command = Command::new(env!("CARGO_BIN_EXE_stepwell"));
        command
            .args(&all)
            .current_dir(&here)
            .env("STEPWELL_KEYS", file("keys"));
        // What somebody would type.
        if ["people", "approve", "run", "countersign"].contains(&all[0].as_str()) {
            command.arg("--passphrase-file").arg(file("passphrase"));
        }
        if all[0] == "run" {
            command.arg("--answers").arg(file("answers.yaml"));
        }
        let said = said(&command.output().expect("the program"));
        assert_eq!(said.code, 0, "{line}: {}", said.text);
    }
}
