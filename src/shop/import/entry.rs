//! Rows to entries of a register, or to what is wrong with them.
//!
//! Never in here: what the register has already. Changes when a row can be faulty in another way.

use std::collections::HashMap;

use jiff::civil::Date;

use crate::shop::devices::told;
use crate::shop::interval::{Unreadable, read_days};
use crate::shop::legible::illegible;
use crate::shop::odd::in_future;
use crate::shop::rows::{Broken, Row};
use crate::text::counted;

use super::cell::{Cell, read_cell};
use super::columns::Column;
use super::date::DateForm;
use super::fault::Fault;
use super::field::{Field, Register};
use super::sheet::Sheet;

/// What a row says of one entry.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Entry {
    /// The line that it begins in; zero where it stands in no file.
    pub line: usize,
    /// Its tag or id.
    pub id: String,
    /// The fields that it says something of, the tag or id left out.
    pub values: Vec<(&'static str, String)>,
}

/// The rows of a file: what can be taken, and what can't.
#[derive(Clone, Debug, Default)]
pub struct Checked {
    /// The rows without a fault.
    pub entries: Vec<Entry>,
    /// What is wrong with the others.
    pub faults: Vec<Fault>,
    /// What is odd, with the number of rows.
    pub notices: Vec<(String, usize)>,
}

/// Reads the rows of a sheet whose columns are settled.
#[must_use]
pub fn entries(
    register: Register,
    sheet: &Sheet,
    columns: &[Column],
    form: DateForm,
    today: Date,
) -> Checked {
    let told = columns.iter().filter(|c| c.field().is_some()).count();
    let mut reading = Reading {
        today,
        has_more: told > 1,
        register,
        sheet,
        columns,
        form,
        first: HashMap::new(),
        checked: Checked::default(),
    };
    for row in &sheet.rows {
        reading.row(row);
    }
    reading.checked
}

/// Reads what was said of one entry outside a file, as (FIELD, TEXT); empty texts are passed over.
///
/// # Errors
/// What the register can't take.
pub fn check_entry(
    register: Register,
    id: &str,
    values: &[(&'static str, String)],
) -> Result<(Entry, Vec<String>), Vec<Fault>> {
    let fields = register.fields();
    let mut entry = Entry {
        line: 0,
        id: id.trim().to_owned(),
        values: Vec::new(),
    };
    let (mut faults, mut notices) = (Vec::new(), Vec::new());
    let id_field = fields.iter().take(1).map(|f| (f, id));
    let named = values
        .iter()
        .filter_map(|(name, text)| Some((fields.iter().find(|f| f.name == *name)?, text.as_str())));
    for (field, text) in id_field.chain(named) {
        match value(field, text, DateForm::YearMonthDay) {
            Ok(Some(cell)) => {
                notices.extend(cell.notice);
                if field.name != fields[0].name {
                    entry.values.push((field.fills, cell.value));
                }
            }
            Ok(None) if field.name == fields[0].name => {
                faults.push(fault(0, (0, field.name), text, missing(register)));
            }
            Ok(None) => {}
            Err(unreadable) => faults.push(fault(0, (0, field.name), text, unreadable)),
        }
    }
    if faults.is_empty() {
        Ok((entry, notices))
    } else {
        Err(faults)
    }
}

fn missing(register: Register) -> Unreadable {
    Unreadable {
        message: format!(
            "a {} without a {}",
            register.one(),
            register.fields()[0].name
        ),
        help: "give each row its own, or leave the row out",
    }
}

fn fault(line: usize, (number, heading): (usize, &str), cell: &str, why: Unreadable) -> Fault {
    Fault {
        line,
        column: Some((number, heading.to_owned())),
        cell: cell.trim().to_owned(),
        message: why.message,
        help: why.help.to_owned(),
    }
}

/// The value of a cell; nothing where it is empty.
fn value(field: &Field, text: &str, form: DateForm) -> Result<Option<Cell>, Unreadable> {
    // A line break inside quoted text, and blanks that don't break, are blanks.
    let text = text
        .replace("\r\n", " ")
        .replace(['\n', '\r', '\u{a0}'], " ");
    let text = text.trim_matches(' ');
    if let Some((message, help)) = illegible(text) {
        return Err(Unreadable {
            message: message.to_owned(),
            help,
        });
    }
    if text.is_empty() {
        return Ok(None);
    }
    read_cell(field.kind, text, form).map(Some)
}

struct Reading<'a> {
    register: Register,
    sheet: &'a Sheet,
    columns: &'a [Column],
    form: DateForm,
    today: Date,
    /// Whether another column than that of the tag or id is a field.
    has_more: bool,
    /// The line in which each tag or id stands first.
    first: HashMap<String, usize>,
    checked: Checked,
}

impl Reading<'_> {
    fn row(&mut self, row: &Row) {
        let faults = self.checked.faults.len();
        if let Some(broken) = row.broken {
            return self.broken(row, broken);
        }
        if !self.is_text(row) || !self.has_width(row) {
            return;
        }
        let mut values = Vec::new();
        let mut id = String::new();
        let mut notices = Vec::new();
        for (index, column) in self.columns.iter().enumerate() {
            let Some(field) = column.field() else {
                continue;
            };
            let text = String::from_utf8_lossy(&row.cells[index]).into_owned();
            let is_id = field.name == self.register.fields()[0].name;
            match value(field, &text, self.form) {
                Ok(Some(cell)) => {
                    notices.extend(cell.notice);
                    if is_id {
                        id = cell.value;
                    } else {
                        self.not_to_come(row, index, field, &cell.value);
                        values.push((field.fills, cell.value));
                    }
                }
                Ok(None) if is_id => self.fault(row, index, missing(self.register)),
                Ok(None) => {}
                Err(why) => self.fault(row, index, why),
            }
            if is_id && !id.is_empty() {
                self.once(row, index, &id);
            }
        }
        if values.is_empty() && self.has_more && self.checked.faults.len() == faults {
            self.alone(row, &id);
        }
        if self.checked.faults.len() > faults {
            return;
        }
        for notice in notices {
            self.notice(notice);
        }
        self.checked.entries.push(Entry {
            line: row.line,
            id,
            values,
        });
    }

    fn notice(&mut self, text: String) {
        let known = self.checked.notices.iter_mut().find(|(t, _)| *t == text);
        match known {
            Some((_, count)) => *count += 1,
            None => self.checked.notices.push((text, 1)),
        }
    }

    fn fault(&mut self, row: &Row, index: usize, why: Unreadable) {
        let heading = self.sheet.headings.get(index).map_or("", String::as_str);
        let cell = row
            .cells
            .get(index)
            .map(|c| String::from_utf8_lossy(c).into_owned())
            .unwrap_or_default();
        self.checked
            .faults
            .push(fault(row.line, (index + 1, heading), &cell, why));
    }

    /// Says a day on which something was done that has not come yet.
    fn not_to_come(&mut self, row: &Row, index: usize, field: &Field, value: &str) {
        let done = ["last-done", "calibrated"].contains(&field.fills);
        let days = read_days(value).ok().filter(|_| done);
        if let Some(day) = days.and_then(|days| in_future(&days, self.today)) {
            let why = Unreadable {
                message: format!("{day} lies in the future"),
                help: "write the day on which it was done, or leave the cell empty",
            };
            self.fault(row, index, why);
        }
    }

    /// Says a row that has nothing but a tag or id, such as a line of totals.
    fn alone(&mut self, row: &Row, id: &str) {
        self.checked.faults.push(Fault {
            line: row.line,
            column: None,
            cell: id.to_owned(),
            message: format!(
                "nothing but a {}: a line of totals?",
                self.register.fields()[0].name
            ),
            help: "fill it in, or leave the row out".to_owned(),
        });
    }

    /// Says a tag that stood in an earlier row.
    fn once(&mut self, row: &Row, index: usize, id: &str) {
        let first = *self.first.entry(id.to_owned()).or_insert(row.line);
        if first != row.line {
            let why = Unreadable {
                message: format!("it stands in line {first} already"),
                help: "leave one of the two lines",
            };
            self.fault(row, index, why);
        }
    }

    fn broken(&mut self, row: &Row, broken: Broken) {
        let (message, help) = told(broken);
        let (Broken::Unclosed(index) | Broken::BehindQuote(index)) = broken;
        let message = message.to_owned();
        self.fault(row, index, Unreadable { message, help });
    }

    /// Whether all cells are text; a fault for the first that is not.
    fn is_text(&mut self, row: &Row) -> bool {
        let bad = row
            .cells
            .iter()
            .position(|c| std::str::from_utf8(c).is_err());
        if let Some(index) = bad {
            let why = Unreadable {
                message: "bytes that are not UTF-8 text".to_owned(),
                help: "save the file as CSV UTF-8, or say `--encoding windows-1252` where all of it is written so",
            };
            self.fault(row, index, why);
        }
        bad.is_none()
    }

    fn has_width(&mut self, row: &Row) -> bool {
        let (cells, wanted) = (row.cells.len(), self.sheet.headings.len());
        if cells != wanted {
            let raw = self.sheet.bytes.get(row.start..row.end).unwrap_or_default();
            self.checked.faults.push(Fault {
                line: row.line,
                column: None,
                cell: String::from_utf8_lossy(raw).into_owned(),
                message: format!(
                    "{} under {}",
                    counted(cells, "cell"),
                    counted(wanted, "heading")
                ),
                help: format!(
                    "add or remove cells; put text that holds `{}` into quotation marks",
                    if self.sheet.separator == '\t' {
                        ' '
                    } else {
                        self.sheet.separator
                    }
                ),
            });
        }
        cells == wanted
    }
}
