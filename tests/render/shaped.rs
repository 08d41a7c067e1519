//! What a shop shapes: its name and picture at the head, templates of its own, labels.

use stepwell::render::{
    Beside, Emblem, Format, House, Label, NextDue, context, render, render_with,
};

use crate::made;

/// A PNG of 1 × 1, made by hand after the W3C's PNG specification: signature, IHDR, IDAT, IEND.
const PNG: &[u8] = b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR\0\0\0\x01\0\0\0\x02\x08\0\0\0\0\x3b\x7e\x9b\x55";

fn house(name: &str) -> Beside {
    Beside {
        house: House {
            name: name.to_owned(),
            picture: Some(Emblem::read(PNG.to_vec()).unwrap()),
            ..House::default()
        },
        ..Beside::default()
    }
}

#[test]
fn name_and_picture_stand_at_the_head() {
    let beside = house("Workshop <b> & Sons");
    let html = render(&made::pass(), &beside, Format::Html).unwrap();
    assert!(
        html.contains("width=\"1\" height=\"2\""),
        "the size of the picture"
    );
    // `iVBORw0KGgo=` is RFC 4648 of the eight bytes of the signature, by `base64` of coreutils.
    assert!(
        html.contains("data:image&#x2f;png;base64,iVBORw0KGgo")
            || html.contains("data:image/png;base64,iVBORw0KGgo")
    );
    assert!(html.contains("<span>Workshop &lt;b&gt; &amp; Sons</span>"));
    let text = render(&made::pass(), &beside, Format::Text).unwrap();
    assert!(text.starts_with("Workshop <b> & Sons\n"), "{text}");
}

#[test]
fn a_picture_is_known_by_its_bytes() {
    // ITU-T T.81: start of image, a comment of 2 bytes, start of frame with height 3 and width 258.
    let jpeg = b"\xff\xd8\xff\xfe\0\x04ab\xff\xc0\0\x0b\x08\0\x03\x01\x02\x01\0\0\0".to_vec();
    let read = Emblem::read(jpeg.clone()).unwrap();
    assert_eq!(
        (read.media_type, read.width, read.height),
        ("image/jpeg", 258, 3)
    );
    for (bytes, why) in [
        (b"<svg onload='x'>".to_vec(), "neither"),
        (PNG[..20].to_vec(), "can't be read"),
        (jpeg[..10].to_vec(), "neither"),
        (vec![0; 300_000], "larger than 256 KiB"),
    ] {
        let told = Emblem::read(bytes).unwrap_err();
        assert!(told.contains(why), "{told}");
    }
}

#[test]
fn an_error_of_a_template_tells_its_place() {
    let template =
        "first\n{% for step in record.steps %}\n{{ step.nothing.at_all }}\n{% endfor %}\nlast\n";
    let error = render_with(&made::pass(), &Beside::default(), template).unwrap_err();
    let told = error.within("templates/record.txt", template);
    assert!(told.starts_with("templates/record.txt:3: "), "{told}");
    assert!(
        told.contains(">    3 | {{ step.nothing.at_all }}"),
        "{told}"
    );
}

#[test]
fn no_template_runs_for_ever_or_reads_a_file() {
    for template in [
        "{% for a in range(99999) %}{% for b in range(99999) %}{% endfor %}{% endfor %}",
        "{{ 'a' * 3000000000 }}",
        "{% set n = namespace(x='aaaaaaaa') %}{% for a in range(60) %}{% set n.x = n.x ~ n.x %}{% endfor %}",
        "{% macro m() %}{{ m() }}{% endmacro %}{{ m() }}",
        "{% include '/etc/passwd' %}",
        "{% extends 'record.html' %}",
    ] {
        let rendered = render_with(&made::pass(), &Beside::default(), template);
        assert!(rendered.is_err(), "{template}");
    }
}

#[test]
fn the_starter_gives_what_the_program_gives() {
    for format in [Format::Text, Format::Markdown, Format::Html] {
        let beside = house("Workshop");
        let own = render_with(&made::retried(), &beside, format.template()).unwrap();
        assert_eq!(own, render(&made::retried(), &beside, format).unwrap());
    }
    let seen = context(&made::retried(), &house("Workshop"));
    assert_eq!(seen["document"]["house"]["name"], "Workshop");
    assert_eq!(seen["record"]["device"]["tag"], "VP-1001");
}

#[test]
fn a_label_says_what_is_overdue_and_what_stays_out_of_use() {
    let next = NextDue {
        recipe: Some("syringe-annual".to_owned()),
        overdue: true,
        ..due("2026-01-09")
    };
    let label = Label::of(&made::fail(), &Beside::default(), Some(&next)).text();
    assert!(label.contains("FAIL: KEEP OUT OF USE\n"), "{label}");
    assert!(
        label.contains("Overdue     2026-01-09 syringe-annual\n"),
        "{label}"
    );
}

/// A pass of what is kept after an incident releases nothing.
#[test]
fn a_label_of_what_is_kept_after_an_incident_says_so() {
    let beside = Beside {
        kept: true,
        ..Beside::default()
    };
    let label = Label::of(&made::pass(), &beside, Some(&due("2027-03-09"))).text();
    assert!(
        label.contains("KEPT AFTER AN INCIDENT: DO NOT USE\n"),
        "{label}"
    );
    assert!(
        !label.contains("PASS") && !label.contains("2027-03-09"),
        "{label}"
    );
}

#[test]
fn a_label_says_what_a_pass_with_remarks_is_under() {
    let label = |near: usize, failed: usize| {
        let mut record = made::pass();
        record.verdict = "pass with remarks".to_owned();
        record.remarks = vec!["the clock was set back".to_owned(); 2];
        let criterion = record.steps[0].criteria[0].clone();
        let of = |verdict: &str, n: usize| {
            let mut one = criterion.clone();
            one.verdict = verdict.to_owned();
            std::iter::repeat_n(one, n)
        };
        record.steps[0].criteria = of("conditional pass", near)
            .chain(of("fail", failed))
            .collect();
        Label::of(&record, &Beside::default(), None).text()
    };
    for (near, failed, told) in [
        (1, 0, "1 value nearer to its limit than U"),
        (12, 0, "12 values nearer to their limit than U"),
        (0, 1, "1 minor criterion is not met"),
        (12, 12, "12 near a limit, 12 minor not met"),
        (0, 0, "2 remarks, see the record"),
    ] {
        let label = label(near, failed);
        assert!(
            label.contains(&format!("PASS WITH REMARKS\n{told}\n")),
            "{label}"
        );
        assert!(
            label
                .lines()
                .all(|l| l.chars().count() <= 40 && !l.contains('…')),
            "{label}"
        );
    }
}

/// Due on that day by any recipe.
pub fn due(day: &str) -> NextDue {
    NextDue {
        day: day.to_owned(),
        recipe: None,
        overdue: false,
    }
}

#[test]
fn a_label_fits_forty_columns() {
    let label = Label::of(&made::pass(), &Beside::default(), Some(&due("2027-03-09")));
    let wanted =
        "VP-1001\nPASS\nTested      2026-03-09\nNext due    2027-03-09\nRecord      B1-2026-0042\n";
    assert_eq!(label.text(), wanted);
    let hostile = Label::of(
        &made::hostile(),
        &made::hostile_beside(),
        Some(&due(made::HOSTILE)),
    );
    let text = hostile.text();
    assert!(text.lines().count() <= 8, "{text}");
    for line in text.lines() {
        assert!(line.chars().count() <= 40, "{line}");
    }
}

#[test]
fn the_end_of_a_tag_is_never_cut_off() {
    let text = |tag: &str| {
        let mut record = made::pass();
        record.device.tag = tag.to_owned();
        record.verdict = "incomplete".to_owned();
        Label::of(&record, &Beside::default(), None).text()
    };
    let long = format!("KLINIK-NORD-{}-00012345", "X".repeat(40));
    let longest = format!("KLINIK-NORD-{}-00012345", "X".repeat(90));
    for tag in ["KLINIK-NORD-INF-00012345", &long, &longest] {
        let told = text(tag);
        assert!(
            told.contains("00012345\nINCOMPLETE: NOT RELEASED\n"),
            "{told}"
        );
        assert!(told.lines().all(|l| l.chars().count() <= 40), "{told}");
    }
    let two = text(&long);
    let tag: String = two.lines().take(2).collect();
    assert_eq!(tag, long);
    assert!(text(&longest).contains("\n…X"));
}
