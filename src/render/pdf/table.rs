//! Tables, whose heads stand again on each page.
//!
//! Never in here: what is told. Changes when tables look otherwise.

use super::super::document::{Cell, Column};
use super::flow::{Leaf, Order, Piece, Placed, Role};
use super::ink::Ink;
use super::line::{self, Line, Look, Part, broken, words};
use super::setter::{BOLD, LABEL, LEADING, MOST, Setter, TEXT, rule, stacked};

/// Room between columns.
const GAP: f32 = 8.0;

/// Where a column begins and how wide it is.
type Place = (f32, f32);

impl Setter {
    /// A table with its caption.
    pub(super) fn table(
        &mut self,
        caption: &str,
        header: &[Column],
        rows: &[Vec<Cell>],
        dense: bool,
    ) -> Order {
        let places = places(header, self.width);
        let mut below = Vec::new();
        if !caption.is_empty() {
            let lines = broken(&[words(LABEL, caption)], self.width);
            let leaf = self.flow.leaf();
            let (things, height) = stacked(&lines, 0.0, 0.0, leaf);
            self.flow.pieces.push(Piece {
                before: 5.0,
                height: height + 2.0,
                keep: true,
                things,
                ..Piece::default()
            });
            below.push(Order::Branch(Role::Caption, vec![Order::Leaf(leaf)]));
        }
        below.push(self.head(header, &places));
        let head = self.flow.heads.len() - 1;
        let size = if dense { 8.2 } else { TEXT.size };
        let mut body = Vec::new();
        for (n, row) in rows.iter().enumerate() {
            let group = row.len() == 1 && header.len() > 1;
            let cells = cells(row, group, size, &places, self.width);
            let leaves: Vec<Leaf> = row.iter().map(|_| self.flow.leaf()).collect();
            let pad = if dense { 1.1 } else { 2.6 } * self.spacing.share();
            // A row that says something in its first cell alone is about the one below it.
            let before = row.len() > 1 && row[1..].iter().all(|c| *c == Cell::default());
            let keep = group || before || n == 0 || is_held(rows, n);
            self.row(&cells, &leaves, pad, head, keep);
            body.push(order(&leaves, group.then_some(header.len())));
        }
        if let Some(last) = self.flow.pieces.last_mut() {
            last.keep = false;
            last.height += 4.0;
        }
        below.push(Order::Branch(Role::TableBody, body));
        Order::Branch(Role::Table, below)
    }

    /// The head of a table: once to be read, and for each page that the table goes on to.
    fn head(&mut self, header: &[Column], places: &[Place]) -> Order {
        let look = Look { size: 8.2, ..BOLD };
        let mut piece = Piece {
            keep: true,
            ..Piece::default()
        };
        let mut leaves = Vec::new();
        for (column, (x, width)) in header.iter().zip(places) {
            let leaf = self.flow.leaf();
            let lines = broken(&[words(look, &column.title)], *width);
            let (things, height) = stacked(&lines, *x, 0.0, leaf);
            piece.things.extend(things);
            piece.height = piece.height.max(height);
            leaves.push(leaf);
        }
        piece.height += 3.0;
        let line = rule(0.0, self.width, piece.height - 1.0, 1.2, Ink::Black);
        piece.things.push(line);
        let mut again = piece.clone();
        again.things.iter_mut().for_each(|p| p.leaf = None);
        self.flow.heads.push(again);
        self.flow.pieces.push(piece);
        let cell = |leaf| Order::Branch(Role::ColumnHeader, vec![Order::Leaf(leaf)]);
        let row = Order::Branch(Role::Row, leaves.into_iter().map(cell).collect());
        Order::Branch(Role::TableHead, vec![row])
    }

    /// A row as one piece, or several where a cell is long.
    fn row(
        &mut self,
        cells: &[(f32, Vec<Line>)],
        leaves: &[Leaf],
        pad: f32,
        head: usize,
        keep: bool,
    ) {
        let longest = cells.iter().map(|(_, lines)| lines.len()).max();
        let count = longest.unwrap_or(0).div_ceil(MOST).max(1);
        for n in 0..count {
            let (mut things, mut height) = (Vec::<Placed>::new(), 0.0_f32);
            for ((x, lines), leaf) in cells.iter().zip(leaves) {
                let part = lines.chunks(MOST).nth(n).unwrap_or_default();
                let (more, tall) = match is_written_on(lines) {
                    true => spaced(part, *x, pad, *leaf, self.spacing.written()),
                    false => stacked(part, *x, pad, *leaf),
                };
                things.extend(more);
                height = height.max(tall);
            }
            height += 2.0 * pad;
            if n + 1 == count {
                things.push(rule(0.0, self.width, height, 0.5, Ink::Rule));
            }
            self.flow.pieces.push(Piece {
                height,
                keep: keep && n + 1 == count,
                things,
                head: Some(head),
                ..Piece::default()
            });
        }
    }
}

/// Most rows below a heading in a table that stay on one page with it.
const HELD: usize = 8;

/// Whether a row stays with the next one, since few stand below their heading.
fn is_held(rows: &[Vec<Cell>], at: usize) -> bool {
    let heads = |row: &Vec<Cell>| row.len() == 1;
    let Some(head) = rows[..at].iter().rposition(heads) else {
        return false;
    };
    let below = rows[head + 1..].iter().position(heads);
    let end = below.map_or(rows.len(), |n| head + 1 + n);
    end - head - 1 <= HELD && at + 1 < end
}

/// Whether somebody writes there by hand.
fn is_written_on(lines: &[Line]) -> bool {
    let blank = |part: &Part| matches!(part, Part::Words(_, text) if text.contains("____"));
    lines
        .iter()
        .any(|line| line.parts.iter().any(|(_, part)| blank(part)))
}

/// Lines of which some are written on, with room above those, each so high.
fn spaced(lines: &[Line], x: f32, top: f32, leaf: Leaf, written: f32) -> (Vec<Placed>, f32) {
    let mut things = Vec::new();
    let mut at = 0.0;
    for line in lines {
        let own = line.size() * LEADING;
        at += match is_written_on(std::slice::from_ref(line)) {
            true => written,
            false => own,
        };
        things.extend(stacked(std::slice::from_ref(line), x, top + at - own, leaf).0);
    }
    (things, at)
}

/// The columns by their shares of the width.
fn places(header: &[Column], width: f32) -> Vec<Place> {
    let whole: f32 = header.iter().map(|c| f32::from(c.share_percent)).sum();
    let mut at = 0.0;
    let mut place = |column: &Column| {
        let wide = width * f32::from(column.share_percent) / whole.max(1.0);
        let here = (at, (wide - GAP).max(1.0));
        at += wide;
        here
    };
    header.iter().map(&mut place).collect()
}

/// The lines of the cells of a row, with where they begin.
fn cells(
    row: &[Cell],
    group: bool,
    size: f32,
    places: &[Place],
    width: f32,
) -> Vec<(f32, Vec<Line>)> {
    if group {
        let look = Look { size, ..BOLD };
        let lines = row.iter().map(|c| broken(&told(c, look), width));
        return lines.map(|l| (0.0, l)).collect();
    }
    let one = |(cell, (x, wide)): (&Cell, &Place)| {
        let look = Look { size, ..TEXT };
        (*x, broken(&told(cell, look), *wide))
    };
    row.iter().zip(places).map(one).collect()
}

fn told(cell: &Cell, look: Look) -> Vec<Part> {
    let mut parts = Vec::new();
    if let Some(mark) = &cell.mark {
        parts.extend(line::mark(mark, look.size));
        parts.push(words(look, "  "));
    }
    parts.push(words(look, &cell.text));
    parts
}

/// How a row is read; its first cell names it.
fn order(leaves: &[Leaf], spans: Option<usize>) -> Order {
    let one = |(n, leaf): (usize, &Leaf)| {
        let role = match n {
            0 => Role::RowHeader(spans.unwrap_or(1)),
            _ => Role::Cell,
        };
        Order::Branch(role, vec![Order::Leaf(*leaf)])
    };
    Order::Branch(Role::Row, leaves.iter().enumerate().map(one).collect())
}
