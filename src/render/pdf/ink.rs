//! The colours of a page. Each is dark enough on white for small letters, and none means anything by itself.
//!
//! Never in here: shapes. Changes when a page gets another colour.

use krilla::color::rgb;

use super::super::document::Shape;

/// A colour by what it is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Ink {
    /// Sentences and lines.
    Black,
    /// Less important words.
    Soft,
    /// Rules between rows.
    Rule,
    /// What was met.
    Good,
    /// What was not met.
    Bad,
    /// What has to be heeded.
    Heed,
    /// The paper.
    Paper,
}

impl Ink {
    /// The colour of a mark.
    pub(super) fn of(shape: Shape) -> Self {
        match shape {
            Shape::Pass => Self::Good,
            Shape::Fail | Shape::ConditionalFail => Self::Bad,
            Shape::Remark | Shape::ConditionalPass | Shape::Open => Self::Heed,
            Shape::Void => Self::Black,
            Shape::Plain => Self::Soft,
        }
    }

    pub(super) fn color(self) -> rgb::Color {
        let [r, g, b] = match self {
            Self::Black => [0, 0, 0],
            Self::Soft => [0x33, 0x33, 0x33],
            Self::Rule => [0x99, 0x99, 0x99],
            Self::Good => [0x0c, 0x4a, 0x28],
            Self::Bad => [0x7d, 0x0f, 0x0f],
            Self::Heed => [0x5c, 0x38, 0x00],
            Self::Paper => [0xff, 0xff, 0xff],
        };
        rgb::Color::new(r, g, b)
    }
}
