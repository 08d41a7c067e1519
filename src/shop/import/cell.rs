//! One cell: from what a spreadsheet says to what the register says.
//!
//! Never in here: rows. Changes when a kind of field is read otherwise.

use jiff::civil::Date;

use crate::recipe::CATEGORIES;
use crate::recipe::schema::nearest;
use crate::shop::interval::{Unreadable, per_recipe, read_intervals};
use crate::trust::PublicKey;

use super::date::DateForm;
use super::field::Kind;
use super::measures::{measures_from, measures_text};

/// What is said of a category that is not one of the known ones.
pub const CATEGORY_NOTICE: &str = "is not one of the known categories";

/// The roles of people.
const ROLES: [&str; 3] = ["technician", "author", "reviewer"];

/// A cell that was read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Cell {
    /// As the register has it.
    pub value: String,
    /// Something odd that is allowed.
    pub notice: Option<String>,
}

/// Reads a cell that is not empty. Days are in `form`.
///
/// # Errors
/// What the register can't take.
pub fn read_cell(kind: Kind, text: &str, form: DateForm) -> Result<Cell, Unreadable> {
    let mut notice = None;
    let value = match kind {
        Kind::Id => id(text)?,
        Kind::Tag | Kind::Text => text.to_owned(),
        Kind::Category => {
            let (value, odd) = category(text);
            notice = odd;
            value
        }
        Kind::Interval(bare) => read_intervals(text, bare)?.to_string(),
        Kind::Day => form.read(text)?.to_string(),
        Kind::Days => per_recipe::<Date>(text, &|part| form.read(part))?.to_string(),
        Kind::Roles => roles(text)?,
        Kind::Key => key(text)?.text(),
        Kind::Keys => keys(text)?,
        Kind::Measures => measures_text(&measures_from(text)?),
    };
    Ok(Cell { value, notice })
}

fn unreadable(message: impl Into<String>, help: &'static str) -> Unreadable {
    Unreadable {
        message: message.into(),
        help,
    }
}

fn id(text: &str) -> Result<String, Unreadable> {
    let first = text.starts_with(|c: char| c.is_ascii_alphanumeric());
    let rest = text
        .chars()
        .all(|c| c.is_ascii_alphanumeric() || matches!(c, '.' | '_' | '-'));
    if first && rest {
        return Ok(text.to_owned());
    }
    Err(unreadable(
        "not an id",
        "begin with a letter or digit; letters, digits, `.`, `_` and `-` follow",
    ))
}

/// A category, in the letters of the known one, and what is said of one that is not known.
fn category(text: &str) -> (String, Option<String>) {
    let small = text.to_lowercase();
    if CATEGORIES.contains(&small.as_str()) {
        return (small, None);
    }
    let help = match nearest(text, CATEGORIES.into_iter()) {
        Some(near) => format!("the nearest one is `{near}`"),
        None => format!("known are {}", CATEGORIES.join(", ")),
    };
    let notice = format!("`{text}` {CATEGORY_NOTICE}; {help}; an own one is allowed");
    (text.to_owned(), Some(notice))
}

fn roles(text: &str) -> Result<String, Unreadable> {
    let mut roles: Vec<String> = Vec::new();
    let words = text.split([',', ';', '/', '+', ' ']).map(str::trim);
    for word in words.filter(|w| !w.is_empty() && !w.eq_ignore_ascii_case("and")) {
        let role = word.to_lowercase();
        if !ROLES.contains(&role.as_str()) {
            return Err(unreadable(
                format!("`{word}` is not a role"),
                "roles are technician, author and reviewer",
            ));
        }
        if !roles.contains(&role) {
            roles.push(role);
        }
    }
    if roles.is_empty() {
        return Err(unreadable(
            "no role",
            "roles are technician, author and reviewer",
        ));
    }
    Ok(roles.join(", "))
}

fn key(text: &str) -> Result<PublicKey, Unreadable> {
    let help = "give the line of the `.pub` file, which begins with `ssh-ed25519 `";
    PublicKey::parse(text).map_err(|fault| unreadable(fault.to_string(), help))
}

/// Several keys, without their comments.
fn keys(text: &str) -> Result<String, Unreadable> {
    let lines = text.split(", ").map(|one| key(one).map(|k| k.line()));
    Ok(lines.collect::<Result<Vec<_>, _>>()?.join(", "))
}
