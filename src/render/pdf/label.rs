//! The label of a device on a page of its own size, 62 mm by 29 mm (a common size of label tape; common practice, no source).
//!
//! Never in here: what stands on it. Changes when labels get another size.

use krilla::metadata::Metadata;

use super::super::RenderError;
use super::super::label::Label;
use super::face::Face;
use super::flow::{Order, Page, Piece, Role};
use super::ink::Ink;
use super::line::{self, Line, Look, Part, broken};
use super::setter::stacked;
use super::{date, finished, write};

/// Width and height in points: 62 mm and 29 mm.
const SIZE: (f32, f32) = (175.75, 82.2);
/// Room at each edge.
const EDGE: f32 = 7.0;
/// Width of the names before their values.
const NAMES: f32 = 50.0;

/// The label on a page; `made` is when.
///
/// # Errors
/// Something that an archive may not keep.
pub fn label(label: &Label, made: &str) -> Result<Vec<u8>, RenderError> {
    let width = SIZE.0 - 2.0 * EDGE;
    let small = Look::new(Face::Regular, 7.0, Ink::Black);
    let large = Look::new(Face::Bold, 13.0, Ink::Black);
    let mut piece = Piece::default();
    let mut order = Vec::new();
    let mut leaves = 0;
    // Each line is cut to one: nothing may push the record's id off the label.
    let mut put = |parts: &[Part], x: f32, y: f32| {
        let lines: Vec<Line> = broken(parts, width - x).into_iter().take(1).collect();
        let leaf = super::flow::Leaf(leaves);
        leaves += 1;
        let (things, height) = stacked(&lines, x, y, leaf);
        piece.things.extend(things);
        order.push(Order::Branch(Role::Paragraph, vec![Order::Leaf(leaf)]));
        height
    };
    let mut y = 0.0;
    if !label.house.is_empty() {
        y += put(&[line::words(small, &label.house)], 0.0, y);
    }
    y += put(&[line::words(large, &label.tag)], 0.0, y);
    let mut verdict = line::mark(&label.verdict, 10.0);
    for part in &mut verdict {
        let (Part::Words(look, _) | Part::Shape(look, _)) = part;
        look.ink = Ink::Black;
    }
    y += put(&verdict, 0.0, y) + 1.0;
    for fact in &label.facts {
        put(&[line::words(small, &fact.label)], 0.0, y);
        y += put(&[line::words(small, &fact.text)], NAMES, y);
    }
    let sheet = write::Sheet {
        size: SIZE,
        corner: (EDGE, EDGE - 2.0),
        edges: vec![Vec::new()],
    };
    piece.heading = Some((2, label.tag.clone()));
    let page = Page {
        pieces: vec![(0.0, piece)],
    };
    let mut pdf = write::drawn(&[page], &sheet, &order, leaves);
    let metadata = Metadata::new()
        .title(label.tag.chars().take(200).collect())
        .language("en".to_owned())
        .creation_date(date(made));
    pdf.set_metadata(metadata);
    finished(pdf)
}
