//! What became of a step that computes: whether what it computes now is told by the criteria that rest on it.
//!
//! Never in here: criteria. Changes when a changed computation is told otherwise.

use std::collections::BTreeSet;

use crate::plan::{Slot, Value as Known, Verb};

use super::change::{Change, Weight};
use super::compare::Comparison;
use super::polynomial::Atom;
use super::region::Change as Region;
use super::repeat;
use super::values::Form;

/// Steps that compute something else, and what is known of what rests on them.
#[derive(Debug, Default)]
pub struct Computed {
    waiting: Vec<(Vec<(Form, Form)>, Change)>,
    /// Values on which criteria rest that accept the same, as what they are computed from tells.
    same: BTreeSet<Atom>,
    /// The same where they accept something else.
    told: BTreeSet<Atom>,
    /// Values on which criteria rest of which nobody can tell.
    untold: BTreeSet<Atom>,
}

impl Computed {
    /// Notes what is known of criteria that rest on these values.
    pub fn note(&mut self, behind: BTreeSet<Atom>, region: Option<Region>) {
        match region {
            None => self.untold.extend(behind),
            Some(Region::Same) => self.same.extend(behind),
            Some(_) => self.told.extend(behind),
        }
    }

    /// The changes that the criteria don't tell.
    pub fn settled(self) -> Vec<Change> {
        let atom = |form: &Form| match form {
            Form::Number(sum) => sum.as_atom(),
            _ => None,
        };
        let among = |set: &BTreeSet<Atom>, (a, b): &(Form, Form)| {
            [a, b]
                .into_iter()
                .filter_map(atom)
                .any(|n| set.contains(&n))
        };
        let weighed = |(forms, change): &(Vec<(Form, Form)>, Change)| {
            let any = |set| forms.iter().any(|f| among(set, f));
            let each = forms
                .iter()
                .all(|f| among(&self.told, f) || among(&self.same, f));
            match each && !any(&self.untold) {
                false => Some(change.clone()),
                true if any(&self.told) => None,
                true if change.old == change.new => None,
                true => {
                    let why = "something else is computed; what rests on it accepts the same";
                    let (path, old, new) = (&change.path, &change.old, &change.new);
                    Some(Change::new(path, Weight::Notation, old, new, why))
                }
            }
        };
        self.waiting.iter().filter_map(weighed).collect()
    }
}

/// Compares what a matched step computes: the same in effect, or something else, which the criteria tell or nobody.
pub fn compare(comparison: &mut Comparison<'_, '_>, was: usize, at: usize) {
    let (old, new) = (
        &comparison.sides.old.steps[was],
        &comparison.sides.new.steps[at],
    );
    if new.verb != "compute" {
        return;
    }
    let (before, now) = (old.sentence(), new.sentence());
    let mut differs = Vec::new();
    for place in &comparison.places(was, at) {
        let (a, b) = (
            comparison.sides.old.at(place.old),
            comparison.sides.new.at(place.new),
        );
        let forms = (
            comparison.sides.given_old.forms[place.old].clone(),
            comparison.sides.given_new.forms[place.new].clone(),
        );
        let own = before != now || constants(&a.verb) != constants(&b.verb);
        let repeated = &comparison.repeated;
        let grown = grown(&a.verb, &repeated.old).or_else(|| grown(&b.verb, &repeated.new));
        if let Some(call) = grown {
            let why = format!(
                "`{call}` is made of another number of readings now: look at what rests on it"
            );
            let change = Change::new(&new.path, Weight::Undecided, before, now, why);
            comparison.changes.push(change);
            return;
        }
        if forms.0 != forms.1 && own {
            differs.push(forms);
        }
    }
    if differs.is_empty() {
        let why = "the same is computed, written otherwise";
        let change = Change::new(&new.path, Weight::Notation, &*before, &*now, why);
        comparison.changes.extend((before != now).then_some(change));
        return;
    }
    let (weight, why) = weighed(&differs, before == now);
    let change = Change::new(&new.path, weight, before, now, why);
    comparison.computed.waiting.push((differs, change));
}

fn weighed(differs: &[(Form, Form)], same_text: bool) -> (Weight, &'static str) {
    let constant = |form: &Form| matches!(form, Form::Number(sum) if sum.as_constant().is_some());
    match same_text {
        _ if differs.iter().all(|(a, b)| constant(a) && constant(b)) => (
            Weight::Setting,
            "what is computed is another number; what rests on it is told at the steps",
        ),
        true => (
            Weight::Undecided,
            "a setting or field that it rests on changed, and with it what is computed",
        ),
        false => (
            Weight::Undecided,
            "something else is computed: look at what rests on it",
        ),
    }
}

fn grown(verb: &Verb, of: &BTreeSet<usize>) -> Option<String> {
    match verb {
        Verb::Compute { expression, .. } => repeat::grown(expression, of),
        _ => None,
    }
}

/// What an expression takes from settings and rows.
fn constants(verb: &Verb) -> Vec<Option<String>> {
    let Verb::Compute { expression, .. } = verb else {
        return Vec::new();
    };
    let known = |slot: &Slot| match slot {
        Slot::Constant(Known::Quantity(q)) => Some(q.si().to_exact().to_text()),
        Slot::Constant(other) => Some(other.to_string()),
        _ => None,
    };
    expression.slots.iter().map(known).collect()
}
