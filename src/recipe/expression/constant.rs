//! What can be said of the parts of an expression that no reading changes: divisors that are zero, tolerances of the whole.
//!
//! Never in here: where the values of names come from (see `Names`). Changes when such a part can be wrong in a new way.

use crate::plan::{Node, Value};
use crate::quantity::{Kind, Quantity, Unit};
use crate::text::Code;

use super::LoweringError;
use super::lower::Lowering;

impl Lowering<'_> {
    /// Whether a divisor is zero whatever is read.
    pub(super) fn is_zero(&self, divisor: &Node) -> bool {
        let zero = |value: &Value| matches!(value, Value::Quantity(q) if q.is_exact() && q.si().to_exact().is_zero());
        self.visit(divisor, &mut |value| zero(value)) == Some(true)
    }

    /// Remarks on a tolerance that is a bare number of 1 or more where it counts as a part of the nominal value: `5` is 500 %.
    pub(super) fn remark_on_tolerance(
        &self,
        (nominal, tolerance): (&Node, &Node),
        kind: Kind,
        (start, end): (usize, usize),
    ) {
        let mut whole: Option<Quantity> = None;
        let _ = self.visit(tolerance, &mut |value| {
            whole = bare_whole(value);
            whole.is_none()
        });
        let Some(whole) = whole else { return };
        let mut unit = None;
        let _ = self.visit(nominal, &mut |value| {
            if let Value::Quantity(q) = value {
                unit = Some(q.unit().clone());
            }
            false
        });
        // A count is compared with a count: there the tolerance is one too.
        let counted = unit.as_ref().is_none_or(|unit| unit.text() == "1");
        if kind == Kind::RATIO && counted {
            return;
        }
        let unit = unit.or_else(|| self.names.unit(kind));
        let written = self.text.get(start..end).unwrap_or_default();
        self.names.remark(LoweringError {
            code: Code::ToleranceOfWhole,
            message: in_percent(&whole, kind),
            help: remedy(written, &whole.untyped().shown(), unit.as_ref()),
            start,
            end,
        });
    }

    fn visit(&self, part: &Node, on_value: &mut dyn FnMut(&Value) -> bool) -> Option<bool> {
        self.names.visit(part, &self.used, on_value)
    }
}

fn bare_whole(value: &Value) -> Option<Quantity> {
    let Value::Quantity(quantity) = value else {
        return None;
    };
    let bare = quantity.kind() == Kind::RATIO && quantity.unit().text() == "1";
    (bare && quantity.si().to_f64() >= 1.0).then(|| quantity.clone())
}

/// What a tolerance without a unit means.
fn in_percent(whole: &Quantity, kind: Kind) -> String {
    let number = whole.clone().untyped().shown();
    let percent = Unit::parse("%")
        .ok()
        .and_then(|unit| whole.convert(&unit).ok());
    let shown = percent.map_or_else(|| format!("{number} times"), |q| q.untyped().shown());
    let of = if kind == Kind::RATIO {
        ""
    } else {
        " of the nominal value"
    };
    format!("a tolerance of {number} is {shown}{of}")
}

fn remedy(written: &str, number: &str, unit: Option<&Unit>) -> String {
    let literal = written.starts_with(|c: char| c.is_ascii_digit());
    let (quote, place) = if literal {
        ("\"", String::new())
    } else {
        ("", format!(" where `{written}` is set"))
    };
    let percent = format!("`{quote}{number} %{quote}`");
    match unit {
        Some(unit) if unit.text() == "%" => format!("write {percent}{place}"),
        Some(unit) => format!("write {percent} or `{quote}{number} {unit}{quote}`{place}"),
        None => format!("write {percent}, or a quantity with its unit{place}"),
    }
}
