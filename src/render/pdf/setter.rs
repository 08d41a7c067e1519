//! Blocks of a document as pieces: headings, paragraphs, lists, notes, the verdict.
//!
//! Never in here: facts, tables and drawings (their own files), pages. Changes when a block looks otherwise.

use super::super::document::{Block, Mark, Shape};
use super::super::picture::Picture;
use super::super::plot::sketch::{Fill, Path};
use super::face::Face;
use super::flow::{Flow, Leaf, Order, Piece, Placed, Role, Thing};
use super::ink::Ink;
use super::line::{self, Line, Look, Part, broken, words};
use super::shapes;

/// Sentences.
pub(super) const TEXT: Look = Look::new(Face::Regular, 9.0, Ink::Black);
/// Less important words.
pub(super) const SOFT: Look = Look::new(Face::Regular, 8.0, Ink::Soft);
/// Names of facts.
pub(super) const LABEL: Look = Look::new(Face::Regular, 9.0, Ink::Soft);
/// Words that begin something.
pub(super) const BOLD: Look = Look::new(Face::Bold, 9.0, Ink::Black);
/// Entries, digests and commands.
pub(super) const MONO: Look = Look::new(Face::Mono, 8.3, Ink::Black);
/// Height of a line, in heights of its letters.
pub(super) const LEADING: f32 = 1.35;
/// Where the line of writing lies in it.
const BASE: f32 = 1.02;
/// Most lines of a piece: what is longer may be broken over pages.
pub(super) const MOST: usize = 24;

/// Most lines of a paragraph that is not broken below its heading.
const SHORT: usize = 8;

/// How much room is left between things.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Spacing {
    /// As it reads best.
    Wide,
    /// Less, where that saves a page.
    Tight,
}

impl Spacing {
    /// The share of the usual room that is left.
    pub(super) fn share(self) -> f32 {
        match self {
            Self::Wide => 1.0,
            Self::Tight => 0.6,
        }
    }

    /// Height of a line to write on by hand: 7 mm, or 6 mm.
    pub(super) fn written(self) -> f32 {
        match self {
            Self::Wide => 19.8,
            Self::Tight => 17.0,
        }
    }
}

/// Puts blocks into pieces.
pub(super) struct Setter {
    pub flow: Flow,
    pub order: Vec<Order>,
    /// Width of a line.
    pub width: f32,
    pub spacing: Spacing,
}

/// Lines below each other, as things, with their height.
pub(super) fn stacked(lines: &[Line], x: f32, top: f32, leaf: Leaf) -> (Vec<Placed>, f32) {
    let mut things = Vec::with_capacity(lines.len());
    let mut at = top;
    for line in lines {
        let size = line.size().max(1.0);
        let thing = Thing::Line {
            x,
            y: at + size * BASE,
            line: line.clone(),
        };
        things.push(Placed {
            leaf: Some(leaf),
            thing,
        });
        at += size * LEADING;
    }
    (things, at - top)
}

/// A shape that decorates.
pub(super) fn decoration(path: Path, ink: Ink) -> Placed {
    let thing = Thing::Path {
        x: 0.0,
        y: 0.0,
        scale: 1.0,
        path,
        ink,
    };
    Placed { leaf: None, thing }
}

/// A level line from one end to another.
pub(super) fn rule(from: f32, to: f32, y: f32, width: f64, ink: Ink) -> Placed {
    let (from, to, y) = (f64::from(from), f64::from(to), f64::from(y));
    decoration(shapes::straight((from, y), (to, y), width), ink)
}

impl Setter {
    pub(super) fn new(width: f32, spacing: Spacing) -> Self {
        Self {
            spacing,
            flow: Flow::default(),
            order: Vec::new(),
            width,
        }
    }

    /// Adds blocks.
    pub(super) fn blocks(&mut self, blocks: &[Block]) {
        let picture = |block: &Block| matches!(block, Block::Picture { .. });
        let mut is_headed = false;
        for group in blocks.chunk_by(|a, b| picture(a) && picture(b)) {
            let before = self.flow.pieces.len();
            match group {
                [block] => self.block(block),
                several => self.photographs(&pictures(several)),
            }
            // What leads in to something stands on its page, as a whole where it is short.
            let leads = matches!(group, [Block::Paragraph { .. }]) && is_headed;
            let own = self.flow.pieces.get_mut(before..).filter(|_| leads);
            if let Some((last, lines)) = own.and_then(<[Piece]>::split_last_mut) {
                last.keep = true;
                let short = lines.len() < SHORT;
                lines.iter_mut().for_each(|line| line.keep |= short);
            }
            is_headed = matches!(group, [Block::Heading { .. }]) && self.flow.pieces.len() > before;
        }
        if let Some(last) = self.flow.pieces.last_mut() {
            last.keep = false;
        }
    }

    /// Adds a block.
    fn block(&mut self, block: &Block) {
        match block {
            Block::Heading { level, text } => self.heading(*level, text),
            Block::Paragraph { text } => {
                let part = self.paragraph(&[words(TEXT, text)], 3.0);
                self.order.push(part);
            }
            Block::Verdict { mark, text } => self.verdict(mark, text),
            Block::Facts { facts, brief } => self.facts(facts, *brief),
            Block::Table {
                caption,
                header,
                rows,
                dense,
            } => {
                let part = self.table(caption, header, rows, *dense);
                self.order.push(part);
            }
            Block::Plot { plot } => self.plot(plot),
            Block::Picture { picture } => self.photographs(&[picture]),
            Block::List { items } => {
                let part = self.list(items, 0.0);
                self.order.push(part);
            }
            Block::Note {
                caution,
                title,
                items,
            } => self.note(*caution, title, items),
            Block::Item {
                level,
                number,
                title,
                path,
                mark,
                facts,
            } => self.item(*level, &format!("{number}. {title}"), path, mark, facts),
        }
    }

    /// The title of the document.
    pub(super) fn title(&mut self, text: &str) {
        self.headed(1, text, 16.0);
    }

    fn heading(&mut self, level: u8, text: &str) {
        let size = if level <= 2 { 12.5 } else { 10.5 };
        self.headed(level, text, size);
        if level <= 2 {
            let width = self.width;
            let piece = self.flow.pieces.last_mut().expect("a heading is there");
            piece.height += 2.0;
            let y = piece.height - 1.0;
            piece.things.push(rule(0.0, width, y, 1.4, Ink::Black));
            piece.height += 4.0;
        }
    }

    fn headed(&mut self, level: u8, text: &str, size: f32) {
        let look = Look::new(Face::Bold, size, Ink::Black);
        let lines = broken(&[words(look, text)], self.width);
        let leaf = self.flow.leaf();
        for (n, part) in lines.chunks(MOST).enumerate() {
            let (things, height) = stacked(part, 0.0, 0.0, leaf);
            let first = n == 0;
            self.flow.pieces.push(Piece {
                before: if first { size } else { 0.0 },
                height: height + 1.0,
                keep: true,
                things,
                heading: (first && level > 1).then(|| (level, text.to_owned())),
                ..Piece::default()
            });
        }
        let role = Role::Heading(level, text.to_owned());
        self.order
            .push(Order::Branch(role, vec![Order::Leaf(leaf)]));
    }

    /// A paragraph, each line a piece; the first two and the last two stay together.
    pub(super) fn paragraph(&mut self, parts: &[Part], before: f32) -> Order {
        let lines = broken(parts, self.width);
        let leaf = self.lines(&lines, 0.0, before);
        Order::Branch(Role::Paragraph, vec![Order::Leaf(leaf)])
    }

    /// Lines as pieces.
    fn lines(&mut self, lines: &[Line], x: f32, before: f32) -> Leaf {
        let leaf = self.flow.leaf();
        let count = lines.len();
        for (n, line) in lines.iter().enumerate() {
            let (things, height) = stacked(std::slice::from_ref(line), x, 0.0, leaf);
            self.flow.pieces.push(Piece {
                before: if n == 0 { before } else { 0.0 },
                height,
                keep: n + 1 < count && (n == 0 || n + 2 == count),
                things,
                ..Piece::default()
            });
        }
        leaf
    }

    /// A bullet list, so far from the left.
    fn list(&mut self, items: &[String], left: f32) -> Order {
        const INDENT: f32 = 11.0;
        let mut below = Vec::new();
        for item in items {
            let lines = broken(&[words(TEXT, item)], self.width - left - INDENT);
            let label = self.flow.leaf();
            let first = self.flow.pieces.len();
            let body = self.lines(&lines, left + INDENT, 1.5);
            let bullet = broken(&[words(TEXT, "•")], INDENT);
            let (things, _) = stacked(&bullet, left + 2.0, 0.0, label);
            self.flow.pieces[first].things.extend(things);
            let part = |role, leaf| Order::Branch(role, vec![Order::Leaf(leaf)]);
            below.push(Order::Branch(
                Role::ListItem,
                vec![part(Role::Label, label), part(Role::Body, body)],
            ));
        }
        Order::Branch(Role::List, below)
    }

    fn note(&mut self, caution: bool, title: &str, items: &[String]) {
        const LEFT: f32 = 10.0;
        let first = self.flow.pieces.len();
        let mut below = Vec::new();
        if !title.is_empty() {
            let lines = broken(&[words(BOLD, &title.to_uppercase())], self.width - LEFT);
            let leaf = self.lines(&lines, LEFT, 0.0);
            self.flow.pieces.last_mut().expect("a line").keep = true;
            let leaf = vec![Order::Leaf(leaf)];
            below.push(Order::Branch(Role::Paragraph, leaf));
        }
        below.push(self.list(items, LEFT));
        self.order.push(Order::Branch(Role::Division, below));
        let ink = if caution { Ink::Heed } else { Ink::Rule };
        for (n, piece) in self.flow.pieces[first..].iter_mut().enumerate() {
            let above = if n == 0 { 0.0 } else { piece.before };
            let (top, foot) = (f64::from(-above), f64::from(piece.height));
            let side = shapes::straight((1.5, top), (1.5, foot), 3.0);
            piece.things.insert(0, decoration(side, ink));
        }
        if let Some(piece) = self.flow.pieces.get_mut(first) {
            piece.before = 6.0;
        }
        // Cautions are read as a whole, below their heading.
        if let Some((_, all)) = self.flow.pieces[first..]
            .split_last_mut()
            .filter(|_| caution)
        {
            all.iter_mut().for_each(|piece| piece.keep = true);
        }
    }

    fn verdict(&mut self, mark: &Mark, text: &str) {
        const PAD: f32 = 9.0;
        let wide = self.width - 2.0 * PAD;
        let loud = Mark {
            word: mark.word.to_uppercase(),
            shape: mark.shape,
        };
        let leaf = self.flow.leaf();
        let word = broken(&line::mark(&loud, 17.0), wide);
        let (mut things, word_height) = stacked(&word, PAD, PAD - 2.0, leaf);
        let mut lines = broken(&[words(TEXT, text)], wide);
        let rest = lines.split_off(lines.len().min(MOST));
        let (more, text_height) = stacked(&lines, PAD, PAD + word_height, leaf);
        things.extend(more);
        let height = word_height + text_height + 2.0 * PAD;
        let frames = frame(mark.shape, self.width, height);
        let ink = Ink::of(mark.shape);
        things.splice(0..0, frames.into_iter().map(|p| decoration(p, ink)));
        self.flow.pieces.push(Piece {
            before: 6.0,
            height: height + 4.0,
            things,
            ..Piece::default()
        });
        let mut below = vec![Order::Leaf(leaf)];
        if !rest.is_empty() {
            below.push(Order::Leaf(self.lines(&rest, PAD, 0.0)));
        }
        self.order.push(Order::Branch(Role::Paragraph, below));
    }
}

fn pictures(blocks: &[Block]) -> Vec<&Picture> {
    blocks.iter().filter_map(picture).collect()
}

fn picture(block: &Block) -> Option<&Picture> {
    match block {
        Block::Picture { picture } => Some(picture),
        _ => None,
    }
}

/// The frame of a verdict: whole, double, broken, or thick, so that it can be told without colour.
fn frame(shape: Shape, width: f32, height: f32) -> Vec<Path> {
    let (w, h) = (f64::from(width), f64::from(height));
    let inset = |by: f64, line: f64| {
        let size = (w - 2.0 * by, h - 2.0 * by);
        shapes::rectangle((by, by), size, line, Fill::None)
    };
    match shape {
        Shape::Fail | Shape::ConditionalFail => vec![inset(0.8, 1.6), inset(4.0, 1.6)],
        Shape::Void => vec![inset(2.0, 4.0)],
        Shape::Open | Shape::Remark => vec![Path {
            dashes: &[7.0, 4.0],
            ..inset(1.0, 2.0)
        }],
        _ => vec![inset(1.0, 2.0)],
    }
}
