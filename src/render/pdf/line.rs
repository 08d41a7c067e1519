//! Lines: words of different looks broken to a width.
//!
//! Never in here: places on a page. Changes when lines are broken otherwise.

use textwrap::core::Fragment;
use textwrap::wrap_algorithms::wrap_first_fit;

use super::super::document::{Mark, Shape};
use super::super::held::{JOINT, joined};
use super::face::Face;
use super::ink::Ink;

/// How words look.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Look {
    pub face: Face,
    /// Height of letters, in points.
    pub size: f32,
    pub ink: Ink,
}

impl Look {
    pub(super) const fn new(face: Face, size: f32, ink: Ink) -> Self {
        Self { face, size, ink }
    }

    /// How wide a text is in this look, in points.
    pub(super) fn width(self, text: &str) -> f32 {
        self.face.width(text) * self.size
    }
}

/// A part of a line: words, or the shape of a mark.
#[derive(Clone, Debug)]
pub(super) enum Part {
    Words(Look, String),
    Shape(Look, Shape),
}

/// A line of parts, each with its distance from the line's beginning.
#[derive(Clone, Debug, Default)]
pub(super) struct Line {
    pub parts: Vec<(f32, Part)>,
    pub width: f32,
}

impl Line {
    /// The largest letters in the line, in points.
    pub(super) fn size(&self) -> f32 {
        let size = |part: &Part| match part {
            Part::Words(look, _) | Part::Shape(look, _) => look.size,
        };
        self.parts.iter().map(|(_, p)| size(p)).fold(0.0, f32::max)
    }
}

/// Words in a look.
pub(super) fn words(look: Look, text: &str) -> Part {
    Part::Words(look, text.to_owned())
}

/// The parts of a mark: its shape and its word, bold unless there is no judgement in it.
pub(super) fn mark(mark: &Mark, size: f32) -> Vec<Part> {
    let ink = Ink::of(mark.shape);
    let face = match mark.shape {
        Shape::Plain => Face::Regular,
        _ => Face::Bold,
    };
    let look = Look::new(face, size, ink);
    vec![Part::Shape(look, mark.shape), words(look, &mark.word)]
}

/// A word with what follows it.
#[derive(Clone, Debug)]
struct Word {
    part: Part,
    width: f32,
    blank: f32,
}

impl Fragment for Word {
    fn width(&self) -> f64 {
        f64::from(self.width)
    }

    fn whitespace_width(&self) -> f64 {
        f64::from(self.blank)
    }

    fn penalty_width(&self) -> f64 {
        0.0
    }
}

/// Breaks parts into lines of at most that width. There is at least one line.
pub(super) fn broken(parts: &[Part], width: f32) -> Vec<Line> {
    let words: Vec<Word> = parts.iter().flat_map(|p| split(p, width)).collect();
    // What a shaped line is longer than its words by is less than this.
    let room = f64::from(width) + 0.01;
    let lines = wrap_first_fit(&words, &[room]);
    lines.into_iter().map(line).collect()
}

/// One line, however long.
pub(super) fn unbroken(parts: &[Part]) -> Line {
    let words: Vec<Word> = parts.iter().flat_map(|p| split(p, f32::MAX)).collect();
    line(&words)
}

/// One line of at most so much width; what is longer ends with an ellipsis, behind a whole word where one ends not far off.
pub(super) fn fitted(look: Look, text: &str, room: f32) -> Line {
    let mut letters: Vec<char> = text.chars().take(300).collect();
    let cut = letters.len() < text.chars().count();
    let mut line = unbroken(&[words(look, &shown(&letters, cut))]);
    if line.width <= room {
        return line;
    }
    let mut next = None;
    while line.width > room && !letters.is_empty() {
        next = letters.pop();
        line = unbroken(&[words(look, &shown(&letters, true))]);
    }
    let blank = letters.iter().rposition(|c| *c == ' ');
    let in_word = next.is_some_and(|c| c != ' ');
    if let Some(at) = blank.filter(|at| in_word && at + MOST_BACK > letters.len()) {
        line = unbroken(&[words(look, &shown(&letters[..at], true))]);
    }
    line
}

/// Most letters of a word that are left out so that it is not cut.
const MOST_BACK: usize = 20;

fn shown(letters: &[char], cut: bool) -> String {
    let mut text: String = letters.iter().collect();
    if cut {
        text = format!("{}…", text.trim_end());
    }
    text
}

/// The words of a part; one that is longer than a line is cut.
fn split(part: &Part, width: f32) -> Vec<Word> {
    let (look, text) = match part {
        Part::Shape(look, _) => {
            let word = Word {
                part: part.clone(),
                width: look.size,
                blank: look.size * 0.3,
            };
            return vec![word];
        }
        Part::Words(look, text) => (*look, text),
    };
    let mut out = Vec::new();
    for word in joined(text).split_inclusive(' ') {
        let letters = word.trim_end_matches(' ');
        let blanks = &word[letters.len()..];
        let whole = letters.replace(JOINT, " ");
        if look.width(&whole) <= width {
            out.extend(pieces(look, &whole, blanks));
            continue;
        }
        // What belongs together and is longer than a line is broken between its words.
        for part in word.split_inclusive([' ', JOINT]) {
            let letters = part.trim_end_matches([' ', JOINT]);
            let blanks = &part[letters.len()..].replace(JOINT, " ");
            match look.width(letters) <= width {
                true => out.extend(pieces(look, letters, blanks)),
                false => out.extend(cut(look, letters, blanks, width)),
            }
        }
    }
    out
}

/// A word in parts of one face each.
fn pieces(look: Look, letters: &str, blanks: &str) -> Vec<Word> {
    let mut parts = look.face.parts(letters);
    if parts.is_empty() {
        parts.push((look.face, String::new()));
    }
    let last = parts.len() - 1;
    let word = |(n, (face, mut text)): (usize, (Face, String))| {
        let look = Look { face, ..look };
        let width = look.width(&text);
        let mut blank = 0.0;
        if n == last {
            blank = look.width(blanks);
            text.push_str(blanks);
        }
        Word {
            part: Part::Words(look, text),
            width,
            blank,
        }
    };
    parts.into_iter().enumerate().map(word).collect()
}

/// A word that is longer than a line in parts that fit: behind a sign that joins words where there is one, else anywhere.
fn cut(look: Look, letters: &str, blanks: &str, width: f32) -> Vec<Word> {
    let (mut out, mut part) = (Vec::new(), String::new());
    let whole: String = look.face.parts(letters).into_iter().map(|p| p.1).collect();
    let mut wide = 0.0;
    for c in signs(&whole) {
        let one = look.width(c);
        if wide + one > width && !part.is_empty() {
            let joint = part.rfind(['.', '_', '/', '(', ':', '-', ',']);
            let joint = joint.filter(|at| at + 1 < part.len() && *at > part.len() / 2);
            let rest = joint.map_or_else(String::new, |at| part.split_off(at + 1));
            out.extend(pieces(look, &part, ""));
            wide = look.width(&rest);
            part = rest;
        }
        part.push_str(c);
        wide += one;
    }
    out.extend(pieces(look, &part, blanks));
    out
}

/// The characters of a word; a sign that stands for a hidden one (`[U+202E]`) is one.
fn signs(word: &str) -> impl Iterator<Item = &str> {
    let mut rest = word;
    std::iter::from_fn(move || {
        let first = rest.chars().next()?;
        let sign = rest.strip_prefix("[U+").and_then(|r| r.find(']'));
        let length = sign.filter(|n| *n <= 6).map_or(first.len_utf8(), |n| n + 4);
        let (one, more) = rest.split_at(length);
        rest = more;
        Some(one)
    })
}

/// Words side by side; neighbours of one look become one part.
fn line(words: &[Word]) -> Line {
    let mut line = Line::default();
    let mut at = 0.0;
    for word in words {
        match (line.parts.last_mut(), &word.part) {
            (Some((_, Part::Words(look, text))), Part::Words(own, more)) if look == own => {
                text.push_str(more);
            }
            _ => line.parts.push((at, word.part.clone())),
        }
        line.width = at + word.width;
        at += word.width + word.blank;
    }
    line
}
