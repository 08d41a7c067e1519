//! Shops at odd places: paths with blanks and umlauts, recipes that can't be written.
//!
//! Never in here: what a session does. Changes when a shop may lie elsewhere.

use std::path::{Path, PathBuf};

use stepwell::app::lay_out_demo;
use stepwell::host::HurriedHost;
use tempfile::TempDir;

use super::made::{records, stepwell};

/// The day of a shop: checked, run, verified, rendered, outlined, what is due; from outside with `--shop`.
fn a_day(shop: &Path, from: &Path) {
    let answers = shop.join("answers/pass.yaml");
    let (shop, answers) = (path(shop), path(&answers));
    let said = |words: &[&str], code: i32| {
        let mut all = vec!["--shop", &shop];
        all.extend(words);
        let out = stepwell(from, &all);
        assert_eq!(out.status.code(), Some(code), "{words:?}: {out:?}");
    };
    said(&["check"], 0);
    said(
        &[
            "run",
            "volumetric-annual",
            "--device",
            "VP-1001",
            "--by",
            "tech-04",
            "--answers",
            &answers,
        ],
        0,
    );
    said(&["verify"], 0);
    said(&["due"], 1);
    said(&["outline", "volumetric-annual"], 0);
    let written = records(Path::new(&shop));
    let [record] = &written[..] else {
        panic!("one record was awaited, there are {written:?}");
    };
    let page = PathBuf::from(&shop).join("Prüfung 1.html");
    said(
        &[
            "render",
            &path(record),
            "--to",
            "html",
            "--output",
            &path(&page),
        ],
        0,
    );
    assert!(page.exists());
}

fn path(path: &Path) -> String {
    path.to_str().expect("UTF-8").to_owned()
}

#[test]
fn a_path_with_blanks_and_umlauts() {
    let folder = TempDir::new().expect("a folder");
    let shop = folder.path().join("Gerät 1 ü");
    lay_out_demo(&HurriedHost::at_present(), &shop).expect("a demo shop");
    a_day(&shop, folder.path());
}

/// Who may write everything (root) is not held by this, but sees that nothing is changed.
#[cfg(unix)]
#[test]
fn recipes_that_can_only_be_read() {
    use std::os::unix::fs::PermissionsExt;
    let folder = TempDir::new().expect("a folder");
    let shop = folder.path().join("shop");
    lay_out_demo(&HurriedHost::at_present(), &shop).expect("a demo shop");
    let recipes = shop.join("recipes");
    let mode = |path: &Path, mode| {
        std::fs::set_permissions(path, std::fs::Permissions::from_mode(mode)).expect("our folder");
    };
    let all = || -> Vec<(PathBuf, Vec<u8>)> {
        let files = std::fs::read_dir(&recipes).expect("recipes");
        let mut files: Vec<PathBuf> = files.map(|f| f.expect("a file").path()).collect();
        files.retain(|f| f.is_file());
        files.sort();
        let read = |f: PathBuf| (f.clone(), std::fs::read(&f).expect("a recipe"));
        files.into_iter().map(read).collect()
    };
    let before = all();
    for (file, _) in &before {
        mode(file, 0o444);
    }
    mode(&recipes, 0o555);
    a_day(&shop, folder.path());
    mode(&recipes, 0o755);
    assert_eq!(before, all());
}
