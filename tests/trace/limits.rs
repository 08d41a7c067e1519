//! Files over the limits.

use stepwell::trace::{MAX_BYTES, MAX_COLUMNS, MAX_LINE, MAX_ROWS};

use super::{mapping, places, refused};

#[test]
fn long_lines_are_refused() {
    let plain = mapping("time", &[("mass", "g")]);
    let long = "x".repeat(MAX_LINE + 10);
    let faults = refused(format!("{long}\ntime_s,mass_g\n0,1\n").as_bytes(), &plain);
    assert_eq!(
        (places(&faults), faults[0].message.as_str()),
        (vec![(1, 0)], "a row longer than 64 KiB")
    );
    let faults = refused(format!("time_s,mass_g\n0,1\n1,{long}\n").as_bytes(), &plain);
    assert_eq!(
        (places(&faults), faults[0].message.as_str()),
        (vec![(3, 0)], "a row longer than 64 KiB")
    );
    let open = format!("time_s,mass_g\n0,1\n1,\"2\n{}", "2,3\n".repeat(MAX_LINE));
    assert_eq!(places(&refused(open.as_bytes(), &plain)), [(3, 0)]);
}

#[test]
fn too_many_columns_are_refused() {
    let heads = "a,".repeat(MAX_COLUMNS);
    let faults = refused(
        format!("{heads}time_s,mass_g\n").as_bytes(),
        &mapping("time", &[("mass", "g")]),
    );
    assert_eq!(
        (places(&faults), faults[0].message.as_str()),
        (vec![(1, 0)], "more than 200 columns")
    );
}

#[test]
fn too_many_rows_are_refused() {
    let mut text = String::from("time_s,mass_g\n");
    text += &"1,2\n".repeat(MAX_ROWS + 1);
    let faults = refused(text.as_bytes(), &mapping("time", &[("mass", "g")]));
    assert_eq!(places(&faults), [(MAX_ROWS + 2, 0)]);
}

#[test]
fn long_files_are_refused() {
    let faults = refused(
        &vec![b' '; MAX_BYTES + 1],
        &mapping("time", &[("mass", "g")]),
    );
    assert_eq!(faults[0].message, "the file is longer than 256 MiB");
}

#[test]
fn faults_are_told_up_to_a_number() {
    let text = format!("time_s,mass_g\n{}", "0,x\n".repeat(1000));
    assert_eq!(
        refused(text.as_bytes(), &mapping("time", &[("mass", "g")])).len(),
        50
    );
}
