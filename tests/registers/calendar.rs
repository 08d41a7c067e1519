//! Calendar arithmetic against outside values, and intervals that can't be read.
//!
//! Never in here: what is due. Changes when intervals are written otherwise.

use jiff::civil::Date;
use stepwell::shop::{Interval, Unit, read_days, read_intervals};

/// Days and weeks: Python 3 `datetime.timedelta`. Months and years: the rule of Python's `dateutil.relativedelta`, worked
/// by calendar: the same day of the month, or the last one where there is none.
const CASES: [(&str, &str, &str); 14] = [
    ("2023-01-31", "1 month", "2023-02-28"),
    ("2024-01-31", "1 month", "2024-02-29"),
    ("2024-02-29", "1 year", "2025-02-28"),
    ("2024-02-29", "4 years", "2028-02-29"),
    ("2000-02-29", "100 years", "2100-02-28"),
    ("2025-08-31", "6 months", "2026-02-28"),
    ("2025-12-31", "2 months", "2026-02-28"),
    ("2026-03-31", "1 month", "2026-04-30"),
    ("2026-02-28", "12 months", "2027-02-28"),
    ("2025-11-03", "90 days", "2026-02-01"),
    ("2024-02-01", "29 days", "2024-03-01"),
    ("2026-01-01", "26 weeks", "2026-07-02"),
    ("2024-12-31", "1 week", "2025-01-07"),
    ("2025-03-18", "12", "2026-03-18"),
];

#[test]
fn the_next_day_is_that_of_the_calendar() {
    for (from, interval, wanted) in CASES {
        let from: Date = from.parse().expect("a day");
        let read = Interval::parse(interval, Unit::Months).expect("an interval");
        let next = read.after(from).expect("a day");
        assert_eq!(next.to_string(), wanted, "{from} and {interval}");
    }
}

#[test]
fn intervals_are_one_or_one_a_recipe() {
    for (text, shown) in [
        ("", ""),
        ("12", "12 months"),
        ("1 Year", "1 year"),
        ("26weeks", "26 weeks"),
        ("90 d", "90 days"),
        (
            "volumetric-annual 12 months; battery-check 6 mo;",
            "volumetric-annual 12 months; battery-check 6 months",
        ),
        ("battery-check 6", "battery-check 6 months"),
    ] {
        let read = read_intervals(text, Unit::Months).expect("intervals");
        assert_eq!(read.to_string(), shown);
    }
    for text in [
        "yearly",
        "0",
        "12 moons",
        "-3",
        "1.5 years",
        "101 years",
        "12; 6",
        "a 12; a 6",
        "12 months; a 6",
        "4294967296 days",
    ] {
        assert!(read_intervals(text, Unit::Months).is_err(), "{text}");
    }
}

#[test]
fn days_are_one_or_one_a_recipe() {
    let read = read_days("a 2026-01-31; b-2 2025-12-01").expect("days");
    assert_eq!(read.to_string(), "a 2026-01-31; b-2 2025-12-01");
    for text in [
        "2026-02-29",
        "31.01.2026",
        "1899-12-31",
        "2200-01-01",
        "soon",
    ] {
        assert!(read_days(text).is_err(), "{text}");
    }
}
