//! Instruments that are played: a pseudo-terminal in the place of a serial line, and a TCP server.
//!
//! Never in here: what a session makes of them. Changes when an instrument is played otherwise.

use std::fs::File;
use std::io::Write;
use std::net::{TcpListener, TcpStream};
use std::path::Path;
use std::sync::{Arc, Mutex};
use std::time::Duration;

use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
use tempfile::TempDir;

use super::made::shop;

/// The time between two lines.
const TICK: Duration = Duration::from_millis(20);
/// A balance that the demo shop has, and a meter, and how they speak.
const BALANCE: &str = "  - id: BA-04\n";
const METER: &str = "  - id: FM-01\n";

/// What an instrument says over and over; nothing while it is empty, and whether it is unplugged.
#[derive(Clone, Default)]
pub struct Says(Arc<Mutex<(Vec<u8>, bool)>>);

impl Says {
    /// Says this from now on.
    pub fn say(&self, bytes: &[u8]) {
        self.0.lock().expect("no panic").0 = bytes.to_vec();
    }

    /// Is unplugged.
    pub fn unplug(&self) {
        self.0.lock().expect("no panic").1 = true;
    }

    /// Says it at each tick until it is unplugged or nobody can hear it.
    fn go_on(&self, out: &mut dyn Write, tick: Duration) {
        loop {
            let (bytes, unplugged) = self.0.lock().expect("no panic").clone();
            if unplugged || out.write_all(&bytes).is_err() {
                return;
            }
            std::thread::sleep(tick);
        }
    }
}

/// Plays an instrument at a serial line of this name.
pub fn plug(name: &Path, says: &Says) {
    plug_with(name, says, TICK);
}

/// The same without a pause between two lines.
pub fn plug_hasty(name: &Path, says: &Says) {
    plug_with(name, says, Duration::ZERO);
}

fn plug_with(name: &Path, says: &Says, tick: Duration) {
    // The program must not hold our end open when it is unplugged.
    let flags = OpenptFlags::RDWR | OpenptFlags::NOCTTY | OpenptFlags::CLOEXEC;
    let ours = openpt(flags).expect("a terminal");
    grantpt(&ours).expect("a terminal");
    unlockpt(&ours).expect("a terminal");
    let theirs = ptsname(&ours, Vec::new()).expect("a name");
    let _ = std::fs::remove_file(name);
    std::os::unix::fs::symlink(theirs.to_str().expect("a path"), name).expect("a link");
    let (mut ours, says) = (File::from(ours), says.clone());
    std::thread::spawn(move || says.go_on(&mut ours, tick));
}

/// Plays an instrument at a socket; gives its address.
pub fn serve(says: &Says) -> String {
    let listener = TcpListener::bind("127.0.0.1:0").expect("a port");
    let address = listener.local_addr().expect("an address").to_string();
    let says = says.clone();
    std::thread::spawn(move || {
        for stream in listener.incoming() {
            let mut stream: TcpStream = stream.expect("a caller");
            says.go_on(&mut stream, TICK);
            // Plugged in again, it goes on.
            says.0.lock().expect("no panic").1 = false;
        }
    });
    address
}

/// The shop with a recipe that reads from a balance and a meter, which speak so.
pub fn spoken(balance: &str, meter: &str) -> TempDir {
    let folder = shop();
    let recipe = include_str!("spoken.yaml");
    std::fs::write(folder.path().join("recipes/spoken.yaml"), recipe).expect("room");
    let register = folder.path().join("instruments.yaml");
    let mut text = std::fs::read_to_string(&register).expect("instruments");
    for (entry, speaks) in [(BALANCE, balance), (METER, meter)] {
        assert!(text.contains(entry));
        if !speaks.is_empty() {
            text = text.replace(entry, &format!("{entry}    speaks: {speaks}\n"));
        }
    }
    std::fs::write(register, text).expect("room");
    folder
}
