//! How files open, how long they are, and whether every code has its page.
//!
//! Never in here: formatting, which has its own tool. Changes with the rules for files.

use stepwell::text::Code;

use crate::{files, read};

/// Most lines of a file.
const MAX_LINES: usize = 600;

fn sources() -> Vec<String> {
    [files("src", ".rs"), files("tests", ".rs")].concat()
}

#[test]
fn every_file_says_what_it_is() {
    for file in sources() {
        assert!(
            read(&file).starts_with("//! "),
            "{file} does not open with `//!`"
        );
    }
}

#[test]
fn no_file_outgrows_its_meaning() {
    for file in sources() {
        let lines = read(&file).lines().count();
        assert!(
            lines <= MAX_LINES,
            "{file} has {lines} lines; split it by meaning"
        );
    }
}

#[test]
fn every_code_has_a_page_and_every_page_a_code() {
    for code in Code::ALL {
        assert!(
            code.page().trim().len() > 100,
            "the page of `{}` says too little",
            code.name()
        );
    }
    for page in files("src/text/pages", ".md") {
        let name = page
            .trim_start_matches("src/text/pages/")
            .trim_end_matches(".md");
        assert!(
            Code::ALL.iter().any(|c| c.name() == name),
            "{page} belongs to no code"
        );
    }
}

#[test]
fn no_path_of_a_machine_is_written_down() {
    let places = ["/home/", "/Users/", "C:\\Users"];
    for file in [
        sources(),
        files("recipes", ".yaml"),
        files("demo-data", ""),
        files("schema", ".json"),
    ]
    .concat()
    {
        // This file has to name them.
        let text = if file == "tests/tidy/files.rs" {
            String::new()
        } else {
            read(&file)
        };
        assert!(
            !places.iter().any(|p| text.contains(p)),
            "{file} names a machine's path"
        );
    }
}
