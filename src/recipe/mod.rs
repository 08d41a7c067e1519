//! From YAML text to a plan: tree, schema, model, checks, lowering of expressions, layout.
//!
//! Never in here: running. Changes when the language does.

mod check;
mod checked;
mod constants;
pub mod cursor;
pub mod expression;
mod here;
mod layout;
mod model;
mod places;
pub mod schema;
mod scope;
mod strict;
pub mod yaml;

use std::collections::{BTreeSet, HashMap};
use std::sync::Arc;

use crate::plan::{Item, Plan};
use crate::text::{Code, Finding, Severity, Source};

pub use check::CATEGORIES;
use check::{Checker, Header, header, leftovers};
use cursor::At;
use schema::Form;
use yaml::Document;

/// Most lines that a finding lists.
const MAX_LINES: usize = 5;

/// What came of reading a recipe: a plan if there were no errors, and all findings sorted by place.
#[derive(Debug)]
pub struct Reading {
    /// The plan.
    pub plan: Option<Plan>,
    /// What was found.
    pub findings: Vec<Finding>,
}

/// Reads and checks a recipe.
#[must_use]
pub fn read(source: Source) -> Reading {
    let mut document = match Document::read(source) {
        Ok(document) => document,
        Err(findings) => {
            return Reading {
                plan: None,
                findings,
            };
        }
    };
    if !document.root.is_object() {
        let root = At::root(&document);
        let what = if document.root.is_null() {
            "the file is empty"
        } else {
            "the file is not a recipe"
        };
        let finding = root.finding(
            Code::WrongValue,
            what,
            "a recipe is a mapping of keys, beginning with `format: 1`",
        );
        return Reading {
            plan: None,
            findings: vec![finding],
        };
    }
    let mut findings = schema::faults_mending_keys(&mut document, Form::Recipe);
    let root = At::root(&document);
    let header = header(&root, &mut findings);
    let faulty: BTreeSet<String> = findings.iter().map(|f| f.path.clone()).collect();
    let list = |key: &str, findings: &mut Vec<Finding>| {
        root.get(key)
            .map(|at| model::steps(&at, &faulty, findings))
            .unwrap_or_default()
    };
    let setup = list("setup", &mut findings);
    let steps = list("steps", &mut findings);
    let mut checker = Checker::new(&header);
    checker.shape_faults.clone_from(&faulty);
    let (checked_setup, checked_steps) = checker.walk(&setup, &steps);
    let all: Vec<_> = setup.into_iter().chain(steps).collect();
    leftovers(&mut checker, &root, &header, &all);
    findings.append(&mut checker.findings);
    sort(&mut findings);
    let sound = findings.iter().all(|f| f.severity() != Severity::Error);
    if !sound {
        return Reading {
            plan: None,
            findings,
        };
    }
    let (settings, scopes) = (&header.settings, &checker.scopes);
    let items = layout::lay_out(&checked_setup, &checked_steps, settings, scopes);
    if items.is_none() {
        let message = format!(
            "more than {} steps, or {} MiB of text and lists, when all rows are written out",
            layout::MAX_ITEMS,
            layout::MAX_WEIGHT_MIB
        );
        findings.push(root.finding(Code::TooLarge, message, "use fewer rows"));
    }
    Reading {
        plan: items.map(|items| plan(header, items, &document)),
        findings,
    }
}

/// Says so where a recipe lies in a file that does not have its name.
#[must_use]
pub fn check_file_name(source: &Source, plan: &Plan) -> Option<Finding> {
    let file = source.name.rsplit(['/', '\\']).next().unwrap_or_default();
    let stem = file
        .strip_suffix(".yaml")
        .or_else(|| file.strip_suffix(".yml"));
    if stem == Some(&*plan.recipe) {
        return None;
    }
    let document = Document::read(source.clone()).ok()?;
    let at = At::root(&document).get("recipe")?;
    let message = format!("the recipe `{}` lies in the file `{file}`", plan.recipe);
    let help = format!("name the file `{}.yaml`, or mend the id", plan.recipe);
    Some(at.finding(Code::FileName, message, help))
}

/// A finding at a criterion of a step that stands at a place of a recipe.
#[must_use]
pub fn finding_at_criterion(
    source: &Source,
    place: &str,
    criterion: usize,
    code: Code,
    message: String,
    help: &str,
) -> Option<Finding> {
    let document = Document::read(source.clone()).ok()?;
    let accept = At::root(&document).at(place)?.get("accept")?;
    let one = if accept.value.is_array() {
        accept.items().nth(criterion)?
    } else {
        accept
    };
    let that = one.get("that").unwrap_or(one);
    Some(that.finding(code, message, help))
}

/// Says so where a step shows a picture of which `exists` says that it does not lie beside the recipe.
#[must_use]
pub fn check_pictures(source: &Source, exists: &dyn Fn(&str) -> bool) -> Vec<Finding> {
    if !source.text.contains("picture") {
        return Vec::new();
    }
    let Ok(document) = Document::read(source.clone()) else {
        return Vec::new();
    };
    let mut findings = Vec::new();
    let root = At::root(&document);
    for list in ["setup", "steps"].iter().filter_map(|key| root.get(key)) {
        pictures(&list, exists, &mut findings);
    }
    findings
}

fn pictures(list: &At<'_>, exists: &dyn Fn(&str) -> bool, findings: &mut Vec<Finding>) {
    for step in list.items() {
        let picture = step.get("picture");
        if let Some((at, name)) = picture.and_then(|at| at.text().map(|name| (at, name)))
            && !exists(&name)
        {
            let message = format!("there is no picture `{name}` beside the recipe");
            let help = "lay the file there, or mend the name; it is read from the recipe's folder";
            findings.push(at.finding(Code::MissingPicture, message, help));
        }
        if let Some(inner) = step.get("steps") {
            pictures(&inner, exists, findings);
        }
    }
}

/// By place; one finding a place and code, and one for a name that is missing at several places.
fn sort(findings: &mut Vec<Finding>) {
    findings.sort_by_key(|f| (f.span.start, f.span.end, f.code));
    findings.dedup_by(|a, b| a.span == b.span && a.code == b.code && a.message == b.message);
    let mut first: HashMap<String, usize> = HashMap::new();
    let mut lines: Vec<Vec<String>> = Vec::new();
    let mut told: Vec<Finding> = Vec::new();
    for finding in findings.drain(..) {
        if is_of_missing_name(finding.code)
            && let Some(index) = first.get(&finding.message)
        {
            lines[*index].push(finding.source.place(finding.span.start).line.to_string());
            continue;
        }
        first.insert(finding.message.clone(), told.len());
        lines.push(Vec::new());
        told.push(finding);
    }
    for (finding, mut lines) in told.iter_mut().zip(lines) {
        lines.dedup();
        if !lines.is_empty() {
            let shown = lines[..lines.len().min(MAX_LINES)].join(", ");
            let more = if lines.len() > MAX_LINES {
                " and more"
            } else {
                ""
            };
            let word = if lines.len() > 1 { "lines" } else { "line" };
            finding
                .message
                .push_str(&format!(" (also in {word} {shown}{more})"));
        }
    }
    *findings = told;
}

/// Findings that a slip in one declaration would give wherever the name is used.
fn is_of_missing_name(code: Code) -> bool {
    matches!(
        code,
        Code::UnknownName | Code::TemplateName | Code::UnknownBasis | Code::UnknownRole
    )
}

fn plan(header: Header, items: Vec<Item>, document: &Document) -> Plan {
    Plan {
        recipe: header.recipe,
        revision: header.revision,
        title: header.title,
        category: header.category,
        applies_to: header.applies_to,
        basis: header.basis,
        changes: header.changes,
        cautions: header.cautions,
        decision: header.decision,
        questions: items.last().map_or(0, |i| i.number),
        settings: header.settings,
        roles: header.roles,
        items,
        source: Arc::clone(&document.source.text),
    }
}
