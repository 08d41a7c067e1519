//! The values that no reading changes: settings, and the fields of all rows, in every combination.
//!
//! Never in here: what is concluded from them. Changes when something else is known before a reading.

use std::collections::BTreeSet;

use foldhash::HashMap;

use indexmap::IndexMap;

use crate::plan::{EvaluationError, Expression, Node, Scope, Type, Value, evaluate};
use crate::quantity::Quantity;

use super::scope::{Id, Source};

/// Most combinations of rows that are tried out.
const MAX_COMBINATIONS: usize = 2_000;

/// A row's values.
type Row = IndexMap<String, Value>;

/// The settings, and the rows of the `each` scopes.
#[derive(Clone, Copy, Debug)]
pub struct Constants<'a> {
    /// The settings.
    pub settings: &'a HashMap<Id, Quantity>,
    /// The rows, by scope.
    pub rows: &'a [(Id, Vec<Row>)],
}

struct Values(Vec<Option<Value>>);

impl Scope for Values {
    fn value(&self, index: usize) -> Result<Value, EvaluationError> {
        let value = self.0.get(index).cloned().flatten();
        value.ok_or_else(|| EvaluationError::Domain("no value".to_owned()))
    }
}

impl Constants<'_> {
    /// Shows what a part of an expression gives in each combination of the rows it rests on, until a value is answered
    /// with false. Whether all were answered with true; nothing where the part rests on a reading or can't be evaluated.
    pub fn visit(
        &self,
        part: &Node,
        names: &[String],
        sources: &[Source],
        on_value: &mut dyn FnMut(&Value) -> bool,
    ) -> Option<bool> {
        let mut named = BTreeSet::new();
        names_in(part, &mut named);
        let mut fixed: Vec<Option<Value>> = vec![None; sources.len()];
        let mut eachs: Vec<(Id, &Vec<Row>)> = Vec::new();
        for index in &named {
            match sources.get(*index)? {
                Source::Setting(id) => {
                    fixed[*index] = Some(Value::Quantity(self.settings.get(id)?.clone()));
                }
                Source::Field(each, _) if eachs.iter().all(|(id, _)| id != each) => {
                    eachs.push((*each, self.rows_of(*each)?));
                }
                Source::Field(..) => {}
                Source::Leaf(..) | Source::Column(..) | Source::Device(_) => return None,
            }
        }
        let combinations = eachs
            .iter()
            .try_fold(1usize, |n, (_, rows)| n.checked_mul(rows.len()))
            .filter(|n| (1..=MAX_COMBINATIONS).contains(n))?;
        let expression = Expression {
            text: String::new(),
            root: part.clone(),
            names: names.to_vec(),
            result: Type::Truth,
        };
        for combination in 0..combinations {
            let mut values = fixed.clone();
            let rows = picked(&eachs, combination);
            for index in &named {
                if let Some(Source::Field(each, field)) = sources.get(*index) {
                    let row = rows.iter().find(|(id, _)| id == each);
                    values[*index] = Some(row?.1.get(field)?.clone());
                }
            }
            if !on_value(&evaluate(&expression, &Values(values)).ok()?) {
                return Some(false);
            }
        }
        Some(true)
    }

    fn rows_of(&self, each: Id) -> Option<&Vec<Row>> {
        let found = self.rows.iter().find(|(id, _)| *id == each);
        found.map(|(_, rows)| rows)
    }
}

/// The rows of one combination, one of each scope.
fn picked<'r>(eachs: &[(Id, &'r Vec<Row>)], combination: usize) -> Vec<(Id, &'r Row)> {
    let mut rest = combination;
    let one = |(id, rows): &(Id, &'r Vec<Row>)| {
        let row = &rows[rest % rows.len()];
        rest /= rows.len();
        (*id, row)
    };
    eachs.iter().map(one).collect()
}

/// The indices of the names in a part.
fn names_in(part: &Node, found: &mut BTreeSet<usize>) {
    match part {
        Node::Name(index) => drop(found.insert(*index)),
        Node::Negate(inner) | Node::Not(inner) | Node::Power(inner, _) => names_in(inner, found),
        Node::Binary(_, left, right) => {
            names_in(left, found);
            names_in(right, found);
        }
        Node::Call(_, parts) | Node::List(parts) => parts.iter().for_each(|p| names_in(p, found)),
        Node::Quantity(_) | Node::Text(_) | Node::Truth(_) => {}
    }
}
