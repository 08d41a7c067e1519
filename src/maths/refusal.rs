//! Why statistics, budgets and decisions refuse what they were given.
//!
//! Never in here: formulas. Changes when a formula has a new way to be misused.

use std::fmt;

/// What makes a result of statistics, of a budget or of a decision impossible. `Display` says it to the technician.
#[derive(Clone, Debug, PartialEq)]
pub enum Refusal {
    /// One value is outside the domain.
    Value {
        /// What it is a value of.
        what: &'static str,
        /// The value.
        value: f64,
        /// What it must be.
        must: &'static str,
    },
    /// Fewer values than the result needs.
    TooFew {
        /// The result.
        what: &'static str,
        /// How many it needs.
        needed: usize,
        /// How many there are.
        found: usize,
    },
    /// More values than the table or the constants reach.
    TooMany {
        /// The result.
        what: &'static str,
        /// How many are allowed.
        allowed: usize,
        /// How many there are.
        found: usize,
    },
    /// All values are equal, and the result divides by their spread.
    NoSpread {
        /// The result.
        what: &'static str,
    },
    /// Two lists that belong together differ in length.
    Unpaired {
        /// The length of the first.
        first: usize,
        /// The length of the second.
        second: usize,
    },
    /// There is neither a lower nor an upper limit.
    NoLimit,
    /// The lower limit is not below the upper one.
    CrossedLimits {
        /// The lower limit, as text.
        low: String,
        /// The upper limit, as text.
        high: String,
    },
    /// The guard bands leave nothing to accept.
    EmptyZone {
        /// The guard band, as text.
        guard: String,
    },
    /// Correlations that are not a symmetric matrix with ones on its diagonal, one row for each component.
    CorrelationShape,
    /// Correlations that can't hold together: the matrix is not positive semi-definite.
    Correlations,
    /// All uncertainties are zero and have finite degrees of freedom: 0/0 in Welch-Satterthwaite.
    ZeroOverZero,
    /// Correlated components with finite degrees of freedom: Welch-Satterthwaite does not hold.
    NoFreedom,
    /// Components of one group state different degrees of freedom.
    GroupDisagrees {
        /// The group.
        group: usize,
    },
}

impl fmt::Display for Refusal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Value { what, value, must } => write!(f, "{what} of {value} must be {must}"),
            Self::TooFew {
                what,
                needed,
                found,
            } => write!(f, "{what} needs {needed} values or more, and has {found}"),
            Self::TooMany {
                what,
                allowed,
                found,
            } => write!(f, "{what} takes at most {allowed} values, and has {found}"),
            Self::NoSpread { what } => write!(f, "all values are equal, so there is no {what}"),
            Self::Unpaired { first, second } => write!(
                f,
                "{first} values stand against {second}; give as many of each"
            ),
            Self::NoLimit => write!(f, "there is no limit; give a lower or an upper one"),
            Self::CrossedLimits { low, high } => write!(
                f,
                "the lower limit {low} is not below the upper limit {high}"
            ),
            Self::EmptyZone { guard } => write!(
                f,
                "a guard band of {guard} on each limit leaves nothing to accept; lower the uncertainty or widen the tolerance"
            ),
            Self::CorrelationShape => write!(
                f,
                "correlations must be a symmetric matrix with ones on its diagonal and a row for each component"
            ),
            Self::Correlations => write!(
                f,
                "these correlations can't hold together: the matrix is not positive semi-definite"
            ),
            Self::ZeroOverZero => write!(
                f,
                "all uncertainties are zero with finite degrees of freedom, so there are no effective degrees of freedom"
            ),
            Self::NoFreedom => write!(
                f,
                "correlated components have no effective degrees of freedom after Welch-Satterthwaite; state the coverage factor"
            ),
            Self::GroupDisagrees { group } => write!(
                f,
                "components of group {group} share one estimate but state different degrees of freedom"
            ),
        }
    }
}

impl std::error::Error for Refusal {}

/// Passes `value` if it is finite and `holds`; refuses it otherwise.
pub(super) fn wanted(
    what: &'static str,
    value: f64,
    must: &'static str,
    holds: bool,
) -> Result<f64, Refusal> {
    if value.is_finite() && holds {
        Ok(value)
    } else {
        Err(Refusal::Value { what, value, must })
    }
}

/// Passes a value that is finite and above zero.
pub(super) fn positive(what: &'static str, value: f64) -> Result<f64, Refusal> {
    wanted(what, value, "above 0", value > 0.0)
}

/// Passes a probability strictly between 0 and 1.
pub(super) fn probability(what: &'static str, value: f64) -> Result<f64, Refusal> {
    wanted(what, value, "between 0 and 1", value > 0.0 && value < 1.0)
}

/// Refuses a list that is too short.
pub(super) fn enough(what: &'static str, needed: usize, found: usize) -> Result<(), Refusal> {
    if found >= needed {
        Ok(())
    } else {
        Err(Refusal::TooFew {
            what,
            needed,
            found,
        })
    }
}
