//! `check-jsonschema` (PyPI) holds recipes, shop files and records against the schemas that we ship.

use std::path::{Path, PathBuf};
use std::process::Command;

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

fn holds(schema: &str, file: &Path) {
    let schema = root().join("schema").join(schema);
    let checked = Command::new("check-jsonschema")
        .arg("--schemafile")
        .arg(&schema)
        .arg(file)
        .output()
        .unwrap();
    let said = String::from_utf8_lossy(&checked.stdout).into_owned()
        + &String::from_utf8_lossy(&checked.stderr);
    assert!(checked.status.success(), "{}: {said}", file.display());
}

/// Walks a session with stored answers of the demo shop.
fn walk(shop: &Path, answers: &str) {
    let walked = Command::new(env!("CARGO_BIN_EXE_stepwell"))
        .current_dir(shop)
        .args("run volumetric-annual --device VP-1001 --by tech-04 --answers".split(' '))
        .arg(format!("answers/{answers}.yaml"))
        .output()
        .unwrap();
    let sealed = matches!(walked.status.code(), Some(0 | 1));
    assert!(sealed, "{}", String::from_utf8_lossy(&walked.stderr));
}

/// Adds a note and a correction to the first record.
fn amend(shop: &Path) {
    let records = super::records(shop);
    let id = |n: usize| {
        records[n]
            .file_stem()
            .unwrap()
            .to_string_lossy()
            .into_owned()
    };
    for rest in [["--note", "said otherwise"], ["--correction", &id(1)]] {
        let amended = Command::new(env!("CARGO_BIN_EXE_stepwell"))
            .current_dir(shop)
            .args([
                "amend",
                &id(0),
                "--by",
                "tech-04",
                "--why",
                "wrong serial number",
            ])
            .args(rest)
            .output()
            .unwrap();
        let said = String::from_utf8_lossy(&amended.stderr);
        assert!(amended.status.success(), "{said}");
    }
}

#[test]
fn what_is_shipped_and_made_fits_the_schemas() {
    if !super::at_hand("check-jsonschema") {
        return;
    }
    let (_folder, shop) = super::demo();
    for answers in ["fail", "retry", "corrected"] {
        walk(&shop, answers);
    }
    for record in super::records(&shop) {
        holds("record.schema.json", &record);
    }
    amend(&shop);
    for year in std::fs::read_dir(shop.join("amendments")).unwrap() {
        for file in std::fs::read_dir(year.unwrap().path()).unwrap() {
            holds("amendment.schema.json", &file.unwrap().path());
        }
    }
    for recipe in ["volumetric-annual", "volumetric-weighed"] {
        holds(
            "recipe.schema.json",
            &root().join(format!("recipes/{recipe}.yaml")),
        );
    }
    holds("shop.schema.json", &shop.join("shop.yaml"));
    holds("people.schema.json", &shop.join("people.yaml"));
    holds("instruments.schema.json", &shop.join("instruments.yaml"));
    for answers in [
        "pass",
        "fail",
        "retry",
        "corrected",
        "weighed",
        "weighed-near",
    ] {
        holds(
            "answers.schema.json",
            &shop.join(format!("answers/{answers}.yaml")),
        );
    }
}
