//! Pairs in which a limit changed, or only its notation. What is accepted was worked out by hand, beside each.
//!
//! Never in here: other changes (see `steps`). Changes when a limit is weighed otherwise.

use crate::pairs::Pair;

/// Limits of readings.
pub const LIMITS: &[Pair] = &[
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
