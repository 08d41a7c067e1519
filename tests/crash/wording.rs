//! Sentences of a record that another version of the program made: worded otherwise, with the same numbers.
//!
//! Never in here: records. Changes when numbers are written otherwise in sentences.

use stepwell::record::same_numbers;

#[test]
fn wording_may_differ_and_numbers_may_not() {
    let told = "`error`: -2.5 % is not between -2 % and 2 %";
    assert!(same_numbers(told, "-2.5 % lies outside \u{2212}2 % to 2 %"));
    for falsified in [
        "`error`: 2.5 % is not between -2 % and 2 %",
        "`error`: -2.51 % is not between -2 % and 2 %",
        "`error`: -2.5 % is not between -2 % and 2 % of 5",
        "`error`: -2 % is not between -2.5 % and 2 %",
    ] {
        assert!(!same_numbers(told, falsified), "{falsified}");
    }
    assert!(same_numbers("from 1-2 mL", "from 1 to 2 mL"));
    assert!(same_numbers("none", "nothing"));
}
