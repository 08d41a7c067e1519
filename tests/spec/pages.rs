//! Every code has a page; its wrong recipe gives that one finding, its right recipe none.
//!
//! Never in here: recipes. Changes when pages hold something else.

use std::collections::BTreeSet;
use std::fs;
use std::path::Path;

use stepwell::text::Code;

use crate::document::{blocks, findings, line};

/// Codes that no recipe text can show: they are about bytes, sizes, file names and the shop's other files.
const PROSE_ONLY: [Code; 13] = [
    Code::NothingFits,
    Code::NotUtf8,
    Code::TooLarge,
    Code::FileName,
    Code::MissingPicture,
    Code::ShopFault,
    Code::UnknownAuthor,
    Code::WithdrawnBase,
    Code::ChangedAfterApproval,
    Code::OlderRevision,
    Code::OddEntry,
    Code::UncertaintyTooLarge,
    Code::UncertaintyLarge,
];

#[test]
fn every_page_shows_its_finding_and_how_to_mend_it() {
    let mut wrong_pages = Vec::new();
    for code in Code::ALL.iter().filter(|c| !PROSE_ONLY.contains(c)) {
        let recipes = blocks(code.page(), "yaml");
        let [wrong, right] = recipes[..] else {
            wrong_pages.push(format!(
                "{}: {} recipes, not two",
                code.name(),
                recipes.len()
            ));
            continue;
        };
        let found = findings(code.page(), wrong);
        if found.len() != 1 || found[0].code != *code {
            let found: Vec<_> = found.iter().map(line).collect();
            wrong_pages.push(format!("{}: wrong recipe gives {found:#?}", code.name()));
        }
        let found: Vec<_> = findings(code.page(), right).iter().map(line).collect();
        if !found.is_empty() {
            wrong_pages.push(format!("{}: right recipe gives {found:#?}", code.name()));
        }
    }
    assert!(wrong_pages.is_empty(), "{}", wrong_pages.join("\n"));
}

#[test]
fn every_page_opens_with_its_code_and_title() {
    for code in Code::ALL {
        let title = format!("# {}: {}\n\n", code.name(), code.title());
        assert!(code.page().starts_with(&title), "{}", code.name());
        assert_eq!(
            code.page().contains("## Wrong"),
            !PROSE_ONLY.contains(code),
            "{}",
            code.name()
        );
        assert_eq!(
            code.page().contains("## Right"),
            !PROSE_ONLY.contains(code),
            "{}",
            code.name()
        );
    }
}

#[test]
fn every_page_has_a_code() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("src/text/pages");
    let files = fs::read_dir(folder).expect("the folder of pages");
    let names: BTreeSet<String> = files
        .map(|f| {
            f.expect("a readable folder")
                .file_name()
                .to_string_lossy()
                .into_owned()
        })
        .collect();
    let codes: BTreeSet<String> = Code::ALL
        .iter()
        .map(|c| format!("{}.md", c.name()))
        .collect();
    assert_eq!(names, codes);
}
