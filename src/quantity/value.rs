//! A quantity: a number in SI, the unit it is shown in, and the text it was typed as.
//!
//! Never in here: parsing. Changes when arithmetic with quantities does.

use std::cmp::Ordering;
use std::fmt;
use std::sync::Arc;

use super::{Exact, Kind, KindError, Number, Rounding, Scale, Unit};

/// Significant digits of a computed value on the screen.
const SHOWN_DIGITS: u32 = 6;

/// A number of a kind of quantity. Equality and order are of the values, whatever the units.
#[derive(Clone, Debug)]
pub struct Quantity {
    /// In SI units, absolute for temperature points.
    si: Number,
    unit: Unit,
    typed: Option<Arc<str>>,
    /// Decimal places to show, where rounding fixed them.
    places: Option<u32>,
}

impl Quantity {
    /// A value given in `unit`.
    #[must_use]
    pub fn new(value: Number, unit: Unit) -> Self {
        let factor = Number::Exact(unit.factor().clone());
        let scaled = value.mul(&factor).unwrap_or(value);
        let si = if unit.offset().is_zero() {
            scaled
        } else {
            scaled
                .add(&Number::Exact(unit.offset().clone()))
                .unwrap_or(scaled)
        };
        Self {
            si,
            unit,
            typed: None,
            places: None,
        }
    }

    /// A bare number.
    #[must_use]
    pub fn bare(value: Number) -> Self {
        Self {
            si: value,
            unit: Unit::one(),
            typed: None,
            places: None,
        }
    }

    /// A value given in SI, shown in `unit`.
    #[must_use]
    pub fn from_si(si: Number, unit: Unit) -> Self {
        Self {
            si,
            unit,
            typed: None,
            places: None,
        }
    }

    /// The same value with the text that it was typed as.
    #[must_use]
    pub fn typed_as(mut self, text: &str) -> Self {
        self.typed = Some(Arc::from(text));
        self
    }

    /// The same value, shown with this many decimals in its unit.
    #[must_use]
    pub(super) fn with_places(mut self, places: Option<u32>) -> Self {
        self.places = places;
        self
    }

    /// The same value without the text that it was typed as.
    #[must_use]
    pub fn untyped(mut self) -> Self {
        self.typed = None;
        self
    }

    /// The number in SI units.
    #[must_use]
    pub fn si(&self) -> &Number {
        &self.si
    }

    /// The unit it is shown in.
    #[must_use]
    pub fn unit(&self) -> &Unit {
        &self.unit
    }

    /// The kind of quantity.
    #[must_use]
    pub fn kind(&self) -> Kind {
        self.unit.kind()
    }

    /// Whether the number is exact.
    #[must_use]
    pub fn is_exact(&self) -> bool {
        self.si.is_exact()
    }

    /// The number in the unit it is shown in.
    #[must_use]
    pub fn value(&self) -> Number {
        self.value_in(&self.unit)
    }

    fn value_in(&self, unit: &Unit) -> Number {
        let offset = Number::Exact(unit.offset().clone());
        let shifted = if unit.offset().is_zero() {
            Some(self.si.clone())
        } else {
            self.si.sub(&offset)
        };
        shifted
            .and_then(|s| s.div(&Number::Exact(unit.factor().clone())))
            .unwrap_or_else(|| self.si.clone())
    }

    /// The same quantity shown in another unit.
    ///
    /// # Errors
    /// Kinds that differ.
    pub fn convert(&self, unit: &Unit) -> Result<Self, KindError> {
        self.kind().comparable(unit.kind())?;
        if *unit == self.unit {
            return Ok(self.clone());
        }
        Ok(Self {
            si: self.si.clone(),
            unit: unit.clone(),
            typed: None,
            places: None,
        })
    }

    /// Which of two quantities of one kind is larger.
    ///
    /// # Errors
    /// Kinds that differ.
    pub fn compare(&self, other: &Self) -> Result<Ordering, KindError> {
        self.kind().comparable(other.kind())?;
        Ok(self.si.compare(&other.si))
    }

    /// The sum; nothing where the number is beyond what is kept.
    ///
    /// # Errors
    /// Kinds that differ, or two temperature points.
    pub fn add(&self, other: &Self) -> Result<Option<Self>, KindError> {
        let kind = self.kind().sum(other.kind())?;
        let unit = if kind.scale == Scale::Point && self.kind().scale != Scale::Point {
            &other.unit
        } else {
            &self.unit
        };
        Ok(self
            .si
            .add(&other.si)
            .map(|si| Self::from_si(si, unit.clone())))
    }

    /// The difference; nothing where the number is beyond what is kept.
    ///
    /// # Errors
    /// Kinds that differ.
    pub fn sub(&self, other: &Self) -> Result<Option<Self>, KindError> {
        let kind = self.kind().difference(other.kind())?;
        let unit = if kind.scale == Scale::Point {
            self.unit.clone()
        } else {
            self.unit.of_difference()
        };
        Ok(self.si.sub(&other.si).map(|si| Self::from_si(si, unit)))
    }

    /// The product; nothing where the number is beyond what is kept.
    ///
    /// # Errors
    /// Temperature points.
    pub fn mul(&self, other: &Self) -> Result<Option<Self>, KindError> {
        self.kind().product(other.kind())?;
        let unit = if self.kind() == Kind::RATIO {
            Some(other.unit.clone())
        } else if other.kind() == Kind::RATIO {
            Some(self.unit.clone())
        } else {
            self.unit.times(&other.unit)
        };
        Ok(self
            .si
            .mul(&other.si)
            .zip(unit)
            .map(|(si, unit)| Self::from_si(si, unit)))
    }

    /// The quotient; nothing where the divisor is zero or the number beyond what is kept.
    ///
    /// # Errors
    /// Temperature points.
    pub fn div(&self, other: &Self) -> Result<Option<Self>, KindError> {
        self.kind().quotient(other.kind())?;
        let unit = if other.kind() == Kind::RATIO {
            Some(self.unit.clone())
        } else {
            self.unit.per(&other.unit)
        };
        Ok(self
            .si
            .div(&other.si)
            .zip(unit)
            .map(|(si, unit)| Self::from_si(si, unit)))
    }

    /// The value rounded to multiples of `step`, with as many decimals as the step has.
    ///
    /// # Errors
    /// Kinds that differ.
    pub fn round(&self, step: &Self, rule: Rounding) -> Result<Option<Self>, KindError> {
        self.kind().comparable(step.kind())?;
        let unit = if self.kind() == Kind::RATIO {
            &self.unit
        } else {
            &step.unit
        };
        let in_unit = step.value_in(unit).to_exact();
        let value = self.value_in(unit);
        let Some(rounded) = value.to_exact().round_to(&in_unit, rule) else {
            return Ok(None);
        };
        let mut out = Self::new(rounded.clone().into(), unit.clone());
        // An inexact value near the edge of a step may belong to the next one.
        let reach = |off: f64| {
            let edge = Exact::from_f64(value.to_f64() + off)?;
            edge.round_to(&in_unit, rule)
        };
        let error = value.error();
        if !value.is_exact()
            && (reach(error) != Some(rounded.clone()) || reach(-error) != Some(rounded))
        {
            let step = in_unit.to_f64();
            return Ok(
                Number::inexact(out.value().to_f64(), step).map(|n| Self::new(n, unit.clone()))
            );
        }
        out.places = in_unit.decimal_places();
        Ok(Some(out))
    }

    /// Decimal text of the value in its unit, whole or with 17 significant digits.
    #[must_use]
    pub fn value_text(&self) -> String {
        match (self.value(), self.places) {
            (Number::Exact(e), Some(places)) => e.to_fixed(places),
            (number, _) => number.to_text(),
        }
    }

    /// The value with its unit as a person reads it: as typed, or with six significant digits.
    #[must_use]
    pub fn shown(&self) -> String {
        if let Some(typed) = &self.typed {
            return typed.to_string();
        }
        let exact = self.value().to_exact();
        let number = match (self.places, exact.decimal_places()) {
            (Some(places), _) if places <= SHOWN_DIGITS => exact.to_fixed(places),
            (_, Some(places)) if places <= SHOWN_DIGITS => exact.to_text(),
            _ => exact.to_significant(SHOWN_DIGITS),
        };
        self.with_unit(&number)
    }

    /// Whether [`Self::shown`] is the whole value: exact, and not rounded for showing.
    #[must_use]
    pub fn is_shown_whole(&self) -> bool {
        let places = self.value().to_exact().decimal_places();
        self.is_exact() && (self.typed.is_some() || places.is_some_and(|p| p <= SHOWN_DIGITS))
    }

    fn with_unit(&self, number: &str) -> String {
        if self.unit.text() == "1" {
            number.to_owned()
        } else {
            format!("{number} {}", self.unit)
        }
    }
}

impl PartialEq for Quantity {
    fn eq(&self, other: &Self) -> bool {
        self.compare(other) == Ok(Ordering::Equal)
    }
}

impl From<Exact> for Quantity {
    fn from(value: Exact) -> Self {
        Self::bare(value.into())
    }
}

impl fmt::Display for Quantity {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.shown())
    }
}
