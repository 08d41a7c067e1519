//! Where the parts of a recipe that was put together come from: the file, the place in it, and what led there.
//!
//! Never in here: putting together (see `merge`). Changes when a finding says more of its way.

use std::sync::Arc;

use foldhash::HashMap;

use super::yaml::Document;

/// The key of a file that leads to another one.
#[derive(Debug)]
pub struct Link {
    /// The file.
    pub document: Arc<Document>,
    /// JSON pointer to the key's value.
    pub pointer: String,
    /// What it does with the other one: `extends` or `uses`.
    pub word: &'static str,
    /// The other one: `volumetric-annual@3`.
    pub name: String,
}

impl Link {
    /// The link in a line: `volumetric-vp2.yaml:4 extends volumetric-annual@3`.
    pub fn told(&self) -> String {
        let span = self.document.key_span(&self.pointer);
        let (source, _) = self.document.source_of(&self.pointer);
        let line = source.place(span.start).line;
        format!("{}:{line} {} {}", source.name, self.word, self.name)
    }
}

/// A part's place in the document that it was taken from.
#[derive(Clone, Debug)]
pub struct Origin {
    /// The document; it may have been put together itself.
    pub document: Arc<Document>,
    /// JSON pointer to the part in it.
    pub pointer: String,
    /// What led to the document; nothing for the file itself.
    pub link: Option<Arc<Link>>,
    /// What an edit did to bring it there, in words.
    pub mark: Option<Arc<str>>,
}

impl Origin {
    /// The place of a part of this part.
    pub fn down(&self, below: &str) -> Self {
        Self {
            document: Arc::clone(&self.document),
            pointer: format!("{}{below}", self.pointer),
            link: self.link.clone(),
            mark: self.mark.clone(),
        }
    }
}

/// The origins of the parts of a document, by their pointers.
#[derive(Clone, Debug)]
pub struct Origins {
    /// The file itself, in which everything stands that has no other place.
    pub own: Arc<Document>,
    /// The other places.
    pub parts: HashMap<String, Origin>,
}

impl Origins {
    /// The nearest part around a place whose origin is known, and what of the pointer lies below it.
    fn nearest<'p>(&self, pointer: &'p str) -> Option<(&Origin, &'p str)> {
        let mut end = pointer.len();
        loop {
            if let Some(origin) = self.parts.get(&pointer[..end]) {
                return Some((origin, &pointer[end..]));
            }
            end = pointer[..end].rfind('/')?;
        }
    }

    /// Document and pointer from which a part was taken, with the link that led there.
    pub fn of(&self, pointer: &str) -> (&Arc<Document>, String, Option<&Arc<Link>>) {
        match self.nearest(pointer) {
            Some((origin, rest)) => {
                let there = format!("{}{rest}", origin.pointer);
                (&origin.document, there, origin.link.as_ref())
            }
            None => (&self.own, pointer.to_owned(), None),
        }
    }

    /// What an edit did to bring a part there.
    pub fn mark(&self, pointer: &str) -> Option<&str> {
        self.nearest(pointer)?.0.mark.as_deref()
    }

    /// Where the places of the file itself have come to.
    pub fn places_of_own(&self, pointer: &str) -> Vec<String> {
        let here = |(at, origin): (&String, &Origin)| {
            let own = Arc::ptr_eq(&origin.document, &self.own);
            let rest = pointer.strip_prefix(&*origin.pointer).filter(|_| own)?;
            (rest.is_empty() || rest.starts_with('/')).then(|| format!("{at}{rest}"))
        };
        self.parts.iter().filter_map(here).collect()
    }
}
