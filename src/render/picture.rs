//! Photographs that were attached to a record, ready to be shown: PNG and JPEG, up to a size.
//!
//! Never in here: reading files, altering a picture. Changes when pictures of another kind can be shown.

use std::sync::Arc;

use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use imagesize::ImageType;
use serde::{Serialize, Serializer};

use crate::record::{Attachment, Record};

use super::beside::Beside;
use super::clean::{clean, prose, typed};
use super::document::{Block, section};
use super::figure::time;
use super::went::{name, numbered};
use super::words::say;

/// Largest picture that is shown, in bytes.
const MAX_PICTURE: usize = 16 << 20;
/// Most bytes of all pictures of a record.
const MAX_ALL: usize = 64 << 20;
/// Most pixels along an edge: what is larger is no photograph of a bench.
const MAX_EDGE: usize = 30_000;
/// Most pixels of a picture: it is unpacked to be put on paper.
const MAX_PIXELS: usize = 100_000_000;

/// The kinds of picture that every reader can show.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// Portable Network Graphics (ISO/IEC 15948).
    Png,
    /// JPEG (ISO/IEC 10918).
    Jpeg,
}

/// A picture.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Picture {
    /// What it is, for those who see it and those who don't.
    pub caption: String,
    /// Its bytes as a `data:` address.
    #[serde(rename = "address", serialize_with = "address")]
    pub bytes: Arc<Vec<u8>>,
    /// Its kind.
    #[serde(skip)]
    pub kind: Kind,
    /// Its width and height in pixels, as it is shown.
    pub size: [usize; 2],
    /// How it has to be turned to be shown, from 1 to 8, as cameras say it (Exif 2.3, tag 0x0112; from memory).
    #[serde(skip)]
    pub turned: u8,
    /// Whether its colours are those of printing inks, which an archive keeps only with a profile of them.
    #[serde(skip)]
    pub inks: bool,
}

fn address<S: Serializer>(bytes: &Arc<Vec<u8>>, out: S) -> Result<S::Ok, S::Error> {
    let kind = match imagesize::image_type(bytes) {
        Ok(ImageType::Png) => "png",
        _ => "jpeg",
    };
    out.serialize_str(&format!(
        "data:image/{kind};base64,{}",
        STANDARD.encode(&**bytes)
    ))
}

/// The pictures of a record, and what of them can't be shown.
pub(super) fn blocks(record: &Record, beside: &Beside) -> Vec<Block> {
    let mut blocks = Vec::new();
    let mut unseen = Vec::new();
    let mut room = MAX_ALL;
    for (file, bytes) in record.attachments.iter().zip(&beside.files) {
        let Some(bytes) = bytes else { continue };
        let name = typed(&clean(&file.name));
        match picture(record, file, bytes) {
            Ok(Some(picture)) if bytes.len() <= room => {
                room -= bytes.len();
                blocks.push(Block::Picture { picture });
            }
            Ok(Some(_)) => {
                let why = say!("the pictures before it fill {mib} MiB", mib = MAX_ALL >> 20);
                unseen.push(format!("{name}: {why}"));
            }
            Ok(None) => {}
            Err(why) => unseen.push(format!("{name}: {why}")),
        }
    }
    if blocks.is_empty() && unseen.is_empty() {
        return blocks;
    }
    blocks.insert(0, section(&say!("Pictures")));
    if !unseen.is_empty() {
        blocks.push(Block::Paragraph {
            text: say!("Not shown here, but attached:"),
        });
        blocks.push(Block::List { items: unseen });
    }
    blocks
}

/// Ends of the names of pictures.
const NAMED: [&str; 9] = [
    ".jpg", ".jpeg", ".png", ".gif", ".webp", ".heic", ".bmp", ".tif", ".tiff",
];

/// An attached file as a picture; nothing where it is none and is not named like one.
fn picture(
    record: &Record,
    file: &Attachment,
    bytes: &Arc<Vec<u8>>,
) -> Result<Option<Picture>, String> {
    let (kind, seen) = match imagesize::image_type(bytes) {
        Ok(ImageType::Png) => (Kind::Png, Seen::of_png(bytes)),
        Ok(ImageType::Jpeg) => (Kind::Jpeg, Seen::of_jpeg(bytes)),
        _ => return no_picture(file, bytes).map_or(Ok(None), Err),
    };
    if bytes.len() > MAX_PICTURE {
        return Err(say!("larger than {mib} MiB", mib = MAX_PICTURE >> 20));
    }
    let size = imagesize::blob_size(bytes).map_err(|e| say!("can't be read: {why}", why = e))?;
    let edges = 1..=MAX_EDGE;
    let fits = edges.contains(&size.width) && edges.contains(&size.height);
    if !fits || size.width * size.height > MAX_PIXELS {
        return Err(say!(
            "{w} by {h} pixels, which is too large to be shown",
            w = size.width,
            h = size.height
        ));
    }
    if !seen.whole {
        return Err(say!("cut short: the end of the picture is missing"));
    }
    let on_its_side = seen.turned > 4;
    let caption = say!(
        "{name}, attached at {step} on {at}",
        name = typed(&clean(&file.name)),
        step = at_step(record, &file.path),
        at = time(&file.at)
    );
    Ok(Some(Picture {
        caption,
        bytes: bytes.clone(),
        kind,
        size: match on_its_side {
            true => [size.height, size.width],
            false => [size.width, size.height],
        },
        turned: seen.turned,
        inks: seen.inks,
    }))
}

/// A step by its number and name; by its path where the record has no such step.
fn at_step(record: &Record, path: &str) -> String {
    let mut steps = numbered(record);
    match steps.find(|(s, _)| s.path == path) {
        Some((step, number)) => say!(
            "step {number}, {name}",
            number = number,
            name = clean(&name(step))
        ),
        None => prose(&clean(path)),
    }
}

/// Why a file that is named like a picture is none.
fn no_picture(file: &Attachment, bytes: &[u8]) -> Option<String> {
    let name = file.name.to_lowercase();
    let named = NAMED.iter().any(|end| name.ends_with(end));
    named.then(|| match bytes.is_empty() {
        true => say!("empty"),
        false => say!("neither PNG nor JPEG"),
    })
}

/// What the bytes of a picture say of it besides its size.
struct Seen {
    turned: u8,
    inks: bool,
    /// Whether its end is there.
    whole: bool,
}

impl Seen {
    fn of_png(png: &[u8]) -> Self {
        Self {
            turned: 1,
            inks: false,
            whole: png.windows(4).rev().any(|w| w == b"IEND"),
        }
    }

    /// By the segments before the picture itself: frame headers tell the number of colours, Exif how it is turned.
    fn of_jpeg(jpeg: &[u8]) -> Self {
        let mut seen = Self {
            turned: 1,
            inks: false,
            whole: false,
        };
        let mut at = 2;
        while let Some([0xff, marker, high, low]) = jpeg.get(at..at + 4) {
            let end = at + 2 + usize::from(u16::from_be_bytes([*high, *low]));
            let Some(body) = jpeg.get(at + 4..end) else {
                break;
            };
            match (marker, body.strip_prefix(b"Exif\0\0")) {
                (0xe1, Some(tiff)) => seen.turned = orientation(tiff).unwrap_or(1),
                (0xc4 | 0xc8 | 0xcc, _) => {}
                (0xc0..=0xcf, _) => seen.inks = body.get(5) == Some(&4),
                // Where the picture itself begins.
                (0xda, _) => {
                    seen.whole = jpeg[end..].windows(2).any(|w| w == [0xff, 0xd9]);
                    break;
                }
                _ => {}
            }
            at = end;
        }
        seen
    }
}

/// The orientation in the first directory of a TIFF structure.
fn orientation(tiff: &[u8]) -> Option<u8> {
    let little = match tiff.get(..2)? {
        b"II" => true,
        b"MM" => false,
        _ => return None,
    };
    let short = |at: usize| -> Option<u16> {
        let two = tiff.get(at..at + 2)?.try_into().ok()?;
        Some(match little {
            true => u16::from_le_bytes(two),
            false => u16::from_be_bytes(two),
        })
    };
    let long = |at: usize| -> Option<u32> {
        let four = tiff.get(at..at + 4)?.try_into().ok()?;
        Some(match little {
            true => u32::from_le_bytes(four),
            false => u32::from_be_bytes(four),
        })
    };
    let directory = usize::try_from(long(4)?).ok()?;
    let count = usize::from(short(directory)?);
    let entry = |n: usize| directory + 2 + 12 * n;
    let found = (0..count)
        .map(entry)
        .find(|at| short(*at) == Some(0x0112))?;
    let value = u8::try_from(short(found + 8)?).ok()?;
    (1..=8).contains(&value).then_some(value)
}
