//! The edits of a derived recipe: steps inserted, replaced and removed.
//!
//! Never in here: the header. Changes when there is another kind of edit.

use std::sync::Arc;

use serde_json::Value;

use crate::recipe::cursor::At;
use crate::recipe::origin::Origin;
use crate::recipe::schema::nearest;
use crate::text::Code;

use super::Merger;
use super::piece::{Piece, id_of};

/// What an edit does to the step that it names.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Kind {
    // In the order in which edits of one step are made: what comes behind it first, so that places stay true.
    After,
    Replace,
    Remove,
    Before,
}

impl Kind {
    const ALL: [Self; 4] = [Self::Before, Self::After, Self::Replace, Self::Remove];

    fn word(self) -> &'static str {
        match self {
            Self::Before => "before",
            Self::After => "after",
            Self::Replace => "replace",
            Self::Remove => "remove",
        }
    }

    /// The key that goes with it.
    fn companion(self) -> &'static str {
        match self {
            Self::Before | Self::After => "insert",
            Self::Replace => "by",
            Self::Remove => "why",
        }
    }
}

/// Most edits of a file: each is held against all others.
const MAX_EDITS: usize = 2_000;

/// An edit, with the place of the step that it names: list, and indices from the outermost step on.
#[derive(Clone)]
struct Edit<'d> {
    kind: Kind,
    at: At<'d>,
    path: String,
    place: (usize, Vec<usize>),
}

/// The keys of edits.
const KEYS: [&str; 6] = ["before", "after", "insert", "replace", "by", "remove"];

/// The lists that hold edits, and that edits reach.
pub const LISTS: [&str; 2] = ["setup", "steps"];

/// Whether a step is written as an edit.
pub fn is_edit(step: &At<'_>) -> bool {
    KEYS.iter().any(|key| step.get(key).is_some())
}

impl Merger<'_> {
    /// Makes the edits that stand in the file, in the base's lists.
    pub(super) fn edit(&mut self, lists: &mut [Vec<Piece>; 2]) {
        let own = Arc::clone(&self.own);
        let root = At::root(&own);
        let mut edits = Vec::new();
        for list in LISTS.iter().filter_map(|list| root.get(list)) {
            for at in list.items() {
                if !self.is_faulty(&at) {
                    edits.extend(self.read_edit(at, lists));
                }
            }
        }
        if let Some(edit) = edits.get(MAX_EDITS) {
            let message = format!("more than {MAX_EDITS} edits");
            let help = "write a recipe of its own";
            let finding = edit.at.finding(Code::TooLarge, message, help);
            self.findings.push(finding);
            edits.truncate(MAX_EDITS);
        }
        self.told_once(&mut edits);
        // From the last place to the first, so that places stay true.
        edits.sort_by(|a, b| b.place.cmp(&a.place).then(a.kind.cmp(&b.kind)));
        for edit in edits {
            self.make(&edit, lists);
        }
        self.edits.reverse();
    }

    fn read_edit<'d>(&mut self, at: At<'d>, lists: &[Vec<Piece>; 2]) -> Option<Edit<'d>> {
        if !is_edit(&at) {
            self.findings.push(at.finding(
                Code::MisplacedEdit,
                "a derived recipe does not say where this step goes",
                "write `{after: ID, insert: [...]}` or `{before: ID, insert: [...]}` with a step of the base",
            ));
            return None;
        }
        let kinds: Vec<Kind> = Kind::ALL
            .into_iter()
            .filter(|k| at.get(k.word()).is_some())
            .collect();
        let [kind] = kinds[..] else {
            self.findings.push(several(&at, &kinds));
            return None;
        };
        let extra = ["insert", "by"]
            .into_iter()
            .filter(|key| *key != kind.companion());
        for extra in extra.filter_map(|key| at.get(key)) {
            let message = format!("this does not go with `{}`", kind.word());
            let help = format!("`{}` goes with `{}`", kind.word(), kind.companion());
            self.findings
                .push(extra.finding_at_key(Code::MisplacedKey, message, help));
        }
        at.get(kind.companion())?;
        let target = at.get(kind.word())?;
        let path = target.text()?;
        let Some(place) = place_of(&path, lists) else {
            let help = unknown_help(&path, lists);
            let message = format!("the base has no step `{path}`");
            self.findings
                .push(target.finding(Code::UnknownStep, message, help));
            return None;
        };
        Some(Edit {
            kind,
            at,
            path,
            place,
        })
    }

    /// Reports edits that can't both be meant, and leaves the second of them out.
    fn told_once(&mut self, edits: &mut Vec<Edit<'_>>) {
        let mut kept: Vec<Edit<'_>> = Vec::new();
        for index in 0..edits.len() {
            let edit = &edits[index];
            let other = edits[..index].iter().find(|other| clash(other, edit));
            let around = || edits.iter().find(|other| takes_away(other, edit));
            let message = if let Some(other) = other {
                let (line, word) = (self.line(&other.at), other.kind.word());
                format!("a second edit of `{}`: {line} has `{word}`", edit.path)
            } else if let Some(other) = around() {
                let done = match other.kind {
                    Kind::Remove => "removed",
                    _ => "replaced",
                };
                format!(
                    "`{}` around this step is {done} by another edit",
                    other.path
                )
            } else {
                kept.push(edit.clone());
                continue;
            };
            let target = edit.at.down_to(edit.kind.word());
            let help = "make one edit of the two, or remove one";
            self.findings
                .push(target.finding(Code::EditedTwice, message, help));
        }
        *edits = kept;
    }

    /// The line that an edit begins in.
    fn line(&self, at: &At<'_>) -> String {
        let line = self.own.source.place(at.span().start).line;
        format!("line {line}")
    }

    fn make(&mut self, edit: &Edit<'_>, lists: &mut [Vec<Piece>; 2]) {
        let (list, place) = &edit.place;
        let Some((last, around)) = place.split_last() else {
            return;
        };
        let mut steps = &mut lists[*list];
        for index in around {
            steps = steps[*index].opened();
        }
        let why = edit.at.text_of("why");
        let because = why.map_or_else(String::new, |why| format!(": {why}"));
        let path = &edit.path;
        let mark: Arc<str> = match edit.kind {
            Kind::Replace => format!("in place of `{path}`{because}").into(),
            _ => format!("inserted{because}").into(),
        };
        let own = |at: &At<'_>| Origin {
            document: Arc::clone(&self.own),
            pointer: at.pointer.clone(),
            link: None,
            mark: Some(Arc::clone(&mark)),
        };
        match edit.kind {
            Kind::Before | Kind::After => {
                let inserted: Vec<Piece> = edit
                    .at
                    .get("insert")
                    .iter()
                    .flat_map(At::items)
                    .filter(|step| step.value.is_object())
                    .map(|step| Piece::new(step.value.clone(), own(&step)))
                    .collect();
                let ids: Vec<&str> = inserted.iter().map(Piece::id).collect();
                let (word, ids) = (edit.kind.word(), ids.join(", "));
                self.edits
                    .push(format!("inserted {word} {path}: {ids}{because}"));
                let from = last + usize::from(edit.kind == Kind::After);
                steps.splice(from..from, inserted);
            }
            Kind::Replace => {
                let Some(by) = edit.at.get("by") else { return };
                let mut piece = Piece::new(by.value.clone(), own(&by));
                if let Some(map) = piece.value.as_object_mut()
                    && !map.contains_key("id")
                {
                    // It keeps the old name, first as a reader expects it.
                    map.shift_insert(0, "id".to_owned(), Value::from(steps[*last].id()));
                    let target = edit.at.down_to("replace");
                    piece.elsewhere.push(("id", None, own(&target)));
                }
                steps[*last] = piece;
                self.edits.push(format!("replaced {path}{because}"));
            }
            Kind::Remove => {
                steps.remove(*last);
                self.edits.push(format!("removed {path}{because}"));
                self.removed.push((path.clone(), edit.at.pointer.clone()));
            }
        }
    }
}

/// Whether two edits of one step can't both be meant.
fn clash(a: &Edit<'_>, b: &Edit<'_>) -> bool {
    let removed = a.kind == Kind::Remove || b.kind == Kind::Remove;
    a.place == b.place && (a.kind == b.kind || removed)
}

/// Whether an edit takes the step away that the step of another one lies in.
fn takes_away(a: &Edit<'_>, b: &Edit<'_>) -> bool {
    let ((list, around), (other, inside)) = (&a.place, &b.place);
    matches!(a.kind, Kind::Remove | Kind::Replace)
        && list == other
        && around.len() < inside.len()
        && inside.starts_with(around)
}

fn several(at: &At<'_>, kinds: &[Kind]) -> crate::text::Finding {
    match kinds {
        [first, second, ..] => at.down_to(second.word()).finding_at_key(
            Code::SeveralVerbs,
            format!(
                "an edit with both `{}` and `{}`",
                first.word(),
                second.word()
            ),
            "one edit does one thing; make two edits of it",
        ),
        _ => at.finding(
            Code::MisplacedEdit,
            "an edit that does not say of which step of the base it is",
            "`insert` goes with `before` or `after`, `by` with `replace`",
        ),
    }
}

/// The place of the step that a path names.
fn place_of(path: &str, lists: &[Vec<Piece>; 2]) -> Option<(usize, Vec<usize>)> {
    let mut parts = path.split('.');
    let first = parts.next()?;
    let (list, index) = lists.iter().enumerate().find_map(|(list, steps)| {
        let index = steps.iter().position(|step| step.id() == first)?;
        Some((list, index))
    })?;
    let mut place = vec![index];
    let mut step = &lists[list][index].value;
    for part in parts {
        let inside = step.get("steps")?.as_array()?;
        let index = inside.iter().position(|step| id_of(step) == part)?;
        place.push(index);
        step = &inside[index];
    }
    Some((list, place))
}

fn unknown_help(path: &str, lists: &[Vec<Piece>; 2]) -> String {
    let mut known = Vec::new();
    for piece in lists.iter().flatten() {
        paths(&piece.value, "", &mut known);
    }
    let inside = known
        .iter()
        .find(|known| known.ends_with(&format!(".{path}")));
    match inside.map(String::as_str).or_else(|| nearest(path, known.iter().map(String::as_str))) {
        Some(near) => format!("the nearest step is `{near}`"),
        None => "edits name steps of the base by their paths, as in `occlusion.alarm_time`; `stepwell outline` lists them".to_owned(),
    }
}

/// The paths of a step and of those inside it.
fn paths(step: &Value, around: &str, known: &mut Vec<String>) {
    let path = match around {
        "" => id_of(step).to_owned(),
        around => format!("{around}.{}", id_of(step)),
    };
    let inside = step.get("steps").and_then(Value::as_array);
    for step in inside.into_iter().flatten() {
        paths(step, &path, known);
    }
    known.push(path);
}
