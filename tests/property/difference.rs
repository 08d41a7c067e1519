//! Laws of a difference: nothing differs from itself; turned around it says the opposite; another notation weighs nothing;
//! and what is said of limits holds for readings that are tried one by one, by the evaluation that judges them in a run.
//!
//! Never in here: single pairs (see `tests/diff`). Changes when a law is added.

use proptest::prelude::*;
use stepwell::diff::{Difference, Revision, Weight, compare};
use stepwell::plan::{Bound, EvaluationError, Plan, Scope, Slot, Value, evaluate};
use stepwell::quantity::parse_quantity;
use stepwell::text::Source;

/// Two volumes, a series of three, a count, an answer and a choice, and a criterion on them.
fn recipe(criterion: &str) -> String {
    format!(
        "format: 1
recipe: made-up
revision: 1
title: Made up
category: gauge
basis: {{p: made up}}
changes: [{{revision: 1, date: 2026-01-15, why: First issue}}]
steps:
  - {{id: x, measure: X, unit: mL, record_only: true}}
  - {{id: y, measure: Y, unit: mL, record_only: true}}
  - {{id: s, measure: S, unit: mL, repeat: 3, record_only: true}}
  - {{id: n, count: N, record_only: true}}
  - {{id: c, confirm: C, accept: c || !c || n > 100, basis: p}}
  - {{id: t, choose: T, options: [red, green, blue]}}
  - id: e
    compute: x - y
  - id: judged
    judge: All of it
    basis: p
    accept: '{criterion}'
"
    )
}

/// Half steps from 0 to 5 mL.
fn volume() -> impl Strategy<Value = String> {
    (0u8..=10).prop_map(|n| format!("\"{}.{} mL\"", n / 2, n % 2 * 5))
}

fn part() -> impl Strategy<Value = String> {
    let order = || prop::sample::select(vec!["<", "<=", ">", ">="]);
    let number = || {
        prop::sample::select(vec![
            "x",
            "y",
            "e",
            "x - y",
            "2 * x - y",
            "x + y",
            "mean(s)",
            "min(s)",
            "max(s)",
            "first(s)",
            "sd(s)",
            "abs(x - y)",
            "round(x, \"1 mL\")",
            "mean(x, y)",
            "max(x, y)",
        ])
    };
    prop_oneof![
        6 => (number(), order(), volume()).prop_map(|(x, o, v)| format!("{x} {o} {v}")),
        2 => (number(), volume(), volume()).prop_map(|(x, a, b)| format!("between({x}, {a}, {b})")),
        2 => (number(), volume(), volume()).prop_map(|(x, a, b)| format!("within({x}, {a}, {b})")),
        1 => (number(), volume(), 1u8..6).prop_map(|(x, a, p)| format!("within({x}, {a}, \"{p}0 %\")")),
        1 => (1u8..6).prop_map(|p| format!("within(x, y, \"{p}0 %\")")),
        1 => (volume(), volume()).prop_map(|(a, b)| format!("abs(x - {a}) <= {b}")),
        2 => (order(), 0u8..6).prop_map(|(o, n)| format!("n {o} {n}")),
        1 => (order(), 0u8..12).prop_map(|(o, n)| format!("n {o} {}.{}", n / 2, n % 2 * 5)),
        1 => Just("c".to_owned()),
        1 => prop::sample::select(vec!["red", "green", "blue"]).prop_map(|w| format!("t == \"{w}\"")),
    ]
}

fn criterion() -> impl Strategy<Value = String> {
    part().prop_recursive(2, 4, 3, |inner| {
        prop_oneof![
            3 => (inner.clone(), inner.clone()).prop_map(|(a, b)| format!("({a}) && ({b})")),
            2 => (inner.clone(), inner.clone()).prop_map(|(a, b)| format!("({a}) || ({b})")),
            1 => inner.clone().prop_map(|a| format!("!({a})")),
            1 => (inner.clone(), inner.clone(), inner).prop_map(|(a, b, c)| format!("if({a}, {b}, {c})")),
        ]
    })
}

/// Two criteria: about different things, or one with another number, order or operator in it.
fn two() -> impl Strategy<Value = (String, String)> {
    let edit =
        (criterion(), volume(), 0usize..8, 0usize..6).prop_map(|(text, volume, at, kind)| {
            let other = match kind {
                0 => text.replacen("<=", "<", 1),
                1 => text.replacen(">=", ">", 1),
                2 => text.replacen("&&", "||", 1),
                _ => with_other_volume(&text, &volume, at),
            };
            (text, other)
        });
    prop_oneof![3 => edit, 1 => (criterion(), criterion())]
}

/// The text with the volume at this place replaced.
fn with_other_volume(text: &str, volume: &str, at: usize) -> String {
    let parts: Vec<&str> = text.split('"').collect();
    let places: Vec<usize> = (1..parts.len())
        .step_by(2)
        .filter(|n| parts[*n].ends_with("mL") && parts[*n] != "1 mL")
        .collect();
    if places.is_empty() {
        return text.to_owned();
    }
    let mut parts = parts;
    parts[places[at % places.len()]] = volume.trim_matches('"');
    parts.join("\"")
}

fn read(criterion: &str) -> Option<(Revision, Plan)> {
    let plan = stepwell::recipe::read(Source::new("made-up.yaml", &recipe(criterion))).plan?;
    Some((Revision::new("made-up.yaml", plan.clone()).ok()?, plan))
}

fn said(of: &Difference) -> Option<Weight> {
    of.changes
        .iter()
        .find(|c| c.path == "judged")
        .map(|c| c.weight)
}

/// What stands for the names of the criterion.
struct Readings<'a> {
    plan: &'a Plan,
    bound: &'a Bound,
    values: &'a [Value],
}

impl Scope for Readings<'_> {
    fn value(&self, index: usize) -> Result<Value, EvaluationError> {
        let Slot::Item(item) = &self.bound.slots[index] else {
            panic!("only readings are named");
        };
        match self.plan.items[*item].path.as_str() {
            "e" => {
                let difference = self.values[0]
                    .as_quantity()
                    .unwrap()
                    .sub(self.values[1].as_quantity().unwrap());
                Ok(Value::Quantity(difference.unwrap().unwrap()))
            }
            path => Ok(self.values[["x", "y", "s", "n", "c", "t"]
                .iter()
                .position(|p| *p == path)
                .unwrap()]
            .clone()),
        }
    }
}

/// Whether the criterion accepts readings; nothing where it can't be judged.
fn accepts(plan: &Plan, values: &[Value]) -> Option<bool> {
    let judged = plan.items.iter().find(|i| i.path == "judged")?;
    let bound = judged.criteria[0].that.as_ref()?;
    let scope = Readings {
        plan,
        bound,
        values,
    };
    evaluate(&bound.expression, &scope).ok()?.as_truth()
}

/// Readings of every kind: quarters from -1.5 to 6 mL, alike and unlike series, counts, answers.
fn readings() -> Vec<Vec<Value>> {
    let ml = |quarters: i64| {
        Value::Quantity(parse_quantity(&format!("{} mL", quarters as f64 / 4.0)).unwrap())
    };
    let mut seed = 1u64;
    let mut next = |n: u64| {
        seed = seed
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (seed >> 33) % n
    };
    let mut all = Vec::new();
    for round in 0..2_000 {
        let mut quarter = |n: u64| i64::try_from(next(n)).unwrap() - 6;
        let (x, y) = (quarter(31), quarter(31));
        let level = quarter(31);
        let series = match round % 3 {
            0 => vec![ml(level), ml(level), ml(level)],
            1 => vec![ml(level), ml(level + 1), ml(level - 1)],
            _ => vec![ml(quarter(31)), ml(quarter(31)), ml(quarter(31))],
        };
        let count = parse_quantity(&next(12).to_string()).unwrap();
        let colour = ["red", "green", "blue"][usize::try_from(next(3)).unwrap()];
        all.push(vec![
            ml(x),
            ml(y),
            Value::List(series),
            Value::Quantity(count),
            Value::Truth(next(2) == 0),
            Value::Text(colour.to_owned()),
        ]);
    }
    all
}

/// What differs for readings that are tried: whether any is accepted no more, and whether any is accepted newly.
fn tried(old: &Plan, new: &Plan, readings: &[Vec<Value>]) -> (bool, bool) {
    let (mut lost, mut gained) = (false, false);
    for values in readings {
        if let (Some(was), Some(is)) = (accepts(old, values), accepts(new, values)) {
            lost |= was && !is;
            gained |= is && !was;
        }
    }
    (lost, gained)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(96))]

    #[test]
    fn what_is_said_of_limits_holds_for_readings_that_are_tried((a, b) in two()) {
        let (Some((old, old_plan)), Some((new, new_plan))) = (read(&a), read(&b)) else {
            return Ok(());
        };
        static READINGS: std::sync::LazyLock<Vec<Vec<Value>>> = std::sync::LazyLock::new(readings);
        let (lost, gained) = tried(&old_plan, &new_plan, &READINGS);
        let said = said(&compare(&old, &new));
        let holds = match said {
            None | Some(Weight::Notation) => !lost && !gained,
            Some(Weight::Tightened) => !gained,
            Some(Weight::Loosened) => !lost,
            Some(Weight::Shifted | Weight::Undecided) => true,
            Some(_) => false,
        };
        prop_assert!(holds, "{a}\n{b}\nsaid {said:?}, lost {lost}, gained {gained}");
    }

    #[test]
    fn a_difference_of_one_limit_is_there((x, o, v, w) in (prop::sample::select(vec!["x", "e", "2 * x - y", "mean(s)", "max(s)", "n"]), prop::sample::select(vec!["<", "<=", ">", ">="]), 0u8..=10, 0u8..=10)) {
        let limit = |n: u8| if x == "n" { format!("{x} {o} {n}") } else { format!("{x} {o} \"{}.{} mL\"", n / 2, n % 2 * 5) };
        let (Some((old, old_plan)), Some((new, new_plan))) = (read(&limit(v)), read(&limit(w))) else {
            return Ok(());
        };
        let (lost, gained) = tried(&old_plan, &new_plan, &readings());
        let expected = match (lost, gained) {
            (false, false) => None,
            (true, false) => Some(Weight::Tightened),
            (false, true) => Some(Weight::Loosened),
            (true, true) => Some(Weight::Shifted),
        };
        let said = said(&compare(&old, &new)).filter(|w| *w != Weight::Notation);
        prop_assert_eq!(said, expected, "{} {}", limit(v), limit(w));
    }

    #[test]
    fn nothing_differs_from_itself_and_turned_around_it_says_the_opposite((a, b) in two()) {
        let (Some((old, _)), Some((new, _))) = (read(&a), read(&b)) else {
            return Ok(());
        };
        prop_assert_eq!(compare(&old, &old), Difference::default());
        let there = said(&compare(&old, &new));
        let back = said(&compare(&new, &old));
        prop_assert_eq!(there.map(Weight::mirrored), back, "{} {}", a, b);
    }

    #[test]
    fn another_notation_weighs_nothing(a in criterion(), b in part(), kind in 0usize..7) {
        let both = format!("({a}) && ({b})");
        let same = match kind {
            0 => format!("({b}) && ({a})"),
            1 => format!("!(!({a})) && ({b})"),
            2 => format!("!(!({a}) || !({b}))"),
            3 => format!("if({a}, {b}, false)"),
            4 => both.replace("0 mL", "0 cm3").replace("5 mL", "5 cm3"),
            5 => format!("({a}) && ({b}) && ({a})"),
            _ => format!("({a}) && (({b}) || ({a}) && ({b}))"),
        };
        let (Some((old, _)), Some((new, _))) = (read(&both), read(&same)) else {
            return Ok(());
        };
        let weights: Vec<Weight> = compare(&old, &new).changes.iter().map(|c| c.weight).collect();
        prop_assert!(weights.iter().all(|w| *w == Weight::Notation), "{both}\n{same}\n{weights:?}");
    }
}

/// More parts than are tried by values that stand for all others.
#[test]
fn conditions_within_a_condition_turned_round_weigh_nothing() {
    let a = "if(if(x < \"0.0 mL\", within(x, y, \"10 %\"), e < \"0.0 mL\"), 2 * x - y < \"0.0 mL\", within(max(x, y), \"0.5 mL\", \"10 %\"))";
    let b = "sd(s) < \"0.5 mL\"";
    let (old, _) = read(&format!("({a}) && ({b})")).expect("a recipe");
    let (new, _) = read(&format!("!(!({a}) || !({b}))")).expect("a recipe");
    let changes = compare(&old, &new).changes;
    assert!(
        changes.iter().all(|c| c.weight == Weight::Notation),
        "{changes:?}"
    );
}

/// Readings that are all alike have no spread at all: at a limit of nothing they are judged as nothing is, without rounding.
#[test]
fn the_spread_of_readings_that_are_alike_is_exactly_nothing() {
    let (_, plan) = read("within(sd(s), \"5.0 mL\", \"5.0 mL\")").expect("a criterion");
    let mut alike = readings().into_iter().step_by(3);
    assert!(alike.all(|values| accepts(&plan, &values) == Some(true)));
}
