//! Pairs in which something else changed: sentences, cautions, what follows from a fail, the header.
//!
//! Never in here: criteria and steps. Changes when such a change is weighed otherwise.

use crate::pairs::Pair;

/// All else that a recipe says.
pub const REST: &[Pair] = &[
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
        "what follows from a major fail written out",
        &[(
            "    accept: abs(error) <= tolerance",
            "    on_fail: continue\n    accept: abs(error) <= tolerance",
        )],
        &["notation error_small"],
    ),
    (
        "a condition that always holds",
        &[(
            "    accept: abs(error) <= tolerance",
            "    when: density > \"0.9 g/mL\"\n    accept: abs(error) <= tolerance",
        )],
        &["notation error_small"],
    ),
    (
        "what follows from a fail in the setup",
        &[(
            "    confirm: Bag holds distilled water\n",
            "    confirm: Bag holds distilled water\n    on_fail: stop\n",
        )],
        &["flow fluid"],
    ),
    (
        "a field that names a row is called otherwise",
        &[
            ("- {rate: 25 mL/h,", "- {speed: 25 mL/h,"),
            ("- {rate: 125 mL/h,", "- {speed: 125 mL/h,"),
            ("- {rate: 999 mL/h,", "- {speed: 999 mL/h,"),
            ("Set {{ point.rate }} and", "Set {{ point.speed }} and"),
        ],
        &[
            "notation accuracy.program",
            "setting accuracy.1.rate",
            "setting accuracy.1.speed",
            "setting accuracy.2.rate",
            "setting accuracy.2.speed",
            "setting accuracy.3.rate",
            "setting accuracy.3.speed",
        ],
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
        "a step that is asked after a stop too",
        &[(
            "    help: Begin when the clamp closes.\n",
            "    help: Begin when the clamp closes.\n    after_stop: true\n",
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
