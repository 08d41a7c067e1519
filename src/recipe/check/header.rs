//! What stands above the steps: identity, history, basis, settings, roles.
//!
//! Never in here: steps. Changes when the header gets a key.

use indexmap::IndexMap;

use crate::plan::{AppliesTo, Change, Decision, Role};
use crate::quantity::{Quantity, QuantityError, named_kinds, parse_quantity, unknown_symbol};
use crate::recipe::cursor::At;
use crate::recipe::expression::remedy;
use crate::recipe::schema::{is_rest_of_number, nearest};
use crate::text::{Code, Finding, is_day};

/// The categories with a name.
pub const CATEGORIES: [&str; 8] = [
    "volumetric",
    "syringe",
    "pca",
    "enteral",
    "ambulatory",
    "elastomeric",
    "gravity",
    "gauge",
];

/// The header, read as far as it could be.
#[derive(Clone, Debug, Default)]
pub struct Header {
    pub recipe: String,
    pub revision: u32,
    pub title: String,
    /// Whether it is there to be used by others.
    pub fragment: bool,
    pub category: String,
    pub applies_to: Option<AppliesTo>,
    pub basis: IndexMap<String, String>,
    pub changes: Vec<Change>,
    pub cautions: Vec<String>,
    pub decision: Option<Decision>,
    pub settings: IndexMap<String, Quantity>,
    /// Settings whose text was reported: known names without a value.
    pub broken_settings: Vec<String>,
    pub roles: IndexMap<String, Role>,
}

/// Reads the header.
pub fn header(root: &At<'_>, findings: &mut Vec<Finding>) -> Header {
    let text = |key: &str| root.text_of(key).unwrap_or_default();
    let mut header = Header {
        recipe: text("recipe"),
        revision: root
            .get("revision")
            .and_then(|v| v.whole())
            .unwrap_or_default(),
        title: text("title"),
        category: text("category"),
        fragment: root.has("fragment"),
        ..Header::default()
    };
    for key in ["title", "category", "steps"] {
        // One that is there but empty is a fault of its shape. The category of a fragment is that of its user.
        let unneeded = header.fragment && key == "category";
        if root.value.get(key).is_none() && !unneeded {
            findings.push(root.document.finding_at(
                Code::MissingKey,
                "",
                crate::text::Span {
                    start: root.span().start,
                    end: root.span().start + 1,
                },
                format!("`{key}` is missing"),
                format!("add `{key}:`"),
            ));
        }
    }
    category(root, findings);
    applies_to(root, &mut header);
    basis_and_cautions(root, &mut header);
    changes(root, &mut header, findings);
    decision(root, &mut header);
    if let Some(settings) = root.get("settings") {
        (header.settings, header.broken_settings) = settings_at(&settings, findings);
    }
    roles(root, &mut header, findings);
    header
}

fn category(root: &At<'_>, findings: &mut Vec<Finding>) {
    let Some(at) = root.get("category") else {
        return;
    };
    let Some(category) = at.text().filter(|c| !CATEGORIES.contains(&c.as_str())) else {
        return;
    };
    let help = match nearest(&category, CATEGORIES.into_iter()) {
        Some(near) => format!("the nearest known one is `{near}`; an own category is allowed"),
        None => format!(
            "an own category is allowed; the known ones are {}",
            CATEGORIES.join(", ")
        ),
    };
    findings.push(at.finding(
        Code::UnknownCategory,
        format!("`{category}` is not one of the known categories"),
        help,
    ));
}

fn applies_to(root: &At<'_>, header: &mut Header) {
    header.applies_to = root.get("applies_to").map(|at| AppliesTo {
        maker: at.text_of("maker"),
        models: at
            .get("models")
            .map(|m| m.items().filter_map(|i| i.text()).collect())
            .unwrap_or_default(),
    });
}

fn basis_and_cautions(root: &At<'_>, header: &mut Header) {
    if let Some(basis) = root.get("basis") {
        header.basis = basis
            .entries()
            .filter_map(|(k, v)| Some((k.to_owned(), v.text()?)))
            .collect();
    }
    if let Some(cautions) = root.get("cautions") {
        header.cautions = cautions.items().filter_map(|c| c.text()).collect();
    }
}

fn changes(root: &At<'_>, header: &mut Header, findings: &mut Vec<Finding>) {
    let Some(list) = root.get("changes") else {
        if header.revision > 1
            && let Some(revision) = root.get("revision")
        {
            findings.push(revision.finding(
                Code::MissingChange,
                format!("revision {} has no entry in `changes`", header.revision),
                "add `changes:` with revision, date and why",
            ));
        }
        return;
    };
    for entry in list.items() {
        // What doesn't even look like a day is a fault of its shape.
        if let Some(day) = entry.get("date").filter(|d| {
            d.text()
                .is_some_and(|t| looks_like_a_day(&t) && !is_day(&t))
        }) {
            findings.push(day.finding(
                Code::WrongValue,
                "`date` is not a day of the calendar",
                "write it as 2026-03-31",
            ));
        }
        header.changes.push(Change {
            revision: entry
                .get("revision")
                .and_then(|v| v.whole())
                .unwrap_or_default(),
            date: entry.text_of("date").unwrap_or_default(),
            why: entry.text_of("why").unwrap_or_default(),
            by: entry.text_of("by"),
        });
    }
    if header.revision > 0 && header.changes.iter().all(|c| c.revision != header.revision) {
        let help = format!(
            "add an entry: `- {{revision: {}, date: …, why: …}}`",
            header.revision
        );
        findings.push(list.finding_at_key(
            Code::MissingChange,
            format!("`changes` has no entry for revision {}", header.revision),
            help,
        ));
    }
}

fn decision(root: &At<'_>, header: &mut Header) {
    let Some(at) = root.get("decision") else {
        return;
    };
    header.decision = at.text().and_then(|word| Decision::from_word(&word));
}

/// Reads quantity text at a place; reports what is wrong with it.
pub fn quantity_at(at: &At<'_>, findings: &mut Vec<Finding>) -> Option<Quantity> {
    let text = at.text()?;
    match parse_quantity(&text) {
        Ok(quantity) => Some(quantity),
        Err(error) => {
            let code = if matches!(error, QuantityError::Unit(_)) {
                Code::UnknownUnit
            } else {
                Code::BadQuantity
            };
            let place = unknown_symbol(&text, &error).unwrap_or((0, text.len()));
            let help = remedy(&text, &error, "");
            findings.push(at.finding_within(code, place, error.to_string(), help));
            None
        }
    }
}

/// The settings of a mapping, and the names of those whose text was reported.
pub fn settings_at(
    settings: &At<'_>,
    findings: &mut Vec<Finding>,
) -> (IndexMap<String, Quantity>, Vec<String>) {
    let (mut sound, mut broken) = (IndexMap::new(), Vec::new());
    let mut entries = settings.entries().peekable();
    while let Some((name, at)) = entries.next() {
        if is_rest_of_number(name, at.value) {
            continue;
        }
        let cut = entries
            .peek()
            .is_some_and(|(next, at)| is_rest_of_number(next, at.value));
        if cut {
            broken.push(name.to_owned());
            continue;
        }
        match quantity_at(&at, findings) {
            Some(quantity) => drop(sound.insert(name.to_owned(), quantity)),
            None => broken.push(name.to_owned()),
        }
    }
    (sound, broken)
}

fn roles(root: &At<'_>, header: &mut Header, findings: &mut Vec<Finding>) {
    let Some(roles) = root.get("instruments") else {
        return;
    };
    for (name, at) in roles.entries() {
        let mut measures = Vec::new();
        for kind in at.get("measures").iter().flat_map(At::items) {
            let Some(text) = kind.text() else { continue };
            if named_kinds().any(|k| k == text) {
                measures.push(text);
                continue;
            }
            let help = match nearest(&text, named_kinds()) {
                Some(near) => format!("the nearest known kind is `{near}`"),
                None => "kinds are volume, flow, pressure, mass, time, temperature, length, current, resistance, voltage …".to_owned(),
            };
            findings.push(kind.finding(
                Code::WrongValue,
                format!("`{text}` is not a kind of quantity"),
                help,
            ));
            // What is not known can't be said not to fit.
            measures.push("*".to_owned());
        }
        let kind = at.text_of("kind").map(|k| k.trim().to_owned());
        header
            .roles
            .insert(name.to_owned(), Role { measures, kind });
    }
}

fn looks_like_a_day(text: &str) -> bool {
    let digit_or_hyphen = |(index, byte): (usize, u8)| {
        if matches!(index, 4 | 7) {
            byte == b'-'
        } else {
            byte.is_ascii_digit()
        }
    };
    text.len() == 10 && text.bytes().enumerate().all(digit_or_hyphen)
}
