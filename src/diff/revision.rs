//! One of the two revisions: its plan, and its steps as the tree that its author wrote.
//!
//! Never in here: the other revision. Changes when more of a step has to be at hand.

use std::borrow::Cow;
use std::collections::HashMap;
use std::sync::Arc;

use serde_json::{Map, Value};

use crate::plan::{CriterionSeverity, Decision, Item, Plan};
use crate::recipe::yaml::Document;
use crate::recipe::{Reading, Whole};
use crate::text::{Finding, Severity, Source};

/// The pretended steps that hold setup and steps.
pub const SETUP: usize = 0;
/// The same of the steps proper.
pub const STEPS: usize = 1;

const VERBS: [&str; 12] = [
    "tell", "confirm", "choose", "enter", "count", "measure", "time", "trace", "compute", "judge",
    "group", "each",
];

/// A recipe that can be run, with its text taken apart.
#[derive(Debug)]
pub struct Revision {
    /// What it is called: a path, or what was asked for.
    pub name: String,
    pub(super) plan: Plan,
    /// The decision rule of the shop, which holds where the recipe states none; nothing where there is no shop.
    shop_rule: Option<Decision>,
    document: Arc<Document>,
}

/// A step as written.
#[derive(Debug)]
pub struct Step<'r> {
    /// Its id; empty for the two lists.
    pub id: &'r str,
    /// Its verb; empty for the two lists.
    pub verb: &'static str,
    /// The whole step.
    pub value: &'r Value,
    /// The step that it stands in.
    pub parent: usize,
    /// The steps inside.
    pub inner: Vec<usize>,
    /// The `each` steps around it, outermost first.
    pub rows_around: Vec<usize>,
    /// Ids from the outermost step to it.
    pub path: String,
    /// The `when` steps around it: how many conditions of its items are not its own.
    pub conditions_around: usize,
}

/// The steps of a revision; setup and steps first, then each before those inside it.
#[derive(Debug)]
pub struct Tree<'r> {
    /// The revision.
    pub of: &'r Revision,
    /// The steps.
    pub steps: Vec<Step<'r>>,
    items: HashMap<&'r str, usize>,
}

impl Revision {
    /// Takes a plan apart.
    ///
    /// # Errors
    /// Findings of its text, which has none if the plan was read from it.
    pub fn new(name: &str, plan: Plan) -> Result<Self, Vec<Finding>> {
        let document = Document::read(Source::new(name, &plan.source))?;
        Ok(Self {
            name: name.to_owned(),
            plan,
            shop_rule: None,
            document: Arc::new(document),
        })
    }

    /// Takes a recipe apart that was read.
    ///
    /// # Errors
    /// The errors of a recipe that can't be run.
    pub fn of(name: &str, reading: Reading) -> Result<Self, Vec<Finding>> {
        let Some(plan) = reading.plan else {
            let is_error = |f: &Finding| f.severity() == Severity::Error;
            return Err(reading.findings.into_iter().filter(is_error).collect());
        };
        let stands_alone = |whole: &Arc<Whole>| !whole.document.is_put_together();
        match reading.whole.filter(stands_alone) {
            Some(whole) => Ok(Self {
                name: name.to_owned(),
                plan,
                shop_rule: None,
                document: Arc::clone(&whole.document),
            }),
            None => Self::new(name, plan),
        }
    }

    /// In a shop with this decision rule.
    #[must_use]
    pub fn in_shop(mut self, rule: Option<Decision>) -> Self {
        self.shop_rule = rule;
        self
    }

    /// The decision rule that values are judged by, and the one that the recipe states.
    pub(super) fn rules(&self) -> [Option<Decision>; 2] {
        let own = self.plan.decision;
        [own.or(self.shop_rule), own]
    }

    /// The procedure.
    #[must_use]
    pub fn plan(&self) -> &Plan {
        &self.plan
    }

    /// A part of the text by its key.
    pub fn get(&self, key: &str) -> Option<&Value> {
        self.document.root.get(key)
    }

    /// The steps.
    pub fn tree(&self) -> Tree<'_> {
        let items = self.plan.items.iter().enumerate();
        let mut tree = Tree {
            of: self,
            steps: Vec::new(),
            items: items.map(|(n, item)| (item.path.as_str(), n)).collect(),
        };
        for (at, key) in [(SETUP, "setup"), (STEPS, "steps")] {
            let list = self.get(key).unwrap_or(&Value::Null);
            tree.steps.push(Step {
                id: "",
                verb: "",
                value: list,
                parent: at,
                inner: Vec::new(),
                rows_around: Vec::new(),
                path: String::new(),
                conditions_around: 0,
            });
        }
        for at in [SETUP, STEPS] {
            tree.add(tree.steps[at].value, at);
        }
        tree
    }
}

impl<'r> Tree<'r> {
    /// How much a fail weighs at most, of the criteria of a step and of those inside of it.
    pub fn gravest(&self, step: usize) -> Option<CriterionSeverity> {
        let of = &self.steps[step];
        if !of.is_leaf() {
            return of.inner.iter().filter_map(|at| self.gravest(*at)).max();
        }
        // The criteria of a step are the same in all rows.
        let item = self.item(step, &vec![1; of.rows_around.len()])?;
        self.at(item).criteria.iter().map(|c| c.severity).max()
    }

    fn add(&mut self, list: &'r Value, parent: usize) {
        for value in list.as_array().into_iter().flatten() {
            let at = self.steps.len();
            let step = self.step(value, parent);
            self.steps.push(step);
            self.steps[parent].inner.push(at);
            if let Some(inner) = value.get("steps") {
                self.add(inner, at);
            }
        }
    }

    fn step(&self, value: &'r Value, parent: usize) -> Step<'r> {
        let around = &self.steps[parent];
        let id = value.get("id").and_then(Value::as_str).unwrap_or_default();
        let verb = VERBS.into_iter().find(|verb| value.get(verb).is_some());
        let mut rows_around = around.rows_around.clone();
        if around.verb == "each" {
            rows_around.push(parent);
        }
        let path = match around.path.as_str() {
            "" => id.to_owned(),
            path => format!("{path}.{id}"),
        };
        Step {
            id,
            verb: verb.unwrap_or_default(),
            value,
            parent,
            inner: Vec::new(),
            rows_around,
            path,
            conditions_around: around.conditions_around + usize::from(around.get("when").is_some()),
        }
    }

    /// The path of a step in these rows of the `each` steps around it, which count from 1.
    pub fn path_in(&self, step: usize, rows: &[usize]) -> String {
        let mut chain = Vec::new();
        let mut at = step;
        while at > STEPS {
            chain.push(at);
            at = self.steps[at].parent;
        }
        let around = &self.steps[step].rows_around;
        let mut parts = Vec::new();
        for at in chain.iter().rev() {
            parts.push(self.steps[*at].id.to_owned());
            let row = around.iter().position(|each| each == at);
            parts.extend(row.and_then(|n| rows.get(n)).map(ToString::to_string));
        }
        parts.join(".")
    }

    /// The item of a step in these rows.
    pub fn item(&self, step: usize, rows: &[usize]) -> Option<usize> {
        if rows.is_empty() {
            return self.items.get(self.steps[step].path.as_str()).copied();
        }
        self.items.get(self.path_in(step, rows).as_str()).copied()
    }

    /// An item by its number.
    pub fn at(&self, item: usize) -> &'r Item {
        &self.of.plan.items[item]
    }

    /// How many leaf steps a step holds, and how many criteria they have, rows not counted.
    pub fn size(&self, step: usize) -> (usize, usize) {
        let of = &self.steps[step];
        if of.is_leaf() {
            return (1, of.criteria());
        }
        let inner = of.inner.iter().map(|s| self.size(*s));
        inner.fold((0, 0), |(a, b), (c, d)| (a + c, b + d))
    }

    /// Whether a step stands inside another.
    pub fn is_inside(&self, step: usize, around: usize) -> bool {
        let mut at = step;
        while at > STEPS {
            at = self.steps[at].parent;
            if at == around {
                return true;
            }
        }
        false
    }
}

impl<'r> Step<'r> {
    /// Whether it holds no others.
    pub fn is_leaf(&self) -> bool {
        !matches!(self.verb, "group" | "each" | "")
    }

    /// A key's value.
    pub fn get(&self, key: &str) -> Option<&'r Value> {
        self.value.get(key).filter(|v| !v.is_null())
    }

    /// A key's text; a number or a truth as it is.
    pub fn text(&self, key: &str) -> Option<Cow<'r, str>> {
        match self.get(key)? {
            Value::String(text) => Some(Cow::Borrowed(text)),
            other => Some(Cow::Owned(other.to_string())),
        }
    }

    /// What the technician reads; of a step that computes its expression.
    pub fn sentence(&self) -> Cow<'r, str> {
        self.text(self.verb).unwrap_or_default()
    }

    /// How many criteria it has.
    pub fn criteria(&self) -> usize {
        match self.get("accept") {
            Some(Value::Array(list)) => list.len(),
            Some(_) => 1,
            None => usize::from(self.verb == "confirm"),
        }
    }

    /// The rows of an `each`.
    pub fn rows(&self) -> Vec<&'r Map<String, Value>> {
        let rows = self
            .get("in")
            .and_then(Value::as_array)
            .into_iter()
            .flatten();
        rows.filter_map(Value::as_object).collect()
    }

    /// What a person calls it: its title, or what it says.
    pub fn called(&self) -> Cow<'r, str> {
        match (self.text("title"), self.verb) {
            (Some(title), _) => title,
            (None, "each") => Cow::Borrowed(self.id),
            _ => self.sentence(),
        }
    }
}

impl Revision {
    /// Whether another is written the same, the order of keys and entries included, but for comments and layout.
    pub fn is_written_as(&self, other: &Self) -> bool {
        // Values are equal whatever the order of their keys; their texts are not.
        let [a, b] = [self, other].map(|of| of.document.root.to_string());
        a == b
    }
}
