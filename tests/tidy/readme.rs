//! The README: its commands are taken by the program, its recipes are checked.
//!
//! Never in here: what the commands do. Changes when the README shows another kind of block.

use clap::Parser;
use stepwell::cli::Arguments;
use stepwell::recipe;
use stepwell::text::Source;

use crate::read;

/// The blocks of a language.
fn blocks(text: &str, language: &str) -> Vec<String> {
    let fence = format!("```{language}\n");
    let after = text.split(&fence).skip(1);
    after
        .map(|block| block.split("\n```").next().unwrap_or_default().to_owned())
        .collect()
}

/// The words of a line, without where its output goes.
fn words(line: &str) -> Vec<String> {
    let mut words = shlex::split(line).expect("quotes that close");
    words.truncate(words.iter().position(|w| w == ">").unwrap_or(words.len()));
    words
}

#[test]
fn every_command_is_taken() {
    let blocks = blocks(&read("README.md"), "sh");
    let lines: Vec<&str> = blocks
        .iter()
        .flat_map(|b| b.lines())
        .filter(|l| l.starts_with("stepwell"))
        .collect();
    assert!(lines.len() > 8, "the commands were not found");
    for line in lines {
        let taken = Arguments::try_parse_from(words(line));
        assert!(taken.is_ok(), "`{line}`: {}", taken.unwrap_err());
    }
}

#[test]
fn every_recipe_is_clean() {
    let blocks = blocks(&read("README.md"), "yaml");
    let recipes: Vec<&String> = blocks
        .iter()
        .filter(|b| b.starts_with("format: 1"))
        .collect();
    assert!(!recipes.is_empty(), "the recipe was not found");
    for text in recipes {
        let reading = recipe::read(Source::new("README.md", text));
        let told: Vec<&str> = reading
            .findings
            .iter()
            .map(|f| f.message.as_str())
            .collect();
        // A recipe that stands in the README is in no file of its name.
        assert!(reading.plan.is_some(), "{told:?}");
    }
}
