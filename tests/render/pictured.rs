//! Attached files that are pictures, pretend to be, or are broken.
//!
//! Never in here: where pictures lie on paper (see `tests/outside`). Changes when pictures of another kind are shown.

use std::sync::Arc;

use stepwell::record::{Attachment, Record};
use stepwell::render::pdf::Paper;
use stepwell::render::{Beside, Format, render, render_pdf};

use crate::made;

/// A photograph of 80 × 40, made with Pillow 13 (`quality=90`): red on the left, blue on the right, to be turned by a quarter.
const TURNED: &[u8] = include_bytes!("turned.jpg");
/// One of 16 × 16 in four inks, made with Pillow 13 (`CMYK`, `quality=60`).
const INKS: &[u8] = include_bytes!("inks.jpg");
/// Signature and header of a PNG (ISO/IEC 15948) of that size, in eight bits of grey; the sum is not looked at.
fn header(width: u32, height: u32) -> Vec<u8> {
    let mut png = b"\x89PNG\r\n\x1a\n\0\0\0\x0dIHDR".to_vec();
    png.extend(width.to_be_bytes());
    png.extend(height.to_be_bytes());
    png.extend([8, 0, 0, 0, 0, 0, 0, 0, 0]);
    png
}

/// A record with these files, and what is beside it.
fn with(files: &[(&str, Vec<u8>)]) -> (Record, Beside) {
    let mut record = made::retried();
    let like = record.attachments[0].clone();
    let attached = |(name, bytes): &(&str, Vec<u8>)| Attachment {
        name: (*name).to_owned(),
        bytes: bytes.len() as u64,
        ..like.clone()
    };
    record.attachments = files.iter().map(attached).collect();
    let beside = Beside {
        files: files.iter().map(|f| Some(Arc::new(f.1.clone()))).collect(),
        ..Beside::default()
    };
    (record, beside)
}

#[test]
fn what_is_no_picture_is_named_and_nothing_else_is_lost() {
    let files = [
        ("cut.jpg", TURNED[..TURNED.len() / 2].to_vec()),
        ("head.jpg", TURNED[..4].to_vec()),
        ("cut.png", header(8, 8)),
        ("huge.png", header(29_000, 29_000)),
        ("endless.png", header(4_000_000_000, 4_000_000_000)),
        ("nothing.png", header(0, 0)),
        ("text.png", b"no picture at all".to_vec()),
        ("turned.txt", TURNED.to_vec()),
        ("moving.jpg", b"GIF89a and more".to_vec()),
        ("none.png", Vec::new()),
        ("inks.jpg", INKS.to_vec()),
    ];
    let (record, beside) = with(&files);
    let html = render(&record, &beside, Format::Html).unwrap();
    for words in [
        "huge.png: 29000 by 29000 pixels, which is too large to be shown",
        "endless.png: 4000000000 by 4000000000 pixels",
        "cut.jpg: cut short: the end of the picture is missing",
        "moving.jpg: neither PNG nor JPEG",
        "none.png: empty",
    ] {
        assert!(html.contains(words), "{words}");
    }
    // A picture is known by its bytes, whatever its name; a turned one has the size in which it is shown.
    assert!(html.contains("width=\"40\" height=\"80\""));
    assert_eq!(html.matches("alt=\"text.png").count(), 0);
    // Four inks need a profile that an archive would have to keep: a page tells of such a picture by its name.
    assert!(html.contains("alt=\"inks.jpg"));
    let pdf = render_pdf(&record, &beside, Paper::A4).unwrap();
    assert!(pdf.starts_with(b"%PDF-") && pdf.len() > 10_000);
}
