//! Which column of a file is which field: as told, as stored, or by its heading.
//!
//! Never in here: asking. Changes when columns are named otherwise.

use crate::recipe::schema::nearest;

use super::field::{Field, Register};

/// The word that passes over a column.
const PASS_OVER: &str = "-";
/// The word that is kept of a column that nobody said anything of.
const UNTOLD: &str = "?";

/// What a column is.
#[derive(Clone, Copy, Debug)]
pub enum Column {
    /// A field.
    Field(&'static Field),
    /// Of no use here, as was told.
    PassedOver,
    /// Not known.
    Unknown,
}

impl Column {
    /// The field, if it is one.
    #[must_use]
    pub fn field(&self) -> Option<&'static Field> {
        match self {
            Self::Field(field) => Some(field),
            Self::PassedOver | Self::Unknown => None,
        }
    }

    /// The word by which it is stored.
    #[must_use]
    pub fn word(&self) -> &'static str {
        match self {
            Self::Field(field) => field.name,
            Self::PassedOver => PASS_OVER,
            Self::Unknown => UNTOLD,
        }
    }

    /// What a word means.
    ///
    /// # Errors
    /// A word that is no field of the register.
    pub fn from_word(register: Register, word: &str) -> Result<Self, String> {
        if word.trim() == PASS_OVER {
            return Ok(Self::PassedOver);
        }
        if word.trim() == UNTOLD {
            return Ok(Self::Unknown);
        }
        register.field(word).map(Self::Field).ok_or_else(|| {
            let names: Vec<&str> = register.fields().iter().map(|f| f.name).collect();
            match nearest(word, names.iter().copied()) {
                Some(near) => format!("there is no field `{word}`; the nearest one is `{near}`"),
                None => format!(
                    "there is no field `{word}`; fields are {}, and `-` passes over a column",
                    names.join(", ")
                ),
            }
        })
    }
}

/// Settles what the columns are: first what is told (FIELD, HEADING), then what was stored for these headings, then
/// what the headings say by themselves.
///
/// # Errors
/// A field or a heading that does not exist; a field in two columns.
pub fn settle(
    register: Register,
    headings: &[String],
    told: &[(String, String)],
    stored: Option<&[String]>,
) -> Result<Vec<Column>, String> {
    let mut columns: Vec<Column> = match stored {
        Some(words) => words
            .iter()
            .map(|word| Column::from_word(register, word))
            .collect::<Result<_, _>>()?,
        None => headings.iter().map(|h| by_heading(register, h)).collect(),
    };
    columns.resize(headings.len(), Column::Unknown);
    let mut fixed = vec![false; headings.len()];
    for (word, heading) in told {
        let column = Column::from_word(register, word)?;
        let index = find(headings, heading)?;
        (columns[index], fixed[index]) = (column, true);
    }
    give_way(&mut columns, &fixed);
    clash(&columns, headings)?;
    Ok(columns)
}

fn by_heading(register: Register, heading: &str) -> Column {
    if heading.is_empty() {
        return Column::PassedOver;
    }
    let known = register.field_of_heading(heading);
    known.map_or(Column::Unknown, Column::Field)
}

/// A column that a field was only taken for gives way to the one that was told.
fn give_way(columns: &mut [Column], fixed: &[bool]) {
    let told: Vec<&str> = columns
        .iter()
        .zip(fixed)
        .filter(|(_, fixed)| **fixed)
        .filter_map(|(c, _)| c.field().map(|f| f.fills))
        .collect();
    for (column, fixed) in columns.iter_mut().zip(fixed) {
        if !fixed && column.field().is_some_and(|f| told.contains(&f.fills)) {
            *column = Column::Unknown;
        }
    }
}

fn clash(columns: &[Column], headings: &[String]) -> Result<(), String> {
    for (index, column) in columns.iter().enumerate() {
        let Some(field) = column.field() else {
            continue;
        };
        let earlier = columns[..index]
            .iter()
            .position(|c| c.field().is_some_and(|f| f.fills == field.fills));
        if let Some(first) = earlier {
            return Err(format!(
                "columns {} `{}` and {} `{}` are both `{}`; pass over one of them with `--column -=#{}`",
                first + 1,
                headings[first],
                index + 1,
                headings[index],
                field.fills,
                index + 1
            ));
        }
    }
    Ok(())
}

/// The column of a heading, or of a number as `#3`.
fn find(headings: &[String], wanted: &str) -> Result<usize, String> {
    let number = wanted
        .strip_prefix('#')
        .and_then(|n| n.parse::<usize>().ok());
    let exact: Vec<usize> = places(headings, |h| h == wanted.trim());
    if let (Some(number), true) = (number, exact.is_empty()) {
        let index = number.checked_sub(1).filter(|i| *i < headings.len());
        return index
            .ok_or_else(|| format!("there is no column {number}; there are {}", headings.len()));
    }
    let folded = wanted.trim().to_lowercase();
    let found = if exact.is_empty() {
        places(headings, |h| h.to_lowercase() == folded)
    } else {
        exact
    };
    match found[..] {
        [one] => Ok(one),
        [first, ..] => Err(format!(
            "the heading `{wanted}` stands over several columns; name the one that is meant by its number, as `#{}`",
            first + 1
        )),
        [] => Err(match nearest(wanted, headings.iter().map(String::as_str)) {
            Some(near) => {
                format!("no column has the heading `{wanted}`; the nearest one is `{near}`")
            }
            None => format!(
                "no column has the heading `{wanted}`; the headings are {}",
                headings.join(", ")
            ),
        }),
    }
}

fn places(headings: &[String], is: impl Fn(&str) -> bool) -> Vec<usize> {
    let those = headings.iter().enumerate().filter(|(_, h)| is(h));
    those.map(|(index, _)| index).collect()
}
