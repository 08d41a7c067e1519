//! A demo shop, spreadsheets in it, and what the program says of them.
//!
//! Never in here: checks. Changes when the tests need another thing in the shop.

use std::path::Path;
use std::process::{Command, Output};

use serde_json::Value;
use stepwell::app::lay_out_demo;
use stepwell::host::HurriedHost;
use tempfile::TempDir;

/// The demo shop.
pub fn shop() -> TempDir {
    let folder = TempDir::new().expect("a folder");
    lay_out_demo(&HurriedHost::at_present(), folder.path()).expect("a demo shop");
    folder
}

/// The demo shop with a register of devices of its own.
pub fn shop_with(devices: &str) -> TempDir {
    let folder = shop();
    put(folder.path(), "devices.csv", devices);
    folder
}

/// Puts a file into the shop.
pub fn put(shop: &Path, name: &str, bytes: impl AsRef<[u8]>) {
    std::fs::write(shop.join(name), bytes).expect("room");
}

/// A file of the shop as text.
pub fn text(shop: &Path, name: &str) -> String {
    std::fs::read_to_string(shop.join(name)).expect(name)
}

/// Runs the program in the shop.
pub fn stepwell(shop: &Path, words: &[&str]) -> Output {
    let mut program = Command::new(env!("CARGO_BIN_EXE_stepwell"));
    program.current_dir(shop).args(words);
    program.output().expect("the program runs")
}

/// What the program prints, where it ends with this exit code.
pub fn said(shop: &Path, exit: i32, words: &[&str]) -> String {
    let output = stepwell(shop, words);
    let (out, err) = (
        String::from_utf8_lossy(&output.stdout).into_owned(),
        String::from_utf8_lossy(&output.stderr).into_owned(),
    );
    assert_eq!(output.status.code(), Some(exit), "{words:?}: {out}{err}");
    if out.is_empty() { err } else { out }
}

/// The same, as JSON.
pub fn data(shop: &Path, exit: i32, words: &[&str]) -> Value {
    let words = [words, &["--format", "json"]].concat();
    serde_json::from_str(&said(shop, exit, &words)).expect("JSON")
}

/// A device of the register, as `show` has it.
pub fn device(shop: &Path, tag: &str) -> Value {
    data(shop, 0, &["devices", "show", tag])
}
