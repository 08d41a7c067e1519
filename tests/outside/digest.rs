//! Python recomputes the seal of a record from the contract alone: canonical JSON without the seal, SHA-256.
//!
//! A record holds texts, truths and small whole numbers only, for which sorted keys without blanks are RFC 8785's form.

use std::process::Command;

const SCRIPT: &str = r#"
import hashlib, json, sys
record = json.load(open(sys.argv[1], encoding="utf-8"))
seal = record.pop("seal")
text = json.dumps(record, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
assert "sha256:" + hashlib.sha256(text.encode("utf-8")).hexdigest() == seal["digest"]
source = record["recipe"]["source"].encode("utf-8")
assert "sha256:" + hashlib.sha256(source).hexdigest() == record["recipe"]["digest"]
"#;

#[test]
fn python_finds_the_same_digests() {
    if !super::at_hand("python3") {
        return;
    }
    let (_folder, shop) = super::demo();
    let run = Command::new("python3")
        .arg("-c")
        .arg(SCRIPT)
        .arg(&super::records(&shop)[0])
        .output()
        .unwrap();
    assert!(
        run.status.success(),
        "{}",
        String::from_utf8_lossy(&run.stderr)
    );
}
