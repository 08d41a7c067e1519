//! What is asked next: the question as plain data, for whoever puts it to the technician.
//!
//! Never in here: wording for a terminal. Changes when a question says more.

use crate::plan::{Bound, Device, Item, Plan, Slot, Value, Verb, render_prompt};
use crate::quantity::{Quantity, Unit};

use super::limits::{Limit, limits_and_rest};
use super::values::Values;
use super::{State, Status};

/// A question.
#[derive(Clone, Debug)]
pub struct Question<'p> {
    /// The item's index.
    pub index: usize,
    /// The item.
    pub item: &'p Item,
    /// Which of the steps that ask something it is, from 1.
    pub number: usize,
    /// How many there are.
    pub of: usize,
    /// The sentence, with its values.
    pub sentence: String,
    /// Which reading of the attempt, from 1.
    pub reading: usize,
    /// How many readings an attempt has.
    pub readings: usize,
    /// Which attempt, from 1.
    pub attempt: usize,
    /// What the criteria allow, as far as it is known before the value is.
    pub limits: Vec<Limit>,
    /// Parts of the criteria from which no limit can be told yet, as the author wrote them.
    pub as_written: Vec<String>,
    /// The device, as far as the register is known.
    pub device: Device,
}

impl Question<'_> {
    /// The longest time that the limits name, in seconds; nothing where no time is asked for, or none is known.
    #[must_use]
    pub fn limit_s(&self) -> Option<f64> {
        let timed = matches!(self.item.verb, Verb::Time { .. });
        let ends = self.limits.iter().flat_map(|l| [&l.low, &l.high]);
        timed.then(|| longest_s(ends.flatten())).flatten()
    }

    /// The longest time that the limits name, or else the plausible range, which is wide; in seconds.
    #[must_use]
    pub fn longest_s(&self) -> Option<f64> {
        let Verb::Time { range, .. } = &self.item.verb else {
            return None;
        };
        let range = range.iter().flat_map(|(low, high)| [low, high]);
        self.limit_s().or_else(|| longest_s(range))
    }

    /// Whether the times that are asked for are told in hours.
    #[must_use]
    pub fn is_in_hours(&self) -> bool {
        self.longest_s().is_some_and(|longest| longest >= 3600.0)
    }
}

/// The longest of some times, in seconds.
fn longest_s<'q>(times: impl Iterator<Item = &'q Quantity>) -> Option<f64> {
    let second = Unit::parse("s").ok()?;
    let times = times.filter_map(|end| end.convert(&second).ok());
    times.map(|t| t.value().to_f64()).reduce(f64::max)
}

/// The question that a state asks; nothing when it has ended.
#[must_use]
pub fn question<'p>(plan: &'p Plan, state: &State) -> Option<Question<'p>> {
    if state.ended.is_some() {
        return None;
    }
    question_at(plan, state, state.cursor)
}

/// What a step would ask in a state, whether or not its turn has come; nothing where there is no such step.
#[must_use]
pub fn question_at<'p>(plan: &'p Plan, state: &State, index: usize) -> Option<Question<'p>> {
    let item = plan.items.get(index)?;
    let readings = item.verb.entries().max(1);
    let given = state.items[index].readings.len();
    let (limits, as_written) = limits_of(plan, state, index);
    Some(Question {
        index,
        item,
        number: item.number,
        of: plan.items.len(),
        sentence: sentence(item, state),
        reading: given % readings + 1,
        readings,
        attempt: given / readings + 1,
        limits,
        as_written,
        device: state.device.clone(),
    })
}

/// The sentence of a step with the values that are known; a dash for those that are not.
#[must_use]
pub fn sentence(item: &Item, state: &State) -> String {
    sentence_with(item, state, &|_| "—".to_owned())
}

/// The sentence of a step with the values that are known, and with what `unknown` gives for those that are not.
#[must_use]
pub fn sentence_with(item: &Item, state: &State, unknown: &dyn Fn(&Slot) -> String) -> String {
    let known = |index: usize| state.items[index].value().cloned();
    let value = |slot: &Slot| match slot {
        Slot::Constant(value) => value.clone(),
        Slot::Device(field) => {
            let known = state.device.value(*field).ok();
            known.unwrap_or_else(|| Value::Text(unknown(slot)))
        }
        Slot::Item(index) | Slot::Column(index, _) => {
            known(*index).unwrap_or_else(|| Value::Text(unknown(slot)))
        }
        Slot::Items(indices) => Value::List(indices.iter().filter_map(|i| known(*i)).collect()),
    };
    let values: Vec<(String, Value)> = item
        .prompt_slots
        .iter()
        .map(|(name, slot)| (name.clone(), value(slot)))
        .collect();
    // The checks tried every template; one that fails on a value all the same is shown as written.
    render_prompt(&item.prompt, &values).unwrap_or_else(|_| item.prompt.clone())
}

/// The limits of a step's criteria as far as they can be told now, and what can't be, as written.
fn limits_of(plan: &Plan, state: &State, index: usize) -> (Vec<Limit>, Vec<String>) {
    let (mut all, mut as_written) = (Vec::new(), Vec::new());
    let criteria = &plan.items[index].criteria;
    for bound in criteria.iter().filter_map(|c| c.that.as_ref()) {
        let (drawn, rest) = of_criterion(plan, state, index, bound);
        all.extend(drawn);
        as_written.extend(rest);
    }
    (all, as_written)
}

/// What each criterion of a step allows, as far as it is known in a state before the value is.
#[must_use]
pub fn limits_known(plan: &Plan, state: &State, index: usize) -> Vec<Vec<Limit>> {
    let criteria = plan.items[index].criteria.iter();
    let of = |bound: &Bound| of_criterion(plan, state, index, bound).0;
    let all = criteria.map(|c| c.that.as_ref().map(of).unwrap_or_default());
    all.collect()
}

/// What a criterion allows, and what of it can't be told, as written.
fn of_criterion(
    plan: &Plan,
    state: &State,
    index: usize,
    bound: &Bound,
) -> (Vec<Limit>, Vec<String>) {
    let scope = Values {
        bound,
        plan,
        state,
        index,
        own: None,
    };
    let (mut all, rest) = limits_and_rest(&bound.expression, &scope);
    // A bare ratio (0.8) in the unit that is asked for (80 %).
    for end in all
        .iter_mut()
        .flat_map(|l| [&mut l.low, &mut l.high])
        .flatten()
    {
        let unit = plan.items[index].verb.unit();
        if let Some(unit) = unit.filter(|_| end.unit().text() == "1") {
            *end = end.convert(&unit).unwrap_or_else(|_| end.clone());
        }
    }
    (all, rest)
}

/// The items that an entry settled beside its own: computed, judged, or found not to apply.
#[must_use]
pub fn settled_since(state: &State, from: usize) -> Vec<usize> {
    let end = (state.cursor + 1).min(state.items.len());
    (from.min(end)..end)
        .filter(|i| state.items[*i].status != Status::Pending)
        .collect()
}
