//! What `check --format sarif` prints is SARIF 2.1.0 by the models of `pydantic-sarif` (PyPI), made from the schema of OASIS.

use std::process::Command;

const VALIDATE: &str = "import sys
from pydantic_sarif.model import StaticAnalysisResultsFormatSarifVersion210JsonSchema as Log
log = Log.model_validate_json(sys.stdin.read())
print(len(log.runs[0].results), log.runs[0].results[0].ruleId)";

#[test]
fn findings_are_sarif() {
    if !super::modules_at_hand(&["pydantic_sarif"]) {
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    let recipe = include_str!("../../recipes/volumetric-annual.yaml");
    let faulty = recipe
        .replacen("unit: in\n", "unit: inn\n", 1)
        .replacen("basis: sm\n", "\n", 1);
    std::fs::write(folder.path().join("50 %, µ: a.yaml"), faulty).unwrap();
    let checked = Command::new(env!("CARGO_BIN_EXE_stepwell"))
        .current_dir(folder.path())
        .args(["check", "--format", "sarif", "."])
        .output()
        .unwrap();
    assert_eq!(checked.status.code(), Some(1));
    let log = folder.path().join("log.sarif");
    std::fs::write(&log, &checked.stdout).unwrap();
    let validated = Command::new("python3")
        .args(["-c", VALIDATE])
        .stdin(std::fs::File::open(&log).unwrap())
        .output()
        .unwrap();
    let said = String::from_utf8_lossy(&validated.stderr);
    assert!(validated.status.success(), "{said}");
    let told = String::from_utf8_lossy(&validated.stdout);
    assert!(
        told.contains("unknown-unit") || told.contains("missing-basis"),
        "{told}"
    );
}
