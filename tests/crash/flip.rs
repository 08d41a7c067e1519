//! One byte of a record changed: it is found, whichever byte it is.
//!
//! Never in here: what is verified. Changes when a record rests on something new.

use stepwell::host::RealHost;
use stepwell::record::{Answer, Known, verify};

use super::made::{Act, begin, go_on, open, shop};

/// The lowest bit, and what turns a blank into a line feed and back.
const MASKS: [u8; 2] = [0x01, 0x2A];

fn small_record() -> String {
    let folder = shop();
    let host = RealHost::default();
    let mut session = begin(&host, &open(folder.path()), "small").expect("a session");
    go_on(&mut session, &[Act::Entry("a", "5.02", false)]).expect("a disk with room");
    let (_, path) = session
        .close(&open(folder.path()), &mut |_| Ok(None))
        .expect("a record");
    std::fs::read_to_string(path).expect("a record")
}

/// Whether a text is told to be a record with nothing bad in it.
fn is_good(bytes: &[u8]) -> bool {
    let Ok(text) = std::str::from_utf8(bytes) else {
        return false;
    };
    verify(text, &|_| None, &Known::default())
        .is_ok_and(|(_, c)| c.iter().all(|c| c.answer != Answer::Bad))
}

/// The flips of one mask that are not found.
fn unfound(record: &str, mask: u8) -> Vec<usize> {
    let flipped = |at: usize| {
        let mut bytes = record.as_bytes().to_vec();
        bytes[at] ^= mask;
        bytes
    };
    (0..record.len())
        .filter(|at| is_good(&flipped(*at)))
        .collect()
}

/// The places of blanks and line feeds outside of texts: the layout of the file, not its content.
fn layout(record: &str) -> Vec<usize> {
    let (mut inside, mut escaped) = (false, false);
    let mut found = Vec::new();
    for (at, byte) in record.bytes().enumerate() {
        match byte {
            _ if escaped => escaped = false,
            b'\\' => escaped = inside,
            b'"' => inside = !inside,
            b' ' | b'\n' if !inside => found.push(at),
            _ => {}
        }
    }
    found
}

#[test]
fn every_flip_is_found() {
    let record = small_record();
    assert!(is_good(record.as_bytes()));
    let unfound: Vec<Vec<usize>> = std::thread::scope(|scope| {
        let threads = MASKS.map(|mask| {
            let record = &record;
            scope.spawn(move || unfound(record, mask))
        });
        threads.map(|t| t.join().expect("no panic")).into()
    });
    // A blank that became a line feed between two values, or the other way about, is another layout of the same record.
    let layout = layout(&record);
    println!(
        "{} bytes; {} flips change the layout only",
        record.len(),
        layout.len()
    );
    let differ = unfound[1].iter().zip(&layout).find(|(a, b)| a != b);
    assert_eq!((differ, unfound[1].len()), (None, layout.len()));
    assert!(unfound[0].is_empty(), "{:?}", unfound[0]);
}
