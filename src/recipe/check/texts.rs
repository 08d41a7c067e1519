//! The keys beside a step's verb that say something to people, and those that say what follows from a criterion.
//!
//! Never in here: sentences, criteria. Changes when such a key is added.

use crate::recipe::cursor::At;
use crate::text::Code;

use super::Checker;

/// The texts of a step that are shown as they stand.
const PLAIN_TEXTS: [&str; 4] = ["title", "why", "help", "caution"];
/// The keys that are about criteria.
const ABOUT_CRITERIA: [&str; 3] = ["basis", "severity", "on_fail"];

impl Checker<'_> {
    /// Reports templates in a step's texts in which no values are put.
    pub(super) fn plain_texts(&mut self, step: &At<'_>) {
        for key in PLAIN_TEXTS {
            if let Some(at) = step.get(key) {
                let help = "write it into the sentence of the verb, or say it without the value";
                self.plain_text(&at, &format!("`{key}`"), help);
            }
        }
    }

    /// Reports templates in the texts of the header.
    pub fn plain_header(&mut self, root: &At<'_>) {
        let help = "say it without the value; values are put into the sentences of steps";
        if let Some(title) = root.get("title") {
            self.plain_text(&title, "`title`", help);
        }
        for caution in root.get("cautions").iter().flat_map(At::items) {
            self.plain_text(&caution, "`cautions`", help);
        }
    }

    fn plain_text(&mut self, at: &At<'_>, key: &str, help: &str) {
        let Some(text) = at.text() else { return };
        let Some(start) = ["{{", "{%"].iter().filter_map(|open| text.find(open)).min() else {
            return;
        };
        let close = if text[start..].starts_with("{{") {
            "}}"
        } else {
            "%}"
        };
        let end = text[start..]
            .find(close)
            .map_or(text.len(), |end| start + end + close.len());
        let message = format!("no values are put into {key}: this is shown as it stands");
        self.findings
            .push(at.finding_within(Code::TemplateElsewhere, (start, end), message, help));
    }

    /// Reports keys that are about criteria at a step that has none.
    pub(super) fn nothing_to_fail(&mut self, step: &At<'_>, inside: bool) {
        if step.get("on_fail").is_some_and(|at| at.has("retry")) {
            // That a retry has nothing to be about is said by itself.
            return;
        }
        // What is computed may name where its formula comes from.
        let computed = step.get("compute").is_some();
        let found: Vec<(&str, At<'_>)> = ABOUT_CRITERIA
            .iter()
            .filter(|key| !(computed && **key == "basis"))
            .filter_map(|key| Some((*key, step.get(key)?)))
            .collect();
        let Some((_, first)) = found.first() else {
            return;
        };
        let keys: Vec<String> = found.iter().map(|(key, _)| format!("`{key}`")).collect();
        let message = format!("{}, but nothing here can fail", keys.join(" and "));
        let help = if inside {
            "put it at the steps inside that have criteria"
        } else {
            "add `accept`, or remove it"
        };
        self.findings
            .push(first.finding_at_key(Code::NothingToFail, message, help));
    }
}
