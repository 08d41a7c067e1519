//! From a bound expression to its normal form.
//!
//! Never in here: which steps are the same in both revisions. Changes when another form of expression is taken apart.

use std::collections::{BTreeSet, HashMap};

use crate::plan::{
    BinaryOperator, Bound, EvaluationError, Function, Node, Plan, Scope, Slot, Type, Value, Verb,
    evaluate_node, is_relative,
};
use crate::quantity::{Exact, Kind, Quantity};

use super::formula::{Formula, Order};
use super::polynomial::{Atom, Polynomial};
use super::values::{Form, Shape, Values};

/// What the items of a plan give.
#[derive(Debug, Default)]
pub struct Given {
    /// One for each item.
    pub forms: Vec<Form>,
    /// What can be chosen, by the value that is.
    pub options: HashMap<Atom, BTreeSet<String>>,
}

/// Most sizes and greatest values of one expression that are taken apart.
pub const MAX_APART: usize = 200;

/// An expression at its place.
pub struct Lowering<'a> {
    pub values: &'a mut Values,
    pub plan: &'a Plan,
    pub given: &'a Given,
    pub bound: &'a Bound,
    /// How many sizes and greatest values may still be taken apart: nested, each doubles.
    pub apart: usize,
}

/// What is known before a run.
struct Known<'a>(&'a [Slot]);

impl Scope for Known<'_> {
    fn value(&self, index: usize) -> Result<Value, EvaluationError> {
        match self.0.get(index) {
            Some(Slot::Constant(value)) => Ok(value.clone()),
            _ => Err(EvaluationError::Domain(String::new())),
        }
    }
}

impl Lowering<'_> {
    /// What the whole expression says.
    pub fn criterion(&mut self) -> Formula {
        let bound = self.bound;
        self.truth(&bound.expression.root)
    }

    /// What the whole expression gives.
    pub fn result(&mut self) -> Form {
        let bound = self.bound;
        match bound.expression.result {
            Type::Quantity { .. } => Form::Number(self.number(&bound.expression.root)),
            Type::Truth => Form::Truth(self.truth(&bound.expression.root)),
            _ => self.form(&bound.expression.root),
        }
    }

    fn known(&self, node: &Node) -> Option<Quantity> {
        match evaluate_node(node, &Known(&self.bound.slots)) {
            Ok(Value::Quantity(q)) => Some(q),
            _ => None,
        }
    }

    fn name(&mut self, index: usize) -> Form {
        match &self.bound.slots[index] {
            Slot::Constant(value) => constant(value),
            Slot::Device(field) => Form::Value(self.values.number(Shape::Device(*field))),
            Slot::Item(item) => self.given.forms[*item].clone(),
            Slot::Items(items) => {
                let rows = items.iter().map(|i| self.given.forms[*i].clone()).collect();
                Form::Value(self.values.number(Shape::Rows(rows)))
            }
            Slot::Column(item, _) => {
                let name = self.bound.expression.names[index].rsplit('.').next();
                let name = name.unwrap_or_default().to_owned();
                match self.given.forms[*item] {
                    Form::Value(log) => Form::Value(self.values.number(Shape::Column(log, name))),
                    ref other => other.clone(),
                }
            }
        }
    }

    fn form(&mut self, node: &Node) -> Form {
        match node {
            Node::Text(text) => Form::Text(text.clone()),
            Node::Name(index) => self.name(*index),
            Node::List(parts) => Form::List(parts.iter().map(|p| self.form(p)).collect()),
            Node::Call(Function::If, parts) => self.choice(parts),
            Node::Call(Function::Convert, parts) => self.form(&parts[0]),
            _ if is_truth(node) => Form::Truth(self.truth(node)),
            _ => Form::Number(self.number(node)),
        }
    }

    fn choice(&mut self, parts: &[Node]) -> Form {
        let condition = self.truth(&parts[0]);
        let (a, b) = (self.form(&parts[1]), self.form(&parts[2]));
        match (&condition, &a, &b) {
            (Formula::Always(true), ..) => a,
            (Formula::Always(false), ..) => b,
            _ if a == b => a,
            (_, Form::Truth(x), Form::Truth(y)) => {
                Form::Truth(self.values.either(condition.clone(), x.clone(), y.clone()))
            }
            (_, Form::Number(_), _) => {
                let shape = Shape::If(condition, Box::new(a), Box::new(b));
                Form::Number(Polynomial::atom(self.values.number(shape)))
            }
            _ => {
                let shape = Shape::If(condition, Box::new(a), Box::new(b));
                Form::Value(self.values.number(shape))
            }
        }
    }

    fn number(&mut self, node: &Node) -> Polynomial {
        use BinaryOperator as Op;
        match node {
            Node::Quantity(q) => Polynomial::constant(q.si().to_exact()),
            Node::Negate(of) => self.number(of).negative(),
            Node::Power(of, n) => self.power(of, *n),
            Node::Binary(op @ (Op::Add | Op::Subtract | Op::Multiply | Op::Divide), a, b) => {
                let (a, b) = (self.number(a), self.number(b));
                match op {
                    Op::Add => a.plus(&b),
                    Op::Subtract => a.plus(&b.negative()),
                    Op::Multiply => self.values.product(&a, &b),
                    _ => self.values.quotient(&a, &b),
                }
            }
            Node::Call(function, parts) => match self.known(node) {
                Some(known) => Polynomial::constant(known.si().to_exact()),
                None => self.call(*function, parts),
            },
            _ => match self.form(node) {
                Form::Number(sum) => sum,
                other => self.values.opaque(Function::Convert, vec![other]),
            },
        }
    }

    fn power(&mut self, of: &Node, n: i8) -> Polynomial {
        let base = self.number(of);
        let up = u32::from(n.unsigned_abs());
        let raised = base.power(up);
        let raised = raised.unwrap_or_else(|| {
            let parts = vec![Form::Number(base), Form::Text(format!("^{up}"))];
            self.values.opaque(Function::Convert, parts)
        });
        if n < 0 {
            self.values
                .quotient(&Polynomial::constant(Exact::one()), &raised)
        } else {
            raised
        }
    }

    fn call(&mut self, function: Function, parts: &[Node]) -> Polynomial {
        use Function as F;
        match function {
            F::Abs => {
                let of = self.number(&parts[0]);
                self.values.size(&of)
            }
            F::Deviation => {
                let (x, nominal) = (self.number(&parts[0]), self.number(&parts[1]));
                self.values.quotient(&x.plus(&nominal.negative()), &nominal)
            }
            F::Convert | F::If => match self.form(&Node::Call(function, parts.to_vec())) {
                Form::Number(sum) => sum,
                other => self.values.opaque(function, vec![other]),
            },
            F::Mean | F::Sum | F::Min | F::Max | F::Range | F::Sd => {
                self.over_list(function, parts)
            }
            F::Nth if self.is_first(parts) => {
                let series = self.form(&parts[0]);
                self.values.opaque(F::First, vec![series])
            }
            _ => {
                let parts = parts.iter().map(|p| self.form(p)).collect();
                self.values.opaque(function, parts)
            }
        }
    }

    /// Whether `nth` asks for the first.
    fn is_first(&self, parts: &[Node]) -> bool {
        let n = parts.get(1).and_then(|n| self.known(n));
        n.is_some_and(|n| n.si().to_exact() == Exact::one())
    }

    fn over_list(&mut self, function: Function, parts: &[Node]) -> Polynomial {
        let mut forms: Vec<Form> = parts.iter().map(|p| self.form(p)).collect();
        if let [Form::List(inner)] = &forms[..] {
            forms = inner.clone();
        }
        let numbers: Option<Vec<&Polynomial>> = forms
            .iter()
            .map(|f| match f {
                Form::Number(sum) => Some(sum),
                _ => None,
            })
            .collect();
        let several = numbers.filter(|n| n.len() > 1);
        if let (Function::Mean | Function::Sum, Some(numbers)) = (function, several) {
            let total = numbers
                .iter()
                .fold(Polynomial::default(), |sum, n| sum.plus(n));
            let n = i64::try_from(numbers.len()).unwrap_or(1);
            return match Exact::one().checked_div(&Exact::from(n)) {
                Some(share) if function == Function::Mean => total.scaled(&share),
                _ => total,
            };
        }
        forms.sort();
        match (function, &forms[..]) {
            (Function::Sum, [Form::Value(series)]) => self.values.sum_of(*series),
            _ => self.values.opaque(function, forms),
        }
    }

    fn truth(&mut self, node: &Node) -> Formula {
        use BinaryOperator as Op;
        match node {
            Node::Truth(truth) => Formula::Always(*truth),
            Node::Not(of) => self.truth(of).negated(),
            Node::Binary(Op::And, a, b) => Formula::all(vec![self.truth(a), self.truth(b)]),
            Node::Binary(Op::Or, a, b) => Formula::any(vec![self.truth(a), self.truth(b)]),
            Node::Binary(Op::Equal, a, b) => self.equal(a, b),
            Node::Binary(Op::NotEqual, a, b) => self.equal(a, b).negated(),
            Node::Binary(op, a, b) => {
                let order = match op {
                    Op::Less => Order::Below,
                    Op::LessOrEqual => Order::AtMost,
                    Op::Greater => Order::Above,
                    _ => Order::AtLeast,
                };
                let difference = self.difference(a, b);
                self.against_zero(&difference, order)
            }
            Node::Call(Function::Between, parts) => {
                let low = self.difference(&parts[0], &parts[1]);
                let high = self.difference(&parts[0], &parts[2]);
                let low = self.against_zero(&low, Order::AtLeast);
                let high = self.against_zero(&high, Order::AtMost);
                Formula::all(vec![low, high])
            }
            Node::Call(Function::Within, parts) => self.within(parts),
            Node::Call(Function::If, parts) => {
                let condition = self.truth(&parts[0]);
                let (a, b) = (self.truth(&parts[1]), self.truth(&parts[2]));
                self.values.either(condition, a, b)
            }
            _ => match self.any_form(node) {
                Form::Truth(formula) => formula,
                Form::Value(atom) => Formula::Truth(atom),
                other => Formula::Truth(self.values.number(Shape::Computed(other))),
            },
        }
    }

    fn any_form(&mut self, node: &Node) -> Form {
        match node {
            Node::Call(function, parts) => {
                let parts = parts.iter().map(|p| self.form(p)).collect();
                Form::Value(self.values.number(Shape::Call(*function, parts)))
            }
            _ => self.form(node),
        }
    }

    fn against_zero(&mut self, sum: &Polynomial, order: Order) -> Formula {
        self.values.against_zero(sum, order, &mut self.apart)
    }

    fn difference(&mut self, a: &Node, b: &Node) -> Polynomial {
        let b = self.number(b);
        self.number(a).plus(&b.negative())
    }

    fn equal(&mut self, a: &Node, b: &Node) -> Formula {
        match (self.form(a), self.form(b)) {
            (Form::Text(a), Form::Text(b)) => Formula::Always(a == b),
            (Form::Value(of), Form::Text(text)) | (Form::Text(text), Form::Value(of)) => {
                Formula::Text(of, BTreeSet::from([text]))
            }
            (Form::Truth(a), Form::Truth(b)) => {
                let not = b.clone().negated();
                self.values.either(a, b, not)
            }
            (Form::Number(a), Form::Number(b)) => {
                self.against_zero(&a.plus(&b.negative()), Order::At)
            }
            (a, b) => {
                let mut parts = vec![a, b];
                parts.sort();
                Formula::Truth(self.values.number(Shape::Computed(Form::List(parts))))
            }
        }
    }

    /// `within`: a tolerance that is a ratio of a nominal value that is read bounds how far off a reading is, as a ratio.
    fn within(&mut self, parts: &[Node]) -> Formula {
        let (x, nominal) = (self.number(&parts[0]), self.number(&parts[1]));
        let off = x.clone().plus(&nominal.negative());
        let tolerance = self.known(&parts[2]);
        let relative = match (self.known(&parts[1]), &tolerance) {
            (Some(nominal), Some(tolerance)) => Some(is_relative(&nominal, tolerance)),
            _ => self.is_relative_unread(&parts[1], &parts[2]),
        };
        let tolerance = self.number(&parts[2]);
        let Some(relative) = relative else {
            let forms = vec![
                Form::Number(x),
                Form::Number(nominal),
                Form::Number(tolerance),
            ];
            return Formula::Truth(self.values.number(Shape::Call(Function::Within, forms)));
        };
        if relative && nominal.as_constant().is_none() && tolerance.as_constant().is_some() {
            let off = Shape::Off(off.signless().1.scaled(&off.signless().0.abs()), nominal);
            let ratio = Polynomial::atom(self.values.number(off));
            return self.against_zero(&ratio.plus(&tolerance.negative()), Order::AtMost);
        }
        let limit = match relative {
            true => {
                let size = self.values.size(&nominal);
                self.values.product(&size, &tolerance)
            }
            false => tolerance,
        };
        let size = self.values.size(&off);
        self.against_zero(&size.plus(&limit.negative()), Order::AtMost)
    }

    /// The same where not both can be told ahead; nothing where it rests on the unit of a bare number.
    fn is_relative_unread(&self, nominal: &Node, tolerance: &Node) -> Option<bool> {
        let (nominal, tolerance) = (self.kind(nominal)?, self.kind(tolerance)?);
        match (nominal == Kind::RATIO, tolerance == Kind::RATIO) {
            (_, false) => Some(false),
            (false, true) => Some(true),
            (true, true) => None,
        }
    }

    fn kind(&self, node: &Node) -> Option<Kind> {
        use Function as F;
        match node {
            Node::Quantity(q) => Some(q.kind()),
            Node::Name(index) => self.kind_of_slot(&self.bound.slots[*index]),
            Node::Negate(of) => self.kind(of),
            Node::Binary(BinaryOperator::Multiply, a, b) => {
                self.kind(a)?.product(self.kind(b)?).ok()
            }
            Node::Binary(BinaryOperator::Divide, a, b) => {
                self.kind(a)?.quotient(self.kind(b)?).ok()
            }
            Node::Binary(_, a, _) => self.kind(a),
            Node::Call(
                F::Mean
                | F::Min
                | F::Max
                | F::First
                | F::Last
                | F::Nth
                | F::Sum
                | F::Abs
                | F::Round
                | F::Convert,
                parts,
            ) => self.kind(parts.first()?),
            _ => self.known(node).map(|q| q.kind()),
        }
    }

    fn kind_of_slot(&self, slot: &Slot) -> Option<Kind> {
        let innermost = |of: &Type| {
            let mut of = of.clone();
            while let Type::List(inner) = of {
                of = *inner;
            }
            match of {
                Type::Quantity { kind, .. } => Some(kind),
                _ => None,
            }
        };
        let of_item = |item: &usize| match &self.plan.items.get(*item)?.verb {
            Verb::Compute { expression, .. } => innermost(&expression.expression.result),
            verb => verb.unit().map(|u| u.kind()),
        };
        match slot {
            Slot::Constant(Value::Quantity(q)) => Some(q.kind()),
            Slot::Item(item) => of_item(item),
            Slot::Items(items) => of_item(items.first()?),
            _ => None,
        }
    }
}

fn constant(value: &Value) -> Form {
    match value {
        Value::Quantity(q) => Form::Number(Polynomial::constant(q.si().to_exact())),
        Value::Truth(truth) => Form::Truth(Formula::Always(*truth)),
        Value::List(parts) => Form::List(parts.iter().map(constant).collect()),
        other => Form::Text(other.to_string()),
    }
}

fn is_truth(node: &Node) -> bool {
    use BinaryOperator as Op;
    match node {
        Node::Truth(_) | Node::Not(_) => true,
        Node::Call(function, _) => matches!(
            function,
            Function::Within | Function::Between | Function::Honoured
        ),
        Node::Binary(op, ..) => !matches!(op, Op::Add | Op::Subtract | Op::Multiply | Op::Divide),
        _ => false,
    }
}
