//! What is said of criteria and conditions ahead holds in every session whose readings lie in their ranges.
//!
//! Never in here: which findings there are to be (see the spec's documents). Changes when more is concluded from ranges.

use std::fmt::Write as _;

use proptest::prelude::*;
use proptest::strategy::ValueTree;
use proptest::test_runner::TestRunner;
use stepwell::engine::{Bench, Event, State, Status, Verdict, apply, begin, question};
use stepwell::plan::{Plan, Reaches, Verb};
use stepwell::recipe::{check_ranges, read};
use stepwell::text::{Code, Finding, Source};

/// Pressures: readings with ranges, one without, one of a row, lists, what is computed, numbers.
fn pressure() -> BoxedStrategy<String> {
    let leaf = prop_oneof![
        Just("a".to_owned()),
        Just("b".to_owned()),
        Just("free".to_owned()),
        Just("x".to_owned()),
        Just("mean(three)".to_owned()),
        Just("limit".to_owned()),
        (-12i32..40).prop_map(|n| format!("\"{n} psi\"")),
        (0i32..300).prop_map(|n| format!("\"{n} kPa\"")),
    ];
    let of_lists = prop_oneof![
        Just("rows.shown"),
        Just("three"),
        Just("a, b"),
        Just("three, rows.shown, a"),
        Just("rows.perhaps, a"),
    ];
    leaf.prop_recursive(3, 12, 2, move |inner| {
        let two = (inner.clone(), inner.clone());
        let list = prop_oneof![
            Just("min"),
            Just("max"),
            Just("mean"),
            Just("sum"),
            Just("sd"),
            Just("range"),
            Just("first"),
            Just("last"),
        ];
        prop_oneof![
            two.clone().prop_map(|(p, q)| format!("({p} + {q})")),
            two.clone().prop_map(|(p, q)| format!("({p} - {q})")),
            (inner.clone(), number()).prop_map(|(p, n)| format!("({p} * {n})")),
            (inner.clone(), number()).prop_map(|(p, n)| format!("({p} / {n})")),
            inner.clone().prop_map(|p| format!("abs({p})")),
            inner
                .clone()
                .prop_map(|p| format!("round({p}, \"0.5 psi\")")),
            inner.clone().prop_map(|p| format!("ceil({p}, \"2 kPa\")")),
            inner.clone().prop_map(|p| format!("convert({p}, \"kPa\")")),
            two.clone().prop_map(|(p, q)| format!("max({p}, {q})")),
            two.prop_map(|(p, q)| format!("if(n > 2, {p}, {q})")),
            (list, of_lists.clone()).prop_map(|(f, l)| format!("{f}({l})")),
        ]
    })
    .boxed()
}

/// Bare numbers.
fn number() -> BoxedStrategy<String> {
    prop_oneof![
        Just("n".to_owned()),
        Just("(b / a)".to_owned()),
        Just("(a / b) ^ 2".to_owned()),
        Just("deviation(a, limit)".to_owned()),
        Just("count(rows.perhaps)".to_owned()),
        Just("sqrt(a / limit)".to_owned()),
        Just("(pause / \"10 s\")".to_owned()),
        (-3i32..6).prop_map(|n| n.to_string()),
    ]
    .boxed()
}

fn truth() -> BoxedStrategy<String> {
    let sign = || prop_oneof![Just("<"), Just("<="), Just(">"), Just(">=")];
    let leaf = prop_oneof![
        (pressure(), sign(), pressure()).prop_map(|(p, s, q)| format!("{p} {s} {q}")),
        (number(), sign(), number()).prop_map(|(p, s, q)| format!("{p} {s} {q}")),
        (pressure(), pressure(), 1i32..30)
            .prop_map(|(p, q, n)| format!("within({p}, {q}, \"{n} psi\")")),
        (pressure(), pressure(), 1i32..60)
            .prop_map(|(p, q, n)| format!("within({p}, {q}, \"{n} %\")")),
        (pressure(), pressure(), pressure())
            .prop_map(|(p, q, r)| format!("between({p}, {q}, {r})")),
        (-2i32..6).prop_map(|n| format!("n == {n}")),
        (-2i32..6).prop_map(|n| format!("n != {n}")),
        Just("sure".to_owned()),
    ];
    leaf.prop_recursive(2, 6, 2, |inner| {
        let two = (inner.clone(), inner.clone());
        prop_oneof![
            two.clone().prop_map(|(p, q)| format!("({p}) && ({q})")),
            two.prop_map(|(p, q)| format!("({p}) || ({q})")),
            inner.prop_map(|p| format!("!({p})")),
        ]
    })
    .boxed()
}

fn range(unit: &'static str) -> impl Strategy<Value = String> {
    (-10i32..25, 1i32..20)
        .prop_map(move |(low, width)| format!("[{low} {unit}, {} {unit}]", low + width))
}

#[derive(Clone, Debug)]
struct Made {
    ranges: Vec<String>,
    computed: String,
    conditions: Vec<String>,
    criteria: Vec<String>,
    limits: Vec<i32>,
}

impl Made {
    fn recipe(&self) -> String {
        let mut text = String::from(
            "format: 1\nrecipe: made-up\nrevision: 1\ntitle: Made up\ncategory: gauge\nbasis: {sm: none}\nsettings: {limit: 12 psi}\nsteps:\n",
        );
        let mut measure = |id: &str, more: &str| {
            let _ = writeln!(
                text,
                "  - {{id: {id}, measure: It, unit: psi, record_only: true{more}}}"
            );
        };
        measure("a", &format!(", range: {}", self.ranges[0]));
        measure("b", &format!(", range: {}, optional: true", self.ranges[1]));
        measure("free", "");
        measure("three", &format!(", repeat: 3, range: {}", self.ranges[2]));
        text.push_str("  - {id: n, count: Them, record_only: true, range: [0, 5]}\n  - {id: pause, time: It, record_only: true}\n  - {id: sure, confirm: Is it, severity: minor, basis: sm}\n");
        let quoted = |text: &str| serde_json::to_string(text).expect("a text is JSON");
        let _ = writeln!(
            text,
            "  - id: rows\n    each: row\n    in: [{}]\n    steps:\n      - {{id: shown, measure: It, unit: psi, range: {}, severity: minor, basis: sm, accept: 'shown <= row.top && (shown > row.top || shown < \"90 psi\")'}}\n      - {{id: perhaps, measure: It, unit: psi, range: {}, when: 'row.top > \"10 psi\"', record_only: true}}",
            self.limits
                .iter()
                .map(|n| format!("{{top: {n} psi}}"))
                .collect::<Vec<_>>()
                .join(", "),
            self.ranges[3],
            self.ranges[4],
        );
        let _ = writeln!(text, "  - {{id: x, compute: {}}}", quoted(&self.computed));
        for (n, (when, accept)) in self.conditions.iter().zip(&self.criteria).enumerate() {
            let when = if n == 0 {
                String::new()
            } else {
                format!(", when: {}", quoted(when))
            };
            let _ = writeln!(
                text,
                "  - {{id: judged_{n}, judge: It, severity: minor, basis: sm, accept: {}{when}}}",
                quoted(accept)
            );
        }
        text
    }
}

fn made() -> impl Strategy<Value = Made> {
    let computed = pressure().prop_map(|text| text.replace('x', "a"));
    // What was replaced are the names of functions too.
    let computed = computed.prop_map(|text| text.replace("maa", "max"));
    (
        proptest::collection::vec(range("psi"), 5),
        computed,
        proptest::collection::vec(truth(), 2),
        proptest::collection::vec(truth(), 2),
        proptest::collection::vec(-12i32..40, 3),
    )
        .prop_map(|(ranges, computed, conditions, criteria, limits)| Made {
            ranges,
            computed,
            conditions,
            criteria,
            limits,
        })
}

/// An entry in the range of a step.
fn entry(plan: &Plan, index: usize, draw: u32) -> String {
    let item = &plan.items[index];
    let share = |low: f64, high: f64| low + (high - low) * f64::from(draw % 9) / 8.0;
    match (&item.verb, item.verb.range()) {
        (Verb::Confirm, _) => if draw.is_multiple_of(2) { "yes" } else { "no" }.to_owned(),
        (Verb::Count { .. }, _) => (draw % 6).to_string(),
        (Verb::Time { .. }, _) => format!("{} s", draw % 90),
        (_, Some((low, high))) => share(low.value().to_f64(), high.value().to_f64()).to_string(),
        _ => share(-60.0, 60.0).to_string(),
    }
}

/// A session with drawn readings; what is optional may be left out.
fn walked(plan: &Plan, draws: &[u32]) -> State {
    let bench = Bench::default();
    let mut state = begin(plan, &bench);
    let mut draws = draws.iter().cycle();
    let at = "2026-11-25T09:00:00.000+00:00".to_owned();
    while let Some(asked) = question(plan, &state) {
        let (path, index) = (asked.item.path.clone(), asked.index);
        let draw = *draws.next().expect("draws");
        let event = if asked.item.optional && draw.is_multiple_of(3) {
            Event::Skip {
                path,
                why: "left out".to_owned(),
                at: at.clone(),
            }
        } else {
            let text = entry(plan, index, draw);
            Event::Entry {
                path,
                text,
                confirmed: false,
                timer: None,
                heard: None,
                at: at.clone(),
            }
        };
        apply(plan, &bench, &mut state, &event).expect("an entry in its range");
    }
    state
}

/// Holds a finding against a session.
fn agrees(plan: &Plan, state: &State, finding: &Finding) -> Result<(), String> {
    let fault = |what: &str| Err(format!("{what}: {}", finding.message));
    for (item, lived) in plan.items.iter().zip(&state.items) {
        let here = finding
            .path
            .strip_prefix(&*item.place)
            .is_some_and(|rest| rest.starts_with('/'));
        let verdicts: Vec<Verdict> = lived.criteria().iter().map(|c| c.verdict).collect();
        match finding.code {
            Code::NeverPasses if here && verdicts.contains(&Verdict::Pass) => {
                return fault("passed");
            }
            Code::NeverFails if here && verdicts.contains(&Verdict::Fail) => {
                return fault("failed");
            }
            Code::UnmeetableRow => {
                let rows: Vec<&str> = finding.message.split('`').skip(1).step_by(2).collect();
                let row = item.path.rsplit_once('.').map_or("", |(row, _)| row);
                if rows.contains(&row) && verdicts.contains(&Verdict::Pass) {
                    return fault("passed in a row");
                }
            }
            Code::ConstantCondition if here => {
                match (&lived.status, finding.message.contains("never true")) {
                    (Status::Done, true) => return fault("done"),
                    (Status::NotApplicable(_), false) => return fault("not done"),
                    _ => {}
                }
            }
            _ => {}
        }
    }
    Ok(())
}

/// The findings about ranges of a recipe without errors.
fn found(made: &Made) -> Option<(Plan, Vec<Finding>)> {
    let reading = read(Source::new("made-up.yaml", &made.recipe()));
    let plan = reading.plan?;
    let whole = reading.whole?;
    let findings = check_ranges(&whole, &plan, &Reaches::of(&plan.items));
    Some((plan, findings))
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, max_global_rejects: 20_000, ..ProptestConfig::default() })]
    #[test]
    fn no_session_contradicts_what_ranges_say(
        made in made(),
        draws in proptest::collection::vec(proptest::collection::vec(any::<u32>(), 17), 12),
    ) {
        let Some((plan, findings)) = found(&made) else {
            return Err(TestCaseError::reject("a recipe with errors"));
        };
        prop_assume!(!findings.is_empty());
        for draws in draws {
            let state = walked(&plan, &draws);
            for finding in &findings {
                prop_assert_eq!(agrees(&plan, &state, finding), Ok(()), "{}", made.recipe());
            }
        }
    }
}

/// The recipes reach what the law is about: findings of each kind, and recipes without any.
#[test]
fn the_recipes_reach_far() {
    let mut runner = TestRunner::deterministic();
    let (mut seen, mut sound, mut silent) = (Vec::new(), 0, 0);
    for _ in 0..400 {
        let made = made().new_tree(&mut runner).expect("a recipe").current();
        let Some((_, findings)) = found(&made) else {
            continue;
        };
        sound += 1;
        silent += usize::from(findings.is_empty());
        seen.extend(findings.into_iter().map(|f| (f.code, f.message)));
    }
    let kinds = [
        Code::NeverPasses,
        Code::NeverFails,
        Code::UnmeetableRow,
        Code::ConstantCondition,
    ];
    for kind in kinds {
        let of_kind = seen.iter().filter(|(code, _)| *code == kind).count();
        assert!(
            of_kind >= 10,
            "{}: {of_kind} of {} in {sound} recipes",
            kind.name(),
            seen.len()
        );
    }
    assert!(sound > 100 && silent > 10, "{sound} sound, {silent} silent");
}
