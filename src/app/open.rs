//! Opening a shop: finding its folder, reading and checking what a session needs.
//!
//! Never in here: what the files mean. Changes when a shop gets a file.

use std::path::{Path, PathBuf};

use indexmap::IndexMap;

use crate::host::Host;
use crate::journal::Instrument;
use crate::recipe::yaml::MAX_BYTES;
use crate::shop::{
    Kept, Paths, Person, Registered, Shop, Speaks, read_devices, read_kept, read_people, read_shop,
};
use crate::text::{Code, Finding, Source, Span};

use super::AppError;
use super::bench::with_own_bench;

/// A shop with its registers, all of them without findings.
#[derive(Clone, Debug)]
pub struct OpenShop {
    /// Where its files lie.
    pub paths: Paths,
    /// What it says of itself.
    pub shop: Shop,
    /// Its people.
    pub people: Vec<Person>,
    /// Its devices.
    pub devices: Vec<Registered>,
    /// Its instruments.
    pub instruments: Vec<Instrument>,
    /// How those speak that do, by their ids.
    pub speaks: IndexMap<String, Speaks>,
}

/// The folder of the shop: the one given, or the nearest above `from` with a `shop.yaml`.
///
/// # Errors
/// No shop.
pub fn find_shop(host: &dyn Host, given: Option<&Path>, from: &Path) -> Result<PathBuf, AppError> {
    if let Some(folder) = given {
        if host.exists(&folder.join("shop.yaml")) {
            return Ok(folder.to_owned());
        }
        return Err(AppError::new(format!(
            "{}: there is no shop.yaml in this folder; `stepwell init` lays a shop out",
            folder.display()
        )));
    }
    let found = from.ancestors().find(|f| host.exists(&f.join("shop.yaml")));
    found.map(Path::to_owned).ok_or_else(|| {
        AppError::new("there is no shop.yaml in this folder or above it; name the shop with `--shop DIR`, or lay one out with `stepwell init`")
    })
}

/// Reads a file as text; one that is no UTF-8 is a finding.
///
/// # Errors
/// Those of the system.
pub fn read_source(host: &dyn Host, path: &Path) -> Result<Result<Source, Finding>, AppError> {
    let name = path.display().to_string();
    let limit = MAX_BYTES as u64;
    let bytes = match host.read(path, limit) {
        Err(error) if error.kind() == std::io::ErrorKind::FileTooLarge => {
            let size = host.stamp(path).map_or(0, |stamp| stamp.bytes);
            return Ok(Err(unplaced(
                Code::TooLarge,
                &name,
                format!(
                    "the file has {} KiB; {} KiB are the most that are read",
                    size.div_ceil(1024),
                    MAX_BYTES / 1024
                ),
                "split it, or take out what it need not hold",
            )));
        }
        other => other.map_err(|e| AppError::at(path, &e))?,
    };
    Ok(String::from_utf8(bytes)
        .map(|text| Source::new(&name, text.strip_prefix('\u{feff}').unwrap_or(&text)))
        .map_err(|error| {
            let good = error.utf8_error().valid_up_to();
            let before = String::from_utf8_lossy(&error.as_bytes()[..good]).into_owned();
            let source = Source::new(&name, &before);
            Finding {
                code: Code::NotUtf8,
                message: "a byte that is not UTF-8 text".to_owned(),
                help: "save the file as UTF-8".to_owned(),
                span: Span {
                    start: good,
                    end: good,
                },
                source,
                path: String::new(),
                chain: Vec::new(),
            }
        }))
}

fn unplaced(code: Code, name: &str, message: String, help: &str) -> Finding {
    let source = Source::new(name, "");
    Finding {
        code,
        message,
        help: help.to_owned(),
        source,
        span: Span::default(),
        path: String::new(),
        chain: Vec::new(),
    }
}

/// Reads a shop's files; all findings of all of them.
pub(super) fn read_all(
    host: &dyn Host,
    root: &Path,
) -> Result<(Option<OpenShop>, Vec<Finding>), AppError> {
    let paths = Paths::at(root);
    let mut findings = Vec::new();
    let mut source = |name: &str| -> Result<Option<Source>, AppError> {
        match read_source(host, &paths.file(name))? {
            Ok(source) => Ok(Some(source)),
            Err(finding) => {
                findings.push(finding);
                Ok(None)
            }
        }
    };
    let (shop, people, devices, instruments) = (
        source("shop.yaml")?,
        source("people.yaml")?,
        source("devices.csv")?,
        source("instruments.yaml")?,
    );
    let mut keep = |mut found: Vec<Finding>| findings.append(&mut found);
    let shop = shop.and_then(|s| {
        let (shop, found) = read_shop(s);
        keep(found);
        shop
    });
    let shop = shop.map(|s| with_own_bench(host, &paths, s)).transpose()?;
    let people = people.map(|s| {
        let (people, found) = read_people(s);
        keep(found);
        people
    });
    let devices = devices.map(|s| {
        let (devices, found) = read_devices(&s);
        keep(found);
        devices
    });
    let instruments = instruments.map(|s| {
        let (kept, found) = read_kept(s);
        keep(found);
        kept
    });
    let open = match (shop, people, devices, instruments) {
        (Some(shop), Some(people), Some(devices), Some(instruments)) if findings.is_empty() => {
            let of = |k: &Kept| Some((k.instrument.id.clone(), k.speaks.clone()?));
            Some(OpenShop {
                paths,
                shop,
                people,
                devices,
                speaks: instruments.iter().filter_map(of).collect(),
                instruments: instruments.into_iter().map(|k| k.instrument).collect(),
            })
        }
        _ => None,
    };
    Ok((open, findings))
}

/// The people of a shop, without regard to its other files.
///
/// # Errors
/// Those of the system, and findings.
pub(super) fn read_people_of(host: &dyn Host, paths: &Paths) -> Result<Vec<Person>, AppError> {
    let source = read_source(host, &paths.file("people.yaml"))?
        .map_err(|finding| AppError::Findings(vec![finding]))?;
    let (people, findings) = read_people(source);
    if findings.is_empty() {
        Ok(people)
    } else {
        Err(AppError::Findings(findings))
    }
}

/// What a shop says of itself, without regard to its other files.
///
/// # Errors
/// Those of the system, and findings.
pub fn read_shop_of(host: &dyn Host, paths: &Paths) -> Result<Shop, AppError> {
    let source = read_source(host, &paths.file("shop.yaml"))?
        .map_err(|finding| AppError::Findings(vec![finding]))?;
    let (shop, findings) = read_shop(source);
    shop.ok_or(AppError::Findings(findings))
}

/// Opens a shop.
///
/// # Errors
/// Those of the system, and findings in its files.
pub fn open_shop(host: &dyn Host, root: &Path) -> Result<OpenShop, AppError> {
    match read_all(host, root)? {
        (Some(open), _) => Ok(open),
        (None, findings) => Err(AppError::Findings(findings)),
    }
}
