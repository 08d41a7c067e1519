//! Gauss-Legendre quadrature over panels.
//!
//! Never in here: what is integrated, and where its panels end. Changes when more precision is needed.

/// Abscissas above zero and weights of sixteen points (numpy 2, `polynomial.legendre.leggauss(16)`).
const POINTS: [(f64, f64); 8] = [
    (0.095_012_509_837_637_44, 0.189_450_610_455_068_64),
    (0.281_603_550_779_258_9, 0.182_603_415_044_923_64),
    (0.458_016_777_657_227_37, 0.169_156_519_395_002_65),
    (0.617_876_244_402_643_8, 0.149_595_988_816_576_7),
    (0.755_404_408_355_003, 0.124_628_971_255_534_07),
    (0.865_631_202_387_831_8, 0.095_158_511_682_492_6),
    (0.944_575_023_073_232_6, 0.062_253_523_938_647_456),
    (0.989_400_934_991_649_9, 0.027_152_459_411_754_176),
];

/// ∫ f from `low` to `high` by sixteen points: exact for polynomials up to degree 31.
pub(super) fn panel(f: &impl Fn(f64) -> f64, low: f64, high: f64) -> f64 {
    let (middle, half) = (f64::midpoint(low, high), 0.5 * (high - low));
    let pairs = POINTS
        .iter()
        .map(|(x, weight)| weight * (f(middle - half * x) + f(middle + half * x)));
    half * pairs.sum::<f64>()
}

/// ∫ f from `low` to `high`, in panels that end at the `breaks` that lie between; zero where `high` is not above `low`.
pub(super) fn integral(f: impl Fn(f64) -> f64, low: f64, high: f64, breaks: &[f64]) -> f64 {
    if low.partial_cmp(&high) != Some(std::cmp::Ordering::Less) {
        return 0.0;
    }
    let mut ends: Vec<f64> = breaks
        .iter()
        .copied()
        .filter(|b| low < *b && *b < high)
        .chain([low, high])
        .collect();
    ends.sort_by(f64::total_cmp);
    ends.windows(2)
        .map(|ends| panel(&f, ends[0], ends[1]))
        .sum()
}
