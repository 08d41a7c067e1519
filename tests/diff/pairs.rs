//! The pairs: an edit of the base, and the changes that it comes to. Limits were worked out by hand, beside each.
//!
//! Never in here: how a change is told. Changes when a change is weighed otherwise.

use stepwell::diff::{Change, Weight, compare};

use crate::{BASE, difference, edited, revision, weights};

type Pair = (
    &'static str,
    &'static [(&'static str, &'static str)],
    &'static [&'static str],
);

/// Limits of readings.
const LIMITS: &[Pair] = &[
    // 5 mL ± 5 % is 4.75 to 5.25 mL, ± 3 % is 4.85 to 5.15 mL; the error of the run rests on the setting too.
    (
        "a tolerance that two criteria rest on",
        &[("tolerance: 5 %", "tolerance: 3 %")],
        &[
            "setting settings.tolerance",
            "tightened accuracy.delivered",
            "tightened error_small",
        ],
    ),
    (
        "the other way about",
        &[("tolerance: 5 %", "tolerance: 7 %")],
        &[
            "loosened accuracy.delivered",
            "loosened error_small",
            "setting settings.tolerance",
        ],
    ),
    (
        "the same tolerance as a number",
        &[("tolerance: 5 %", "tolerance: 0.05")],
        &["notation settings.tolerance"],
    ),
    (
        "the limit itself is left out",
        &[("accept: bolus <= \"0.5 mL\"", "accept: bolus < \"0.5 mL\"")],
        &["tightened occlusion.release.bolus"],
    ),
    (
        "the limit itself is let in",
        &[(
            "accept: alarm_time < \"2 min\"",
            "accept: alarm_time <= \"2 min\"",
        )],
        &["loosened alarm_time"],
    ),
    (
        "a limit in another unit",
        &[(
            "accept: bolus <= \"0.5 mL\"",
            "accept: bolus <= \"0.0005 L\"",
        )],
        &["notation occlusion.release.bolus"],
    ),
    (
        "a limit in another unit that is not the same",
        &[(
            "accept: bolus <= \"0.5 mL\"",
            "accept: bolus <= \"0.0006 L\"",
        )],
        &["loosened occlusion.release.bolus"],
    ),
    (
        "the comparison turned around",
        &[(
            "accept: bolus <= \"0.5 mL\"",
            "accept: \"\\\"0.5 mL\\\" >= bolus\"",
        )],
        &["notation occlusion.release.bolus"],
    ),
    (
        "doubled on both sides",
        &[(
            "accept: bolus <= \"0.5 mL\"",
            "accept: 2 * bolus <= \"1 mL\"",
        )],
        &["notation occlusion.release.bolus"],
    ),
    (
        "turned into its opposite's denial",
        &[(
            "accept: bolus <= \"0.5 mL\"",
            "accept: \"!(bolus > \\\"0.5 mL\\\")\"",
        )],
        &["notation occlusion.release.bolus"],
    ),
    // 20 in ± 1 in.
    (
        "within written as between",
        &[(
            "accept: within(head_height, head, \"1 in\")",
            "accept: between(head_height, \"19 in\", \"21 in\")",
        )],
        &["notation head_height"],
    ),
    (
        "within written as a size",
        &[(
            "accept: within(head_height, head, \"1 in\")",
            "accept: abs(head_height - head) <= \"1 in\"",
        )],
        &["notation head_height"],
    ),
    (
        "within split into two criteria",
        &[(
            "accept: within(head_height, head, \"1 in\")",
            "accept: [head_height >= head - \"1 in\", head_height <= head + \"1 in\"]",
        )],
        &["notation head_height"],
    ),
    (
        "one side in, one side out",
        &[(
            "accept: within(head_height, head, \"1 in\")",
            "accept: between(head_height, \"19.5 in\", \"22 in\")",
        )],
        &["shifted head_height"],
    ),
    (
        "a nominal value moved",
        &[("head: 20 in", "head: 21 in")],
        &["setting settings.head", "shifted head_height"],
    ),
    (
        "a side taken away",
        &[(
            "accept: within(head_height, head, \"1 in\")",
            "accept: head_height >= \"19 in\"",
        )],
        &["loosened head_height"],
    ),
    // A count is a whole number: below 4 is at most 3.
    (
        "a count below the next number",
        &[("accept: bubbles <= 3", "accept: bubbles < 4")],
        &["notation occlusion.release.bubbles"],
    ),
    (
        "a count between two numbers",
        &[("accept: bubbles <= 3", "accept: bubbles <= 3.5")],
        &["notation occlusion.release.bubbles"],
    ),
    (
        "a count is never negative",
        &[("accept: bubbles <= 3", "accept: between(bubbles, 0, 3)")],
        &["notation occlusion.release.bubbles"],
    ),
    (
        "a count one higher",
        &[("accept: bubbles <= 3", "accept: bubbles <= 4")],
        &["loosened occlusion.release.bubbles"],
    ),
    (
        "two ranges joined",
        &[(
            "accept: bubbles <= 3",
            "accept: bubbles <= 3 || bubbles == 7",
        )],
        &["loosened occlusion.release.bubbles"],
    ),
    (
        "a second condition on another value",
        &[(
            "accept: bubbles <= 3",
            "accept: bubbles <= 3 && bolus <= \"0.4 mL\"",
        )],
        &["tightened occlusion.release.bubbles"],
    ),
    (
        "about another value",
        &[("accept: bubbles <= 3", "accept: bolus <= \"0.4 mL\"")],
        &["undecided occlusion.release.bubbles"],
    ),
    (
        "a limit by its setting in another unit",
        &[(
            "occlusion_max: 15 psi",
            "occlusion_max: 103.42135939752539 kPa",
        )],
        &[
            "setting settings.occlusion_max",
            "tightened occlusion.alarm_pressure",
        ],
    ),
    (
        "a setting named otherwise",
        &[
            ("  head: 20 in", "  fluid_height: 20 in"),
            (
                "within(head_height, head, \"1 in\")",
                "within(head_height, fluid_height, \"1 in\")",
            ),
        ],
        &["notation head_height", "notation settings.fluid_height"],
    ),
    (
        "a setting in place of a number",
        &[
            ("  head: 20 in", "  head: 20 in\n  bolus_max: 0.5 mL"),
            ("accept: bolus <= \"0.5 mL\"", "accept: bolus <= bolus_max"),
        ],
        &[
            "notation occlusion.release.bolus",
            "setting settings.bolus_max",
        ],
    ),
    (
        "a tolerance of its own",
        &[(
            "within(mean(delivered), point.volume, tolerance)",
            "within(mean(delivered), point.volume, \"5 %\")",
        )],
        &["notation accuracy.delivered"],
    ),
    (
        "the mean written as a sum of three",
        &[(
            "within(mean(delivered), point.volume, tolerance)",
            "abs(mean(delivered) / point.volume - 1) <= tolerance",
        )],
        &["notation accuracy.delivered"],
    ),
    (
        "the greatest instead of the mean",
        &[(
            "within(mean(delivered), point.volume, tolerance)",
            "within(max(delivered), point.volume, tolerance)",
        )],
        &["undecided accuracy.delivered"],
    ),
    // All alike at the limit: the mean inside is the greatest inside.
    (
        "mean and greatest, the greatest let out",
        &[(
            "within(mean(delivered), point.volume, tolerance)",
            "within(mean(delivered), point.volume, tolerance) && max(delivered) <= 1.02 * point.volume",
        )],
        &["tightened accuracy.delivered"],
    ),
    // 5 mL ± 0.5 mL is wider than 5 %, 10 mL ± 0.5 mL is the same, 20 mL ± 0.5 mL is narrower.
    (
        "otherwise in each row",
        &[(
            "within(mean(delivered), point.volume, tolerance)",
            "within(mean(delivered), point.volume, \"0.5 mL\")",
        )],
        &[
            "loosened accuracy.1.delivered",
            "tightened accuracy.3.delivered",
        ],
    ),
    (
        "a row's volume",
        &[("volume: 10 mL}", "volume: 12 mL}")],
        &["setting accuracy.2.volume", "shifted accuracy.2.delivered"],
    ),
];

/// Criteria, severities, sources of limits.
const CRITERIA: &[Pair] = &[
    (
        "a criterion taken away",
        &[(
            "          - {that: alarm_pressure >= \"6 psi\", basis: sm, severity: minor}\n",
            "",
        )],
        &["criterion removed occlusion.alarm_pressure"],
    ),
    (
        "one taken away, the other narrowed",
        &[
            (
                "          - {that: alarm_pressure >= \"6 psi\", basis: sm, severity: minor}\n",
                "",
            ),
            ("occlusion_max: 15 psi", "occlusion_max: 14 psi"),
        ],
        &[
            "criterion removed occlusion.alarm_pressure",
            "setting settings.occlusion_max",
            "tightened occlusion.alarm_pressure",
        ],
    ),
    (
        "a criterion more",
        &[(
            "        on_fail: stop",
            "          - {that: alarm_pressure != \"10 psi\", basis: sm}\n        on_fail: stop",
        )],
        &["criterion added occlusion.alarm_pressure"],
    ),
    (
        "a severity lowered",
        &[("severity: critical}", "severity: major}")],
        &["severity occlusion.alarm_pressure"],
    ),
    (
        "a severity written out",
        &[(
            "    accept: abs(error) <= tolerance",
            "    severity: major\n    accept: abs(error) <= tolerance",
        )],
        &["notation"],
    ),
    (
        "another source for one limit",
        &[(
            "            accept: bolus <= \"0.5 mL\"\n            basis: practice",
            "            accept: bolus <= \"0.5 mL\"\n            basis: sm",
        )],
        &["identity occlusion.release.bolus"],
    ),
    (
        "the source itself",
        &[(
            "sm: Maker's service manual, chapter 6",
            "sm: Maker's service manual, chapter 7",
        )],
        &["identity basis.sm"],
    ),
    (
        "what may be chosen, and all of it accepted but torn",
        &[(
            "options: [whole, worn, torn]",
            "options: [whole, worn, frayed, torn]",
        )],
        &["flow cord", "loosened cord"],
    ),
    (
        "one answer less is accepted",
        &[("accept: cord != \"torn\"", "accept: cord == \"whole\"")],
        &["tightened cord"],
    ),
    (
        "the accepted answers written out",
        &[(
            "accept: cord != \"torn\"",
            "accept: cord == \"whole\" || cord == \"worn\"",
        )],
        &["notation cord"],
    ),
    (
        "the order of answers",
        &[(
            "options: [whole, worn, torn]",
            "options: [torn, worn, whole]",
        )],
        &["notation cord"],
    ),
    (
        "an answer of yes written out",
        &[(
            "    confirm: Bag holds distilled water",
            "    confirm: Bag holds distilled water\n    accept: fluid",
        )],
        &["notation fluid"],
    ),
    (
        "yes is wanted no more",
        &[(
            "    confirm: Bag holds distilled water",
            "    confirm: Bag holds distilled water\n    accept: fluid == false",
        )],
        &["shifted fluid"],
    ),
    (
        "computed by another density",
        &[("density: 0.998 g/mL", "density: 0.997 g/mL")],
        &[
            "setting settings.density",
            "undecided collected",
            "undecided error_small",
        ],
    ),
    (
        "computed the same in other words",
        &[(
            "compute: deviation(collected, \"10 mL\")",
            "compute: (collected - \"10 mL\") / \"10 mL\"",
        )],
        &["notation error"],
    ),
    (
        "computed from something else",
        &[(
            "compute: deviation(collected, \"10 mL\")",
            "compute: deviation(collected, \"11 mL\")",
        )],
        &["undecided error", "undecided error_small"],
    ),
    (
        "a pattern that is no more",
        &[("    pattern: '^[A-Z0-9-]+$'\n", "")],
        &["loosened serial"],
    ),
];

/// Steps and rows.
const STEPS: &[Pair] = &[
    (
        "a step taken away",
        &[(
            "          - id: bubbles\n            count: Bubbles seen in the line\n            accept: bubbles <= 3\n            basis: practice\n",
            "",
        )],
        &["step removed occlusion.release.bubbles"],
    ),
    (
        "a step more",
        &[(
            "  - id: serial\n",
            "  - id: door\n    confirm: The door closes\n    basis: practice\n  - id: serial\n",
        )],
        &["step added door"],
    ),
    (
        "another id",
        &[
            ("- id: alarm_time\n", "- id: time_to_alarm\n"),
            ("accept: alarm_time <", "accept: time_to_alarm <"),
        ],
        &["notation time_to_alarm", "step renamed time_to_alarm"],
    ),
    (
        "another id and another limit",
        &[
            ("- id: alarm_time\n", "- id: time_to_alarm\n"),
            (
                "accept: alarm_time < \"2 min\"",
                "accept: time_to_alarm < \"3 min\"",
            ),
        ],
        &["loosened time_to_alarm", "step renamed time_to_alarm"],
    ),
    (
        "another verb is another step",
        &[
            (
                "    confirm: Bag holds distilled water\n",
                "    tell: Fill the bag\n",
            ),
            (
                "    basis: practice\n  - id: head_height",
                "  - id: head_height",
            ),
        ],
        &["step added fluid", "step removed fluid"],
    ),
    (
        "a row taken away",
        &[("      - {rate: 125 mL/h, volume: 10 mL}\n", "")],
        &["step removed accuracy.2"],
    ),
    (
        "a row more",
        &[(
            "      - {rate: 999 mL/h, volume: 20 mL}\n",
            "      - {rate: 999 mL/h, volume: 20 mL}\n      - {rate: 1 mL/h, volume: 1 mL}\n",
        )],
        &["step added accuracy.4"],
    ),
    (
        "a test point in place of another",
        &[(
            "{rate: 125 mL/h, volume: 10 mL}",
            "{rate: 100 mL/h, volume: 10 mL}",
        )],
        &["step added accuracy.2", "step removed accuracy.2"],
    ),
    (
        "a row in other units",
        &[(
            "{rate: 125 mL/h, volume: 10 mL}",
            "{rate: 125 mL/h, volume: 0.01 L}",
        )],
        &["notation accuracy.2.volume"],
    ),
    (
        "the rows in another order",
        &[
            ("      - {rate: 25 mL/h, volume: 5 mL}\n", ""),
            (
                "      - {rate: 999 mL/h, volume: 20 mL}\n",
                "      - {rate: 999 mL/h, volume: 20 mL}\n      - {rate: 25 mL/h, volume: 5 mL}\n",
            ),
        ],
        &["step moved accuracy.3"],
    ),
    (
        "the row by another name",
        &[
            ("each: point", "each: p"),
            (
                "Set {{ point.rate }} and {{ point.volume }}",
                "Set {{ p.rate }} and {{ p.volume }}",
            ),
            (
                "within(mean(delivered), point.volume, tolerance)",
                "within(mean(delivered), p.volume, tolerance)",
            ),
        ],
        &[
            "notation accuracy",
            "notation accuracy.delivered",
            "wording accuracy.program",
        ],
    ),
    (
        "a step further down",
        &[
            (
                "  - id: fluid\n    confirm: Bag holds distilled water\n    basis: practice\n",
                "",
            ),
            (
                "    accept: within(head_height, head, \"1 in\")\n    basis: practice\n",
                "    accept: within(head_height, head, \"1 in\")\n    basis: practice\n  - id: fluid\n    confirm: Bag holds distilled water\n    basis: practice\n",
            ),
        ],
        &["step moved head_height"],
    ),
    (
        "a step out of its group",
        &[
            (
                "          - id: bubbles\n            count: Bubbles seen in the line\n            accept: bubbles <= 3\n            basis: practice\n",
                "",
            ),
            (
                "  - id: serial\n",
                "  - id: bubbles\n    count: Bubbles seen in the line\n    accept: bubbles <= 3\n    basis: practice\n  - id: serial\n",
            ),
        ],
        &["step moved bubbles"],
    ),
    (
        "a step out of its group with a wider limit",
        &[
            (
                "          - id: bubbles\n            count: Bubbles seen in the line\n            accept: bubbles <= 3\n            basis: practice\n",
                "",
            ),
            (
                "  - id: serial\n",
                "  - id: bubbles\n    count: Bubbles seen in the line\n    accept: bubbles <= 5\n    basis: practice\n  - id: serial\n",
            ),
        ],
        &["loosened bubbles", "step moved bubbles"],
    ),
];

/// All else that a recipe says.
const REST: &[Pair] = &[
    (
        "a sentence",
        &[(
            "Height of the fluid surface above the pump",
            "Height of the fluid level above the pump",
        )],
        &["wording head_height"],
    ),
    (
        "a sentence that says the opposite",
        &[(
            "The worn cord has been replaced",
            "The worn cord has not been replaced",
        )],
        &["undecided cord_replaced"],
    ),
    (
        "a title",
        &[("title: Delivered volume", "title: Volume that is delivered")],
        &["wording accuracy"],
    ),
    (
        "help",
        &[("    help: Begin when the clamp closes.\n", "")],
        &["wording alarm_time"],
    ),
    (
        "a caution of the whole taken away",
        &[("  - Fluids and mains do not mix.\n", "")],
        &["loosened cautions"],
    ),
    (
        "a caution of a group taken away",
        &[("    caution: Keep your face away from the line\n", "")],
        &["loosened occlusion"],
    ),
    (
        "a caution reworded",
        &[(
            "Never test a pump that is connected to a patient.",
            "Never test a pump connected to a patient.",
        )],
        &["wording cautions"],
    ),
    (
        "a caution turned round",
        &[(
            "Never test a pump that is connected to a patient.",
            "Test a pump that is connected to a patient.",
        )],
        &["undecided cautions"],
    ),
    (
        "the unit that is read in",
        &[(
            "        unit: mL\n        with: meter",
            "        unit: L\n        with: meter",
        )],
        &["notation accuracy.delivered"],
    ),
    (
        "fewer readings",
        &[("repeat: 3", "repeat: 2")],
        &["flow accuracy.delivered"],
    ),
    (
        "one reading",
        &[("        repeat: 3\n", "")],
        &["flow accuracy.delivered"],
    ),
    (
        "a step that may be skipped",
        &[(
            "    help: Begin when the clamp closes.\n",
            "    help: Begin when the clamp closes.\n    optional: true\n",
        )],
        &["flow alarm_time"],
    ),
    (
        "when a step applies",
        &[("when: cord == \"worn\"", "when: cord != \"whole\"")],
        &["flow cord_replaced"],
    ),
    (
        "when a step applies, in other words",
        &[(
            "when: cord == \"worn\"",
            "when: \"!(cord != \\\"worn\\\")\"",
        )],
        &["notation cord_replaced"],
    ),
    (
        "always",
        &[("    when: cord == \"worn\"\n", "")],
        &["flow cord_replaced"],
    ),
    (
        "what follows from a fail",
        &[("on_fail: stop", "on_fail: continue")],
        &["flow occlusion.alarm_pressure"],
    ),
    (
        "more retries",
        &[("on_fail: {retry: 1}", "on_fail: {retry: 2}")],
        &["flow accuracy.delivered"],
    ),
    (
        "the range of plausible readings",
        &[("range: [0 in, 40 in]", "range: [0 in, 60 in]")],
        &["flow head_height"],
    ),
    (
        "the same range",
        &[("range: [0 in, 40 in]", "range: [0 ft, 40 in]")],
        &["notation head_height"],
    ),
    (
        "the decision rule",
        &[("decision: simple", "decision: guarded")],
        &["tightened decision"],
    ),
    (
        "another instrument role",
        &[("        with: gauge\n", "")],
        &["instrument occlusion.alarm_pressure"],
    ),
    (
        "what a role measures",
        &[(
            "meter: {measures: [volume, flow]}",
            "meter: {measures: [volume]}",
        )],
        &["instrument instruments.meter"],
    ),
    (
        "other models",
        &[("models: [VP-1, VP-2]", "models: [VP-1]")],
        &["identity applies_to"],
    ),
    (
        "the revision with its entry",
        &[
            ("revision: 1\ntitle", "revision: 2\ntitle"),
            (
                "  - {revision: 1, date",
                "  - {revision: 2, date: 2026-02-15, why: Nothing}\n  - {revision: 1, date",
            ),
        ],
        &["identity changes.2", "identity revision"],
    ),
    (
        "keys in another order",
        &[(
            "    unit: in\n    range: [0 in, 40 in]\n",
            "    range: [0 in, 40 in]\n    unit: in\n",
        )],
        &["notation"],
    ),
    (
        "comments and layout",
        &[("revision: 1\ntitle", "revision:   1 # the first\n\ntitle")],
        &[],
    ),
];

#[test]
fn each_pair_is_weighed_as_worked_out_by_hand() {
    let mut wrong = Vec::new();
    for (name, edits, expected) in [LIMITS, CRITERIA, STEPS, REST].concat() {
        let said = weights(&difference(BASE, &edited(edits)));
        if said != *expected {
            wrong.push(format!(
                "{name}:\n  expected {expected:?}\n  said     {said:?}"
            ));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// What is said of two texts, and what is said of them the other way about, must be each other's opposite. Of two steps that
/// changed places either may be said to have moved.
fn opposite(a: &str, b: &str, name: &str) {
    let (a, b) = (revision(a), revision(b));
    let (there, back) = (compare(&a, &b), compare(&b, &a));
    let told = |c: &Change, old: &str, new: &str| match c.weight {
        Weight::StepMoved => (String::new(), String::new()),
        _ => (old.to_owned(), new.to_owned()),
    };
    let mirrored = |c: &Change| (c.weight.mirrored(), told(c, &c.new, &c.old));
    let said = |c: &Change| (c.weight, told(c, &c.old, &c.new));
    let mut mirrored: Vec<_> = there.changes.iter().map(mirrored).collect();
    let mut said: Vec<_> = back.changes.iter().map(said).collect();
    mirrored.sort();
    said.sort();
    assert_eq!(mirrored, said, "{name}");
}

#[test]
fn each_pair_turned_around_says_the_opposite() {
    for (name, edits, _) in [LIMITS, CRITERIA, STEPS, REST].concat() {
        opposite(BASE, &edited(edits), name);
    }
}

/// Two changes at once: neither hides the other, and turned around they say the opposite.
#[test]
fn mixed_pairs_say_both() {
    let all = [LIMITS, CRITERIA, STEPS, REST].concat();
    let mut mixed = 0;
    for (n, (name, edits, expected)) in all.iter().enumerate() {
        let (other, more, also) = all[(n * 37 + 11) % all.len()];
        let both: Vec<_> = edits.iter().chain(more).copied().collect();
        let Some(text) = applied(&both) else {
            continue;
        };
        if stepwell::recipe::read(stepwell::text::Source::new("mixed", &text))
            .plan
            .is_none()
        {
            continue;
        }
        mixed += 1;
        let name = format!("{name}; {other}");
        opposite(BASE, &text, &name);
        if APART.iter().any(|group| {
            group
                .iter()
                .any(|key| expected.iter().any(|e| e.contains(key)))
                && group.iter().any(|key| also.iter().any(|e| e.contains(key)))
        }) {
            continue;
        }
        let mut wanted: Vec<&str> = expected
            .iter()
            .chain(also)
            .copied()
            .filter(|e| *e != "notation")
            .collect();
        wanted.sort_unstable();
        assert_eq!(weights(&difference(BASE, &text)), wanted, "{name}");
    }
    assert!(mixed > 40, "{mixed} pairs could be mixed");
}

/// Paths that two changes must not both touch, for what is said of them to be the sum.
const APART: [&[&str]; 9] = [
    &["accuracy", "settings.tolerance"],
    &["occlusion"],
    &["head", "fluid"],
    &["error", "settings.tolerance", "collected", "density"],
    &["cord"],
    &["time"],
    &["bubbles", "bolus"],
    &["cautions"],
    &["revision", "changes"],
];

/// The base with all edits, if each still finds its place.
fn applied(edits: &[(&str, &str)]) -> Option<String> {
    let mut text = BASE.to_owned();
    for (old, new) in edits {
        if text.matches(old).count() != 1 {
            return None;
        }
        text = text.replace(old, new);
    }
    Some(text)
}
