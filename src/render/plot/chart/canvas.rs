//! A grid of characters on which lines are drawn in braille, two dots by four a character.
//!
//! Never in here: scales and labels. Changes when the grid holds other signs.

/// A dot, from the upper left.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Dot {
    pub x: i32,
    pub y: i32,
}

/// Drawn and blank dots of a broken line.
const BROKEN: (usize, usize) = (3, 6);
/// The bit of each dot of a braille character, by row and column (Unicode, block U+2800).
const BITS: [[u8; 2]; 4] = [[0x01, 0x08], [0x02, 0x10], [0x04, 0x20], [0x40, 0x80]];

/// The grid: characters below, dots over them, signs on top.
pub(super) struct Canvas {
    columns: usize,
    below: Vec<char>,
    dots: Vec<u8>,
    above: Vec<Option<char>>,
}

impl Canvas {
    pub(super) fn new(columns: usize, rows: usize) -> Self {
        Self {
            columns,
            below: vec![' '; columns * rows],
            dots: vec![0; columns * rows],
            above: vec![None; columns * rows],
        }
    }

    /// A horizontal line below everything.
    pub(super) fn across(&mut self, row: usize, sign: char) {
        let from = row * self.columns;
        if let Some(cells) = self.below.get_mut(from..from + self.columns) {
            cells.fill(sign);
        }
    }

    /// A vertical line, over horizontal ones.
    pub(super) fn upright(&mut self, column: usize, sign: char) {
        let cells = self.below.iter_mut().skip(column).step_by(self.columns);
        cells.for_each(|c| *c = sign);
    }

    /// A sign on top of everything.
    pub(super) fn put(&mut self, dot: Dot, sign: char) {
        if let Some(cell) = self.cell(dot) {
            self.above[cell] = Some(sign);
        }
    }

    /// Lines from dot to dot.
    pub(super) fn line(&mut self, dots: &[Dot], broken: bool) {
        let mut drawn = 0;
        for pair in dots.windows(2) {
            let (dx, dy) = (pair[1].x - pair[0].x, pair[1].y - pair[0].y);
            let steps = dx.abs().max(dy.abs()).max(1);
            for n in 0..=steps {
                let part = |d: i32| (f64::from(d * n) / f64::from(steps)).round() as i32;
                let seen = !broken || drawn % BROKEN.1 < BROKEN.0;
                if seen {
                    self.dot(Dot {
                        x: pair[0].x + part(dx),
                        y: pair[0].y + part(dy),
                    });
                }
                // The end of a part is the start of the next.
                drawn += usize::from(n < steps);
            }
        }
    }

    fn dot(&mut self, dot: Dot) {
        if let Some(cell) = self.cell(dot) {
            self.dots[cell] |= BITS[dot.y as usize % 4][dot.x as usize % 2];
        }
    }

    fn cell(&self, dot: Dot) -> Option<usize> {
        let (x, y) = (usize::try_from(dot.x).ok()?, usize::try_from(dot.y).ok()?);
        let (column, row) = (x / 2, y / 4);
        let cell = row * self.columns + column;
        (column < self.columns && cell < self.below.len()).then_some(cell)
    }

    /// The rows as text.
    pub(super) fn rows(&self) -> Vec<String> {
        let sign = |cell: usize| match (self.above[cell], self.dots[cell]) {
            (Some(sign), _) => sign,
            (None, 0) => self.below[cell],
            (None, dots) => char::from_u32(0x2800 + u32::from(dots)).unwrap_or(' '),
        };
        let row = |from: usize| (from..from + self.columns).map(sign).collect();
        (0..self.below.len())
            .step_by(self.columns)
            .map(row)
            .collect()
    }
}
