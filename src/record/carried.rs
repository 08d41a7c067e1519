//! Files that a PDF carries: the record that its pages were made from, and what was attached to it.
//!
//! Never in here: pages, judging. Changes when PDFs carry files in another way.

use std::io::Read;

use hayro_syntax::object::{Dict, Name, Object, Stream};
use hayro_syntax::{Filter, Pdf};

/// Largest file that is taken out, in bytes.
const MAX_FILE: u64 = 256 * 1024 * 1024;
/// Most files that are taken out.
const MAX_FILES: usize = 10_000;
/// Bytes at the end of a PDF in which it says that it ends.
const END: usize = 1024;
/// Most bytes of all files.
const MAX_ALL: u64 = 1024 * 1024 * 1024;

/// Whether these are the bytes of a PDF.
#[must_use]
pub fn is_pdf(bytes: &[u8]) -> bool {
    bytes.starts_with(b"%PDF-")
}

/// Whether a PDF ends as one does: with the place of its table of objects, which lies there (ISO 32000-1 7.5.5).
#[must_use]
pub fn is_whole(pdf: &[u8]) -> bool {
    const WORD: &[u8] = b"startxref";
    let end = &pdf[pdf.len().saturating_sub(END)..];
    let Some(at) = memchr::memmem::rfind(end, WORD) else {
        return false;
    };
    let rest = String::from_utf8_lossy(&end[at + WORD.len()..]);
    let mut words = rest.split_ascii_whitespace();
    let place = words.next().and_then(|n| n.parse::<usize>().ok());
    let table = place.and_then(|n| pdf.get(n..)).unwrap_or_default();
    let begins = table.trim_ascii_start();
    let lies_there = begins.starts_with(b"xref") || begins.first().is_some_and(u8::is_ascii_digit);
    lies_there && words.next().is_some_and(|w| w.starts_with("%%EOF"))
}

/// What a PDF carries.
#[derive(Debug)]
pub struct Carried {
    /// Its files, in the order of its objects.
    pub files: Vec<Vec<u8>>,
    /// The title that its pages have, if they have one.
    pub title: Option<String>,
}

/// A text of a PDF: UTF-16 behind its mark, else signs of one byte (ISO 32000-1 7.9.2).
fn text_of(bytes: &[u8]) -> String {
    match bytes.strip_prefix(&[0xfe, 0xff]) {
        Some(wide) => {
            let units = wide
                .chunks_exact(2)
                .map(|pair| u16::from_be_bytes([pair[0], pair[1]]));
            char::decode_utf16(units)
                .map(|c| c.unwrap_or(char::REPLACEMENT_CHARACTER))
                .collect()
        }
        None => String::from_utf8_lossy(bytes).into_owned(),
    }
}

/// What a PDF carries.
///
/// # Errors
/// In words: bytes that are no PDF, files that are packed in another way or are too many or too large.
pub fn carried(pdf: Vec<u8>) -> Result<Carried, String> {
    let pdf = Pdf::new(pdf)
        .map_err(|_| "a PDF that can't be read, or that is locked by a password".to_owned())?;
    let mut files = Vec::new();
    let mut all = 0;
    for object in pdf.objects() {
        let Object::Stream(stream) = object else {
            continue;
        };
        if !is_file(stream.dict()) {
            continue;
        }
        let bytes = unpacked(&stream)?;
        all += bytes.len() as u64;
        files.push(bytes);
        if files.len() > MAX_FILES || all > MAX_ALL {
            return Err(format!(
                "a PDF that carries more than {MAX_FILES} files or {} MiB",
                MAX_ALL >> 20
            ));
        }
    }
    let title = pdf.metadata().title.as_deref().map(text_of);
    Ok(Carried { files, title })
}

fn is_file(dict: &Dict<'_>) -> bool {
    let kind: Option<Name<'_>> = dict.get("Type");
    kind.is_some_and(|k| &*k == b"EmbeddedFile")
}

fn unpacked(stream: &Stream<'_>) -> Result<Vec<u8>, String> {
    let filters = stream.filters();
    let raw = stream.raw_data();
    let mut out = Vec::new();
    let read = match filters.as_slice() {
        [] => raw.as_ref().take(MAX_FILE + 1).read_to_end(&mut out),
        [Filter::FlateDecode] => {
            let packed = flate2::read::ZlibDecoder::new(raw.as_ref());
            packed.take(MAX_FILE + 1).read_to_end(&mut out)
        }
        _ => {
            return Err("a file in the PDF is packed in a way that is not read here".to_owned());
        }
    };
    read.map_err(|e| format!("a file in the PDF can't be unpacked: {e}"))?;
    if out.len() as u64 > MAX_FILE {
        return Err(format!(
            "a file in the PDF is larger than {} MiB",
            MAX_FILE >> 20
        ));
    }
    Ok(out)
}
