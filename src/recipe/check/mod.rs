//! Checks of a recipe, one file a family: header, steps, values, expressions, sentences, what is left over.
//!
//! Never in here: the shape of the YAML (see `schema`). Changes when a check is added.

mod comments;
mod expressions;
mod header;
mod leftovers;
mod names;
mod sentences;
mod steps;
mod texts;
mod traces;
mod values;

use std::collections::BTreeSet;
use std::sync::Arc;

use foldhash::{HashMap, HashSet};
use indexmap::IndexMap;

use crate::plan::{Decision, Role, Type, Value};
use crate::quantity::{Quantity, Unit};
use crate::text::Finding;

use super::checked::Step;
use super::cursor::At;
use super::memo::{By, Memo, Stood};
use super::model::Written;
use super::scope::{Declared, Id, Lookup, Scopes, Source};
use super::yaml::escape;

pub use comments::cut_texts;
pub use header::{CATEGORIES, Header, header, settings_at};
pub use leftovers::leftovers;

/// What the checks of steps share.
pub struct Checker<'d> {
    pub findings: Vec<Finding>,
    pub scopes: Scopes,
    /// The values of the settings, those of groups too.
    pub settings: HashMap<Id, Quantity>,
    pub roles: IndexMap<String, Role>,
    pub basis: IndexMap<String, String>,
    pub decision: Option<Decision>,
    pub used_roles: HashSet<String>,
    /// The settings that have a value, by their pointers.
    pub setting_ids: Vec<(String, Id)>,
    /// Measured values that nothing judges: to be reported if nothing uses them either.
    pub idle: Vec<(Id, At<'d>)>,
    /// The options of the `choose` steps.
    pub options: HashMap<Id, Vec<String>>,
    /// Rows of the `each` scopes, by scope.
    pub rows: Vec<(Id, Vec<IndexMap<String, Value>>)>,
    /// Whether the walk is in the setup.
    pub in_setup: bool,
    /// Pointers to what has a fault in its shape.
    pub shape_faults: BTreeSet<String>,
    /// Pointers to where names of steps and rows are declared.
    pub declared_at: HashMap<Id, String>,
    /// The unit of the step at hand.
    pub unit: Option<Unit>,
    /// What was found sound in other recipes.
    pub memo: Arc<Memo>,
}

/// The scope that holds setup and steps; settings lie in the one around it.
const STEPS: Id = 1;

impl<'d> Checker<'d> {
    /// Starts with the header's names declared.
    pub fn new(header: &Header, memo: Arc<Memo>) -> Self {
        let mut scopes = Scopes::default();
        let steps = scopes.declare(0, "", Declared::Scope { rows: None });
        debug_assert_eq!(steps, Ok(STEPS));
        scopes.enter(STEPS);
        let mut checker = Self {
            findings: Vec::new(),
            scopes,
            settings: HashMap::default(),
            roles: header.roles.clone(),
            basis: header.basis.clone(),
            decision: header.decision,
            used_roles: HashSet::default(),
            setting_ids: Vec::new(),
            idle: Vec::new(),
            options: HashMap::default(),
            rows: Vec::new(),
            in_setup: true,
            shape_faults: BTreeSet::new(),
            declared_at: HashMap::default(),
            unit: None,
            memo,
        };
        checker.declare_settings(0, "/settings", &header.settings, &header.broken_settings);
        checker
    }

    /// Declares the settings of the recipe or of a group.
    fn declare_settings(
        &mut self,
        scope: Id,
        pointer: &str,
        sound: &IndexMap<String, Quantity>,
        broken: &[String],
    ) {
        for (name, value) in sound {
            let declared = Declared::Setting(Value::Quantity(value.clone()));
            if let Ok(id) = self.scopes.declare(scope, name, declared) {
                let pointer = format!("{pointer}/{}", escape(name));
                self.scopes.mark_filled(id);
                self.settings.insert(id, value.clone());
                self.declared_at.insert(id, pointer.clone());
                self.setting_ids.push((pointer, id));
            }
        }
        for name in broken {
            let unknown = Declared::Leaf {
                of: None,
                constant: true,
            };
            if let Ok(id) = self.scopes.declare(scope, name, unknown) {
                self.scopes.mark_filled(id);
            }
        }
    }

    /// What a name stands for here, and where it reads from; with the value of a setting where that matters.
    fn stands(&self, name: &str, own: Option<Id>, values: bool) -> Option<(Stood, Source)> {
        let Lookup::Value(Some(of), source) = self.scopes.look_up(name, own) else {
            return None;
        };
        let by = self.by(&source, values);
        Some((Stood { of, by }, source))
    }

    fn by(&self, source: &Source, values: bool) -> By {
        match source {
            Source::Setting(id) => match self.settings.get(id).filter(|_| values) {
                Some(value) => By::Value(value.clone()),
                None => By::Setting,
            },
            Source::Field(..) => By::Row,
            Source::Leaf(..) | Source::Column(..) | Source::Device(_) => By::Reading,
        }
    }

    /// Where names read from, if they stand for what they stood for before.
    fn sources_as_before<'n>(
        &self,
        names: impl Iterator<Item = &'n String>,
        stood: &[Stood],
        own: Option<Id>,
    ) -> Option<Vec<Source>> {
        let one = |(name, before): (&'n String, &Stood)| {
            let values = matches!(before.by, By::Value(_));
            let (now, source) = self.stands(name, own, values)?;
            (now == *before).then_some(source)
        };
        names.zip(stood).map(one).collect()
    }

    /// Checks setup and steps.
    pub fn walk(&mut self, setup: &[Written<'d>], steps: &[Written<'d>]) -> (Vec<Step>, Vec<Step>) {
        let mut names = Vec::new();
        self.declare(STEPS, setup, &mut names);
        self.declare(STEPS, steps, &mut names);
        let mut names = names.into_iter();
        let setup = self.list(setup, &mut names);
        self.in_setup = false;
        (setup, self.list(steps, &mut names))
    }
}

/// The type of a quantity of a kind.
fn exact_quantity(kind: crate::quantity::Kind) -> Type {
    Type::Quantity { kind, exact: true }
}
