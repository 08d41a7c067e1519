//! How a file is laid out: what separates its cells, which line has the headings, which columns are wanted.
//!
//! Never in here: units and readings. Changes when headings are looked for otherwise.

use super::fault::{TraceFault, quoted};
use super::heading::Heading;
use super::rows::{cells, decoded, is_foreign};
use super::{ColumnChoice, Header, MAX_COLUMNS, MAX_LINE, Mapping, Separator};

/// Lines in which headings are looked for.
const PREAMBLE: usize = 200;
/// Lines among which the likeliest headings are named when none fit.
const LIKELY: usize = 40;
/// Last line that may be stated to have the headings.
const LAST_STATED: usize = 10_000;
/// Longest cell that is compared with a missing heading.
const COMPARED: usize = 80;

/// Where everything is.
#[derive(Debug)]
pub(super) struct Layout {
    /// What separates cells.
    pub separator: Separator,
    /// The headings; none where the file has none.
    pub headings: Vec<Heading>,
    /// The line that has them, from 1; zero where there is none.
    pub line: usize,
    /// The byte at which readings begin.
    pub from: usize,
    /// The columns wanted, from 0: the times, then the others in the order of the mapping.
    pub columns: Vec<usize>,
}

/// One line of the beginning of a file.
struct Line<'a> {
    number: usize,
    bytes: &'a [u8],
    start: usize,
    end: usize,
}

/// The first lines from a byte on, at most so many, and whether a line over the limit ended them.
fn lines(bytes: &[u8], from: usize, most: usize) -> (Vec<Line<'_>>, bool) {
    let mut found: Vec<Line<'_>> = Vec::new();
    let mut start = from;
    while start < bytes.len() && found.len() < most {
        let rest = &bytes[start..bytes.len().min(start + MAX_LINE + 2)];
        let length = rest.iter().position(|b| matches!(b, b'\n' | b'\r'));
        if length.unwrap_or(rest.len()) > MAX_LINE {
            return (found, true);
        }
        let length = length.unwrap_or(rest.len());
        let ending =
            usize::from(length < rest.len()) + usize::from(rest[length..].starts_with(b"\r\n"));
        found.push(Line {
            number: found.len() + 1,
            bytes: &rest[..length],
            start,
            end: start + length + ending,
        });
        start += length + ending;
    }
    (found, false)
}

/// A line taken apart with one separator.
struct Candidate<'a> {
    separator: Separator,
    line: &'a Line<'a>,
    /// The line behind it that is not blank.
    next: Option<&'a Line<'a>>,
    cells: Vec<Vec<u8>>,
}

impl Candidate<'_> {
    /// Which of the columns wanted is where.
    fn columns(&self, choices: &[&ColumnChoice]) -> Option<Vec<usize>> {
        choices.iter().map(|c| self.column(c).ok()).collect()
    }

    fn column(&self, choice: &ColumnChoice) -> Result<usize, Missing> {
        let name = match choice {
            ColumnChoice::Number(n) if (1..=self.cells.len()).contains(n) => return Ok(n - 1),
            ColumnChoice::Number(_) => return Err(Missing::NotThere),
            ColumnChoice::Heading(name) => name,
        };
        let folded = name.trim().to_lowercase();
        let rank = |cell: &Vec<u8>| {
            let text = decoded(cell);
            // A heading begins with its name; only then its unit is worth reading.
            let begins = text.to_lowercase().starts_with(&folded);
            begins.then(|| Heading::new(&text).answers(name)).flatten()
        };
        let ranked = self.cells.iter().enumerate();
        let mut fits: Vec<(u8, usize)> = ranked
            .filter_map(|(index, cell)| Some((rank(cell)?, index)))
            .collect();
        fits.sort_unstable();
        match &fits[..] {
            [] => Err(Missing::NotThere),
            [(first, _), (second, _), ..] if first == second => Err(Missing::Twice),
            [(_, index), ..] => Ok(*index),
        }
    }

    /// Whether the cells of these columns look like readings, in the line behind it.
    fn is_followed(&self, columns: &[usize]) -> bool {
        let next = self.next.map(|l| cells(l.bytes, self.separator.byte()));
        next.is_some_and(|cells| are_readings(&cells, columns))
    }

    fn likeness(&self, choices: &[&ColumnChoice]) -> (usize, f64) {
        let found = choices.iter().filter(|c| self.column(c).is_ok()).count();
        let near = choices.iter().filter_map(|c| match c {
            ColumnChoice::Heading(name) => self.nearest(name).map(|n| n.0),
            ColumnChoice::Number(_) => None,
        });
        (found, near.sum())
    }

    /// The heading that is most like a name, and how much.
    fn nearest(&self, name: &str) -> Option<(f64, String)> {
        let short = self
            .cells
            .iter()
            .filter(|c| (1..=COMPARED).contains(&c.len()));
        let like = short.map(|c| {
            let text = decoded(c).into_owned();
            let score = strsim::jaro_winkler(&name.to_lowercase(), &text.to_lowercase());
            (score, text)
        });
        like.max_by(|a, b| a.0.total_cmp(&b.0))
    }
}

/// Why a column is not found.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Missing {
    NotThere,
    Twice,
}

fn are_readings(cells: &[Vec<u8>], columns: &[usize]) -> bool {
    let reading = |cell: &Vec<u8>| {
        cell.iter().any(u8::is_ascii_digit)
            && cell
                .iter()
                .all(|b| b.is_ascii_digit() || b"+-.,: TZEet".contains(b))
    };
    columns.iter().all(|c| cells.get(*c).is_some_and(reading))
}

/// Finds the layout of a file that begins, behind a byte order mark, at byte `from`.
pub(super) fn find(
    bytes: &[u8],
    from: usize,
    mapping: &Mapping,
) -> Result<Layout, Vec<TraceFault>> {
    let choices: Vec<&ColumnChoice> = std::iter::once(&mapping.time.column)
        .chain(mapping.columns.iter().map(|c| &c.column))
        .collect();
    let by_name = choices
        .iter()
        .any(|c| matches!(c, ColumnChoice::Heading(_)));
    let most = match mapping.header {
        Header::Line(n) => n.min(LAST_STATED) + PREAMBLE,
        Header::Find | Header::None => PREAMBLE,
    };
    let (lines, is_cut) = lines(bytes, from, most);
    let separators = separators(mapping, &lines);
    let found = match mapping.header {
        Header::None if by_name => Err(vec![TraceFault::of_file(
            "columns are chosen by heading, but the mapping says that there are no headings",
            "choose the columns by number, from 1",
        )]),
        Header::Line(n) => match n
            .checked_sub(1)
            .filter(|i| *i < lines.len().min(LAST_STATED))
        {
            Some(index) => by_heading(&lines[index..], 1, &separators, &choices),
            None => Err(vec![TraceFault::of_file(
                &format!("there is no line {n} to take headings from"),
                "lines count from 1, blank ones too, up to 10,000",
            )]),
        },
        Header::Find if by_name => by_heading(&lines, lines.len(), &separators, &choices),
        Header::Find | Header::None => by_number(&lines, &separators, &choices, mapping.header),
    };
    match found {
        Err(_) if is_cut => Err(vec![too_long(lines.len() + 1)]),
        Err(faults) => Err(faults),
        Ok(layout) => check_signs(bytes, &layout).map(|()| layout),
    }
}

/// A row over the limit.
pub(super) fn too_long(row: usize) -> TraceFault {
    let message = format!("a row longer than {} KiB", MAX_LINE / 1024);
    TraceFault::new(row, 0, message, "see that quotation marks are closed")
}

/// The separators that may be: the one stated, the one that the file states in a first line `sep=;`, or any.
fn separators(mapping: &Mapping, lines: &[Line<'_>]) -> Vec<Separator> {
    if let Some(stated) = mapping.separator {
        return vec![stated];
    }
    let told = lines
        .first()
        .and_then(|l| match l.bytes.strip_prefix(b"sep=") {
            Some([byte]) => Separator::ALL.into_iter().find(|s| s.byte() == *byte),
            _ => None,
        });
    told.map_or(Separator::ALL.to_vec(), |s| vec![s])
}

fn behind<'a>(lines: &'a [Line<'a>], index: usize) -> Option<&'a Line<'a>> {
    let mut rest = lines[index + 1..].iter();
    rest.find(|l| !l.bytes.trim_ascii().is_empty())
}

/// Looks for the headings in the first `tried` lines.
fn by_heading(
    lines: &[Line<'_>],
    tried: usize,
    separators: &[Separator],
    choices: &[&ColumnChoice],
) -> Result<Layout, Vec<TraceFault>> {
    let mut wide = None;
    let mut candidates = Vec::new();
    for separator in separators {
        for (index, line) in lines.iter().enumerate().take(tried) {
            let cells = cells(line.bytes, separator.byte());
            if cells.len() > MAX_COLUMNS {
                wide.get_or_insert(line.number);
                continue;
            }
            candidates.push(Candidate {
                separator: *separator,
                line,
                next: behind(lines, index),
                cells,
            });
        }
    }
    let mut full: Vec<(&Candidate<'_>, Vec<usize>)> = Vec::new();
    for candidate in &candidates {
        let first = !full.iter().any(|(c, _)| c.separator == candidate.separator);
        if let Some(columns) = first.then(|| candidate.columns(choices)).flatten() {
            full.push((candidate, columns));
        }
    }
    if full.len() > 1 {
        let followed = |(c, columns): &(&Candidate<'_>, Vec<usize>)| c.is_followed(columns);
        if full.iter().filter(|f| followed(f)).count() == 1 {
            full.retain(followed);
        }
    }
    match (&full[..], wide) {
        ([(candidate, columns)], _) => Ok(Layout {
            separator: candidate.separator,
            headings: candidate
                .cells
                .iter()
                .map(|c| Heading::new(&decoded(c)))
                .collect(),
            line: candidate.line.number,
            from: candidate.line.end,
            columns: columns.clone(),
        }),
        ([], Some(row)) => Err(vec![too_wide(row)]),
        ([], None) => Err(missing(&candidates, choices)),
        ([(first, _), ..], _) => Err(vec![several(first.line.number)]),
    }
}

fn too_wide(row: usize) -> TraceFault {
    TraceFault::new(
        row,
        0,
        format!("more than {MAX_COLUMNS} columns"),
        "export fewer columns",
    )
}

fn several(row: usize) -> TraceFault {
    TraceFault::new(
        row,
        0,
        "more than one separator would fit".to_owned(),
        "state the separator: comma, semicolon or tab",
    )
}

/// What is missing from the line that has most of what is wanted.
fn missing(candidates: &[Candidate<'_>], choices: &[&ColumnChoice]) -> Vec<TraceFault> {
    let likely = candidates
        .iter()
        .filter(|c| c.line.number <= LIKELY || candidates.len() <= 3);
    let mut best: Option<(&Candidate<'_>, (usize, f64))> = None;
    for candidate in likely {
        let likeness = candidate.likeness(choices);
        if best.as_ref().is_none_or(|(_, b)| likeness > *b) {
            best = Some((candidate, likeness));
        }
    }
    let Some((candidate, _)) = best else {
        return vec![TraceFault::of_file(
            "there are no headings",
            "see that the file is the log, as text with one row a line",
        )];
    };
    let lacking = choices
        .iter()
        .filter_map(|c| Some((*c, candidate.column(c).err()?)));
    lacking
        .map(|(choice, why)| candidate.fault(choice, why))
        .collect()
}

impl Candidate<'_> {
    fn fault(&self, choice: &ColumnChoice, why: Missing) -> TraceFault {
        let row = self.line.number;
        let name = match choice {
            ColumnChoice::Number(n) => {
                let message = format!("there is no column {n}, the row has {}", self.cells.len());
                return TraceFault::new(row, 0, message, "columns count from 1");
            }
            ColumnChoice::Heading(name) => quoted(name),
        };
        if why == Missing::Twice {
            let message = format!("more than one heading fits {name}");
            let help = "choose the column by its number, or by the whole heading";
            return TraceFault::new(row, 0, message, help);
        }
        let nearest = match choice {
            ColumnChoice::Heading(name) => self.nearest(name),
            ColumnChoice::Number(_) => None,
        };
        let help = match nearest {
            Some((_, near)) => format!("the nearest heading is {}", quoted(&near)),
            None => "state the line of the headings: `header: 12`".to_owned(),
        };
        TraceFault::new(row, 0, format!("there is no column {name}"), &help)
    }
}

/// Looks for the first readings; the headings are in the line before, if there are any.
fn by_number(
    lines: &[Line<'_>],
    separators: &[Separator],
    choices: &[&ColumnChoice],
    header: Header,
) -> Result<Layout, Vec<TraceFault>> {
    let number = |c: &&ColumnChoice| match c {
        ColumnChoice::Number(n) => *n,
        ColumnChoice::Heading(_) => 0,
    };
    let numbers: Vec<usize> = choices.iter().map(number).collect();
    if numbers.contains(&0) {
        let help = "columns count from 1";
        return Err(vec![TraceFault::of_file("there is no column 0", help)]);
    }
    let columns: Vec<usize> = numbers.iter().map(|n| n - 1).collect();
    let starts: Vec<(Separator, usize)> = separators
        .iter()
        .filter_map(|s| {
            let fits = |l: &Line<'_>| are_readings(&cells(l.bytes, s.byte()), &columns);
            Some((*s, lines.iter().position(fits)?))
        })
        .collect();
    let (separator, start) = match starts[..] {
        [one] => one,
        [(_, first), ..] => return Err(vec![several(lines[first].number)]),
        [] => {
            let most = numbers.iter().max().copied().unwrap_or(0);
            return Err(vec![TraceFault::of_file(
                &format!(
                    "no row among the first {PREAMBLE} has readings in the columns wanted, up to column {most}"
                ),
                "see the numbers of the columns, from 1, or state the line of the headings: `header: 12`",
            )]);
        }
    };
    let before = lines[..start]
        .iter()
        .rfind(|l| !l.bytes.trim_ascii().is_empty() && header == Header::Find);
    let heads = before.map(|l| cells(l.bytes, separator.byte()));
    let heads = heads.filter(|h| h.len() > columns.iter().copied().max().unwrap_or(0));
    if heads.as_ref().is_some_and(|h| h.len() > MAX_COLUMNS) {
        return Err(vec![too_wide(lines[start].number)]);
    }
    Ok(Layout {
        separator,
        line: before.filter(|_| heads.is_some()).map_or(0, |l| l.number),
        headings: heads
            .unwrap_or_default()
            .iter()
            .map(|c| Heading::new(&decoded(c)))
            .collect(),
        from: lines[start].start,
        columns,
    })
}

/// Refuses headings in another encoding, since their units can't be trusted.
fn check_signs(bytes: &[u8], layout: &Layout) -> Result<(), Vec<TraceFault>> {
    let Some(line) = layout.line.checked_sub(1) else {
        return Ok(());
    };
    let begin = usize::from(bytes.starts_with(b"\xEF\xBB\xBF")) * 3;
    let (all, _) = lines(bytes, begin, line + 1);
    let heads = all.last().map(|l| cells(l.bytes, layout.separator.byte()));
    let fault = |column: &usize| {
        let cell = heads.as_ref()?.get(*column)?;
        is_foreign(cell).then(|| not_utf8(layout.line, *column))
    };
    let faults: Vec<TraceFault> = layout.columns.iter().filter_map(fault).collect();
    if faults.is_empty() {
        Ok(())
    } else {
        Err(faults)
    }
}

/// A cell in another encoding.
pub(super) fn not_utf8(row: usize, column: usize) -> TraceFault {
    TraceFault::new(
        row,
        column + 1,
        "not UTF-8".to_owned(),
        "save the file as UTF-8; of Latin-1 only `°`, `µ`, `²` and `³` are taken",
    )
}
