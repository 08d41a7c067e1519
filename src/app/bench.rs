//! Which bench this is, where several share a `shop.yaml`: `STEPWELL_BENCH`, or the file `.bench` that stays on the computer.
//!
//! Never in here: what a bench keeps. Changes when a bench is named in another way.

use std::io;

use crate::host::Host;
use crate::shop::{Paths, Shop};

use super::AppError;

/// The variable that names this bench.
const BENCH_VARIABLE: &str = "STEPWELL_BENCH";
/// The file that names this bench; under git it is not tracked.
const BENCH_FILE: &str = ".bench";
/// Largest file of that kind, in bytes.
const MAX_BENCH: u64 = 1024;

/// The shop with the bench that this computer is, where it says so; else the one of `shop.yaml`.
///
/// # Errors
/// What is no id of a bench, and those of the system.
pub(super) fn with_own_bench(
    host: &dyn Host,
    paths: &Paths,
    mut shop: Shop,
) -> Result<Shop, AppError> {
    let file = paths.file(BENCH_FILE);
    let (from, text) = match host.variable(BENCH_VARIABLE) {
        Some(text) => (BENCH_VARIABLE.to_owned(), text),
        None => match host.read(&file, MAX_BENCH) {
            Ok(bytes) => (
                file.display().to_string(),
                String::from_utf8_lossy(&bytes).into_owned(),
            ),
            Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(shop),
            Err(error) => return Err(AppError::at(&file, &error)),
        },
    };
    let bench = text.trim();
    if !is_bench(bench) {
        return Err(AppError::new(format!(
            "{from}: `{bench}` is no id of a bench; write letters and digits, a letter first, such as B2"
        )));
    }
    bench.clone_into(&mut shop.bench);
    Ok(shop)
}

/// The pattern of `bench` in the schema of `shop.yaml`.
fn is_bench(text: &str) -> bool {
    text.starts_with(|c: char| c.is_ascii_alphabetic())
        && text.chars().all(|c| c.is_ascii_alphanumeric())
}
