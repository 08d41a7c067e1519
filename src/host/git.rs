//! Asking git for a file of an earlier commit.
//!
//! Never in here: writing to a repository. Changes when git is asked for something else.

use std::io::{self, Read};
use std::path::Path;
use std::process::{Command, Stdio};

/// The file that git knows as `REVISION:PATH`.
pub(super) fn show(folder: &Path, named: &str, limit: u64) -> io::Result<Vec<u8>> {
    // `--end-of-options`: a name that begins with a hyphen is a name.
    let mut git = Command::new("git")
        .args(["cat-file", "blob", "--end-of-options", named])
        .current_dir(folder)
        .stdin(Stdio::null())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .map_err(|error| match error.kind() {
            io::ErrorKind::NotFound => {
                io::Error::other("git is not installed; name a file instead")
            }
            _ => error,
        })?;
    let mut bytes = Vec::new();
    if let Some(out) = git.stdout.take() {
        out.take(limit + 1).read_to_end(&mut bytes)?;
    }
    let output = git.wait_with_output()?;
    if bytes.len() as u64 > limit {
        let message = format!("the file is larger than {} MiB", limit >> 20);
        return Err(io::Error::new(io::ErrorKind::FileTooLarge, message));
    }
    if output.status.success() {
        return Ok(bytes);
    }
    let said = String::from_utf8_lossy(&output.stderr);
    let said = said.trim().trim_start_matches("fatal: ");
    Err(io::Error::other(format!(
        "git does not have it: {said}; check revision and path, which git counts from the repository's top folder"
    )))
}
