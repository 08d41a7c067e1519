//! From YAML text to a plan: tree, schema, model, checks, lowering of expressions, layout.
//!
//! Never in here: running. Changes when the language does.

mod before;
mod check;
mod checked;
mod constants;
pub mod cursor;
mod effective;
pub mod expression;
pub mod format;
mod here;
mod layout;
mod library;
mod memo;
mod merge;
mod model;
mod origin;
mod places;
pub mod raising;
mod ranges;
pub mod schema;
mod scope;
mod slips;
mod strict;
pub mod whereabouts;
pub mod yaml;

use std::collections::{BTreeSet, HashMap};
use std::sync::Arc;

use crate::plan::{Item, Plan};
use crate::text::{Code, Finding, Severity, Source};

pub use check::CATEGORIES;
use check::{Checker, Header, cut_texts, header, leftovers};
use cursor::At;
pub use effective::rests_on;
use library::Gathered;
pub use library::{Absent, Door, Fetched, Library, MAX_LEVELS, Name, Whole};
use memo::Memo;
pub use ranges::check_ranges;

/// Most lines that a finding lists.
const MAX_LINES: usize = 5;

/// What came of reading a recipe: a plan if there were no errors, and all findings sorted by place.
#[derive(Debug)]
pub struct Reading {
    /// The plan.
    pub plan: Option<Plan>,
    /// What was found.
    pub findings: Vec<Finding>,
    /// The recipe with all that it rests on, if that is there.
    pub whole: Option<Arc<Whole>>,
}

impl Reading {
    fn nothing(mut findings: Vec<Finding>) -> Self {
        sort(&mut findings);
        Self {
            plan: None,
            findings,
            whole: None,
        }
    }
}

/// Reads and checks a recipe that rests on no other.
#[must_use]
pub fn read(source: Source) -> Reading {
    read_with(source, &Library::none())
}

/// Reads and checks a recipe, with the bases and fragments that it rests on.
#[must_use]
pub fn read_with(source: Source, library: &Library<'_>) -> Reading {
    let mut reading = look_over(source, library);
    if let (Some(plan), Some(whole)) = (&mut reading.plan, &reading.whole) {
        plan.source = Arc::clone(whole.text());
    }
    reading
}

/// Checks a recipe as [`read_with`] does, for its findings alone: the plan lacks its text, and nothing is to be run by it.
#[must_use]
pub fn look_over(source: Source, library: &Library<'_>) -> Reading {
    match library.gather(source) {
        Gathered {
            whole: Some(whole),
            findings,
        } => check(whole, findings, library.memo()),
        Gathered { findings, .. } => Reading::nothing(findings),
    }
}

/// Checks a recipe that is whole; `findings` are those of its shape.
fn check(whole: Arc<Whole>, mut findings: Vec<Finding>, memo: &Arc<Memo>) -> Reading {
    let document = &*whole.document;
    let root = At::root(document);
    let own = |f: &&Finding| f.chain.is_empty() && f.severity() == Severity::Error;
    let places = |f: &Finding| document.places_of_own(&f.path);
    let faulty: BTreeSet<String> = findings.iter().filter(own).flat_map(places).collect();
    let header = header(&root, &mut findings);
    let list = |key: &str, findings: &mut Vec<Finding>| {
        root.get(key)
            .map(|at| model::steps(&at, &faulty, findings))
            .unwrap_or_default()
    };
    let setup = list("setup", &mut findings);
    let steps = list("steps", &mut findings);
    let mut checker = Checker::new(&header, Arc::clone(memo));
    checker.shape_faults.clone_from(&faulty);
    let (checked_setup, checked_steps) = checker.walk(&setup, &steps);
    let all: Vec<_> = setup.into_iter().chain(steps).collect();
    leftovers(&mut checker, &root, &header, &all);
    findings.append(&mut checker.findings);
    removed(&whole, &mut findings);
    // Of a base or fragment it is told where that is looked over itself.
    cut_texts(document.own().unwrap_or(document), &mut findings);
    sort(&mut findings);
    let sound = findings.iter().all(|f| f.severity() != Severity::Error);
    let mut items = None;
    if sound {
        let (settings, scopes) = (&checker.settings, &checker.scopes);
        items = layout::lay_out(&checked_setup, &checked_steps, settings, scopes);
        findings.extend(too_large(&root, items.is_none(), &whole));
    }
    let fits = |_: &Vec<Item>| whole.text_fits();
    let plan = items.filter(fits).map(|items| plan(header, items));
    Reading {
        plan,
        findings,
        whole: Some(whole),
    }
}

/// What passes the limits once all is written out.
fn too_large(root: &At<'_>, rows: bool, whole: &Whole) -> Option<Finding> {
    let (message, help) = if rows {
        let message = format!(
            "more than {} steps, or {} MiB of text and lists, when all rows are written out",
            layout::MAX_ITEMS,
            layout::MAX_WEIGHT_MIB
        );
        (message, "use fewer rows")
    } else if whole.text_fits() {
        return None;
    } else {
        let limit = yaml::MAX_BYTES / (1024 * 1024);
        let message = format!("more than {limit} MiB with all bases and fragments written out");
        (message, "use fewer fragments in one another")
    };
    Some(root.finding(Code::TooLarge, message, help))
}

/// Says of names that are missing whether an edit removed them.
fn removed(whole: &Whole, findings: &mut [Finding]) {
    let missing = findings.iter_mut().filter(|f| is_of_missing_name(f.code));
    for finding in missing {
        for (path, pointer) in &whole.removed {
            let last = path.rsplit('.').next().unwrap_or(path);
            let named = [path.as_str(), last].iter().any(|name| {
                finding.message.contains(&format!("`{name}`"))
                    || finding.message.contains(&format!("`{name}."))
                    || finding.message.contains(&format!(".{name}`"))
            });
            if named && let Some(own) = whole.document.own() {
                let source = &own.source;
                let line = source.place(own.span(pointer).start).line;
                let place = format!("{}:{line}", source.name);
                finding.chain.push(format!("{place} removes `{path}`"));
            }
        }
    }
}

/// Says so where a recipe lies in a file that does not have its name.
#[must_use]
pub fn check_file_name(whole: &Whole, plan: &Plan) -> Option<Finding> {
    let document = &*whole.document;
    let file = document
        .source
        .name
        .rsplit(['/', '\\'])
        .next()
        .unwrap_or_default();
    let stem = file
        .strip_suffix(".yaml")
        .or_else(|| file.strip_suffix(".yml"));
    if stem == Some(&*plan.recipe) {
        return None;
    }
    let at = At::root(document).get("recipe")?;
    let message = format!("the recipe `{}` lies in the file `{file}`", plan.recipe);
    let help = format!("name the file `{}.yaml`, or mend the id", plan.recipe);
    Some(at.finding(Code::FileName, message, help))
}

/// A finding at the revision of a recipe, or at a key of its entry in `changes` where it has that.
#[must_use]
pub fn finding_at_revision(
    whole: &Whole,
    plan: &Plan,
    key: &str,
    code: Code,
    message: String,
    help: &str,
) -> Option<Finding> {
    let root = At::root(&whole.document);
    let of_revision =
        |entry: &At<'_>| entry.get("revision").and_then(|r| r.whole()) == Some(plan.revision);
    let changes = root.get("changes");
    let entry = changes.iter().flat_map(At::items).find(of_revision);
    let at = entry.filter(|_| key != "revision").and_then(|e| e.get(key));
    let at = at.or_else(|| root.get("revision"))?;
    Some(at.finding(code, message, help))
}

/// A finding at a criterion of a step that stands at a place of a recipe.
#[must_use]
pub fn finding_at_criterion(
    whole: &Whole,
    place: &str,
    criterion: usize,
    code: Code,
    message: String,
    help: &str,
) -> Option<Finding> {
    let accept = At::root(&whole.document).at(place)?.get("accept")?;
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
pub fn check_pictures(whole: &Whole, exists: &dyn Fn(&str) -> bool) -> Vec<Finding> {
    let mut findings = Vec::new();
    let root = At::root(&whole.document);
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
    // The file's own first, then those of bases and fragments, file by file.
    let place = |f: &Finding| (f.source.name.clone(), f.span.start, f.span.end, f.code);
    findings.sort_by_cached_key(|f| (!f.chain.is_empty(), place(f)));
    findings.dedup_by(|a, b| place(a) == place(b) && a.message == b.message);
    let mut first: HashMap<(Arc<str>, String), usize> = HashMap::new();
    let mut lines: Vec<Vec<String>> = Vec::new();
    let mut told: Vec<Finding> = Vec::new();
    for finding in findings.drain(..) {
        if is_of_missing_name(finding.code)
            && let Some(index) = first.get(&(finding.source.name.clone(), finding.message.clone()))
        {
            lines[*index].push(finding.source.place(finding.span.start).line.to_string());
            continue;
        }
        let key = (finding.source.name.clone(), finding.message.clone());
        first.insert(key, told.len());
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

fn plan(header: Header, items: Vec<Item>) -> Plan {
    Plan {
        recipe: header.recipe,
        revision: header.revision,
        title: header.title,
        fragment: header.fragment,
        category: header.category,
        applies_to: header.applies_to,
        basis: header.basis,
        changes: header.changes,
        cautions: header.cautions,
        decision: header.decision,
        settings: header.settings,
        roles: header.roles,
        items,
        source: Arc::default(),
    }
}
