//! What is wrong with the files by which a shop shapes its renderings: `check` tells what `render` would refuse.
//!
//! Never in here: how they are read (see `house.rs`). Changes when a shop may shape its renderings by another file.

use std::path::{Path, PathBuf};

use crate::app::{self, AppError, Checked};
use crate::host::Host;
use crate::render::{Beside, Format, House, RenderError, render_with, template_fault};
use crate::shop::Paths;
use crate::text::{Code, Finding, Source, Span};

use super::house;

/// Checks what is named: recipes and a shop's files, and those of its `templates/`.
pub(super) fn check(host: &dyn Host, paths: &[PathBuf]) -> Result<Checked, AppError> {
    let (mut roots, mut others) = (Vec::new(), Vec::new());
    for path in paths {
        let named = [Some(path.as_path()), path.parent()];
        let shaping = named
            .into_iter()
            .flatten()
            .find_map(|folder| of_templates(host, folder));
        match shaping {
            Some(root) => roots.push(root),
            None => {
                roots.extend(is_shop(host, path).then(|| path.clone()));
                others.push(path.clone());
            }
        }
    }
    let mut checked = match others.is_empty() {
        true => Checked {
            files: Vec::new(),
            findings: Vec::new(),
        },
        false => app::check(host, &others)?,
    };
    roots.sort();
    roots.dedup();
    for root in roots {
        of_shop(host, &root, &mut checked)?;
    }
    Ok(checked)
}

/// The shop whose `templates/` a folder is.
fn of_templates(host: &dyn Host, folder: &Path) -> Option<PathBuf> {
    let root = folder.parent()?;
    (folder.file_name()? == "templates" && is_shop(host, root)).then(|| root.to_owned())
}

fn is_shop(host: &dyn Host, folder: &Path) -> bool {
    host.exists(&folder.join("shop.yaml"))
}

fn of_shop(host: &dyn Host, root: &Path, into: &mut Checked) -> Result<(), AppError> {
    let paths = Paths::at(root);
    // What is wrong with the shop's own file is told already.
    let language = app::read_shop_of(host, &paths)
        .ok()
        .and_then(|s| s.language);
    let mut house = House::default();
    if let Some(file) = house::picture_file(host, &paths) {
        match house::picture(host, &paths) {
            Ok(picture) => house.picture = picture,
            Err(error) => into.findings.push(unread(&file, &error)),
        }
        into.files.push(file);
    }
    let file = house::words_file(&paths);
    if host.exists(&file) {
        match house::words(host, &paths, language.as_deref().unwrap_or("en")) {
            Ok(words) => house.words = words,
            Err(AppError::Findings(findings)) => into.findings.extend(findings),
            Err(error) => into.findings.push(unread(&file, &error)),
        }
        into.files.push(file);
    }
    for format in [Format::Text, Format::Markdown, Format::Html] {
        if let Some(file) = house::template(host, Some(root), format) {
            let found = of_template(host, &paths, &file, &house)?;
            into.findings.extend(found);
            into.files.push(file);
        }
    }
    Ok(())
}

/// What is wrong with a template: by itself, or when the newest record of the shop is rendered with it.
fn of_template(
    host: &dyn Host,
    paths: &Paths,
    file: &Path,
    house: &House,
) -> Result<Option<Finding>, AppError> {
    let source = match app::read_source(host, file)? {
        Ok(source) => source,
        Err(finding) => return Ok(Some(finding)),
    };
    let newest = || {
        let path = app::all_records(host, paths).ok()?.pop()?;
        let (_, record) = app::read_record(host, Some(paths), path.to_str()?).ok()?;
        let house = house.clone();
        let beside = Beside {
            house,
            ..Beside::default()
        };
        render_with(&record, &beside, &source.text).err()
    };
    let fault = template_fault(&source.text).or_else(newest);
    Ok(fault.map(|fault| of_fault(&source, &fault)))
}

fn of_fault(source: &Source, fault: &RenderError) -> Finding {
    let before = fault.line.map_or(0, |n| n.saturating_sub(1));
    let start = source.text.split_inclusive('\n').take(before);
    let start = start.map(str::len).sum();
    let line = source.text[start..].lines().next().unwrap_or_default();
    Finding {
        code: Code::ShopFault,
        message: fault.message.clone(),
        help: "mend the template, or take it away: `render` refuses it".to_owned(),
        span: Span {
            start,
            end: start + line.len(),
        },
        source: source.clone(),
        path: String::new(),
        chain: Vec::new(),
    }
}

/// A file that can't be used as a whole.
fn unread(file: &Path, error: &AppError) -> Finding {
    let name = file.display().to_string();
    let message = error.to_string();
    let message = message
        .strip_prefix(&format!("{name}: "))
        .map(str::to_owned);
    Finding {
        code: Code::ShopFault,
        message: message.unwrap_or_else(|| error.to_string()),
        help: "mend the file, or take it away: `render` refuses it".to_owned(),
        span: Span::default(),
        source: Source::new(&name, ""),
        path: String::new(),
        chain: Vec::new(),
    }
}
