//! An expression as a model of measurement (JCGM 101:2008, 4.2): all that it was computed from, down to readings, as a
//! function of the errors that act on these.
//!
//! Never in here: random numbers, verdicts. Changes when a name can stand for something new.

use std::cell::RefCell;
use std::collections::{BTreeMap, BTreeSet, HashMap};
use std::rc::Rc;

use crate::maths::Linear;

use super::evaluate::Outcome;
use super::propagate::{FirstOrder, Numbers, deviation_of_repeats, numbers, over_list, walk};
use super::target::Target;
use super::uncertainty::{Cause, Source, Spread};
use super::{Behind, BinaryOperator, EvaluationError, Function, Node, Origin, Scope, flow};

/// Most computed values that a model goes back through.
const MAX_PARTS: usize = 10_000;

/// What the names of a tree stand for.
type Names = BTreeMap<usize, Origin>;
/// A call in a tree: the item that it belongs to, and its place.
type Place = (usize, usize);
/// For each number of a list the scatter that has shown itself there, and what it contributes.
type Shown = Vec<Option<(u32, f64)>>;

/// A model of measurement.
pub(super) struct Model<'a> {
    scope: &'a dyn Scope,
    targets: &'a [Target<'a>],
    names: Names,
    /// What the targets were computed from, in the order in which it was.
    parts: Vec<Part<'a>>,
    /// What the parts come to for the errors at hand.
    results: Vec<Option<Spread<f64>>>,
    /// The sources of error, in rising order.
    pub(super) sources: Vec<u32>,
    /// Their errors, in multiples of their standard uncertainties.
    pub(super) errors: Vec<f64>,
    kept: RefCell<Kept>,
}

/// A computed value.
struct Part<'a> {
    id: usize,
    tree: &'a Node,
    scope: Box<dyn Scope + 'a>,
    names: Names,
}

/// What calls give to first order, found once for all draws.
#[derive(Default)]
struct Kept {
    series: HashMap<Place, Option<Rc<Spread>>>,
    deviations: HashMap<Place, Option<Rc<Linear>>>,
    shown: HashMap<Place, Rc<Shown>>,
}

impl<'a> Model<'a> {
    /// The model of targets; nothing where it goes back through too many values.
    pub(super) fn of(targets: &'a [Target<'a>], scope: &'a dyn Scope) -> Option<Self> {
        let trees: Vec<&Node> = targets.iter().flat_map(Target::nodes).collect();
        let names = names_of(&trees, scope);
        let mut wanted: BTreeSet<usize> = computed(&names).collect();
        let mut parts = Vec::new();
        // A step rests on earlier ones, so that the latest that is wanted is never wanted again.
        while let Some(id) = wanted.pop_last() {
            if parts.len() == MAX_PARTS {
                return None;
            }
            let (tree, scope) = scope.computed(id)?;
            let names = names_of(&[tree], &*scope);
            wanted.extend(computed(&names).filter(|earlier| *earlier < id));
            parts.push(Part {
                id,
                tree,
                scope,
                names,
            });
        }
        parts.reverse();
        let mut model = Self {
            scope,
            targets,
            names,
            results: vec![None; parts.len()],
            parts,
            sources: Vec::new(),
            errors: Vec::new(),
            kept: RefCell::default(),
        };
        model.sources = model.all_sources(&trees).into_iter().collect();
        model.errors = vec![0.0; model.sources.len()];
        Some(model)
    }

    /// The sources that act on what the model starts from, whether or not anything is left of them to first order.
    fn all_sources(&self, trees: &[&Node]) -> BTreeSet<u32> {
        let mut all = BTreeSet::new();
        let mut of_trees = |trees: &[&Node], names: &Names, view: &View<'_, '_>| {
            names.values().for_each(|o| sources_of(o, &mut all));
            for tree in trees {
                visit(tree, &mut |node| {
                    all.extend(view.sources_of_call(node));
                });
            }
        };
        of_trees(trees, &self.names, &self.view(self.scope, &self.names));
        for part in &self.parts {
            of_trees(
                &[part.tree],
                &part.names,
                &self.view(&*part.scope, &part.names),
            );
        }
        all
    }

    /// What the targets come to for the errors at hand; nothing where one of them has no result.
    pub(super) fn results(&mut self) -> Option<Vec<f64>> {
        for at in 0..self.parts.len() {
            let part = &self.parts[at];
            let found = walk(part.tree, &self.view(&*part.scope, &part.names)).ok();
            self.results[at] = found;
        }
        let view = self.view(self.scope, &self.names);
        let found = self.targets.iter().map(|t| t.walk::<f64>(&view).ok());
        found.map(|f| f.filter(|f| f.is_finite())).collect()
    }

    pub(super) fn error(&self, source: u32) -> f64 {
        let at = self.sources.binary_search(&source);
        at.map_or(0.0, |at| self.errors[at])
    }

    fn view<'m>(&'m self, scope: &'m dyn Scope, names: &'m Names) -> View<'m, 'a> {
        View {
            model: self,
            scope,
            names,
        }
    }

    fn shifted(&self, spread: &Spread) -> Spread<f64> {
        match spread {
            Spread::Number(number) => Spread::Number(number.shifted(|s| self.error(s))),
            Spread::List(items) => Spread::List(items.iter().map(|i| self.shifted(i)).collect()),
            Spread::Other(value) => Spread::Other(value.clone()),
        }
    }

    fn resolved(&self, origin: &Origin) -> Outcome<Spread<f64>> {
        match origin {
            Origin::Given(spread) => Ok(self.shifted(spread)),
            Origin::List(items) => {
                let items = items.iter().map(|i| self.resolved(i));
                Ok(Spread::List(items.collect::<Outcome<_>>()?))
            }
            Origin::Computed(id) => {
                let at = self.parts.binary_search_by_key(id, |p| p.id).ok();
                let found = at.and_then(|at| self.results[at].clone());
                found.ok_or_else(|| EvaluationError::Domain("a draw gave no result".to_owned()))
            }
        }
    }
}

/// A tree of a model with what its names stand for.
struct View<'m, 'a> {
    model: &'m Model<'a>,
    scope: &'m dyn Scope,
    names: &'m Names,
}

impl View<'_, '_> {
    fn place(&self, arguments: &[Node]) -> Place {
        let item = self.scope.sources().map_or(usize::MAX, |(_, item)| item);
        (item, arguments.as_ptr() as usize)
    }

    /// The sources that a call brings along itself.
    fn sources_of_call(&self, node: &Node) -> Vec<u32> {
        let Node::Call(function, arguments) = node else {
            return Vec::new();
        };
        let (item, place) = self.place(arguments);
        if *function == Function::Uncertain {
            let known = self.scope.sources();
            let known = known.and_then(|(s, _)| s.borrow().known(&Cause::Stated(item, place)));
            return known.into_iter().collect();
        }
        let spread = function
            .is_of_series()
            .then(|| self.series(*function, arguments));
        let spread = spread.flatten();
        let parts = spread
            .iter()
            .flat_map(|s| s.numbers())
            .flat_map(|n| &n.parts);
        parts.map(|(source, _)| *source).collect()
    }

    fn series(&self, function: Function, arguments: &[Node]) -> Option<Rc<Spread>> {
        let mut kept = self.model.kept.borrow_mut();
        let find = || {
            flow::spread(function, arguments, self.scope)
                .ok()
                .map(Rc::new)
        };
        let found = kept.series.entry(self.place(arguments));
        found.or_insert_with(find).clone()
    }

    /// The scatter that has shown itself in a list, with what it contributes to each number.
    fn shown(&self, arguments: &[Node]) -> Rc<Shown> {
        let place = self.place(arguments);
        if let Some(known) = self.model.kept.borrow().shown.get(&place) {
            return known.clone();
        }
        let list: Vec<Linear> = numbers(arguments, &FirstOrder(self.scope)).unwrap_or_default();
        let sources = self.scope.sources();
        let shown = sources.map(|(s, _)| s.borrow().shown_scatter(&list));
        let part = |(number, source): (&Linear, Option<u32>)| {
            let of = |wanted: u32| number.parts.iter().find(|(s, _)| *s == wanted);
            source.and_then(of).copied()
        };
        let found = list.iter().zip(shown.unwrap_or_default()).map(part);
        let found = Rc::new(found.collect::<Shown>());
        let mut kept = self.model.kept.borrow_mut();
        kept.shown.insert(place, found.clone());
        found
    }
}

impl Numbers<f64> for View<'_, '_> {
    fn name(&self, index: usize) -> Outcome<Spread<f64>> {
        match self.names.get(&index) {
            Some(origin) => self.model.resolved(origin),
            None => self.scope.value(index).map(|value| Spread::known(&value)),
        }
    }

    fn stated(&self, place: usize, value: f64, source: Source) -> f64 {
        let number = self
            .scope
            .sources()
            .and_then(|(sources, item)| sources.borrow().known(&Cause::Stated(item, place)));
        value + number.map_or(0.0, |n| self.model.error(n)) * source.standard_si
    }

    fn of_series(&self, function: Function, arguments: &[Node]) -> Outcome<Spread<f64>> {
        let found = self.series(function, arguments);
        let found = found.map(|spread| self.model.shifted(&spread));
        found.ok_or_else(|| EvaluationError::Domain("the log gives no result".to_owned()))
    }

    fn deviation(&self, arguments: &[Node]) -> Outcome<f64> {
        let place = self.place(arguments);
        let known = self.model.kept.borrow().deviations.get(&place).cloned();
        let of_repeats = known.unwrap_or_else(|| {
            let found = deviation_of_repeats(arguments, self.scope).map(Rc::new);
            let mut kept = self.model.kept.borrow_mut();
            kept.deviations.insert(place, found.clone());
            found
        });
        Ok(match of_repeats {
            Some(s) => s.shifted(|source| self.model.error(source)),
            None => over_list(Function::Sd, &numbers(arguments, self)?),
        })
    }

    fn as_they_stand(&self, arguments: &[Node]) -> Outcome<Vec<f64>> {
        let mut list = numbers(arguments, self)?;
        for (number, part) in list.iter_mut().zip(self.shown(arguments).iter()) {
            if let Some((source, contribution)) = part {
                *number -= contribution * self.model.error(*source);
            }
        }
        Ok(list)
    }

    fn scope(&self) -> &dyn Scope {
        self.scope
    }

    fn decides_exactly(&self) -> bool {
        false
    }
}

fn names_of(trees: &[&Node], scope: &dyn Scope) -> Names {
    let mut names = Names::new();
    for tree in trees {
        visit(tree, &mut |node| {
            if let Node::Name(index) = node
                && let Ok(origin) = scope.origin(*index)
            {
                names.insert(*index, origin);
            }
        });
    }
    names
}

/// The computed values among what names stand for.
fn computed(names: &Names) -> impl Iterator<Item = usize> {
    fn collect(origin: &Origin, into: &mut Vec<usize>) {
        match origin {
            Origin::Given(_) => {}
            Origin::Computed(id) => into.push(*id),
            Origin::List(items) => items.iter().for_each(|i| collect(i, into)),
        }
    }
    let mut all = Vec::new();
    names.values().for_each(|origin| collect(origin, &mut all));
    all.into_iter()
}

fn sources_of(origin: &Origin, into: &mut BTreeSet<u32>) {
    match origin {
        Origin::Given(spread) => {
            let parts = spread.numbers().into_iter().flat_map(|n| &n.parts);
            into.extend(parts.map(|(source, _)| *source));
        }
        Origin::Computed(_) => {}
        Origin::List(items) => items.iter().for_each(|i| sources_of(i, into)),
    }
}

/// Every node of a tree.
fn visit<'n>(node: &'n Node, at: &mut dyn FnMut(&'n Node)) {
    at(node);
    match node {
        Node::Negate(of) | Node::Not(of) | Node::Power(of, _) => visit(of, at),
        Node::Binary(_, left, right) => {
            visit(left, at);
            visit(right, at);
        }
        Node::Call(_, parts) | Node::List(parts) => parts.iter().for_each(|p| visit(p, at)),
        Node::Name(_) | Node::Quantity(_) | Node::Text(_) | Node::Truth(_) => {}
    }
}

/// The names that a part of an expression reads, as indices of [`super::Expression::names`].
#[must_use]
pub fn names_in(node: &Node) -> Vec<usize> {
    let mut names = BTreeSet::new();
    visit(node, &mut |part| {
        if let Node::Name(index) = part {
            names.insert(*index);
        }
    });
    names.into_iter().collect()
}

/// Whether a part reads nothing and states no uncertainty.
fn is_known(node: &Node) -> bool {
    let mut known = true;
    visit(node, &mut |part| {
        known &= !matches!(part, Node::Name(_) | Node::Call(Function::Uncertain, _));
    });
    known
}

/// Whether nothing but sums, means and multiples leads from the readings to targets: no error can stray there.
pub(super) fn are_straight(targets: &[Target<'_>], scope: &dyn Scope) -> bool {
    let multiplies = |t: &Target<'_>| matches!(t, Target::Inside(t) if t.relative && !(is_known(t.nominal) && is_known(t.tolerance)));
    let mut trees = targets.iter().flat_map(Target::nodes);
    !targets.iter().any(multiplies) && trees.all(|tree| behind(tree, scope).straight)
}

/// What lies behind a part of an expression.
#[must_use]
pub fn behind(node: &Node, scope: &dyn Scope) -> Behind {
    let mut all = Behind {
        straight: is_linear(node),
        acted_upon: false,
    };
    visit(node, &mut |part| match part {
        Node::Name(index) => {
            let of_name = scope.behind(*index);
            all.straight &= of_name.straight;
            all.acted_upon |= of_name.acted_upon;
        }
        Node::Call(Function::Uncertain, _) => all.acted_upon = true,
        _ => {}
    });
    all
}

fn is_linear(node: &Node) -> bool {
    use BinaryOperator as Op;
    use Function as F;
    match node {
        Node::Quantity(_) | Node::Name(_) | Node::Text(_) | Node::Truth(_) => true,
        Node::Negate(of) => is_linear(of),
        Node::Binary(Op::Add | Op::Subtract, a, b) => is_linear(a) && is_linear(b),
        Node::Binary(Op::Multiply, a, b) => {
            (is_known(a) && is_linear(b)) || (is_known(b) && is_linear(a))
        }
        Node::Binary(Op::Divide, a, b) => is_known(b) && is_linear(a),
        Node::Call(F::Uncertain, parts) => parts.first().is_some_and(is_linear),
        Node::Call(F::Nth, parts) => match parts.split_last() {
            Some((n, list)) => is_known(n) && list.iter().all(is_linear),
            None => false,
        },
        Node::Call(F::Mean | F::Sum | F::First | F::Last | F::Convert, parts)
        | Node::List(parts) => parts.iter().all(is_linear),
        Node::Call(function, _) => function.is_of_series() || is_known(node),
        _ => is_known(node),
    }
}
