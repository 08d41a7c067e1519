//! A journal cut at every byte: at most the last line is lost, and it is said.
//!
//! Never in here: how lines get torn. Changes when the form of the lines does.

use std::path::Path;

use stepwell::app::{Session, resume};
use stepwell::host::RealHost;
use stepwell::journal::{recover, replay};
use stepwell::record::Record;
use stepwell::shop::Paths;

use super::made::{ATTACHED, SCRIPT, attachment, bare, begin, go_on, only_record, open, shop};

/// A whole session: its id, its journal with the closing line, and the record.
struct Whole {
    session: String,
    journal: Vec<u8>,
    record: Record,
}

/// The journal is gone after closing; its lines are those of the record.
fn whole(folder: &Path) -> Whole {
    let host = RealHost::default();
    let mut session = begin(&host, &open(folder), "every-verb").expect("a session");
    go_on(&mut session, &SCRIPT).expect("a disk with room");
    let id = session.head.session.clone();
    let mut journal = std::fs::read(session.journal()).expect("a journal");
    let (record, _) = session
        .close(&open(folder), &mut |_| Ok(None))
        .expect("a record");
    let closing = record.journal.last().expect("a closing line");
    journal.extend(format!("{closing}\n").into_bytes());
    Whole {
        session: id,
        journal,
        record,
    }
}

/// Where the whole lines end.
fn ends(journal: &[u8]) -> Vec<usize> {
    let feeds = journal.iter().enumerate().filter(|(_, b)| **b == b'\n');
    feeds.map(|(at, _)| at + 1).collect()
}

#[test]
fn a_cut_loses_at_most_the_last_line_and_says_so() {
    let folder = shop();
    let whole = whole(folder.path());
    let ends = ends(&whole.journal);
    assert_eq!(
        ends.len(),
        SCRIPT.len() + 2,
        "a head, the script, the closing"
    );
    let plan = stepwell::recipe::read(stepwell::text::Source::new("r", super::made::EVERY_VERB))
        .plan
        .expect("a good recipe");
    for cut in 0..=whole.journal.len() {
        let found = recover(&whole.journal[..cut]);
        let lines = ends.iter().filter(|end| **end <= cut).count();
        if lines == 0 {
            let damage = found.expect_err("a head that is torn");
            assert_eq!(damage.line, 1);
            continue;
        }
        let found = found.unwrap_or_else(|e| panic!("cut at byte {cut}: {e}"));
        let end = ends[lines - 1];
        assert_eq!(found.events.len(), lines - 1, "cut at byte {cut}");
        assert_eq!(found.length, end as u64, "cut at byte {cut}");
        let torn = &whole.journal[end..cut];
        match &found.lost {
            None => assert!(torn.is_empty(), "cut at byte {cut}: nothing was said"),
            Some(said) => {
                let torn = String::from_utf8_lossy(torn);
                assert!(
                    !torn.is_empty() && torn.starts_with(said.as_str()),
                    "{said}"
                );
            }
        }
        replay(&plan, &mut found.head.bench(), &found.events, &|_| None)
            .unwrap_or_else(|e| panic!("cut at byte {cut}: {e}"));
    }
}

/// Only a torn end can come from a crash: damage before it is told by its line, and nothing is dropped.
#[test]
fn damage_before_the_last_line_is_an_error() {
    let folder = shop();
    let whole = whole(folder.path());
    let ends = ends(&whole.journal);
    for (number, end) in (1..).zip(&ends[..ends.len() - 1]) {
        let mut journal = whole.journal.clone();
        // The brace that closes the line.
        journal[end - 2] = b' ';
        let damage = recover(&journal).expect_err("a line that can't be read");
        assert_eq!(damage.line, number, "{damage}");
    }
}

/// Every line end with its neighbours, and some places within the lines.
fn sample(journal: &[u8]) -> Vec<usize> {
    let ends = ends(journal);
    let near = ends.iter().flat_map(|end| [end - 1, *end, end + 1]);
    let within = ends.windows(2).map(|w| w[0] + (w[1] - w[0]) * 2 / 3);
    let mut all: Vec<usize> = near.chain(within).collect();
    all.retain(|cut| (ends[0]..=journal.len()).contains(cut));
    all.sort_unstable();
    all.dedup();
    all
}

#[test]
fn a_session_that_was_cut_ends_in_the_same_record() {
    let folder = shop();
    let whole = whole(folder.path());
    let ends = ends(&whole.journal);
    for cut in sample(&whole.journal) {
        let folder = shop();
        let paths = Paths::at(folder.path());
        std::fs::create_dir_all(paths.sessions()).expect("a folder");
        std::fs::write(paths.journal(&whole.session), &whole.journal[..cut]).expect("a journal");
        std::fs::create_dir_all(paths.attachments()).expect("a folder");
        std::fs::write(attachment(folder.path()), ATTACHED).expect("an attachment");
        let host = RealHost::default();
        let resumed = resume(&host, &open(folder.path()), &whole.session, None)
            .unwrap_or_else(|e| panic!("cut at byte {cut}: {e}"));
        assert_eq!(
            resumed.lost.is_some(),
            !ends.contains(&cut),
            "cut at byte {cut}"
        );
        finish(resumed.session, folder.path());
        let record = only_record(folder.path());
        assert_eq!(bare(&record), bare(&whole.record), "cut at byte {cut}");
    }
}

fn finish(mut session: Session<'_>, folder: &Path) {
    go_on(&mut session, &SCRIPT).expect("a disk with room");
    session
        .close(&open(folder), &mut |_| Ok(None))
        .expect("a record");
}
