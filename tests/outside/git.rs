//! Two benches that work apart on clones of one shop come together by `git merge` and by copying, and `verify` accepts both.
//!
//! Never in here: what was altered on purpose. Changes when a bench keeps another file. STEPWELL_LONG walks 50 sessions a bench.

use std::path::{Path, PathBuf};
use std::process::Command;

use crate::made::{Shop, folder, said};

fn sessions() -> usize {
    if std::env::var_os("STEPWELL_LONG").is_some() {
        50
    } else {
        3
    }
}

fn git(folder: &Path, words: &[&str]) {
    let mut git = Command::new("git");
    let own = [
        "-c",
        "user.name=Bench",
        "-c",
        "user.email=bench@example.invalid",
    ];
    git.args(own).args(words).current_dir(folder);
    let said = said(&git.output().unwrap());
    assert_eq!(said.code, 0, "git {words:?}: {}", said.text);
}

/// The program in one of the two folders.
fn stepwell(shop: &Shop, folder: &Path, words: &str) -> crate::made::Said {
    said(&shop.command(words).current_dir(folder).output().unwrap())
}

/// Walks sessions at a bench, countersigns and amends one, and commits.
fn work(shop: &Shop, folder: &Path, bench: &str) {
    let does = |words: &str| {
        let said = stepwell(
            shop,
            folder,
            &format!("{words} --passphrase-file passphrase"),
        );
        assert_eq!(said.code, 0, "{words}: {}", said.text);
    };
    for n in 0..sessions() {
        let device = ["VP-1001", "VP-1002", "VP-1003"][n % 3];
        does(&format!(
            "run short --device {device} --by tech-04 --answers answers.yaml"
        ));
    }
    let records = records(folder);
    let own = records.iter().filter_map(|r| r.file_stem()?.to_str());
    let first = own.filter(|id| id.starts_with(bench)).min().unwrap();
    does(&format!("countersign {first} --by review-01"));
    does(&format!(
        "amend {first} --by tech-04 --why wrong_serial_number"
    ));
    git(folder, &["add", "-A"]);
    git(folder, &["commit", "-qm", &format!("Work at {bench}")]);
}

fn records(shop: &Path) -> Vec<PathBuf> {
    let years = folder(&shop.join("records"));
    let mut all: Vec<PathBuf> = years.iter().flat_map(|y| folder(y)).collect();
    all.retain(|f| f.extension().is_some_and(|e| e == "json"));
    all
}

/// Copies what is missing or older in the target, as `rsync -a --update --exclude .bench --exclude .git` does.
fn copy_over(from: &Path, to: &Path) {
    std::fs::create_dir_all(to).unwrap();
    for file in folder(from) {
        let name = file.file_name().unwrap();
        let target = to.join(name);
        let changed = |p: &Path| std::fs::metadata(p).and_then(|m| m.modified()).ok();
        if name == ".bench" || name == ".git" {
            continue;
        }
        if file.is_dir() {
            copy_over(&file, &target);
        } else if changed(&target) < changed(&file) {
            std::fs::copy(&file, &target).unwrap();
        }
    }
}

#[test]
fn two_clones_merge_without_a_conflict_and_by_copying() {
    if !super::at_hand("git") {
        return;
    }
    let shop = Shop::approved();
    for person in ["tech-04", "review-01"] {
        shop.key(person);
    }
    git(shop.path(), &["init", "-q", "-b", "main"]);
    git(shop.path(), &["add", "-A"]);
    git(shop.path(), &["commit", "-qm", "A shop"]);
    let apart = tempfile::tempdir().unwrap();
    let (other, third) = (apart.path().join("other"), apart.path().join("third"));
    let origin = shop.path().display().to_string();
    git(apart.path(), &["clone", "-q", &origin, "other"]);
    std::fs::write(other.join(".bench"), "B2\n").unwrap();
    work(&shop, shop.path(), "B1");
    work(&shop, &other, "B2");
    let expected = 2 * sessions();
    // By copying one folder over the other.
    copy_over(shop.path(), &third);
    copy_over(&other, &third);
    let verified = stepwell(&shop, &third, "verify");
    assert_eq!(verified.code, 0, "{}", verified.text);
    assert_eq!(records(&third).len(), expected);
    // By git, and then on both sides once more.
    for _ in 0..2 {
        let there = other.display().to_string();
        git(
            shop.path(),
            &["pull", "-q", "--no-rebase", "--no-edit", &there, "main"],
        );
        git(&other, &["pull", "-q", "--ff-only"]);
        for folder in [shop.path(), &other] {
            let verified = stepwell(&shop, folder, "verify");
            assert_eq!(verified.code, 0, "{}", verified.text);
        }
        let here = records(shop.path()).len();
        assert_eq!((here, records(&other).len()), (here, here));
        work(&shop, shop.path(), "B1");
        work(&shop, &other, "B2");
    }
    assert!(records(shop.path()).len() > expected);
}
