//! A Markdown document with fenced blocks.
//!
//! Never in here: what the blocks mean. Changes when documents are written otherwise.

use stepwell::app::{Sought, check_contradictions};
use stepwell::plan::Reaches;
use stepwell::recipe::{Absent, Door, Fetched, Library, Name, check_ranges, read_with};
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

/// The recipes that stand beside the one of a document.
struct Beside<'a>(Vec<&'a str>);

/// The value of a key of a recipe's header.
fn key<'a>(recipe: &'a str, key: &str) -> Option<&'a str> {
    let mut lines = recipe.lines();
    lines.find_map(|line| line.strip_prefix(key)?.strip_prefix(": "))
}

impl Door for Beside<'_> {
    fn fetch(&self, name: &Name) -> Result<Fetched, Absent> {
        let revision = |r: &&str| key(r, "revision").and_then(|r| r.parse().ok()).unwrap_or(0);
        let of_id = self.0.iter().filter(|r| key(r, "recipe") == Some(&name.id));
        let mut of_id: Vec<&&str> = of_id.collect();
        of_id.sort_by_key(|r| revision(r));
        let file = format!("{}.yaml", name.id);
        let newest = of_id.last().map_or(0, |r| revision(r));
        match of_id.iter().find(|r| revision(r) == name.revision) {
            Some(recipe) => Ok(Fetched {
                source: Source::new(&file, recipe),
                newest,
            }),
            None if of_id.is_empty() => Err(Absent::Unknown(None)),
            None => Err(Absent::OtherRevision(file, newest)),
        }
    }
}

/// What reading the recipe of a document finds, with the recipes beside it (`yaml base`).
pub fn findings(document: &str, recipe: &str) -> Vec<Finding> {
    let beside = Beside(blocks(document, "yaml base"));
    let mut reading = read_with(Source::new("page.yaml", recipe), &Library::new(&beside));
    if let (Some(whole), Some(plan)) = (&reading.whole, &reading.plan) {
        let reaches = Reaches::of(&plan.items);
        reading.findings.extend(check_ranges(whole, plan, &reaches));
        let told =
            check_contradictions(whole, plan, &reaches, &reading.findings, &Sought::default());
        reading.findings.extend(told);
    }
    reading.findings
}

/// A finding in a line: `line:column severity code message`, in a file beside the recipe with that file's name before it.
pub fn line(finding: &Finding) -> String {
    let place = finding.source.place(finding.span.start);
    let (severity, code) = (finding.severity().word(), finding.code.name());
    let file = match &*finding.source.name {
        "page.yaml" => String::new(),
        other => format!("{other}:"),
    };
    format!(
        "{file}{}:{} {severity} {code} {}",
        place.line, place.column, finding.message
    )
}
