//! A procedure for people, before it is walked.
//!
//! Never in here: where its parts come from. Changes when an outline is told otherwise.

use minijinja::AutoEscape;

use super::cautions::said_once;
use super::clean::plain;
use super::document::{Block, Document, Fact, section};
use super::pdf::{self, Paper};
use super::{Format, RenderError, html, markdown, text};

/// What is told of a procedure.
#[derive(Clone, Debug, Default)]
pub struct OutlinePage {
    /// The title.
    pub title: String,
    /// What it is, and what it rests on.
    pub facts: Vec<(String, String)>,
    /// What can hurt.
    pub cautions: Vec<String>,
    /// The constants: name, value, where it is said.
    pub settings: Vec<[String; 3]>,
    /// Setup and steps: what they are called, and what is told of each step.
    pub sections: Vec<(String, Vec<StepFacts>)>,
    /// Where limits come from: key, words, where it is said.
    pub bases: Vec<[String; 3]>,
}

/// What is told of a step: a label with its words; the first one names it.
pub type StepFacts = Vec<(String, String)>;

/// Writes an outline.
///
/// # Errors
/// A rendering that grows beyond what is written.
pub fn outline(page: &OutlinePage, format: Format) -> Result<String, RenderError> {
    let document = document(page, format != Format::Text);
    let (escape, template) = match format {
        Format::Text => (AutoEscape::None, text::TEMPLATE),
        Format::Markdown => (AutoEscape::None, markdown::TEMPLATE),
        Format::Html => (AutoEscape::Html, html::TEMPLATE),
    };
    super::template::render_page(&document, escape, template)
}

/// Writes an outline as PDF/A; `date` is when.
///
/// # Errors
/// As [`outline`].
pub fn outline_pdf(page: &OutlinePage, date: &str, paper: Paper) -> Result<Vec<u8>, RenderError> {
    pdf::page(&document(page, true), date, paper)
}

/// An outline; where it is `headed` each step has a heading, in place of its first fact.
fn document(page: &OutlinePage, headed: bool) -> Document {
    let fact = |(label, words): &(String, String)| Fact::new(plain(label), plain(words));
    let mut blocks = vec![Block::Facts {
        facts: page.facts.iter().map(fact).collect(),
        brief: false,
    }];
    if !page.cautions.is_empty() {
        blocks.push(Block::Note {
            caution: true,
            title: String::new(),
            items: said_once(page.cautions.iter().map(|c| plain(c))),
        });
    }
    blocks.extend(named("Settings", &page.settings));
    for (name, steps) in page.sections.iter().filter(|(_, steps)| !steps.is_empty()) {
        blocks.push(section(name));
        for step in steps {
            let mut facts: Vec<Fact> = step.iter().map(fact).collect();
            if headed && !facts.is_empty() {
                let text = facts.remove(0).text;
                blocks.push(Block::Heading { level: 3, text });
            }
            blocks.push(Block::Facts {
                facts,
                brief: false,
            });
        }
    }
    blocks.extend(named("Bases", &page.bases));
    Document {
        title: plain(&page.title),
        language: "en".to_owned(),
        blocks,
        ..Document::default()
    }
}

/// Names with their texts, under a heading.
fn named(heading: &str, all: &[[String; 3]]) -> Vec<Block> {
    if all.is_empty() {
        return Vec::new();
    }
    let one =
        |[name, words, from]: &[String; 3]| Fact::new(plain(name), plain(words)).aside(plain(from));
    let facts = Block::Facts {
        facts: all.iter().map(one).collect(),
        brief: false,
    };
    vec![section(heading), facts]
}
