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
