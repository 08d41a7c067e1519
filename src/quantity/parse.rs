//! Quantity text: in recipes (`125 mL/h`), and as a technician types it (`4,98`, `12 min 21.6 s`).
//!
//! Never in here: which unit a step wants. Changes when the way of writing quantities does.

use std::fmt;

use super::known::Known;
use super::{DecimalError, Exact, Kind, KindError, Number, Quantity, Unit, UnitError};

/// Longest quantity text that is read, in characters.
const MAX_LENGTH: usize = 120;
const MAX_PARTS: usize = 4;

/// Which decimal sign is typed. The other one is refused, never guessed.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum DecimalSign {
    /// `5.00`
    #[default]
    Point,
    /// `5,00`
    Comma,
}

impl DecimalSign {
    /// The sign itself.
    #[must_use]
    pub fn symbol(self) -> char {
        match self {
            Self::Point => '.',
            Self::Comma => ',',
        }
    }
}

/// Why a text is no quantity. `Display` says it to the person who typed it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum QuantityError {
    /// The number is wrong.
    Number(String, DecimalError),
    /// The unit is wrong.
    Unit(UnitError),
    /// A compound that is not a duration, or whose parts don't fall in size.
    Compound,
    /// The unit measures another kind of quantity.
    Kind(KindError),
    /// The text is too long.
    TooLong,
}

impl fmt::Display for QuantityError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Number(_, DecimalError::Empty) => write!(f, "no number was given"),
            Self::Number(text, e) => write!(f, "`{text}`: {e}"),
            Self::Unit(e) => e.fmt(f),
            Self::Compound => write!(
                f,
                "only a duration may have several parts, the larger unit first: `12 min 21.6 s`"
            ),
            Self::Kind(e) => e.fmt(f),
            Self::TooLong => write!(f, "the text is longer than {MAX_LENGTH} characters"),
        }
    }
}

/// Where in a text the unit stands that is not known, if that is what is wrong.
#[must_use]
pub fn unknown_symbol(text: &str, error: &QuantityError) -> Option<(usize, usize)> {
    let QuantityError::Unit(UnitError::Unknown(symbol)) = error else {
        return None;
    };
    let start = text.rfind(symbol.as_str())?;
    Some((start, start + symbol.len()))
}

/// Reads quantity text with a decimal point: a setting, a limit, a quoted quantity.
///
/// # Errors
/// See [`QuantityError`].
pub fn parse_quantity(text: &str) -> Result<Quantity, QuantityError> {
    static KNOWN: Known<Quantity> = Known::of(4096);
    KNOWN.read(text, || read(text, None, DecimalSign::Point))
}

/// Reads an entry: a number without a unit is taken in `unit`, one with a unit must be of its kind. The text is kept.
///
/// # Errors
/// See [`QuantityError`].
pub fn parse_reading(
    text: &str,
    unit: &Unit,
    sign: DecimalSign,
) -> Result<Quantity, QuantityError> {
    let quantity = read(text, Some(unit), sign)?;
    quantity
        .kind()
        .comparable(unit.kind())
        .map_err(QuantityError::Kind)?;
    Ok(quantity)
}

fn read(text: &str, default: Option<&Unit>, sign: DecimalSign) -> Result<Quantity, QuantityError> {
    let text = text.trim();
    if text.chars().count() > MAX_LENGTH {
        return Err(QuantityError::TooLong);
    }
    let parts = split(text);
    if parts.len() > MAX_PARTS {
        return Err(QuantityError::Compound);
    }
    let mut quantities = Vec::with_capacity(parts.len());
    for (number, unit) in &parts {
        let value = read_number(number, sign)
            .map_err(|e| QuantityError::Number((*number).to_owned(), e))?;
        let unit = match (unit.is_empty(), default) {
            (true, Some(unit)) => unit.clone(),
            (true, None) => Unit::one(),
            (false, _) => Unit::parse(unit).map_err(QuantityError::Unit)?,
        };
        quantities.push(Quantity::new(Number::Exact(value), unit));
    }
    let whole = if quantities.len() == 1 {
        quantities.remove(0).with_places(typed_places(parts[0].0))
    } else {
        compound(&quantities, &parts)?
    };
    let bare = parts.len() == 1 && parts[0].1.is_empty();
    match default.filter(|unit| bare && unit.text() != "1") {
        Some(unit) => Ok(whole.typed_as(&format!("{text} {unit}"))),
        None => Ok(whole.typed_as(text)),
    }
}

fn read_number(text: &str, sign: DecimalSign) -> Result<Exact, DecimalError> {
    match sign {
        DecimalSign::Point => Exact::parse(text),
        DecimalSign::Comma if text.contains('.') => Err(DecimalError::OtherDecimalSign {
            typed: '.',
            wanted: ',',
        }),
        DecimalSign::Comma => Exact::parse(&text.replacen(',', ".", 1)),
    }
}

/// Splits `12 min 21.6 s` into number and unit texts.
fn split(text: &str) -> Vec<(&str, &str)> {
    let mut parts = Vec::new();
    let mut rest = text;
    loop {
        let number_end = number_length(rest);
        let after = &rest[number_end..];
        // The next part begins at a digit that follows a blank.
        let next = after
            .char_indices()
            .skip(1)
            .find(|(i, c)| {
                c.is_ascii_digit() && after[..*i].ends_with(' ') && !after[..*i].trim().is_empty()
            })
            .map(|(i, _)| i);
        let end = next.unwrap_or(after.len());
        parts.push((&rest[..number_end], after[..end].trim()));
        match next {
            Some(i) if parts.len() <= MAX_PARTS => rest = &after[i..],
            _ => return parts,
        }
    }
}

/// The length of the number that the text begins with: sign, digits, points and commas, exponent.
fn number_length(text: &str) -> usize {
    let bytes = text.as_bytes();
    let sign = text
        .chars()
        .next()
        .filter(|c| matches!(c, '+' | '-' | '\u{2212}'))
        .map_or(0, char::len_utf8);
    let digits = |from: usize| {
        bytes[from..]
            .iter()
            .take_while(|b| b.is_ascii_digit() || matches!(b, b'.' | b','))
            .count()
    };
    let mantissa = sign + digits(sign);
    if matches!(bytes.get(mantissa), Some(b'e' | b'E')) {
        let signed =
            mantissa + 1 + usize::from(matches!(bytes.get(mantissa + 1), Some(b'+' | b'-')));
        let exponent = bytes
            .get(signed..)
            .map_or(0, |b| b.iter().take_while(|b| b.is_ascii_digit()).count());
        if exponent > 0 {
            return signed + exponent;
        }
    }
    mantissa
}

fn compound(quantities: &[Quantity], parts: &[(&str, &str)]) -> Result<Quantity, QuantityError> {
    let second = Unit::si(Kind::of(
        super::Dimension::from_name("time").unwrap_or_default(),
    ));
    let durations = quantities.iter().all(|q| q.kind() == second.kind());
    let falling = quantities
        .windows(2)
        .all(|w| w[0].unit().factor() > w[1].unit().factor());
    let unsigned = parts
        .iter()
        .skip(1)
        .all(|(n, _)| !n.starts_with(['-', '+']));
    let named = parts.iter().all(|(_, unit)| !unit.is_empty());
    if !(durations && falling && unsigned && named) || quantities[0].si().to_exact().is_negative() {
        return Err(QuantityError::Compound);
    }
    let mut total = quantities[0].clone();
    for part in &quantities[1..] {
        total = total
            .add(part)
            .map_err(QuantityError::Kind)?
            .ok_or(QuantityError::TooLong)?;
    }
    Ok(total)
}

/// The decimals of a number that was typed without an exponent.
fn typed_places(number: &str) -> Option<u32> {
    let decimals = number.rsplit_once(['.', ',']).map_or(0, |(_, d)| d.len());
    let plain = !number.contains(['e', 'E']);
    u32::try_from(decimals).ok().filter(|_| plain)
}
