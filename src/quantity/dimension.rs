//! Kinds of quantity: dimensions with the trade's names, and temperatures told apart from their differences.
//!
//! Never in here: factors and spellings. Changes when a base quantity or a named kind is added.

use std::fmt;

/// Exponents of length, mass, time, temperature, electric current, drops, biological units.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug, Default)]
pub struct Dimension(pub(crate) [i8; 7]);

const BASE_UNITS: [&str; 7] = ["m", "kg", "s", "K", "A", "gtt", "U"];

/// The kinds that have a name, as registers and recipes write them.
const NAMED: &[(&str, [i8; 7])] = &[
    ("ratio", [0, 0, 0, 0, 0, 0, 0]),
    ("length", [1, 0, 0, 0, 0, 0, 0]),
    ("area", [2, 0, 0, 0, 0, 0, 0]),
    ("volume", [3, 0, 0, 0, 0, 0, 0]),
    ("mass", [0, 1, 0, 0, 0, 0, 0]),
    ("time", [0, 0, 1, 0, 0, 0, 0]),
    ("temperature", [0, 0, 0, 1, 0, 0, 0]),
    ("current", [0, 0, 0, 0, 1, 0, 0]),
    ("drops", [0, 0, 0, 0, 0, 1, 0]),
    ("biological units", [0, 0, 0, 0, 0, 0, 1]),
    ("flow", [3, 0, -1, 0, 0, 0, 0]),
    ("speed", [1, 0, -1, 0, 0, 0, 0]),
    ("acceleration", [1, 0, -2, 0, 0, 0, 0]),
    ("mass flow", [0, 1, -1, 0, 0, 0, 0]),
    ("pressure", [-1, 1, -2, 0, 0, 0, 0]),
    ("density", [-3, 1, 0, 0, 0, 0, 0]),
    ("force", [1, 1, -2, 0, 0, 0, 0]),
    ("energy", [2, 1, -2, 0, 0, 0, 0]),
    ("power", [2, 1, -3, 0, 0, 0, 0]),
    ("voltage", [2, 1, -3, 0, -1, 0, 0]),
    ("resistance", [2, 1, -3, 0, -2, 0, 0]),
    ("frequency", [0, 0, -1, 0, 0, 0, 0]),
    ("drop factor", [-3, 0, 0, 0, 0, 1, 0]),
    ("drip rate", [0, 0, -1, 0, 0, 1, 0]),
    ("compliance", [4, -1, 2, 0, 0, 0, 0]),
];

/// The kinds by which others are divided or multiplied in words, the likeliest first.
const PARTS: [&str; 10] = [
    "time",
    "volume",
    "mass",
    "length",
    "area",
    "temperature",
    "pressure",
    "flow",
    "current",
    "drops",
];

/// The names of kinds that an instrument can measure.
pub fn named_kinds() -> impl Iterator<Item = &'static str> {
    NAMED.iter().map(|(name, _)| *name)
}

impl Dimension {
    /// A bare number.
    pub const NONE: Self = Self([0; 7]);

    /// The dimension of a named kind.
    #[must_use]
    pub fn from_name(name: &str) -> Option<Self> {
        NAMED
            .iter()
            .find(|(n, _)| *n == name)
            .map(|(_, d)| Self(*d))
    }

    /// The name of the kind, or the product of base units where it has none.
    #[must_use]
    pub fn name(self) -> String {
        if let Some((name, _)) = NAMED.iter().find(|(_, d)| *d == self.0) {
            return (*name).to_owned();
        }
        let part = |base: &str, n: i8| {
            if n == 1 {
                base.to_owned()
            } else {
                format!("{base}^{n}")
            }
        };
        let parts: Vec<String> = BASE_UNITS
            .iter()
            .zip(self.0)
            .filter(|(_, n)| *n != 0)
            .map(|(b, n)| part(b, n))
            .collect();
        parts.join("·")
    }

    /// The kind in words: its name, or a quotient or product of two named kinds (`pressure per time`); the product of
    /// base units where it is none of these.
    #[must_use]
    pub fn in_words(self) -> String {
        let named = |of: Self| NAMED[1..].iter().find(|(_, d)| *d == of.0).map(|(n, _)| *n);
        if self == Self::NONE || named(self).is_some() {
            return self.name();
        }
        let parts = || {
            PARTS
                .iter()
                .filter_map(|name| Some((*name, Self::from_name(name)?)))
        };
        let quotient = parts().find_map(|(under, d)| Some((named(self.times(d)?)?, "per", under)));
        let both = || parts().find_map(|(by, d)| Some((named(self.per(d)?)?, "times", by)));
        match quotient.or_else(both) {
            Some((first, joined, second)) => format!("{first} {joined} {second}"),
            None => self.name(),
        }
    }

    fn zip(self, other: Self, f: impl Fn(i8, i8) -> Option<i8>) -> Option<Self> {
        let mut out = [0; 7];
        for (slot, (a, b)) in out.iter_mut().zip(self.0.into_iter().zip(other.0)) {
            *slot = f(a, b)?;
        }
        Some(Self(out))
    }

    /// The dimension of a product; nothing where an exponent leaves the range of a small integer.
    #[must_use]
    pub fn times(self, other: Self) -> Option<Self> {
        self.zip(other, i8::checked_add)
    }

    /// The dimension of a quotient.
    #[must_use]
    pub fn per(self, other: Self) -> Option<Self> {
        self.zip(other, i8::checked_sub)
    }

    /// The dimension of a whole power.
    #[must_use]
    pub fn power(self, n: i8) -> Option<Self> {
        self.zip(Self::NONE, |a, _| a.checked_mul(n))
    }

    /// The dimension of the square root, where there is one.
    #[must_use]
    pub fn root(self) -> Option<Self> {
        self.zip(Self::NONE, |a, _| (a % 2 == 0).then_some(a / 2))
    }
}

/// How a temperature is meant.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug, Default)]
pub enum Scale {
    /// Not a temperature, or a difference of temperatures.
    #[default]
    Difference,
    /// A point on a temperature scale (`37.0 degC`).
    Point,
    /// In kelvin, which is written the same for both: it is what it meets.
    Kelvin,
}

/// The kind of a quantity: its dimension and, for temperatures, its scale.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug, Default)]
pub struct Kind {
    /// The dimension.
    pub dimension: Dimension,
    /// For temperatures: point, difference, or either.
    pub scale: Scale,
}

/// Why two kinds can't be combined.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum KindError {
    /// The two differ.
    Differ(Kind, Kind),
    /// A bare number met a quantity.
    BareNumber(Kind),
    /// A temperature point was multiplied, divided, raised, summed or negated.
    PointArithmetic,
    /// Two temperature points were added.
    PointSum,
    /// The dimension leaves the range that is kept.
    TooLarge,
}

impl fmt::Display for KindError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Differ(a, b) => write!(f, "{a} and {b} don't go together"),
            Self::BareNumber(kind) => write!(f, "a bare number against a quantity of kind {kind}"),
            Self::PointArithmetic => write!(
                f,
                "a temperature on a scale can only be compared, or subtracted from another"
            ),
            Self::PointSum => write!(f, "two temperatures on a scale can't be added"),
            Self::TooLarge => write!(f, "the powers of the units are too large"),
        }
    }
}

impl Kind {
    /// A bare number or ratio.
    pub const RATIO: Self = Self {
        dimension: Dimension::NONE,
        scale: Scale::Difference,
    };

    /// A kind without a temperature scale.
    #[must_use]
    pub const fn of(dimension: Dimension) -> Self {
        Self {
            dimension,
            scale: Scale::Difference,
        }
    }

    /// A point on a temperature scale.
    #[must_use]
    pub const fn temperature_point() -> Self {
        Self {
            dimension: Dimension([0, 0, 0, 1, 0, 0, 0]),
            scale: Scale::Point,
        }
    }

    /// Whether values of the two can be compared.
    ///
    /// # Errors
    /// [`KindError::Differ`] or [`KindError::BareNumber`].
    pub fn comparable(self, other: Self) -> Result<Self, KindError> {
        if self.dimension != other.dimension {
            return Err(
                match (
                    self.dimension == Dimension::NONE,
                    other.dimension == Dimension::NONE,
                ) {
                    (true, _) => KindError::BareNumber(other),
                    (_, true) => KindError::BareNumber(self),
                    _ => KindError::Differ(self, other),
                },
            );
        }
        match (self.scale, other.scale) {
            (Scale::Kelvin, s) | (s, Scale::Kelvin) => Ok(Self {
                dimension: self.dimension,
                scale: s,
            }),
            (a, b) if a == b => Ok(self),
            _ => Err(KindError::Differ(self, other)),
        }
    }

    /// The kind of a sum.
    ///
    /// # Errors
    /// Kinds that differ, or two temperature points.
    pub fn sum(self, other: Self) -> Result<Self, KindError> {
        match (self.scale, other.scale) {
            (Scale::Point, Scale::Point) => Err(KindError::PointSum),
            (Scale::Point, _) | (_, Scale::Point) => self.same_dimension(other, Scale::Point),
            _ => self.comparable(other),
        }
    }

    /// The kind of a difference.
    ///
    /// # Errors
    /// Kinds that differ, or a temperature point taken from a difference.
    pub fn difference(self, other: Self) -> Result<Self, KindError> {
        match (self.scale, other.scale) {
            (Scale::Point | Scale::Kelvin, Scale::Point) => {
                self.same_dimension(other, Scale::Difference)
            }
            (Scale::Point, _) => self.same_dimension(other, Scale::Point),
            _ => self.comparable(other),
        }
    }

    fn same_dimension(self, other: Self, scale: Scale) -> Result<Self, KindError> {
        if self.dimension == other.dimension {
            return Ok(Self {
                dimension: self.dimension,
                scale,
            });
        }
        Kind::of(self.dimension).comparable(Kind::of(other.dimension))
    }

    /// The kind of a product.
    ///
    /// # Errors
    /// Temperature points.
    pub fn product(self, other: Self) -> Result<Self, KindError> {
        self.free(other)?;
        self.dimension
            .times(other.dimension)
            .map(Self::of)
            .ok_or(KindError::TooLarge)
    }

    /// The kind of a quotient.
    ///
    /// # Errors
    /// Temperature points.
    pub fn quotient(self, other: Self) -> Result<Self, KindError> {
        self.free(other)?;
        self.dimension
            .per(other.dimension)
            .map(Self::of)
            .ok_or(KindError::TooLarge)
    }

    fn free(self, other: Self) -> Result<(), KindError> {
        if self.scale == Scale::Point || other.scale == Scale::Point {
            return Err(KindError::PointArithmetic);
        }
        Ok(())
    }
}

impl fmt::Display for Kind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let temperature = self.dimension == Dimension([0, 0, 0, 1, 0, 0, 0]);
        match self.scale {
            Scale::Difference if temperature => f.write_str("temperature difference"),
            _ => f.write_str(&self.dimension.in_words()),
        }
    }
}
