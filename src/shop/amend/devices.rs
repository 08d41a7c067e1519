//! Changing `devices.csv`: rows that are not concerned keep their bytes.
//!
//! Never in here: which changes. Changes when the register of devices is written otherwise.

use std::collections::HashMap;

use crate::shop::devices::{Table, cell, table};
use crate::shop::import::Change;
use crate::shop::rows::{Row, written};

use super::Amended;

/// The headings of columns that a register lacks, by field.
fn heading(field: &str) -> &str {
    match field {
        "last-done" => "last_done",
        other => other,
    }
}

/// The register with some devices changed and others added at its end.
///
/// # Errors
/// A register without headings.
pub fn amend_devices(text: &str, changes: &[Change]) -> Amended {
    let table = table(text);
    let Some(head) = &table.head else {
        let opening = "tag,serial,maker,model,category,location,interval,last_done\n";
        return if text.trim().is_empty() {
            amend_devices(opening, changes)
        } else {
            Err("the register has no headings".to_owned())
        };
    };
    let missing = missing(&table, changes);
    let editor = Editor {
        text,
        columns: columns(&table, head.cells.len(), &missing),
        separator: char::from(table.separator),
        width: head.cells.len() + missing.len(),
        more: missing.len(),
        line_end: if text.contains("\r\n") { "\r\n" } else { "\n" },
    };
    Ok(editor.write(head, &missing, &table.rows, changes))
}

/// The fields that are to be written and have no column.
fn missing(table: &Table, changes: &[Change]) -> Vec<&'static str> {
    let mut missing = Vec::new();
    for field in changes.iter().flat_map(|c| &c.fields).map(|f| f.field) {
        let has = table
            .columns
            .iter()
            .any(|(name, at)| *name == field && at.is_some());
        if !has && !missing.contains(&field) {
            missing.push(field);
        }
    }
    missing
}

fn columns(table: &Table, width: usize, missing: &[&'static str]) -> HashMap<&'static str, usize> {
    let there = table
        .columns
        .iter()
        .filter_map(|(name, at)| Some((*name, (*at)?)));
    let new = missing
        .iter()
        .enumerate()
        .map(|(i, name)| (*name, width + i));
    there.chain(new).collect()
}

struct Editor<'a> {
    text: &'a str,
    columns: HashMap<&'static str, usize>,
    separator: char,
    /// Cells of a row, those of new columns too.
    width: usize,
    /// New columns.
    more: usize,
    line_end: &'a str,
}

impl Editor<'_> {
    fn write(&self, head: &Row, missing: &[&str], rows: &[Row], changes: &[Change]) -> String {
        let by_id: HashMap<&str, &Change> = changes
            .iter()
            .filter(|c| !c.added)
            .map(|c| (c.id.as_str(), c))
            .collect();
        let tag = self.columns.get("tag").copied();
        let mut out = String::with_capacity(self.text.len() + 80 * changes.len());
        out.push_str(&self.text[..head.end]);
        for field in missing {
            out.push(self.separator);
            out.push_str(heading(field));
        }
        let mut at = head.end;
        for row in rows {
            out.push_str(&self.text[at..row.start]);
            match by_id.get(cell(row, tag).as_str()) {
                Some(change) if !row.is_blank() => out.push_str(&self.changed(row, change)),
                _ => {
                    out.push_str(&self.text[row.start..row.end]);
                    if !row.is_blank() {
                        out.extend(std::iter::repeat_n(self.separator, self.more));
                    }
                }
            }
            at = row.end;
        }
        out.push_str(&self.text[at..]);
        for change in changes.iter().filter(|c| c.added) {
            if !out.ends_with(['\n', '\r']) {
                out.push_str(self.line_end);
            }
            let empty = vec![String::new(); self.width];
            out.push_str(&self.row(empty, change, tag));
            out.push_str(self.line_end);
        }
        out
    }

    fn changed(&self, row: &Row, change: &Change) -> String {
        let text = |c: &Vec<u8>| String::from_utf8_lossy(c).into_owned();
        let mut cells: Vec<String> = row.cells.iter().map(text).collect();
        cells.resize(self.width.max(cells.len()), String::new());
        self.row(cells, change, None)
    }

    fn row(&self, mut cells: Vec<String>, change: &Change, tag: Option<usize>) -> String {
        if let Some(tag) = tag {
            cells[tag].clone_from(&change.id);
        }
        for field in &change.fields {
            if let Some(at) = self.columns.get(field.field) {
                cells[*at].clone_from(&field.new);
            }
        }
        let quoted: Vec<String> = cells.iter().map(|c| written(c, self.separator)).collect();
        quoted.join(&self.separator.to_string())
    }
}
