//! Units, ranges, roles and rows.
//!
//! Never in here: expressions. Changes when readings carry something new.

use foldhash::HashMap;
use indexmap::IndexMap;

use crate::plan::{Type, Value};
use crate::quantity::{Kind, Quantity, Unit};
use crate::recipe::checked::Reading;
use crate::recipe::cursor::At;
use crate::recipe::schema::nearest;
use crate::text::Code;

use super::Checker;
use super::header::quantity_at;

/// Most forms of row that are told apart.
const MAX_FORMS: usize = 16;

impl Checker<'_> {
    /// The unit at a place.
    pub(super) fn unit(&mut self, at: &At<'_>) -> Option<Unit> {
        match Unit::parse(&at.text()?) {
            Ok(unit) => Some(unit),
            Err(error) => {
                self.findings.push(at.finding(
                    Code::UnknownUnit,
                    error.to_string(),
                    "write the unit as in `mL/h`, `kPa`, `%`",
                ));
                None
            }
        }
    }

    /// What readings have in common; `kind` is nothing where the unit was reported.
    pub(super) fn reading(&mut self, step: &At<'_>, kind: Option<Kind>) -> Reading {
        let repeat = step
            .get("repeat")
            .and_then(|r| r.whole())
            .unwrap_or(1)
            .max(1);
        let range = step.get("range").and_then(|at| self.range(&at, kind?));
        let with = step.get("with").and_then(|at| self.role(&at, kind));
        Reading {
            with,
            repeat,
            range,
        }
    }

    fn range(&mut self, at: &At<'_>, kind: Kind) -> Option<(Quantity, Quantity)> {
        let ends: Vec<At<'_>> = at.items().collect();
        let [low, high] = &ends[..] else { return None };
        // Both ends are likely to have the same fault; one finding is enough.
        let a = self.quantity_of_kind(low, kind)?;
        let b = self.quantity_of_kind(high, kind)?;
        if a.compare(&b).is_ok_and(std::cmp::Ordering::is_ge) {
            self.findings.push(at.finding(
                Code::BadRange,
                format!("the range from {a} to {b} is empty"),
                "write the lower end first",
            ));
            return None;
        }
        Some((a, b))
    }

    /// A quantity that must be of a kind.
    pub(super) fn quantity_of_kind(&mut self, at: &At<'_>, kind: Kind) -> Option<Quantity> {
        let quantity = quantity_at(at, &mut self.findings)?;
        match quantity.kind().comparable(kind) {
            Ok(_) => Some(quantity),
            Err(error) => {
                let code = if quantity.kind() == Kind::RATIO {
                    Code::BareNumber
                } else {
                    Code::KindMismatch
                };
                self.findings.push(at.finding(
                    code,
                    error.to_string(),
                    format!("write a quantity of kind {kind}, with its unit"),
                ));
                None
            }
        }
    }

    fn role(&mut self, at: &At<'_>, kind: Option<Kind>) -> Option<String> {
        let name = at.text()?;
        self.used_roles.insert(name.clone());
        let Some(role) = self.roles.get(&name) else {
            let help = match nearest(&name, self.roles.keys().map(String::as_str)) {
                Some(near) => {
                    // The mistyped role was meant; it is not to be reported as unused too.
                    self.used_roles.insert(near.to_owned());
                    format!("the nearest declared role is `{near}`")
                }
                None => format!("declare it above: `instruments: {{{name}: {{measures: […]}}}}`"),
            };
            self.findings.push(at.finding(
                Code::UnknownRole,
                format!("the recipe declares no instrument role `{name}`"),
                help,
            ));
            return None;
        };
        let measured = kind.map(|k| k.dimension.name());
        if let Some(measured) =
            measured.filter(|m| m != "ratio" && !role.measures.iter().any(|k| k == m || k == "*"))
        {
            // One of the roles that measure it was meant.
            let meant: Vec<String> = self
                .roles
                .iter()
                .filter(|(_, r)| r.measures.contains(&measured))
                .map(|(n, _)| n.clone())
                .collect();
            self.used_roles.extend(meant);
            let message = format!(
                "the role `{name}` measures {}, not {measured}",
                role.measures.join(" and ")
            );
            self.findings.push(at.finding(
                Code::RoleKind,
                message,
                "name another role, or add the kind to the role's `measures`",
            ));
        }
        Some(name)
    }

    /// The rows of an `each`: the same fields in all of them, each field of one kind.
    pub(super) fn rows(
        &mut self,
        list: &At<'_>,
    ) -> (Vec<IndexMap<String, Value>>, IndexMap<String, Type>) {
        let places: Vec<At<'_>> = list.items().collect();
        let mut rows: Vec<IndexMap<String, Value>> = Vec::new();
        for row in &places {
            let values = row
                .entries()
                .filter_map(|(k, at)| Some((k.to_owned(), self.field(&at)?)));
            rows.push(values.collect());
        }
        // A row with a fault of its shape says nothing of the others.
        let sound: Vec<bool> = places.iter().map(|row| self.is_sound(row)).collect();
        let model = usual(&rows, &sound);
        let fields = rows
            .get(model)
            .filter(|_| sound[model])
            .map(types)
            .unwrap_or_default();
        for (index, row) in places
            .iter()
            .enumerate()
            .filter(|(index, _)| *index != model && sound[*index])
        {
            self.even(row, (index, model), &rows[index], &fields);
        }
        self.same_rows(&places, &rows, &sound);
        // A field that is mistyped in some row is reported there; what names it is no second fault.
        let mut known = fields;
        for (row, _) in rows.iter().zip(sound).filter(|(_, sound)| *sound) {
            for (name, of) in types(row) {
                known.entry(name).or_insert(of);
            }
        }
        (rows, known)
    }

    /// Reports rows that are the same as one before them, however they are written.
    fn same_rows(&mut self, places: &[At<'_>], rows: &[IndexMap<String, Value>], sound: &[bool]) {
        let meaning = |value: &Value| match value {
            Value::Quantity(q) => format!("{:?} {}", q.kind(), q.si().to_exact()),
            other => format!("text {other}"),
        };
        let mut first: HashMap<Vec<(&str, String)>, usize> = HashMap::default();
        for (index, row) in rows.iter().enumerate().filter(|(index, _)| sound[*index]) {
            let mut fields: Vec<(&str, String)> =
                row.iter().map(|(name, v)| (&**name, meaning(v))).collect();
            fields.sort_unstable();
            // A row of which a value can't be read is no other one.
            if fields.is_empty() || fields.len() < places[index].entries().count() {
                continue;
            }
            let Some(before) = first.get(&fields) else {
                first.insert(fields, index);
                continue;
            };
            let at = &places[index];
            let (number, other) = (index + 1, before + 1);
            self.findings.push(at.document.finding_at(
                Code::SameRow,
                &at.pointer,
                crate::recipe::model::start(at),
                format!("row {number} is the same as row {other}"),
                "mend one of the two; `repeat` at a step inside asks for a reading more than once".to_owned(),
            ));
        }
    }

    /// Whether neither a row nor a field of it has a fault of its shape.
    fn is_sound(&self, row: &At<'_>) -> bool {
        let (from, to) = (format!("{}/", row.pointer), format!("{}0", row.pointer));
        !self.shape_faults.contains(&row.pointer)
            && self.shape_faults.range(from..to).next().is_none()
    }

    fn field(&mut self, at: &At<'_>) -> Option<Value> {
        if let Some(truth) = at.value.as_bool() {
            return Some(Value::Truth(truth));
        }
        let text = at.text()?;
        let numeric = text
            .trim_start_matches(['-', '+', '\u{2212}'])
            .starts_with(|c: char| c.is_ascii_digit());
        if !numeric {
            return Some(Value::Text(text));
        }
        quantity_at(at, &mut self.findings).map(Value::Quantity)
    }

    fn even(
        &mut self,
        row: &At<'_>,
        (index, model): (usize, usize),
        values: &IndexMap<String, Value>,
        fields: &IndexMap<String, Type>,
    ) {
        let (number, other) = (index + 1, model + 1);
        let written: Vec<&str> = row.entries().map(|(k, _)| k).collect();
        for name in written.iter().filter(|n| !fields.contains_key(**n)) {
            let Some(at) = row.get(name) else { continue };
            let help = match nearest(name, fields.keys().map(String::as_str)) {
                Some(near) => format!("the nearest field of row {other} is `{near}`"),
                None => "give all rows the same fields".to_owned(),
            };
            self.findings.push(at.finding_at_key(
                Code::UnevenRows,
                format!("row {number} has a field `{name}` that row {other} has not"),
                help,
            ));
            return;
        }
        for (name, of) in fields {
            if !written.contains(&name.as_str()) {
                let span = crate::recipe::model::start(row);
                self.findings.push(row.document.finding_at(
                    Code::UnevenRows,
                    &row.pointer,
                    span,
                    format!("row {number} has no field `{name}`"),
                    "give all rows the same fields".to_owned(),
                ));
                return;
            }
            let (Some(value), Some(at)) = (values.get(name), row.get(name)) else {
                continue;
            };
            let fits = match (of, value.type_of()) {
                (Type::Quantity { kind: a, .. }, Type::Quantity { kind: b, .. }) => {
                    a.comparable(b).is_ok()
                }
                (a, b) => *a == b,
            };
            if !fits {
                let message = format!(
                    "`{name}` is {} here and {of} in row {other}",
                    value.type_of()
                );
                self.findings.push(at.finding(
                    Code::UnevenRows,
                    message,
                    "give a field the same kind in all rows",
                ));
            }
        }
    }
}

/// The types of a row's fields.
fn types(row: &IndexMap<String, Value>) -> IndexMap<String, Type> {
    row.iter().map(|(k, v)| (k.clone(), v.type_of())).collect()
}

/// The first of the rows whose form most rows have: the odd one out is to be reported, not the others.
fn usual(rows: &[IndexMap<String, Value>], sound: &[bool]) -> usize {
    let mut forms: Vec<(IndexMap<String, Type>, usize, usize)> = Vec::new();
    let rows = rows.iter().enumerate().zip(sound);
    for ((index, row), _) in rows.filter(|(_, sound)| **sound) {
        let form = types(row);
        match forms.iter().position(|(known, _, _)| *known == form) {
            Some(at) => forms[at].2 += 1,
            // A file with very many odd rows is past helping.
            None if forms.len() < MAX_FORMS => forms.push((form, index, 1)),
            None => {}
        }
    }
    let most = forms.iter().map(|(_, _, count)| *count).max();
    let first = forms.iter().find(|(_, _, count)| Some(*count) == most);
    first.map_or(0, |(_, index, _)| *index)
}
