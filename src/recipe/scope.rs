//! Names: what is declared where, what is filled when, and what a dotted name means at a place.
//!
//! Never in here: expressions. Changes when the rules of visibility do.

use std::cell::{Cell, RefCell};

use foldhash::HashSet;
use indexmap::IndexMap;

use crate::plan::{DEVICE, DeviceField, SESSION, Type, Value};
use crate::text::Code;

use super::before::known_before;
use super::schema::nearest;

/// Most searches for the name that was meant, a file.
const MAX_SEARCHES: usize = 200;

/// Number of a declared name in the arena.
pub type Id = usize;

/// What a name stands for.
#[derive(Clone, Debug)]
pub enum Declared {
    /// A scope: the whole recipe, a group, or (with its number of rows) an `each`.
    Scope {
        /// Rows, for an `each`.
        rows: Option<usize>,
    },
    /// A setting.
    Setting(Value),
    /// The current row of an `each`: a field's type, for every field.
    Row(IndexMap<String, Type>),
    /// A leaf step, with the type of its value; `None` where it has none, or it was reported.
    Leaf {
        /// The type.
        of: Option<Type>,
        /// Whether no reading can change it.
        constant: bool,
    },
}

/// What a scope declares, by its names.
type Children = IndexMap<String, Id, foldhash::fast::RandomState>;

#[derive(Clone, Debug)]
struct Entry {
    name: String,
    parent: Option<Id>,
    declared: Declared,
    filled: bool,
    children: Children,
    /// Row scopes keep the name of their row here.
    row: Option<(String, Id)>,
    /// Whether it was reported that another thing has the name too: what it means can't be said.
    contested: bool,
    /// Whether its names go before those outside, so that they may be the same.
    closed: bool,
}

/// Where a name reads from, before rows are known.
#[derive(Clone, Debug, PartialEq)]
pub enum Source {
    /// A setting.
    Setting(Id),
    /// A field of the current row of this `each`.
    Field(Id, String),
    /// A leaf; with the row numbers written in the name, for each `each` named in it.
    Leaf(Id, Vec<(Id, usize)>),
    /// A column of a log, by its index.
    Column(Box<Self>, usize),
    /// What the register says of the device.
    Device(DeviceField),
}

/// All names of a recipe, and the place where the walk stands.
#[derive(Debug)]
pub struct Scopes {
    entries: Vec<Entry>,
    stack: Vec<Id>,
    used: RefCell<HashSet<Id>>,
    searches: Cell<usize>,
    /// The step that the walk is at.
    current: Option<Id>,
}

/// The outcome of looking a name up.
pub enum Lookup {
    /// It is a value: its type (none where it was reported) and where it reads from.
    Value(Option<Type>, Source),
    /// It can't be used: code, message, help.
    Refused(Code, String, String),
}

impl Default for Scopes {
    fn default() -> Self {
        let root = Entry {
            name: String::new(),
            parent: None,
            declared: Declared::Scope { rows: None },
            filled: true,
            children: Children::default(),
            row: None,
            contested: false,
            closed: false,
        };
        Self {
            entries: vec![root],
            stack: vec![0],
            used: RefCell::default(),
            searches: Cell::default(),
            current: None,
        }
    }
}

impl Scopes {
    /// Declares a name in a scope; gives the earlier one where the name is taken there.
    pub fn declare(&mut self, scope: Id, name: &str, declared: Declared) -> Result<Id, Id> {
        if let Some(taken) = self.entries[scope].children.get(name) {
            return Err(*taken);
        }
        let id = self.entries.len();
        let entry = Entry {
            name: name.to_owned(),
            parent: Some(scope),
            declared,
            filled: false,
            children: Children::default(),
            row: None,
            contested: false,
            closed: false,
        };
        self.entries.push(entry);
        self.entries[scope].children.insert(name.to_owned(), id);
        Ok(id)
    }

    /// Declares the row of an `each`. Whether its name was reported: then it can't be said what the name alone means.
    pub fn declare_row(
        &mut self,
        each: Id,
        name: &str,
        fields: IndexMap<String, Type>,
        contested: bool,
    ) -> Id {
        let id = self.entries.len();
        let declared = Declared::Row(fields);
        self.entries.push(Entry {
            name: name.to_owned(),
            parent: Some(each),
            declared,
            filled: true,
            children: Children::default(),
            row: None,
            contested,
            closed: false,
        });
        self.entries[each].row = Some((name.to_owned(), id));
        id
    }

    /// Lets a name that was reported for its spelling be found by the right spelling too.
    pub fn declare_alias(&mut self, scope: Id, name: &str, id: Id) {
        self.entries[scope]
            .children
            .entry(name.to_owned())
            .or_insert(id);
    }

    /// Says that two things share a name, which was reported: both count as used.
    pub fn contest(&mut self, id: Id, other: Id) {
        self.used.borrow_mut().extend([id, other]);
        self.entries[id].contested = true;
        self.entries[other].contested = true;
    }

    /// What a scope around `scope` calls by this name.
    pub fn hidden_by(&self, scope: Id, name: &str) -> Option<Id> {
        let mut around = self.around(scope);
        while let Some(outer) = around {
            let entry = &self.entries[outer];
            let row = entry.row.as_ref().filter(|(row, _)| row == name);
            if let Some(id) = entry.children.get(name).or(row.map(|(_, id)| id)) {
                return Some(*id);
            }
            around = self.around(outer);
        }
        None
    }

    /// The scope around one whose names must not be hidden in it.
    fn around(&self, scope: Id) -> Option<Id> {
        let entry = &self.entries[scope];
        entry.parent.filter(|_| !entry.closed)
    }

    /// Lets the names in a scope go before those outside.
    pub fn close(&mut self, scope: Id) {
        self.entries[scope].closed = true;
    }

    /// Says that what is inside a name can't be known, which was reported.
    pub fn veil(&mut self, id: Id) {
        self.entries[id].contested = true;
    }

    /// What a scope itself, or one around it, calls by the name of a row.
    pub fn hidden_by_row(&self, each: Id, name: &str) -> Option<Id> {
        let inside = self.entries[each].children.get(name).copied();
        inside.or_else(|| self.hidden_by(each, name))
    }

    /// The name that a thing was declared by.
    pub fn name(&self, id: Id) -> &str {
        &self.entries[id].name
    }

    /// Whether a name is a setting's.
    pub fn is_setting(&self, id: Id) -> bool {
        self.entries[id].parent == Some(0)
            || matches!(self.entries[id].declared, Declared::Setting(_))
    }

    /// Says at which step the walk stands.
    pub fn stand_at(&mut self, step: Id) {
        self.current = Some(step);
    }

    /// Enters a scope.
    pub fn enter(&mut self, scope: Id) {
        self.stack.push(scope);
    }

    /// Leaves the scope; it is filled now.
    pub fn leave(&mut self) {
        if let Some(scope) = self.stack.pop() {
            self.entries[scope].filled = true;
        }
    }

    /// Says what a leaf turned out to be, and that it is filled.
    pub fn fill(&mut self, id: Id, of: Option<Type>, constant: bool) {
        self.entries[id].declared = Declared::Leaf { of, constant };
        self.entries[id].filled = true;
    }

    /// Marks a name as filled.
    pub fn mark_filled(&mut self, id: Id) {
        self.entries[id].filled = true;
    }

    /// Whether anything used the name.
    pub fn is_used(&self, id: Id) -> bool {
        self.used.borrow().contains(&id)
    }

    /// Whether no reading can change what a source gives.
    pub fn is_constant(&self, source: &Source) -> bool {
        match source {
            Source::Setting(_) | Source::Field(..) => true,
            Source::Leaf(id, _) => matches!(
                self.entries[*id].declared,
                Declared::Leaf { constant: true, .. }
            ),
            Source::Column(log, _) => self.is_constant(log),
            Source::Device(_) => false,
        }
    }

    /// The `each` scopes around a name, outermost first.
    pub fn rows_around(&self, id: Id) -> Vec<Id> {
        let mut around = Vec::new();
        let mut at = self.entries[id].parent;
        while let Some(scope) = at {
            if matches!(
                self.entries[scope].declared,
                Declared::Scope { rows: Some(_) }
            ) {
                around.push(scope);
            }
            at = self.entries[scope].parent;
        }
        around.reverse();
        around
    }

    /// Looks a dotted name up from where the walk stands. `own` may be used before it is filled.
    pub fn look_up(&self, name: &str, own: Option<Id>) -> Lookup {
        if let Some(column) = self.column(name, own) {
            return column;
        }
        let mut parts = name.split('.');
        let first = parts.next().unwrap_or_default();
        for scope in self.stack.iter().rev() {
            let entry = &self.entries[*scope];
            if let Some((_, row)) = entry.row.as_ref().filter(|(row, _)| row == first) {
                return self.field(*row, *scope, name);
            }
            if let Some(id) = entry.children.get(first) {
                if self.entries[*id].contested && first == name {
                    return Lookup::Value(None, Source::Leaf(*id, Vec::new()));
                }
                return self.descend(*id, name, parts, own);
            }
        }
        // A recipe's own name goes before it.
        if matches!(first, DEVICE | SESSION) {
            return known_before(name, first);
        }
        self.unknown(name, own)
    }

    /// A column of a log, where the name means one.
    fn column(&self, name: &str, own: Option<Id>) -> Option<Lookup> {
        let (log, column) = name.rsplit_once('.')?;
        let Lookup::Value(Some(Type::Trace(columns)), source) = self.look_up(log, own) else {
            return None;
        };
        let Some(at) = columns.iter().position(|(c, _)| c == column) else {
            let help = match nearest(column, columns.iter().map(|(c, _)| c.as_str())) {
                Some(near) => format!("the nearest column is `{log}.{near}`"),
                None => "columns are declared in the step's `columns`".to_owned(),
            };
            let message = format!("the log `{log}` has no column `{column}`");
            return Some(Lookup::Refused(Code::UnknownName, message, help));
        };
        let of = Type::Series(columns[at].1);
        Some(Lookup::Value(
            Some(of),
            Source::Column(Box::new(source), at),
        ))
    }

    /// Whether the first word of a dotted name means something here.
    fn begins_well(&self, name: &str) -> bool {
        let first = name.split('.').next().unwrap_or_default();
        self.stack.iter().any(|scope| {
            let entry = &self.entries[*scope];
            entry.children.contains_key(first)
                || entry.row.as_ref().is_some_and(|(row, _)| row == first)
        })
    }

    fn field(&self, row: Id, each: Id, name: &str) -> Lookup {
        let Declared::Row(fields) = &self.entries[row].declared else {
            return self.unknown(name, None);
        };
        let known = || {
            fields
                .keys()
                .map(|f| format!("`{}.{f}`", self.entries[row].name))
                .collect::<Vec<_>>()
                .join(", ")
        };
        let source = |field: &str| Source::Field(each, field.to_owned());
        match name.split_once('.') {
            // Rows without fields were reported.
            Some((_, field)) if fields.is_empty() => Lookup::Value(None, source(field)),
            None if fields.is_empty() || self.entries[row].contested => {
                Lookup::Value(None, source(name))
            }
            Some((_, field)) => match fields.get(field) {
                Some(of) => Lookup::Value(Some(of.clone()), source(field)),
                None => {
                    let help = match nearest(field, fields.keys().map(String::as_str)) {
                        Some(near) => {
                            format!("the nearest field is `{}.{near}`", self.entries[row].name)
                        }
                        None => format!("the fields are {}", known()),
                    };
                    Lookup::Refused(
                        Code::UnknownName,
                        format!("the row has no field `{field}`"),
                        help,
                    )
                }
            },
            None => Lookup::Refused(
                Code::UnknownName,
                format!("`{name}` is a whole row"),
                format!("name a field of it: {}", known()),
            ),
        }
    }

    fn descend<'n>(
        &self,
        mut id: Id,
        name: &str,
        parts: impl Iterator<Item = &'n str>,
        own: Option<Id>,
    ) -> Lookup {
        let mut rows: Vec<(Id, usize)> = Vec::new();
        for part in parts {
            let entry = &self.entries[id];
            let Declared::Scope { rows: count } = &entry.declared else {
                if entry.contested {
                    return Lookup::Value(None, Source::Leaf(id, Vec::new()));
                }
                return self.unknown(name, own);
            };
            match (part.parse::<usize>(), count) {
                (Ok(_), Some(_)) if self.stack.contains(&id) => {
                    let help = format!("inside `{}` a name means the row at hand", entry.name);
                    return Lookup::Refused(
                        Code::LaterName,
                        format!("`{name}` names a row before all rows are filled"),
                        help,
                    );
                }
                (Ok(row), Some(count)) if (1..=*count).contains(&row) => rows.push((id, row)),
                (Ok(_), Some(count)) => {
                    let help = format!("`{}` has rows 1 to {count}", entry.name);
                    return Lookup::Refused(
                        Code::UnknownName,
                        format!("there is no row `{part}`"),
                        help,
                    );
                }
                _ => match entry.children.get(part) {
                    Some(child) => id = *child,
                    None => return self.unknown(name, own),
                },
            }
        }
        self.used.borrow_mut().insert(id);
        let entry = &self.entries[id];
        let Some(open) = self.filled_or_own(id, own) else {
            return self.later(name, id);
        };
        match &entry.declared {
            Declared::Setting(value) => Lookup::Value(Some(value.type_of()), Source::Setting(id)),
            Declared::Leaf { of: Some(of), .. } => {
                // Rows that are neither those the walk is in nor named by number make a list.
                let free = self
                    .rows_around(id)
                    .into_iter()
                    .any(|each| !open.contains(&each) && rows.iter().all(|(r, _)| *r != each));
                let of = if free {
                    Type::List(Box::new(of.clone()))
                } else {
                    of.clone()
                };
                Lookup::Value(Some(of), Source::Leaf(id, rows))
            }
            Declared::Leaf { of: None, .. } => Lookup::Value(None, Source::Leaf(id, rows)),
            Declared::Scope { .. } => {
                let inside: Vec<String> = entry
                    .children
                    .keys()
                    .take(5)
                    .map(|c| format!("`{name}.{c}`"))
                    .collect();
                let help = format!("name a step in it: {}", inside.join(", "));
                Lookup::Refused(
                    Code::UnknownName,
                    format!("`{name}` is a group, not a value"),
                    help,
                )
            }
            Declared::Row(_) => self.unknown(name, own),
        }
    }

    /// The scopes that are open, if the name is filled, or is the step's own.
    fn filled_or_own(&self, id: Id, own: Option<Id>) -> Option<&[Id]> {
        let filled = self.entries[id].filled || own == Some(id);
        // A list over rows is whole only when the `each` has ended; the current row's own values come first.
        filled.then_some(self.stack.as_slice())
    }

    /// Marks what a name may have meant as used: the name itself, or the nearest one that there is.
    pub fn mention(&self, name: &str) {
        if let Lookup::Refused(..) = self.look_up(name, None)
            && let Some(near) = self.near(name, None)
        {
            self.look_up(&near, None);
        }
    }

    fn later(&self, name: &str, id: Id) -> Lookup {
        let path = self.path(id);
        let (message, help) = if self.current == Some(id) {
            let message = format!("`{name}` is what this step itself gives");
            let help =
                "a step can't use its own value here; name an earlier one, or judge it in `accept`";
            (message, help.to_owned())
        } else if self.stack.contains(&id) {
            let message = format!("`{name}` is the group that this stands in");
            (message, format!("name an earlier step in it: `{path}.…`"))
        } else {
            let message = format!("`{name}` is filled only later");
            let help = format!("move this behind `{path}`, or use a value that is already there");
            (message, help)
        };
        Lookup::Refused(Code::LaterName, message, help)
    }

    /// The dotted path of a name from the top.
    pub fn path(&self, id: Id) -> String {
        let entry = &self.entries[id];
        match entry.parent {
            Some(parent) if parent > 1 => format!("{}.{}", self.path(parent), entry.name),
            _ => entry.name.clone(),
        }
    }

    fn unknown(&self, name: &str, own: Option<Id>) -> Lookup {
        let first = name.split('.').next().unwrap_or_default();
        if DeviceField::from_name(name).is_some() {
            let message = format!("the `{first}` of this recipe has nothing called `{name}`");
            let what = match first {
                SESSION => "what is known of the session",
                _ => "the device of the register",
            };
            let help =
                format!("it goes before {what}; give what is called `{first}` here another id");
            return Lookup::Refused(Code::UnknownName, message, help);
        }
        let missing = if self.begins_well(name) { name } else { first };
        let message = format!("nothing is called `{missing}`");
        let last = name.rsplit('.').next().unwrap_or(name);
        let elsewhere = self
            .entries
            .iter()
            .enumerate()
            .skip(2)
            .find(|(_, e)| e.name == last && matches!(e.declared, Declared::Leaf { .. }));
        let help = if let Some((id, _)) = elsewhere.filter(|(id, _)| self.path(*id) != name) {
            format!("did you mean `{}`", self.path(id))
        } else {
            match self.near(name, own) {
                Some(near) => format!("the nearest known name is `{near}`"),
                None => "name a setting, a field of the row, or an earlier step".to_owned(),
            }
        };
        Lookup::Refused(Code::UnknownName, message, help)
    }

    /// The name that may have been meant. Each search reads all names, so a file with very many faults gets no more.
    fn near(&self, name: &str, own: Option<Id>) -> Option<String> {
        let searches = self.searches.get();
        self.searches.set(searches + 1);
        if searches >= MAX_SEARCHES {
            return None;
        }
        let mut candidates = self.candidates();
        candidates.extend(own.map(|id| self.entries[id].name.clone()));
        nearest(name, candidates.iter().map(String::as_str)).map(str::to_owned)
    }

    /// Names that can be used here: what the open scopes declare, and the full path of every other value.
    fn candidates(&self) -> Vec<String> {
        let mut names = Vec::new();
        for scope in &self.stack {
            let entry = &self.entries[*scope];
            if let Some((row, id)) = &entry.row
                && let Declared::Row(fields) = &self.entries[*id].declared
            {
                names.extend(fields.keys().map(|f| format!("{row}.{f}")));
            }
            names.extend(
                entry
                    .children
                    .iter()
                    .filter(|(_, id)| self.entries[**id].filled)
                    .map(|(n, _)| n.clone()),
            );
        }
        let paths = (2..self.entries.len()).filter(|id| {
            self.entries[*id].filled && matches!(self.entries[*id].declared, Declared::Leaf { .. })
        });
        names.extend(paths.map(|id| self.path(id)));
        names.extend(DeviceField::ALL.map(DeviceField::name));
        names
    }
}
