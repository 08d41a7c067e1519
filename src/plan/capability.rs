//! How far and how well an instrument measures one kind of quantity, as its certificate states it.
//!
//! Never in here: which instrument is at hand. Changes when a register can state accuracy otherwise.

use crate::quantity::{Dimension, Exact, Kind, Quantity, Scale, Unit, parse_quantity};

use super::Shape;

/// Most terms that an accuracy is the sum of.
const MAX_TERMS: usize = 4;

/// What an instrument says of itself for one kind of quantity.
#[derive(Clone, Debug)]
pub struct Capability {
    /// The kind.
    pub dimension: Dimension,
    /// Lowest and highest reading.
    pub range: Option<(Quantity, Quantity)>,
    /// How near a reading is to the true value.
    pub accuracy: Option<Accuracy>,
    /// The step of the display.
    pub resolution: Option<Quantity>,
}

/// An accuracy: a part of the reading, a fixed part, or both, and how it is to be read.
#[derive(Clone, Debug)]
pub struct Accuracy {
    text: String,
    relative: Exact,
    fixed_si: Exact,
    divisor: f64,
    shape: Shape,
}

impl Accuracy {
    /// Reads `1 % + 0.02 mL` for a kind of quantity. It is an expanded uncertainty with the coverage factor `k`, or else
    /// the bounds of a rectangular distribution. Of a kind that is itself a ratio, as humidity, percent are fixed.
    ///
    /// # Errors
    /// What is wrong, and how to write it.
    pub fn parse(text: &str, k: Option<&str>, dimension: Dimension) -> Result<Self, String> {
        let terms: Vec<&str> = text.split('+').map(str::trim).collect();
        if terms.len() > MAX_TERMS {
            return Err(format!("the accuracy has more than {MAX_TERMS} terms"));
        }
        let (mut relative, mut fixed_si) = (Exact::zero(), Exact::zero());
        for term in terms {
            let quantity = parse_quantity(term).map_err(|e| e.to_string())?;
            let (kind, si) = (quantity.kind(), quantity.si().to_exact());
            if si.is_negative() {
                return Err(format!("`{term}` is below zero; leave the sign out"));
            }
            if kind == Kind::RATIO && dimension != Dimension::NONE {
                relative = relative + si;
            } else if kind.dimension != dimension {
                return Err(format!(
                    "`{term}` is of kind {kind}; write a part of the reading in %, or a fixed part of kind {}",
                    dimension.name()
                ));
            } else if kind.scale == Scale::Point {
                return Err(format!(
                    "`{term}` is a temperature, not a difference of two; write it in `delta_degC` or `K`"
                ));
            } else {
                fixed_si = fixed_si + si;
            }
        }
        let (divisor, shape) = match k {
            None => (3.0_f64.sqrt(), Shape::Rectangular),
            Some(k) => match k.parse::<f64>() {
                Ok(factor) if factor > 0.0 && factor.is_finite() => (factor, Shape::Normal),
                _ => return Err(format!("`{k}` is not a coverage factor above zero")),
            },
        };
        Ok(Self {
            text: text.to_owned(),
            relative,
            fixed_si,
            divisor,
            shape,
        })
    }

    /// The text of the register.
    #[must_use]
    pub fn text(&self) -> &str {
        &self.text
    }

    /// How the error is spread.
    #[must_use]
    pub fn shape(&self) -> Shape {
        self.shape
    }

    /// The standard uncertainty of a reading in SI units: the accuracy there divided by √3 or k (JCGM 100:2008, 4.3.7
    /// and 4.3.3). A part of the reading is a part of the number that the instrument shows, for temperatures in °C.
    #[must_use]
    pub fn standard_si(&self, reading: &Quantity) -> f64 {
        self.at(reading.si().to_f64(), reading.unit()).standard_si()
    }

    /// The error of a reading in SI that is shown in a unit.
    ///
    /// One error δ acts on all readings x of an instrument: a part g of the reading changes its sign with the reading, a
    /// fixed part o does not, so that the error is δ·(g·x + o). Their bounds are added. Below zero that is less than
    /// the accuracy says; what lacks, 2·√(g·|x|·o) beside it in squares, is another error, of the readings below zero.
    #[must_use]
    pub fn at(&self, si: f64, unit: &Unit) -> ReadingError {
        let shown = si - unit.offset().to_f64();
        let relative = self.relative.to_f64() * shown;
        let fixed = self.fixed_si.to_f64();
        let lacking = if relative < 0.0 {
            2.0 * (-relative * fixed).sqrt()
        } else {
            0.0
        };
        ReadingError {
            shared_si: (relative + fixed) / self.divisor,
            below_zero_si: lacking / self.divisor,
        }
    }
}

/// How the calibration of an instrument acts on a reading, as standard uncertainties in SI units.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ReadingError {
    /// Of the error that all readings of the instrument share, with the sign with which it acts.
    pub shared_si: f64,
    /// Of the error that the readings below zero have besides; zero where there is none.
    pub below_zero_si: f64,
}

impl ReadingError {
    /// Both together.
    #[must_use]
    pub fn standard_si(self) -> f64 {
        self.shared_si.hypot(self.below_zero_si)
    }
}

/// The standard uncertainty of a display with this step: d/√12 (JCGM 100:2008, F.2.2.1).
#[must_use]
pub fn display_standard_si(step: &Quantity) -> f64 {
    step.unit().factor().to_f64() * step.value().to_f64().abs() / 12.0_f64.sqrt()
}
