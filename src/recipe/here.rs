//! The names at a place of a recipe, as the lowering of one expression asks for them.
//!
//! Never in here: the rules of visibility (see `scope`). Changes when lowering needs to know more of a place.

use std::cell::{Cell, RefCell};

use indexmap::IndexMap;

use crate::plan::{Node, Value};
use crate::quantity::{Kind, Unit};

use super::constants::Constants;
use super::expression::{Found, LoweringError, Names};
use super::scope::{Id, Lookup, Scopes, Source};

/// The names at a place, for the lowering of one expression; keeps where each was found, and what was remarked.
pub struct Here<'s> {
    /// The names.
    pub scopes: &'s Scopes,
    /// The step whose own value may be used.
    pub own: Option<Id>,
    /// Where each name reads from.
    pub sources: RefCell<IndexMap<String, Source>>,
    /// The values that no reading changes.
    pub constants: Constants<'s>,
    /// The unit of the step.
    pub unit: Option<Unit>,
    /// Whether it was asked for the values of what no reading changes.
    pub visited: Cell<bool>,
    /// What is worth saying of a sound expression.
    pub remarks: RefCell<Vec<LoweringError>>,
}

impl Names for Here<'_> {
    fn find(&self, name: &str) -> Found {
        match self.scopes.look_up(name, self.own) {
            Lookup::Value(of, source) => {
                self.sources.borrow_mut().insert(name.to_owned(), source);
                of.map_or(Found::Reported, Found::Type)
            }
            Lookup::Refused(code, message, help) => Found::Refused(code, message, help),
        }
    }

    fn visit(
        &self,
        part: &Node,
        names: &[String],
        on_value: &mut dyn FnMut(&Value) -> bool,
    ) -> Option<bool> {
        self.visited.set(true);
        let known = self.sources.borrow();
        let sources: Vec<Source> = names
            .iter()
            .map(|name| known.get(name).cloned())
            .collect::<Option<_>>()?;
        self.constants.visit(part, names, &sources, on_value)
    }

    fn unit(&self, kind: Kind) -> Option<Unit> {
        let own = self.unit.clone();
        own.filter(|unit| unit.kind().comparable(kind).is_ok())
    }

    fn remark(&self, remark: LoweringError) {
        self.remarks.borrow_mut().push(remark);
    }
}
