//! What an author is likely to have meant by a text that can't be read.
//!
//! Never in here: what can be read. Changes when another slip turns out to be usual.

use crate::quantity::{DecimalError, QuantityError};
use crate::text::Code;

use super::lower::{Lowering, Part};

/// How a text is mended that is no quantity, as it stands between `quote`s.
pub fn remedy(text: &str, error: &QuantityError, quote: &str) -> String {
    let QuantityError::Number(number, DecimalError::OtherDecimalSign { .. }) = error else {
        return format!("write a number, a blank and a unit: `{quote}5 mL{quote}`");
    };
    let grouped = number.contains('.') || number.matches(',').count() > 1;
    let sign = if grouped { "" } else { "." };
    let mended = text.replacen(number, &number.replace(',', sign), 1);
    format!("recipes always use the decimal point: write `{quote}{mended}{quote}`")
}

impl Lowering<'_> {
    /// A name right before another value, which evalexpr takes for a call.
    pub(super) fn no_operator(&mut self, (start, end): (usize, usize)) -> Part {
        let name = self.text.get(start..end).unwrap_or_default();
        let behind = self.text.get(end..).unwrap_or_default();
        let next = behind.trim_start();
        let quoted = next.strip_prefix('"').and_then(|rest| rest.find('"'));
        let inside = |c: char| c.is_ascii_alphanumeric() || matches!(c, '_' | '.');
        let length = quoted.map_or_else(
            || next.find(|c| !inside(c)).unwrap_or(next.len()),
            |at| at + 2,
        );
        let stop = end + (behind.len() - next.len()) + length;
        let message = format!("no operator between `{name}` and `{}`", &next[..length]);
        let help = "put an operator between them, such as `<=`, `+` or `&&`";
        self.error(Code::ExpressionSyntax, (start, stop), message, help)
    }
}
