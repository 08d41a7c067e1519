//! Indents: two blanks a level, lists inside the mapping that they belong to, one blank behind a dash.
//!
//! Lines that begin nothing (of long texts and flow collections) move with what they belong to, comments with what follows, or with
//! the block that they close.
//! Never in here: blanks in flow collections. Changes when indents are evened otherwise.

use super::said::{Block, Said};

/// Evens the indents of a text.
pub fn indent(text: &str, said: &Said) -> String {
    let mut walk = Walk {
        said,
        open: Vec::new(),
        next: 0,
    };
    let mut out = String::with_capacity(text.len());
    let mut comments: Vec<(usize, &str)> = Vec::new();
    let mut start = 0;
    for line in text.split_inclusive('\n') {
        let body = line.trim_end_matches('\n');
        let content = body.trim_start_matches([' ', '\t']);
        let inside = said.is_inside(start);
        if !inside && (content.is_empty() || content.starts_with('#')) {
            comments.push((body.len() - content.len(), content));
        } else {
            let column = body.len() - content.len();
            let before = match comments.is_empty() {
                true => Vec::new(),
                false => walk.open.clone(),
            };
            let line = walk.line(start, column, content, inside);
            flush(&mut comments, &before, (column, line.1), &mut out);
            out.push_str(&line.0);
            out.push('\n');
        }
        start += line.len();
    }
    flush(&mut comments, &walk.open, (0, 0), &mut out);
    // A text that ends without a line feed is not given one here: it may end in a literal.
    if !text.ends_with('\n') {
        out.pop();
    }
    out
}

/// Writes the comments and blank lines before a line, indented as it is; those that stand deeper close the block before it,
/// and stay in that.
fn flush(
    comments: &mut Vec<(usize, &str)>,
    before: &[&Block],
    (was, wanted): (usize, usize),
    out: &mut String,
) {
    for (column, comment) in comments.drain(..) {
        if !comment.is_empty() {
            let around = before.iter().rev().find(|block| block.column <= column);
            let around = around.filter(|_| column > was).map_or(0, |b| b.wanted);
            out.push_str(&" ".repeat(around.max(wanted)));
            out.push_str(comment);
        }
        out.push('\n');
    }
}

struct Walk<'s> {
    said: &'s Said,
    open: Vec<&'s Block>,
    next: usize,
}

impl Walk<'_> {
    /// The line anew, and how far it is indented.
    fn line(
        &mut self,
        start: usize,
        column: usize,
        content: &str,
        inside: bool,
    ) -> (String, usize) {
        if !inside && column == 0 && is_mark(content) {
            return (content.to_owned(), 0);
        }
        let first = start + column;
        while let Some(block) = self.said.blocks.get(self.next).filter(|b| b.start <= first) {
            self.open.push(block);
            self.next += 1;
        }
        self.open.retain(|block| block.end > first);
        let dash = content == "-" || content.starts_with("- ");
        let of = |b: &&&Block| b.column == column && b.list == dash;
        if !inside && let Some(block) = self.open.iter().rev().find(of) {
            let content = if dash {
                dashes(content)
            } else {
                content.to_owned()
            };
            return (" ".repeat(block.wanted) + &content, block.wanted);
        }
        let around = self.open.last();
        let (was, wanted) = around.map_or((0, 0), |b| (b.column, b.wanted));
        let least = if self.is_literal(start) {
            0
        } else {
            wanted + 1
        };
        if content.is_empty() && column == 0 {
            return (String::new(), 0);
        }
        let moved = (column + wanted).saturating_sub(was).max(least);
        (" ".repeat(moved) + content, moved)
    }

    /// Whether a byte lies in a block scalar, whose blanks are its own.
    fn is_literal(&self, byte: usize) -> bool {
        let scalars = &self.said.scalars;
        let after = scalars.partition_point(|(start, ..)| *start < byte);
        after.checked_sub(1).is_some_and(|at| {
            let (_, end, block) = scalars[at];
            block && byte < end
        })
    }
}

/// Whether a line begins or ends the document.
fn is_mark(content: &str) -> bool {
    content == "..." || content == "---" || content.starts_with("--- ")
}

/// One blank behind each dash of a line.
fn dashes(content: &str) -> String {
    let Some(rest) = content.strip_prefix("- ") else {
        return content.to_owned();
    };
    let rest = rest.trim_start_matches(' ');
    if rest.starts_with('#') {
        return content.to_owned();
    }
    format!("- {}", dashes(rest))
}
