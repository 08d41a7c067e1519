//! A trumpet by end readings is the trumpet by sums of flows.

use proptest::prelude::*;
use stepwell::maths::flow::{Allowed, Delivery, trumpet};

/// Ep(max) and Ep(min) by the definition: sums of flow errors over each window.
fn by_sums(flows: &[f64], rate: f64, steps: usize) -> (f64, f64) {
    let error = |window: &[f64]| {
        window
            .iter()
            .map(|q| 100.0 * (q - rate) / rate)
            .sum::<f64>()
            / steps as f64
    };
    let errors = flows.windows(steps).map(error);
    errors.fold((f64::NEG_INFINITY, f64::INFINITY), |(max, min), e| {
        (max.max(e), min.min(e))
    })
}

proptest! {
    #[test]
    fn end_readings_do_what_sums_do(steps_of_volume in prop::collection::vec(0u32..2000, 2..3000), steps in 1usize..100) {
        prop_assume!(steps <= steps_of_volume.len());
        let times: Vec<f64> = (0..=steps_of_volume.len()).map(|i| i as f64 * 30.0).collect();
        let mut volumes = vec![0.0];
        for step in &steps_of_volume {
            volumes.push(volumes[volumes.len() - 1] + f64::from(*step));
        }
        let delivery = Delivery::new(&times, &volumes, Allowed::default()).expect("sound");
        let window = steps as f64 * 30.0;
        let point = trumpet(&delivery, delivery.whole(), 30.0, &[window]).expect("sound")[0];
        let (max, min) = by_sums(&delivery.flows().expect("equidistant"), 30.0, steps);
        prop_assert!((point.largest.error - max).abs() < 1e-7, "{} {max}", point.largest.error);
        prop_assert!((point.smallest.error - min).abs() < 1e-7);
        prop_assert_eq!(point.count, times.len() - steps);
        // No window before the named one is as large: volumes are whole here, so that comparison is exact.
        let delivered = |j: usize| volumes[j + steps] - volumes[j];
        let (first, _) = point.largest.ends;
        prop_assert!((0..first).all(|j| delivered(j) < delivered(first)));
        let (first, _) = point.smallest.ends;
        prop_assert!((0..first).all(|j| delivered(j) > delivered(first)));
    }
}
