//! Many records of a shop, one after the other, each with what the shop knows about it.
//!
//! Never in here: what is made of them. Changes when records are chosen otherwise.

use std::path::{Path, PathBuf};

use rayon::prelude::*;
use serde::Deserialize;

use crate::host::Host;
use crate::record::{Known, Record};
use crate::shop::Paths;

use super::AppError;
use super::amendments::Surroundings;
use super::proof::Proof;
use super::records::{RecordFile, all_records};
use super::verify::Around;

/// How many records are held at once.
const AT_ONCE: usize = 64;

/// Which records: all of these must hold.
#[derive(Clone, Copy, Debug, Default)]
pub struct Chosen<'a> {
    /// First day on which it was finished.
    pub since: Option<&'a str>,
    /// Last day.
    pub until: Option<&'a str>,
    /// Id of the recipe.
    pub recipe: Option<&'a str>,
    /// Tag of the device.
    pub device: Option<&'a str>,
}

/// A record with what the shop knows about it.
#[derive(Debug)]
pub struct Surrounded {
    /// Its file.
    pub path: PathBuf,
    /// The record.
    pub record: Box<Record>,
    /// What is around it.
    pub around: Surroundings,
}

/// What of a record tells whether it is chosen: the others need not be verified.
#[derive(Deserialize)]
struct Head {
    finished: String,
    recipe: Named,
    device: Tagged,
}

#[derive(Deserialize)]
struct Named {
    id: String,
}

#[derive(Deserialize)]
struct Tagged {
    tag: String,
}

impl Chosen<'_> {
    fn takes(&self, record: &Head) -> bool {
        let day = record.finished.get(..10).unwrap_or_default();
        let is = |wanted: Option<&str>, found: &str| wanted.is_none_or(|w| w == found);
        self.since.is_none_or(|since| day >= since)
            && self.until.is_none_or(|until| day <= until)
            && is(self.recipe, &record.recipe.id)
            && is(self.device, &record.device.tag)
    }
}

/// Goes through the chosen records of a shop in the order of their names. `make` makes something of each, several at once;
/// `tell` gets what was made, or the reason why a file could not be read, in order. No more than some dozens are held.
///
/// # Errors
/// Those of the system, and of `tell`.
pub fn series<T: Send>(
    host: &dyn Host,
    paths: &Paths,
    chosen: &Chosen<'_>,
    make: &(impl Fn(Surrounded) -> T + Sync),
    tell: &mut dyn FnMut(Result<T, String>) -> Result<(), AppError>,
) -> Result<(), AppError> {
    let proof = Proof::read(host, paths)?;
    let known = Known::default();
    let around = Around {
        host,
        proof: Some(&proof),
        known: &known,
        signatures: true,
        copy: false,
    };
    let one = |path: &PathBuf| {
        let read = read(&around, &proof, path, chosen).transpose()?;
        Some(read.map(make))
    };
    for some in all_records(host, paths)?.chunks(AT_ONCE) {
        let made: Vec<_> = some.par_iter().map(one).collect();
        for one in made.into_iter().flatten() {
            tell(one)?;
        }
    }
    Ok(())
}

/// Reads a record and what is around it; nothing where it was not chosen.
fn read(
    around: &Around<'_>,
    proof: &Proof,
    path: &Path,
    chosen: &Chosen<'_>,
) -> Result<Option<Surrounded>, String> {
    let no_record = |why: String| format!("{}: not a record: {why}", path.display());
    let file = RecordFile::read(around.host, path).map_err(|e| e.to_string())?;
    let text = std::str::from_utf8(&file.text).map_err(|e| no_record(e.to_string()))?;
    let head: Head = serde_json::from_str(text).map_err(|e| no_record(e.to_string()))?;
    if !chosen.takes(&head) {
        return Ok(None);
    }
    let attached = |digest: &str| file.attached(around.host, path, digest);
    let (record, checks, _) = around.session(path, text, &attached).map_err(no_record)?;
    let mut surroundings = Surroundings::default();
    surroundings.heed(&checks);
    surroundings.add(proof, &record.record);
    surroundings.hold(around.host, path, file, &record.attachments);
    Ok(Some(Surrounded {
        path: path.to_owned(),
        record,
        around: surroundings,
    }))
}
