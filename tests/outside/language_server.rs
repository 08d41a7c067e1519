//! `yaml-language-server` (npm) completes recipes and explains their keys by the schema that `init` lays into a shop.
//!
//! Without it the test says so and is passed over, but not in CI: install it with
//! `npm install yaml-language-server` and name its script in `STEPWELL_YAML_LANGUAGE_SERVER`, or put it into `PATH`.

use std::path::{Path, PathBuf};
use std::process::Command;

use serde_json::Value;

/// The server's script.
fn script() -> Option<PathBuf> {
    let named = std::env::var_os("STEPWELL_YAML_LANGUAGE_SERVER").map(PathBuf::from);
    let path = std::env::var_os("PATH").unwrap_or_default();
    let found = || {
        let mut files = std::env::split_paths(&path).map(|p| p.join("yaml-language-server"));
        files.find(|f| f.exists())
    };
    let script = named.or_else(found)?;
    let node = Command::new("node").arg("--version").output();
    node.is_ok_and(|o| o.status.success())
        .then(|| script.canonicalize().expect("the server's script"))
}

/// What the server offers for a recipe.
fn ask(script: &Path, recipe: &Path, completion: &str, hover: &str) -> Value {
    let client = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/outside/language_server.js");
    let asked = Command::new("node")
        .arg(client)
        .arg(script)
        .arg(recipe)
        .args([completion, hover])
        .output()
        .unwrap();
    let said = String::from_utf8_lossy(&asked.stderr);
    assert!(asked.status.success(), "{said}");
    serde_json::from_slice(&asked.stdout).unwrap()
}

#[test]
fn an_editor_completes_verbs_and_explains_them() {
    let Some(script) = script() else {
        assert!(
            std::env::var_os("CI").is_none(),
            "`yaml-language-server` and `node` must be installed in CI"
        );
        eprintln!("SKIPPED: `yaml-language-server` (npm) or `node` is not installed");
        return;
    };
    let folder = tempfile::tempdir().unwrap();
    let laid = Command::new(env!("CARGO_BIN_EXE_stepwell"))
        .arg("init")
        .arg(folder.path())
        .output()
        .unwrap();
    assert!(laid.status.success());
    let shipped = folder.path().join("recipes/volumetric-annual.yaml");
    let text = std::fs::read_to_string(&shipped).unwrap();
    let (first, _) = text.split_once('\n').unwrap();
    let recipe = folder.path().join("recipes/made-up.yaml");
    let steps = "format: 1\nrecipe: made-up\nrevision: 1\nsteps:\n  - id: a\n    measure: It\n    unit: psi\n    sevrity: major\n  - id: b\n    \n";
    std::fs::write(&recipe, format!("{first}\n{steps}")).unwrap();

    let told = ask(&script, &recipe, "10:4", "6:6");
    let labels: Vec<&str> = told["labels"]
        .as_array()
        .unwrap()
        .iter()
        .filter_map(Value::as_str)
        .collect();
    for verb in [
        "tell", "confirm", "choose", "enter", "count", "measure", "time", "compute", "judge",
        "group", "each",
    ] {
        assert!(labels.contains(&verb), "{verb}: {labels:?}");
    }
    let hover = told["hover"].as_str().unwrap();
    assert!(hover.contains("Asks for a reading"), "{hover}");
    let diagnostics = told["diagnostics"].to_string();
    assert!(diagnostics.contains("sevrity"), "{diagnostics}");
    // What is shipped has no faults in the editor's eyes.
    assert_eq!(
        ask(&script, &shipped, "3:0", "3:0")["diagnostics"].to_string(),
        "[]"
    );
}
