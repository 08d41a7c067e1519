//! Comments that cut a text short: `Pressure # 2` without quotes says `Pressure` and no more.
//!
//! Never in here: comments in lines of their own. Changes when another key holds text for people.

use crate::recipe::yaml::Document;
use crate::text::{Code, Finding, Span, quoted};

/// The keys whose values people read.
const READ: [&str; 14] = [
    "tell", "confirm", "choose", "enter", "count", "measure", "time", "trace", "judge", "group",
    "title", "why", "help", "caution",
];

/// Reports texts of a file that end at a comment in the same line.
pub fn cut_texts(document: &Document, findings: &mut Vec<Finding>) {
    let mut start = 0;
    for line in document.source.text.split_inclusive('\n') {
        if let Some((from, hash)) = cut(line) {
            let text = line[from..hash].trim_end();
            findings.push(Finding {
                code: Code::CutText,
                message: format!(
                    "what follows `#` is a comment: the text is {}",
                    quoted(text)
                ),
                help: "put the whole text in quotes, or the comment in a line of its own"
                    .to_owned(),
                source: document.source.clone(),
                span: Span {
                    start: start + hash,
                    end: start + line.trim_end().len(),
                },
                path: String::new(),
                chain: Vec::new(),
            });
        }
        start += line.len();
    }
}

/// Where a text without quotes begins in a line, and the comment behind it.
fn cut(line: &str) -> Option<(usize, usize)> {
    let hash = line.find(" #")? + 1;
    let content = line.trim_start().trim_start_matches("- ").trim_start();
    let (key, value) = content.split_once(": ")?;
    let value = value.trim_start();
    let plain = !value.starts_with(['"', '\'', '#', '{', '[', '>', '|']);
    let from = line.len() - value.len();
    (READ.contains(&key) && plain && from < hash).then_some((from, hash))
}
