//! Pages written as PDF/A-3a: letters, shapes, pictures, bookmarks, reading order, the attached file.
//!
//! Never in here: where things lie. Changes when the file holds something more.

use std::num::{NonZeroU16, NonZeroU32};

use krilla::Document as Pdf;
use krilla::SerializeSettings;
use krilla::configure::{Accessibility, Archival, ConfigurationBuilder};
use krilla::destination::XyzDestination;
use krilla::geom::{PathBuilder, Point, Size, Transform};
use krilla::num::NormalizedF32;
use krilla::outline::{Outline, OutlineNode};
use krilla::page::PageSettings;
use krilla::paint::{Fill as Filled, LineJoin, Stroke, StrokeDash};
use krilla::surface::Surface;
use krilla::tagging::{
    Artifact, ArtifactType, ContentTag, Identifier, ListNumbering, Node, SpanTag, TableHeaderScope,
    Tag, TagGroup, TagTree,
};

use super::super::plot::sketch::{Fill, Move, Path};
use super::edges::Edge;
use super::flow::{Order, Page, Placed, Role, Thing};
use super::ink::Ink;
use super::line::{Line, Look, Part};
use super::shapes;
use super::short;

/// What is drawn besides the pages' own things: decoration of every page.
pub(super) struct Sheet {
    /// Width and height, in points.
    pub size: (f32, f32),
    /// Left end and top of what pages hold.
    pub corner: (f32, f32),
    /// The head and foot of each page.
    pub edges: Vec<Vec<Edge>>,
}

/// The pages in a file that archives may keep. `tags` is the reading order, which has so many leaves.
pub(super) fn drawn(pages: &[Page], sheet: &Sheet, order: &[Order], leaves: usize) -> Pdf {
    let configuration = ConfigurationBuilder::new()
        .with_archival_validator(Archival::A3_A)
        .with_accessibility_validator(Accessibility::UA1)
        .finish()
        .expect("PDF/A-3a and PDF/UA-1 have a version in common");
    let mut pdf = Pdf::new_with(SerializeSettings {
        configuration,
        ..SerializeSettings::default()
    });
    let mut tagged = vec![Vec::new(); leaves];
    let (width, height) = sheet.size;
    for (n, page) in pages.iter().enumerate() {
        let settings = PageSettings::from_wh(width, height).expect("paper has a size");
        let mut out = pdf.start_page_with(settings);
        let mut surface = out.surface();
        edges(&mut surface, &sheet.edges[n]);
        for (y, piece) in &page.pieces {
            let corner = (sheet.corner.0, sheet.corner.1 + y);
            things(&mut surface, &piece.things, corner, &mut tagged);
        }
        surface.finish();
        out.finish();
    }
    pdf.set_outline(outline(pages, sheet));
    let mut tree = TagTree::new();
    for part in order {
        tree.push(node(part, &mut tagged));
    }
    pdf.set_tag_tree(tree);
    pdf
}

/// The head and foot of a page.
fn edges(surface: &mut Surface<'_>, lines: &[Edge]) {
    for (x, y, line) in lines {
        surface.start_tagged(artifact(ArtifactType::Header));
        self::line(surface, (*x, *y), line);
        surface.end_tagged();
    }
}

fn artifact(kind: ArtifactType) -> ContentTag<'static> {
    ContentTag::Artifact(Artifact::with_kind(kind))
}

/// The things of a piece; what belongs together is marked as one.
fn things(
    surface: &mut Surface<'_>,
    placed: &[Placed],
    corner: (f32, f32),
    tagged: &mut [Vec<Identifier>],
) {
    for group in placed.chunk_by(|a, b| a.leaf == b.leaf) {
        let tag = match group[0] {
            Placed { leaf: None, .. } => artifact(ArtifactType::Layout),
            Placed {
                thing: Thing::Line { .. },
                ..
            } => ContentTag::Span(SpanTag::empty()),
            _ => ContentTag::Other,
        };
        let id = surface.start_tagged(tag);
        for one in group {
            thing(surface, &one.thing, corner);
        }
        surface.end_tagged();
        if let Some(leaf) = group[0].leaf {
            tagged[leaf.0].push(id);
        }
    }
}

fn thing(surface: &mut Surface<'_>, thing: &Thing, (left, top): (f32, f32)) {
    match thing {
        Thing::Line { x, y, line } => self::line(surface, (left + x, top + y), line),
        Thing::Path {
            x,
            y,
            scale,
            path,
            ink,
        } => self::path(surface, path, (left + x, top + y), *scale, *ink),
        Thing::Picture {
            x,
            size,
            turned,
            image,
        } => {
            surface.push_transform(&Transform::from_translate(left + x, top));
            surface.push_transform(&turn(*turned, *size));
            surface.draw_image(image.clone(), Size::from_wh(1.0, 1.0).expect("a square"));
            surface.pop();
            surface.pop();
        }
    }
}

/// The square of 1 onto a picture's place, turned and mirrored as cameras say it (Exif 2.3, tag 0x0112; from memory).
fn turn(turned: u8, (w, h): (f32, f32)) -> Transform {
    // Where the corner goes, and what the square's edges to the right and downwards become.
    let (corner, right, down) = match turned {
        2 => ((w, 0.0), (-w, 0.0), (0.0, h)),
        3 => ((w, h), (-w, 0.0), (0.0, -h)),
        4 => ((0.0, h), (w, 0.0), (0.0, -h)),
        5 => ((0.0, 0.0), (0.0, h), (w, 0.0)),
        6 => ((w, 0.0), (0.0, h), (-w, 0.0)),
        7 => ((w, h), (0.0, -h), (-w, 0.0)),
        8 => ((0.0, h), (0.0, -h), (w, 0.0)),
        _ => ((0.0, 0.0), (w, 0.0), (0.0, h)),
    };
    Transform::from_row(right.0, right.1, down.0, down.1, corner.0, corner.1)
}

fn line(surface: &mut Surface<'_>, (x, y): (f32, f32), line: &Line) {
    for (at, part) in &line.parts {
        match part {
            Part::Words(look, text) => words(surface, (x + at, y), *look, text),
            Part::Shape(look, shape) => {
                let scale = look.size / shapes::MARK as f32;
                let top = y - look.size * 0.86;
                for path in shapes::mark(*shape) {
                    self::path(surface, &path, (x + at, top), scale, look.ink);
                }
            }
        }
    }
}

/// Words, in the order in which they stand on paper.
fn words(surface: &mut Surface<'_>, (x, y): (f32, f32), look: Look, text: &str) {
    surface.set_stroke(None);
    surface.set_fill(Some(filled(look.ink, 1.0)));
    let mut at = x;
    for (part, to_the_left) in visual(text) {
        let glyphs = look.face.shape(part, to_the_left);
        let width: f32 = glyphs.iter().map(|g| g.x_advance * look.size).sum();
        let start = Point::from_xy(at, y);
        surface.draw_glyphs(start, &glyphs, look.face.font(), part, look.size, false);
        at += width;
    }
}

/// The parts of a text from left to right on paper, and whether one is written to the left.
fn visual(text: &str) -> Vec<(&str, bool)> {
    // Below Hebrew nothing is written to the left.
    if text.chars().all(|c| c < '\u{590}') {
        return vec![(text, false)];
    }
    let info = unicode_bidi::BidiInfo::new(text, Some(unicode_bidi::Level::ltr()));
    let Some(paragraph) = info.paragraphs.first() else {
        return Vec::new();
    };
    let (levels, runs) = info.visual_runs(paragraph, paragraph.range.clone());
    let part = |run: std::ops::Range<usize>| (&text[run.clone()], levels[run.start].is_rtl());
    runs.into_iter().map(part).collect()
}

fn filled(ink: Ink, share: f64) -> Filled {
    Filled {
        paint: ink.color().into(),
        opacity: NormalizedF32::new(share as f32).unwrap_or(NormalizedF32::ONE),
        ..Filled::default()
    }
}

fn path(surface: &mut Surface<'_>, path: &Path, at: (f32, f32), scale: f32, ink: Ink) {
    let Some(way) = way(&path.moves, at, scale) else {
        return;
    };
    let stroke = (path.width > 0.0).then(|| Stroke {
        paint: ink.color().into(),
        width: path.width as f32 * scale,
        line_join: LineJoin::Round,
        opacity: NormalizedF32::new(path.opacity as f32).unwrap_or(NormalizedF32::ONE),
        dash: (!path.dashes.is_empty()).then(|| StrokeDash {
            array: path.dashes.iter().map(|d| *d as f32 * scale).collect(),
            offset: 0.0,
        }),
        ..Stroke::default()
    });
    surface.set_stroke(stroke);
    surface.set_fill(match path.fill {
        Fill::None => None,
        Fill::Paper => Some(filled(Ink::Paper, 1.0)),
        Fill::Ink(share) => Some(filled(ink, share)),
    });
    surface.draw_path(&way);
}

/// Share of the radius by which the handles of a quarter of a circle lie off (a common approximation by cubic curves).
const QUARTER: f32 = 0.552_284_8;

fn way(moves: &[Move], (left, top): (f32, f32), scale: f32) -> Option<krilla::geom::Path> {
    let mut out = PathBuilder::new();
    let x = |v: f64| left + v as f32 * scale;
    let y = |v: f64| top + v as f32 * scale;
    for step in moves {
        match *step {
            Move::To(a, b) => out.move_to(x(a), y(b)),
            Move::Line(a, b) => out.line_to(x(a), y(b)),
            Move::Close => out.close(),
            Move::Circle(a, b, r) => {
                let (cx, cy, r) = (x(a), y(b), r as f32 * scale);
                let h = r * QUARTER;
                out.move_to(cx + r, cy);
                out.cubic_to(cx + r, cy + h, cx + h, cy + r, cx, cy + r);
                out.cubic_to(cx - h, cy + r, cx - r, cy + h, cx - r, cy);
                out.cubic_to(cx - r, cy - h, cx - h, cy - r, cx, cy - r);
                out.cubic_to(cx + h, cy - r, cx + r, cy - h, cx + r, cy);
                out.close();
            }
        }
    }
    out.finish()
}

/// Bookmarks: headings of level 2, with those below them.
fn outline(pages: &[Page], sheet: &Sheet) -> Outline {
    let mut outline = Outline::new();
    let mut open: Option<OutlineNode> = None;
    for (n, page) in pages.iter().enumerate() {
        for (y, piece) in &page.pieces {
            let Some((level, text)) = &piece.heading else {
                continue;
            };
            let to = Point::from_xy(sheet.corner.0, sheet.corner.1 + y);
            let node = OutlineNode::new(short(text), XyzDestination::new(n, to));
            match open.as_mut() {
                Some(parent) if *level > 2 => parent.push_child(node),
                _ => {
                    if let Some(done) = open.replace(node) {
                        outline.push_child(done);
                    }
                }
            }
        }
    }
    if let Some(last) = open {
        outline.push_child(last);
    }
    outline
}

fn node(order: &Order, tagged: &mut [Vec<Identifier>]) -> Node {
    let (role, below) = match order {
        Order::Branch(role, below) => (role, below.as_slice()),
        // A leaf that stands alone.
        Order::Leaf(_) => (&Role::Division, std::slice::from_ref(order)),
    };
    let mut group = group(role);
    for part in below {
        match part {
            Order::Leaf(leaf) => {
                for id in tagged[leaf.0].drain(..) {
                    group.push(id);
                }
            }
            Order::Branch(..) => group.push(node(part, tagged)),
        }
    }
    group.into()
}

/// Most characters of a string of the file: with two times two bytes each they are fewer than the 32767 bytes that PDF/A allows
/// (ISO 19005-3:2012, 6.1.13, from memory).
const LONGEST: usize = 8_000;

/// What a figure shows, as far as a string of the file holds it; its table stands below it in full.
fn whole(shows: &str) -> String {
    shows.chars().take(LONGEST).collect()
}

fn group(role: &Role) -> TagGroup {
    match role {
        Role::Division => TagGroup::new(Tag::Div),
        Role::Heading(level, words) => {
            let level = NonZeroU16::new(u16::from(*level)).unwrap_or(NonZeroU16::MIN);
            TagGroup::new(Tag::Hn(level, Some(short(words))))
        }
        Role::Paragraph => TagGroup::new(Tag::P),
        Role::List => TagGroup::new(Tag::L(ListNumbering::None)),
        Role::ListItem => TagGroup::new(Tag::LI),
        Role::Label => TagGroup::new(Tag::Lbl),
        Role::Body => TagGroup::new(Tag::LBody),
        Role::Table => TagGroup::new(Tag::Table),
        Role::TableHead => TagGroup::new(Tag::THead),
        Role::TableBody => TagGroup::new(Tag::TBody),
        Role::Row => TagGroup::new(Tag::TR),
        Role::ColumnHeader => TagGroup::new(Tag::TH(TableHeaderScope::Column)),
        Role::RowHeader(columns) => {
            let span = u32::try_from(*columns).ok().and_then(NonZeroU32::new);
            let span = span.filter(|s| s.get() > 1);
            TagGroup::new(Tag::TH(TableHeaderScope::Row).with_col_span(span))
        }
        Role::Cell => TagGroup::new(Tag::TD),
        Role::Caption => TagGroup::new(Tag::Caption),
        Role::Figure(shows) => TagGroup::new(Tag::Figure(Some(whole(shows)))),
    }
}
