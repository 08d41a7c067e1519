//! The shop as its renderings show it: name, picture, language, own templates, from the files of its folder.
//!
//! Never in here: what is made of them (see the render room). Changes when a shop may shape its renderings otherwise.

use std::path::{Path, PathBuf};

use crate::app::{self, AppError};
use crate::host::Host;
use crate::recipe::cursor::At;
use crate::recipe::yaml::Document;
use crate::render::words::{fixed_texts, languages};
use crate::render::{Emblem, Format, House, MAX_PICTURE, Words};
use crate::shop::Paths;
use crate::text::{Code, Finding};

use super::commands::warn;

/// Names that the shop's picture may have, in its `templates/`.
const PICTURES: [&str; 3] = ["logo.png", "logo.jpg", "logo.jpeg"];
/// The file that says fixed texts otherwise, there.
const WORDS: &str = "words.yaml";

/// The shop that a record is rendered for.
pub(super) fn house(host: &dyn Host, root: Option<&Path>) -> Result<House, AppError> {
    let Some(paths) = root.map(Paths::at) else {
        return Ok(House::default());
    };
    let shop = app::read_shop_of(host, &paths)?;
    Ok(House {
        name: shop.name,
        picture: picture(host, &paths)?,
        words: words(host, &paths, shop.language.as_deref().unwrap_or("en"))?,
    })
}

/// The file of the shop's picture, if it has one.
pub(super) fn picture_file(host: &dyn Host, paths: &Paths) -> Option<PathBuf> {
    let files = PICTURES.map(|name| paths.templates().join(name));
    files.into_iter().find(|f| host.exists(f))
}

/// The shop's picture.
pub(super) fn picture(host: &dyn Host, paths: &Paths) -> Result<Option<Emblem>, AppError> {
    let Some(file) = picture_file(host, paths) else {
        return Ok(None);
    };
    // One byte more than may be, so that the picture itself is what is said to be too large.
    let bytes = host
        .read(&file, MAX_PICTURE as u64 * 64)
        .map_err(|e| AppError::at(&file, &e))?;
    let read = Emblem::read(bytes);
    let told = |why| AppError::new(format!("{}: {why}", file.display()));
    read.map(Some).map_err(told)
}

/// The file in which a shop says fixed texts otherwise.
pub(super) fn words_file(paths: &Paths) -> PathBuf {
    paths.templates().join(WORDS)
}

/// The words of a language, with those that the shop says otherwise. A text that no rendering says any more is told and
/// passed over: an older file goes on to serve.
pub(super) fn words(host: &dyn Host, paths: &Paths, language: &str) -> Result<Words, AppError> {
    let mut words = Words::of(language);
    let file = words_file(paths);
    if !host.exists(&file) {
        if !languages().any(|l| l == language) {
            warn(&format!(
                "there are no words for the language `{language}`; fill in what `stepwell render --words` prints as {}",
                file.display()
            ));
        }
        return Ok(words);
    }
    let findings = |findings: Vec<Finding>| AppError::Findings(findings);
    let source = app::read_source(host, &file)?.map_err(|f| findings(vec![f]))?;
    let document = Document::read(source).map_err(findings)?;
    let root = At::root(&document);
    let texts = root.get("texts");
    let mut faults = Vec::new();
    for (english, at) in texts.iter().flat_map(At::entries) {
        let said = at.text().filter(|t| !t.is_empty());
        if !fixed_texts().any(|t| t == english) {
            warn(&format!(
                "{}: no rendering says `{english}`; `stepwell render --words` prints the texts that are said",
                file.display()
            ));
            continue;
        }
        match said.map(|said| words.clone().with(english, &said)) {
            Some(Ok(with)) => words = with,
            Some(Err(why)) => faults.push(at.finding(
                Code::ShopFault,
                why,
                "keep the names in braces; they may stand in another order",
            )),
            // What is not filled in stays as it is.
            None => {}
        }
    }
    match faults.is_empty() {
        true => Ok(words),
        false => Err(findings(faults)),
    }
}

/// The shop's own template of a form, if it has one.
pub(super) fn template(host: &dyn Host, root: Option<&Path>, format: Format) -> Option<PathBuf> {
    let name = match format {
        Format::Text => "record.txt",
        Format::Markdown => "record.md",
        Format::Html => "record.html",
    };
    let file = Paths::at(root?).templates().join(name);
    host.exists(&file).then_some(file)
}

/// All fixed texts, to be filled in as `templates/words.yaml`.
pub(super) fn empty_words() -> String {
    let mut text = "# What renderings say in the language of `language:` in shop.yaml. A text that is left empty stays as it is;\n# `{name}` is a part that is put in.\ntexts:\n".to_owned();
    for english in fixed_texts() {
        let quoted = serde_json::to_string(english).expect("a text has a form as data");
        text.push_str(&format!("  {quoted}: \"\"\n"));
    }
    text
}
