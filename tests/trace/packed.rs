//! Columns are packed while a log is read: whatever stands in a log comes back bit for bit.
//!
//! Never in here: dialects. Changes when columns are kept otherwise.

use std::fmt::Write;

use stepwell::trace::read;

use super::mapping;

#[test]
fn numbers_come_back_as_they_were() {
    for numbers in [
        vec![0.0, 1.0, 2.0, 999_999.0],
        vec![1.0, 0.1, 0.25, 12.3456, -7.0],
        vec![1.0, 1e-20, 3.0],
        vec![2_147_483_647.0, 0.5, 4.0],
        vec![0.1 + 0.2, 1e20, -2_147_483_648.0],
        vec![0.0, 0.5, 1.0, 1.5, 2.5, 2.75, 3.0],
        vec![3.0, 2.0, 1.0, 0.0, -1.0],
        vec![0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, f64::from(i32::MAX)],
        vec![2e9, 2.1e9, 2.2e9, 0.5],
        vec![-2_147_483_647.0, 2_147_483_647.0, 0.25],
    ] {
        let mut text = "t (s),p (Pa)\n".to_owned();
        for (time, number) in numbers.iter().enumerate() {
            let _ = writeln!(text, "{time},{number}");
        }
        let log = read(text.as_bytes(), &mapping("1", &[("2", "Pa")])).expect("a log");
        let bits = |all: &[f64]| all.iter().map(|n| n.to_bits()).collect::<Vec<_>>();
        assert_eq!(bits(&log.columns[0].values), bits(&numbers), "{text}");
    }
}
