//! Why a command could not be done.
//!
//! Never in here: findings. Changes when a failure has to be told apart from others.

use std::fmt;
use std::io;
use std::path::Path;

use crate::text::Finding;

/// A command that could not be done: exit code 2.
#[derive(Debug)]
pub enum AppError {
    /// One message that says what, where and how to mend.
    Message(String),
    /// Findings in a file that the command needs.
    Findings(Vec<Finding>),
}

impl AppError {
    /// A message.
    pub fn new(message: impl Into<String>) -> Self {
        Self::Message(message.into())
    }

    /// A failure of the system at a path.
    #[must_use]
    pub fn at(path: &Path, error: &io::Error) -> Self {
        let mend = match error.kind() {
            io::ErrorKind::NotFound => "; check the name",
            io::ErrorKind::PermissionDenied => "; check who may read and write it",
            io::ErrorKind::ReadOnlyFilesystem => "; choose a folder that can be written to",
            io::ErrorKind::NotADirectory => "; a folder is wanted there",
            io::ErrorKind::StorageFull => "; make room on the disk",
            _ => "",
        };
        Self::Message(format!("{}: {}{mend}", path.display(), plain(error)))
    }
}

/// The system's words, without its numbers.
fn plain(error: &io::Error) -> String {
    match error.kind() {
        io::ErrorKind::NotFound => "there is no such file".to_owned(),
        io::ErrorKind::PermissionDenied => "not allowed".to_owned(),
        io::ErrorKind::StorageFull => "the disk is full".to_owned(),
        io::ErrorKind::ReadOnlyFilesystem => "the folder is read-only".to_owned(),
        io::ErrorKind::NotADirectory => "a part of the path is a file".to_owned(),
        io::ErrorKind::IsADirectory => "this is a folder, not a file".to_owned(),
        _ => error.to_string().to_lowercase(),
    }
}

impl fmt::Display for AppError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Message(text) => f.write_str(text),
            Self::Findings(findings) => {
                f.write_str(crate::text::findings_as_text(findings, false).trim_end())
            }
        }
    }
}
