//! What the functions of logged series take and give.
//!
//! Never in here: evaluation. Changes when such a function is added.

use crate::plan::{Function, Node, Type};
use crate::quantity::{Dimension, Kind, KindError};
use crate::text::Code;

use super::lower::{Lowering, Part, Shape, as_text, quantity_of};

fn kind(name: &str) -> Kind {
    Kind::of(Dimension::from_name(name).unwrap_or_default())
}

/// A figure of a series: never exact, since series are kept as doubles.
fn figure(kind: Kind) -> Type {
    Type::Quantity { kind, exact: false }
}

impl Lowering<'_> {
    /// Functions of a whole series.
    pub(super) fn of_delivery(
        &mut self,
        function: Function,
        parts: Vec<Part>,
    ) -> Option<(Vec<Node>, Type)> {
        let mut parts = parts.into_iter();
        let series = self.series(parts.next()?)?;
        let mut nodes = vec![series];
        let (time, flow) = (kind("time"), kind("flow"));
        let fixed: &[Kind] = match function {
            Function::MeanFlow => &[],
            Function::VolumeAfter => &[time],
            _ => &[flow, time],
        };
        let mut many = false;
        for wanted in fixed {
            let part = parts.next()?;
            let several = matches!(&part.shape, Shape::Known(Type::List(_)))
                || matches!(&part.node, Node::List(_));
            let windows = matches!(function, Function::TrumpetHigh | Function::TrumpetLow);
            if several && windows && *wanted == time {
                many = true;
                nodes.push(self.windows(part)?);
            } else {
                nodes.push(self.of_kind(part, *wanted)?);
            }
        }
        let rest: Vec<Part> = parts.collect();
        let (from, to) = (rest.first().map(|p| p.start), rest.last().map(|p| p.end));
        let mut times = 0;
        for part in rest {
            let (node, found) = self.of_kinds(part, &[time, kind("density")])?;
            times += usize::from(found == time);
            nodes.push(node);
        }
        if times != 0 && times != 2 {
            let place = (from.unwrap_or_default(), to.unwrap_or_default());
            self.error(
                Code::WrongArguments,
                place,
                "a period needs two times",
                "write where it begins and where it ends, or neither for the whole log",
            );
            return None;
        }
        let of = match function {
            Function::MeanFlow => figure(flow),
            Function::VolumeAfter => figure(kind("volume")),
            _ => figure(Kind::RATIO),
        };
        let of = if many { Type::List(Box::new(of)) } else { of };
        Some((nodes, of))
    }

    /// Functions of one column: its peak, and the first time that it passes a level.
    pub(super) fn of_column(
        &mut self,
        function: Function,
        parts: Vec<Part>,
    ) -> Option<(Vec<Node>, Type)> {
        let mut parts = parts.into_iter();
        let column = self.settled(parts.next()?);
        let Shape::Known(Type::Series(of)) = column.shape else {
            if let Shape::Known(other) = &column.shape {
                let message = format!("{other} where a column of a log is wanted");
                self.error(
                    Code::TypeMismatch,
                    (column.start, column.end),
                    message,
                    "name the column behind the step, as in `log.pressure`",
                );
            }
            return None;
        };
        let mut nodes = vec![column.node];
        if function == Function::Peak {
            return Some((nodes, figure(of)));
        }
        let sign = parts.next()?;
        let known = matches!(&sign.shape, Shape::Quoted(s) if matches!(s.as_str(), ">=" | "<=" | ">" | "<"));
        if !known {
            self.error(
                Code::WrongArguments,
                (sign.start, sign.end),
                "no sign of comparison",
                "write \">=\", \"<=\", \">\" or \"<\" in quotes",
            );
            return None;
        }
        nodes.push(as_text(sign).node);
        nodes.push(self.of_kind(parts.next()?, of)?);
        if let Some(from) = parts.next() {
            nodes.push(self.of_kind(from, kind("time"))?);
        }
        Some((nodes, figure(kind("time"))))
    }

    fn series(&mut self, part: Part) -> Option<Node> {
        let part = self.settled(part);
        match part.shape {
            Shape::Known(Type::Trace(columns)) => {
                let collected =
                    |(_, k): &(String, Kind)| *k == kind("volume") || *k == kind("mass");
                if columns.iter().any(collected) {
                    return Some(part.node);
                }
                self.error(
                    Code::TypeMismatch,
                    (part.start, part.end),
                    "a log without a volume or a mass",
                    "declare such a column of it, as `mass: g`",
                );
                None
            }
            Shape::Known(other) => {
                let message = format!("{other} where a logged series is wanted");
                self.error(
                    Code::TypeMismatch,
                    (part.start, part.end),
                    message,
                    "name a `trace` step",
                );
                None
            }
            _ => None,
        }
    }

    fn windows(&mut self, part: Part) -> Option<Node> {
        let place = (part.start, part.end);
        let part = self.settled(part);
        match &part.shape {
            Shape::Known(Type::List(inner)) => match &**inner {
                Type::Quantity { kind: k, .. } if *k == kind("time") => Some(part.node),
                other => {
                    let message = format!("a list of {other} where times are wanted");
                    self.error(
                        Code::KindMismatch,
                        place,
                        message,
                        "write windows as \"2 min\"",
                    );
                    None
                }
            },
            _ => None,
        }
    }

    /// One quantity of a kind.
    fn of_kind(&mut self, part: Part, wanted: Kind) -> Option<Node> {
        self.of_kinds(part, &[wanted]).map(|(node, _)| node)
    }

    /// One quantity of one of these kinds, with the kind that it is of.
    fn of_kinds(&mut self, part: Part, wanted: &[Kind]) -> Option<(Node, Kind)> {
        let part = self.quantity(part);
        let (found, _) = quantity_of(&part.shape)?;
        if wanted.iter().all(|w| found.comparable(*w).is_err()) {
            self.kind_error(&KindError::Differ(wanted[0], found), (part.start, part.end));
            return None;
        }
        Some((part.node, found))
    }
}
