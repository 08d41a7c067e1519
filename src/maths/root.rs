//! Newton's method for quantiles, where it can't fail.
//!
//! Never in here: distributions. Changes when quantiles are found otherwise.

/// Most steps; what is asked for here needs under fifteen.
const MOST_STEPS: u32 = 200;

/// The x > 0 up to which the probability from the centre is `wanted`, for a density that falls from the centre on.
///
/// The probability is concave in x, so Newton's method from zero goes up to the root and never past it.
pub(super) fn central_root(
    wanted: f64,
    central: impl Fn(f64) -> f64,
    density: impl Fn(f64) -> f64,
) -> f64 {
    let mut x = 0.0;
    for _ in 0..MOST_STEPS {
        let step = (wanted - central(x)) / density(x);
        x += step;
        if step.abs() <= 1e-16 * x.abs() {
            break;
        }
    }
    x
}

/// The x > 0 above which the probability is `wanted`, below one half.
///
/// The logarithm of the tail is concave in the logarithm of x, so Newton's method in these comes down to the root.
pub(super) fn tail_root(
    wanted: f64,
    tail: impl Fn(f64) -> f64,
    density: impl Fn(f64) -> f64,
) -> f64 {
    let mut x: f64 = 1.0;
    for _ in 0..MOST_STEPS {
        let above = tail(x);
        let step = (above / wanted).ln() * above / (x * density(x));
        if !step.is_finite() {
            break;
        }
        x *= step.exp();
        if step.abs() <= 2e-16 {
            break;
        }
    }
    x
}
