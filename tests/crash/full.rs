//! A disk that fills up: whichever write fails first, what was accepted is kept, and the session can be finished.
//!
//! Never in here: other faults. Changes when something else is written.

use std::path::Path;

use stepwell::app::{AppError, Held, list_sessions, resume};
use stepwell::engine::Event;
use stepwell::host::{FailingHost, Host, RealHost};
use stepwell::journal::recover;
use stepwell::shop::Paths;

use super::made::{
    ATTACHED, SCRIPT, attachment, begin, go_on, in_records, only_record, open, shop,
};

/// Begins a session, or takes up the one that is open, and goes on to its end.
fn to_the_end(host: &dyn Host, folder: &Path) -> Result<(), AppError> {
    let paths = Paths::at(folder);
    let mut session = match list_sessions(host, &paths)?.first() {
        Some(session) => resume(host, &open(folder), session, None)?.session,
        None => begin(host, &open(folder), "every-verb")?,
    };
    go_on(&mut session, &SCRIPT)?;
    session.close(&open(folder), &mut |_| Ok(None)).map(drop)
}

/// What lies in the folder of records is whole: records by their name and nothing else.
fn records_are_whole(folder: &Path) {
    for name in in_records(folder) {
        assert!(name.ends_with(".json") && !name.starts_with('.'), "{name}");
        only_record(folder);
    }
}

fn says_what_is_safe(message: &str, folder: &Path, n: usize) {
    assert!(message.contains("disk is full"), "write {n}: {message}");
    let open = list_sessions(&RealHost::default(), &Paths::at(folder)).expect("a folder");
    match open.first() {
        Some(session) => {
            let resume = format!("stepwell resume {session}");
            let told = message.contains("safe") && message.contains(&resume);
            // A file that can't be kept is refused before the entry; the walk goes on.
            let attaching = message.contains("attachments");
            assert!(told || attaching, "write {n}: {message}");
        }
        None => assert!(message.contains("not begun"), "write {n}: {message}"),
    }
}

#[test]
fn whichever_write_fails_the_session_can_be_finished() {
    let undisturbed = shop();
    to_the_end(&RealHost::default(), undisturbed.path()).expect("a disk with room");
    let wanted = only_record(undisturbed.path());
    let mut n = 1;
    loop {
        let folder = shop();
        let Err(error) = to_the_end(&FailingHost::new(n), folder.path()) else {
            break;
        };
        says_what_is_safe(&error.to_string(), folder.path(), n);
        records_are_whole(folder.path());
        to_the_end(&RealHost::default(), folder.path())
            .unwrap_or_else(|e| panic!("write {n}: {e}"));
        let record = only_record(folder.path());
        assert_eq!(
            super::made::bare(&record),
            super::made::bare(&wanted),
            "write {n}"
        );
        assert_eq!(
            in_records(folder.path()),
            [format!("{}.json", record.record)]
        );
        assert_eq!(
            std::fs::read(attachment(folder.path())).expect("kept"),
            ATTACHED
        );
        n += 1;
    }
    assert!(n > SCRIPT.len() + 5, "only {n} writes were tried");
}

/// The disk is still full when the session is taken up again, for one, two, three … writes.
#[test]
fn a_disk_that_is_still_full_costs_nothing_more() {
    let folder = shop();
    to_the_end(&FailingHost::new(9), folder.path()).expect_err("a full disk");
    let mut n = 1;
    while let Err(error) = to_the_end(&FailingHost::new(n), folder.path()) {
        says_what_is_safe(&error.to_string(), folder.path(), n);
        records_are_whole(folder.path());
        n += 1;
    }
    let record = only_record(folder.path());
    assert_eq!(record.verdict, "pass with remarks");
    assert!(n > 3, "only {n} writes were tried");
}

/// A caller that goes on after a failed write must not append to half a line.
#[test]
fn after_a_failed_write_a_session_takes_nothing_more() {
    let folder = shop();
    let host = FailingHost::new(5);
    let mut session = begin(&host, &open(folder.path()), "every-verb").expect("a session");
    go_on(&mut session, &SCRIPT).expect_err("a full disk");
    let path = session.journal();
    let torn = std::fs::read(&path).expect("a journal");
    let at = session.now();
    let late = session.keep(Event::Pause { at });
    assert!(matches!(late, Err(Held::Unwritten(_))), "{late:?}");
    assert_eq!(std::fs::read(&path).expect("a journal"), torn);
    drop(session);
    let found = recover(&torn).expect("only the last line is torn");
    assert_eq!((found.events.len(), found.lost.is_some()), (2, true));
    to_the_end(&RealHost::default(), folder.path()).expect("a disk with room");
    assert_eq!(only_record(folder.path()).verdict, "pass with remarks");
}
