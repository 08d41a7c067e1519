//! What stands at the head and the foot of each page.
//!
//! Never in here: what a page holds between them. Changes when something else has to be on every page.

use super::super::Document;
use super::face::Face;
use super::ink::Ink;
use super::line::{Line, Look, fitted};
use super::{Around, MARGINS};

/// Letters at the edges.
const EDGE: Look = Look::new(Face::Regular, 8.0, Ink::Black);

/// A line with its place.
pub(super) type Edge = (f32, f32, Line);

/// The lines of each page.
pub(super) fn edges(
    document: &Document,
    around: &Around,
    pages: usize,
    (width, height): (f32, f32),
) -> Vec<Vec<Edge>> {
    let room = width - 2.0 * MARGINS.0;
    let (top, foot) = (MARGINS.1 - 22.0, height - MARGINS.2 + 24.0);
    let left = |y, text: &str| (MARGINS.0, y, fitted(EDGE, text, room * 0.6));
    let right = |y, text: &str| {
        let line = fitted(EDGE, text, room * 0.35);
        (width - MARGINS.0 - line.width, y, line)
    };

    let numbered = match around.numbered.as_str() {
        "" => "page {n} of {all}",
        own => own,
    };
    let page = |n: usize| {
        let number = numbered
            .replace("{n}", &(n + 1).to_string())
            .replace("{all}", &pages.to_string());
        let head = match around.head_later.as_str() {
            later if n > 0 && !later.is_empty() => later,
            _ => &around.head_left,
        };
        let mut lines = vec![
            left(top, head),
            right(top, &around.head_right),
            left(foot, &around.foot_left),
            right(foot, &number),
        ];
        if let Some(running) = &document.running {
            let face = Face::Bold;
            let line = fitted(Look { face, ..EDGE }, running, room);
            let middle = (width - line.width) / 2.0;
            // On lines of their own, so that nothing of them is cut.
            lines.push((middle, top - 11.0, line.clone()));
            lines.push((middle, foot - 11.0, line));
        }
        lines
    };
    (0..pages).map(page).collect()
}
