//! A browser shows our pages: `axe-core` finds nothing that shuts readers out, and no page is wider than its window.
//!
//! Chromium is started once for light and once for dark. The script of `axe-core` is looked for in `STEPWELL_AXE`, else in the
//! Python package `axe-playwright-python`, which carries it.

use std::path::PathBuf;
use std::process::Command;

use serde_json::{Value, json};
use stepwell::render::{Format, render};

use crate::kinds::Kinds;

/// The script of `axe-core`; in CI it must be there.
fn axe() -> Option<String> {
    let named = std::env::var_os("STEPWELL_AXE").map(PathBuf::from);
    let find = "import importlib.util as u; print(u.find_spec('axe_playwright_python').submodule_search_locations[0])";
    let carried = || {
        let found = Command::new("python3").args(["-c", find]).output().ok()?;
        let folder = String::from_utf8(found.stdout).ok()?;
        (!folder.trim().is_empty()).then(|| PathBuf::from(folder.trim()).join("axe.min.js"))
    };
    let text = named
        .or_else(carried)
        .and_then(|file| std::fs::read_to_string(file).ok());
    if text.is_none() {
        assert!(
            std::env::var_os("CI").is_none(),
            "`axe-core` must be there in CI"
        );
        eprintln!("SKIPPED: `axe-core` is not there");
    }
    text
}

/// A page as it is, but that it lets a script of ours look at it.
fn opened(html: &str) -> String {
    let policy = regex::Regex::new("<meta http-equiv=\"Content-Security-Policy\"[^>]*>");
    let opened = policy.expect("a pattern").replace(html, "");
    assert!(opened.len() < html.len(), "a page has its policy");
    opened.into_owned()
}

/// A page with faults: an image without words for it, and a box wider than a window.
const FAULTY: &str = "<!DOCTYPE html><html lang=\"en\"><head><title>t</title></head><body><main><h1>x</h1>\
    <img src=\"data:image/png;base64,\"><div style=\"width: 2000px\">x</div></main></body></html>";

fn pages() -> Vec<(String, String)> {
    let kinds = Kinds::made();
    let files = kinds.rendered("html", "");
    let mut pages: Vec<(String, String)> = files
        .iter()
        .map(|(kind, file)| ((*kind).to_owned(), opened(&kinds.shop.read(file))))
        .collect();
    let beside = crate::by_hand::hostile_beside();
    for (name, record) in [
        ("hostile", crate::by_hand::hostile()),
        ("long", crate::by_hand::long()),
    ] {
        let html = render(&record, &beside, Format::Html).expect("a page");
        pages.push((name.to_owned(), opened(&html)));
    }
    pages.push(("faulty".to_owned(), FAULTY.to_owned()));
    pages
}

/// What the browser tells of the pages.
fn looked_at(pages: &[(String, String)], axe: &str, dark: bool) -> Vec<Value> {
    let folder = tempfile::tempdir().expect("a folder");
    let safe = |value: Value| value.to_string().replace('<', "\\u003c");
    let page = include_str!("browser.html")
        .replacen("AXE", &safe(json!(axe)), 1)
        .replacen("PAGES", &safe(json!(pages)), 1);
    let file = folder.path().join("pages.html");
    std::fs::write(&file, page).expect("room");
    let shown = Command::new("chromium")
        .args(
            "--headless --no-sandbox --disable-gpu --disable-quic --no-first-run --disable-sync"
                .split(' '),
        )
        .args("--disable-background-networking --disable-component-update --dump-dom".split(' '))
        .arg(format!(
            "--user-data-dir={}",
            folder.path().join("data").display()
        ))
        .arg(format!(
            "--blink-settings=preferredColorScheme={}",
            u8::from(!dark)
        ))
        .arg("--virtual-time-budget=600000")
        .arg(format!("file://{}", file.display()))
        .output()
        .expect("the browser");
    let text = String::from_utf8_lossy(&shown.stdout);
    let said = text
        .split_once("<pre id=\"said\">")
        .and_then(|(_, t)| t.split_once("</pre>"));
    let said = said.map_or("", |s| s.0);
    let said = said
        .replace("&lt;", "<")
        .replace("&gt;", ">")
        .replace("&amp;", "&");
    serde_json::from_str(&said)
        .unwrap_or_else(|e| panic!("{e}: {}", String::from_utf8_lossy(&shown.stderr)))
}

#[test]
fn pages_shut_nobody_out_and_fit_their_window() {
    if !super::at_hand("chromium") {
        return;
    }
    let Some(axe) = axe() else { return };
    let pages = pages();
    for dark in [false, true] {
        let said = looked_at(&pages, &axe, dark);
        assert_eq!(said.len(), 2 * pages.len());
        for page in said {
            assert_eq!(page["dark"], dark, "{page}");
            let faults = page["violations"].as_array().expect("a list");
            let good = faults.is_empty() && page["wide"] == false;
            // That faults are found at all is shown by a page that has some.
            assert_eq!(good, page["name"] != "faulty", "{page}");
        }
    }
}
