//! Names with what they stand for, and the steps of the work that hold them.
//!
//! Never in here: what is told. Changes when facts look otherwise.

use super::super::document::{Fact, Mark};
use super::super::plot::sketch::Path;
use super::flow::{Leaf, Order, Piece, Placed, Role, Thing};
use super::ink::Ink;
use super::line::{self, Line, Look, Part, broken, unbroken, words};
use super::setter::{BOLD, LABEL, MONO, MOST, SOFT, Setter, TEXT, rule, stacked};
use super::shapes;

/// Width of the names.
const NAMES: f32 = 92.0;
/// Width of the names where facts stand two abreast.
const BRIEF_NAMES: f32 = 90.0;
/// Width that the marks of steps have.
const MARKS: f32 = 62.0;
/// Room between two columns.
const GAP: f32 = 20.0;
/// Width of a drawing of a limit.
const BAR: f32 = 180.0;

/// A fact on its way to a page: its name and its lines, and what is drawn below them.
struct Set {
    name: Vec<Line>,
    lines: Vec<Line>,
    bar: Vec<(Path, Ink)>,
}

impl Set {
    fn new(fact: &Fact, names: f32, width: f32) -> Self {
        Self {
            name: broken(&[words(LABEL, &fact.label)], names - 6.0),
            lines: broken(&told(fact), width - names),
            bar: fact.bar.as_ref().map(shapes::bar).unwrap_or_default(),
        }
    }
}

/// What a fact says: its verdict, its text, its asides.
fn told(fact: &Fact) -> Vec<Part> {
    let mut parts = Vec::new();
    if let Some(mark) = &fact.mark {
        parts.extend(line::mark(mark, TEXT.size));
        parts.push(words(TEXT, "  "));
    }
    if !fact.text.is_empty() {
        let look = if fact.literal { MONO } else { TEXT };
        parts.push(words(look, &fact.text));
    }
    if !fact.asides.is_empty() {
        let before = if parts.is_empty() { "" } else { "  " };
        let asides = format!("{before}{}", fact.asides.join("; "));
        parts.push(words(SOFT, &asides));
    }
    parts
}

/// A row of facts: things and height.
struct Row {
    things: Vec<Placed>,
    height: f32,
}

impl Setter {
    /// Facts, one below the other or two abreast.
    pub(super) fn facts(&mut self, facts: &[Fact], brief: bool) {
        let first = self.flow.pieces.len();
        let part = if brief {
            self.abreast(facts)
        } else {
            self.below(facts, 0.0, true)
        };
        self.order.push(part);
        if let Some(piece) = self.flow.pieces.get_mut(first) {
            piece.before = 4.0;
        }
    }

    /// Facts one below the other, so far from the left, with rules between them or without.
    fn below(&mut self, facts: &[Fact], left: f32, ruled: bool) -> Order {
        let mut items = Vec::new();
        for fact in facts {
            let set = Set::new(fact, NAMES, self.width - left);
            items.push(self.fact(&set, left, ruled));
        }
        Order::Branch(Role::List, items)
    }

    /// A fact as one piece, or several where it is long.
    fn fact(&mut self, set: &Set, left: f32, ruled: bool) -> Order {
        let (name, body) = (self.flow.leaf(), self.flow.leaf());
        let count = set.lines.len().max(set.name.len()).div_ceil(MOST);
        for n in 0..count.max(1) {
            let part = |lines: &[Line]| lines.chunks(MOST).nth(n).unwrap_or_default().to_vec();
            let pad = if ruled { 2.2 } else { 0.8 };
            let (mut things, one) = stacked(&part(&set.name), left, pad, name);
            let (more, other) = stacked(&part(&set.lines), left + NAMES, pad, body);
            things.extend(more);
            let mut height = one.max(other) + 2.0 * pad;
            if n + 1 == count.max(1) && !set.bar.is_empty() {
                things.extend(drawn(set, left + NAMES, height - pad));
                height += BAR / shapes::BAR.0 as f32 * shapes::BAR.1 as f32 + 2.0;
            }
            if ruled {
                things.push(rule(0.0, self.width, height, 0.5, Ink::Rule));
            }
            self.flow.pieces.push(Piece {
                height,
                things,
                ..Piece::default()
            });
        }
        item(name, body)
    }

    /// Short facts in two columns, the first half on the left.
    fn abreast(&mut self, facts: &[Fact]) -> Order {
        let column = (self.width - GAP) / 2.0;
        let half = facts.len().div_ceil(2);
        let mut items = Vec::new();
        let mut rows: Vec<Row> = Vec::new();
        for (n, fact) in facts.iter().enumerate() {
            let set = Set::new(fact, BRIEF_NAMES, column);
            let left = if n < half { 0.0 } else { column + GAP };
            let (name, body) = (self.flow.leaf(), self.flow.leaf());
            let (mut things, one) = stacked(&set.name, left, 2.0, name);
            let (more, other) = stacked(&set.lines, left + BRIEF_NAMES, 2.0, body);
            things.extend(more);
            let height = one.max(other) + 4.0;
            match rows.get_mut(n % half) {
                Some(row) if n >= half => {
                    row.things.extend(things);
                    row.height = row.height.max(height);
                }
                _ => rows.push(Row { things, height }),
            }
            items.push(item(name, body));
        }
        for (n, mut row) in rows.into_iter().enumerate() {
            row.things
                .push(rule(0.0, column, row.height, 0.5, Ink::Rule));
            if n + half < facts.len() {
                let from = column + GAP;
                let more = rule(from, self.width, row.height, 0.5, Ink::Rule);
                row.things.push(more);
            }
            self.flow.pieces.push(Piece {
                height: row.height,
                things: row.things,
                ..Piece::default()
            });
        }
        Order::Branch(Role::List, items)
    }

    /// A step of the work.
    pub(super) fn item(&mut self, level: u8, title: &str, path: &str, mark: &Mark, facts: &[Fact]) {
        let first = self.flow.pieces.len();
        let marked = unbroken(&line::mark(mark, TEXT.size));
        let room = self.width - marked.width.min(self.width / 2.0).max(MARKS) - 12.0;
        let look = Look { size: 9.5, ..BOLD };
        let (head, state, place) = (self.flow.leaf(), self.flow.leaf(), self.flow.leaf());
        let lines = broken(&[words(look, title)], room);
        let (mut things, one) = stacked(&lines, 0.0, 4.0, head);
        let x = self.width - marked.width;
        things.extend(stacked(std::slice::from_ref(&marked), x, 4.0, state).0);
        let mono = Look {
            size: 7.2,
            ink: Ink::Soft,
            ..MONO
        };
        let path_lines = broken(&[words(mono, path)], self.width);
        let beside = room - lines.last().map_or(0.0, |l| l.width) - 12.0;
        let (more, other) = match path_lines.as_slice() {
            // Where it has room it stands at the end of the title's line.
            [line] if line.width <= beside => {
                let baseline = 4.0 + one - look.size * 1.35 + (look.size - mono.size);
                let more = stacked(&path_lines, room - path_lines[0].width, baseline, place).0;
                (more, 0.0)
            }
            _ => stacked(&path_lines, 0.0, 4.0 + one, place),
        };
        things.extend(more);
        things.insert(0, rule(0.0, self.width, 0.0, 0.7, Ink::Rule));
        self.flow.pieces.push(Piece {
            before: 2.0,
            height: one + other + 5.0,
            things,
            heading: None,
            ..Piece::default()
        });
        let heading = Role::Heading(level, format!("{title}: {}", mark.word));
        let one = |role, leaf| Order::Branch(role, vec![Order::Leaf(leaf)]);
        let heads = vec![Order::Leaf(head), Order::Leaf(state)];
        let below = self.below(facts, 0.0, false);
        self.order.push(Order::Branch(
            Role::Division,
            vec![
                Order::Branch(heading, heads),
                one(Role::Paragraph, place),
                below,
            ],
        ));
        // A step stays on one page where it can.
        let last = self.flow.pieces.len() - 1;
        for piece in &mut self.flow.pieces[first..last] {
            piece.keep = true;
        }
        self.flow.pieces[last].height += 3.0;
    }
}

fn item(name: Leaf, body: Leaf) -> Order {
    let one = |role, leaf| Order::Branch(role, vec![Order::Leaf(leaf)]);
    Order::Branch(
        Role::ListItem,
        vec![one(Role::Label, name), one(Role::Body, body)],
    )
}

/// The drawing of a limit, for the eye alone: its words stand beside it.
fn drawn(set: &Set, x: f32, y: f32) -> Vec<Placed> {
    let scale = BAR / shapes::BAR.0 as f32;
    let one = |(path, ink): &(Path, Ink)| Placed {
        leaf: None,
        thing: Thing::Path {
            x,
            y,
            scale,
            path: path.clone(),
            ink: *ink,
        },
    };
    set.bar.iter().map(one).collect()
}
