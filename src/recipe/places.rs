//! Where every key and value of a YAML text stands, built from the parser's events; and the limits on what is read.
//!
//! Never in here: values. Changes when the limits do.

use std::collections::HashMap;

use saphyr_parser::{Event, Parser, ScalarStyle, Span as YamlSpan, Tag};

use crate::text::{Code, Span};

use super::slips::{closing, syntax_fault, unclosed};
use super::strict::MAX_DEPTH;

/// Most values in a file, aliases expanded.
const MAX_NODES: usize = 1_000_000;
/// Most aliases.
const MAX_ALIASES: usize = 1_000;
/// Most faults of the text itself that are told.
const MAX_FAULTS: usize = 100;

/// A value's place, with those inside it.
#[derive(Clone, Debug, Default)]
pub struct Place {
    /// The place of its key.
    pub key: Option<Span>,
    /// Its own.
    pub span: Span,
    inside: Inside,
}

#[derive(Clone, Debug, Default)]
enum Inside {
    /// An alias, or nothing.
    #[default]
    Nothing,
    /// A scalar; plain ones stand in the source as they are.
    Scalar {
        plain: bool,
    },
    Sequence(Vec<Place>),
    /// Sorted by key, so that one of many is found at once.
    Mapping(Vec<(String, Place)>),
}

impl Place {
    /// The place of a part.
    pub fn part(&self, name: &str) -> Option<&Self> {
        match &self.inside {
            Inside::Sequence(items) => items.get(name.parse::<usize>().ok()?),
            Inside::Mapping(entries) => {
                let at = entries
                    .binary_search_by(|(key, _)| key.as_str().cmp(name))
                    .ok()?;
                Some(&entries[at].1)
            }
            Inside::Nothing | Inside::Scalar { .. } => None,
        }
    }

    /// A part, to be changed.
    pub fn part_mut(&mut self, name: &str) -> Option<&mut Self> {
        match &mut self.inside {
            Inside::Sequence(items) => items.get_mut(name.parse::<usize>().ok()?),
            Inside::Mapping(entries) => {
                let entry = entries.iter_mut().find(|(key, _)| key == name)?;
                Some(&mut entry.1)
            }
            Inside::Nothing | Inside::Scalar { .. } => None,
        }
    }

    /// Calls a part by another key; its places stay.
    pub fn rename_part(&mut self, from: &str, to: &str) {
        if let Inside::Mapping(entries) = &mut self.inside
            && let Some(entry) = entries.iter_mut().find(|(key, _)| key == from)
        {
            to.clone_into(&mut entry.0);
            entries.sort_by(|a, b| a.0.cmp(&b.0));
        }
    }

    /// Whether it is a scalar without quotes.
    pub fn is_plain(&self) -> bool {
        matches!(self.inside, Inside::Scalar { plain: true })
    }
}

/// A fault of the text: code, message, help, place.
pub type Fault = (Code, String, String, Span);

/// Reads the places of a text.
///
/// # Errors
/// Text that is not YAML, or beyond the limits; keys that stand twice; tags; several documents.
pub fn places(text: &str) -> Result<Place, Vec<Fault>> {
    let mut builder = Builder::new(text);
    // Event by event, not by the parser's own recursion: depth is bounded before it can hurt.
    for event in Parser::new_from_str(text) {
        match event {
            Ok((event, span)) => builder.on_event(event, span),
            Err(error) => {
                let at = builder.byte(error.marker().index());
                let mut fault = syntax_fault(text, at, error.info());
                let begun = builder.open_bracket().or_else(|| {
                    // The parser can fail before it says that a bracket was opened.
                    let ahead = error.info().contains("inside a block");
                    ahead.then(|| unclosed(text, at)).flatten()
                });
                if let Some(help) = begun.and_then(|open| closing(text, open, at)) {
                    fault.2 = help;
                }
                return Err(vec![fault]);
            }
        }
        if builder.over {
            break;
        }
    }
    builder.faults.sort_by_key(|f| f.3);
    if builder.faults.is_empty() {
        Ok(builder.root)
    } else {
        Err(builder.faults)
    }
}

/// A list or mapping that has not ended.
struct Open {
    start: usize,
    key: Option<Span>,
    anchor: usize,
    nodes_before: usize,
    parts: Parts,
}

enum Parts {
    Sequence(Vec<Place>),
    Mapping {
        entries: Vec<(String, Place)>,
        next: Option<(String, Span)>,
    },
}

struct Builder<'a> {
    text: &'a str,
    ascii: bool,
    /// Byte of every 64th character, so that a place is found without reading the whole text.
    milestones: Vec<usize>,
    root: Place,
    open: Vec<Open>,
    faults: Vec<Fault>,
    /// Whether a limit was passed: nothing more is looked at.
    over: bool,
    documents: usize,
    nodes: usize,
    aliases: usize,
    anchored: HashMap<usize, usize>,
}

const MILESTONE: usize = 64;

impl<'a> Builder<'a> {
    fn new(text: &'a str) -> Self {
        let ascii = text.is_ascii();
        let milestones = if ascii {
            Vec::new()
        } else {
            text.char_indices()
                .step_by(MILESTONE)
                .map(|(i, _)| i)
                .collect()
        };
        Self {
            text,
            ascii,
            milestones,
            root: Place::default(),
            open: Vec::new(),
            faults: Vec::new(),
            over: false,
            documents: 0,
            nodes: 0,
            aliases: 0,
            anchored: HashMap::new(),
        }
    }

    /// The byte of a character.
    fn byte(&self, character: usize) -> usize {
        if self.ascii {
            return character.min(self.text.len());
        }
        let Some(start) = self.milestones.get(character / MILESTONE) else {
            return self.text.len();
        };
        let rest = &self.text[*start..];
        rest.char_indices()
            .nth(character % MILESTONE)
            .map_or(self.text.len(), |(i, _)| start + i)
    }

    fn span(&self, span: YamlSpan) -> Span {
        Span {
            start: self.byte(span.start.index()),
            end: self.byte(span.end.index()),
        }
    }

    fn fault(&mut self, code: Code, message: impl Into<String>, help: &'static str, span: Span) {
        self.over |= code == Code::TooLarge;
        if self.faults.len() < MAX_FAULTS {
            self.faults
                .push((code, message.into(), help.to_owned(), span));
        }
    }

    /// Where a list or mapping in brackets was opened that is not closed.
    fn open_bracket(&self) -> Option<usize> {
        let bracket = |open: &&Open| self.text[open.start..].starts_with(['{', '[']);
        self.open.iter().find(bracket).map(|open| open.start)
    }

    fn count(&mut self, nodes: usize, span: Span) {
        self.nodes = self.nodes.saturating_add(nodes);
        if self.nodes > MAX_NODES {
            self.fault(
                Code::TooLarge,
                format!("more than {MAX_NODES} values"),
                "write fewer, or fewer aliases",
                span,
            );
        }
    }

    fn wants_key(&self) -> bool {
        matches!(
            self.open.last(),
            Some(Open {
                parts: Parts::Mapping { next: None, .. },
                ..
            })
        )
    }

    /// The place of the key of the value that comes now.
    fn key(&self) -> Option<Span> {
        match self.open.last() {
            Some(Open {
                parts:
                    Parts::Mapping {
                        next: Some((_, span)),
                        ..
                    },
                ..
            }) => Some(*span),
            _ => None,
        }
    }

    /// Puts a value that has ended where it belongs.
    fn put(&mut self, place: Place) {
        match self.open.last_mut().map(|open| &mut open.parts) {
            None => self.root = place,
            Some(Parts::Sequence(items)) => items.push(place),
            Some(Parts::Mapping { entries, next }) => {
                if let Some((name, _)) = next.take() {
                    entries.push((name, place));
                }
            }
        }
    }

    fn scalar(&mut self, text: &str, plain: bool, span: Span) {
        self.count(1, span);
        if let Some(Open {
            parts: Parts::Mapping {
                next: next @ None, ..
            },
            ..
        }) = self.open.last_mut()
        {
            *next = Some((text.to_owned(), span));
            return;
        }
        let key = self.key();
        self.put(Place {
            key,
            span,
            inside: Inside::Scalar { plain },
        });
    }

    fn begin(&mut self, span: Span, anchor: usize, parts: Parts) {
        self.count(1, span);
        if self.wants_key() {
            self.fault(
                Code::YamlSyntax,
                "a key that is itself a list or a mapping",
                "keys are plain text",
                span,
            );
        }
        if self.open.len() == MAX_DEPTH {
            self.fault(
                Code::TooLarge,
                format!("nested deeper than {MAX_DEPTH}"),
                "nest less deeply",
                span,
            );
        }
        let key = self.key();
        self.open.push(Open {
            start: span.start,
            key,
            anchor,
            nodes_before: self.nodes,
            parts,
        });
    }

    fn end(&mut self, span: Span) {
        let Some(open) = self.open.pop() else { return };
        if open.anchor != 0 {
            self.anchored
                .insert(open.anchor, self.nodes - open.nodes_before + 1);
        }
        let inside = match open.parts {
            Parts::Sequence(items) => Inside::Sequence(items),
            Parts::Mapping { mut entries, .. } => {
                entries.sort_by(|a, b| a.0.cmp(&b.0).then(a.1.key.cmp(&b.1.key)));
                self.twice(&entries);
                Inside::Mapping(entries)
            }
        };
        let span = Span {
            start: open.start,
            end: span.end.max(open.start),
        };
        self.put(Place {
            key: open.key,
            span,
            inside,
        });
    }

    fn twice(&mut self, sorted: &[(String, Place)]) {
        for pair in sorted.windows(2).filter(|pair| pair[0].0 == pair[1].0) {
            let message = format!("the key `{}` stands twice in this mapping", pair[1].0);
            let span = pair[1].1.key.unwrap_or_default();
            self.fault(
                Code::DuplicateKey,
                message,
                "remove one of the two, or rename it",
                span,
            );
        }
    }

    fn alias(&mut self, anchor: usize, span: Span) {
        self.aliases += 1;
        if self.aliases > MAX_ALIASES {
            self.fault(
                Code::TooLarge,
                format!("more than {MAX_ALIASES} aliases"),
                "write the values out",
                span,
            );
        }
        self.count(self.anchored.get(&anchor).copied().unwrap_or(1), span);
        if self.wants_key() {
            self.fault(
                Code::YamlSyntax,
                "an alias as a key",
                "keys are plain text",
                span,
            );
        }
        let key = self.key();
        self.put(Place {
            key,
            span,
            inside: Inside::Nothing,
        });
    }

    fn tagged(&mut self, tag: Option<&Tag>, span: Span) {
        if let Some(tag) = tag {
            let message = format!("the tag `{}{}` has no meaning here", tag.handle, tag.suffix);
            self.fault(
                Code::YamlSyntax,
                message,
                "remove the tag; put text that begins with `!` into quotes",
                span,
            );
        }
    }

    fn on_event(&mut self, event: Event<'_>, span: YamlSpan) {
        let span = self.span(span);
        match event {
            Event::DocumentStart(_) => {
                self.documents += 1;
                if self.documents == 2 {
                    self.fault(
                        Code::YamlSyntax,
                        "a second document",
                        "one file holds one document",
                        span,
                    );
                }
            }
            Event::Scalar(text, style, _, tag) => {
                self.tagged(tag.as_deref(), span);
                self.scalar(&text, style == ScalarStyle::Plain, span);
            }
            Event::SequenceStart(anchor, tag) => {
                self.tagged(tag.as_deref(), span);
                self.begin(span, anchor, Parts::Sequence(Vec::new()));
            }
            Event::MappingStart(anchor, tag) => {
                self.tagged(tag.as_deref(), span);
                self.begin(
                    span,
                    anchor,
                    Parts::Mapping {
                        entries: Vec::new(),
                        next: None,
                    },
                );
            }
            Event::SequenceEnd | Event::MappingEnd => self.end(span),
            Event::Alias(anchor) => self.alias(anchor, span),
            Event::Nothing | Event::StreamStart | Event::StreamEnd | Event::DocumentEnd => {}
        }
    }
}
