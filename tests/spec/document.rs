//! A Markdown document with fenced blocks.
//!
//! Never in here: what the blocks mean. Changes when documents are written otherwise.

use stepwell::recipe::read;
use stepwell::text::{Finding, Source};

/// The text of each fenced block with this word behind the fence.
pub fn blocks<'a>(text: &'a str, word: &str) -> Vec<&'a str> {
    let fence = format!("```{word}\n");
    text.match_indices(&fence)
        .filter_map(|(at, _)| {
            let rest = &text[at + fence.len()..];
            if rest.starts_with("```") {
                return Some("");
            }
            rest.find("\n```").map(|end| &rest[..=end])
        })
        .collect()
}

/// What reading a recipe finds.
pub fn findings(recipe: &str) -> Vec<Finding> {
    read(Source::new("page.yaml", recipe)).findings
}

/// A finding in a line: `line:column severity code message`.
pub fn line(finding: &Finding) -> String {
    let place = finding.source.place(finding.span.start);
    let (severity, code) = (finding.severity().word(), finding.code.name());
    format!(
        "{}:{} {severity} {code} {}",
        place.line, place.column, finding.message
    )
}
