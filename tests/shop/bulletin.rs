//! The README's bulletin, from the letter to the shelf: its edit and its commands, as they stand there, in a shop with records.
//!
//! Never in here: what each command does. Changes with the README.

use std::path::Path;

use super::made::{shop, stepwell};

const README: &str = include_str!("../../README.md");

/// The blocks of the section with a word at their fence, in order.
fn blocks(word: &str) -> Vec<&'static str> {
    let after = README
        .split("### A bulletin, from the letter to the shelf")
        .nth(1)
        .expect("the section");
    let section = after.split("\n## ").next().expect("its end");
    let blocks = section.split("```").skip(1).step_by(2);
    blocks
        .filter_map(|b| b.strip_prefix(word)?.strip_prefix('\n'))
        .collect()
}

/// The recipe with an edit of the README: each run of old lines becomes the new ones that follow it.
fn edit(file: &Path, edit: &str) {
    let mut text = std::fs::read_to_string(file).expect("the recipe");
    let mut lines = edit.lines().peekable();
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

/// What the commands of a block say, each with its code.
fn follow(here: &Path, commands: &str) -> Vec<(i32, String)> {
    let one = |line: &str| {
        let mut words: Vec<&str> = line.split(' ').skip(1).collect();
        if words[0] == "run" {
            words.extend(["--answers", "answers/pass.yaml"]);
        }
        let out = stepwell(here, &words);
        let text = String::from_utf8_lossy(&out.stdout).into_owned();
        (out.status.code().expect("a code"), text)
    };
    commands.lines().map(one).collect()
}

fn codes(said: &[(i32, String)]) -> Vec<i32> {
    said.iter().map(|(code, _)| *code).collect()
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
    let (edits, commands) = (blocks("diff"), blocks("sh"));
    let holds = |said: &[(i32, String)], n: usize, words: &str| {
        assert!(said[n].1.contains(words), "{words}: {}", said[n].1);
    };
    edit(&here.join("recipes/volumetric-annual.yaml"), edits[0]);
    let said = follow(here, commands[0]);
    holds(&said, 1, "tightened");
    holds(&said, 1, "accepts 11 psi or less, before 15 psi or less");
    // Of what was stored: 11.4 psi passed and fails now, 17.2 psi fails under both.
    holds(&said, 2, "2 records");
    holds(&said, 3, "since `volumetric-annual@3`: 2 tightened");
    holds(&said, 4, "revision 4");
    // The readings of the passed answers, 11.4 psi among them, fail in the last one.
    assert_eq!(codes(&said), [0, 1, 1, 0, 1]);

    let (_, all) = &follow(here, "stepwell check")[0];
    assert!(
        all.contains("there is a revision 4 of `volumetric-annual`"),
        "{all}"
    );
    let before = std::fs::read_to_string(here.join("recipes/volumetric-vp2.yaml")).expect("a file");
    let said = follow(here, commands[1]);
    assert_eq!(codes(&said), [0, 0, 1, 0]);
    holds(
        &said,
        1,
        "volumetric-vp2@1 to 2, on volumetric-annual@4: 2 tightened",
    );
    holds(&said, 2, "accepts 11 psi or less, before 15 psi or less");
    // One that has a limit of its own is not said to have followed.
    holds(&said, 1, "keeps its own occlusion_max, 12 psi");
    let own = std::fs::read_to_string(here.join("recipes/volumetric-vp1.yaml")).expect("a file");
    assert!(own.contains("nothing changes here by it"), "{own}");
    // The lines that name a revision, and no others.
    let after = std::fs::read_to_string(here.join("recipes/volumetric-vp2.yaml")).expect("a file");
    let (gone, come): (Vec<&str>, Vec<&str>) = (
        before
            .lines()
            .filter(|l| after.lines().all(|m| m != *l))
            .collect(),
        after
            .lines()
            .filter(|l| before.lines().all(|m| m != *l))
            .collect(),
    );
    assert_eq!(gone, ["revision: 1", "extends: volumetric-annual@3"]);
    assert_eq!(come.len(), 3, "{come:?}");
    assert!(come[2].contains("bulletin 2026-07"), "{come:?}");
    let (_, again) = &follow(here, "stepwell raise volumetric-annual --by author-02")[0];
    assert!(
        again.contains("no recipe rests on an older revision"),
        "{again}"
    );
}
