//! A matrix of correlation coefficients that can hold together.
//!
//! Never in here: uncertainties. Changes when correlations are given in another form.

use super::Refusal;
use super::refusal::wanted;

/// How far from zero a pivot may lie below, and the diagonal from one: correlations are typed with few digits.
const TOLERANCE: f64 = 1e-9;

/// The correlation coefficients of components with each other.
#[derive(Clone, Debug, PartialEq)]
pub struct Correlations(Vec<Vec<f64>>);

impl Correlations {
    /// Checks a matrix: square and symmetric, ones on its diagonal, coefficients from −1 to 1, positive semi-definite.
    ///
    /// # Errors
    /// Whichever does not hold.
    pub fn new(rows: Vec<Vec<f64>>) -> Result<Self, Refusal> {
        let n = rows.len();
        if rows.iter().any(|row| row.len() != n) {
            return Err(Refusal::CorrelationShape);
        }
        for r in rows.iter().flatten() {
            let holds = r.abs() <= 1.0 + TOLERANCE;
            wanted("a correlation coefficient", *r, "-1 to 1", holds)?;
        }
        let symmetric = (0..n).all(|i| {
            (rows[i][i] - 1.0).abs() <= TOLERANCE
                && (0..i).all(|j| (rows[i][j] - rows[j][i]).abs() <= TOLERANCE)
        });
        if !symmetric {
            return Err(Refusal::CorrelationShape);
        }
        if !is_positive_semidefinite(rows.clone()) {
            return Err(Refusal::Correlations);
        }
        Ok(Self(rows))
    }

    /// The correlations of `n` components where those of the pairs named are given, and all others zero.
    ///
    /// # Errors
    /// A pair beyond `n`, of one component with itself, or given twice differently; and as [`Correlations::new`].
    pub fn of_pairs(n: usize, pairs: &[(usize, usize, f64)]) -> Result<Self, Refusal> {
        let mut rows = vec![vec![0.0; n]; n];
        for (i, row) in rows.iter_mut().enumerate() {
            row[i] = 1.0;
        }
        for (i, j, r) in pairs {
            if i == j || *i >= n || *j >= n || (rows[*i][*j] != 0.0 && rows[*i][*j] != *r) {
                return Err(Refusal::CorrelationShape);
            }
            rows[*i][*j] = *r;
            rows[*j][*i] = *r;
        }
        Self::new(rows)
    }

    /// How many components.
    #[must_use]
    pub fn size(&self) -> usize {
        self.0.len()
    }

    /// The coefficient of components `i` and `j`; 1 for the same one, 0 for what is not in the matrix.
    #[must_use]
    pub fn between(&self, i: usize, j: usize) -> f64 {
        if i == j {
            return 1.0;
        }
        let found = self.0.get(i).and_then(|row| row.get(j));
        found.copied().unwrap_or(0.0)
    }
}

/// Cholesky's elimination with the greatest remaining pivot first: what can't go on with a pivot above zero must be zero.
fn is_positive_semidefinite(mut a: Vec<Vec<f64>>) -> bool {
    let mut left: Vec<usize> = (0..a.len()).collect();
    while let Some(at) = (0..left.len()).max_by(|x, y| {
        let (x, y) = (left[*x], left[*y]);
        a[x][x].total_cmp(&a[y][y])
    }) {
        let pivot = left[at];
        let size = a[pivot][pivot];
        if size <= TOLERANCE {
            // Within the tolerance the remaining diagonal is zero, and so must be all that stands beside it.
            return left.iter().all(|i| {
                a[*i][*i] >= -TOLERANCE && left.iter().all(|j| a[*i][*j].abs() <= 10.0 * TOLERANCE)
            });
        }
        left.swap_remove(at);
        for i in &left {
            for j in &left {
                a[*i][*j] -= a[*i][pivot] * a[pivot][*j] / size;
            }
        }
    }
    true
}
