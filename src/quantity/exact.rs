//! Exact rational numbers, and decimal text in and out.
//!
//! Never in here: units, floating point as a way to compute. Changes when the bounds on typed numbers do.

use std::cmp::Ordering;
use std::fmt;

use dashu_base::{Abs, BitTest, DivRem, Sign, UnsignedAbs};
use dashu_int::{IBig, UBig};
use dashu_ratio::RBig;

/// Longest decimal text that is read, in characters.
pub const MAX_DECIMAL_LENGTH: usize = 60;
/// Largest power of ten that a typed number may carry, up or down.
pub const MAX_EXPONENT: i32 = 30;
/// Largest numerator or denominator that arithmetic may reach, in bits.
const MAX_BITS: usize = 8192;
/// Significant digits shown for a number whose decimal text does not end.
const DIGITS_OF_ENDLESS: u32 = 17;
/// Longest terminating decimal text that is written out in full, in digits.
const MAX_TERMINATING_DIGITS: usize = 80;

/// An exact rational number.
#[derive(Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Debug, Default)]
pub struct Exact(RBig);

/// Why a text is not a decimal number. `Display` says it to the person who typed it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum DecimalError {
    /// There is no text.
    Empty,
    /// The text is longer than the bound on length.
    TooLong,
    /// The exponent is beyond the bound on exponents.
    ExponentTooLarge,
    /// The decimal sign of the other convention was typed.
    OtherDecimalSign {
        /// The sign that was typed.
        typed: char,
        /// The sign that is set.
        wanted: char,
    },
    /// Something that is not part of a decimal number.
    NotANumber,
}

impl fmt::Display for DecimalError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Empty => write!(f, "no number was given"),
            Self::TooLong => write!(
                f,
                "the number is longer than {MAX_DECIMAL_LENGTH} characters"
            ),
            Self::ExponentTooLarge => write!(f, "the exponent is beyond ±{MAX_EXPONENT}"),
            Self::OtherDecimalSign { typed, wanted } => {
                write!(
                    f,
                    "`{typed}` in a number where `{wanted}` is the decimal sign; thousands are not grouped"
                )
            }
            Self::NotANumber => write!(f, "not a decimal number, as `12.5` or `0.21`"),
        }
    }
}

/// Which way a tie goes when rounding.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Rounding {
    /// To the even neighbour: ISO 80000-1 Annex B rule A, ASTM E29 (from memory).
    HalfEven,
    /// Away from zero: ISO 80000-1 Annex B rule B (from memory), as drip rates are rounded.
    HalfUp,
    /// Down to the next multiple.
    Floor,
    /// Up to the next multiple.
    Ceiling,
}

/// Splits decimal text into digits and a power of ten without computing it.
fn scan(text: &str) -> Result<(bool, String, i32), DecimalError> {
    if text.is_empty() {
        return Err(DecimalError::Empty);
    }
    if text.chars().count() > MAX_DECIMAL_LENGTH {
        return Err(DecimalError::TooLong);
    }
    let (negative, rest) = match text.strip_prefix(['-', '\u{2212}']) {
        Some(rest) => (true, rest),
        None => (false, text.strip_prefix('+').unwrap_or(text)),
    };
    let (mantissa, exponent) = match rest.find(['e', 'E']) {
        Some(at) => (&rest[..at], Some(&rest[at + 1..])),
        None => (rest, None),
    };
    let (whole, fraction) = mantissa.split_once('.').unwrap_or((mantissa, ""));
    if mantissa.contains(',') {
        return Err(DecimalError::OtherDecimalSign {
            typed: ',',
            wanted: '.',
        });
    }
    let digits = format!("{whole}{fraction}");
    if whole.is_empty() || !digits.bytes().all(|b| b.is_ascii_digit()) || mantissa.ends_with('.') {
        return Err(DecimalError::NotANumber);
    }
    let power = match exponent {
        None => 0,
        Some(e) => {
            let unsigned = e.strip_prefix(['-', '+']).unwrap_or(e);
            if unsigned.is_empty() || !unsigned.bytes().all(|b| b.is_ascii_digit()) {
                return Err(DecimalError::NotANumber);
            }
            e.parse::<i32>()
                .ok()
                .filter(|p| p.abs() <= MAX_EXPONENT)
                .ok_or(DecimalError::ExponentTooLarge)?
        }
    };
    let places = i32::try_from(fraction.len()).unwrap_or(i32::MAX);
    Ok((negative, digits, power - places))
}

/// Says whether `text` is decimal text within the bounds, without computing it.
///
/// # Errors
/// See [`DecimalError`].
pub fn check_decimal_text(text: &str) -> Result<(), DecimalError> {
    scan(text).map(|_| ())
}

fn power_of_ten(n: u32) -> UBig {
    UBig::from(10u8).pow(n as usize)
}

impl Exact {
    /// Zero.
    #[must_use]
    pub fn zero() -> Self {
        Self::default()
    }

    /// One.
    #[must_use]
    pub fn one() -> Self {
        Self::from(1)
    }

    /// Reads decimal text with a point: `5.00`, `-0.5`, `1.2e-3`.
    ///
    /// # Errors
    /// Text that is no decimal number, or beyond the bounds; nothing large is computed before they are checked.
    pub fn parse(text: &str) -> Result<Self, DecimalError> {
        let (negative, digits, power) = scan(text)?;
        let magnitude = digits
            .parse::<UBig>()
            .map_err(|_| DecimalError::NotANumber)?;
        let scale = power_of_ten(power.unsigned_abs());
        let (numerator, denominator) = if power >= 0 {
            (magnitude * scale, UBig::ONE)
        } else {
            (magnitude, scale)
        };
        let sign = if negative {
            Sign::Negative
        } else {
            Sign::Positive
        };
        Ok(Self(RBig::from_parts(
            IBig::from_parts(sign, numerator),
            denominator,
        )))
    }

    /// The exact value of a finite double, or nothing for one that is not finite.
    #[must_use]
    pub fn from_f64(value: f64) -> Option<Self> {
        RBig::try_from(value).ok().map(Self)
    }

    /// The nearest double.
    #[must_use]
    pub fn to_f64(&self) -> f64 {
        self.0.to_f64().value()
    }

    /// The quotient, or nothing where the divisor is zero.
    #[must_use]
    pub fn checked_div(&self, divisor: &Self) -> Option<Self> {
        (!divisor.is_zero()).then(|| Self(&self.0 / &divisor.0))
    }

    /// A whole power; nothing for zero to a negative power.
    #[must_use]
    pub fn powi(&self, power: i32) -> Option<Self> {
        let n = power.unsigned_abs() as usize;
        let (numerator, denominator) = self.0.clone().into_parts();
        let raised = Self(RBig::from_parts(numerator.pow(n), denominator.pow(n)));
        if power >= 0 {
            Some(raised)
        } else {
            Self::one().checked_div(&raised)
        }
    }

    /// Whether it is zero.
    #[must_use]
    pub fn is_zero(&self) -> bool {
        self.0.numerator().is_zero()
    }

    /// Whether it is below zero.
    #[must_use]
    pub fn is_negative(&self) -> bool {
        self.0 < RBig::ZERO
    }

    /// Whether it is a whole number.
    #[must_use]
    pub fn is_whole(&self) -> bool {
        self.0.denominator().is_one()
    }

    /// The value as a machine integer, if it is one.
    #[must_use]
    pub fn to_i64(&self) -> Option<i64> {
        if self.is_whole() {
            i64::try_from(self.0.numerator().clone()).ok()
        } else {
            None
        }
    }

    /// The absolute value.
    #[must_use]
    pub fn abs(&self) -> Self {
        Self(self.0.clone().abs())
    }

    /// Whether arithmetic made it larger than a measured value can need.
    #[must_use]
    pub fn is_oversized(&self) -> bool {
        self.0.numerator().bit_len() > MAX_BITS || self.0.denominator().bit_len() > MAX_BITS
    }

    /// The nearest multiple of `step`; nothing where `step` is not above zero.
    #[must_use]
    pub fn round_to(&self, step: &Self, rule: Rounding) -> Option<Self> {
        if step.is_zero() || step.is_negative() {
            return None;
        }
        let ratio = self.checked_div(step)?;
        let (numerator, denominator) = ratio.0.into_parts();
        let whole = round_quotient(&numerator, &denominator, rule);
        Some(Self(RBig::from(whole)) * step.clone())
    }

    /// How many decimal places the text needs, if it ends.
    #[must_use]
    pub fn decimal_places(&self) -> Option<u32> {
        let mut rest = self.0.denominator().clone();
        let mut twos = 0u32;
        let mut fives = 0u32;
        for (prime, count) in [(2u8, &mut twos), (5u8, &mut fives)] {
            loop {
                let (quotient, remainder) = (&rest).div_rem(UBig::from(prime));
                if !remainder.is_zero() {
                    break;
                }
                rest = quotient;
                *count += 1;
            }
        }
        rest.is_one().then(|| twos.max(fives))
    }

    /// Decimal text with exactly `places` decimals, ties to even.
    #[must_use]
    pub fn to_fixed(&self, places: u32) -> String {
        let scaled = self.0.numerator() * IBig::from(power_of_ten(places));
        let whole = round_quotient(&scaled, self.0.denominator(), Rounding::HalfEven);
        place_point(&whole, places)
    }

    /// Decimal text: the whole of it where it ends, else with 17 significant digits.
    #[must_use]
    pub fn to_text(&self) -> String {
        if let Some(places) = self.decimal_places() {
            let text = self.to_fixed(places);
            if text.len() <= MAX_TERMINATING_DIGITS {
                return text;
            }
        }
        self.to_significant(DIGITS_OF_ENDLESS)
    }

    /// Decimal text with at least `digits` significant digits; whole places are never dropped.
    #[must_use]
    pub fn to_significant(&self, digits: u32) -> String {
        if self.is_zero() {
            return "0".to_owned();
        }
        let magnitude = self.order_of_magnitude();
        let places = i64::from(digits) - 1 - magnitude;
        self.to_fixed(u32::try_from(places.max(0)).unwrap_or(0))
    }

    /// The power of ten of the first significant digit; zero has that of 1.
    #[must_use]
    pub fn order_of_magnitude(&self) -> i64 {
        if self.is_zero() {
            return 0;
        }
        let numerator = self.0.numerator().unsigned_abs();
        let denominator = self.0.denominator();
        let guess = numerator.to_string().len() as i64 - denominator.to_string().len() as i64;
        let power = power_of_ten(u32::try_from(guess.unsigned_abs()).unwrap_or(0));
        let below = if guess >= 0 {
            numerator < denominator * power
        } else {
            numerator * power < *denominator
        };
        if below { guess - 1 } else { guess }
    }
}

/// `numerator / denominator` as a whole number.
fn round_quotient(numerator: &IBig, denominator: &UBig, rule: Rounding) -> IBig {
    let negative = numerator.sign() == Sign::Negative;
    let (quotient, remainder) = numerator
        .clone()
        .unsigned_abs()
        .div_rem(denominator.clone());
    let up = match rule {
        Rounding::Floor => negative && !remainder.is_zero(),
        Rounding::Ceiling => !negative && !remainder.is_zero(),
        Rounding::HalfEven | Rounding::HalfUp => {
            match (remainder * UBig::from(2u8)).cmp(denominator) {
                Ordering::Less => false,
                Ordering::Greater => true,
                Ordering::Equal => rule == Rounding::HalfUp || quotient.bit(0),
            }
        }
    };
    let magnitude = if up { quotient + UBig::ONE } else { quotient };
    IBig::from_parts(
        if negative {
            Sign::Negative
        } else {
            Sign::Positive
        },
        magnitude,
    )
}

/// Writes a whole number with a point before its last `places` digits.
fn place_point(whole: &IBig, places: u32) -> String {
    let sign = if whole.sign() == Sign::Negative && !whole.is_zero() {
        "-"
    } else {
        ""
    };
    let digits = whole.clone().unsigned_abs().to_string();
    if places == 0 {
        return format!("{sign}{digits}");
    }
    let places = places as usize;
    let padded = format!("{digits:0>width$}", width = places + 1);
    let (left, right) = padded.split_at(padded.len() - places);
    format!("{sign}{left}.{right}")
}

impl From<i64> for Exact {
    fn from(value: i64) -> Self {
        Self(RBig::from(IBig::from(value)))
    }
}

impl From<i32> for Exact {
    fn from(value: i32) -> Self {
        Self::from(i64::from(value))
    }
}

impl std::ops::Add for Exact {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self(self.0 + other.0)
    }
}

impl std::ops::Sub for Exact {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self(self.0 - other.0)
    }
}

impl std::ops::Mul for Exact {
    type Output = Self;
    fn mul(self, other: Self) -> Self {
        Self(self.0 * other.0)
    }
}

impl std::ops::Neg for Exact {
    type Output = Self;
    fn neg(self) -> Self {
        Self(-self.0)
    }
}

impl fmt::Display for Exact {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.to_text())
    }
}
