//! `import`: a spreadsheet into a register, all of it or nothing.
//!
//! Never in here: what cells mean (see the shop room), asking. Changes when an import can be told something more.

use std::path::Path;

use jiff::civil::Date;

use crate::host::Host;
use crate::shop::import::{
    Changes, Column, DateForm, Dates, Encoding, Fault, Kind, MAX_FILE, Register, Sheet, Stored,
    Way, changes, dates_of, entries, read_sheet, read_ways, settle, with_way,
};
use crate::shop::{Paths, read_day};
use crate::text::{Source, counted};

use super::AppError;
use super::open::read_source;
use super::registers::{lock_registers, open_register};

/// The file that keeps how files with known headings are read.
const WAYS: &str = "imports.yaml";

/// What an import is told.
#[derive(Clone, Debug, Default)]
pub struct Told {
    /// How letters are written, where it is said.
    pub encoding: Option<Encoding>,
    /// Columns, as (FIELD, HEADING).
    pub columns: Vec<(String, String)>,
    /// How days are written.
    pub dates: Option<DateForm>,
}

/// A file that is to be imported, with what is known of its columns.
#[derive(Debug)]
pub struct Import {
    /// The register.
    pub register: Register,
    /// The file, taken apart.
    pub sheet: Sheet,
    columns: Vec<Column>,
    dates: Option<DateForm>,
    encoding: Encoding,
    /// Whether something was told that is to be kept.
    told: bool,
}

/// What an import did, or would do.
#[derive(Clone, Debug)]
pub struct Imported {
    /// Rows below the headings.
    pub rows: usize,
    /// What is added and changed.
    pub changes: Changes,
    /// What is wrong, by line.
    pub faults: Vec<Fault>,
    /// How many rows that concerns.
    pub faulty: usize,
    /// What is odd but taken.
    pub notices: Vec<String>,
    /// Columns that nothing was taken from.
    pub passed_over: Vec<String>,
    /// Whether the register was written.
    pub written: bool,
    /// Whether the way of reading was kept for the next time.
    pub kept: bool,
}

/// Reads a file and settles what can be settled without asking.
///
/// # Errors
/// A file that is no CSV text; columns that were told and are not there; those of the system.
pub fn begin_import(
    host: &dyn Host,
    root: &Path,
    register: Register,
    file: &Path,
    told: &Told,
) -> Result<Import, AppError> {
    let bytes = host.read(file, MAX_FILE).map_err(|error| {
        if error.kind() == std::io::ErrorKind::FileTooLarge {
            return AppError::new(format!(
                "{}: the file is larger than 64 MiB; split it",
                file.display()
            ));
        }
        AppError::at(file, &error)
    })?;
    let wrong = |why: String| AppError::new(format!("{}: {why}", file.display()));
    let ways = stored(host, &Paths::at(root))?.0;
    let (sheet, encoding) = sheet_of(bytes, register, told.encoding, &ways).map_err(wrong)?;
    let way = ways.find(register, &sheet.headings);
    let words = way.map(|w| w.columns.as_slice());
    let columns = settle(register, &sheet.headings, &told.columns, words).map_err(wrong)?;
    Ok(Import {
        register,
        columns,
        dates: told.dates.or(way.and_then(|w| w.dates)),
        told: !told.columns.is_empty() || told.dates.is_some() || told.encoding.is_some(),
        encoding,
        sheet,
    })
}

/// Takes a file apart in the encoding that is told, or, where it is no UTF-8, in the one that is kept for its headings.
fn sheet_of(
    bytes: Vec<u8>,
    register: Register,
    told: Option<Encoding>,
    ways: &Stored,
) -> Result<(Sheet, Encoding), String> {
    if let Some(told) = told {
        return read_sheet(bytes, told).map(|sheet| (sheet, told));
    }
    if std::str::from_utf8(&bytes).is_ok() {
        return read_sheet(bytes, Encoding::Utf8).map(|sheet| (sheet, Encoding::Utf8));
    }
    let others = Encoding::ALL
        .into_iter()
        .filter(|e| *e != Encoding::default());
    for encoding in others.filter(|e| ways.ways.iter().any(|w| w.encoding == *e)) {
        if let Ok(sheet) = read_sheet(bytes.clone(), encoding)
            && ways.reads(register, &sheet.headings, encoding)
        {
            return Ok((sheet, encoding));
        }
    }
    let usual = Encoding::default();
    read_sheet(bytes, usual).map(|sheet| (sheet, usual))
}

/// The ways of reading that the shop keeps, with the file's text.
fn stored(host: &dyn Host, paths: &Paths) -> Result<(Stored, Option<Source>), AppError> {
    let path = paths.file(WAYS);
    if !host.exists(&path) {
        return Ok((Stored::default(), None));
    }
    let source = read_source(host, &path)?.map_err(|finding| AppError::Findings(vec![finding]))?;
    let (ways, findings) = read_ways(source.clone());
    if findings.is_empty() {
        Ok((ways, Some(source)))
    } else {
        Err(AppError::Findings(findings))
    }
}

impl Import {
    /// The columns that are not known: index, heading, first value.
    #[must_use]
    pub fn unknown(&self) -> Vec<(usize, String, String)> {
        let those = self
            .columns
            .iter()
            .enumerate()
            .filter(|(_, c)| matches!(c, Column::Unknown));
        those
            .map(|(index, _)| (index, self.sheet.headings[index].clone(), self.first(index)))
            .collect()
    }

    /// The first cell of a column that is not empty.
    fn first(&self, index: usize) -> String {
        let cells = self.sheet.rows.iter().filter_map(|r| r.cells.get(index));
        let mut filled = cells.filter(|c| !c.trim_ascii().is_empty());
        filled
            .next()
            .map(|c| String::from_utf8_lossy(c).trim().to_owned())
            .unwrap_or_default()
    }

    /// The fields that no column is yet.
    #[must_use]
    pub fn open_fields(&self) -> Vec<&'static str> {
        let taken: Vec<&str> = self
            .columns
            .iter()
            .filter_map(|c| c.field().map(|f| f.fills))
            .collect();
        let open = self
            .register
            .fields()
            .iter()
            .filter(|f| !taken.contains(&f.fills));
        open.map(|f| f.name).collect()
    }

    /// Takes what somebody says of a column.
    ///
    /// # Errors
    /// A word that is no field, or one that another column is already.
    pub fn tell_column(&mut self, index: usize, word: &str) -> Result<(), String> {
        let column = Column::from_word(self.register, word)?;
        if let Some(field) = column.field() {
            let same = |c: &Column| c.field().is_some_and(|f| f.fills == field.fills);
            if let Some(other) = self.columns.iter().position(same) {
                return Err(format!(
                    "column {} `{}` is `{}` already",
                    other + 1,
                    self.sheet.headings[other],
                    field.fills
                ));
            }
        }
        self.columns[index] = column;
        self.told = true;
        Ok(())
    }

    /// Takes how days are written.
    pub fn tell_dates(&mut self, form: DateForm) {
        self.dates = Some(form);
        self.told = true;
    }

    /// The forms of days, those first in which most of the file's days can be read.
    #[must_use]
    pub fn date_forms(&self) -> Vec<DateForm> {
        let mut forms = DateForm::ALL.to_vec();
        forms.sort_by_cached_key(|form| {
            let fitting = self.days().filter(|day| form.read(day).is_ok());
            std::cmp::Reverse(fitting.count())
        });
        forms
    }

    /// A day that can be read in more than one way, where nothing says in which.
    #[must_use]
    pub fn open_dates(&self) -> Option<String> {
        let open = self.dates.is_none() && dates_of(self.days()) == Dates::Open;
        let speaking = |text: &&str| dates_of(std::iter::once(*text)) == Dates::Open;
        open.then(|| {
            self.days()
                .find(speaking)
                .or_else(|| self.days().next())
                .unwrap_or_default()
                .to_owned()
        })
    }

    /// The texts of all cells that hold days.
    fn days(&self) -> impl Iterator<Item = &str> {
        let columns = self.columns.iter().enumerate().filter(|(_, c)| {
            c.field()
                .is_some_and(|f| matches!(f.kind, Kind::Day | Kind::Days))
        });
        columns.flat_map(|(index, _)| {
            let cells = self
                .sheet
                .rows
                .iter()
                .filter_map(move |r| r.cells.get(index));
            let texts = cells.filter_map(|c| std::str::from_utf8(c).ok());
            // `RECIPE DAY; RECIPE DAY`, or a day alone.
            texts.flat_map(|t| t.split(';')).map(|part| {
                let part = part.trim();
                let named = part.starts_with(|c: char| c.is_ascii_lowercase());
                part.split_once(' ')
                    .filter(|_| named)
                    .map_or(part, |(_, day)| day)
            })
        })
    }

    fn form(&self) -> DateForm {
        self.dates.unwrap_or_else(|| match dates_of(self.days()) {
            Dates::Sure(form) => form,
            Dates::Any | Dates::Open => DateForm::YearMonthDay,
        })
    }

    /// What would still have to be said before anything can be read.
    fn lacks(&self) -> Option<String> {
        let id = self.register.fields()[0].name;
        if !self
            .columns
            .iter()
            .any(|c| c.field().is_some_and(|f| f.name == id))
        {
            let unknown: Vec<String> = self
                .unknown()
                .into_iter()
                .map(|(_, h, _)| format!("`{h}`"))
                .collect();
            let among = if unknown.is_empty() {
                String::new()
            } else {
                format!(" (not known are {})", unknown.join(", "))
            };
            return Some(format!(
                "no column is the `{id}`{among}; say which with `--column {id}=HEADING`"
            ));
        }
        self.open_dates().map(|day| {
            format!("days such as `{day}` can be read in more than one way; say which with `--dates day-month-year`, `month-day-year` or `year-month-day`")
        })
    }

    fn way(&self) -> Way {
        Way {
            register: self.register,
            headings: self.sheet.headings.clone(),
            columns: self.columns.iter().map(|c| c.word().to_owned()).collect(),
            dates: self.dates,
            encoding: self.encoding,
        }
    }
}

/// Imports: with faulty rows nothing is written, unless they are to be left out; what is written is written at once. What
/// was told of the file is kept in any case: nobody is asked twice.
///
/// # Errors
/// Columns or days of which too little is known; a register that would not be right; those of the system.
pub fn import(
    host: &dyn Host,
    root: &Path,
    import: &Import,
    dry_run: bool,
    leave_out_faulty: bool,
) -> Result<Imported, AppError> {
    if let Some(lacks) = import.lacks() {
        return Err(AppError::new(format!("nothing was imported: {lacks}")));
    }
    let paths = Paths::at(root);
    let _lock = if dry_run && !import.told {
        None
    } else {
        Some(lock_registers(host, &paths)?)
    };
    let open = open_register(host, &paths, import.register)?;
    let today = read_day(&host.today()).map_err(|e| AppError::new(e.message))?;
    let mut imported = compared(import, &open.entries, today);
    if import.told {
        imported.kept = keep(host, &paths, import)?;
    }
    if dry_run || (!imported.faults.is_empty() && !leave_out_faulty) {
        return Ok(imported);
    }
    if !imported.changes.list.is_empty() {
        open.write(host, &imported.changes.list)?;
        imported.written = true;
    }
    Ok(imported)
}

fn compared(import: &Import, known: &[crate::shop::import::Known], today: Date) -> Imported {
    let checked = entries(
        import.register,
        &import.sheet,
        &import.columns,
        import.form(),
        today,
    );
    let mut changes = changes(import.register, &checked.entries, known);
    let mut faults = checked.faults;
    faults.append(&mut changes.faults);
    faults.sort_by_key(|f| f.line);
    let mut lines: Vec<usize> = faults.iter().map(|f| f.line).collect();
    lines.dedup();
    let told = checked.notices.into_iter();
    let told = told.map(|(text, rows)| format!("{text} ({})", counted(rows, "row")));
    let notices = told.chain(changes.notices.drain(..)).collect();
    Imported {
        rows: import.sheet.rows.len(),
        faulty: lines.len(),
        faults,
        notices,
        passed_over: import
            .unknown()
            .into_iter()
            .map(|(_, heading, _)| heading)
            .collect(),
        changes,
        written: false,
        kept: false,
    }
}

/// Keeps the way of reading, if it is not kept already; what nobody said anything of is asked the next time too.
fn keep(host: &dyn Host, paths: &Paths, import: &Import) -> Result<bool, AppError> {
    let (ways, source) = stored(host, paths)?;
    let way = import.way();
    if ways.find(way.register, &way.headings) == Some(&way) {
        return Ok(false);
    }
    let path = paths.file(WAYS);
    let text = with_way(source.as_ref().map(|s| &*s.text), &way);
    let (again, findings) = read_ways(Source::new(&path.display().to_string(), &text));
    if !findings.is_empty() || again.find(way.register, &way.headings) != Some(&way) {
        return Err(AppError::new(format!(
            "{}: nothing was written: the file is written in a form that can't be added to; make it a list under `imports:`, one entry below the other",
            path.display()
        )));
    }
    host.write(&path, text.as_bytes())
        .map_err(|e| AppError::at(&path, &e))?;
    Ok(true)
}
