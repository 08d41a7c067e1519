//! Lays a checked recipe out flat: groups opened, rows written out, names bound to items.
//!
//! Never in here: checks. Changes when the plan's items do.

use std::cell::Cell;

use foldhash::HashMap;
use indexmap::IndexMap;

use crate::plan::{Bound, Criterion, Item, Section, Slot, Value, Verb, render_prompt};
use crate::quantity::Quantity;

use super::checked::{Body, Leaf, Read, Sentence, Step};
use super::scope::{Id, Scopes, Source};

/// Most items that rows may be written out to.
pub const MAX_ITEMS: usize = 200_000;
/// Most that writing rows out may come to, in bytes of text and of lists over rows, MiB.
pub const MAX_WEIGHT_MIB: usize = 64;
/// Bytes of an entry of a list over rows.
const ENTRY: usize = size_of::<usize>();

struct Row<'a> {
    each: Id,
    number: usize,
    fields: &'a IndexMap<String, Value>,
}

#[derive(Clone, Default)]
struct Around {
    trail: Vec<String>,
    cautions: Vec<String>,
    conditions: Vec<Bound>,
    after_stop: bool,
    path: String,
}

struct Layout<'a> {
    settings: &'a HashMap<Id, Quantity>,
    scopes: &'a Scopes,
    rows: Vec<Row<'a>>,
    items: Vec<Item>,
    /// For every leaf, the rows it was laid out in with the item's index.
    placed: HashMap<Id, Vec<(Vec<usize>, usize)>>,
    /// The same for the rows at hand, so that a value of one's own row is found at once.
    latest: HashMap<Id, usize>,
    /// What was written out so far, in bytes.
    weight: Cell<usize>,
}

/// Lays the steps out; nothing where that would grow beyond the limits.
pub fn lay_out(
    setup: &[Step],
    steps: &[Step],
    settings: &HashMap<Id, Quantity>,
    scopes: &Scopes,
) -> Option<Vec<Item>> {
    let mut layout = Layout {
        settings,
        scopes,
        rows: Vec::new(),
        items: Vec::new(),
        placed: HashMap::default(),
        latest: HashMap::default(),
        weight: Cell::new(0),
    };
    for (section, list) in [(Section::Setup, setup), (Section::Steps, steps)] {
        layout.list(list, section, &mut Around::default());
    }
    (!layout.is_full()).then_some(layout.items)
}

/// The bytes of text that an item carries.
fn text_of(item: &Item) -> usize {
    let said = [&item.title, &item.why, &item.help, &item.picture]
        .into_iter()
        .flatten();
    let options = match &item.verb {
        Verb::Choose(options) => options.as_slice(),
        _ => &[],
    };
    let listed = item.trail.iter().chain(&item.cautions).chain(options);
    let texts = said.chain(listed).chain([&item.path, &item.prompt]);
    texts.map(String::len).sum()
}

impl<'a> Layout<'a> {
    fn is_full(&self) -> bool {
        self.items.len() >= MAX_ITEMS || self.weight.get() > MAX_WEIGHT_MIB << 20
    }

    fn weigh(&self, bytes: usize) {
        self.weight.set(self.weight.get().saturating_add(bytes));
    }

    fn list(&mut self, steps: &'a [Step], section: Section, around: &mut Around) {
        for step in steps {
            self.step(step, section, around);
        }
    }

    fn step(&mut self, step: &'a Step, section: Section, around: &mut Around) {
        if self.is_full() {
            return;
        }
        let path = if around.path.is_empty() {
            step.id.clone()
        } else {
            [&*around.path, ".", &*step.id].concat()
        };
        match &step.body {
            Body::Leaf { .. } => self.leaf(step, path, section, around),
            Body::Group(steps) => {
                let mut inner = self.inside(step, path, around);
                self.list(steps, section, &mut inner);
            }
            Body::Each { rows, steps } => {
                let mut inner = self.inside(step, path.clone(), around);
                for (index, fields) in rows.iter().enumerate() {
                    if self.is_full() {
                        break;
                    }
                    // Rows without a step in them count too: nested, they would take forever.
                    self.weigh(size_of::<Row<'_>>());
                    self.rows.push(Row {
                        each: step.name,
                        number: index + 1,
                        fields,
                    });
                    inner.path = format!("{path}.{}", index + 1);
                    let label: Vec<String> = fields.values().map(ToString::to_string).collect();
                    inner.trail.push(label.join(", "));
                    // The conditions of a row may use its fields.
                    self.list(steps, section, &mut inner);
                    inner.trail.pop();
                    self.rows.pop();
                }
            }
        }
    }

    /// What is around the steps of a group; what is said once, at its first step, is taken from `around`.
    fn inside(&self, step: &Step, path: String, around: &mut Around) -> Around {
        let mut inner = around.clone();
        around.cautions.clear();
        let sentence = render_prompt(&step.sentence.template, &self.constants(&step.sentence))
            .unwrap_or_default();
        let title = step
            .title
            .clone()
            .or(Some(sentence).filter(|s| !s.is_empty()))
            .unwrap_or_else(|| step.id.replace('_', " "));
        inner.trail.push(title);
        inner.cautions.extend(step.caution.clone());
        inner
            .conditions
            .extend(step.when.as_ref().map(|w| self.bind(w)));
        inner.after_stop |= step.after_stop;
        inner.path = path;
        inner
    }

    fn constants(&self, sentence: &Sentence) -> Vec<(String, Value)> {
        let value = |source: &Source| match self.slot(source) {
            Slot::Constant(value) => Some(value),
            _ => None,
        };
        sentence
            .names
            .iter()
            .filter_map(|(name, source)| Some((name.clone(), value(source)?)))
            .collect()
    }

    fn leaf(&mut self, step: &Step, path: String, section: Section, around: &mut Around) {
        let Body::Leaf {
            verb,
            criteria,
            on_fail,
            optional,
        } = &step.body
        else {
            return;
        };
        let index = self.items.len();
        let numbers: Vec<usize> = self.rows.iter().map(|r| r.number).collect();
        self.placed
            .entry(step.name)
            .or_default()
            .push((numbers, index));
        self.latest.insert(step.name, index);
        let mut cautions = std::mem::take(&mut around.cautions);
        cautions.extend(step.caution.clone());
        let mut conditions = around.conditions.clone();
        conditions.extend(step.when.as_ref().map(|w| self.bind(w)));
        let criteria = criteria
            .iter()
            .map(|c| Criterion {
                that: c.that.as_ref().map(|r| self.bind(r)),
                basis: c.basis.clone(),
                severity: c.severity,
            })
            .collect();
        let prompt_slots = step
            .sentence
            .names
            .iter()
            .map(|(name, source)| (name.clone(), self.slot(source)))
            .collect();
        let item = Item {
            path,
            place: std::sync::Arc::clone(&step.place),
            number: self.items.len() + 1,
            section,
            verb: self.verb(verb),
            trail: around.trail.clone(),
            title: step.title.clone(),
            prompt: step.sentence.template.clone(),
            prompt_slots,
            cautions,
            why: step.why.clone(),
            help: step.help.clone(),
            picture: step.picture.clone(),
            conditions,
            criteria,
            on_fail: *on_fail,
            optional: *optional,
            after_stop: around.after_stop || step.after_stop,
        };
        self.weigh(text_of(&item));
        self.items.push(item);
    }

    fn verb(&self, leaf: &Leaf) -> Verb {
        match leaf.clone() {
            Leaf::Tell => Verb::Tell,
            Leaf::Confirm => Verb::Confirm,
            Leaf::Choose(options) => Verb::Choose(options),
            Leaf::Enter(pattern) => Verb::Enter(pattern),
            Leaf::Count(r) => Verb::Count {
                repeat: r.repeat,
                with: r.with,
                range: r.range,
            },
            Leaf::Measure {
                unit,
                resolution,
                reading: r,
            } => Verb::Measure {
                unit,
                with: r.with,
                repeat: r.repeat,
                range: r.range,
                resolution,
            },
            Leaf::Time(r) => Verb::Time {
                with: r.with,
                repeat: r.repeat,
                range: r.range,
            },
            Leaf::Compute { expression, unit } => Verb::Compute {
                expression: self.bind(&expression),
                unit,
            },
            Leaf::Judge => Verb::Judge,
            Leaf::Trace { mapping, with } => Verb::Trace {
                mapping: Box::new(mapping),
                with,
            },
        }
    }

    fn bind(&self, read: &Read) -> Bound {
        let slots = read.sources.iter().map(|s| self.slot(s)).collect();
        Bound {
            expression: std::sync::Arc::clone(&read.expression),
            slots,
        }
    }

    fn slot(&self, source: &Source) -> Slot {
        match source {
            Source::Setting(id) => Slot::Constant(Value::Quantity(self.settings[id].clone())),
            Source::Field(each, field) => {
                let row = self.rows.iter().rev().find(|r| r.each == *each);
                Slot::Constant(
                    row.and_then(|r| r.fields.get(field).cloned())
                        .unwrap_or(Value::Text(String::new())),
                )
            }
            Source::Device(field) => Slot::Device(*field),
            Source::Leaf(id, numbered) => self.values_of(*id, numbered),
            Source::Column(log, column) => match self.slot(log) {
                Slot::Item(item) => Slot::Column(item, *column),
                other => other,
            },
        }
    }

    /// The value of a leaf in the rows at hand, or the list over the rows that are free.
    fn values_of(&self, id: Id, numbered: &[(Id, usize)]) -> Slot {
        let around = self.scopes.rows_around(id);
        let wanted: Vec<Option<usize>> = around
            .iter()
            .map(|each| {
                let named = numbered.iter().find(|(e, _)| e == each).map(|(_, n)| *n);
                named.or_else(|| self.rows.iter().find(|r| r.each == *each).map(|r| r.number))
            })
            .collect();
        if numbered.is_empty()
            && wanted.iter().all(Option::is_some)
            && let Some(latest) = self.latest.get(&id)
        {
            return Slot::Item(*latest);
        }
        let placed = self.placed.get(&id).map(Vec::as_slice).unwrap_or_default();
        // Looking through the rows takes its time, whether or not it finds many.
        self.weigh(placed.len());
        let fits = |numbers: &[usize]| {
            numbers
                .iter()
                .zip(&wanted)
                .all(|(n, w)| w.is_none_or(|w| w == *n))
        };
        let found: Vec<usize> = placed
            .iter()
            .filter(|(numbers, _)| fits(numbers))
            .map(|(_, index)| *index)
            .collect();
        self.weigh(found.len() * ENTRY);
        match found[..] {
            [only] if wanted.iter().all(Option::is_some) => Slot::Item(only),
            _ => Slot::Items(found),
        }
    }
}
