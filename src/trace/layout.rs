//! How a file is laid out: what separates its cells, which line has the headings, which columns are wanted.
//!
//! Never in here: units and readings. Changes when headings are looked for otherwise.

use super::candidate::{Candidate, Line, Missing, are_readings, lines};
use super::fault::TraceFault;
use super::heading::Heading;
use super::rows::{cells, decoded, headings, is_foreign};
use super::{ColumnChoice, Header, MAX_COLUMNS, MAX_LINE, Mapping, Separator};

/// Lines in which headings are looked for.
const PREAMBLE: usize = 200;
/// Lines among which the likeliest headings are named when none fit.
const LIKELY: usize = 40;
/// Last line that may be stated to have the headings.
const LAST_STATED: usize = 10_000;

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
            let cells = headings(line.bytes, *separator);
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
    without_blanks(&mut full, |(c, _)| c.separator);
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
        ([], None) => Err(missing(&candidates, choices, separators)),
        ([(first, _), ..], _) => Err(vec![several(first.line.number)]),
    }
}

/// Blanks stand in any text: they part cells only where nothing else does.
fn without_blanks<T>(fits: &mut Vec<T>, separator: impl Fn(&T) -> Separator) {
    if fits.iter().any(|f| separator(f) != Separator::Blanks) {
        fits.retain(|f| separator(f) != Separator::Blanks);
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
        "state the separator: comma, semicolon, tab, bar or blanks",
    )
}

/// What is missing from the line that has most of what is wanted.
fn missing(
    candidates: &[Candidate<'_>],
    choices: &[&ColumnChoice],
    separators: &[Separator],
) -> Vec<TraceFault> {
    let likely = candidates
        .iter()
        .filter(|c| c.line.number <= LIKELY || candidates.len() <= separators.len());
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
    let words: Vec<&str> = separators.iter().map(|s| s.word()).collect();
    let with_separators = |mut fault: TraceFault| {
        let help = &mut fault.help;
        *help = format!("{help}; separators looked for: {}", words.join(", "));
        fault
    };
    lacking
        .map(|(choice, why)| match why {
            Missing::NotThere => with_separators(candidate.fault(choice, why)),
            Missing::Twice => candidate.fault(choice, why),
        })
        .collect()
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
    let mut starts: Vec<(Separator, usize)> = separators
        .iter()
        .filter_map(|s| {
            let fits = |l: &Line<'_>| are_readings(&cells(l.bytes, *s), &columns);
            Some((*s, lines.iter().position(fits)?))
        })
        .collect();
    without_blanks(&mut starts, |(s, _)| *s);
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
    let heads = before.map(|l| headings(l.bytes, separator));
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
    let heads = all.last().map(|l| headings(l.bytes, layout.separator));
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
