//! Why the index can't be used.
//!
//! Never in here: mending it (see `open`). Changes when another thing can go wrong.

use std::fmt;
use std::io;
use std::path::{Path, PathBuf};

/// Why the index can't be used.
#[derive(Debug)]
pub enum IndexFault {
    /// The system's fault at a path.
    Outside(PathBuf, io::Error),
    /// SQLite's fault.
    Inside(rusqlite::Error),
    /// It is of another form.
    OtherForm,
}

impl IndexFault {
    pub(super) fn at(path: &Path, error: io::Error) -> Self {
        Self::Outside(path.to_owned(), error)
    }

    /// Whether another process holds the file: it is good, only not at hand.
    pub(super) fn is_busy(&self) -> bool {
        use rusqlite::ErrorCode::{DatabaseBusy, DatabaseLocked};
        matches!(self, Self::Inside(e) if matches!(e.sqlite_error_code(), Some(DatabaseBusy | DatabaseLocked)))
    }
}

impl From<rusqlite::Error> for IndexFault {
    fn from(error: rusqlite::Error) -> Self {
        Self::Inside(error)
    }
}

impl fmt::Display for IndexFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Outside(path, error) => write!(f, "{}: {error}", path.display()),
            Self::Inside(error) => write!(
                f,
                "the index of records can't be used ({error}); it may be removed: it is made again from the records"
            ),
            Self::OtherForm => f.write_str("the index of records is of another form"),
        }
    }
}

impl std::error::Error for IndexFault {}
