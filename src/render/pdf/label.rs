//! The label of a device on a page of its own size, 62 mm by 29 mm (a common size of label tape; common practice, no source).
//!
//! Never in here: what stands on it. Changes when labels get another size.

use krilla::metadata::Metadata;

use super::super::RenderError;
use super::super::document::Mark;
use super::super::label::Label;
use super::face::Face;
use super::flow::{Order, Page, Piece, Role};
use super::ink::Ink;
use super::line::{Line, Look, Part, broken, fitted, unbroken, words};
use super::setter::stacked;
use super::{date, finished, write};

/// Width and height in points: 62 mm and 29 mm.
const SIZE: (f32, f32) = (175.75, 82.2);
/// Room at each edge, left and right.
const EDGE: f32 = 7.0;
/// The same at the head and the foot.
const HEAD: f32 = 5.0;
/// Width of the names before their values.
const NAMES: f32 = 50.0;

/// Shares of the usual size of letters, the largest that leaves the margins free.
const SCALES: [f32; 5] = [1.0, 0.95, 0.9, 0.85, 0.8];

/// Sizes of the tag on one line, the largest that fits.
const TAG: [f32; 3] = [13.0, 11.0, 9.0];
/// Its size on two lines, which are no higher than one of the largest.
const TAG_BROKEN: f32 = 6.5;
/// Size of the verdict, and of what stands around.
const VERDICT: f32 = 10.0;
const SMALL: Look = Look::new(Face::Regular, 7.0, Ink::Black);

/// The label on a page; `made` is when.
///
/// # Errors
/// Something that an archive may not keep.
pub fn label(label: &Label, made: &str) -> Result<Vec<u8>, RenderError> {
    // Where more stands on it than usual, all letters give way to the margin at the foot.
    let room = SIZE.1 - 2.0 * HEAD;
    let mut sets = SCALES.map(|scale| set(label, scale)).into_iter();
    let fits = sets.clone().position(|set| set.piece.height <= room);
    let chosen = sets.nth(fits.unwrap_or(SCALES.len() - 1));
    let Set {
        mut piece,
        order,
        leaves,
    } = chosen.expect("there is one for each size");
    let sheet = write::Sheet {
        size: SIZE,
        corner: (EDGE, HEAD),
        edges: vec![Vec::new()],
    };
    piece.heading = Some((2, label.tag.clone()));
    let page = Page {
        pieces: vec![(0.0, piece)],
    };
    let mut pdf = write::drawn(&[page], &sheet, &order, leaves);
    let metadata = Metadata::new()
        .title(label.tag.chars().take(200).collect())
        .language(label.language.clone())
        .creation_date(date(made));
    pdf.set_metadata(metadata);
    finished(pdf)
}

/// What stands on the label, and in which order it is read.
#[derive(Clone)]
struct Set {
    piece: Piece,
    order: Vec<Order>,
    leaves: usize,
}

/// The label set in letters of that share of their usual size.
fn set(label: &Label, scale: f32) -> Set {
    let width = SIZE.0 - 2.0 * EDGE;
    let mut piece = Piece::default();
    let mut order = Vec::new();
    let mut leaves = 0;
    let mut put = |lines: &[Line], x: f32, y: f32| {
        let leaf = super::flow::Leaf(leaves);
        leaves += 1;
        let (things, height) = stacked(lines, x, y, leaf);
        piece.things.extend(things);
        order.push(Order::Branch(Role::Paragraph, vec![Order::Leaf(leaf)]));
        height
    };
    // All but the tag is one line: nothing may push the record's id off the label.
    let look = Look {
        size: SMALL.size * scale,
        ..SMALL
    };
    let small = |text: &str, room: f32| [fitted(look, text, room)];
    let mut y = 0.0;
    if !label.house.is_empty() {
        y += put(&small(&label.house, width), 0.0, y);
    }
    y += put(&tag(&label.tag, scale, width), 0.0, y);
    y += put(&[verdict(&label.verdict, scale, width)], 0.0, y) + 1.0;
    if !label.condition.is_empty() {
        y += put(&small(&label.condition, width), 0.0, y);
    }
    for fact in &label.facts {
        put(&small(&fact.label, NAMES - 2.0), 0.0, y);
        y += put(&small(&fact.text, width - NAMES), NAMES, y);
    }
    piece.height = y;
    Set {
        piece,
        order,
        leaves,
    }
}

/// The tag whole: in the largest letters that it fits in, or on two lines. One that is longer still keeps its end, which
/// tells devices apart.
fn tag(text: &str, scale: f32, width: f32) -> Vec<Line> {
    let bold = |size| Look::new(Face::Bold, size, Ink::Black);
    let on_one = TAG.map(|size| unbroken(&[words(bold(size * scale), text)]));
    if let Some(line) = on_one.into_iter().find(|line| line.width <= width) {
        return vec![line];
    }
    let look = bold(TAG_BROKEN * scale);
    let two = |text: &str| broken(&[words(look, text)], width);
    let mut lines = two(text);
    let mut letters: Vec<char> = text.chars().take(300).collect();
    while lines.len() > 2 && letters.len() > 2 {
        letters.remove(letters.len() / 2);
        let (head, end) = letters.split_at(letters.len() / 2);
        let (head, end): (String, String) = (head.iter().collect(), end.iter().collect());
        lines = two(&format!("{}…{}", head.trim_end(), end.trim_start()));
    }
    lines
}

/// The verdict with its shape, in black: labels are printed without colours.
fn verdict(mark: &Mark, scale: f32, width: f32) -> Line {
    let look = Look::new(Face::Bold, VERDICT * scale, Ink::Black);
    let shape = || Part::Shape(look, mark.shape);
    let line = |size| {
        let words = words(Look { size, ..look }, &mark.word);
        unbroken(&[shape(), words])
    };
    let sizes = [VERDICT, 8.5, 7.0].map(|size| line(size * scale));
    let fits = sizes.into_iter().find(|line| line.width <= width);
    fits.unwrap_or_else(|| fitted(look, &mark.word, width))
}
