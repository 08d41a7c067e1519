//! Flow tests after IEC 60601-2-24, and infusion arithmetic, against independently computed values.
//!
//! The formulas are from memory, as each row's `evidence` says: the rows prove the arithmetic. Never in here: reading
//! files, which `tests/trace` proves. Changes when a figure is added.

use std::fs;

use serde_json::Value;
use stepwell::maths::flow::{
    Allowed, Delivery, FlowFault, Level, Period, alarm_time, bolus_series,
    corrected_for_evaporation, first_passing, flow_error, occlusion, peak, resample, trumpet,
    volumes_from_masses, window_count,
};
use stepwell::maths::rates;

const FOLDER: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/oracle/data/");

/// One minute, in s.
const MIN: f64 = 60.0;
/// One millilitre in an hour, in m³/s.
const ML_H: f64 = 1e-6 / 3600.0;
/// One millilitre, in m³.
const ML: f64 = 1e-6;
/// Density of the test liquid in kg/m³ (0.998 g/mL).
const DENSITY: f64 = 998.0;
/// The set rate of the example, in m³/s.
const RATE: f64 = 25.0 * ML_H;

fn json(name: &str) -> Value {
    let text = fs::read_to_string(format!("{FOLDER}{name}")).expect("a readable file");
    serde_json::from_str(&text).expect("JSON")
}

fn id(row: &Value) -> &str {
    row["id"].as_str().expect("an id")
}

/// The rows of a prefix; as many as were counted by hand.
fn rows(prefix: &str, count: usize) -> Vec<Value> {
    let Value::Array(all) = json("checks.json") else {
        panic!("a list of checks")
    };
    let rows: Vec<Value> = all
        .into_iter()
        .filter(|r| id(r).starts_with(prefix))
        .collect();
    assert_eq!(rows.len(), count, "rows of {prefix}");
    rows
}

fn row(name: &str) -> Value {
    rows(name, 1).remove(0)
}

fn number(value: &Value) -> f64 {
    let text = || value.as_str().and_then(|t| t.parse().ok());
    value.as_f64().or_else(text).expect("a number")
}

fn input(row: &Value, name: &str) -> f64 {
    number(&row["inputs"][name])
}

/// The number in an id behind the last prefix, as in `c.m.19`.
fn window(row: &Value, prefix: &str) -> f64 {
    id(row)[prefix.len()..].parse().expect("minutes")
}

/// Compares with the expected value, and with the printed one where there is one.
fn near(row: &Value, found: f64) {
    for (value, tolerance) in [
        ("expected", "tolerance"),
        ("published_value", "published_tolerance"),
    ] {
        if row[value].is_null() {
            assert_eq!(value, "published_value", "{} expects a number", id(row));
            continue;
        }
        let value = number(&row[value]);
        let tolerance = number(&row[tolerance]);
        assert!(
            (found - value).abs() <= tolerance,
            "{}: {found} is not {value} to {tolerance}; source: {}",
            id(row),
            row["source"]
        );
    }
}

/// Times in s and masses in kg of the example; the masses are authoritative.
fn example() -> (Vec<f64>, Vec<f64>) {
    let mut reader =
        csv::Reader::from_path(format!("{FOLDER}trumpet_example.csv")).expect("a file");
    let cell = |r: &csv::StringRecord, i: usize| r[i].parse::<f64>().expect("a number");
    let rows: Vec<csv::StringRecord> = reader.records().map(|r| r.expect("a row")).collect();
    assert_eq!(rows.len(), 121);
    rows.iter()
        .map(|r| (cell(r, 1) * MIN, cell(r, 2) / 1000.0))
        .unzip()
}

/// Runs with the delivery of the example.
fn with_example(run: impl FnOnce(&Delivery<'_>)) {
    let (times, masses) = example();
    let volumes = volumes_from_masses(&masses, DENSITY).expect("sound masses");
    run(&Delivery::new(&times, &volumes, Allowed::default()).expect("a sound delivery"));
}

#[test]
fn trumpet_of_the_checks() {
    with_example(|delivery| {
        let ends = |row: &Value, prefix: &str| {
            let windows = [window(row, prefix) * MIN];
            trumpet(delivery, delivery.whole(), RATE, &windows).expect("a sound window")[0]
        };
        for row in rows("c.Ep_max.", 7) {
            near(&row, ends(&row, "c.Ep_max.").largest.error);
        }
        for row in rows("c.Ep_min.", 3) {
            near(&row, ends(&row, "c.Ep_min.").smallest.error);
        }
        let all = delivery.portion(delivery.whole()).expect("all of it");
        near(
            &row("c.A"),
            flow_error(all.mean_flow(), RATE).expect("a rate"),
        );
        let flows: Vec<f64> = delivery
            .flows()
            .expect("equidistant")
            .iter()
            .map(|q| q / ML_H)
            .collect();
        near(&row("c.Q.first"), flows[0]);
        near(&row("c.Q.max"), peak(&flows).expect("flows").value);
        near(
            &row("c.Q.min"),
            flows.iter().copied().fold(f64::INFINITY, f64::min),
        );
        near(&row("c.Q.mean"), all.mean_flow() / ML_H);
    });
}

/// Every window of the example, to 1e-9 % and with its first window numbers.
#[test]
fn trumpet_of_the_example() {
    let expected = json("trumpet_example_expected.json");
    let windows = expected["windows"].as_object().expect("windows");
    let minutes: Vec<f64> = windows
        .keys()
        .map(|k| k.parse().expect("minutes"))
        .collect();
    assert_eq!(minutes.len(), 8);
    with_example(|delivery| {
        let seconds: Vec<f64> = minutes.iter().map(|m| m * MIN).collect();
        let points = trumpet(delivery, delivery.whole(), RATE, &seconds).expect("sound windows");
        for (point, row) in points.iter().zip(windows.values()) {
            let steps = (point.window / (0.5 * MIN)).round() as usize;
            assert_eq!(point.count as u64, row["m"].as_u64().expect("m"));
            for (extreme, error, first) in [
                (point.largest, "Ep_max_pct", "first_window_index_of_max"),
                (point.smallest, "Ep_min_pct", "first_window_index_of_min"),
            ] {
                let at = format!("{error} at {} s", point.window);
                assert!((extreme.error - number(&row[error])).abs() <= 1e-9, "{at}");
                assert_eq!(
                    extreme.window as u64,
                    row[first].as_u64().expect("a number"),
                    "{at}"
                );
                assert_eq!(
                    extreme.ends,
                    (extreme.window - 1, extreme.window - 1 + steps),
                    "{at}"
                );
            }
        }
    });
}

/// Flows 10, 12, 8, 10 mL/h at r = 10 mL/h and S = 0.5 min, checked by hand in the design: ±20 %, ±10 %, 0 %.
#[test]
fn trumpet_by_hand() {
    let times: Vec<f64> = (0..5).map(|i| f64::from(i) * 0.5 * MIN).collect();
    let mut volumes = vec![0.0];
    for flow in [10.0, 12.0, 8.0, 10.0] {
        volumes.push(volumes[volumes.len() - 1] + flow * ML_H * 0.5 * MIN);
    }
    let delivery = Delivery::new(&times, &volumes, Allowed::default()).expect("sound");
    let windows = [0.5 * MIN, MIN, 2.0 * MIN];
    let points = trumpet(&delivery, delivery.whole(), 10.0 * ML_H, &windows).expect("sound");
    near(&row("c.tiny.max.0.5"), points[0].largest.error);
    near(&row("c.tiny.min.0.5"), points[0].smallest.error);
    near(&row("c.tiny.max.2"), points[2].largest.error);
    let by_hand = [(20.0, 2, -20.0, 3), (10.0, 1, -10.0, 3), (0.0, 1, 0.0, 1)];
    for (point, (max, first_max, min, first_min)) in points.iter().zip(by_hand) {
        assert!((point.largest.error - max).abs() < 1e-12);
        assert!((point.smallest.error - min).abs() < 1e-12);
        assert_eq!(
            (point.largest.window, point.smallest.window),
            (first_max, first_min)
        );
    }
}

#[test]
fn windows_are_counted() {
    for row in rows("c.m.", 4) {
        let lengths = ["T_min", "P_min", "S_min"].map(|name| input(&row, name));
        let count = window_count(lengths[0], lengths[1], lengths[2]).expect("sound lengths");
        near(&row, count as f64);
    }
}

#[test]
fn what_has_no_result_is_refused() {
    let count = |row: &Value| {
        window_count(
            input(row, "T_min"),
            input(row, "P_min"),
            input(row, "S_min"),
        )
    };
    assert!(matches!(
        count(&row("c.err.P_gt_T")),
        Err(FlowFault::WindowTooLong { .. })
    ));
    assert!(matches!(
        count(&row("c.err.P_not_multiple")),
        Err(FlowFault::NotMultiple { .. })
    ));
    assert!(flow_error(1.0, input(&row("c.err.rate_zero"), "r")).is_err());
    let irregular = row("c.err.irregular_time");
    let times: Vec<f64> = irregular["inputs"]["time_min"]
        .as_array()
        .expect("times")
        .iter()
        .map(number)
        .collect();
    let delivery = Delivery::new(&times, &[0.0, 1.0, 2.0], Allowed::default()).expect("sound");
    assert!(matches!(
        delivery.flows(),
        Err(FlowFault::NotEquidistant { at: 2, .. })
    ));
    assert!(trumpet(&delivery, delivery.whole(), 1.0, &[0.5]).is_err());
    assert_eq!(row("c.err.one_reading")["expected"], "error");
    let one = Delivery::new(&[0.0], &[1.0], Allowed::default());
    assert!(matches!(
        one,
        Err(FlowFault::TooFew {
            readings: 1,
            needed: 2
        })
    ));
}

#[test]
fn boluses_and_occlusion() {
    let series = row("c.bolus.max_neg");
    let volumes: Vec<f64> = series["inputs"]["volumes_mL"]
        .as_array()
        .expect("volumes")
        .iter()
        .map(number)
        .collect();
    let found = bolus_series(&volumes, input(&series, "set_mL")).expect("sound");
    assert!(found.is_long_enough());
    let lowest = found.largest_negative.expect("some are below");
    near(&series, lowest.percent);
    // By hand: the list's lowest is the sixth, its highest the fifth, its sum 24.999.
    assert_eq!(lowest.index, 5);
    let highest = found.largest_positive.expect("some are above");
    assert!((highest.percent - 2.1).abs() < 1e-10 && highest.index == 4);
    assert!((found.mean - 24.999 / 25.0).abs() < 1e-12 && (found.mean_error + 0.004).abs() < 1e-9);

    let after = row("c.bolus.postocclusion");
    let volume = volumes_from_masses(&[input(&after, "collected_g")], input(&after, "d_g_per_mL"));
    near(&after, volume.expect("sound")[0]);

    let theory = row("c.occl.time_theory");
    let compliance = input(&theory, "compliance_uL_per_mmHg") * 1e-9 / 133.322_387_415;
    let threshold = input(&theory, "threshold_mmHg") * 133.322_387_415;
    let time = alarm_time(compliance, threshold, input(&theory, "rate_mL_h") * ML_H);
    near(&theory, time.expect("sound"));
}

#[test]
fn drops_and_emptying() {
    for row in rows("k.gtt.1", 2) {
        let flow = input(&row, "volume_mL") / input(&row, "time_min");
        near(
            &row,
            rates::drip_rate(flow, input(&row, "drop_factor")).expect("sound"),
        );
    }
    for row in rows("k.gtt.whole.", 2) {
        let flow = input(&row, "volume_mL") / input(&row, "time_min");
        let drops = rates::drip_rate(flow, input(&row, "drop_factor")).expect("sound");
        near(&row, rates::whole_drops(drops).expect("sound"));
    }
    let per_min = |row: &Value| {
        let flow = input(row, "rate_mL_h") * ML_H;
        rates::drip_rate(flow, input(row, "drop_factor") / ML).expect("sound") * MIN
    };
    rows("k.rate.", 15)
        .iter()
        .for_each(|row| near(row, per_min(row)));
    let half = row("k.gtt.half");
    near(&half, rates::whole_drops(per_min(&half)).expect("sound"));
    for row in rows("k.empty.", 4) {
        let flow = input(&row, "rate_mL_h") * ML_H;
        let time = rates::time_to_empty(input(&row, "volume_mL") * ML, flow).expect("sound");
        near(&row, time / MIN);
    }
    let test = row("k.test_time");
    let flow = input(&test, "rate_mL_h") * ML_H;
    let time = rates::time_to_empty(input(&test, "target_volume_mL") * ML, flow);
    near(&test, time.expect("sound") / MIN);
    let measured = row("k.meas.rate");
    let times = [0.0, input(&measured, "time_min") * MIN];
    let volumes = [0.0, input(&measured, "collected_mL") * ML];
    let delivery = Delivery::new(&times, &volumes, Allowed::default()).expect("sound");
    let portion = delivery.portion(delivery.whole()).expect("all of it");
    near(&measured, portion.mean_flow() / ML_H);
}

#[test]
fn ramps_and_steps() {
    let ramp = |row: &Value| {
        (
            input(row, "from_mL_h") * ML_H,
            input(row, "to_mL_h") * ML_H,
            input(row, "ramp_min") * MIN,
        )
    };
    let volume = row("k.ramp.volume");
    let (from, to, duration) = ramp(&volume);
    near(
        &volume,
        rates::ramp_volume(from, to, duration).expect("sound") / ML,
    );
    let at = row("k.ramp.rate_at");
    let (from, to, duration) = ramp(&at);
    let flow = rates::ramp_flow_at(from, to, duration, input(&at, "t_min") * MIN);
    near(&at, flow.expect("sound") / ML_H);
    let taper = row("k.ramp.taper");
    let plateau = input(&taper, "plateau_mL_h") * ML_H;
    let up = rates::ramp_volume(0.0, plateau, input(&taper, "up_min") * MIN).expect("sound");
    let down = rates::ramp_volume(plateau, 0.0, input(&taper, "down_min") * MIN).expect("sound");
    let flat =
        rates::stepped_volume(&[(plateau, input(&taper, "plateau_min") * MIN)]).expect("sound");
    near(&taper, (up + flat + down) / ML);
    let steps = |row: &Value| -> Vec<(f64, f64)> {
        let list = row["inputs"]["steps"].as_array().expect("steps");
        list.iter()
            .map(|s| (number(&s[0]) * ML_H, number(&s[1]) * MIN))
            .collect()
    };
    let [all, mean] = &rows("k.steps", 2)[..] else {
        panic!("two rows of steps")
    };
    near(all, rates::stepped_volume(&steps(all)).expect("sound") / ML);
    near(
        mean,
        rates::stepped_mean(&steps(mean)).expect("sound") / ML_H,
    );
}

#[test]
fn doses_and_syringes() {
    let dose = row("k.dose.mcgkgmin");
    let flow = rates::flow_for_dose(
        input(&dose, "dose_ug_kg_min") * 1e-9 / MIN,
        input(&dose, "mass_kg"),
        input(&dose, "conc_mg_mL"),
    )
    .expect("sound");
    near(&dose, flow / ML_H);
    let units = row("k.dose.units_h");
    let concentration = input(&units, "bag_U") / input(&units, "bag_mL");
    near(
        &units,
        rates::flow_for_dose(input(&units, "dose_U_h"), 1.0, concentration).expect("sound"),
    );
    let speed = row("k.syringe.speed");
    let flow = input(&speed, "rate_mL_h") * ML_H;
    let found = rates::syringe_speed(flow, input(&speed, "inner_diameter_mm") / 1000.0);
    near(&speed, found.expect("sound") * 1000.0 * 3600.0);
    let sensitivity = row("k.syringe.diam_sens");
    let found = rates::flow_error_of_diameter(input(&sensitivity, "diameter_error_pct"));
    near(&sensitivity, found.expect("sound"));
}

/// By hand: 10 Pa steps every second, occluded at 2 s, alarm at 5.5 s, a peak behind it that doesn't count.
#[test]
fn occlusion_by_hand() {
    let times: Vec<f64> = (0..9).map(f64::from).collect();
    let pressures = [90.0, 0.0, 10.0, 40.0, 30.0, 40.0, 80.0, 20.0, 0.0];
    let found = occlusion(&times, &pressures, 2.0, 5.5).expect("sound");
    assert_eq!(
        (found.threshold, found.index, found.time_to_alarm),
        (40.0, 3, 3.5)
    );
    assert!(occlusion(&times, &pressures, 5.0, 4.0).is_err());
    assert!(occlusion(&times, &pressures, 2.0, 8.5).is_err());
    assert!(occlusion(&times, &pressures, 2.1, 2.9).is_err());
    let first = |level| first_passing(&pressures, level, 1).map(|s| s.index);
    assert_eq!(first(Level::AtLeast(40.0)), Some(3));
    assert_eq!(first(Level::Above(40.0)), Some(6));
    assert_eq!(first(Level::AtMost(0.0)), Some(1));
    assert_eq!(first(Level::Below(0.0)), None);
}

/// By hand: 3 h at 1 m³/s but for 2 m³/s in the last; readings every half minute.
#[test]
fn periods_by_hand() {
    let times: Vec<f64> = (0..=360).map(|i| f64::from(i) * 30.0).collect();
    let volumes: Vec<f64> = times.iter().map(|t| t + (t - 7200.0).max(0.0)).collect();
    let delivery = Delivery::new(&times, &volumes, Allowed::default()).expect("sound");
    let flow = |period: Period| delivery.portion(period).map(|p| (p.mean_flow(), p.ends));
    assert_eq!(flow(delivery.second_hour()), Ok((1.0, (120, 240))));
    assert_eq!(flow(delivery.last_hour()), Ok((2.0, (240, 360))));
    let t2 = trumpet(&delivery, delivery.last_hour(), 2.0, &[60.0]).expect("sound")[0];
    assert_eq!(
        (t2.count, t2.largest.error, t2.largest.ends),
        (119, 0.0, (240, 242))
    );
    let start = delivery.start_up().expect("equidistant");
    assert_eq!(
        (start.len(), start[239].time, start[239].flow),
        (240, 7200.0, 1.0)
    );
    let after = delivery.volume_after(10_785.0).expect("inside");
    assert_eq!((after.volume, after.ends), (60.0, (359, 360)));
    let off = Period {
        from: 10.0,
        to: 60.0,
    };
    assert!(matches!(flow(off), Err(FlowFault::NoReading { .. })));
    let long = Period {
        from: 0.0,
        to: 20_000.0,
    };
    assert!(matches!(flow(long), Err(FlowFault::Outside { .. })));
}

/// By hand: 0.012 g/h over two hours, and 1.2 % of 1 g/h as the design has it.
#[test]
fn evaporation_by_hand() {
    let rate = 0.012e-3 / 3600.0;
    let mended =
        corrected_for_evaporation(&[0.0, 3600.0, 7200.0], &[0.0, 1e-3, 2e-3], rate).expect("sound");
    assert!((mended[2] - 2.024e-3).abs() < 1e-15);
    assert!((mended[1] / 1e-3 - 1.012).abs() < 1e-12);
    assert!(corrected_for_evaporation(&[0.0], &[0.0], -1.0).is_err());
}

#[test]
fn falling_readings_are_refused_unless_allowed() {
    let (times, volumes) = ([0.0, 1.0, 2.0], [0.0, 2.0, 1.5]);
    let fall = |fall| {
        Delivery::new(
            &times,
            &volumes,
            Allowed {
                fall,
                ..Allowed::default()
            },
        )
        .map(|_| ())
    };
    assert_eq!(fall(0.0), Err(FlowFault::Falling { at: 2, by: 0.5 }));
    assert_eq!(fall(0.5), Ok(()));
}

/// By hand: a gap that is filled on the line between its ends.
#[test]
fn resampling_by_hand() {
    let made = resample(&[0.0, 1.0, 3.0, 4.5], &[0.0, 10.0, 30.0, 0.0], 1.0).expect("sound");
    assert_eq!(made.times, [0.0, 1.0, 2.0, 3.0, 4.0]);
    assert_eq!(made.read, 3);
    let right = [0.0, 10.0, 20.0, 30.0, 10.0];
    assert!(
        made.values
            .iter()
            .zip(right)
            .all(|(m, r)| (m - r).abs() < 1e-12)
    );
    assert!(resample(&[0.0, 1.0], &[0.0, 1.0], 2.0).is_err());
    assert!(resample(&[0.0, 1e9], &[0.0, 1.0], 1.0).is_err());
}
