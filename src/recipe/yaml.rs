//! YAML text to a value with a place for every key and value.
//!
//! `serde_yaml` gives the values; `saphyr-parser` gives the places. Never in here: what the keys mean. Changes when
//! documents are read otherwise.

use std::sync::{Arc, OnceLock};

use serde_json::Value;

use crate::text::{Code, Finding, Source, Span};

use super::origin::Origins;
use super::places::{Fault, Place, places};
use super::strict::{MAX_DEPTH, Strict, is_shallow};

/// Largest file that is read, in bytes.
pub const MAX_BYTES: usize = 8 * 1024 * 1024;

/// A value with the places it came from.
#[derive(Clone, Debug)]
pub struct Document {
    /// The text.
    pub source: Source,
    /// The value.
    pub root: Value,
    /// The places, looked up when something is to be said about the text.
    place: OnceLock<Place>,
    /// Where its parts come from, if it was put together.
    origins: Option<Origins>,
}

impl Document {
    /// Reads YAML text.
    ///
    /// # Errors
    /// Text that is not YAML, or beyond the limits; keys that stand twice; tags; several documents.
    pub fn read(source: Source) -> Result<Self, Vec<Finding>> {
        let fail = |code, message: String, help: &str, span| Finding {
            code,
            message,
            help: help.to_owned(),
            source: source.clone(),
            span,
            path: String::new(),
            chain: Vec::new(),
        };
        if source.text.len() > MAX_BYTES {
            let message = format!("the file is larger than {} MiB", MAX_BYTES / (1024 * 1024));
            return Err(vec![fail(
                Code::TooLarge,
                message,
                "split it",
                Span::default(),
            )]);
        }
        let told = |faults: Vec<Fault>| -> Vec<Finding> {
            faults
                .into_iter()
                .map(|(code, message, help, span)| fail(code, message, &help, span))
                .collect()
        };
        let place = OnceLock::new();
        // A text with anchors can grow; its limits are kept before anything is expanded. And a tab may stand where one
        // parser takes it for a blank and the other does not.
        if has_anchors(&source.text) || source.text.contains('\t') {
            let _ = place.set(places(&source.text).map_err(told)?);
        }
        match serde_yaml::from_str(&source.text) {
            Ok(Strict(root)) if is_shallow(&root, MAX_DEPTH) => Ok(Self {
                place,
                source,
                root,
                origins: None,
            }),
            outcome => {
                // The places say best what is wrong.
                let depth = places(&source.text).map_err(told)?;
                let message = outcome.err().map_or_else(
                    || "nested too deeply".to_owned(),
                    |e: serde_yaml::Error| e.to_string(),
                );
                let help =
                    "keys are plain text, numbers at most 64 bits long; put other text in quotes";
                Err(vec![fail(
                    Code::YamlSyntax,
                    message,
                    help,
                    Span {
                        start: depth.span.start,
                        end: depth.span.start,
                    },
                )])
            }
        }
    }

    /// A document whose parts were taken from several.
    #[must_use]
    pub fn put_together(root: Value, origins: Origins) -> Self {
        Self {
            source: origins.own.source.clone(),
            root,
            place: OnceLock::new(),
            origins: Some(origins),
        }
    }

    /// The places of a pointer of the file itself in what was put together from it.
    #[must_use]
    pub fn places_of_own(&self, pointer: &str) -> Vec<String> {
        match &self.origins {
            Some(origins) => origins.places_of_own(pointer),
            None => vec![pointer.to_owned()],
        }
    }

    /// The file itself, of a document that was put together.
    #[must_use]
    pub fn own(&self) -> Option<&Self> {
        self.origins.as_ref().map(|origins| &*origins.own)
    }

    /// Whether its parts were taken from several.
    #[must_use]
    pub fn is_put_together(&self) -> bool {
        self.origins.is_some()
    }

    /// Whether a value stands in the file itself, and not in a base or fragment.
    #[must_use]
    pub fn is_own(&self, pointer: &str) -> bool {
        let origins = self.origins.as_ref();
        origins.is_none_or(|origins| Arc::ptr_eq(origins.of(pointer).0, &origins.own))
    }

    /// The text that a value stands in, and its pointer there.
    #[must_use]
    pub fn source_of(&self, pointer: &str) -> (Source, String) {
        match &self.origins {
            Some(origins) => {
                let (document, there, _) = origins.of(pointer);
                document.source_of(&there)
            }
            None => (self.source.clone(), pointer.to_owned()),
        }
    }

    /// The document that a value stands in, and what an edit in it did to bring the value there.
    #[must_use]
    pub fn stands_in(&self, pointer: &str) -> (&Self, Option<&str>) {
        match &self.origins {
            None => (self, None),
            Some(origins) => match origins.of(pointer) {
                (document, there, Some(_)) => document.stands_in(&there),
                (document, ..) => (document, origins.mark(pointer)),
            },
        }
    }

    /// What led to a value, outermost first; nothing for the file's own.
    fn chain(&self, pointer: &str) -> Vec<String> {
        let Some(origins) = &self.origins else {
            return Vec::new();
        };
        let (document, there, link) = origins.of(pointer);
        let mut chain: Vec<String> = link.iter().map(|link| link.told()).collect();
        chain.extend(document.chain(&there));
        chain
    }

    /// The place of a value; of its nearest parent where it has none.
    fn nearest(&self, pointer: &str) -> (&Place, bool) {
        let mut place = self
            .place
            .get_or_init(|| places(&self.source.text).unwrap_or_default());
        for part in pointer.split('/').skip(1) {
            match place.part(&unescape(part)) {
                Some(inner) => place = inner,
                None => return (place, false),
            }
        }
        (place, true)
    }

    /// The place of a value; of its nearest parent where it has none.
    #[must_use]
    pub fn span(&self, pointer: &str) -> Span {
        if let Some(origins) = &self.origins {
            let (document, there, _) = origins.of(pointer);
            return document.span(&there);
        }
        self.nearest(pointer).0.span
    }

    /// The place of a key; of the value or its nearest parent where it has none.
    #[must_use]
    pub fn key_span(&self, pointer: &str) -> Span {
        if let Some(origins) = &self.origins {
            let (document, there, _) = origins.of(pointer);
            return document.key_span(&there);
        }
        let (place, found) = self.nearest(pointer);
        place.key.filter(|_| found).unwrap_or(place.span)
    }

    /// The text of a scalar without quotes, as it was written (`5.00`).
    #[must_use]
    pub fn scalar(&self, pointer: &str) -> Option<&str> {
        if let Some(origins) = &self.origins {
            let (document, there, _) = origins.of(pointer);
            return document.scalar(&there);
        }
        let (place, found) = self.nearest(pointer);
        if !found || !place.is_plain() {
            return None;
        }
        self.source
            .text
            .get(place.span.start..place.span.end)
            .map(str::trim_end)
    }

    /// Calls a key by another name, so that what is below it can be read; its places stay.
    pub fn rename(&mut self, pointer: &str, from: &str, to: &str) {
        let Some(Value::Object(map)) = self.root.pointer_mut(pointer) else {
            return;
        };
        if let Some(value) = map.shift_remove(from) {
            map.insert(to.to_owned(), value);
        }
        self.nearest("");
        let Some(mut place) = self.place.get_mut() else {
            return;
        };
        for part in pointer.split('/').skip(1) {
            match place.part_mut(&unescape(part)) {
                Some(inner) => place = inner,
                None => return,
            }
        }
        place.rename_part(from, to);
    }

    /// The place of a word inside a scalar; of the scalar where its text can't be found in the source.
    #[must_use]
    pub fn span_within(&self, pointer: &str, start: usize, end: usize) -> Span {
        if let Some(origins) = &self.origins {
            let (document, there, _) = origins.of(pointer);
            return document.span_within(&there, start, end);
        }
        let span = self.span(pointer);
        let raw = self
            .source
            .text
            .get(span.start..span.end)
            .unwrap_or_default();
        let text = self
            .root
            .pointer(pointer)
            .and_then(Value::as_str)
            .filter(|t| !t.is_empty());
        let found = text.and_then(|text| match raw.find(text) {
            Some(at) => Some((at + start, at + end)),
            None => aligned(raw, text, start, end),
        });
        match found {
            Some((start, end)) => Span {
                start: span.start + start,
                end: span.start + end,
            },
            None => span,
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
        let (source, path) = self.source_of(pointer);
        Finding {
            code,
            message,
            help,
            source,
            span,
            path,
            chain: self.chain(pointer),
        }
    }
}

/// A key as a part of a JSON pointer (RFC 6901).
#[must_use]
pub fn escape(key: &str) -> std::borrow::Cow<'_, str> {
    if key.contains(['~', '/']) {
        key.replace('~', "~0").replace('/', "~1").into()
    } else {
        key.into()
    }
}

fn unescape(part: &str) -> std::borrow::Cow<'_, str> {
    if part.contains('~') {
        part.replace("~1", "/").replace("~0", "~").into()
    } else {
        part.into()
    }
}

/// Where a part of a scalar's text stands in its source: the two are read side by side, passing over what YAML adds to
/// the text, which is quotes, backslashes, and blanks and line ends that are folded.
fn aligned(raw: &str, text: &str, start: usize, end: usize) -> Option<(usize, usize)> {
    let skipped = match raw.chars().next()? {
        '"' | '\'' => 1,
        '>' | '|' => raw.find('\n')? + 1,
        _ => 0,
    };
    let mut source = raw[skipped..].char_indices();
    let mut part = None;
    for (at, character) in text[..end]
        .char_indices()
        .filter(|(_, c)| !c.is_whitespace())
    {
        let place = loop {
            let (place, found) = source.next()?;
            if found == character {
                break skipped + place;
            }
            if !found.is_whitespace() && !matches!(found, '\\' | '"' | '\'') {
                return None;
            }
        };
        if at >= start {
            let first = part.map_or(place, |(first, _)| first);
            part = Some((first, place + character.len_utf8()));
        }
    }
    part
}

/// Whether a text may have anchors, aliases or tags in it: what can expand, or has no meaning here.
fn has_anchors(text: &str) -> bool {
    let bytes = text.as_bytes();
    bytes.windows(3).any(|w| {
        matches!(w[1], b'&' | b'*' | b'!')
            && matches!(w[0], b' ' | b'\n' | b'[' | b'{' | b',' | b'-')
            && !matches!(w[2], b' ' | b'=' | b'&')
    }) || bytes
        .first()
        .is_some_and(|b| matches!(b, b'&' | b'*' | b'!'))
}
