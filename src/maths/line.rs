//! A straight line through readings by least squares, in exact arithmetic with roots at the end.
//!
//! Never in here: weighted fits, other curves. Changes when a line must tell more.

use super::Refusal;
use super::refusal::enough;
use super::statistics::{count, deviations, mean, over, paired, products, signed_root};
use crate::quantity::Exact;

/// The line y = y₁ + y₂·x of least squares (GUM H.3; NIST StRD linear). Slopes are in the unit of y over that of x.
#[derive(Clone, Debug, PartialEq)]
pub struct Line {
    n: usize,
    x_mean: Exact,
    y_mean: Exact,
    x_squares: Exact,
    slope: Exact,
    residual_squares: Exact,
    y_squares: Exact,
}

impl Line {
    /// The line through the points (`x`, `y`).
    ///
    /// # Errors
    /// Lists of different length; fewer than three points; values of `x` that are all equal.
    pub fn through(x: &[Exact], y: &[Exact]) -> Result<Self, Refusal> {
        paired(x, y)?;
        enough("a line", 3, x.len())?;
        let (dx, dy) = (deviations(x)?, deviations(y)?);
        let x_squares = products(&dx, &dx);
        let y_squares = products(&dy, &dy);
        let slope = over(&products(&dx, &dy), &x_squares, "slope")?;
        let explained = slope.clone() * slope.clone() * x_squares.clone();
        Ok(Self {
            n: x.len(),
            x_mean: mean(x)?,
            y_mean: mean(y)?,
            residual_squares: y_squares.clone() - explained,
            x_squares,
            slope,
            y_squares,
        })
    }

    /// How many points.
    #[must_use]
    pub fn points(&self) -> usize {
        self.n
    }

    /// n − 2.
    #[must_use]
    pub fn degrees_of_freedom(&self) -> usize {
        self.n - 2
    }

    /// y₁, y at x = 0, exactly.
    #[must_use]
    pub fn intercept(&self) -> Exact {
        self.at(&Exact::zero())
    }

    /// y₂, exactly.
    #[must_use]
    pub fn slope(&self) -> &Exact {
        &self.slope
    }

    /// The y of the line at `x`, exactly.
    #[must_use]
    pub fn at(&self, x: &Exact) -> Exact {
        self.y_mean.clone() + self.slope.clone() * (x.clone() - self.x_mean.clone())
    }

    /// Σ of the squared residuals, exactly.
    #[must_use]
    pub fn residual_sum_of_squares(&self) -> &Exact {
        &self.residual_squares
    }

    /// s = √(Σ residuals²/(n − 2)), in the unit of y.
    #[must_use]
    pub fn residual_standard_deviation(&self) -> f64 {
        self.residual_variance().to_f64().sqrt()
    }

    /// The standard uncertainty of the intercept: that of the line at x = 0.
    #[must_use]
    pub fn intercept_uncertainty(&self) -> f64 {
        self.uncertainty_at(&Exact::zero())
    }

    /// The standard uncertainty of the slope: s/√Σ(x − x̄)².
    #[must_use]
    pub fn slope_uncertainty(&self) -> f64 {
        divided(&self.residual_variance(), &self.x_squares)
            .to_f64()
            .sqrt()
    }

    /// The standard uncertainty of the line at `x` from the scatter of the points: s·√(1/n + (x − x̄)²/Σ(x − x̄)²), GUM H.3.4.
    /// A new reading there scatters by s besides. Far outside the points the line may no longer hold.
    #[must_use]
    pub fn uncertainty_at(&self, x: &Exact) -> f64 {
        let away = x.clone() - self.x_mean.clone();
        let lever = divided(&Exact::one(), &count(self.n))
            + divided(&(away.clone() * away), &self.x_squares);
        (self.residual_variance() * lever).to_f64().sqrt()
    }

    /// The correlation of intercept and slope: −x̄/√(Σx²/n), GUM H.3.2, eq. (H.13d).
    #[must_use]
    pub fn coefficient_correlation(&self) -> f64 {
        let square = self.x_mean.clone() * self.x_mean.clone();
        let mean_square = divided(&self.x_squares, &count(self.n)) + square.clone();
        signed_root(&divided(&square, &mean_square), !self.x_mean.is_negative())
    }

    /// R² = 1 − Σ residuals²/Σ(y − ȳ)², exactly; nothing where all y are equal.
    #[must_use]
    pub fn r_squared(&self) -> Option<Exact> {
        let missing = self.residual_squares.checked_div(&self.y_squares)?;
        Some(Exact::one() - missing)
    }

    /// F = what the line explains over s², exactly; nothing where all points lie on the line.
    #[must_use]
    pub fn f_statistic(&self) -> Option<Exact> {
        let explained = self.y_squares.clone() - self.residual_squares.clone();
        explained.checked_div(&self.residual_variance())
    }

    fn residual_variance(&self) -> Exact {
        divided(&self.residual_squares, &count(self.n - 2))
    }
}

/// A quotient whose divisor `Line::through` made sure of.
fn divided(part: &Exact, whole: &Exact) -> Exact {
    part.checked_div(whole).unwrap_or_default()
}
