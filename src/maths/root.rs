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
/// By Newton's method on logarithms, on which the tail is nearly straight, between bounds that close in: a step that
/// leaves them, or can't be taken because the tail is too small for a double, is replaced by halving.
pub(super) fn tail_root(
    wanted: f64,
    tail: impl Fn(f64) -> f64,
    density: impl Fn(f64) -> f64,
) -> f64 {
    let (mut low, mut high) = (0.0, 1.0);
    while tail(high) > wanted && high < f64::MAX / 2.0 {
        low = high;
        high *= 2.0;
    }
    let mut x = high;
    for _ in 0..MOST_STEPS {
        let above = tail(x);
        if above > wanted {
            low = x;
        } else {
            high = x;
        }
        let step = (above / wanted).ln() * above / (x * density(x));
        let next = x * step.exp();
        if step.abs() <= 2e-16 {
            return next;
        }
        x = if low < next && next < high {
            next
        } else {
            f64::midpoint(low, high)
        };
    }
    x
}
