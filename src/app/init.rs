//! `init`: an empty shop, ready to run.
//!
//! Never in here: the demo shop. Changes when a shop gets a file.

use std::path::{Path, PathBuf};

use crate::host::Host;

use super::AppError;
use super::schemas::{SCHEMAS, schema_comment};
use super::shipped::recipes;

const SHOP: &str =
    "# This shop. The bench id begins every record id: no two benches or laptops may share one.
name: My workshop
bench: B1
# The decimal sign that is typed in readings. The other one is refused.
decimal: \".\"
decision: simple
";

const PEOPLE: &str = "# Who works here. Roles: technician, author, reviewer. Somebody who goes gets `left: 2026-03-31` and stays in the list,
# since records name them; `public_key` is an OpenSSH one (ed25519). `stepwell people add` adds somebody.
people:
  - {id: tech-01, name: Technician 01, roles: [technician]}
  - {id: review-01, name: Reviewer 01, roles: [reviewer]}
";

const DEVICES: &str = "tag,serial,maker,model,category,location,interval,last_done\n";

const INSTRUMENTS: &str = "# The test instruments. What each measures: its range, accuracy as in the certificate, how that is to be read
# (limits: rectangular, or k: 2), and the step of its display. Copy and adapt:
#  - id: PG-01
#    kind: Pressure gauge
#    serial: \"12345\"
#    certificate: C-2026-001
#    calibrated: 2026-01-15
#    due: 2027-01-15
#    upkeep: {cleaning: 1 month, leak check: 90 days}
#    measures:
#      pressure: {range: [-10 psi, 50 psi], accuracy: 0.5 % + 0.05 psi, limits: rectangular, resolution: 0.01 psi}
instruments: []
";

/// What git leaves on the computer: which bench it is, locks, and what a killed process left half written.
pub(super) const IGNORED: (&str, &str) = (".gitignore", ".bench\n.*.lock\n.*.part\n");

/// Lays an empty shop out; gives the files that were written.
///
/// # Errors
/// A folder that already is a shop, and those of the system.
pub fn init(host: &dyn Host, folder: &Path) -> Result<Vec<PathBuf>, AppError> {
    if host.exists(&folder.join("shop.yaml")) {
        return Err(AppError::new(format!(
            "{}: this folder is a shop already; nothing was changed",
            folder.display()
        )));
    }
    // shop.yaml last: without it the folder is no shop, and the command can be run again.
    let with_schema =
        |up: &str, schema: &str, text: &str| format!("{}{text}", schema_comment(up, schema));
    let mut files = vec![
        ("people.yaml".to_owned(), with_schema("", "people", PEOPLE)),
        ("devices.csv".to_owned(), DEVICES.to_owned()),
        (
            "instruments.yaml".to_owned(),
            with_schema("", "instruments", INSTRUMENTS),
        ),
        (IGNORED.0.to_owned(), IGNORED.1.to_owned()),
    ];
    for (name, text) in SCHEMAS {
        files.push((format!("schema/{name}.schema.json"), text.to_owned()));
    }
    for (name, text) in recipes() {
        let text = with_schema("../", "recipe", text);
        files.push((format!("recipes/{name}"), text));
    }
    files.push(("shop.yaml".to_owned(), with_schema("", "shop", SHOP)));
    let files: Vec<(String, &str)> = files.iter().map(|(n, t)| (n.clone(), &**t)).collect();
    write_all(host, folder, &files)
}

/// Writes files that are not there yet.
pub(super) fn write_all(
    host: &dyn Host,
    folder: &Path,
    files: &[(String, &str)],
) -> Result<Vec<PathBuf>, AppError> {
    let mut written = Vec::new();
    for (name, text) in files {
        let path = folder.join(name);
        if host.exists(&path) {
            continue;
        }
        if let Some(parent) = path.parent() {
            host.make_folder(parent)
                .map_err(|e| AppError::at(parent, &e))?;
        }
        host.write(&path, text.as_bytes())
            .map_err(|e| AppError::at(&path, &e))?;
        written.push(path);
    }
    Ok(written)
}
