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
/// Most bytes of all files.
const MAX_ALL: u64 = 1024 * 1024 * 1024;

/// Whether these are the bytes of a PDF.
#[must_use]
pub fn is_pdf(bytes: &[u8]) -> bool {
    bytes.starts_with(b"%PDF-")
}

/// The files that a PDF carries, in the order of its objects.
///
/// # Errors
/// In words: bytes that are no PDF, files that are packed in another way or are too many or too large.
pub fn carried(pdf: Vec<u8>) -> Result<Vec<Vec<u8>>, String> {
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
    Ok(files)
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
