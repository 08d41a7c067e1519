//! Columns that are asked for at a real terminal, once.
//!
//! Never in here: what is told in words. Changes when something else is asked.

use std::path::Path;
use std::process::Command;

use rexpect::process::WaitStatus;
use rexpect::session::{PtySession, spawn_command};

use super::made::{device, put, shop_with, text};

const REGISTER: &str = "tag,serial,location,interval,last_done\nA-1,S1,Ward 1,12,2025-03-18\n";
/// Longest that an answer is waited for, in milliseconds.
const PATIENCE_MS: u64 = 15_000;

fn sit(shop: &Path) -> PtySession {
    let mut command = Command::new("sh");
    command.args([
        "-c",
        "stty rows 24 cols 80 echo && exec \"$0\" \"$@\"",
        env!("CARGO_BIN_EXE_stepwell"),
    ]);
    command
        .args(["devices", "import", "in.csv"])
        .current_dir(shop);
    spawn_command(command, Some(PATIENCE_MS)).expect("a terminal")
}

fn leaves(mut session: PtySession) -> i32 {
    session.exp_eof().expect("an end");
    match session.process().wait() {
        Ok(WaitStatus::Exited(_, code)) => code,
        other => panic!("{other:?}"),
    }
}

#[test]
fn columns_and_days_are_asked_once() {
    let shop = shop_with(REGISTER);
    put(
        shop.path(),
        "in.csv",
        "Serial;Farbe;Inv.Nr.;Checked on\nS1;grey;A-1;03/04/2026\n",
    );
    let mut session = sit(shop.path());
    let mut turn = |sees: &str, types: &str| {
        session
            .exp_string(sees)
            .unwrap_or_else(|e| panic!("{sees}: {e}"));
        session.send_line(types).expect("a terminal");
    };
    turn("column 2 `Farbe` (first value `grey`) is: ", "");
    turn("column 3 `Inv.Nr.` (first value `A-1`) is: ", "tga");
    turn("column 3 `Inv.Nr.` (first value `A-1`) is: ", "serial");
    turn("column 3 `Inv.Nr.` (first value `A-1`) is: ", "tag");
    turn(
        "column 4 `Checked on` (first value `03/04/2026`) is: ",
        "last done",
    );
    // Year first would not fit, and is offered last.
    turn("1 31.03.2026 (day-month-year)", "1");
    session
        .exp_string("devices.csv is written")
        .expect("an end");
    assert_eq!(leaves(session), 0);
    assert_eq!(device(shop.path(), "A-1")["last_done"], "2026-04-03");
    put(
        shop.path(),
        "in.csv",
        "Serial;Farbe;Inv.Nr.;Checked on\nS1;grey;A-1;05/04/2026\n",
    );
    let mut again = sit(shop.path());
    again
        .exp_string("devices.csv is written")
        .expect("nothing is asked");
    assert_eq!(leaves(again), 0);
    assert_eq!(device(shop.path(), "A-1")["last_done"], "2026-04-05");
}

#[test]
fn who_leaves_changes_nothing() {
    let shop = shop_with(REGISTER);
    put(shop.path(), "in.csv", "Inv.Nr.\nA-1\n");
    let mut session = sit(shop.path());
    session.exp_string("is: ").expect("a question");
    session.send_control('d').expect("a terminal");
    session.exp_string("nothing was imported").expect("an end");
    assert_eq!(leaves(session), 2);
    assert_eq!(text(shop.path(), "devices.csv"), REGISTER);
    assert!(!shop.path().join("imports.yaml").exists());
}
