//! The letters of a page: which face has them, how wide they are, which glyphs they become.
//!
//! Never in here: places on a page. Changes when another face is used.

use std::sync::LazyLock;

use krilla::text::{Font, GlyphId, KrillaGlyph};
use rustybuzz::{Direction, Face as Shaper, UnicodeBuffer};

/// A face of the page. All are of the DejaVu family, which has Latin, Greek, Cyrillic, Hebrew, Arabic and signs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Face {
    /// For sentences.
    Regular,
    /// For headings and verdicts.
    Bold,
    /// For entries, digests and commands.
    Mono,
}

/// A face as the PDF embeds it and as text is shaped with it.
struct Loaded {
    font: Font,
    shaper: Shaper<'static>,
}

impl Loaded {
    fn new(data: &'static [u8]) -> Self {
        Self {
            font: Font::new(data.into(), 0).expect("the built-in face is a font"),
            shaper: Shaper::from_slice(data, 0).expect("the built-in face is a font"),
        }
    }
}

static REGULAR: LazyLock<Loaded> = LazyLock::new(|| Loaded::new(dejavu::sans_condensed::regular()));
static BOLD: LazyLock<Loaded> = LazyLock::new(|| Loaded::new(dejavu::sans_condensed::bold()));
static MONO: LazyLock<Loaded> = LazyLock::new(|| Loaded::new(dejavu::sans_mono::regular()));

impl Face {
    fn loaded(self) -> &'static Loaded {
        match self {
            Self::Regular => &REGULAR,
            Self::Bold => &BOLD,
            Self::Mono => &MONO,
        }
    }

    /// The face as the PDF embeds it.
    pub(super) fn font(self) -> Font {
        self.loaded().font.clone()
    }

    /// Whether the face has a glyph for a character that an archive may keep: private characters mean nothing to a reader.
    fn has(self, c: char) -> bool {
        let private = matches!(c, '\u{e000}'..='\u{f8ff}' | '\u{f0000}'..='\u{10ffff}');
        !private && self.loaded().shaper.glyph_index(c).is_some()
    }

    /// The glyphs of a text, from left to right on the page, in shares of the letters' size.
    pub(super) fn shape(self, text: &str, to_the_left: bool) -> Vec<KrillaGlyph> {
        let shaper = &self.loaded().shaper;
        let mut buffer = UnicodeBuffer::new();
        buffer.push_str(text);
        buffer.guess_segment_properties();
        buffer.set_direction(match to_the_left {
            true => Direction::RightToLeft,
            false => Direction::LeftToRight,
        });
        let shaped = rustybuzz::shape(shaper, &[], buffer);
        let em = shaper.units_per_em() as f32;
        let mut starts: Vec<usize> = shaped.glyph_infos().iter().map(cluster).collect();
        starts.sort_unstable();
        starts.dedup();
        let glyphs = shaped.glyph_infos().iter().zip(shaped.glyph_positions());
        let glyph = |(info, at): (&rustybuzz::GlyphInfo, &rustybuzz::GlyphPosition)| {
            let start = cluster(info);
            let next = starts.partition_point(|s| *s <= start);
            let end = starts.get(next).copied().unwrap_or(text.len());
            KrillaGlyph::new(
                GlyphId::new(info.glyph_id),
                at.x_advance as f32 / em,
                at.x_offset as f32 / em,
                at.y_offset as f32 / em,
                at.y_advance as f32 / em,
                start..end,
                None,
            )
        };
        glyphs.map(glyph).collect()
    }

    /// How wide a text is, in shares of the letters' size.
    pub(super) fn width(self, text: &str) -> f32 {
        self.shape(text, false).iter().map(|g| g.x_advance).sum()
    }

    /// The text in parts, each with a face that has all of its characters. A character that none has stands as its number.
    pub(super) fn parts(self, text: &str) -> Vec<(Self, String)> {
        let mut parts: Vec<(Self, String)> = Vec::new();
        let mut push = |face: Self, words: &str| match parts.last_mut() {
            Some((last, out)) if *last == face => out.push_str(words),
            _ => parts.push((face, words.to_owned())),
        };
        for c in text.chars() {
            let own = if self.has(c) { self } else { Self::Regular };
            if own.has(c) {
                push(own, c.encode_utf8(&mut [0; 4]));
            } else {
                push(self, &format!("[U+{:04X}]", u32::from(c)));
            }
        }
        parts
    }
}

fn cluster(info: &rustybuzz::GlyphInfo) -> usize {
    info.cluster as usize
}
