//! Checks of a recipe, one file a family: header, steps, values, expressions, sentences, what is left over.
//!
//! Never in here: the shape of the YAML (see `schema`). Changes when a check is added.

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
use std::collections::{HashMap, HashSet};

use indexmap::IndexMap;

use crate::plan::{Decision, Role, Type, Value};
use crate::quantity::{Quantity, Unit};
use crate::text::Finding;

use super::checked::Step;
use super::cursor::At;
use super::model::Written;
use super::scope::{Declared, Id, Scopes};

pub use header::{CATEGORIES, Header, header};
pub use leftovers::leftovers;

/// What the checks of steps share.
pub struct Checker<'d> {
    pub findings: Vec<Finding>,
    pub scopes: Scopes,
    pub settings: IndexMap<String, Quantity>,
    pub roles: IndexMap<String, Role>,
    pub basis: IndexMap<String, String>,
    pub decision: Option<Decision>,
    pub used_roles: HashSet<String>,
    /// The settings that have a value.
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
}

/// The scope that holds setup and steps; settings lie in the one around it.
const STEPS: Id = 1;

impl<'d> Checker<'d> {
    /// Starts with the header's names declared.
    pub fn new(header: &Header) -> Self {
        let mut scopes = Scopes::default();
        let steps = scopes.declare(0, "", Declared::Scope { rows: None });
        debug_assert_eq!(steps, Ok(STEPS));
        let mut setting_ids = Vec::new();
        for (name, value) in &header.settings {
            if let Ok(id) =
                scopes.declare(0, name, Declared::Setting(Value::Quantity(value.clone())))
            {
                scopes.mark_filled(id);
                setting_ids.push((name.clone(), id));
            }
        }
        for name in &header.broken_settings {
            if let Ok(id) = scopes.declare(
                0,
                name,
                Declared::Leaf {
                    of: None,
                    constant: true,
                },
            ) {
                scopes.mark_filled(id);
            }
        }
        scopes.enter(STEPS);
        Self {
            findings: Vec::new(),
            scopes,
            settings: header.settings.clone(),
            roles: header.roles.clone(),
            basis: header.basis.clone(),
            decision: header.decision,
            used_roles: HashSet::new(),
            setting_ids,
            idle: Vec::new(),
            options: HashMap::new(),
            rows: Vec::new(),
            in_setup: true,
            shape_faults: BTreeSet::new(),
            declared_at: HashMap::new(),
            unit: None,
        }
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
