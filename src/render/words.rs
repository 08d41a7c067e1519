//! The fixed texts of renderings in the language of the shop. A text is known by its English wording; `{name}` in it
//! stands for a part that is put in.
//!
//! Never in here: what a record holds itself. Changes when another language is shipped or texts get other parts.

use std::cell::RefCell;
use std::collections::HashMap;
use std::fmt::Display;
use std::sync::{Arc, OnceLock};

use indexmap::IndexMap;
use serde::Deserialize;

/// The languages that are shipped besides English.
const SHIPPED: [&str; 1] = [include_str!("words/de.yaml")];

/// A fixed text in the language of the rendering, with its parts put in.
macro_rules! say {
    ($text:literal) => {
        $crate::render::words::said($text, &[])
    };
    ($text:literal, $($part:ident = $value:expr),+ $(,)?) => {
        $crate::render::words::said(
            $text,
            &[$((stringify!($part), &$value as &dyn std::fmt::Display)),+],
        )
    };
}

/// Marks a fixed text that is said elsewhere.
macro_rules! fixed {
    ($text:literal) => {
        $text
    };
}

pub(super) use {fixed, say};

thread_local! {
    /// The language of what is being rendered by this thread; English where nothing else is said.
    static SPOKEN: RefCell<Words> = RefCell::default();
}

/// What a language says instead of the English texts; texts that it lacks stay English.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Words {
    language: String,
    texts: Arc<HashMap<String, String>>,
}

impl Default for Words {
    fn default() -> Self {
        static NONE: OnceLock<Arc<HashMap<String, String>>> = OnceLock::new();
        Self {
            language: "en".to_owned(),
            texts: Arc::clone(NONE.get_or_init(Arc::default)),
        }
    }
}

/// The stored form of a language.
#[derive(Deserialize)]
struct Catalogue {
    language: String,
    texts: IndexMap<String, String>,
}

fn shipped() -> &'static [Catalogue] {
    static READ: OnceLock<Vec<Catalogue>> = OnceLock::new();
    READ.get_or_init(|| {
        let read = |text| serde_yaml::from_str(text).expect("what is shipped can be read");
        SHIPPED.into_iter().map(read).collect()
    })
}

/// All fixed texts in English, in the order in which they are shipped.
pub fn fixed_texts() -> impl Iterator<Item = &'static str> {
    shipped()[0].texts.keys().map(String::as_str)
}

/// The languages that are shipped.
pub fn languages() -> impl Iterator<Item = &'static str> {
    let others = shipped().iter().map(|c| c.language.as_str());
    std::iter::once("en").chain(others)
}

impl Words {
    /// The words of a language, as far as it is shipped.
    #[must_use]
    pub fn of(language: &str) -> Self {
        let known = shipped().iter().find(|c| c.language == language);
        let texts = known.into_iter().flat_map(|c| c.texts.clone()).collect();
        Self {
            language: language.to_owned(),
            texts: Arc::new(texts),
        }
    }

    /// The same language with a text said otherwise.
    ///
    /// # Errors
    /// A text that no rendering says; one whose parts are not those of the English text.
    pub fn with(mut self, english: &str, said: &str) -> Result<Self, String> {
        if !fixed_texts().any(|t| t == english) {
            return Err("no rendering says this text".to_owned());
        }
        let (wanted, found) = (parts(english), parts(said));
        if wanted != found {
            let braces = |names: &[&str]| match names {
                [] => "none".to_owned(),
                names => format!("`{{{}}}`", names.join("}`, `{")),
            };
            return Err(format!(
                "its parts must be {}, not {}",
                braces(&wanted),
                braces(&found)
            ));
        }
        Arc::make_mut(&mut self.texts).insert(english.to_owned(), said.to_owned());
        Ok(self)
    }

    /// The language, as `de`.
    #[must_use]
    pub fn language(&self) -> &str {
        &self.language
    }

    /// Runs something whose fixed texts are said in this language.
    pub fn speak<T>(&self, of: impl FnOnce() -> T) -> T {
        /// Puts the language before back, also when what runs panics.
        struct Before(Words);
        impl Drop for Before {
            fn drop(&mut self) {
                SPOKEN.set(std::mem::take(&mut self.0));
            }
        }
        let _before = Before(SPOKEN.replace(self.clone()));
        of()
    }
}

/// The names in braces, in the order of the alphabet.
fn parts(text: &str) -> Vec<&str> {
    let mut names: Vec<&str> = text
        .split('{')
        .skip(1)
        .filter_map(|after| after.split_once('}').map(|(name, _)| name))
        .collect();
    names.sort_unstable();
    names
}

/// The text in the language that is spoken, with its parts put in.
pub(super) fn said(english: &str, parts: &[(&str, &dyn Display)]) -> String {
    let text = SPOKEN.with_borrow(|words| words.texts.get(english).cloned());
    let text = text.unwrap_or_else(|| english.to_owned());
    if parts.is_empty() {
        return text;
    }
    let mut out = String::with_capacity(text.len() + 32);
    let mut rest = text.as_str();
    while let Some((before, after)) = rest.split_once('{') {
        let Some((name, behind)) = after.split_once('}') else {
            break;
        };
        out.push_str(before);
        let part = parts.iter().find(|(known, _)| *known == name);
        out.push_str(&part.map_or_else(|| format!("{{{name}}}"), |(_, p)| p.to_string()));
        rest = behind;
    }
    out.push_str(rest);
    out
}

/// A fixed text in the language that is spoken; a text that is none as it stands.
#[must_use]
pub fn spoken(text: &str) -> String {
    said(text, &[])
}

/// The filter `say`: a fixed text in the language of the rendering.
pub(super) fn filter(text: &str) -> String {
    said(text, &[])
}

/// A count with the word for it.
pub(super) fn counted(n: usize, one: &str, many: &str) -> String {
    format!("{n} {}", said(if n == 1 { one } else { many }, &[]))
}
