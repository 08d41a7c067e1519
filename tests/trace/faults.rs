//! Files that are refused, with row, column and what to do.

use stepwell::trace::{Header, TimeForm};

use super::{COMMA, file, mapping, places, refused, unit};

#[test]
fn every_bad_cell_has_its_place() {
    let faults = refused(&file("faulty.csv"), &mapping("time", &[("mass", "g")]));
    assert_eq!(places(&faults), [(3, 2), (4, 1), (4, 2), (5, 4), (6, 2)]);
    assert_eq!(faults[0].message, "`x1` is not a number");
    assert_eq!(faults[1].message, "the time `20` is before the one above");
    assert_eq!(faults[2].message, "an empty cell where a number should be");
    assert_eq!(faults[3].message, "4 cells below 3 headings");
    assert_eq!(
        faults[4].to_string().split(';').next(),
        Some("row 6, column 2 `mass_g`: `1.2.3` is not a number")
    );
}

#[test]
fn a_missing_column_has_its_nearest_heading() {
    let faults = refused(
        &file("preamble_bom_crlf.csv"),
        &mapping("time", &[("Masse", "g")]),
    );
    assert_eq!(places(&faults), [(5, 0)]);
    assert_eq!(faults[0].message, "there is no column `Masse`");
    assert_eq!(
        faults[0].help,
        "the nearest heading is `Mass [g]`; separators looked for: semicolon"
    );
    let faults = refused(b"time_s,mass_g\n0,1\n", &mapping("time", &[("Masse", "g")]));
    let help = "the nearest heading is `mass_g`; separators looked for: comma, semicolon, tab, bar, blanks";
    assert_eq!(faults[0].help, help);
    let faults = refused(&file("comma_point.csv"), &mapping("time", &[("7", "g")]));
    assert_eq!(faults[0].message, "there is no column 7, the row has 2");
    let faults = refused(
        b"time_s,mass_g,mass_kg\n0,1,1\n",
        &mapping("time", &[("mass", "g")]),
    );
    assert_eq!(faults[0].message, "more than one heading fits `mass`");
}

#[test]
fn units_of_another_kind_are_refused() {
    let faults = refused(
        &file("faulty.csv"),
        &mapping("time", &[("mass", "mL"), ("pressure", "kPa")]),
    );
    assert_eq!(places(&faults), [(1, 2), (1, 3)]);
    assert_eq!(
        faults[0].message,
        "`mass` is in g, of kind mass, where mL of kind volume is wanted"
    );
    let faults = refused(b"t_kPa,m_g\n0,1\n", &mapping("t", &[("m", "g")]));
    assert_eq!(
        faults[0].message,
        "times can't be in kPa, which is of kind pressure"
    );
}

#[test]
fn what_is_ambiguous_has_to_be_stated() {
    let faults = refused(&file("doubtful.csv"), &mapping("time", &[("mass", "g")]));
    assert_eq!(places(&faults), [(2, 2)]);
    assert!(faults[0].help.contains("decimal: \".\""));
    let faults = refused(b"t,m_g\n0,1\n", &mapping("t", &[("m", "g")]));
    assert_eq!(faults[0].message, "the heading names no unit of time");
    let faults = refused(
        &file("split_commas.csv"),
        &mapping("time", &[("mass", "g")]),
    );
    assert_eq!(places(&faults), [(2, 3), (3, 3)]);
    assert!(faults[0].help.contains("semicolons"));
    // All of these could be parted at either sign.
    let both = refused(b"1,2;3,4\n2,3;4,5\n", &mapping("1", &[("4", "g")]));
    assert_eq!(both.len(), 1);
}

#[test]
fn a_wrong_decimal_sign_is_not_bent() {
    let mut stated = mapping("time", &[("mass", "g")]);
    stated.decimal = Some(COMMA);
    let faults = refused(&file("comma_point.csv"), &stated);
    assert_eq!(places(&faults)[..2], [(2, 2), (3, 2)]);
    assert!(faults[0].help.contains("decimal sign `,`"));
    // The sign that the first sure cell shows holds for all.
    let mixed = b"time_s;mass_g\n0;0,5\n30;1.234,5\n60;0.7\n";
    assert_eq!(
        places(&refused(mixed, &mapping("time", &[("mass", "g")]))),
        [(3, 2), (4, 2)]
    );
}

#[test]
fn times_have_one_form() {
    let clock = |text: &str| refused(text.as_bytes(), &mapping("t", &[("m", "g")]));
    let faults = clock("t,m_g\n23:59:30,0\n00:00:00,1\n");
    assert_eq!(places(&faults), [(3, 1)]);
    assert!(faults[0].help.contains("midnight"));
    for rows in [
        "00:00:00,0\n00:60:00,1",
        "00:00:00,0\n5,1",
        "2026-03-09 08:00:00,0\n2026-02-30 08:00:00,1",
        "2026-03-09T08:00:00Z,0\n2026-03-09T08:01:00,1",
        "2026-03-09 08:00:00,0\n09.03.2026 08:01:00,1",
        "2026-03-09 08:00:00,0\n2026-03-09 24:00:00,1",
    ] {
        assert_eq!(
            places(&clock(&format!("t,m_g\n{rows}\n"))),
            [(3, 1)],
            "{rows}"
        );
    }
    let mut stated = mapping("t", &[("m", "g")]);
    stated.time.form = Some(TimeForm::Number(unit("g")));
    assert_eq!(refused(b"t,m_g\n0,1\n", &stated).len(), 1);
}

#[test]
fn what_is_no_log_is_refused() {
    let plain = mapping("time", &[("mass", "g")]);
    let said = |bytes: &[u8]| refused(bytes, &plain)[0].message.clone();
    assert_eq!(said(b""), "the file is empty");
    assert_eq!(said(b"\xEF\xBB\xBF \r\n\n"), "the file is empty");
    assert_eq!(said(b"time_s,mass_g\n\n"), "no readings below the headings");
    assert_eq!(said(b"\xFF\xFEt\0"), "the file is UTF-16");
    assert_eq!(said(b"\0\0\0\0"), "there is no column `time`");
    assert_eq!(
        said(b"time_s,mass \xe4 [g]\n0,1\n"),
        "there is no column `mass`"
    );
    let bad = refused(b"time_s,mass_g\n0,1\n1,\xe42\n", &plain);
    assert_eq!(
        (places(&bad), bad[0].message.as_str()),
        (vec![(3, 2)], "not UTF-8")
    );
    let bad = refused(
        b"time_s,mass_\xe4\n0,1\n",
        &mapping("time", &[("mass_\u{e4}", "g")]),
    );
    assert_eq!(
        (places(&bad), bad[0].message.as_str()),
        (vec![(1, 2)], "not UTF-8")
    );
    let mut none = plain.clone();
    none.header = Header::None;
    assert_eq!(refused(b"0,1\n", &none).len(), 1);
    none.header = Header::Line(9);
    assert_eq!(
        refused(b"0,1\n", &none)[0].message,
        "there is no line 9 to take headings from"
    );
    none.columns.clear();
    assert_eq!(refused(b"0,1\n", &none)[0].message, "0 columns are wanted");
}
