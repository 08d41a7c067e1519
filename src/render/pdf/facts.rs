//! Names with what they stand for, and the steps of the work that hold them.
//!
//! Never in here: what is told. Changes when facts look otherwise.

use super::super::document::{Fact, Mark};
use super::super::plot::sketch::Path;
use super::flow::{Leaf, Order, Piece, Placed, Role, Thing};
use super::ink::Ink;
use super::line::{self, Line, Look, Part, broken, words};
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

    /// How many pieces it takes: what is long is broken over pages.
    fn pieces(&self) -> usize {
        let lines = self.lines.len().max(self.name.len());
        lines.div_ceil(MOST).max(1)
    }

    /// Name and lines of one of its pieces, the name so far from the left.
    fn piece(&self, n: usize, at: Place) -> (Vec<Placed>, f32) {
        let part = |lines: &'_ [Line]| lines.chunks(MOST).nth(n).unwrap_or_default().to_vec();
        let (mut things, one) = stacked(&part(&self.name), at.left, at.pad, at.name);
        let (more, other) = stacked(&part(&self.lines), at.left + at.names, at.pad, at.body);
        things.extend(more);
        (things, one.max(other) + 2.0 * at.pad)
    }
}

/// Where a fact stands: its left end, the width of its name, the room above; what its parts are in the reading order.
#[derive(Clone, Copy)]
struct Place {
    left: f32,
    names: f32,
    pad: f32,
    name: Leaf,
    body: Leaf,
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
        let at = Place {
            left,
            names: NAMES,
            pad: if ruled { 2.2 } else { 0.8 },
            name: self.flow.leaf(),
            body: self.flow.leaf(),
        };
        let count = set.pieces();
        for n in 0..count {
            let (mut things, mut height) = set.piece(n, at);
            if n + 1 == count && !set.bar.is_empty() {
                things.extend(drawn(set, left + NAMES, height - at.pad));
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
        item(at.name, at.body)
    }

    /// Short facts in two columns that are about equally high, the first ones on the left.
    fn abreast(&mut self, facts: &[Fact]) -> Order {
        let column = (self.width - GAP) / 2.0;
        let mut sets = Vec::new();
        for fact in facts {
            let at = Place {
                left: 0.0,
                names: BRIEF_NAMES,
                pad: 2.0 * self.spacing.share(),
                name: self.flow.leaf(),
                body: self.flow.leaf(),
            };
            sets.push((Set::new(fact, BRIEF_NAMES, column), at));
        }
        let tall = sets.iter().map(|(set, at)| match set.pieces() {
            1 => Some(set.piece(0, *at).1),
            _ => None,
        });
        let tall: Option<Vec<f32>> = tall.collect();
        let half = tall
            .as_ref()
            .map_or(facts.len().div_ceil(2), |t| balanced(t));
        for (_, at) in sets.iter_mut().skip(half) {
            at.left = column + GAP;
        }
        match tall {
            Some(tall) => self.columns(&sets, half, &tall, column),
            None => {
                for n in 0..half {
                    let row = [n, n + half];
                    let row: Vec<&(Set, Place)> = row.iter().filter_map(|n| sets.get(*n)).collect();
                    self.side_by_side(&row, column);
                }
            }
        }
        let items = sets.iter().map(|(_, at)| item(at.name, at.body));
        Order::Branch(Role::List, items.collect())
    }

    /// Two columns of facts, each without gaps, as one piece.
    fn columns(&mut self, all: &[(Set, Place)], half: usize, tall: &[f32], column: f32) {
        let mut piece = Piece::default();
        for part in [0..half, half..all.len()] {
            let (sets, tall) = (&all[part.clone()], &tall[part]);
            let mut down = 0.0;
            for ((set, at), height) in sets.iter().zip(tall) {
                let (mut things, _) = set.piece(0, *at);
                things.iter_mut().for_each(|placed| placed.lower(down));
                piece.things.extend(things);
                down += height;
                let line = rule(at.left, at.left + column, down, 0.5, Ink::Rule);
                piece.things.push(line);
            }
            piece.height = piece.height.max(down);
        }
        self.flow.pieces.push(piece);
    }

    /// A row of facts side by side, as one piece or several.
    fn side_by_side(&mut self, row: &[&(Set, Place)], column: f32) {
        let count = row.iter().map(|(set, _)| set.pieces()).max().unwrap_or(0);
        for n in 0..count {
            let mut piece = Piece::default();
            for (set, at) in row {
                let (things, height) = set.piece(n, *at);
                piece.things.extend(things);
                piece.height = piece.height.max(height);
            }
            let under = row.iter().filter(|_| n + 1 == count);
            let rules =
                under.map(|(_, at)| rule(at.left, at.left + column, piece.height, 0.5, Ink::Rule));
            let rules: Vec<Placed> = rules.collect();
            piece.things.extend(rules);
            self.flow.pieces.push(piece);
        }
    }

    /// Says above the pieces from there on whose they are, where one begins a page.
    fn goes_on(&mut self, first: usize, title: &str) {
        let line = line::fitted(LABEL, &format!("{title} …"), self.width);
        let (mut things, height) = stacked(&[line], 0.0, 0.0, Leaf(0));
        things.iter_mut().for_each(|placed| placed.leaf = None);
        self.flow.heads.push(Piece {
            height: height + 2.0,
            things,
            ..Piece::default()
        });
        let head = self.flow.heads.len() - 1;
        for piece in &mut self.flow.pieces[first..] {
            piece.head = Some(head);
        }
    }

    /// A step of the work.
    pub(super) fn item(&mut self, level: u8, title: &str, path: &str, mark: &Mark, facts: &[Fact]) {
        let first = self.flow.pieces.len();
        // A state is a word or two; what a foreign record says there is broken, and cut where it would fill pages.
        let mut marked = broken(&line::mark(mark, TEXT.size), self.width / 2.0);
        marked.truncate(MOST);
        let marks = marked.iter().map(|l| l.width).fold(0.0, f32::max);
        let room = self.width - marks.max(MARKS) - 12.0;
        let look = Look { size: 9.5, ..BOLD };
        let (head, state, place) = (self.flow.leaf(), self.flow.leaf(), self.flow.leaf());
        let mut lines = broken(&[words(look, title)], room);
        while lines.len() > MOST {
            let rest = lines.split_off(MOST);
            let (things, height) = stacked(&lines, 0.0, 0.0, head);
            self.flow.pieces.push(Piece {
                height,
                things,
                ..Piece::default()
            });
            lines = rest;
        }
        let (mut things, one) = stacked(&lines, 0.0, 4.0, head);
        let (signs, two) = stacked(&marked, self.width - marks, 4.0, state);
        things.extend(signs);
        let mono = Look {
            size: 7.2,
            ink: Ink::Soft,
            ..MONO
        };
        let path_lines = broken(&[words(mono, path)], room);
        let (more, other) = stacked(&path_lines, 0.0, 4.0 + one, place);
        things.extend(more);
        things.insert(0, rule(0.0, self.width, 0.0, 0.7, Ink::Rule));
        self.flow.pieces.push(Piece {
            before: 2.0,
            height: (one + other).max(two) + 4.5,
            things,
            heading: None,
            ..Piece::default()
        });
        let heading = Role::Heading(level, format!("{title}: {}", mark.word));
        let one = |role, leaf| Order::Branch(role, vec![Order::Leaf(leaf)]);
        let heads = vec![Order::Leaf(head), Order::Leaf(state)];
        let after_head = self.flow.pieces.len();
        let below = self.below(facts, 0.0, false);
        self.goes_on(after_head, title);
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
        // Its head stays with the first two facts, the last two facts stay together.
        for piece in self.flow.pieces[first..last]
            .iter_mut()
            .skip(2)
            .rev()
            .skip(1)
        {
            piece.loose = true;
        }
        self.flow.pieces[last].height += 3.0;
    }
}

/// How many of so tall things stand on the left, so that the higher of two columns is as low as can be.
fn balanced(tall: &[f32]) -> usize {
    let higher = |n: &usize| {
        let (left, right) = tall.split_at(*n);
        left.iter().sum::<f32>().max(right.iter().sum())
    };
    let all = 0..=tall.len();
    all.min_by(|a, b| higher(a).total_cmp(&higher(b)))
        .unwrap_or_default()
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
