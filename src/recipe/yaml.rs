//! YAML text to a value with a place for every key and value.
//!
//! `serde_yaml` gives the values; `saphyr-parser` gives places and the scalars' own text, and is where limits are
//! kept before anything is expanded. Never in here: what the keys mean. Changes when the limits do.

use std::collections::HashMap;

use saphyr_parser::{Event, Parser, Span as YamlSpan, Tag};
use serde_json::Value;

use crate::text::{Code, Finding, Source, Span};

/// Largest file that is read, in bytes.
pub const MAX_BYTES: usize = 8 * 1024 * 1024;
/// Deepest nesting.
const MAX_DEPTH: usize = 64;
/// Most values in a file, aliases expanded.
const MAX_NODES: usize = 1_000_000;
/// Most aliases.
const MAX_ALIASES: usize = 1_000;

/// A value with the places it came from.
#[derive(Clone, Debug)]
pub struct Document {
    /// The text.
    pub source: Source,
    /// The value.
    pub root: Value,
    places: HashMap<String, Entry>,
}

#[derive(Clone, Debug, Default)]
struct Entry {
    key: Option<Span>,
    value: Span,
    text: Option<Scalar>,
}

#[derive(Clone, Debug)]
struct Scalar {
    text: String,
    /// Whether the text stands in the source as it is, so that a place in it is a place in the source.
    literal_at: Option<usize>,
}

impl Document {
    /// Reads YAML text.
    ///
    /// # Errors
    /// Text that is not YAML, or beyond the limits; keys that stand twice; tags; several documents.
    pub fn read(source: Source) -> Result<Self, Vec<Finding>> {
        let whole = Span { start: 0, end: 0 };
        let fail = |code, message: String, help: &str, span| Finding {
            code,
            message,
            help: help.to_owned(),
            source: source.clone(),
            span,
            path: String::new(),
        };
        if source.text.len() > MAX_BYTES {
            let message = format!("the file is larger than {} MiB", MAX_BYTES / (1024 * 1024));
            return Err(vec![fail(Code::TooLarge, message, "split it", whole)]);
        }
        let mut index = Index::new(&source.text);
        // Event by event, not by the parser's own recursion: depth is bounded before it can hurt.
        for event in Parser::new_from_str(&source.text) {
            match event {
                Ok((event, span)) => index.on_event(event, span),
                Err(error) => {
                    let at = index.byte(error.marker().index());
                    let help = "check the indentation, the quotes and the colons around this place";
                    let span = Span {
                        start: at,
                        end: at + 1,
                    };
                    return Err(vec![fail(
                        Code::YamlSyntax,
                        error.info().to_owned(),
                        help,
                        span,
                    )]);
                }
            }
            if index.is_over_limits() {
                break;
            }
        }
        if !index.faults.is_empty() {
            let faults = std::mem::take(&mut index.faults);
            return Err(faults
                .into_iter()
                .map(|(code, message, help, span)| fail(code, message, help, span))
                .collect());
        }
        let yaml: serde_yaml::Value = serde_yaml::from_str(&source.text).map_err(|error| {
            let at = error.location().map_or(0, |l| l.index());
            vec![fail(
                Code::YamlSyntax,
                error.to_string(),
                "check the text at this place",
                Span { start: at, end: at },
            )]
        })?;
        let root = serde_json::to_value(yaml).map_err(|error| {
            vec![fail(
                Code::YamlSyntax,
                error.to_string(),
                "keys are plain text, numbers at most 64 bits long",
                whole,
            )]
        })?;
        Ok(Self {
            places: index.places,
            source,
            root,
        })
    }

    /// The place of a value; of its nearest parent where it has none.
    #[must_use]
    pub fn span(&self, pointer: &str) -> Span {
        self.nearest(pointer)
            .map_or_else(Span::default, |e| e.value)
    }

    /// The place of a key; of the value or its nearest parent where it has none.
    #[must_use]
    pub fn key_span(&self, pointer: &str) -> Span {
        self.places
            .get(pointer)
            .and_then(|e| e.key)
            .unwrap_or_else(|| self.span(pointer))
    }

    /// The text of a scalar as it was written (`5.00`).
    #[must_use]
    pub fn scalar(&self, pointer: &str) -> Option<&str> {
        self.places
            .get(pointer)?
            .text
            .as_ref()
            .map(|s| s.text.as_str())
    }

    /// The place of a word inside a scalar, where the scalar stands in the source as it is; else of the scalar.
    #[must_use]
    pub fn span_within(&self, pointer: &str, start: usize, end: usize) -> Span {
        let scalar = self.places.get(pointer).and_then(|e| e.text.as_ref());
        match scalar.and_then(|s| s.literal_at) {
            Some(at) => Span {
                start: at + start,
                end: at + end,
            },
            None => self.span(pointer),
        }
    }

    fn nearest(&self, pointer: &str) -> Option<&Entry> {
        let mut pointer = pointer;
        loop {
            if let Some(entry) = self.places.get(pointer) {
                return Some(entry);
            }
            pointer = &pointer[..pointer.rfind('/')?];
        }
    }

    /// A finding at a value.
    #[must_use]
    pub fn finding(&self, code: Code, pointer: &str, message: String, help: String) -> Finding {
        self.finding_at(code, pointer, self.span(pointer), message, help)
    }

    /// A finding at a place that belongs to a value.
    #[must_use]
    pub fn finding_at(
        &self,
        code: Code,
        pointer: &str,
        span: Span,
        message: String,
        help: String,
    ) -> Finding {
        Finding {
            code,
            message,
            help,
            source: self.source.clone(),
            span,
            path: pointer.to_owned(),
        }
    }
}

/// A key as a part of a JSON pointer (RFC 6901).
#[must_use]
pub fn escape(key: &str) -> String {
    key.replace('~', "~0").replace('/', "~1")
}

struct Frame {
    pointer: String,
    start: usize,
    place: Option<Span>,
    anchor: usize,
    nodes_before: usize,
    kind: FrameKind,
}

enum FrameKind {
    Sequence(usize),
    Mapping {
        key: Option<(String, Span)>,
        seen: HashMap<String, ()>,
    },
}

type Fault = (Code, String, &'static str, Span);

struct Index<'a> {
    text: &'a str,
    /// Byte of every 64th character, so that a place is found without reading the whole text.
    milestones: Vec<usize>,
    places: HashMap<String, Entry>,
    stack: Vec<Frame>,
    faults: Vec<Fault>,
    documents: usize,
    nodes: usize,
    aliases: usize,
    anchored: HashMap<usize, usize>,
}

const MILESTONE: usize = 64;

impl<'a> Index<'a> {
    fn new(text: &'a str) -> Self {
        let milestones = text
            .char_indices()
            .step_by(MILESTONE)
            .map(|(i, _)| i)
            .collect();
        Self {
            text,
            milestones,
            places: HashMap::new(),
            stack: Vec::new(),
            faults: Vec::new(),
            documents: 0,
            nodes: 0,
            aliases: 0,
            anchored: HashMap::new(),
        }
    }

    fn byte(&self, character: usize) -> usize {
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
        if self.faults.len() < 100
            && (code != Code::TooLarge || self.faults.iter().all(|f| f.0 != code))
        {
            self.faults.push((code, message.into(), help, span));
        }
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

    /// The pointer of the value that comes now, with the place of its key.
    fn place_of_next(&mut self) -> (String, Option<Span>) {
        match self.stack.last_mut() {
            None => (String::new(), None),
            Some(Frame {
                pointer,
                kind: FrameKind::Sequence(next),
                ..
            }) => {
                *next += 1;
                (format!("{pointer}/{}", *next - 1), None)
            }
            Some(Frame {
                pointer,
                kind: FrameKind::Mapping { key, .. },
                ..
            }) => match key.take() {
                Some((name, span)) => (format!("{pointer}/{}", escape(&name)), Some(span)),
                None => (pointer.clone(), None),
            },
        }
    }

    /// Whether the scalar that comes now is a key; if so it is kept as one.
    fn takes_as_key(&mut self, text: &str, span: Span) -> bool {
        let Some(Frame {
            kind:
                FrameKind::Mapping {
                    key: key @ None,
                    seen,
                },
            ..
        }) = self.stack.last_mut()
        else {
            return false;
        };
        *key = Some((text.to_owned(), span));
        let twice = seen.insert(text.to_owned(), ()).is_some();
        if twice {
            let message = format!("the key `{text}` stands twice in this mapping");
            self.fault(
                Code::DuplicateKey,
                message,
                "remove one of the two, or rename it",
                span,
            );
        }
        true
    }

    fn wants_key(&self) -> bool {
        matches!(
            self.stack.last(),
            Some(Frame {
                kind: FrameKind::Mapping { key: None, .. },
                ..
            })
        )
    }

    fn scalar(&mut self, text: &str, span: Span) {
        self.count(1, span);
        if self.takes_as_key(text, span) {
            return;
        }
        let (pointer, key) = self.place_of_next();
        let raw = self.text.get(span.start..span.end).unwrap_or_default();
        let literal_at = raw
            .find(text)
            .filter(|_| !text.is_empty())
            .map(|i| span.start + i);
        let text = Some(Scalar {
            text: text.to_owned(),
            literal_at,
        });
        self.places.insert(
            pointer,
            Entry {
                key,
                value: span,
                text,
            },
        );
    }

    fn open(&mut self, span: Span, anchor: usize, kind: FrameKind) {
        self.count(1, span);
        if self.wants_key() {
            self.fault(
                Code::YamlSyntax,
                "a key that is itself a list or a mapping",
                "keys are plain text",
                span,
            );
        }
        let (pointer, place) = self.place_of_next();
        if self.stack.len() == MAX_DEPTH {
            self.fault(
                Code::TooLarge,
                format!("nested deeper than {MAX_DEPTH}"),
                "nest less deeply",
                span,
            );
        }
        self.stack.push(Frame {
            pointer,
            start: span.start,
            place,
            anchor,
            nodes_before: self.nodes,
            kind,
        });
    }

    fn close(&mut self, span: Span) {
        let Some(frame) = self.stack.pop() else {
            return;
        };
        if frame.anchor != 0 {
            self.anchored
                .insert(frame.anchor, self.nodes - frame.nodes_before + 1);
        }
        let value = Span {
            start: frame.start,
            end: span.end.max(frame.start),
        };
        self.places.insert(
            frame.pointer,
            Entry {
                key: frame.place,
                value,
                text: None,
            },
        );
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
        let (pointer, key) = self.place_of_next();
        self.places.insert(
            pointer,
            Entry {
                key,
                value: span,
                text: None,
            },
        );
    }

    fn tagged(&mut self, tag: Option<&Tag>, span: Span) {
        if let Some(tag) = tag {
            let message = format!("the tag `{}{}` has no meaning here", tag.handle, tag.suffix);
            self.fault(
                Code::YamlSyntax,
                message,
                "remove the tag; put text in quotes",
                span,
            );
        }
    }
}

impl Index<'_> {
    /// Whether a limit was passed: nothing more is looked at.
    fn is_over_limits(&self) -> bool {
        self.faults.iter().any(|f| f.0 == Code::TooLarge)
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
            Event::Scalar(text, _, _, tag) => {
                self.tagged(tag.as_deref(), span);
                self.scalar(&text, span);
            }
            Event::SequenceStart(anchor, tag) => {
                self.tagged(tag.as_deref(), span);
                self.open(span, anchor, FrameKind::Sequence(0));
            }
            Event::MappingStart(anchor, tag) => {
                self.tagged(tag.as_deref(), span);
                self.open(
                    span,
                    anchor,
                    FrameKind::Mapping {
                        key: None,
                        seen: HashMap::new(),
                    },
                );
            }
            Event::SequenceEnd | Event::MappingEnd => self.close(span),
            Event::Alias(anchor) => self.alias(anchor, span),
            Event::Nothing | Event::StreamStart | Event::StreamEnd | Event::DocumentEnd => {}
        }
    }
}
