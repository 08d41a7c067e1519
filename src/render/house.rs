//! The shop as its records show it: name, picture, language of the fixed texts.
//!
//! Never in here: reading files. Changes when a rendering shows something else of the shop.

use std::fmt;

use serde::Serialize;

use super::words::Words;

/// Largest picture, in bytes: every rendering carries it.
pub const MAX_PICTURE: usize = 256 * 1024;
/// Most pixels of a side.
const MAX_SIDE: u32 = 4096;

/// A shop as its records show it.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct House {
    /// Its name; empty where none is to be shown.
    pub name: String,
    /// Its picture.
    pub picture: Option<Picture>,
    /// The language of the fixed texts.
    #[serde(skip)]
    pub words: Words,
}

/// A picture that a rendering carries.
#[derive(Clone, PartialEq, Eq, Serialize)]
pub struct Picture {
    /// `image/png` or `image/jpeg`.
    pub media_type: &'static str,
    /// Width in pixels.
    pub width: u32,
    /// Height in pixels.
    pub height: u32,
    /// The whole picture as a `data:` address.
    pub address: String,
    /// The file as it is.
    #[serde(skip)]
    pub bytes: Vec<u8>,
}

impl fmt::Debug for Picture {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (width, height) = (self.width, self.height);
        write!(f, "{} of {width} × {height}", self.media_type)
    }
}

impl Picture {
    /// Takes a picture in; what it is is read from its bytes, never from a name.
    ///
    /// # Errors
    /// What is neither PNG nor JPEG, is cut off, or is too large.
    pub fn read(bytes: Vec<u8>) -> Result<Self, String> {
        if bytes.len() > MAX_PICTURE {
            return Err(format!(
                "the picture is larger than {} KiB; save it smaller",
                MAX_PICTURE / 1024
            ));
        }
        let found = png(&bytes).or_else(|| jpeg(&bytes));
        let (media_type, width, height) =
            found.ok_or("neither a PNG nor a JPEG picture; save it as one of these")?;
        if width == 0 || height == 0 || width.max(height) > MAX_SIDE {
            return Err(format!(
                "the picture has {width} × {height} pixels; 1 to {MAX_SIDE} a side can be shown"
            ));
        }
        Ok(Self {
            media_type,
            width,
            height,
            address: format!("data:{media_type};base64,{}", base64(&bytes)),
            bytes,
        })
    }
}

fn number(bytes: &[u8], at: usize, length: usize) -> Option<u32> {
    let digits = bytes.get(at..at + length)?;
    Some(digits.iter().fold(0, |n, b| n << 8 | u32::from(*b)))
}

/// Width and height of a PNG (W3C PNG, third edition, 5.2 and 11.2.1): its signature, then the chunk `IHDR`.
fn png(bytes: &[u8]) -> Option<(&'static str, u32, u32)> {
    let is_png = bytes.starts_with(b"\x89PNG\r\n\x1a\n") && bytes.get(12..16)? == b"IHDR";
    let size = (number(bytes, 16, 4)?, number(bytes, 20, 4)?);
    is_png.then_some(("image/png", size.0, size.1))
}

/// Width and height of a JPEG (ITU-T T.81, annex B, from memory): segments up to the first start of frame, markers C0 to
/// CF without C4, C8 and CC.
fn jpeg(bytes: &[u8]) -> Option<(&'static str, u32, u32)> {
    if !bytes.starts_with(b"\xff\xd8\xff") {
        return None;
    }
    let mut at = 2;
    while number(bytes, at, 1)? == 0xff {
        let marker = number(bytes, at + 1, 1)?;
        if matches!(marker, 0xc0..=0xcf) && !matches!(marker, 0xc4 | 0xc8 | 0xcc) {
            let (height, width) = (number(bytes, at + 5, 2)?, number(bytes, at + 7, 2)?);
            return Some(("image/jpeg", width, height));
        }
        // A marker may be filled up with further bytes FF.
        at += match marker {
            0xff => 1,
            _ => 2 + number(bytes, at + 2, 2)? as usize,
        };
    }
    None
}

/// Bytes in base 64 (RFC 4648, section 4).
fn base64(bytes: &[u8]) -> String {
    const SIGNS: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    let mut out = String::with_capacity(bytes.len().div_ceil(3) * 4);
    for three in bytes.chunks(3) {
        let bits = (0..3).fold(0, |n, i| {
            n << 8 | usize::from(three.get(i).copied().unwrap_or(0))
        });
        for place in 0..4 {
            let sign = SIGNS[bits >> (18 - 6 * place) & 63];
            out.push(if place > three.len() {
                '='
            } else {
                char::from(sign)
            });
        }
    }
    out
}
