//! Files that are read, and what must come out.

use stepwell::trace::{ColumnChoice, Header, Oddity, Separator, TimeForm, Trace, Zero, read};

use super::{COMMA, POINT, file, mapping, taken, unit};

/// The mass of all plain files is 0.21 g more every half minute; to the last digits of a double, in kg.
fn is_plain_mass(values: &[f64]) -> bool {
    let right = [0.0, 0.21e-3, 0.42e-3, 0.63e-3];
    values.len() == 4
        && values
            .iter()
            .zip(right)
            .all(|(v, r)| (v - r).abs() <= 1e-18)
}

fn oddities(trace: &Trace) -> Vec<Oddity> {
    trace.observations.iter().map(|o| o.oddity).collect()
}

#[test]
fn separators_and_decimal_signs_are_found() {
    for (name, time, mass, separator, sign) in [
        ("comma_point.csv", "time", "mass", Separator::Comma, POINT),
        (
            "semicolon_comma.csv",
            "Zeit",
            "Masse [g]",
            Separator::Semicolon,
            COMMA,
        ),
        ("tab_point.csv", "time", "mass", Separator::Tab, POINT),
        ("comma_point.csv", "1", "2", Separator::Comma, POINT),
        ("semicolon_comma.csv", "1", "2", Separator::Semicolon, COMMA),
    ] {
        let trace = taken(name, &mapping(time, &[(mass, "mg")]));
        assert_eq!(trace.times, [0.0, 30.0, 60.0, 90.0], "{name}");
        assert!(
            is_plain_mass(&trace.column(mass).expect("the column").values),
            "{name}"
        );
        assert_eq!(
            (trace.separator, trace.decimal),
            (separator, sign),
            "{name}"
        );
        assert_eq!(trace.columns[0].written_in, unit("g"), "{name}");
        assert_eq!(
            (trace.heading_row, trace.columns[0].number),
            (1, 2),
            "{name}"
        );
        assert!(
            trace.observations.is_empty(),
            "{name}: {:?}",
            trace.observations
        );
    }
}

#[test]
fn preamble_byte_order_mark_and_blank_rows_are_passed_over() {
    let trace = taken("preamble_bom_crlf.csv", &mapping("time", &[("mass", "g")]));
    assert_eq!(trace.times, [0.0, 30.0, 60.0, 90.0]);
    assert!(is_plain_mass(&trace.columns[0].values));
    assert_eq!(
        (trace.heading_row, trace.columns[0].heading.as_str()),
        (5, "Mass [g]")
    );
    let mut stated = mapping("time", &[("mass", "g")]);
    stated.header = Header::Line(5);
    assert_eq!(taken("preamble_bom_crlf.csv", &stated).times, trace.times);
}

#[test]
fn clock_times_are_read() {
    let trace = taken(
        "hours_minutes_seconds.csv",
        &mapping("t", &[("m", "g"), ("q", "mL/h")]),
    );
    assert_eq!(trace.times, [0.0, 30.0, 60.0, 90.0]);
    assert!(is_plain_mass(&trace.columns[0].values));
    assert_eq!(trace.columns[1].values[0], 25.0 / 3.6e9);
    assert_eq!(
        (oddities(&trace), &trace.zero),
        (vec![Oddity::UnitTaken], &Zero::AsWritten)
    );
    let mut minutes = mapping("t", &[("Mass", "g")]);
    let trace = taken("minutes_seconds.csv", &minutes);
    assert_eq!(trace.times, [3540.0, 3570.0, 3600.0, 3630.5]);
    assert_eq!(oddities(&trace)[0], Oddity::MinutesTaken);
    minutes.time.form = Some(TimeForm::MinutesSeconds);
    assert_eq!(
        oddities(&taken("minutes_seconds.csv", &minutes)),
        [Oddity::UnevenSpacing]
    );
}

#[test]
fn timestamps_count_from_the_first_row() {
    let trace = taken("timestamps.csv", &mapping("stamp", &[("mass", "g")]));
    assert_eq!(trace.times, [0.0, 30.0, 60.0, 90.25]);
    assert!(is_plain_mass(&trace.columns[0].values));
    assert_eq!(trace.zero, Zero::FirstRow("2026-03-09 23:59:30".to_owned()));
    let trace = taken("timestamps_offset.csv", &mapping("stamp", &[("mass", "g")]));
    assert_eq!(trace.times, [0.0, 30.0, 60.0]);
}

#[test]
fn latin1_signs_of_units_are_taken() {
    let wanted = [("temp", "degC"), ("vol", "mL"), ("flow", "mL/h")];
    let trace = taken("latin1_units.csv", &mapping("time", &wanted));
    assert_eq!(trace.times, [0.0, 1800.0, 3600.0]);
    assert_eq!(trace.columns[0].values[0], 20.5 + 273.15);
    assert_eq!(trace.columns[1].values, [0.0, 12.5e-6, 25e-6]);
    assert_eq!(trace.columns[2].values[2], 25.0 / 3.6e9);
}

#[test]
fn files_without_headings_go_by_number() {
    let mut numbered = mapping("1", &[("3", "g")]);
    numbered.time.form = Some(TimeForm::Number(unit("s")));
    for header in [Header::Find, Header::None] {
        numbered.header = header;
        let trace = taken("no_headings.csv", &numbered);
        assert_eq!((trace.times[2], trace.columns[0].values[2]), (60.0, 0.7e-3));
        assert_eq!(
            (trace.heading_row, oddities(&trace)),
            (0, vec![Oddity::UnitTaken])
        );
    }
}

#[test]
fn the_line_of_the_headings_may_be_stated() {
    let mut stated = mapping("time", &[("pressure", "psi")]);
    let trace = taken("two_headings.csv", &stated);
    assert_eq!((trace.heading_row, trace.columns[0].values[1]), (4, 2500.0));
    stated.header = Header::Line(4);
    assert_eq!(taken("two_headings.csv", &stated).rows(), 2);
}

#[test]
fn what_is_odd_is_told_with_its_row() {
    let trace = taken("odd.csv", &mapping("time", &[("mass", "g")]));
    assert_eq!(trace.times, [0.0, 30.0, 60.0, 60.0, 300.0, 330.0, 365.0]);
    let told: Vec<_> = trace
        .observations
        .iter()
        .map(|o| (o.oddity, o.row, o.column, o.count))
        .collect();
    assert_eq!(
        told,
        [
            (Oddity::Gaps, 6, 1, 1),
            (Oddity::SameTimes, 5, 1, 1),
            (Oddity::UnevenSpacing, 8, 1, 1),
            (Oddity::Falls, 3, 2, 3),
        ]
    );
    assert_eq!(trace.observations[0].largest, 240.0);
    assert!((trace.observations[3].largest - 0.1e-3).abs() < 1e-12);
    assert_eq!(
        trace.observations[3].message,
        "3 readings lower than the one before, by up to 0.1 g; the first in row 3"
    );
}

/// Rows far into a file are found again, blank rows counted.
#[test]
fn rows_are_numbered_as_in_the_file() {
    let mut text = String::from("time_s,mass_g\r\n\r\n");
    for second in 0..5000 {
        let shift = if second >= 4321 { 10 } else { 0 };
        text += &format!("{},{second}.5\r\n", second + shift);
        if second % 1000 == 0 {
            text += "\r\n";
        }
    }
    let trace = read(text.as_bytes(), &mapping("time", &[("mass", "g")])).expect("sound");
    assert_eq!(trace.rows(), 5000);
    // Two lines before the readings, and five blank ones among them.
    assert_eq!(trace.observations[0].row, 2 + 4321 + 5 + 1);
}

#[test]
fn a_stated_unit_goes_before_the_heading() {
    let mut stated = mapping("time", &[("mass", "g")]);
    stated.columns[0].written_in = Some(unit("mg"));
    let trace = taken("comma_point.csv", &stated);
    assert!((trace.columns[0].values[3] - 0.63e-6).abs() <= 1e-21);
    assert_eq!(oddities(&trace), [Oddity::UnitStated]);
    stated.columns[0].column = ColumnChoice::Heading("mass_g".to_owned());
    assert!(read(&file("comma_point.csv"), &stated).is_ok());
}

#[test]
fn a_stated_decimal_sign_ends_doubt() {
    let mut doubtful = mapping("time", &[("mass", "g")]);
    doubtful.decimal = Some(POINT);
    assert_eq!(
        taken("doubtful.csv", &doubtful).columns[0].values[0],
        12.345e-3
    );
    // With commas between cells a point can only be decimal.
    let commas = b"time_s,mass_g\n0,12.345\n30,12.350\n";
    assert!(read(commas, &mapping("time", &[("mass", "g")])).is_ok());
}

/// Bars and runs of blanks part cells; blanks only where nothing else does.
#[test]
fn bars_and_blanks_part_cells() {
    let read_as = |text: &str, time: &str, mass: &str| {
        let mapping = mapping(time, &[(mass, "g")]);
        read(text.as_bytes(), &mapping).unwrap_or_else(|faults| panic!("{text}: {faults:?}"))
    };
    for (text, time, mass, separator) in [
        ("time_s|mass_g\n0|1\n30|2\n", "time", "mass", Separator::Bar),
        (
            "time_s | mass_g\n0 | 1\n30 | 2\n",
            "time",
            "mass",
            Separator::Bar,
        ),
        (
            "time_s mass_g\n 0   1\n30   2\n",
            "time",
            "mass",
            Separator::Blanks,
        ),
        (
            "Time (s) Mass (g)\n0 1\n30 2\n",
            "Time",
            "Mass",
            Separator::Blanks,
        ),
        (
            "Run time (s)   Net mass (g)\n0  1\n30  2\n",
            "Run time",
            "Net mass",
            Separator::Blanks,
        ),
        ("s g\n0 1\n30 2\n", "1", "2", Separator::Blanks),
        (
            "time_s ; mass_g\n0 ; 1\n30 ; 2\n",
            "time",
            "mass",
            Separator::Semicolon,
        ),
    ] {
        let trace = read_as(text, time, mass);
        assert_eq!(trace.separator, separator, "{text}");
        assert_eq!(trace.times, [0.0, 30.0], "{text}");
        assert_eq!(trace.columns[0].values, [0.001, 0.002], "{text}");
        assert!(
            trace.observations.is_empty(),
            "{text}: {:?}",
            trace.observations
        );
    }
    let stamped = read_as(
        "\"Time\"  mass_g\n\"2026-03-09 08:12:40\" 1\n\"2026-03-09 08:13:10\" 2\n",
        "Time",
        "mass",
    );
    assert_eq!(stamped.times, [0.0, 30.0]);
}

#[test]
fn headings_may_tell_a_form_of_time_or_be_a_unit() {
    let text = b"Elapsed (mm:ss);kg\n00:00;1\n00:30;2\n";
    let trace = read(text, &mapping("Elapsed", &[("kg", "g")])).expect("a trace");
    assert_eq!(
        (&trace.times[..], &trace.columns[0].values[..]),
        (&[0.0, 30.0][..], &[1.0, 2.0][..])
    );
    assert_eq!(oddities(&trace), [Oddity::MinutesTaken]);
    // `m` may be a metre, but not where a mass is wanted.
    let trace = read(b"s;m\n0;1\n30;2\n", &mapping("s", &[("m", "g")])).expect("a trace");
    assert_eq!(trace.columns[0].values, [0.001, 0.002]);
    assert_eq!(oddities(&trace), [Oddity::UnitTaken]);
}

#[test]
fn one_is_told_as_one() {
    let text = b"time_s;mass_g\n0;1\n1;2\n2;1.5\n3;4\n9;5\n";
    let trace = read(text, &mapping("time", &[("mass", "g")])).expect("a trace");
    let told: Vec<&str> = trace
        .observations
        .iter()
        .map(|o| o.message.as_str())
        .collect();
    assert_eq!(
        told,
        [
            "1 gap in time of 6 s where 1 s is usual; in row 6",
            "1 reading lower than the one before, by 0.5 g; in row 4"
        ]
    );
}
