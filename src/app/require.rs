//! What the shop's policy wants in a record before it is sealed.
//!
//! Never in here: who may do what (see `shop::policy`). Changes when a requirement is added.

use crate::engine::{Ended, File, Status};
use crate::shop::{Requirement, Shop};

use super::Session;

/// The endings of files that are taken for pictures, if their first bytes say so too.
const PICTURES: [&str; 5] = ["png", "jpg", "jpeg", "heic", "webp"];

/// What is still missing, a sentence each. A session that was stopped lacks what it lacks.
#[must_use]
pub fn missing(shop: &Shop, session: &Session<'_>) -> Vec<String> {
    if matches!(session.state.ended, Some(Ended::Stopped(_))) {
        return Vec::new();
    }
    let required = shop.required(&session.head.occasion);
    required.flat_map(|r| lacking(r, session)).collect()
}

fn lacking(required: &Requirement, session: &Session<'_>) -> Vec<String> {
    let (plan, state) = (&session.plan, &session.state);
    let files = || state.items.iter().flat_map(|i| &i.files);
    // Only what is asked for is worth a look into files.
    let named = files().filter(|f| required.photographs > 0 && is_named_as_picture(&f.name));
    let (pictures, others): (Vec<&File>, Vec<&File>) =
        named.partition(|f| session.attached(&f.digest).is_some_and(|b| is_picture(&b)));
    let pictures = pictures.len();
    let notes: usize = state.items.iter().map(|i| i.notes.len()).sum();
    let mut all = Vec::new();
    let mut count = |wanted: u32, there: usize, what: &str, how: &str| {
        if (wanted as usize) > there {
            let many = if wanted == 1 { "" } else { "s" };
            all.push(format!(
                "this shop asks for {wanted} {what}{many}; so far there are {there}: {how}"
            ));
        }
    };
    let file = "`:file PATH` attaches one";
    count(required.photographs, pictures, "photograph", file);
    count(required.files, files().count(), "attached file", file);
    count(required.notes, notes, "note", "`:note TEXT` writes one");
    if (required.photographs as usize) > pictures {
        all.extend(others.iter().map(|f| {
            format!(
                "`{}` is named as a picture, but is no PNG, JPEG, HEIC or WebP one",
                f.name
            )
        }));
    }
    let skipped = plan.items.iter().zip(&state.items).filter(|(item, went)| {
        matches!(went.status, Status::Skipped(_) | Status::Undone(_))
            && required.entries.contains(&item.path)
    });
    all.extend(skipped.map(|(item, _)| {
        format!(
            "this shop asks for `{0}`, which was skipped: `:fix {0}` takes it up again",
            item.path
        )
    }));
    all
}

fn is_named_as_picture(name: &str) -> bool {
    let ending = name.rsplit_once('.').map(|(_, e)| e.to_lowercase());
    ending.is_some_and(|e| PICTURES.contains(&e.as_str()))
}

/// Whether the first bytes are those of a picture: PNG (ISO/IEC 15948, 5.2), JPEG (ISO/IEC 10918-1, SOI marker), HEIC
/// (ISO/IEC 23008-12, brands of the `ftyp` box), WebP (RFC 9649, 2.4).
fn is_picture(bytes: &[u8]) -> bool {
    let at = |from: usize, wanted: &[u8]| bytes.get(from..from + wanted.len()) == Some(wanted);
    let brands: [&[u8]; 6] = [b"heic", b"heix", b"heim", b"heis", b"mif1", b"msf1"];
    at(0, b"\x89PNG\r\n\x1a\n")
        || at(0, b"\xff\xd8\xff")
        || (at(0, b"RIFF") && at(8, b"WEBP"))
        || (at(4, b"ftyp") && brands.iter().any(|brand| at(8, brand)))
}
