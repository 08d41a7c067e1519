//! A unit there and back is equal, not near.

use proptest::prelude::*;
use stepwell::quantity::{Unit, parse_quantity};

const PRESSURES: [&str; 12] = [
    "Pa", "kPa", "hPa", "bar", "mbar", "psi", "mmHg", "inHg", "cmH2O", "inH2O", "atm", "Torr",
];

proptest! {
    #[test]
    fn pressure_there_and_back_is_equal(value in -1_000_000i64..1_000_000, places in 0u32..5, a in 0usize..12, b in 0usize..12) {
        let text = format!("{value}e-{places} {}", PRESSURES[a]);
        let start = parse_quantity(&text).unwrap();
        let there = start.convert(&Unit::parse(PRESSURES[b]).unwrap()).unwrap();
        let back = there.convert(&Unit::parse(PRESSURES[a]).unwrap()).unwrap();
        prop_assert_eq!(back.value().to_exact(), start.value().to_exact());
    }

    #[test]
    fn temperatures_there_and_back_are_equal(value in -10_000i64..10_000, a in 0usize..3, b in 0usize..3) {
        let scales = ["degC", "degF", "K"];
        let start = parse_quantity(&format!("{value}e-2 {}", scales[a])).unwrap();
        let there = start.convert(&Unit::parse(scales[b]).unwrap()).unwrap();
        prop_assert_eq!(there.convert(start.unit()).unwrap().value().to_exact(), start.value().to_exact());
    }
}

#[test]
fn a_huge_exponent_is_refused_before_it_is_computed() {
    assert!(parse_quantity("1e999999 mL").is_err());
    assert!(parse_quantity("1e-31").is_err());
}
