//! Records made by hand: one that passes, one that fails, one that was retried and corrected, one full of hostile text.

use indexmap::IndexMap;
use serde_json::{Value, json};
use stepwell::journal::{Device, Instrument, Measure};
use stepwell::record::{
    Amendment, Attachment, Attempt, BudgetLine, Correction, Criterion, Limit, Note, Pointed,
    Quantity, Recipe, Record, Seal, Step, Uncertainty,
};
use stepwell::render::{Addition, Beside, House};
use stepwell::trust::{Signature, Statement};

const DAY: &str = "2026-03-09T08:12:40.125+01:00";

fn at(clock: &str) -> String {
    format!("2026-03-09T{clock}+01:00")
}

pub fn quantity(value: &str, unit: &str, exact: bool) -> Quantity {
    Quantity {
        value: value.to_owned(),
        unit: unit.to_owned(),
        ucum: unit.to_owned(),
        exact,
    }
}

fn data(value: &str, unit: &str) -> Value {
    serde_json::to_value(quantity(value, unit, true)).unwrap()
}

pub fn step(path: &str, verb: &str, prompt: &str, entry: Value, value: Value) -> Step {
    Step {
        path: path.to_owned(),
        verb: verb.to_owned(),
        title: None,
        within: Vec::new(),
        prompt: prompt.to_owned(),
        instrument: None,
        state: "done".to_owned(),
        why: None,
        attempts: vec![attempt(
            entry.clone(),
            value.clone(),
            "08:20:11",
            "not applicable",
        )],
        entry,
        value,
        at: Some(at("08:20:11")),
        uncertainty: Value::Null,
        criteria: Vec::new(),
        notes: Vec::new(),
        corrections: Vec::new(),
        curves: Vec::new(),
        passed: Vec::new(),
    }
}

fn attempt(entry: Value, value: Value, clock: &str, verdict: &str) -> Attempt {
    Attempt {
        entry,
        value,
        at: Some(at(clock)),
        verdict: (verdict != "not applicable").then(|| verdict.to_owned()),
        heard: Vec::new(),
        timed: Vec::new(),
    }
}

pub fn criterion(
    that: &str,
    values: &str,
    held: (&str, Quantity),
    limit: (Option<Quantity>, Option<Quantity>),
    verdict: &str,
) -> Criterion {
    let (low, high) = limit;
    let limit = Limit {
        of: held.0.to_owned(),
        value: Some(held.1),
        low,
        high,
        strict: false,
        uncertainty: None,
        distance: None,
        conformance: None,
    };
    Criterion {
        that: that.to_owned(),
        shown: format!("{that} [{values}]"),
        limits: vec![limit],
        basis: Some("sm".to_owned()),
        severity: "critical".to_owned(),
        verdict: verdict.to_owned(),
        within_numerical_error: false,
    }
}

/// A record that passes: a confirmation, a pressure in another unit than its limit, an endless fraction.
pub fn pass() -> Record {
    let mut pressure = step(
        "occlusion.pressure",
        "measure",
        "Highest pressure when the alarm sounds",
        json!("78.6 kPa"),
        data("78.6", "kPa"),
    );
    pressure.title = Some("Alarm pressure".to_owned());
    pressure.within = vec!["Occlusion alarm".to_owned()];
    pressure.instrument = Some("PG-02".to_owned());
    let high = Some(quantity("15", "psi", true));
    pressure.criteria = vec![criterion(
        "pressure <= most",
        "pressure = 78.6 kPa; most = 15 psi",
        ("pressure", quantity("78.6", "kPa", true)),
        (None, high),
        "pass",
    )];
    let mut spread = step(
        "spread",
        "compute",
        "",
        Value::Null,
        json!(quantity("0.19841269841269841", "%", false)),
    );
    spread.title = Some("Spread of the runs".to_owned());
    let mut cord = step(
        "cord_alone",
        "measure",
        "Resistance of the cord by itself",
        Value::Null,
        Value::Null,
    );
    (cord.state, cord.attempts, cord.at) = ("not applicable".to_owned(), Vec::new(), None);
    cord.why = Some("cord == \"detachable\" [cord = fixed]".to_owned());
    Record {
        format: 1,
        record: "B1-2026-0042".to_owned(),
        session: "B1-20260309T081240".to_owned(),
        program: "0.1.0".to_owned(),
        trial: false,
        other_device: false,
        recipe: Recipe {
            id: "volumetric-short".to_owned(),
            revision: 3,
            title: "Volumetric pump, short check".to_owned(),
            category: "volumetric".to_owned(),
            digest: "sha256:1111".to_owned(),
            source: "format: 1\n".to_owned(),
            approval: None,
        },
        device: Device {
            tag: "VP-1001".to_owned(),
            serial: "EW-100231".to_owned(),
            maker: "Example Works".to_owned(),
            model: "VP-1".to_owned(),
            category: "volumetric".to_owned(),
            location: "Ward 3".to_owned(),
        },
        occasion: "scheduled check".to_owned(),
        by: "tech-04".to_owned(),
        bench: "B1".to_owned(),
        decimal: ".".to_owned(),
        started: DAY.to_owned(),
        finished: at("09:40:02"),
        instruments: IndexMap::from([("gauge".to_owned(), gauge())]),
        cautions: vec!["Never test a pump that is connected to a patient.".to_owned()],
        basis: IndexMap::from([(
            "sm".to_owned(),
            "Service manual, chapter 6 (invented)".to_owned(),
        )]),
        decision: "simple".to_owned(),
        setup: vec![step(
            "no_patient",
            "confirm",
            "The pump is not connected to a patient",
            json!("yes"),
            json!(true),
        )],
        steps: vec![pressure, spread, cord],
        verdict: "pass".to_owned(),
        ended: None,
        remarks: Vec::new(),
        attachments: Vec::new(),
        journal: vec![json!({"n": 1, "secret": "the journal is not rendered"})],
        seal: Seal {
            digest: "sha256:2222".to_owned(),
            signatures: Vec::new(),
        },
    }
}

fn gauge() -> Instrument {
    let pressure = Measure {
        range: Some(["0 psi".to_owned(), "50 psi".to_owned()]),
        accuracy: Some("0.5 % + 0.05 psi".to_owned()),
        limits: Some("rectangular".to_owned()),
        ..Measure::default()
    };
    Instrument {
        id: "PG-02".to_owned(),
        kind: "Pressure gauge".to_owned(),
        serial: "D-0202".to_owned(),
        certificate: "DEMO-2025-0202".to_owned(),
        calibrated: "2025-11-03".to_owned(),
        due: "2026-11-03".to_owned(),
        measures: IndexMap::from([("pressure".to_owned(), pressure)]),
    }
}

/// A record that fails: the pressure is too high, and the rest was not done.
pub fn fail() -> Record {
    let mut record = pass();
    let pressure = &mut record.steps[0];
    pressure.entry = json!("17.20");
    pressure.criteria[0].limits[0].value = Some(quantity("17.2", "psi", true));
    pressure.value = data("17.2", "psi");
    pressure.attempts = vec![attempt(
        pressure.entry.clone(),
        pressure.value.clone(),
        "08:30:00",
        "fail",
    )];
    pressure.criteria[0].verdict = "fail".to_owned();
    pressure.criteria[0].shown =
        "pressure <= most [pressure = 17.20 psi; most = 15 psi]".to_owned();
    for step in &mut record.steps[1..] {
        step.state = "not done".to_owned();
        (step.value, step.why, step.at) = (Value::Null, None, None);
        step.attempts.clear();
    }
    record.verdict = "fail".to_owned();
    record.ended = Some("ended at `occlusion.pressure`, which failed".to_owned());
    record
}

/// A record with three readings, tried twice, one of them corrected, with a note and a file.
pub fn retried() -> Record {
    let mut record = pass();
    let readings = |values: [&str; 3]| Value::from(values.map(|v| data(v, "mL")).to_vec());
    let mut delivered = step(
        "accuracy.1.delivered",
        "measure",
        "Volume shown by the meter",
        json!(["5.05", "5.03", "5.04"]),
        readings(["5.05", "5.03", "5.04"]),
    );
    delivered.title = Some("Delivered volume".to_owned());
    delivered.within = vec!["Volume and flow".to_owned(), "25 mL/h, 5 mL".to_owned()];
    let first = attempt(
        json!(["4.61", "4.60", "4.62"]),
        readings(["4.61", "4.6", "4.62"]),
        "08:31:00",
        "fail",
    );
    let second = attempt(
        delivered.entry.clone(),
        delivered.value.clone(),
        "08:44:00",
        "pass",
    );
    delivered.attempts = vec![first, second];
    let ends = (
        Some(quantity("4.75", "mL", true)),
        Some(quantity("5.25", "mL", true)),
    );
    let values = "delivered = 5.05 mL, 5.03 mL, 5.04 mL; v = 5 mL; t = 5 %";
    delivered.criteria = vec![criterion(
        "within(mean(delivered), v, t)",
        values,
        ("mean(delivered)", quantity("5.04", "mL", true)),
        ends,
        "pass",
    )];
    delivered.corrections = vec![Correction {
        reading: 5,
        before: "50.3".to_owned(),
        before_at: at("08:42:00"),
        before_heard: None,
        after: "5.03".to_owned(),
        why: "Point forgotten".to_owned(),
        at: at("08:45:00"),
    }];
    delivered.notes = vec![Note {
        text: "Filter cleaned".to_owned(),
        at: "2026-03-10T07:00:00+01:00".to_owned(),
    }];
    record.steps.insert(0, delivered);
    record.remarks = vec![
        "`accuracy.1.delivered`: 2 attempts, the last one decides".to_owned(),
        "`accuracy.1.delivered`: 1 entry corrected".to_owned(),
    ];
    record.attachments = vec![Attachment {
        path: "accuracy.1.delivered".to_owned(),
        name: "printout.txt".to_owned(),
        digest: "sha256:3333".to_owned(),
        bytes: 512,
        at: at("08:46:00"),
    }];
    record
}

/// Text that tries everything.
pub const HOSTILE: &str = "</style><script>alert(1)</script> \"'><img src=x onerror=y> | **b** `c` [l](javascript:x) \u{202e}gnp\u{202c}\u{200b} \u{1b}[31m\u{7}\n# h\n{{ 7*7 }} &lt; https://x.example";

/// A record in which every text that somebody could have put in is hostile.
pub fn hostile() -> Record {
    full_of(HOSTILE)
}

/// A record in which every text is 10,000 characters long: words without a blank, other scripts, private characters.
pub fn long() -> Record {
    let words = format!(
        "{} \u{5d0}\u{5d1}\u{5d2} \u{6d4b}\u{8bd5} \u{1f600} \u{e000} a\u{301} ",
        "W".repeat(4_000)
    );
    full_of(&words.chars().cycle().take(10_000).collect::<String>())
}

/// A record in which every text that somebody could have put in is this one.
fn full_of(text: &str) -> Record {
    let mut record = retried();
    let bad = || text.to_owned();
    record.record = bad();
    record.session = bad();
    record.device = Device {
        tag: bad(),
        serial: bad(),
        maker: bad(),
        model: bad(),
        category: bad(),
        location: bad(),
    };
    (record.occasion, record.by, record.bench) = (bad(), bad(), bad());
    (record.started, record.finished) = (bad(), bad());
    (record.verdict, record.decision) = (bad(), bad());
    record.ended = Some(bad());
    record.remarks.push(bad());
    record.cautions.push(bad());
    record.basis.insert(bad(), bad());
    record.recipe.title = bad();
    record.recipe.approval = Some(json!({ "by": bad() }));
    record.seal.digest = bad();
    let mut instrument = gauge();
    (instrument.id, instrument.certificate) = (bad(), bad());
    instrument.measures.insert(
        bad(),
        Measure {
            range: Some([bad(), bad()]),
            ..Measure::default()
        },
    );
    record.instruments.insert(bad(), instrument);
    record.attachments[0].name = bad();
    let step = &mut record.steps[0];
    (step.path, step.prompt, step.title) = (bad(), bad(), Some(bad()));
    (step.state, step.why) = (bad(), Some(bad()));
    step.within = vec![bad()];
    step.entry = json!([bad(), bad()]);
    step.value = json!({ "value": bad(), "unit": bad(), "ucum": "", "exact": true });
    step.uncertainty = json!({ "expanded": bad(), "unit": bad() });
    step.attempts[0].entry = json!(bad());
    step.attempts[0].verdict = Some(bad());
    step.notes[0].text = bad();
    (step.corrections[0].before, step.corrections[0].why) = (bad(), bad());
    step.criteria[0] = criterion(
        &bad(),
        &bad(),
        (&bad(), quantity(&bad(), &bad(), true)),
        (Some(quantity(&bad(), &bad(), true)), None),
        &bad(),
    );
    let limit = &mut step.criteria[0].limits[0];
    limit.conformance = Some(bad());
    limit.uncertainty = Some(Uncertainty {
        standard: bad(),
        k: bad(),
        expanded: bad(),
        unit: bad(),
        freedom: Some(bad()),
        shown: bad(),
        budget: vec![BudgetLine {
            source: bad(),
            standard: Some(bad()),
            unit: Some(bad()),
            sensitivity: Some(bad()),
            contribution: bad(),
            share: bad(),
            freedom: None,
        }],
        drawn: None,
    });
    record
}

/// A signature that nobody could check.
pub fn signature(role: &str) -> Signature {
    Signature {
        statement: Statement {
            at: at("09:40:05"),
            by: "tech-04".to_owned(),
            digest: "sha256:2222".to_owned(),
            name: "Technician 04".to_owned(),
            role: role.to_owned(),
        },
        signature: "-----BEGIN SSH SIGNATURE-----".to_owned(),
    }
}

/// Additions in which every text is hostile.
pub fn hostile_beside() -> Beside {
    let bad = || HOSTILE.to_owned();
    let pointed = || Pointed {
        record: bad(),
        digest: bad(),
    };
    let amendment = Amendment {
        format: 1,
        amendment: bad(),
        of: pointed(),
        by: bad(),
        name: bad(),
        at: bad(),
        why: bad(),
        note: Some(bad()),
        correction: Some(pointed()),
        void: false,
        bench: bad(),
        program: bad(),
        seal: Seal {
            digest: bad(),
            signatures: vec![signature(HOSTILE)],
        },
    };
    let addition = Addition {
        id: bad(),
        amendment: Some(amendment),
        doubts: vec![bad()],
        text: Default::default(),
    };
    Beside {
        kept: false,
        doubts: Vec::new(),
        signatures: Some(bad()),
        good: Vec::new(),
        amendments: vec![addition.clone()],
        corrects: vec![addition],
        holds: Some(bad()),
        names: std::collections::BTreeMap::from([(bad(), bad())]),
        text: Default::default(),
        files: vec![Some(std::sync::Arc::new(b"{}".to_vec()))],
        house: House {
            name: bad(),
            ..House::default()
        },
    }
}
