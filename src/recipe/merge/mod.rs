//! Puts a recipe together: the base's steps with the edits, the fragments' steps where they are used.
//!
//! The result is one tree of the language without `extends` and `use`; every part of it knows where it stands. Never in
//! here: what steps mean. Changes when recipes can be made of others otherwise.

mod edits;
mod fragments;
mod header;
mod piece;

use std::sync::Arc;

use foldhash::HashMap;
use serde_json::{Map, Value};

use crate::text::{Code, Finding};

use super::cursor::At;
use super::library::{Circular, Failure, Gathered, Library, MAX_LEVELS, Name, Whole};
use super::origin::{Link, Origin, Origins};
use super::strict::{MAX_DEPTH, is_shallow};
use super::yaml::{Document, MAX_BYTES};
use edits::{LISTS, is_edit};
use piece::{Piece, lay, pieces};

/// What is known while a recipe is put together.
struct Merger<'l> {
    library: &'l Library<'l>,
    /// The recipes that led here, this one last.
    way: &'l [Name],
    own: Arc<Document>,
    findings: Vec<Finding>,
    /// Where shapes are faulty.
    faulty: Vec<String>,
    /// The header of the whole, and later all of it.
    root: Map<String, Value>,
    parts: HashMap<String, Origin>,
    rests_on: Vec<(String, Arc<Whole>)>,
    edits: Vec<String>,
    removed: Vec<(String, String)>,
    /// What is not there, or has errors.
    failed: Vec<Name>,
    /// Settings that are of another kind than the base's.
    other_kind: Vec<String>,
    levels: usize,
    weight: usize,
    circular: Option<Circular>,
}

/// Puts a file together that was read, with the faults of its shape.
///
/// # Errors
/// Recipes that lead back to one of them, unless the circle can be told of this file.
pub fn put_together(
    library: &Library<'_>,
    document: Document,
    faults: Vec<Finding>,
    way: &[Name],
) -> Result<Gathered, Circular> {
    let own = Arc::new(document);
    let name = way.last().cloned().unwrap_or(Name {
        id: String::new(),
        revision: 0,
    });
    let root = At::root(&own);
    let derived = root.get("extends");
    if derived.is_none() && !uses_any(&own.root) {
        let mut findings = faults;
        edits_without_base(&root, &mut findings);
        let whole = Whole::new(name, own.clone());
        return Ok(Gathered {
            whole: Some(Arc::new(whole)),
            findings,
        });
    }
    let mut merger = Merger {
        library,
        way,
        own: Arc::clone(&own),
        faulty: faults.iter().map(|f| f.path.clone()).collect(),
        findings: faults,
        root: own.root.as_object().cloned().unwrap_or_default(),
        parts: HashMap::default(),
        rests_on: Vec::new(),
        edits: Vec::new(),
        removed: Vec::new(),
        failed: Vec::new(),
        other_kind: Vec::new(),
        levels: 1,
        weight: 0,
        circular: None,
    };
    let put = merger.put(derived.as_ref());
    if let Some(circular) = merger.circular {
        return Err(circular);
    }
    let Some(root) = put else {
        return Ok(Gathered {
            whole: None,
            findings: merger.findings,
        });
    };
    let origins = Origins {
        own,
        parts: merger.parts,
    };
    let document = Arc::new(Document::put_together(root, origins));
    let mut whole = Whole::new(name, document);
    whole.rests_on = merger.rests_on;
    whole.edits = merger.edits;
    whole.removed = merger.removed;
    whole.levels = merger.levels;
    Ok(Gathered {
        whole: Some(Arc::new(whole)),
        findings: merger.findings,
    })
}

/// Whether any step is a fragment's, or may be.
fn uses_any(value: &Value) -> bool {
    let any = |step: &Value| step.get("use").is_some() || uses_any(step);
    LISTS.iter().any(|list| {
        let steps = value.get(list).and_then(Value::as_array);
        steps.is_some_and(|steps| steps.iter().any(any))
    })
}

/// Reports edits in a recipe that has no base.
fn edits_without_base(root: &At<'_>, findings: &mut Vec<Finding>) {
    for list in LISTS.iter().filter_map(|list| root.get(list)) {
        for step in list.items().filter(is_edit) {
            findings.push(step.finding(
                Code::MisplacedEdit,
                "an edit in a recipe that derives from none",
                "say at the top which recipe it derives from: `extends: ID@REVISION`",
            ));
        }
    }
}

impl Merger<'_> {
    fn put(&mut self, derived: Option<&At<'_>>) -> Option<Value> {
        let own = Arc::clone(&self.own);
        let mut lists = match derived {
            Some(at) => {
                let (base, link) = self.rest_on(at, "extends")?;
                self.rests_on
                    .push((format!("extends {}", base.name), Arc::clone(&base)));
                self.weight += base.weight;
                self.take_header(&base, &link);
                let mut lists = LISTS.map(|list| pieces(&base.document, list, Some(&link)));
                self.edit(&mut lists);
                self.twice(&mut lists);
                lists
            }
            None => {
                edits_without_base(&At::root(&own), &mut self.findings);
                LISTS.map(|list| pieces(&own, list, None))
            }
        };
        for list in &mut lists {
            self.expand(list, "");
        }
        for (list, pieces) in LISTS.iter().zip(lists) {
            self.root.shift_remove(*list);
            if !pieces.is_empty() || own.root.get(list).is_some() {
                let laid = lay(pieces, &format!("/{list}"), &mut self.parts);
                self.root.insert((*list).to_owned(), laid);
            }
        }
        if derived.is_some() {
            self.drop_roles();
        }
        let root = Value::Object(std::mem::take(&mut self.root));
        self.within_limits(root)
    }

    /// What a key of the file names, with the way to it. Nothing where it is not there, which is then reported.
    fn rest_on(&mut self, at: &At<'_>, word: &'static str) -> Option<(Arc<Whole>, Arc<Link>)> {
        if self.is_faulty(at) || self.circular.is_some() {
            return None;
        }
        let text = at.text()?;
        let name = Name::parse(&text)?;
        let link = Arc::new(Link {
            document: Arc::clone(&self.own),
            pointer: at.pointer.clone(),
            word,
            name: text.clone(),
        });
        let kept = match self.library.find(&name, self.way) {
            Ok(kept) => kept,
            Err(circular) if self.way.len() > 1 => {
                self.circular = Some(circular);
                return None;
            }
            Err(endless) if !endless.is_circle() => {
                self.too_deep(at);
                return None;
            }
            Err(Circular(way)) => {
                let way: Vec<String> = way.iter().map(ToString::to_string).collect();
                let message = format!("`{text}` leads back to itself: {}", way.join(" → "));
                let help = "write the steps that both need into a recipe of their own";
                self.findings
                    .push(at.finding(Code::CircularBase, message, help));
                return None;
            }
        };
        let told = self.failed.contains(&name);
        match kept {
            // What is used often and not there is told once.
            Err(_) if told => None,
            Ok((whole, newest)) => {
                self.newer(at, &name, newest);
                let whole = self.not_too_deep(at, whole)?;
                Some((whole, link))
            }
            Err(failure) => {
                self.tell_failure(at, &name, failure, &link);
                self.failed.push(name);
                None
            }
        }
    }

    fn not_too_deep(&mut self, at: &At<'_>, whole: Arc<Whole>) -> Option<Arc<Whole>> {
        self.levels = self.levels.max(whole.levels + 1);
        if self.levels <= MAX_LEVELS {
            return Some(whole);
        }
        self.too_deep(at);
        None
    }

    fn too_deep(&mut self, at: &At<'_>) {
        let message = format!("more than {MAX_LEVELS} recipes that rest on one another");
        let help = "let the recipe rest on one that is nearer to the first";
        self.findings
            .push(at.finding(Code::TooLarge, message, help));
    }

    /// Says so where there is a newer revision than the one that is named.
    fn newer(&mut self, at: &At<'_>, name: &Name, newest: u32) {
        if newest > name.revision {
            let message = format!("there is a revision {newest} of `{}`", name.id);
            let help = format!(
                "look at what it changes; to take it, write `{}@{newest}`, raise `revision` and say so in `changes`",
                name.id
            );
            self.findings
                .push(at.finding(Code::NewerRevision, message, help));
        }
    }

    fn tell_failure(&mut self, at: &At<'_>, name: &Name, failure: Failure, link: &Link) {
        use super::library::Absent;
        let (code, message, help) = match failure {
            Failure::Faulty(findings) => {
                for mut finding in findings {
                    finding.chain.insert(0, link.told());
                    self.findings.push(finding);
                }
                return;
            }
            Failure::Absent(Absent::Unknown(near)) => {
                let help = match near {
                    Some(near) => format!("the nearest one is `{near}`"),
                    None => {
                        "recipes are looked for in the shop's folder `recipes`, and beside the file"
                            .to_owned()
                    }
                };
                let message = format!("there is no recipe `{}`", name.id);
                (Code::MissingBase, message, help)
            }
            Failure::Absent(Absent::Unreadable(why)) => {
                (Code::MissingBase, why, "mend that file first".to_owned())
            }
            Failure::Absent(Absent::OtherRevision(place, revision)) => {
                let message = format!(
                    "revision {} of `{}` is wanted, and {place} is revision {revision}",
                    name.revision, name.id
                );
                let help = format!(
                    "write `{}@{revision}` once you have seen what it changes; older revisions are there if they were approved",
                    name.id
                );
                (Code::OtherRevision, message, help)
            }
        };
        self.findings.push(at.finding(code, message, help));
    }

    /// Whether the shape of something, or of what it stands in, has a fault.
    fn is_faulty(&self, at: &At<'_>) -> bool {
        self.faulty.iter().any(|fault| {
            let rest = fault.strip_prefix(&*at.pointer);
            rest.is_some_and(|rest| rest.is_empty() || rest.starts_with('/'))
        })
    }

    /// Reports steps of the file that have the id of a step of the base, and leaves them out.
    fn twice(&mut self, lists: &mut [Vec<Piece>; 2]) {
        let [setup, steps] = lists;
        let known: Vec<String> = setup
            .iter()
            .chain(steps.iter())
            .filter(|p| p.origin.link.is_some())
            .map(|p| p.id().to_owned())
            .collect();
        self.twice_in(setup, &known);
        self.twice_in(steps, &known);
    }

    fn twice_in(&mut self, list: &mut Vec<Piece>, known: &[String]) {
        let taken = |piece: &Piece| {
            piece.origin.link.is_none() && known.iter().any(|id| !id.is_empty() && id == piece.id())
        };
        for piece in list.iter().filter(|piece| taken(piece)) {
            let pointer = format!("{}/id", piece.origin.pointer);
            let message = format!("the base has a step `{}` in this scope already", piece.id());
            let help = "rename this one, or replace the base's with `replace`";
            self.findings.push(self.own.finding(
                Code::DuplicateId,
                &pointer,
                message,
                help.to_owned(),
            ));
        }
        list.retain(|piece| !taken(piece));
        for piece in list.iter_mut() {
            if let Some(inside) = &mut piece.steps {
                let known: Vec<String> = inside
                    .iter()
                    .filter(|p| p.origin.link.is_some())
                    .map(|p| p.id().to_owned())
                    .collect();
                self.twice_in(inside, &known);
            }
        }
    }

    /// The whole, unless it is larger than a file may be.
    fn within_limits(&mut self, root: Value) -> Option<Value> {
        let message = if self.weight > MAX_BYTES {
            format!(
                "more than {} MiB with all bases and fragments written out",
                MAX_BYTES / (1024 * 1024)
            )
        } else if !is_shallow(&root, MAX_DEPTH) {
            format!("nested deeper than {MAX_DEPTH} with all fragments written out")
        } else {
            return Some(root);
        };
        let at = At::root(&self.own);
        let at = at.get("extends").unwrap_or(at);
        let finding = at.finding(
            Code::TooLarge,
            message,
            "use fewer fragments in one another",
        );
        self.findings.push(finding);
        None
    }
}
