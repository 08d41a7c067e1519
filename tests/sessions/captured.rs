//! Values read from instruments that speak: shown, confirmed, marked in the record; whatever else comes, nothing is entered.
//!
//! Never in here: how a number is picked out of a line. Changes when a reading is offered otherwise.

use std::path::Path;
use std::process::Command;
use std::time::{Duration, Instant};

use tempfile::TempDir;

use super::made::{journal, record, step};
use super::played::{Says, plug, plug_hasty, serve, spoken};
use super::seats::{SEATS, Seat, Terminal, fits, turn};

/// The arguments of a session.
const RUN: [&str; 9] = [
    "run",
    "spoken",
    "--device",
    "VP-1001",
    "--by",
    "tech-04",
    "--trial",
    "--with",
    "balance=BA-04",
];

fn balance(line: &Path) -> String {
    format!(
        "{{serial: {}, baud: 9600, pattern: '([-+]?[0-9.]+) *g', unit: g}}",
        line.display()
    )
}

/// Two quantities in alternate lines.
fn meter(address: &str) -> String {
    format!(
        "{{tcp: '{address}', readings: [{{pattern: 'V= *([0-9.]+) mL$', unit: mL}}, {{pattern: 'F= *([0-9.]+)', unit: mL/h}}]}}"
    )
}

/// A shop with a balance at a line and no meter that speaks.
fn weighing() -> (TempDir, Says, std::path::PathBuf) {
    let says = Says::default();
    let lines = TempDir::new().expect("a folder");
    let line = lines.keep().join("balance");
    plug(&line, &says);
    (spoken(&balance(&line), ""), says, line)
}

/// Asks until the screen shows it: what an instrument says takes a while to come.
fn asks_until(seat: &mut dyn Seat, sees: &str) {
    seat.sees("Enter reads BA-04> ");
    seat.types("");
    seat.sees(sees);
}

#[test]
fn what_instruments_say_is_confirmed_and_marked_in_the_record() {
    for sit in SEATS {
        let lines = TempDir::new().expect("a folder");
        let line = lines.path().join("balance");
        let (weighs, meters) = (Says::default(), Says::default());
        plug(&line, &weighs);
        weighs.say(b"N     12.31 g  \r\n");
        meters.say(b"V= 5.02 mL\nF= 119.5 mL/h\n");
        let folder = spoken(&balance(&line), &meter(&serve(&meters)));
        let mut seat = sit(folder.path(), &RUN);
        asks_until(&mut *seat, "BA-04 reads 12.31 g: \"N     12.31 g\"");
        turn(&mut *seat, "or a value> ", "");
        seat.sees("reading 2 of 2");
        asks_until(&mut *seat, "BA-04 reads 12.31 g");
        turn(&mut *seat, "or a value> ", "12.40");
        seat.sees("Volume shown by the meter");
        turn(&mut *seat, "mL, or Enter reads FM-01> ", ":read");
        turn(&mut *seat, "FM-01 reads 5.02 mL: \"V= 5.02 mL\"", "");
        turn(&mut *seat, "mL/h, or Enter reads FM-01> ", "");
        turn(&mut *seat, "FM-01 reads 119.5 mL/h: \"F= 119.5 mL/h\"", "");
        turn(&mut *seat, "Enter> ", "");
        let (code, screen) = seat.leaves();
        assert_eq!(code, 0, "{screen}");
        fits(&screen);
        let record = record(folder.path());
        let weighed = &step(&record, "weighed")["attempts"][0];
        assert_eq!(weighed["entry"], serde_json::json!(["12.31 g", "12.40"]));
        let heard = serde_json::json!([{"instrument": "BA-04", "line": "N     12.31 g"}, null]);
        assert_eq!(weighed["heard"], heard);
        let rate = &step(&record, "rate")["attempts"][0];
        assert_eq!(rate["heard"][0]["line"], "F= 119.5 mL/h");
        let run = |words: &[&str]| {
            let mut program = Command::new(env!("CARGO_BIN_EXE_stepwell"));
            let out = program.args(words).current_dir(folder.path()).output();
            out.expect("the program runs")
        };
        let verified = run(&["verify"]);
        assert_eq!(verified.status.code(), Some(0), "{verified:?}");
        let id = record["record"].as_str().expect("an id");
        let shown = run(&["render", id, "--to", "text"]);
        let shown = String::from_utf8(shown.stdout).expect("UTF-8");
        let one_line = shown.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(
            one_line.contains("read from FM-01: “V= 5.02 mL”"),
            "{shown}"
        );
        assert!(one_line.contains("reading 1: read from BA-04:"), "{shown}");
    }
}

#[test]
fn garbage_half_and_overlong_lines_are_never_offered() {
    // A number that is cut, that has a garbled byte beside it, whose sign the pattern leaves out, no number at all, and
    // one of which the pattern takes the exponent or the digits behind a letter.
    let long = [b"x".repeat(5_000), b" 12.31 g\r\n".to_vec()].concat();
    let garbage: [&[u8]; 12] = [
        b"N     12.31 g",
        b"1\xff2.31 g\r\n",
        b"1\x002.31 g\r\n",
        b"\x80\x81\xfe\xff\r\n",
        b"\xab Q \xb1\xa4 12.31 g\r\n",
        b"\x1b[2J 12.31 g\r\n",
        b"1,312.31 g\r\n",
        b"1.23e5 g\r\n",
        b"1.23E-05 g\r\n",
        b"1.23E+05 g\r\n",
        b"0x12 g\r\n",
        &long,
    ];
    // All at once: at each of them it is waited for a reading that does not come.
    std::thread::scope(|all| {
        for bytes in garbage {
            all.spawn(move || is_not_offered(bytes));
        }
    });
}

#[test]
fn an_enter_that_bounces_confirms_nothing() {
    let (folder, says, _) = weighing();
    says.say(b"N     12.31 g\r\n");
    let mut seat = Terminal::sit(folder.path(), &RUN);
    seat.sees("Enter reads BA-04> ");
    seat.types("\n\n");
    seat.sees("BA-04 reads 12.31 g");
    seat.sees("or a value> ");
    std::thread::sleep(Duration::from_millis(500));
    assert!(!journal(folder.path()).contains("\"event\":\"entry\""));
    seat.types(":stop enough");
    turn(&mut seat, "removes the session", "");
    Box::new(seat).leaves();
}

/// What was shown before a reading that can't be used is not what is shown now.
#[test]
fn a_line_that_is_not_whole_takes_the_place_of_an_older_one() {
    let (folder, says, _) = weighing();
    says.say(b"N     12.31 g\r\n");
    let mut seat = Terminal::sit(folder.path(), &RUN);
    asks_until(&mut seat, "BA-04 reads 12.31 g");
    says.say(b"N     12,3456 g\r\n");
    seat.sees("or a value> ");
    std::thread::sleep(Duration::from_millis(200));
    seat.types(":read");
    seat.sees("in which there is no reading");
    turn(&mut seat, "Enter reads BA-04> ", ":stop enough");
    turn(&mut seat, "removes the session", "");
    Box::new(seat).leaves();
}

fn is_not_offered(bytes: &[u8]) {
    let (folder, says, _) = weighing();
    says.say(bytes);
    let mut seat = Terminal::sit(folder.path(), &RUN);
    asks_until(&mut seat, "BA-04 ");
    seat.sees("Enter asks again, or");
    assert!(!journal(folder.path()).contains("\"event\":\"entry\""));
    // It comes to itself again, and is read.
    says.say(b"\r\nN     12.31 g\r\n");
    asks_until(&mut seat, "BA-04 reads 12.31 g: \"N     12.31 g\"");
    turn(&mut seat, "or a value> ", ":stop enough");
    turn(&mut seat, "removes the session", "");
    let (_, screen) = Box::new(seat).leaves();
    fits(&screen);
}

#[test]
fn a_line_that_was_unplugged_is_told_and_taken_up_again() {
    let (folder, says, line) = weighing();
    says.say(b"N     12.31 g\r\n");
    let mut seat = Terminal::sit(folder.path(), &RUN);
    asks_until(&mut seat, "BA-04 reads 12.31 g");
    turn(&mut seat, "or a value> ", "");
    says.unplug();
    std::fs::remove_file(&line).expect("a link");
    // What was said just before it was unplugged is current for a few seconds, and then is not.
    let begun = Instant::now();
    while begun.elapsed() < Duration::from_secs(6) {
        std::thread::sleep(Duration::from_millis(100));
    }
    asks_until(&mut seat, "BA-04 can't be read");
    let again = Says::default();
    plug(&line, &again);
    again.say(b"N     12.44 g\r\n");
    asks_until(&mut seat, "BA-04 reads 12.44 g");
    turn(&mut seat, "or a value> ", "");
    seat.sees("pass: ");
    turn(&mut seat, "mL> ", ":stop enough");
    turn(&mut seat, "seals the record", "");
    let (_, screen) = Box::new(seat).leaves();
    fits(&screen);
    let record = record(folder.path());
    let heard = &step(&record, "weighed")["attempts"][0]["heard"];
    assert_eq!(heard[1]["line"], "N     12.44 g");
}

#[test]
fn one_line_is_one_reading() {
    let (folder, says, _) = weighing();
    let mut seat = Terminal::sit(folder.path(), &RUN);
    seat.sees("Enter reads BA-04> ");
    // A balance that prints when its key is pressed.
    says.say(b"\r\nN     12.31 g\r\n");
    seat.types("");
    seat.sees("BA-04 reads 12.31 g");
    seat.sees("or a value> ");
    says.say(b"");
    seat.types(":read");
    seat.sees("BA-04 reads 12.31 g");
    turn(&mut seat, "or a value> ", "");
    turn(&mut seat, "Enter reads BA-04> ", "");
    seat.sees("has said nothing since its last reading was entered");
    // More decimals than its display has are told of, once.
    turn(&mut seat, "Enter reads BA-04> ", "12.341234");
    seat.sees("BA-04 has steps of");
    turn(&mut seat, "mL> ", ":stop enough");
    turn(&mut seat, "seals the record", "");
    Box::new(seat).leaves();
}

/// The most memory that the program under a shell has had, in kB (Linux tells it).
fn peak_kb(folder: &Path) -> Option<u64> {
    let mut largest = None;
    for process in std::fs::read_dir("/proc").ok()?.flatten() {
        let at = process.path();
        let here = std::fs::read_link(at.join("cwd")).is_ok_and(|cwd| cwd == folder);
        let status = std::fs::read_to_string(at.join("status")).unwrap_or_default();
        let peak = status.lines().find_map(|l| l.strip_prefix("VmHWM:"));
        let peak = peak.and_then(|p| p.trim().trim_end_matches(" kB").parse::<u64>().ok());
        largest = largest.max(peak.filter(|_| here));
    }
    largest
}

#[test]
fn a_flood_is_borne_in_bounded_memory_and_the_newest_line_wins() {
    let says = Says::default();
    let line = TempDir::new().expect("a folder").keep().join("balance");
    plug_hasty(&line, &says);
    let folder = spoken(&balance(&line), "");
    let mut seat = Terminal::sit(folder.path(), &RUN);
    seat.sees("Enter reads BA-04> ");
    // 500 lines at a time without a pause: far more than 10,000 a second, as fast as they are taken.
    says.say(&b"N     11.11 g\r\n".repeat(500));
    std::thread::sleep(Duration::from_secs(1));
    let root = folder.path().canonicalize().expect("a folder");
    let before = peak_kb(&root);
    std::thread::sleep(Duration::from_secs(2));
    says.say(&b"N     12.31 g\r\n".repeat(500));
    std::thread::sleep(Duration::from_secs(1));
    seat.types("");
    seat.sees("BA-04 reads 12.31 g");
    let after = peak_kb(&root);
    let grown = after.zip(before).map_or(0, |(a, b)| a.saturating_sub(b));
    assert!(grown < 4_096, "{before:?} kB, then {after:?} kB");
    assert!(!journal(&root).contains("\"event\":\"entry\""));
    turn(&mut seat, "or a value> ", ":stop enough");
    turn(&mut seat, "removes the session", "");
    Box::new(seat).leaves();
}

#[test]
fn a_command_is_run_anew_each_time_that_it_is_asked() {
    let counts =
        "n=$(cat count 2>/dev/null || echo 0); n=$((n+1)); echo $n > count; echo \"N 12.3$n g\"";
    let speaks = format!(
        "{{command: [sh, -c, '{}'], pattern: '([0-9.]+) *g', unit: g}}",
        counts.replace('\'', "''")
    );
    let folder = spoken(&speaks, "");
    let mut seat = Terminal::sit(folder.path(), &RUN);
    asks_until(&mut seat, "BA-04 reads 12.31 g: \"N 12.31 g\"");
    turn(&mut seat, "or a value> ", "");
    asks_until(&mut seat, "BA-04 reads 12.32 g");
    turn(&mut seat, "or a value> ", ":read");
    seat.sees("BA-04 reads 12.33 g");
    turn(&mut seat, "or a value> ", ":stop enough");
    turn(&mut seat, "seals the record", "");
    Box::new(seat).leaves();
    for (command, said) in [
        // What it printed before it failed is no reading.
        (
            "[sh, -c, 'echo 12.31 g; exit 3']",
            "BA-04 can't be read: the command `sh -c echo 12.31 g; exit 3`",
        ),
        ("[sh, -c, 'exit 3']", "with exit status: 3"),
        (
            "[no-such-program-here]",
            "mend `speaks` in instruments.yaml",
        ),
        // One that hangs is waited for, and not silently.
        ("[sleep, '60']", "waiting for BA-04, 2 s of at most 10 s"),
        ("[echo, nothing]", "BA-04 said \"nothing\""),
        ("['true']", "BA-04 said nothing"),
    ] {
        let speaks = format!("{{command: {command}, pattern: '([0-9.]+) *g', unit: g}}");
        let folder = spoken(&speaks, "");
        let mut seat = Terminal::sit(folder.path(), &RUN);
        asks_until(&mut seat, said);
        turn(&mut seat, "Enter reads BA-04> ", ":stop enough");
        turn(&mut seat, "removes the session", "");
        let (_, screen) = Box::new(seat).leaves();
        fits(&screen);
    }
}

#[test]
fn a_socket_that_breaks_is_dialled_again() {
    let says = Says::default();
    says.say(b"V= 5.02 mL\nF= 119.5 mL/h\n");
    let folder = spoken("", &meter(&serve(&says)));
    let mut seat = Terminal::sit(folder.path(), &RUN);
    turn(&mut seat, "g> ", "12.3");
    turn(&mut seat, "g> ", "12.3");
    turn(&mut seat, "Enter reads FM-01> ", "");
    turn(&mut seat, "FM-01 reads 5.02 mL", "");
    says.unplug();
    says.say(b"F= 118.5 mL/h\n");
    std::thread::sleep(Duration::from_millis(2_500));
    turn(&mut seat, "Enter reads FM-01> ", "");
    turn(&mut seat, "FM-01 reads 118.5 mL/h", "");
    turn(&mut seat, "Enter> ", "");
    let (code, screen) = Box::new(seat).leaves();
    assert_eq!(code, 0, "{screen}");
}

#[test]
fn a_decimal_comma_is_typed_as_the_bench_types_it() {
    let says = Says::default();
    let line = TempDir::new().expect("a folder").keep().join("balance");
    plug(&line, &says);
    says.say(b"N  -   12,31 g\r\n");
    let speaks = format!(
        "{{serial: {}, decimal: ',', pattern: '([-+]? *[0-9,]+) *g', unit: g}}",
        line.display()
    );
    let folder = spoken(&speaks, "");
    let mut seat = Terminal::sit(folder.path(), &RUN);
    asks_until(&mut seat, "BA-04 reads -12.31 g");
    turn(&mut seat, "or a value> ", "");
    // The balance can't show that; it is not entered.
    turn(&mut seat, "Enter reads BA-04> ", ":stop enough");
    turn(&mut seat, "removes the session", "");
    Box::new(seat).leaves();
}
