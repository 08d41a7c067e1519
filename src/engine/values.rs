//! What the names of an expression stand for in a session.
//!
//! Never in here: entries, judging. Changes when a name can stand for something new.

use std::cell::RefCell;

use crate::plan::{
    Absence, Behind, Bound, EvaluationError, Node, Origin, Plan, Scope, Slot, Sources, Spread,
    Value, Verb, behind,
};

use super::{State, Status};

/// The names of a bound expression, read from a state; `own` is the value of the item at hand.
pub(super) struct Values<'a> {
    pub bound: &'a Bound,
    pub plan: &'a Plan,
    pub state: &'a State,
    pub index: usize,
    pub own: Option<(&'a Value, Option<&'a Spread>)>,
}

impl Values<'_> {
    /// Whether a part of the expression is the value of the item at hand.
    pub fn is_own(&self, node: &Node) -> bool {
        let Node::Name(index) = node else {
            return false;
        };
        matches!(self.bound.slots.get(*index), Some(Slot::Item(item)) if *item == self.index)
    }

    fn item(&self, index: usize) -> Result<Value, EvaluationError> {
        if let Some((value, _)) = self.own
            && index == self.index
        {
            return Ok(value.clone());
        }
        let (item, planned) = (&self.state.items[index], &self.plan.items[index]);
        let absence = match &item.status {
            Status::Done => match item.value() {
                Some(value) => return Ok(value.clone()),
                None => Absence::WithoutValue,
            },
            Status::Skipped(_) if planned.optional => Absence::LeftOut,
            Status::Skipped(_) => Absence::Skipped,
            Status::NotApplicable(_) => Absence::NotApplicable,
            Status::Undone(_) | Status::Pending => Absence::NotDone,
        };
        Err(EvaluationError::Missing {
            absence,
            path: planned.path.clone(),
        })
    }

    fn spread_of(&self, index: usize) -> Result<Spread, EvaluationError> {
        let spread = match self.own {
            Some((_, spread)) if index == self.index => spread,
            _ => self.state.items[index].spread(),
        };
        // A value that is missing is missing here too.
        let value = self.item(index)?;
        Ok(spread.cloned().unwrap_or_else(|| Spread::known(&value)))
    }

    fn origin_of(&self, index: usize) -> Result<Origin, EvaluationError> {
        let own = self.own.filter(|_| index == self.index);
        let known = match own {
            Some((_, spread)) => spread.is_some(),
            None => self.state.items[index].spread().is_some(),
        };
        let computed = matches!(self.plan.items[index].verb, Verb::Compute { .. });
        if computed && known && !self.behind_of(index).straight {
            return self.item(index).map(|_| Origin::Computed(index));
        }
        self.spread_of(index).map(Origin::Given)
    }

    fn behind_of(&self, index: usize) -> Behind {
        let of_own = self.own.filter(|_| index == self.index);
        let last = self.state.items[index].attempts.last();
        match (of_own, last) {
            (Some((_, spread)), _) => match self.computed(index) {
                Some((tree, scope)) => behind(tree, &*scope),
                None => Behind::reading(spread),
            },
            (None, last) => last.map_or(Behind::NOTHING, |attempt| attempt.behind),
        }
    }
}

impl Scope for Values<'_> {
    fn value(&self, index: usize) -> Result<Value, EvaluationError> {
        let items = match &self.bound.slots[index] {
            Slot::Constant(value) => return Ok(value.clone()),
            Slot::Item(item) => return self.item(*item),
            Slot::Device(field) => return self.state.device.value(*field),
            Slot::Column(item, column) => {
                return match self.item(*item)? {
                    Value::Trace(logged) => Ok(Value::Series(logged, *column)),
                    other => Ok(other),
                };
            }
            Slot::Items(items) => items,
        };
        // A row that did not apply keeps its place, empty; a row that is missing makes the list incomplete.
        let mut values = Vec::with_capacity(items.len());
        let mut inapplicable = None;
        for item in items {
            match self.item(*item) {
                Ok(value) => values.push(value),
                Err(error) if error.is_inapplicable() => {
                    values.push(Value::Absent(self.plan.items[*item].path.clone()));
                    inapplicable = Some(error);
                }
                Err(error) => return Err(error),
            }
        }
        match inapplicable {
            Some(error) if values.iter().all(|v| matches!(v, Value::Absent(_))) => Err(error),
            _ => Ok(Value::List(values)),
        }
    }

    fn spread(&self, index: usize) -> Result<Spread, EvaluationError> {
        match &self.bound.slots[index] {
            Slot::Constant(value) => Ok(Spread::known(value)),
            Slot::Column(..) | Slot::Device(_) => {
                self.value(index).map(|value| Spread::known(&value))
            }
            Slot::Item(item) => self.spread_of(*item),
            Slot::Items(items) => {
                let one = |item: &usize| match self.spread_of(*item) {
                    Err(error) if error.is_inapplicable() => {
                        let path = self.plan.items[*item].path.clone();
                        Ok(Spread::Other(Value::Absent(path)))
                    }
                    other => other,
                };
                let rows: Result<_, _> = items.iter().map(one).collect();
                rows.map(Spread::List)
            }
        }
    }

    fn origin(&self, index: usize) -> Result<Origin, EvaluationError> {
        match &self.bound.slots[index] {
            Slot::Item(item) => self.origin_of(*item),
            Slot::Items(items) => {
                let one = |item: &usize| match self.origin_of(*item) {
                    Err(error) if error.is_inapplicable() => {
                        let path = self.plan.items[*item].path.clone();
                        Ok(Origin::Given(Spread::Other(Value::Absent(path))))
                    }
                    other => other,
                };
                let rows: Result<_, _> = items.iter().map(one).collect();
                rows.map(Origin::List)
            }
            Slot::Constant(_) | Slot::Column(..) | Slot::Device(_) => {
                self.spread(index).map(Origin::Given)
            }
        }
    }

    fn behind(&self, index: usize) -> Behind {
        let slots: &[usize] = match &self.bound.slots[index] {
            Slot::Item(item) => std::slice::from_ref(item),
            Slot::Items(items) => items,
            Slot::Constant(_) | Slot::Column(..) | Slot::Device(_) => &[],
        };
        let all = slots.iter().map(|item| self.behind_of(*item));
        all.fold(Behind::NOTHING, |sum, one| Behind {
            straight: sum.straight && one.straight,
            acted_upon: sum.acted_upon || one.acted_upon,
        })
    }

    fn computed(&self, id: usize) -> Option<(&Node, Box<dyn Scope + '_>)> {
        let Verb::Compute { expression, .. } = &self.plan.items.get(id)?.verb else {
            return None;
        };
        let scope = Values {
            bound: expression,
            plan: self.plan,
            state: self.state,
            index: id,
            own: None,
        };
        Some((&expression.expression.root, Box::new(scope)))
    }

    fn sources(&self) -> Option<(&RefCell<Sources>, usize)> {
        Some((&self.state.sources, self.index))
    }
}
