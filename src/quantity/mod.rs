//! Physical quantities with exact numbers: what the trade writes (`125 mL/h`, `5 %`, `-0.5 psi`), what it means, and how it is shown.
//!
//! Never in here: files, recipes, uncertainty. Changes when a unit, a spelling or a rule of arithmetic does.

mod dimension;
mod exact;
mod known;
mod number;
mod parse;
mod table;
mod unit;
mod value;
mod words;

pub use dimension::{Dimension, Kind, KindError, Scale, named_kinds};
pub use exact::{DecimalError, Exact, Rounding, check_decimal_text};
pub use number::Number;
pub use parse::{DecimalSign, QuantityError, parse_quantity, parse_reading, unknown_symbol};
pub use unit::{Unit, UnitError};
pub use value::Quantity;
pub use words::{interval_in_words, shortened, shortened_double, with_unit};
