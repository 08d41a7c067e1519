//! Hostile text stays text, and a shop's own template has its bounds.

use stepwell::render::{Beside, Format, render, render_with};

use crate::made;

#[test]
fn html_holds_no_script_and_nothing_from_elsewhere() {
    for record in [
        made::pass(),
        made::fail(),
        made::retried(),
        made::hostile(),
        made::long(),
    ] {
        let html = render(&record, &Beside::default(), Format::Html).unwrap();
        for bad in [
            "<script",
            "<img",
            "<link",
            "<iframe",
            " onerror=y>",
            "src=\"",
            "url(",
            "@import",
            "href=\"http",
        ] {
            assert!(!html.contains(bad), "{bad}");
        }
        assert_eq!(html.matches("</style>").count(), 1);
    }
    let html = render(&made::hostile(), &Beside::default(), Format::Html).unwrap();
    assert!(html.contains("&lt;script&gt;"));
}

#[test]
fn deceiving_characters_become_visible_in_every_form() {
    for format in [Format::Text, Format::Markdown, Format::Html] {
        let text = render(&made::hostile(), &Beside::default(), format).unwrap();
        let deceives = |c: char| {
            (c.is_control() && c != '\n')
                || matches!(c, '\u{200b}'..='\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
        };
        assert!(!text.chars().any(deceives), "{format:?}");
        assert!(
            text.contains("U+202E") && text.contains("U+001B"),
            "{format:?}"
        );
    }
}

#[test]
fn markdown_keeps_its_shape() {
    let text = render(&made::hostile(), &Beside::default(), Format::Markdown).unwrap();
    assert!(!text.contains("<script") || text.contains("\\<script"));
    for line in text.lines() {
        assert!(!line.starts_with("# h"), "{line}");
        let plain = line
            .replace("\\<", "")
            .replace("\\[", "")
            .replace("\\*", "")
            .replace("\\`", "");
        assert!(
            !plain.contains("<script") && !plain.contains("[l]") && !plain.contains("**b**"),
            "{line}"
        );
    }
    let tables: Vec<&str> = text.lines().filter(|l| l.starts_with('|')).collect();
    let cells = |line: &str| line.replace("\\|", "").matches('|').count();
    for pair in tables.windows(2) {
        let same_table = text.contains(&format!("{}\n{}", pair[0], pair[1]));
        assert!(!same_table || cells(pair[0]) == cells(pair[1]), "{pair:?}");
    }
}

#[test]
fn a_shops_template_sees_document_and_record() {
    let text = render_with(
        &made::fail(),
        &Beside::default(),
        "{{ record.device.tag }}: {{ record.verdict }} ({{ document.record }})",
    );
    assert_eq!(text.unwrap(), "VP-1001: fail (B1-2026-0042)");
}

#[test]
fn a_shops_template_with_tags_escapes() {
    let html = render_with(
        &made::hostile(),
        &Beside::default(),
        "<p>{{ record.by }}</p>",
    )
    .unwrap();
    assert!(html.contains("&lt;script&gt;") && !html.contains("<script"));
}

#[test]
fn a_shops_template_that_is_wrong_says_where() {
    let error = render_with(
        &made::pass(),
        &Beside::default(),
        "one\n{{ record.nothing.here }}\n",
    )
    .unwrap_err();
    assert_eq!(error.line, Some(2), "{error}");
    let error = render_with(
        &made::pass(),
        &Beside::default(),
        "one\ntwo\n{% for x in %}",
    )
    .unwrap_err();
    assert!(
        error.to_string().starts_with("line 3 of the template: "),
        "{error}"
    );
    let error =
        render_with(&made::pass(), &Beside::default(), "{% include 'secret' %}").unwrap_err();
    assert!(error.line.is_some(), "{error}");
}

#[test]
fn a_shops_template_comes_to_an_end() {
    let nested = "{% for a in range(9999) %}{% for b in range(9999) %}{% set x = a %}{% endfor %}{% endfor %}";
    let error = render_with(&made::pass(), &Beside::default(), nested).unwrap_err();
    assert!(error.message.contains("too long"), "{error}");
}
