//! Pairs in which criteria, steps or rows changed.
//!
//! Never in here: limits alone (see `limits`). Changes when such a change is weighed otherwise.

use crate::pairs::Pair;

/// Criteria, severities, sources of limits.
pub const CRITERIA: &[Pair] = &[
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
        "two criteria joined, the minor one critical now",
        &[(
            "          - {that: alarm_pressure >= \"6 psi\", basis: sm, severity: minor}\n          - {that: alarm_pressure <= occlusion_max, basis: sm, severity: critical}\n",
            "          - {that: 'between(alarm_pressure, \"6 psi\", occlusion_max)', basis: sm, severity: critical}\n",
        )],
        &["severity occlusion.alarm_pressure"],
    ),
    (
        "one criterion in two parts, one of them critical",
        &[(
            "    accept: abs(error) <= tolerance\n    basis: sm\n",
            "    accept:\n      - {that: error >= -tolerance, basis: sm}\n      - {that: error <= tolerance, basis: sm, severity: critical}\n",
        )],
        &["severity error_small"],
    ),
    (
        "one criterion in two parts, one of them critical and narrower",
        &[(
            "    accept: abs(error) <= tolerance\n    basis: sm\n",
            "    accept:\n      - {that: error >= -tolerance, basis: sm}\n      - {that: error <= 0.03, basis: sm, severity: critical}\n",
        )],
        &["severity error_small", "tightened error_small"],
    ),
    (
        "a criterion that another implies",
        &[(
            "        on_fail: stop",
            "          - {that: alarm_pressure <= occlusion_max + \"1 psi\", basis: sm}\n        on_fail: stop",
        )],
        &["notation occlusion.alarm_pressure"],
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
        &["setting settings.density", "shifted error_small"],
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
        &["shifted error_small"],
    ),
    (
        "a pattern that is no more",
        &[("    pattern: '^[A-Z0-9-]+$'\n", "")],
        &["loosened serial"],
    ),
];

/// Steps and rows.
pub const STEPS: &[Pair] = &[
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
            "notation accuracy.program",
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
        "a group by another name, and a limit in it",
        &[
            ("- id: occlusion\n", "- id: occlusion_alarm\n"),
            ("occlusion_max: 15 psi", "occlusion_max: 14 psi"),
        ],
        &[
            "setting settings.occlusion_max",
            "step renamed occlusion_alarm",
            "tightened occlusion_alarm.alarm_pressure",
        ],
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
