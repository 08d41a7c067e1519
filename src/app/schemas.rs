//! The schemas that editors take, by name.
//!
//! Never in here: what they say; checking by them (see `recipe::schema`). Changes when a schema is added.

use crate::recipe::schema::Form;
use crate::recipe::schema::nearest;

use super::AppError;

/// The schemas by name: of what is written by hand first, then of what the program writes.
pub const SCHEMAS: [(&str, &str); 9] = [
    ("recipe", Form::Recipe.text()),
    ("shop", Form::Shop.text()),
    ("people", Form::People.text()),
    ("instruments", Form::Instruments.text()),
    ("answers", Form::Answers.text()),
    ("imports", Form::Imports.text()),
    ("record", include_str!("../../schema/record.schema.json")),
    (
        "amendment",
        include_str!("../../schema/amendment.schema.json"),
    ),
    ("export", include_str!("../../schema/export.schema.json")),
];

/// The text of the schema of this name.
///
/// # Errors
/// A name that none has.
pub fn schema(name: &str) -> Result<&'static str, AppError> {
    if let Some((_, text)) = SCHEMAS.iter().find(|(known, _)| *known == name) {
        return Ok(text);
    }
    let names = SCHEMAS.map(|(known, _)| known);
    let help = match nearest(name, names.iter().copied()) {
        Some(near) => format!("the nearest one is `{near}`"),
        None => format!("there are {}", names.join(", ")),
    };
    Err(AppError::new(format!(
        "there is no schema `{name}`; {help}"
    )))
}

/// The line by which language servers for YAML find the schema of a file in a shop's folder; `up` leads to that folder.
pub(super) fn schema_comment(up: &str, name: &str) -> String {
    format!("# yaml-language-server: $schema={up}schema/{name}.schema.json\n")
}
