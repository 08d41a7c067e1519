//! Whichever write fails on the way from an approval to an amendment: what lies there verifies or is named, and the
//! same commands complete it.
//!
//! Never in here: entries (see `crash`). Changes when a command writes more.

use std::path::Path;

use indexmap::IndexMap;
use stepwell::app::{
    self, Amending, AppError, OpenShop, Start, amend, approve, countersign, open_shop, resume,
    runnable, start,
};
use stepwell::engine::{Event, question};
use stepwell::host::{FailingHost, Host, RealHost};
use stepwell::trust::{APPROVAL, RECORD, SecretKey, Statement};

use super::made::{Shop, folder};

/// Signs with the key of a person, which is not locked.
fn signer(
    keys: &Path,
    person: &str,
    namespace: &'static str,
) -> impl FnMut(Statement) -> Result<Option<stepwell::trust::Signature>, AppError> {
    let text = std::fs::read_to_string(keys.join(person)).expect("a key");
    let key = SecretKey::open(&text, || Some(super::made::PASSPHRASE.to_owned())).expect("open");
    move |statement| Ok(Some(statement.sign(&key, namespace).expect("a signature")))
}

/// All that leads to a countersigned record; what was done before is not done again.
fn all(host: &dyn Host, shop: &Shop) -> Result<(), AppError> {
    let open = open_shop(host, shop.path())?;
    let reviewed = app::review(host, &open, "short", "review-01")?;
    approve(
        host,
        &open,
        reviewed,
        &mut signer(shop.keys(), "review-01", APPROVAL),
    )?;
    let session = match app::list_sessions(host, &open.paths)?.first() {
        Some(session) => Some(resume(host, &open, session, None)?.session),
        None if shop.records().is_empty() => Some(begin(host, &open)?),
        None => None,
    };
    if let Some(mut session) = session {
        while let Some(event) = next(&session) {
            session.keep(event).map_err(|held| match held {
                app::Held::Refused(refusal) => AppError::new(refusal.to_string()),
                app::Held::Unwritten(error) => error,
            })?;
        }
        session.close(&open, &mut signer(shop.keys(), "tech-04", RECORD))?;
    }
    let record = shop
        .records()
        .pop()
        .expect("a record")
        .display()
        .to_string();
    let mut sign = signer(shop.keys(), "review-01", RECORD);
    countersign(host, &open, &record, "review-01", &mut sign)?;
    let what = Amending {
        record: &record,
        by: "tech-04",
        why: "wrong serial number",
        note: None,
        correction: None,
        void: false,
    };
    let mut sign = signer(shop.keys(), "tech-04", RECORD);
    amend(host, &open, &what, &mut sign).map(drop)
}

fn begin<'h>(host: &'h dyn Host, open: &OpenShop) -> Result<app::Session<'h>, AppError> {
    let how = Start {
        device: "VP-1001",
        by: "tech-04",
        occasion: "scheduled check",
        trial: false,
        with: IndexMap::new(),
        beside: true,
        other_device: false,
    };
    start(
        host,
        open,
        runnable(host, open, "short", false)?,
        &how,
        IndexMap::new(),
    )
}

fn next(session: &app::Session<'_>) -> Option<Event> {
    let question = question(&session.plan, &session.state)?;
    let text = if question.item.path == "drops" {
        "0"
    } else {
        "yes"
    };
    Some(Event::Entry {
        path: question.item.path.clone(),
        text: text.to_owned(),
        confirmed: false,
        timer: None,
        heard: None,
        at: session.now(),
    })
}

fn fresh() -> Shop {
    let shop = Shop::new();
    shop.key("tech-04");
    shop.key("review-01");
    shop
}

#[test]
fn whichever_write_fails_the_same_commands_complete_it() {
    let mut n = 1;
    loop {
        let shop = fresh();
        let Err(error) = all(&FailingHost::new(n), &shop) else {
            break;
        };
        let message = error.to_string();
        assert!(
            message.contains("disk is full") || message.contains("no space"),
            "write {n}: {message}"
        );
        // What lies there is good, or said not to be by name.
        let said = shop.says("verify");
        let named = said.text.contains("countersign")
            || said.text.contains("approvals-")
            || said.text.contains("ledger-")
            || said.text.contains("stepwell amend");
        assert!(said.code == 0 || named, "write {n}: {}", said.text);
        all(&RealHost::default(), &shop).unwrap_or_else(|e| panic!("write {n}: {e}"));
        let said = shop.says("verify --full");
        assert_eq!(said.code, 0, "write {n}: {}", said.text);
        assert_eq!(shop.records().len(), 1, "write {n}");
        let signatures = shop.record()["seal"]["signatures"].as_array().map(Vec::len);
        assert_eq!(signatures, Some(2), "write {n}");
        let years = folder(&shop.file("amendments"));
        let amendments: usize = years.iter().map(|y| folder(y).len()).sum();
        assert_eq!(amendments, 1, "write {n}");
        n += 1;
    }
    println!("{} writes failed", n - 1);
    assert!(n > 15, "the writes were not found");
}
