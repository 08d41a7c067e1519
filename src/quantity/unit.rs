//! Units as they are written: a symbol, or products, quotients and whole powers of symbols.
//!
//! Never in here: numbers with units. Changes when the way of writing units does.

use std::fmt;
use std::sync::Arc;

use super::known::Known;
use super::table::{Symbol, symbols};
use super::{Dimension, Exact, Kind, Scale};

const MAX_UNIT_LENGTH: usize = 40;
const MAX_POWER: i8 = 9;
/// Longest spelling of which a near one must begin with the same letter.
const SHORT: usize = 4;

/// Spellings from elsewhere, in small letters, that are nothing like ours.
const ELSEWHERE: [(&str, &str); 5] = [
    ("c", "degC"),
    ("f", "degF"),
    ("lpm", "L/min"),
    ("slpm", "L/min"),
    ("cc", "mL"),
];

/// A unit: symbols with their powers, and what these make together.
#[derive(Clone, Debug)]
pub struct Unit(Arc<Parts>);

#[derive(Debug)]
struct Parts {
    factors: Vec<(Arc<Symbol>, i8)>,
    text: String,
    ucum: String,
    factor: Exact,
    offset: Exact,
    kind: Kind,
}

/// Why a text is no unit. `Display` says it to the person who typed it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum UnitError {
    /// A symbol that is not in the table, as it was typed.
    Unknown(String),
    /// A temperature scale inside a product or quotient.
    ScaleInProduct(String),
    /// Text that is no unit at all, or too long, or with a power that is too large.
    Malformed(String),
}

impl fmt::Display for UnitError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            // The nearest one is looked for when it is told: many a word is tried for a unit, and is none.
            Self::Unknown(symbol) => match nearest(symbol) {
                Some(near) => write!(
                    f,
                    "unknown unit `{symbol}`; the nearest known one is `{near}`"
                ),
                None => write!(f, "unknown unit `{symbol}`"),
            },
            Self::ScaleInProduct(symbol) => {
                write!(
                    f,
                    "`{symbol}` is a temperature scale and can't be part of a product; write a difference as `delta_degC` or `K`"
                )
            }
            Self::Malformed(text) => {
                write!(f, "`{text}` is not a unit; write it as in `mL/h`, `kg/m3`")
            }
        }
    }
}

impl Unit {
    /// The unit of a bare number.
    #[must_use]
    pub fn one() -> Self {
        Self::of(Vec::new())
    }

    /// Reads unit text: `mL/h`, `kg/m3`, `ug/kg/min`, `°C`.
    ///
    /// # Errors
    /// See [`UnitError`]; of an unknown symbol it tells the nearest known one.
    pub fn parse(text: &str) -> Result<Self, UnitError> {
        let text = text.trim();
        if text.is_empty() || text.chars().count() > MAX_UNIT_LENGTH {
            return Err(UnitError::Malformed(
                text.chars().take(MAX_UNIT_LENGTH).collect(),
            ));
        }
        known(text)
    }

    /// Whether a word can be a unit: one of letters alone is a symbol, or none.
    #[must_use]
    pub fn may_be(word: &str) -> bool {
        symbols().contains_key(word) || !word.chars().all(char::is_alphabetic)
    }

    fn read(text: &str) -> Result<Self, UnitError> {
        if let Some(symbol) = symbols().get(text) {
            return Ok(Self::of(vec![(Arc::clone(symbol), 1)]));
        }
        let mut factors = Vec::new();
        let mut sign = 1;
        let mut rest = text;
        loop {
            let end = rest.find(['/', '*', '·', '.']).unwrap_or(rest.len());
            let (symbol, power) = parse_term(rest[..end].trim(), text)?;
            if symbol.kind.scale == Scale::Point {
                return Err(UnitError::ScaleInProduct(symbol.text.clone()));
            }
            factors.push((symbol, sign * power));
            let Some(separator) = rest[end..].chars().next() else {
                break;
            };
            sign = if separator == '/' { -1 } else { 1 };
            rest = &rest[end + separator.len_utf8()..];
        }
        Self::checked(factors).ok_or_else(|| UnitError::Malformed(text.to_owned()))
    }

    fn of(factors: Vec<(Arc<Symbol>, i8)>) -> Self {
        Self::checked(factors).expect("a single symbol has a dimension")
    }

    /// Merges powers of the same symbol and works out what the whole is.
    fn checked(factors: Vec<(Arc<Symbol>, i8)>) -> Option<Self> {
        let mut merged: Vec<(Arc<Symbol>, i8)> = Vec::new();
        for (symbol, power) in factors {
            match merged.iter_mut().find(|(s, _)| Arc::ptr_eq(s, &symbol)) {
                Some((_, sum)) => *sum = sum.checked_add(power)?,
                None => merged.push((symbol, power)),
            }
        }
        merged.retain(|(symbol, power)| *power != 0 && symbol.text != "1");
        let mut dimension = Dimension::NONE;
        let mut factor = Exact::one();
        for (symbol, power) in &merged {
            if power.abs() > MAX_POWER {
                return None;
            }
            dimension = dimension.times(symbol.kind.dimension.power(*power)?)?;
            factor = factor * symbol.factor.powi(i32::from(*power))?;
        }
        let single = merged.len() == 1 && merged[0].1 == 1;
        let kind = if single {
            merged[0].0.kind
        } else {
            Kind::of(dimension)
        };
        let offset = if single {
            merged[0].0.offset.clone()
        } else {
            Exact::zero()
        };
        let text = written(&merged, "1", |s| &s.text, "/", "·");
        let ucum = written(&merged, "", |s| &s.ucum, "/", ".");
        let ucum = if ucum.is_empty() {
            "1".to_owned()
        } else {
            ucum
        };
        Some(Self(Arc::new(Parts {
            factors: merged,
            text,
            ucum,
            factor,
            offset,
            kind,
        })))
    }

    /// The spelling that is shown.
    #[must_use]
    pub fn text(&self) -> &str {
        &self.0.text
    }

    /// The UCUM code, for data.
    #[must_use]
    pub fn ucum(&self) -> &str {
        &self.0.ucum
    }

    /// The kind of quantity that it measures.
    #[must_use]
    pub fn kind(&self) -> Kind {
        self.0.kind
    }

    /// How many SI units one of it is.
    #[must_use]
    pub fn factor(&self) -> &Exact {
        &self.0.factor
    }

    /// What is added after the factor, in kelvin; zero but for temperature scales.
    #[must_use]
    pub fn offset(&self) -> &Exact {
        &self.0.offset
    }

    /// The unit of a product; nothing where its powers are too large.
    #[must_use]
    pub fn times(&self, other: &Self) -> Option<Self> {
        let both = self
            .0
            .factors
            .iter()
            .chain(&other.0.factors)
            .cloned()
            .collect();
        Self::checked(both).map(Self::tidied)
    }

    /// The unit of a quotient.
    #[must_use]
    pub fn per(&self, other: &Self) -> Option<Self> {
        let under = other.0.factors.iter().map(|(s, p)| (Arc::clone(s), -p));
        Self::checked(self.0.factors.iter().cloned().chain(under).collect()).map(Self::tidied)
    }

    /// The unit of a whole power.
    #[must_use]
    pub fn power(&self, n: i8) -> Option<Self> {
        let raised = self
            .0
            .factors
            .iter()
            .map(|(s, p)| Some((Arc::clone(s), p.checked_mul(n)?)));
        Self::checked(raised.collect::<Option<_>>()?).map(Self::tidied)
    }

    /// A ratio that is left over from a quotient of different units is a bare number.
    fn tidied(self) -> Self {
        if self.kind() == Kind::RATIO {
            Self::one()
        } else {
            self
        }
    }

    /// The unit of a difference of two values in this one: itself, but for temperature scales.
    #[must_use]
    pub fn of_difference(&self) -> Self {
        if self.kind().scale != Scale::Point {
            return self.clone();
        }
        let name = if self.text() == "degF" {
            "delta_degF"
        } else {
            "delta_degC"
        };
        Self::parse(name).expect("the unit table has temperature differences")
    }

    /// The SI unit of a dimension.
    #[must_use]
    pub fn si(kind: Kind) -> Self {
        const BASE: [&str; 7] = ["m", "kg", "s", "K", "A", "gtt", "U"];
        let factors = BASE
            .iter()
            .zip(kind.dimension.0)
            .map(|(name, power)| (Arc::clone(&symbols()[*name]), power));
        Self::checked(factors.collect()).expect("the powers of a known dimension are small")
    }
}

/// A unit, read once.
fn known(text: &str) -> Result<Unit, UnitError> {
    static KNOWN: Known<Unit> = Known::of(256);
    KNOWN.read(text, || Unit::read(text))
}

fn parse_term(term: &str, whole: &str) -> Result<(Arc<Symbol>, i8), UnitError> {
    if let Some(symbol) = symbols().get(term) {
        return Ok((Arc::clone(symbol), 1));
    }
    let plain = term.replace('²', "2").replace('³', "3");
    let digits = plain.len() - plain.trim_end_matches(|c: char| c.is_ascii_digit()).len();
    let (mut base, power) = plain.split_at(plain.len() - digits);
    let mut sign = 1;
    if digits > 0 {
        if let Some(shorter) = base.strip_suffix('-') {
            (base, sign) = (shorter, -1);
        }
        base = base.strip_suffix('^').unwrap_or(base);
    }
    let known = symbols().get(base).filter(|s| digits == 0 || s.text != "1");
    let power = if digits == 0 {
        Some(1)
    } else {
        power
            .parse::<i8>()
            .ok()
            .filter(|p| (1..=MAX_POWER).contains(p))
    };
    match (known, power) {
        (Some(symbol), Some(power)) => Ok((Arc::clone(symbol), sign * power)),
        (Some(_), None) => Err(UnitError::Malformed(whole.to_owned())),
        (None, _) if base.is_empty() => Err(UnitError::Malformed(whole.to_owned())),
        (None, _) => Err(UnitError::Unknown(term.to_owned())),
    }
}

/// The known spelling that differs least; letter case counts half.
fn nearest(term: &str) -> Option<String> {
    let small = term.to_lowercase();
    if let Some((_, ours)) = ELSEWHERE.iter().find(|(other, _)| *other == small) {
        return Some((*ours).to_owned());
    }
    let score = |spelling: &str| {
        let plain = strsim::damerau_levenshtein(term, spelling);
        let folded = strsim::damerau_levenshtein(&term.to_lowercase(), &spelling.to_lowercase());
        2 * folded + usize::from(plain > folded)
    };
    let limit = 2 * term.chars().count().div_ceil(3).min(3);
    let alike = symbols().keys().filter(|s| can_be_meant(&small, s));
    let best = alike.map(|s| (score(s), s.len(), s)).min()?;
    (best.0 <= limit).then(|| symbols()[best.2].text.clone())
}

/// Whether a short spelling is more than by chance like another one: a letter by itself is like every other letter.
fn can_be_meant(small: &str, spelling: &str) -> bool {
    let spelling = spelling.to_lowercase();
    let length = small.chars().count();
    if length <= 1 {
        return small == spelling;
    }
    let sorted = |text: &str| {
        let mut letters: Vec<char> = text.chars().collect();
        letters.sort_unstable();
        letters
    };
    length > SHORT
        || small.chars().next() == spelling.chars().next()
        || sorted(small) == sorted(&spelling)
}

fn written(
    factors: &[(Arc<Symbol>, i8)],
    one: &str,
    name: impl Fn(&Symbol) -> &String,
    per: &str,
    dot: &str,
) -> String {
    let part = |symbol: &Symbol, power: i8| {
        let text = name(symbol);
        if power == 1 {
            text.clone()
        } else {
            format!("{text}{power}")
        }
    };
    let above: Vec<String> = factors
        .iter()
        .filter(|(_, p)| *p > 0)
        .map(|(s, p)| part(s, *p))
        .collect();
    let below: Vec<String> = factors
        .iter()
        .filter(|(_, p)| *p < 0)
        .map(|(s, p)| part(s, -p))
        .collect();
    let mut text = if above.is_empty() {
        one.to_owned()
    } else {
        above.join(dot)
    };
    for part in below {
        text.push_str(per);
        text.push_str(&part);
    }
    text
}

impl PartialEq for Unit {
    fn eq(&self, other: &Self) -> bool {
        self.0.text == other.0.text
    }
}

impl Eq for Unit {}

impl fmt::Display for Unit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.text())
    }
}
