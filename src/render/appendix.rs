//! What stands behind the result: instruments, grounds of the limits, attached files, uncertainty, signatures, digests.
//!
//! Never in here: results. Changes when a record can be checked in another way.

use crate::quantity::Unit;
use crate::record::Record;

use super::beside::Beside;
use super::clean::{prose, typed};
use super::document::{Block, Cell, Column, Fact, section};
use super::figure::time_since;
use super::kinds::kind;
use super::went::{name, numbered};
use super::words::{counted, fixed, said, say};
use super::{budget, long, picture, signed, uncertain};

pub(super) fn blocks(record: &Record, beside: &Beside) -> Vec<Block> {
    let mut blocks = instruments(record);
    blocks.extend(basis(record));
    blocks.extend(attachments(record));
    blocks.extend(picture::blocks(record, beside));
    blocks.extend(uncertain::statement(record));
    blocks.extend(budget::blocks(record));
    blocks.extend(signatures(record, beside));
    blocks.extend(long::blocks(record, beside));
    blocks.extend(verification(record));
    blocks
}

fn instruments(record: &Record) -> Vec<Block> {
    let mut blocks = vec![section(&say!("Instruments"))];
    if record.instruments.is_empty() {
        blocks.push(Block::Paragraph {
            text: say!("No instrument is named in this record."),
        });
        return blocks;
    }
    let rows = record.instruments.iter().map(|(role, i)| {
        let measures = i.measures.iter().map(|(of, m)| {
            let range = m
                .range
                .as_ref()
                .map(|[low, high]| say!("{low} to {high}", low = low, high = high));
            let accuracy = m
                .accuracy
                .as_ref()
                .map(|a| say!("accuracy ± ({accuracy})", accuracy = terms(a, of)));
            let limits = m.limits.as_ref().map(|l| match l.as_str() {
                "rectangular" => say!("rectangular limits"),
                other => other.to_owned(),
            });
            let k = m.k.as_ref().map(|k| format!("k = {k}"));
            let resolution = m
                .resolution
                .as_ref()
                .map(|r| say!("resolution {step}", step = r));
            let parts = [range, accuracy, limits, k, resolution];
            let parts: Vec<String> = parts.into_iter().flatten().collect();
            prose(&format!("{}: {}", kind(of), parts.join(", ")))
        });
        vec![
            Cell::new(long::at_the_end(&of_role(
                role,
                [&i.id, &i.kind, &i.serial],
            ))),
            Cell::new(long::at_the_end(&i.certificate)),
            Cell::new(prose(&i.calibrated)),
            Cell::new(prose(&i.due)),
            Cell::new(measures.collect::<Vec<_>>().join("; ")),
        ]
    });
    let header = Column::all([
        (fixed!("Instrument"), 23),
        (fixed!("Certificate"), 18),
        (fixed!("Calibrated"), 13),
        (fixed!("Due"), 13),
        (fixed!("Range and accuracy"), 33),
    ]);
    blocks.push(Block::Table {
        caption: say!("As the shop's register had them on the day of the test"),
        header,
        rows: rows.collect(),
        dense: false,
    });
    blocks
}

/// An instrument in its role by its id, its kind and its serial number.
pub(super) fn of_role(role: &str, [id, kind, serial]: [&str; 3]) -> String {
    let serial = Some(prose(serial)).filter(|s| !s.is_empty());
    let serial = serial.map_or_else(String::new, |s| {
        say!(", serial number {serial}", serial = s)
    });
    prose(&format!("{id} ({role}): {kind}{serial}"))
}

/// The terms of an accuracy, with what a percentage is of: of the reading, but of a kind that is itself a ratio it is
/// absolute (see `Accuracy::parse`).
fn terms(accuracy: &str, kind: &str) -> String {
    let is_ratio = Unit::parse("%").is_ok_and(|u| u.kind().dimension.name() == kind);
    let term = |term: &str| {
        let is_share = term.ends_with('%') || term.ends_with("ppm");
        match (is_share, is_ratio) {
            (false, _) => term.to_owned(),
            (true, true) => say!("{share}, absolute", share = term),
            (true, false) => say!("{share} of the reading", share = term),
        }
    };
    let told: Vec<String> = accuracy.split('+').map(|t| term(t.trim())).collect();
    told.join(" + ")
}

fn basis(record: &Record) -> Vec<Block> {
    if record.basis.is_empty() {
        return Vec::new();
    }
    let facts = record
        .basis
        .iter()
        .map(|(key, text)| Fact::new(prose(key), prose(text)));
    vec![
        section(&say!("Basis of the limits")),
        Block::Facts {
            facts: facts.collect(),
            brief: false,
        },
    ]
}

fn attachments(record: &Record) -> Vec<Block> {
    if record.attachments.is_empty() {
        return Vec::new();
    }
    let rows = record.attachments.iter().map(|f| {
        let mut steps = numbered(record);
        let step = match steps.find(|(s, _)| s.path == f.path) {
            Some((step, number)) => Cell {
                step: Some(number),
                ..Cell::new(format!("{number}. {}", name(step)))
            },
            None => Cell::new(prose(&f.path)),
        };
        vec![
            Cell::new(typed(&f.name)),
            step,
            Cell::new(size(f.bytes)),
            Cell::new(time_since(&f.at, &record.started)),
            Cell::new(prose(&f.digest)),
        ]
    });
    let header = Column::all([
        (fixed!("File"), 21),
        (fixed!("Step"), 21),
        (fixed!("Size"), 9),
        (fixed!("Attached"), 11),
        (fixed!("Digest"), 38),
    ]);
    vec![
        section(&say!("Attachments")),
        Block::Table {
            caption: counted(record.attachments.len(), fixed!("file"), fixed!("files")),
            header,
            rows: rows.collect(),
            dense: false,
        },
    ]
}

/// The size of a file, in kB of 1000 bytes where it has some.
fn size(bytes: u64) -> String {
    match bytes {
        0..1000 => format!("{bytes} B"),
        _ => format!("{} kB", (bytes + 500) / 1000),
    }
}

fn signatures(record: &Record, beside: &Beside) -> Vec<Block> {
    let mut blocks = vec![section(&say!("Signatures"))];
    let text = match record.seal.signatures.len() {
        0 => say!(
            "Nobody has signed. Until somebody does, the record rests on the digest below, on the shop's ledger, and on its own custody of both."
        ),
        1 => say!(
            "1 signature, {found}.",
            found = signed::checked(record, beside)
        ),
        n => say!(
            "{n} signatures, {found}.",
            n = n,
            found = signed::checked(record, beside)
        ),
    };
    blocks.push(Block::Paragraph { text });
    if !record.seal.signatures.is_empty() {
        blocks.push(Block::Facts {
            facts: signed::by_keys(record),
            brief: false,
        });
    }
    blocks
}

/// The line that computes the digest without this program.
const DIGEST_BY_ONESELF: (&str, &str) = (
    fixed!("Digest"),
    "jq -cS 'del(.seal)' FILE | tr -d '\\n' | sha256sum",
);

/// The lines that check the first signature without this program.
const SIGNATURE_BY_ONESELF: [(&str, &str); 4] = [
    (
        fixed!("What was signed"),
        "jq -cSj '.seal.signatures[0] | del(.signature)' FILE > SIGNED",
    ),
    (
        fixed!("Its signature"),
        "jq -j '.seal.signatures[0].signature' FILE > SIGNED.sig",
    ),
    (
        fixed!("By whatever key"),
        "ssh-keygen -Y check-novalidate -n stepwell-record -s SIGNED.sig < SIGNED",
    ),
    (
        fixed!("Check"),
        "ssh-keygen -Y verify -f ALLOWED -I PERSON -n stepwell-record -s SIGNED.sig < SIGNED",
    ),
];

fn verification(record: &Record) -> Vec<Block> {
    let signed = !record.seal.signatures.is_empty();
    let facts = vec![
        Fact::new(say!("Digest of the record"), prose(&record.seal.digest)).literal(),
        Fact::new(say!("Digest of the recipe"), prose(&record.recipe.digest)).literal(),
        Fact::new(say!("Session"), prose(&record.session)).literal(),
        Fact::new(
            say!("Written by"),
            format!("stepwell {}", prose(&record.program)),
        ),
    ];
    let items = [
        say!(
            "With the program: stepwell verify FILE, where FILE is the record's JSON file, or a PDF of the record, which carries that file. It computes the digest, every value and every verdict again from the entries in the journal, under the recipe that the record carries, and checks signatures, ledger and approval."
        ),
        say!(
            "Without the program: take the JSON file, remove the member “seal”, write the rest in the canonical form of RFC 8785, and compute SHA-256 over those bytes. The result must be the digest of the record as printed here."
        ),
        match signed {
            true => say!(
                "The lines below do that with jq, for records without logs, and check the first signature (0; the next is 1) with OpenSSH. By whatever key the signature holds, OpenSSH names that key; whose it is, the last line tells: ALLOWED is what stepwell people export writes, PERSON is the id of who signed."
            ),
            false => say!("The line below does that with jq, for records without logs."),
        },
        say!(
            "The digest of the recipe is SHA-256 over its text as it stands in the record, recipe.source."
        ),
        say!(
            "This page is only a rendering. The JSON file is the record; a PDF of the record carries it as an attached file."
        ),
    ];
    let of_signature = SIGNATURE_BY_ONESELF.iter().filter(|_| signed);
    let lines = std::iter::once(&DIGEST_BY_ONESELF).chain(of_signature);
    let lines = lines.map(|(label, line)| Fact::new(said(label, &[]), *line).literal());
    vec![
        section(&say!("How to verify this record")),
        Block::Facts {
            facts,
            brief: false,
        },
        Block::List {
            items: items.to_vec(),
        },
        Block::Facts {
            facts: lines.collect(),
            brief: false,
        },
    ]
}
