//! Units that stand in the cells, and rows that lack a cell.
//!
//! Never in here: units in headings (see `dialects`). Changes when cells name units otherwise.

use stepwell::trace::read;

use super::{mapping, places, refused, unit};

#[test]
fn a_cell_may_repeat_the_unit_of_its_column() {
    let bytes = b"time_s;volume_mL\n0 s;10,2 mL\n30;10,4\n60 s;1,1e1mL\n";
    let trace = read(bytes, &mapping("time", &[("volume", "mL")])).expect("a log");
    assert_eq!(trace.times, [0.0, 30.0, 60.0]);
    let volumes = &trace.columns[0].values;
    // By hand: 10.2 mL is 10.2e-6 m³.
    for (found, by_hand) in volumes.iter().zip([10.2e-6, 10.4e-6, 11e-6]) {
        assert!((found - by_hand).abs() < 1e-20, "{found}");
    }
    let latin = b"t [min],temperature [\xb0C]\n1 min,21.5 \xb0C\n";
    let trace = read(latin, &mapping("t", &[("temperature", "°C")])).expect("a log");
    assert_eq!(trace.times, [60.0]);
    assert!((trace.columns[0].values[0] - 294.65).abs() < 1e-9);
}

#[test]
fn where_the_heading_names_no_unit_the_first_cell_may() {
    let bytes = b"Elapsed,Weight\n0 min,0.5 kg\n1 min,0.6 kg\n";
    let trace = read(bytes, &mapping("Elapsed", &[("Weight", "g")])).expect("a log");
    assert_eq!(trace.times, [0.0, 60.0]);
    assert_eq!(trace.columns[0].values, [0.5, 0.6]);
    assert!(trace.observations.is_empty(), "{:?}", trace.observations);
    // Columns by number too, without headings.
    let trace = read(&bytes[15..], &mapping("1", &[("2", "g")])).expect("a log");
    assert_eq!(trace.columns[0].values, [0.5, 0.6]);
}

#[test]
fn a_cell_in_another_unit_is_refused_with_its_place() {
    let bytes = b"time_s,mass_g\n0,0.5 kg\n30,600 g\n60,7 stone\n";
    let plain = mapping("time", &[("mass", "g")]);
    let faults = refused(bytes, &plain);
    assert_eq!(places(&faults), [(2, 2), (4, 2)]);
    let told = faults[0].to_string();
    assert!(
        told.starts_with("row 2, column 2 `mass_g`: `0.5 kg` is in kg, where the column is in g; "),
        "{told}"
    );
    assert!(told.contains("unit: kg"), "{told}");
    let told = faults[1].to_string();
    let begins = "row 4, column 2 `mass_g`: `7 stone` is not a number; ";
    assert!(told.starts_with(begins), "{told}");
    // The recipe may state the unit of the cells against the heading, and then it holds for all.
    let mut stated = plain;
    stated.columns[0].written_in = Some(unit("kg"));
    assert_eq!(places(&refused(bytes, &stated)), [(3, 2), (4, 2)]);
}

#[test]
fn a_row_that_lacks_a_column_says_how_many_cells_it_has() {
    let bytes = b"time_s;mass_g;note\n0;0.5;\n30\n60;0.7\n";
    let faults = refused(bytes, &mapping("time", &[("mass", "g")]));
    assert_eq!(places(&faults), [(3, 2)]);
    let told = faults[0].to_string();
    let begins = "row 3, column 2 `mass_g`: the row has 1 cell only, the headings are 3; ";
    assert!(told.starts_with(begins), "{told}");
    let faults = refused(b"0 s;1;2\n30 s;2\n", &mapping("1", &[("3", "g")]));
    assert_eq!(places(&faults), [(2, 3)]);
    assert_eq!(faults[0].message, "the row has 2 cells only");
}
