//! From YAML text to a plan: tree, schema, model, checks, lowering of expressions, layout.
//!
//! Never in here: running. Changes when the language does.

mod check;
mod checked;
pub mod cursor;
pub mod expression;
mod layout;
mod model;
pub mod schema;
mod scope;
pub mod yaml;

use std::sync::Arc;

use crate::plan::{Item, Plan};
use crate::text::{Code, Finding, Severity, Source};

use check::{Checker, Header, header, leftovers};
use cursor::At;
use schema::Form;
use yaml::Document;

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
    let document = match Document::read(source) {
        Ok(document) => document,
        Err(findings) => {
            return Reading {
                plan: None,
                findings,
            };
        }
    };
    let root = At::root(&document);
    if !document.root.is_object() {
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
    let mut findings = schema::faults(&document, Form::Recipe);
    let header = header(&root, &mut findings);
    let shape = findings.clone();
    let list = |key: &str, findings: &mut Vec<Finding>| {
        root.get(key)
            .map(|at| model::steps(&at, &shape, findings))
            .unwrap_or_default()
    };
    let setup = list("setup", &mut findings);
    let steps = list("steps", &mut findings);
    let mut checker = Checker::new(&header);
    let (checked_setup, checked_steps) = checker.walk(&setup, &steps);
    let all: Vec<_> = setup.into_iter().chain(steps).collect();
    leftovers(&mut checker, &root, &header, &all);
    findings.append(&mut checker.findings);
    sort(&mut findings);
    let sound = findings.iter().all(|f| f.severity() != Severity::Error);
    let plan = sound.then(|| {
        let items = layout::lay_out(
            &checked_setup,
            &checked_steps,
            &header.settings,
            &checker.scopes,
        );
        plan(header, items, &document)
    });
    if plan
        .as_ref()
        .is_some_and(|p| p.items.len() >= layout::MAX_ITEMS)
    {
        let message = format!(
            "more than {} steps when all rows are written out",
            layout::MAX_ITEMS
        );
        findings.push(root.finding(Code::TooLarge, message, "use fewer rows"));
        return Reading {
            plan: None,
            findings,
        };
    }
    Reading { plan, findings }
}

/// By place, and one finding a place and code.
fn sort(findings: &mut Vec<Finding>) {
    findings.sort_by_key(|f| (f.span.start, f.span.end, f.code));
    findings.dedup_by(|a, b| a.span == b.span && a.code == b.code && a.message == b.message);
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
