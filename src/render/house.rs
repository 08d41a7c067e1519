//! The shop as its records show it: name, picture, language of the fixed texts.
//!
//! Never in here: reading files. Changes when a rendering shows something else of the shop.

use std::fmt;

use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use imagesize::ImageType;
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
    pub picture: Option<Emblem>,
    /// The language of the fixed texts.
    #[serde(skip)]
    pub words: Words,
}

/// A picture that a rendering carries.
#[derive(Clone, PartialEq, Eq, Serialize)]
pub struct Emblem {
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

impl fmt::Debug for Emblem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (width, height) = (self.width, self.height);
        write!(f, "{} of {width} × {height}", self.media_type)
    }
}

impl Emblem {
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
        let media_type = match imagesize::image_type(&bytes) {
            Ok(ImageType::Png) => "image/png",
            Ok(ImageType::Jpeg) => "image/jpeg",
            _ => return Err("neither a PNG nor a JPEG picture; save it as one of these".to_owned()),
        };
        let size = imagesize::blob_size(&bytes);
        let size = size.map_err(|e| format!("the picture can't be read: {e}"))?;
        let side = |v: usize| u32::try_from(v).unwrap_or(u32::MAX);
        let (width, height) = (side(size.width), side(size.height));
        if width == 0 || height == 0 || width.max(height) > MAX_SIDE {
            return Err(format!(
                "the picture has {width} × {height} pixels; 1 to {MAX_SIDE} a side can be shown"
            ));
        }
        Ok(Self {
            media_type,
            width,
            height,
            address: format!("data:{media_type};base64,{}", STANDARD.encode(&bytes)),
            bytes,
        })
    }
}
