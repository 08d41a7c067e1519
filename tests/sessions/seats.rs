//! Where one sits: at a terminal of 80 by 24, or at the other end of a pipe.
//!
//! Never in here: what is typed. Changes when a session is read from elsewhere.

use std::io::{Read, Write};
use std::path::Path;
use std::process::{Child, ChildStdin, ChildStdout, Command, Stdio};

use rexpect::process::WaitStatus;
use rexpect::session::{PtySession, spawn_command};

/// Longest that an answer is waited for, in milliseconds.
const PATIENCE_MS: u64 = 15_000;
/// Columns of the screen.
const COLUMNS: usize = 80;

/// The arguments of a session of the recipe with each verb.
pub const RUN: [&str; 7] = [
    "run",
    "every-verb",
    "--device",
    "VP-1001",
    "--by",
    "tech-04",
    "--trial",
];

/// Somebody who reads and types.
pub trait Seat {
    /// Waits until the screen shows a text behind what was awaited before.
    fn sees(&mut self, text: &str);
    /// Sees a watch run, where one is shown, and stops it with Enter.
    fn stops_the_watch(&mut self);
    /// Types a line.
    fn types(&mut self, line: &str);
    /// Waits for the end; gives the exit code and all that was shown.
    fn leaves(self: Box<Self>) -> (i32, String);
}

/// Types a line once a text is shown, and a place to type at behind it.
pub fn turn(seat: &mut dyn Seat, sees: &str, types: &str) {
    seat.sees(sees);
    if !sees.ends_with("> ") {
        seat.sees("> ");
    }
    seat.types(types);
}

/// No line is wider than the screen; what overwrites itself counts by its parts.
pub fn fits(screen: &str) {
    fits_in(screen, COLUMNS);
}

/// The same for a screen of other columns.
pub fn fits_in(screen: &str, most: usize) {
    // A command to be copied stands whole on a line of its own.
    let copied = |line: &&str| line.starts_with("  stepwell ");
    for line in screen.split(['\n', '\r']).filter(|l| !copied(l)) {
        let columns = line.chars().count();
        assert!(columns <= most, "{columns} columns: {line}");
    }
    assert!(!screen.contains('\u{1b}'), "a control sequence:\n{screen}");
}

/// A real terminal.
pub struct Terminal {
    session: PtySession,
    screen: String,
}

impl Terminal {
    /// Starts the program in a folder.
    pub fn sit(folder: &Path, arguments: &[&str]) -> Self {
        Self::sit_before((24, COLUMNS), folder, arguments)
    }

    /// Starts the program in a folder, before a screen of so many rows and columns.
    pub fn sit_before((rows, columns): (usize, usize), folder: &Path, arguments: &[&str]) -> Self {
        // `stty` gives the terminal its size, and the echo that it has for somebody who types.
        let mut command = Command::new("sh");
        let size = format!("stty rows {rows} cols {columns} echo && exec \"$0\" \"$@\"");
        command.args(["-c", &size]);
        command.arg(env!("CARGO_BIN_EXE_stepwell"));
        command.args(arguments).current_dir(folder);
        let session = spawn_command(command, Some(PATIENCE_MS)).expect("a terminal");
        let screen = String::new();
        Self { session, screen }
    }

    /// Holds the control key down.
    pub fn control(&mut self, key: char) {
        self.session.send_control(key).expect("a terminal");
    }
}

impl Seat for Terminal {
    fn sees(&mut self, text: &str) {
        let before = self.session.exp_string(text);
        let before = before.unwrap_or_else(|e| panic!("`{text}`: {e}\n{}", self.screen));
        self.screen.push_str(&before);
        self.screen.push_str(text);
    }

    /// The second time on the screen is not the first: some of it has gone by, but less than a hand needs.
    fn stops_the_watch(&mut self) {
        self.sees(" > ");
        self.sees(" > ");
        self.types("");
        turn(self, "That was short", "yes");
    }

    fn types(&mut self, line: &str) {
        self.session.send_line(line).expect("a terminal");
    }

    fn leaves(mut self: Box<Self>) -> (i32, String) {
        self.screen
            .push_str(&self.session.exp_eof().expect("an end"));
        match self.session.process().wait().expect("an end") {
            WaitStatus::Exited(_, code) => (code, as_text(&self.screen)),
            other => panic!("{other:?}:\n{}", self.screen),
        }
    }
}

/// The terminal hands bytes over one by one, each as a character of its own.
fn as_text(screen: &str) -> String {
    let bytes: Vec<u8> = screen
        .chars()
        .filter_map(|c| u8::try_from(c).ok())
        .collect();
    String::from_utf8(bytes).expect("UTF-8 on the screen")
}

/// A pipe.
pub struct Pipe {
    child: Child,
    input: Option<ChildStdin>,
    output: ChildStdout,
    screen: Vec<u8>,
    /// Up to where the screen has been awaited.
    seen: usize,
}

impl Pipe {
    /// Starts the program in a folder.
    pub fn sit(folder: &Path, arguments: &[&str]) -> Self {
        let mut command = Command::new(env!("CARGO_BIN_EXE_stepwell"));
        command.args(arguments).current_dir(folder);
        command.stdin(Stdio::piped()).stdout(Stdio::piped());
        let mut child = command.spawn().expect("the program");
        Self {
            input: child.stdin.take(),
            output: child.stdout.take().expect("a pipe"),
            child,
            screen: Vec::new(),
            seen: 0,
        }
    }

    fn shown(&self) -> String {
        String::from_utf8_lossy(&self.screen).into_owned()
    }
}

impl Seat for Pipe {
    fn sees(&mut self, text: &str) {
        let mut bytes = [0; 4096];
        loop {
            let fresh = &self.screen[self.seen..];
            if let Some(at) = fresh.windows(text.len()).position(|w| w == text.as_bytes()) {
                self.seen += at + text.len();
                return;
            }
            let n = self.output.read(&mut bytes).expect("a pipe");
            assert!(n > 0, "`{text}` was not shown:\n{}", self.shown());
            self.screen.extend(&bytes[..n]);
        }
    }

    fn stops_the_watch(&mut self) {
        self.types("");
    }

    fn types(&mut self, line: &str) {
        let input = self.input.as_mut().expect("a pipe");
        writeln!(input, "{line}").expect("a reader");
    }

    fn leaves(mut self: Box<Self>) -> (i32, String) {
        self.input = None;
        self.output.read_to_end(&mut self.screen).expect("a pipe");
        let code = self.child.wait().expect("an end").code();
        (code.expect("an exit code"), self.shown())
    }
}

/// Sits down in a folder, with the program's arguments.
pub type Sit = fn(&Path, &[&str]) -> Box<dyn Seat>;

/// A terminal and a pipe, each in a folder of its own.
pub const SEATS: [Sit; 2] = [
    |folder, arguments| Box::new(Terminal::sit(folder, arguments)),
    |folder, arguments| Box::new(Pipe::sit(folder, arguments)),
];
