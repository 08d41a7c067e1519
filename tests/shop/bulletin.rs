//! The README's bulletin, from the letter to the shelf: its edit and its commands, as they stand there, in a shop with records.
//!
//! Never in here: what each command does. Changes with the README.

use std::path::Path;

use super::made::{shop, stepwell};

const README: &str = include_str!("../../README.md");

/// The block after the heading, by the word at its fence.
fn block(word: &str) -> &'static str {
    let after = README
        .split("### A bulletin, from the letter to the shelf")
        .nth(1)
        .expect("the section");
    let block = after
        .split(&format!("```{word}\n"))
        .nth(1)
        .expect("a block");
    block.split("```").next().expect("its end")
}

/// The recipe with the README's edit: each run of old lines becomes the new ones that follow it.
fn edit(file: &Path) {
    let mut text = std::fs::read_to_string(file).expect("the recipe");
    let mut lines = block("diff").lines().peekable();
    while lines.peek().is_some() {
        let mut take = |sign: char| {
            let mut out = String::new();
            while let Some(line) = lines.next_if(|l| l.starts_with(sign)) {
                out.push_str(&format!("{}\n", &line[1..]));
            }
            out
        };
        let (old, new) = (take('-'), take('+'));
        assert!(!old.is_empty() && text.matches(&old).count() == 1, "{old}");
        text = text.replacen(&old, &new, 1);
    }
    std::fs::write(file, text).expect("room");
}

#[test]
fn a_bulletin_goes_from_the_letter_to_the_shelf() {
    let shop = shop();
    let here = shop.path();
    for (answers, code) in [("pass", 0), ("fail", 1)] {
        let file = format!("answers/{answers}.yaml");
        let words = [
            "volumetric-annual",
            "--device",
            "VP-1001",
            "--by",
            "tech-04",
        ];
        let run = [&["run"], &words[..], &["--answers", &file]].concat();
        assert_eq!(stepwell(here, &run).status.code(), Some(code), "{answers}");
    }
    edit(&here.join("recipes/volumetric-annual.yaml"));
    let mut said = Vec::new();
    for line in block("sh").lines() {
        let mut words: Vec<&str> = line.split(' ').skip(1).collect();
        if words[0] == "run" {
            words.extend(["--answers", "answers/pass.yaml"]);
        }
        let out = stepwell(here, &words);
        let text = String::from_utf8_lossy(&out.stdout).into_owned();
        said.push((out.status.code().expect("a code"), text));
    }
    let codes: Vec<i32> = said.iter().map(|(code, _)| *code).collect();
    let holds = |n: usize, words: &str| {
        assert!(said[n].1.contains(words), "{words}: {}", said[n].1);
    };
    holds(1, "tightened");
    holds(1, "accepts 12 psi or less, before 15 psi or less");
    // Of what was stored: 9.6 psi stays a pass, 17.2 psi fails under both.
    holds(2, "2 records");
    holds(4, "revision 4");
    assert_eq!(codes, [0, 1, 1, 0, 0]);
}
