//! What a page is filled with: pieces that are not broken, and the order in which they are read.
//!
//! Never in here: what is told, the library that writes the file. Changes when pages are filled otherwise.

use krilla::image::Image;

use super::super::plot::sketch::Path;
use super::ink::Ink;
use super::line::Line;

/// Something on a page, relative to the top left corner of its piece, in points.
#[derive(Clone, Debug)]
pub(super) enum Thing {
    /// A line of words; `y` is the line of writing.
    Line { x: f32, y: f32, line: Line },
    /// A shape, so many points for each of its units.
    Path {
        x: f32,
        y: f32,
        scale: f32,
        path: Path,
        ink: Ink,
    },
    /// A picture as it is shown: its left end, its width and height, and how it has to be turned for that.
    Picture {
        x: f32,
        size: (f32, f32),
        turned: u8,
        image: Image,
    },
}

/// A thing with what it belongs to; decoration belongs to nothing.
#[derive(Clone, Debug)]
pub(super) struct Placed {
    pub leaf: Option<Leaf>,
    pub thing: Thing,
}

impl Placed {
    /// Moves it down on its piece.
    pub(super) fn lower(&mut self, by: f32) {
        match &mut self.thing {
            Thing::Line { y, .. } | Thing::Path { y, .. } => *y += by,
            // Pictures stand at the top of their piece.
            Thing::Picture { .. } => {}
        }
    }
}

/// A part of the reading order that has things on pages.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Leaf(pub usize);

/// What is not broken over pages.
#[derive(Clone, Debug, Default)]
pub(super) struct Piece {
    /// Room above, unless it begins a page.
    pub before: f32,
    pub height: f32,
    /// Whether it stays with the next piece.
    pub keep: bool,
    /// Whether it may be parted from the next piece all the same, where else a large part of a page would stay empty.
    pub loose: bool,
    pub things: Vec<Placed>,
    /// What stands above it where it begins a page: the head of its table.
    pub head: Option<usize>,
    /// Its heading: level and words.
    pub heading: Option<(u8, String)>,
    /// Height of the lowest of its photographs, which may be shown a little smaller; nothing where it has none.
    pub pictured: f32,
}

/// The share of a page that may stay empty below its last piece, where what comes next could be parted.
const EMPTY: f32 = 0.18;

/// How many of pieces that stay together go on a page with so much room: all that fit, up to one that may be parted from the next.
fn parted(together: &[Piece], room: f32) -> usize {
    let mut tall = 0.0;
    let mut most = 0;
    for (piece, n) in together.iter().zip(1..together.len()) {
        tall += piece.before + piece.height;
        if tall <= room && piece.loose {
            most = n;
        }
    }
    most
}

/// How small a photograph may become beside its own size, so that a page is filled.
const LEAST: f32 = 0.66;

impl Piece {
    /// Makes its photographs smaller, so that it is lower by that much; gives whether they bear it.
    fn lowered(&mut self, by: f32) -> bool {
        let scale = 1.0 - by / self.pictured;
        if self.pictured <= 0.0 || scale < LEAST {
            return false;
        }
        let mut shifts: Vec<(f32, f32)> = Vec::new();
        for placed in &mut self.things {
            match &mut placed.thing {
                Thing::Picture { x, size, .. } => {
                    shifts.push((*x, size.1 * (1.0 - scale)));
                    *size = (size.0 * scale, size.1 * scale);
                }
                // A caption stands right below its picture.
                Thing::Line { x, y, .. } => {
                    let of_column = shifts.iter().find(|(at, _)| at == x);
                    *y -= of_column.map_or(0.0, |(_, shift)| *shift);
                }
                Thing::Path { .. } => {}
            }
        }
        self.height -= by;
        true
    }
}

/// What a part of the reading order is.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Role {
    Division,
    Heading(u8, String),
    Paragraph,
    List,
    ListItem,
    Label,
    Body,
    Table,
    TableHead,
    TableBody,
    Row,
    ColumnHeader,
    /// Over so many columns.
    RowHeader(usize),
    Cell,
    Caption,
    /// With what it shows.
    Figure(String),
}

/// The reading order.
#[derive(Clone, Debug)]
pub(super) enum Order {
    Branch(Role, Vec<Order>),
    Leaf(Leaf),
}

/// A page: things with the place of their piece.
#[derive(Clone, Debug, Default)]
pub(super) struct Page {
    pub pieces: Vec<(f32, Piece)>,
}

/// Pieces in order, and how they are read.
#[derive(Clone, Debug, Default)]
pub(super) struct Flow {
    pub pieces: Vec<Piece>,
    /// Heads of tables, which stand again on each page that their table goes on to.
    pub heads: Vec<Piece>,
    pub leaves: usize,
}

impl Page {
    /// How far down it is filled.
    pub(super) fn filled(&self) -> f32 {
        let feet = self.pieces.iter().map(|(at, piece)| at + piece.height);
        feet.fold(0.0, f32::max)
    }
}

impl Flow {
    /// A new part of the reading order.
    pub(super) fn leaf(&mut self) -> Leaf {
        self.leaves += 1;
        Leaf(self.leaves - 1)
    }

    /// Keeps what stands last, from this piece on, on one page with a few pieces before it, where it fills no more than half
    /// of one: a signature or a command alone on a page tells nothing.
    pub(super) fn together(&mut self, first: usize, height: f32) {
        const BEFORE: usize = 3;
        const HALF: f32 = 0.5;
        let tall = |pieces: &[Piece]| pieces.iter().map(|p| p.before + p.height).sum::<f32>();
        let Some(own) = self
            .pieces
            .get(first..)
            .filter(|own| tall(own) <= height * HALF)
        else {
            return;
        };
        let mut from = first.saturating_sub(BEFORE);
        if tall(&self.pieces[from..first]) > tall(own) {
            from = first;
        }
        if let Some((_, all)) = self.pieces[from..].split_last_mut() {
            all.iter_mut().for_each(|piece| piece.keep = true);
        }
    }

    /// The pieces on pages of that height.
    pub(super) fn pages(self, height: f32) -> Vec<Page> {
        let mut pages = vec![Page::default()];
        let mut at = 0.0;
        let mut pieces = self.pieces.into_iter().peekable();
        while let Some(first) = pieces.next() {
            let mut together = vec![first];
            while together.last().is_some_and(|p| p.keep) {
                let Some(next) = pieces.next() else { break };
                together.push(next);
            }
            let tall: f32 = together.iter().map(|p| p.before + p.height).sum();
            // What is taller than a page is broken wherever it has to be.
            let whole = tall <= height;
            let over = at + tall - height;
            let fits = over <= 0.0 || together.iter_mut().any(|p| p.lowered(over));
            let mut here = usize::MAX;
            if whole && !fits && at > 0.0 {
                let room = height - at;
                here = match room > height * EMPTY {
                    true => parted(&together, room),
                    false => 0,
                };
            }
            for (n, piece) in together.into_iter().enumerate() {
                if n == here || at > 0.0 && at + piece.before + piece.height > height {
                    pages.push(Page::default());
                    at = 0.0;
                }
                let page = pages.last_mut().expect("there is a page");
                let head = piece.head.filter(|_| at == 0.0).map(|n| &self.heads[n]);
                if let Some(head) = head {
                    page.pieces.push((at, head.clone()));
                    at += head.height;
                } else if at > 0.0 {
                    at += piece.before;
                }
                let tall = piece.height;
                page.pieces.push((at, piece));
                at += tall;
            }
        }
        pages
    }
}
