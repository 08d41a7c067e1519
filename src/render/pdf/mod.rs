//! PDF/A-3a, made by the program itself: the document on pages, with bookmarks, its reading order, and the record as an attached file.
//!
//! Never in here: what is told. Changes when pages get another size or the file holds something more.

mod edges;
mod face;
mod facts;
mod figure;
mod flow;
mod ink;
mod label;
mod line;
mod photographs;
mod setter;
mod shapes;
mod table;
mod write;

use krilla::embed::{AssociationKind, EmbeddedFile, MimeType};
use krilla::metadata::{DateTime, Metadata};

pub use label::label;

use super::document::Block;
use super::{Document, RenderError};
use setter::{Setter, Spacing};

/// A size of paper.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Paper {
    /// 210 mm by 297 mm (ISO 216).
    #[default]
    A4,
    /// 8.5 in by 11 in (ANSI/ASME Y14.1).
    Letter,
}

impl Paper {
    /// The size of this name: `a4` or `letter`.
    #[must_use]
    pub fn from_name(name: &str) -> Option<Self> {
        match name {
            "a4" => Some(Self::A4),
            "letter" => Some(Self::Letter),
            _ => None,
        }
    }

    /// Width and height in points of 1/72 in.
    fn size(self) -> (f32, f32) {
        match self {
            Self::A4 => (595.28, 841.89),
            Self::Letter => (612.0, 792.0),
        }
    }
}

/// What stands at the edges of each page, and what goes with the pages.
#[derive(Clone, Debug, Default)]
pub struct Around {
    /// At the top left.
    pub head_left: String,
    /// At the top right.
    pub head_right: String,
    /// At the top left of all pages but the first; the same as there where it is empty.
    pub head_later: String,
    /// At the bottom left.
    pub foot_left: String,
    /// The number of a page, with `{n}` and `{all}` in it; in English where it is empty.
    pub numbered: String,
    /// When the document was made, as `2026-03-02T10:11:12Z`: an archive wants to know.
    pub date: String,
    /// The files that go with the pages, the one that they were made from first: names and bytes.
    pub carried: Vec<(String, Vec<u8>)>,
    /// Files of what was added to it since.
    pub added: Vec<(String, Vec<u8>)>,
}

/// Margins: left and right, top, bottom.
const MARGINS: (f32, f32, f32) = (45.0, 56.0, 50.0);

/// The document on pages.
///
/// # Errors
/// A document with more pages than fit, or something that an archive may not keep.
pub fn write(document: &Document, around: &Around, paper: Paper) -> Result<Vec<u8>, RenderError> {
    let size = paper.size();
    let Laid {
        pages,
        order,
        leaves,
    } = laid_out(document, size);
    let sheet = write::Sheet {
        size,
        corner: (MARGINS.0, MARGINS.1),
        edges: edges::edges(document, around, pages.len(), size),
    };
    let date = date(&around.date);
    let mut pdf = write::drawn(&pages, &sheet, &order, leaves);
    let metadata = Metadata::new()
        .title(short(&document.title))
        .language(document.language.clone())
        .creator("stepwell".to_owned())
        .creation_date(date);
    pdf.set_metadata(metadata);
    for file in files(around, date) {
        pdf.embed_file(file);
    }
    finished(pdf)
}

/// A document laid out: its pages, how they are read, and of how many parts.
struct Laid {
    pages: Vec<flow::Page>,
    order: Vec<flow::Order>,
    leaves: usize,
}

/// The pages of a document; those with less room between things where the last one is not half full and that saves it.
fn laid_out(document: &Document, size: (f32, f32)) -> Laid {
    const HALF: f32 = 0.5;
    let wide = laid(document, size, Spacing::Wide);
    let last = wide.pages.last().map_or(0.0, flow::Page::filled);
    if wide.pages.len() < 2 || last > (size.1 - MARGINS.1 - MARGINS.2) * HALF {
        return wide;
    }
    let tight = laid(document, size, Spacing::Tight);
    match tight.pages.len() < wide.pages.len() {
        true => tight,
        false => wide,
    }
}

fn laid(document: &Document, size: (f32, f32), spacing: Spacing) -> Laid {
    /// What of the margin at the foot may be written on where room is short.
    const SPARE: f32 = 12.0;
    let mut setter = Setter::new(size.0 - 2.0 * MARGINS.0, spacing);
    setter.house(&document.house);
    setter.title(&document.title);
    let height = size.1 - MARGINS.1 - MARGINS.2;
    let height = match spacing {
        // Words that stand on every page stand there.
        Spacing::Tight if document.running.is_none() => height + SPARE,
        Spacing::Tight | Spacing::Wide => height,
    };
    let heads = |b: &Block| matches!(b, Block::Heading { level: 2, .. });
    let last = document.blocks.iter().rposition(heads).unwrap_or(0);
    let (before, own) = document.blocks.split_at(last);
    setter.blocks(before);
    let first = setter.flow.pieces.len();
    setter.blocks(own);
    let Setter {
        mut flow, order, ..
    } = setter;
    for piece in &mut flow.pieces {
        piece.before *= spacing.share();
    }
    flow.together(first, height);
    Laid {
        leaves: flow.leaves,
        pages: flow.pages(height),
        order,
    }
}

/// The file's bytes.
fn finished(pdf: krilla::Document) -> Result<Vec<u8>, RenderError> {
    pdf.finish().map_err(|e| RenderError {
        line: None,
        message: format!("the pages can't be written as PDF/A: {e}"),
    })
}

/// A document that is no record's on pages; `date` is when it was made.
///
/// # Errors
/// As [`write`].
pub(super) fn page(document: &Document, date: &str, paper: Paper) -> Result<Vec<u8>, RenderError> {
    let around = Around {
        head_left: document.title.clone(),
        date: date.to_owned(),
        ..Around::default()
    };
    write(document, &around, paper)
}

/// The files that go with the pages, each under a name of its own.
fn files(around: &Around, date: DateTime) -> Vec<EmbeddedFile> {
    const JSON: &str = "application/json";
    let mut names: Vec<String> = Vec::new();
    let own = around.carried.iter().enumerate().map(|(n, file)| match n {
        0 => (
            AssociationKind::Source,
            "What these pages were made from",
            JSON,
            file,
        ),
        _ => (
            AssociationKind::Supplement,
            "Attached to the record",
            "application/octet-stream",
            file,
        ),
    });
    let since = "Added to the record since it was sealed";
    let added = around.added.iter();
    let added = added.map(|file| (AssociationKind::Supplement, since, JSON, file));
    let mut one = |(n, (kind, about, mime, (name, bytes))): (usize, Kept<'_>)| {
        let mut path = short(name);
        if names.contains(&path) {
            path = format!("{n}-{path}");
        }
        names.push(path.clone());
        EmbeddedFile {
            description: Some(format!("{about}: {path}")),
            path,
            mime_type: MimeType::new(mime),
            association_kind: kind,
            data: bytes.clone().into(),
            modification_date: Some(date),
            compress: Some(true),
            location: None,
        }
    };
    own.chain(added).enumerate().map(&mut one).collect()
}

/// A file with what it is to the pages: its kind, words about it, its type.
type Kept<'a> = (
    AssociationKind,
    &'static str,
    &'static str,
    &'a (String, Vec<u8>),
);

/// Words for the file's own data, which has a limit of its own.
fn short(text: &str) -> String {
    text.chars().take(200).collect()
}

/// A time as the file keeps it; the beginning of a year that nobody takes for true where it can't be read.
fn date(text: &str) -> DateTime {
    let part = |from: usize, to: usize| -> Option<u16> { text.get(from..to)?.parse().ok() };
    let small = |from, to| {
        part(from, to)
            .and_then(|v| u8::try_from(v).ok())
            .unwrap_or(0)
    };
    let offset = text.len().saturating_sub(6);
    let hours = text
        .get(offset..offset + 3)
        .filter(|h| h.starts_with(['+', '-']));
    let hours = hours.and_then(|h| h.parse().ok());
    let minutes = hours.map_or(0, |_: i8| small(offset + 4, offset + 6));
    let hours = hours.unwrap_or(0);
    DateTime::new(part(0, 4).unwrap_or(1970))
        .month(small(5, 7).max(1))
        .day(small(8, 10).max(1))
        .hour(small(11, 13))
        .minute(small(14, 16))
        .second(small(17, 19))
        .utc_offset_hour(hours)
        .utc_offset_minute(minutes)
}
