//! What each function takes and gives, in kinds of quantity.
//!
//! Never in here: operators, evaluation. Changes when a function is added.

use crate::maths::{AirFormula, WaterFormula};
use crate::plan::{Function, Node, Type};
use crate::quantity::{Dimension, Kind, KindError, Scale, Unit};
use crate::text::Code;

use super::lower::{Lowering, Part, Shape, as_text, quantity_of};

type Place = (usize, usize);

/// Kind, exactness and place of an argument.
type Argument = (Kind, bool, Place);

fn kind(name: &str) -> Kind {
    Kind::of(Dimension::from_name(name).unwrap_or_default())
}

/// How many arguments a function takes, and how it is written.
fn signature(function: Function) -> (std::ops::RangeInclusive<usize>, &'static str) {
    use Function as F;
    const MANY: usize = 4_000;
    match function {
        F::Within => (3..=3, "within(x, nominal, tolerance)"),
        F::Between => (3..=3, "between(x, low, high)"),
        F::Deviation => (2..=2, "deviation(x, nominal)"),
        F::If => (3..=3, "if(condition, then, else)"),
        F::Abs => (1..=1, "abs(x)"),
        F::Min => (1..=MANY, "min(list)"),
        F::Max => (1..=MANY, "max(list)"),
        F::Mean => (1..=MANY, "mean(list)"),
        F::Sum => (1..=MANY, "sum(list)"),
        F::Sd => (1..=MANY, "sd(list)"),
        F::Range => (1..=MANY, "range(list)"),
        F::Count => (1..=MANY, "count(list)"),
        F::First => (1..=MANY, "first(list)"),
        F::Last => (1..=MANY, "last(list)"),
        F::Nth => (2..=MANY, "nth(list, n)"),
        F::Round => (2..=3, "round(x, step) or round(x, step, \"half-up\")"),
        F::Floor => (2..=2, "floor(x, step)"),
        F::Ceil => (2..=2, "ceil(x, step)"),
        F::Sqrt => (1..=1, "sqrt(x)"),
        F::Ln => (1..=1, "ln(x)"),
        F::Exp => (1..=1, "exp(x)"),
        F::Convert => (2..=2, "convert(x, \"unit\")"),
        F::WaterDensity => (
            1..=2,
            "water_density(temperature) or water_density(temperature, \"formula\")",
        ),
        F::AirDensity => (
            3..=4,
            "air_density(temperature, pressure, humidity) or with a \"formula\"",
        ),
        F::ZFactor => (3..=3, "z_factor(temperature, pressure, humidity)"),
        F::WeighedVolume => (
            4..=4,
            "weighed_volume(mass, temperature, pressure, humidity)",
        ),
        F::ColumnPressure => (
            1..=2,
            "column_pressure(height) or column_pressure(height, temperature)",
        ),
        F::DripRate => (2..=2, "drip_rate(flow, drop factor)"),
        F::Uncertain => (
            2..=3,
            "uncertain(x, standard uncertainty) or uncertain(x, standard uncertainty, degrees of freedom)",
        ),
        F::MeanFlow => (
            1..=4,
            "mean_flow(log), mean_flow(log, from, to), a density behind it for masses",
        ),
        F::StartupError => (
            3..=4,
            "startup_error(log, rate, until), a density behind it for masses",
        ),
        F::TrumpetHigh => (
            3..=6,
            "trumpet_high(log, rate, window), from and to, and a density for masses, behind it",
        ),
        F::TrumpetLow => (
            3..=6,
            "trumpet_low(log, rate, window), from and to, and a density for masses, behind it",
        ),
        F::Peak => (1..=1, "peak(log.column)"),
        F::FirstTime => (
            3..=4,
            "first_time(log.column, \">=\", level) or with a time to look from",
        ),
        F::VolumeAfter => (
            2..=3,
            "volume_after(log, time), a density behind it for masses",
        ),
        F::Lower => (1..=1, "lower(text)"),
        F::Expanded => (1..=1, "expanded(x)"),
        F::Risk => (3..=3, "risk(x, low, high)"),
        F::Honoured => (
            2..=5,
            "honoured(times, lockout) or honoured(times, lockout, dose, limit, window)",
        ),
    }
}

impl Lowering<'_> {
    /// Checks a call and gives its typed form.
    pub(super) fn apply(&mut self, function: Function, parts: Vec<Part>, name: Place) -> Part {
        let (count, form) = signature(function);
        let place = (name.0, parts.last().map_or(name.1, |p| p.end.max(name.1)));
        if !count.contains(&parts.len())
            || (function == Function::Honoured && !matches!(parts.len(), 2 | 5))
        {
            let message = format!("`{}` with {} arguments", function.name(), parts.len());
            return self.error(
                Code::WrongArguments,
                name,
                message,
                format!("write `{form}`"),
            );
        }
        use Function as F;
        let outcome = match function {
            F::Min
            | F::Max
            | F::Mean
            | F::Sum
            | F::Sd
            | F::Range
            | F::Count
            | F::First
            | F::Last => self.over_list(function, parts, name),
            F::Nth => self.nth(parts, name),
            F::If => self.choice(parts),
            F::Within | F::Between | F::Deviation => self.compared(function, parts, place),
            F::Round | F::Floor | F::Ceil => self.rounded(parts, place),
            F::Convert => self.converted(parts),
            F::Honoured => self.honoured(parts),
            F::Peak | F::FirstTime => self.of_column(function, parts),
            _ if function.is_of_series() => self.of_delivery(function, parts),
            F::Uncertain | F::Expanded | F::Risk => self.uncertain(function, parts),
            F::Abs | F::Sqrt | F::Ln | F::Exp => self.of_one(function, parts, place),
            F::Lower => self.of_text(parts),
            F::DripRate => self
                .with_kinds(parts, &[kind("flow"), kind("drop factor")])
                .map(|(n, e)| (n, quantity(kind("drip rate"), e))),
            _ => self.physical(function, parts),
        };
        match outcome {
            Some((arguments, result)) => Part {
                node: Node::Call(function, arguments),
                shape: Shape::Known(result),
                start: place.0,
                end: place.1,
            },
            None => Part {
                node: Node::Truth(false),
                shape: Shape::Reported,
                start: place.0,
                end: place.1,
            },
        }
    }

    fn refuse<T>(&mut self, error: &KindError, place: Place) -> Option<T> {
        self.kind_error(error, place);
        None
    }

    /// All arguments as single quantities: nodes, kinds and exactness. Nothing where one was reported.
    fn all_quantities(&mut self, parts: Vec<Part>) -> Option<(Vec<Node>, Vec<Argument>)> {
        let parts: Vec<Part> = parts.into_iter().map(|p| self.quantity(p)).collect();
        let known: Option<Vec<_>> = parts
            .iter()
            .map(|p| quantity_of(&p.shape).map(|(k, e)| (k, e, (p.start, p.end))))
            .collect();
        Some((parts.into_iter().map(|p| p.node).collect(), known?))
    }

    /// Arguments that must each be of a given kind; gives the nodes and whether all are exact.
    fn with_kinds(&mut self, parts: Vec<Part>, wanted: &[Kind]) -> Option<(Vec<Node>, bool)> {
        let (nodes, known) = self.all_quantities(parts)?;
        let mut exact = true;
        let mut sound = true;
        for ((found, is_exact, place), wanted) in known.into_iter().zip(wanted) {
            exact &= is_exact;
            if let Err(error) = found.comparable(*wanted) {
                self.kind_error(&error, place);
                sound = false;
            }
        }
        sound.then_some((nodes, exact))
    }

    fn of_text(&mut self, parts: Vec<Part>) -> Option<(Vec<Node>, Type)> {
        let parts: Vec<Part> = parts.into_iter().map(|p| self.text(p)).collect();
        let reported = parts.iter().any(|p| matches!(p.shape, Shape::Reported));
        let nodes = parts.into_iter().map(|p| p.node).collect();
        (!reported).then_some((nodes, Type::Text))
    }

    fn over_list(
        &mut self,
        function: Function,
        parts: Vec<Part>,
        name: Place,
    ) -> Option<(Vec<Node>, Type)> {
        let parts: Vec<Part> = parts.into_iter().map(|p| self.settled(p)).collect();
        let mut of: Option<Type> = None;
        for part in &parts {
            let Shape::Known(found) = &part.shape else {
                return None;
            };
            let inner = innermost(found);
            match (&of, inner) {
                (None, inner) => of = Some(inner.clone()),
                (Some(Type::Quantity { kind: a, exact }), Type::Quantity { kind: b, exact: e }) => {
                    match a.comparable(*b) {
                        Ok(kind) => of = Some(quantity(kind, *exact && *e)),
                        Err(error) => return self.refuse(&error, (part.start, part.end)),
                    }
                }
                (Some(a), b) if a == b => {}
                (Some(a), b) => {
                    let message = format!("a list of {a} with {b} in it");
                    self.error(
                        Code::TypeMismatch,
                        (part.start, part.end),
                        message,
                        "a list holds values of one kind",
                    );
                    return None;
                }
            }
        }
        let of = of?;
        let place = parts.first().map_or(name, |p| (p.start, p.end));
        let nodes = parts.into_iter().map(|p| p.node).collect();
        if function == Function::Count {
            return Some((nodes, quantity(Kind::RATIO, true)));
        }
        if matches!(function, Function::First | Function::Last) {
            return Some((nodes, of));
        }
        let Type::Quantity { kind, exact } = of else {
            let message = format!("`{}` of {of}", function.name());
            self.error(
                Code::TypeMismatch,
                place,
                message,
                "use values that were measured, counted, timed or computed",
            );
            return None;
        };
        match function {
            Function::Sum if kind.scale == Scale::Point => self.refuse(&KindError::PointSum, place),
            Function::Sd => Some((nodes, quantity(Kind::of(kind.dimension), false))),
            Function::Range => Some((nodes, quantity(Kind::of(kind.dimension), exact))),
            _ => Some((nodes, quantity(kind, exact))),
        }
    }

    fn nth(&mut self, mut parts: Vec<Part>, name: Place) -> Option<(Vec<Node>, Type)> {
        let index = parts.pop()?;
        let (mut index, _) = self.with_kinds(vec![index], &[Kind::RATIO])?;
        let (mut nodes, of) = self.over_list(Function::First, parts, name)?;
        nodes.append(&mut index);
        Some((nodes, of))
    }

    fn choice(&mut self, parts: Vec<Part>) -> Option<(Vec<Node>, Type)> {
        let mut parts = parts.into_iter();
        let (condition, yes, no) = (parts.next()?, parts.next()?, parts.next()?);
        let condition = self.truth(condition);
        let (yes, no) = (self.settled(yes), self.settled(no));
        let place = (yes.start, no.end);
        let (Shape::Known(a), Shape::Known(b), Shape::Known(_)) =
            (&yes.shape, &no.shape, &condition.shape)
        else {
            return None;
        };
        let result = match (a, b) {
            (Type::Quantity { kind: a, exact: x }, Type::Quantity { kind: b, exact: y }) => {
                match a.comparable(*b) {
                    Ok(kind) => quantity(kind, *x && *y),
                    Err(error) => return self.refuse(&error, place),
                }
            }
            (a, b) if a == b => a.clone(),
            (a, b) => {
                let message = format!("{a} in one case and {b} in the other");
                self.error(
                    Code::TypeMismatch,
                    place,
                    message,
                    "both cases of an `if` give values of one kind",
                );
                return None;
            }
        };
        Some((vec![condition.node, yes.node, no.node], result))
    }

    fn compared(
        &mut self,
        function: Function,
        parts: Vec<Part>,
        place: Place,
    ) -> Option<(Vec<Node>, Type)> {
        let (nodes, known) = self.all_quantities(parts)?;
        let exact = known.iter().all(|(_, exact, _)| *exact);
        let (x, nominal) = (known[0].0, known[1].0);
        if let Err(error) = x.comparable(nominal) {
            return self.refuse(&error, (known[0].2.0, known[1].2.1));
        }
        match function {
            Function::Deviation if x.scale == Scale::Point || nominal.scale == Scale::Point => {
                self.refuse(&KindError::PointArithmetic, place)
            }
            Function::Deviation => Some((nodes, quantity(Kind::RATIO, exact))),
            Function::Between => match x.comparable(known[2].0) {
                Ok(_) => Some((nodes, Type::Truth)),
                Err(error) => self.refuse(&error, known[2].2),
            },
            _ => {
                let tolerance = known[2].0;
                let off = Kind::of(x.dimension);
                let on_scale = x.scale == Scale::Point || nominal.scale == Scale::Point;
                if tolerance == Kind::RATIO && !on_scale {
                    self.remark_on_tolerance((&nodes[1], &nodes[2]), nominal, known[2].2);
                    return Some((nodes, Type::Truth));
                }
                if off.comparable(tolerance).is_ok() {
                    return Some((nodes, Type::Truth));
                }
                self.refuse(&KindError::Differ(off, tolerance), known[2].2)
            }
        }
    }

    fn rounded(&mut self, mut parts: Vec<Part>, place: Place) -> Option<(Vec<Node>, Type)> {
        let rule = if parts.len() == 3 { parts.pop() } else { None };
        if let Some(rule) = &rule
            && !matches!(&rule.shape, Shape::Quoted(text) if text == "half-up")
        {
            self.error(
                Code::WrongArguments,
                (rule.start, rule.end),
                "the only rule that can be named is \"half-up\"",
                "leave it out for ties to even",
            );
            return None;
        }
        let (mut nodes, known) = self.all_quantities(parts)?;
        let exact = known.iter().all(|(_, exact, _)| *exact);
        match known[0].0.comparable(known[1].0) {
            Ok(kind) => {
                nodes.extend(rule.map(|r| r.node));
                Some((nodes, quantity(kind, exact)))
            }
            Err(error) => self.refuse(&error, place),
        }
    }

    fn converted(&mut self, parts: Vec<Part>) -> Option<(Vec<Node>, Type)> {
        let mut parts = parts.into_iter();
        let (value, unit) = (parts.next()?, parts.next()?);
        let value = self.settled(value);
        let Shape::Quoted(text) = &unit.shape else {
            self.error(
                Code::WrongArguments,
                (unit.start, unit.end),
                "the unit must be a quoted text",
                "write `convert(x, \"mL/h\")`",
            );
            return None;
        };
        let parsed = match Unit::parse(text) {
            Ok(parsed) => parsed,
            Err(error) => {
                self.error(
                    Code::UnknownUnit,
                    (unit.start, unit.end),
                    error.to_string(),
                    "write the unit as in `mL/h`",
                );
                return None;
            }
        };
        let Shape::Known(of) = value.shape else {
            return None;
        };
        match innermost(&of) {
            Type::Quantity { kind, .. } => match kind.comparable(parsed.kind()) {
                Ok(_) => Some((vec![value.node, unit.node], of)),
                Err(error) => self.refuse(&error, (value.start, unit.end)),
            },
            other => {
                let message = format!("{other} can't be converted");
                self.error(
                    Code::TypeMismatch,
                    (value.start, value.end),
                    message,
                    "convert a quantity",
                );
                None
            }
        }
    }

    fn of_one(
        &mut self,
        function: Function,
        parts: Vec<Part>,
        place: Place,
    ) -> Option<(Vec<Node>, Type)> {
        let (nodes, known) = self.all_quantities(parts)?;
        let (of, exact, at) = known[0];
        if of.scale == Scale::Point {
            return self.refuse(&KindError::PointArithmetic, place);
        }
        let result = match function {
            Function::Abs => quantity(of, exact),
            Function::Sqrt => match of.dimension.root() {
                Some(root) => quantity(Kind::of(root), false),
                None => {
                    let message = format!("a quantity of kind {of} has no root");
                    self.error(Code::KindMismatch, at, message, "take the root of a square");
                    return None;
                }
            },
            _ if of == Kind::RATIO => quantity(Kind::RATIO, false),
            _ => return self.refuse(&KindError::BareNumber(of), at),
        };
        Some((nodes, result))
    }

    fn honoured(&mut self, parts: Vec<Part>) -> Option<(Vec<Node>, Type)> {
        let mut parts = parts.into_iter();
        let times = parts.next()?;
        let place = (times.start, times.end);
        let (mut nodes, of) = self.over_list(Function::First, vec![times], place)?;
        if !matches!(of, Type::Quantity { kind: k, .. } if k == kind("time")) {
            self.error(
                Code::KindMismatch,
                place,
                format!("{of} where a list of times is wanted"),
                "write the times of the demands",
            );
            return None;
        }
        let rest: Vec<Part> = parts.collect();
        let (rest, known) = self.all_quantities(rest)?;
        let dose = known.get(1).map(|k| k.0);
        let wanted = [Some(kind("time")), dose, dose, Some(kind("time"))];
        for ((found, _, at), wanted) in known.iter().zip(wanted) {
            if let Some(Err(error)) = wanted.map(|w| found.comparable(w)) {
                return self.refuse(&error, *at);
            }
        }
        nodes.extend(rest);
        Some((nodes, Type::List(Box::new(of))))
    }

    /// Functions of uncertainty: a stated one, U of a value, and the probability that a value is outside.
    fn uncertain(&mut self, function: Function, parts: Vec<Part>) -> Option<(Vec<Node>, Type)> {
        let (nodes, known) = self.all_quantities(parts)?;
        let (x, exact, _) = known[0];
        let wanted = match function {
            Function::Risk => [x, x],
            _ => [Kind::of(x.dimension), Kind::RATIO],
        };
        for ((found, _, at), wanted) in known[1..].iter().zip(wanted) {
            if let Err(error) = found.comparable(wanted) {
                return self.refuse(&error, *at);
            }
        }
        let result = match function {
            Function::Uncertain => quantity(x, exact),
            Function::Expanded => quantity(Kind::of(x.dimension), false),
            _ => quantity(Kind::RATIO, false),
        };
        Some((nodes, result))
    }

    fn physical(&mut self, function: Function, mut parts: Vec<Part>) -> Option<(Vec<Node>, Type)> {
        let (temperature, pressure) = (Kind::temperature_point(), kind("pressure"));
        let air = [temperature, pressure, Kind::RATIO];
        let (wanted, result): (Vec<Kind>, Kind) = match function {
            Function::WaterDensity => (vec![temperature], kind("density")),
            Function::AirDensity => (air.to_vec(), kind("density")),
            Function::ZFactor => (air.to_vec(), inverse_density()),
            Function::WeighedVolume => ([&[kind("mass")][..], &air].concat(), kind("volume")),
            _ => (
                [kind("length"), temperature][..parts.len()].to_vec(),
                pressure,
            ),
        };
        let formula = if parts.len() > wanted.len() {
            parts.pop()
        } else {
            None
        };
        if let Some(formula) = &formula {
            let known = match (&formula.shape, function) {
                (Shape::Quoted(name), Function::WaterDensity) => {
                    WaterFormula::from_name(name).is_some()
                }
                (Shape::Quoted(name), _) => AirFormula::from_name(name).is_some(),
                _ => false,
            };
            if !known {
                let names = if function == Function::WaterDensity {
                    "`tanaka2001`, `kell1975`, `jones-harris1992`"
                } else {
                    "`cipm2007`, `r111`, `tr20461`"
                };
                self.error(
                    Code::WrongArguments,
                    (formula.start, formula.end),
                    "there is no such formula",
                    format!("one of {names}, in quotes"),
                );
                return None;
            }
        }
        let conventional = function == Function::ColumnPressure && parts.len() == 1;
        let (mut nodes, exact) = self.with_kinds(parts, &wanted)?;
        nodes.extend(formula.map(|f| as_text(f).node));
        Some((nodes, quantity(result, conventional && exact)))
    }
}

fn inverse_density() -> Kind {
    Kind::of(
        Dimension::NONE
            .per(kind("density").dimension)
            .unwrap_or_default(),
    )
}

fn quantity(kind: Kind, exact: bool) -> Type {
    Type::Quantity { kind, exact }
}

/// What a list is of, through lists of lists.
fn innermost(of: &Type) -> &Type {
    match of {
        Type::List(inner) => innermost(inner),
        other => other,
    }
}
