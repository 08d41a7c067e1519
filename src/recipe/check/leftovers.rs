//! What nothing uses, and what a category usually has.
//!
//! Never in here: faults. Changes when a category's usual parts do.

use crate::recipe::cursor::At;
use crate::recipe::model::Written;
use crate::recipe::schema::nearest;
use crate::text::Code;

use super::{Checker, Header};

/// The word that a usual part of a category is found by, and its name. Common practice, no source.
const USUAL_PARTS: [(&str, &str, &str); 5] = [
    ("volumetric", "occlu", "an occlusion check"),
    ("syringe", "occlu", "an occlusion check"),
    ("enteral", "occlu", "an occlusion check"),
    ("ambulatory", "occlu", "an occlusion check"),
    ("pca", "lockout", "a check of the lockout"),
];

/// Reports what is left over once all steps are known.
pub fn leftovers(checker: &mut Checker<'_>, root: &At<'_>, header: &Header, steps: &[Written<'_>]) {
    for (name, at) in std::mem::take(&mut checker.idle) {
        if !checker.scopes.is_used(name) {
            let message = format!(
                "`{}` is neither judged nor used",
                at.text().unwrap_or_default()
            );
            checker.findings.push(at.finding(
                Code::UnusedValue,
                message,
                "add `accept`, use it further down, or say `record_only: true`",
            ));
        }
    }
    checker.plain_header(root);
    // What would use settings and roles is missing, or was reported.
    if steps.is_empty() || root.get("steps").is_none_or(|s| s.items().next().is_none()) {
        return;
    }
    // What a base or fragment declares is told there; that an edit leaves it over is no fault of its user.
    let document = root.document;
    for (pointer, id) in std::mem::take(&mut checker.setting_ids) {
        if !checker.shape_faults.contains(&pointer)
            && !checker.scopes.is_used(id)
            && document.is_own(&pointer)
            && let Some(at) = root.at(&pointer)
        {
            let name = checker.scopes.name(id);
            let message = format!("the setting `{name}` is not used");
            // In a derived recipe it may be meant for one of the base's.
            let others = header.settings.keys().map(String::as_str);
            let inherited = |n: &&str| !document.is_own(&format!("/settings/{n}"));
            let help = match nearest(name, others.filter(inherited)) {
                Some(near) => {
                    format!("use it, or remove it; the nearest one of the base is `{near}`")
                }
                None => "use it, or remove it".to_owned(),
            };
            checker
                .findings
                .push(at.finding_at_key(Code::UnusedValue, message, help));
        }
    }
    if let Some(roles) = root.get("instruments") {
        for (name, at) in roles.entries().filter(|(name, at)| {
            !checker.used_roles.contains(*name) && document.is_own(&at.pointer)
        }) {
            checker.findings.push(at.finding_at_key(
                Code::UnusedRole,
                format!("no step uses the instrument role `{name}`"),
                "name it in `with:` of a step, or remove it",
            ));
        }
    }
    for (category, word, part) in USUAL_PARTS.iter().filter(|(c, _, _)| *c == header.category) {
        if !steps.is_empty()
            && !steps.iter().any(|s| mentions(s, word))
            && let Some(at) = root.get("category")
        {
            let message = format!("recipes of the category {category} usually have {part}");
            checker.findings.push(at.finding(
                Code::MissingPart,
                message,
                "add it, if the maker's manual asks for it",
            ));
        }
    }
}

fn mentions(step: &Written<'_>, word: &str) -> bool {
    let texts = [
        Some(step.id.clone()),
        step.at.text_of("title"),
        step.verb.as_ref().and_then(|(_, v)| v.text()),
    ];
    texts
        .iter()
        .flatten()
        .any(|t| t.to_lowercase().contains(word))
        || step.steps.iter().any(|s| mentions(s, word))
}
