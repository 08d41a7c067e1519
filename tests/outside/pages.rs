//! `qpdf` and the programs of poppler read our PDFs: sound files, words in order, attached files, nothing outside the page.
//!
//! `krilla` holds each file against PDF/A-3a and PDF/UA-1 while writing; a validator by others (Python's `page-validation`) does
//! so once more here.

use std::path::Path;
use std::process::Command;

use crate::kinds::{Kinds, PHOTOGRAPHS};

/// Whether what these tests run is there.
fn all_at_hand() -> bool {
    super::at_hand("qpdf")
        && ["pdftotext", "pdfdetach"]
            .iter()
            .all(|t| super::at_hand_by(t, "-v"))
}

/// What a program prints; it must be content.
fn does(folder: &Path, program: &str, words: &[&str]) -> Vec<u8> {
    let output = Command::new(program)
        .args(words)
        .current_dir(folder)
        .output()
        .expect("the program");
    let error = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success(), "{program} {words:?}: {error}");
    output.stdout
}

fn says(folder: &Path, program: &str, words: &[&str]) -> String {
    String::from_utf8_lossy(&does(folder, program, words)).into_owned()
}

/// Holds PDFs against the levels that they claim. A packed stream may end in a carriage return: before the line feed that is put
/// behind it, this validator takes the two for one end of a line and the stream for a byte too short. It is not, as `qpdf` finds;
/// that one rule is passed over where there is such a stream.
const VALIDATE: &str = "
import re, sys, page
def ends_in_return(name):
    pdf = open(name, 'rb').read()
    begun = re.finditer(rb'/Length (\\d+)[^>]*>>\\s*stream\\r?\\n', pdf)
    return any(pdf[m.end() + int(m.group(1)) - 1:][:1] == b'\\r' for m in begun)
levels = [page.ValidationProfile.PDF_A_3A, page.ValidationProfile.PDF_UA_1]
for name in sys.argv[1:]:
    for level in levels:
        report = page.validate_pdf(name, profile=level)
        assert report.rules.total > 50, (name, level, report.rules.total)
        failures = [f for f in report.failures if 'STREAM-LENGTH' not in f.rule_id or not ends_in_return(name)]
        for failure in failures:
            print(name, level.value, failure.rule_id, failure.message)
        if not report.is_compliant and (failures or not report.failures):
            print(name, level.value, 'does not comply')
";

/// A validator finds nothing in PDFs, neither as PDF/A-3a nor as PDF/UA-1.
fn valid(folder: &Path, files: &[&str]) {
    let words = [&["-c", VALIDATE], files].concat();
    assert_eq!(says(folder, "python3", &words), "");
}

#[test]
fn a_validator_accepts_all_pages() {
    if !super::modules_at_hand(&["page"]) {
        return;
    }
    let kinds = Kinds::made();
    let folder = kinds.shop.path();
    let made = kinds.rendered("pdf", "");
    let mut files: Vec<&str> = made.iter().map(|(_, file)| file.as_str()).collect();
    let others = [
        (
            "sheet.pdf",
            "outline volumetric-annual --worksheet --to pdf --output sheet.pdf",
        ),
        (
            "own.pdf",
            "outline volumetric-annual --worksheet --device VP-1001 --paper letter --to pdf --output own.pdf",
        ),
        (
            "outline.pdf",
            "outline volumetric-annual --to pdf --output outline.pdf",
        ),
    ];
    for (file, command) in others {
        assert_eq!(kinds.shop.says(command).code, 0, "{command}");
        files.push(file);
    }
    let label = format!("label {} --to pdf --output label.pdf", kinds.id("banded"));
    assert_eq!(kinds.shop.says(&label).code, 0, "{label}");
    files.push("label.pdf");
    let paper = stepwell::render::pdf::Paper::A4;
    let beside = crate::by_hand::hostile_beside();
    for (file, record) in [
        ("hostile.pdf", crate::by_hand::hostile()),
        ("long.pdf", crate::by_hand::long()),
    ] {
        let pages = stepwell::render::render_pdf(&record, &beside, paper).expect("pages");
        std::fs::write(folder.join(file), pages).expect("room");
        files.push(file);
    }
    valid(folder, &files);
    // The validator is no rubber stamp: what does not say its level is refused.
    let mut pages = std::fs::read(folder.join("sheet.pdf")).expect("a file");
    let says = b"pdfaid:conformance>A<";
    let at = pages.windows(says.len()).position(|w| w == says);
    pages[at.expect("its level") + says.len() - 2] = b'B';
    std::fs::write(folder.join("spoilt.pdf"), pages).expect("room");
    let words = ["-c", VALIDATE, "spoilt.pdf"];
    assert!(self::says(folder, "python3", &words).contains("3a"));
}

/// Words that a reader has to find on the first page.
fn first(kind: &str) -> &'static [&'static str] {
    match kind {
        "fail" => &[
            "FAIL",
            "What failed",
            "17.20 psi",
            "at most 15 psi",
            "2.2 psi above",
        ],
        "incomplete" => &[
            "INCOMPLETE",
            "The fluid ran out",
            "What could not be judged",
        ],
        "trial" => &[
            "TRIAL: proves nothing about the device",
            "TRIAL: WOULD PASS",
        ],
        "banded" => &[
            "PASS WITH REMARKS",
            "What passed under a condition",
            "inside",
        ],
        "retried" => &["PASS", "attempt 1: fail"],
        "corrected" => &["PASS", "Corrected 1 entry (36. Delivered volume)"],
        _ => &["PASS"],
    }
}

/// Each page has its head and foot, the first one the answer, some page the digests.
fn words_stand(kinds: &Kinds, kind: &str, file: &str) {
    let folder = kinds.shop.path();
    let id = kinds.id(kind);
    let text = says(folder, "pdftotext", &[file, "-"]);
    let pages: Vec<&str> = text.split_terminator('\u{c}').collect();
    for (n, page) in pages.iter().enumerate() {
        assert!(page.contains(id), "{kind}, page {}", n + 1);
        let number = format!("page {} of {}", n + 1, pages.len());
        assert!(page.contains(&number), "{kind}: {number}");
        let trial = page
            .matches("TRIAL: proves nothing about the device")
            .count();
        assert!(kind != "trial" || trial == 2, "{kind}: {number}");
    }
    let on_one_line = pages[0].split_whitespace().collect::<Vec<_>>().join(" ");
    let mut rest = on_one_line.as_str();
    for word in [id, "Device", "Example Works", "Tested by"] {
        let at = rest.find(word);
        rest = &rest[at.unwrap_or_else(|| panic!("{kind} lacks {word} there: {on_one_line}"))..];
    }
    for word in first(kind) {
        assert!(
            on_one_line.contains(word),
            "{kind} lacks {word}: {on_one_line}"
        );
    }
    let record = kinds.shop.read(&format!("records/{}/{id}.json", &id[3..7]));
    let record: serde_json::Value = serde_json::from_str(&record).expect("a record");
    let digest = record["seal"]["digest"].as_str().expect("a digest");
    assert!(text.contains(digest), "{kind} lacks {digest}");
}

/// Every word lies inside its page.
pub fn inside(folder: &Path, file: &str) {
    let boxes = says(folder, "pdftotext", &["-bbox", file, "-"]);
    let number = |line: &str, name: &str| -> Option<f64> {
        let (_, rest) = line.split_once(&format!("{name}=\""))?;
        rest.split_once('"')?.0.parse().ok()
    };
    let (mut width, mut height, mut seen) = (0.0, 0.0, 0);
    for line in boxes.lines() {
        if let (Some(w), Some(h)) = (number(line, "width"), number(line, "height")) {
            (width, height) = (w, h);
        } else if let Some(left) = number(line, "xMin") {
            let ends = ["yMin", "xMax", "yMax"].map(|n| number(line, n).expect("a box"));
            let [top, right, foot] = ends;
            let within = left >= 0.0 && top >= 0.0 && right <= width && foot <= height;
            assert!(within, "{file}: {line}");
            seen += 1;
        }
    }
    assert!(seen > 100, "{file}: {seen} words");
}

/// Where pixels of a colour lie on a page: left, top, right, foot.
fn spot(ppm: &[u8], of: impl Fn(u8, u8, u8) -> bool) -> Option<[usize; 4]> {
    let mut parts = ppm.splitn(4, |b| b.is_ascii_whitespace());
    assert_eq!(parts.next(), Some(b"P6".as_slice()));
    let mut number = || {
        std::str::from_utf8(parts.next()?)
            .ok()?
            .parse::<usize>()
            .ok()
    };
    let (width, _) = (number()?, number()?);
    let pixels = parts.next()?.strip_prefix(b"255\n")?;
    let mut seen: Option<[usize; 4]> = None;
    for (n, pixel) in pixels.chunks_exact(3).enumerate() {
        let (x, y) = (n % width, n / width);
        if of(pixel[0], pixel[1], pixel[2]) {
            let [l, t, r, b] = seen.unwrap_or([x, y, x, y]);
            seen = Some([l.min(x), t.min(y), r.max(x), b.max(y)]);
        }
    }
    seen
}

/// The record comes out byte for byte, and so do the files that were attached to it.
fn files_come_out(kinds: &Kinds, kind: &str, file: &str) {
    let folder = kinds.shop.path();
    let out = tempfile::tempdir().expect("a folder");
    let into = out.path().to_string_lossy().into_owned();
    does(folder, "pdfdetach", &["-saveall", "-o", &into, file]);
    let id = kinds.id(kind);
    let own = folder.join(format!("records/{}/{id}.json", &id[3..7]));
    let read = |path: &Path| std::fs::read(path).expect("a file");
    assert!(
        read(&out.path().join(format!("{id}.json"))) == read(&own),
        "{kind}"
    );
    let count = std::fs::read_dir(out.path()).expect("files").count();
    if kind == "logged" {
        assert_eq!(count, PHOTOGRAPHS + 2);
        for name in ["log.csv", "photo 3.png"] {
            assert!(
                read(&out.path().join(name)) == read(&folder.join(name)),
                "{name}"
            );
        }
    } else {
        assert_eq!(count, 1, "{kind}");
    }
}

/// What the file says of itself: ISO 19005-3 level A, ISO 14289-1, language, marked, bookmarks, no script.
fn says_what_it_is(folder: &Path, kind: &str, file: &str) {
    let plain = does(
        folder,
        "qpdf",
        &["--qdf", "--object-streams=disable", file, "-"],
    );
    let plain = String::from_utf8_lossy(&plain);
    for word in [
        "<pdfaid:part>3</pdfaid:part>",
        "<pdfaid:conformance>A</pdfaid:conformance>",
        "<pdfuaid:part>1</pdfuaid:part>",
        "/Marked true",
        "/Lang (en)",
        "/AFRelationship /Source",
        "/OutputIntents",
    ] {
        assert!(plain.contains(word), "{kind} lacks {word}");
    }
    for word in ["/JavaScript", "/Launch", "/URI", "/Encrypt"] {
        assert!(!plain.contains(word), "{kind} has {word}");
    }
    let outlines = says(folder, "qpdf", &["--json", "--json-key=outlines", file]);
    for title in ["Cautions", "Steps", "How to verify this record"] {
        assert!(
            outlines.contains(&format!("\"title\": \"{title}\"")),
            "{kind}: {title}"
        );
    }
}

/// A copy outside the shop verifies, and so does one that another program has written anew.
fn verifies(kinds: &Kinds, kind: &str, file: &str) {
    let away = tempfile::tempdir().expect("a folder");
    let copy = away.path().join("copy.pdf");
    std::fs::copy(kinds.shop.file(file), &copy).expect("room");
    does(
        away.path(),
        "qpdf",
        &["--linearize", "copy.pdf", "linear.pdf"],
    );
    does(
        away.path(),
        "qpdf",
        &["--object-streams=generate", "copy.pdf", "packed.pdf"],
    );
    for name in ["copy.pdf", "linear.pdf", "packed.pdf"] {
        let text = says(
            away.path(),
            env!("CARGO_BIN_EXE_stepwell"),
            &["verify", name],
        );
        assert!(text.contains("ok"), "{kind}, {name}: {text}");
        assert!(
            text.contains("its pages were NOT compared"),
            "{kind}: {text}"
        );
    }
    // In the shop it is held against the shop's ledger.
    let text = kinds.shop.says(&format!("verify {file}")).text;
    let line = text.lines().find(|l| l.trim_start().starts_with("ledger"));
    assert!(line.is_some_and(|l| l.contains("ledger of B1")), "{text}");
}

/// What is wrong with the files of a PDF that another program changed.
fn astray(folder: &Path, words: &[&str]) -> String {
    does(folder, "qpdf", words);
    let output = Command::new(env!("CARGO_BIN_EXE_stepwell"))
        .args(["verify", "changed.pdf"])
        .current_dir(folder)
        .output()
        .expect("the program");
    assert_eq!(output.status.code(), Some(1), "{words:?}");
    String::from_utf8_lossy(&output.stdout).into_owned()
}

/// A file that was changed in a PDF, one that was taken out and one that was put in are named as bad.
fn files_are_held(kinds: &Kinds, file: &str) {
    let away = tempfile::tempdir().expect("a folder");
    let folder = away.path();
    std::fs::copy(kinds.shop.file(file), folder.join("whole.pdf")).expect("room");
    std::fs::write(folder.join("log.csv"), "time_s,p_mmhg\n0,1\n").expect("room");
    let (from, to) = ("whole.pdf", "changed.pdf");
    let less = astray(folder, &[from, "--remove-attachment=photo 3.png", to]);
    let named = "changed in the PDF, or missing from it: `photo 3.png`";
    assert!(less.contains(named), "{less}");
    // The same file with one digit of its log changed.
    does(
        folder,
        "qpdf",
        &["--qdf", "--object-streams=disable", from, "plain.pdf"],
    );
    let mut plain = std::fs::read(folder.join("plain.pdf")).expect("a file");
    let head = b"time_s,p_mmhg";
    let at = plain.windows(head.len()).position(|w| w == head);
    let digit = at.expect("the log") + head.len() + 1;
    plain[digit] ^= 1;
    std::fs::write(folder.join("plain.pdf"), plain).expect("room");
    let other = astray(folder, &["plain.pdf", to]);
    assert!(other.contains("missing from it: `log.csv`"), "{other}");
    let more = ["--add-attachment", "log.csv", "--key=more", "--", to];
    let more = astray(folder, &[&[from], &more[..]].concat());
    assert!(
        more.contains("1 file more that the record does not know"),
        "{more}"
    );
}

#[test]
fn other_programs_read_our_pages() {
    if !all_at_hand() {
        return;
    }
    let kinds = Kinds::made();
    let folder = kinds.shop.path();
    for (kind, file) in kinds.rendered("pdf", "") {
        does(folder, "qpdf", &["--check", &file]);
        words_stand(&kinds, kind, &file);
        inside(folder, &file);
        says_what_it_is(folder, kind, &file);
        files_come_out(&kinds, kind, &file);
        verifies(&kinds, kind, &file);
        if kind == "logged" {
            files_are_held(&kinds, &file);
        }
    }
    for (kind, file) in kinds.rendered("pdf", " --paper letter") {
        does(folder, "qpdf", &["--check", &file]);
        words_stand(&kinds, kind, &file);
        inside(folder, &file);
    }
}

#[test]
fn hostile_text_stays_on_the_page() {
    if !all_at_hand() {
        return;
    }
    let folder = tempfile::tempdir().expect("a folder");
    for (name, record) in [
        ("hostile", crate::by_hand::hostile()),
        ("long", crate::by_hand::long()),
    ] {
        let beside = crate::by_hand::hostile_beside();
        let paper = stepwell::render::pdf::Paper::A4;
        let pages = stepwell::render::render_pdf(&record, &beside, paper).expect("pages");
        let file = format!("{name}.pdf");
        std::fs::write(folder.path().join(&file), pages).expect("room");
        does(folder.path(), "qpdf", &["--check", &file]);
        inside(folder.path(), &file);
        let text = says(folder.path(), "pdftotext", &[&file, "-"]);
        for word in ["<script>", "[U+202E]", "[U+0007]", "{{ 7*7 }}"] {
            assert!(name == "long" || text.contains(word), "{name} lacks {word}");
        }
        // What the face has is shown, the rest is named: DejaVu has this emoticon, and no ideographs.
        for word in ["[U+6D4B]", "\u{1f600}", "[U+E000]", "\u{5d0}"] {
            assert!(
                name == "hostile" || text.contains(word),
                "{name} lacks {word}"
            );
        }
    }
}

/// Long names stand shortened on the first page; a long heading goes on over pages, and nothing of it is lost.
#[test]
fn long_names_run_off_no_page() {
    if !all_at_hand() {
        return;
    }
    let mut record = crate::by_hand::pass();
    record.device.location = "W".repeat(10_000);
    record.steps[0].within = vec!["Qq ".repeat(3_000)];
    let beside = stepwell::render::Beside::default();
    let paper = stepwell::render::pdf::Paper::A4;
    let pages = stepwell::render::render_pdf(&record, &beside, paper).expect("pages");
    let folder = tempfile::tempdir().expect("a folder");
    std::fs::write(folder.path().join("long.pdf"), pages).expect("room");
    inside(folder.path(), "long.pdf");
    let text = says(folder.path(), "pdftotext", &["long.pdf", "-"]);
    assert_eq!(text.matches("Qq").count(), 3_000);
    assert!(text.contains("(9840 more"));
}

/// Red on the left of the file, blue on the right, to be turned clockwise by a quarter: red stands above blue.
#[test]
fn a_turned_photograph_stands_upright() {
    if !super::at_hand_by("pdftoppm", "-v") {
        return;
    }
    let mut record = crate::by_hand::retried();
    record.attachments[0].name = "turned.jpg".to_owned();
    let photograph = include_bytes!("../render/turned.jpg").to_vec();
    let beside = stepwell::render::Beside {
        files: vec![Some(std::sync::Arc::new(photograph))],
        ..Default::default()
    };
    let paper = stepwell::render::pdf::Paper::A4;
    let pages = stepwell::render::render_pdf(&record, &beside, paper).expect("pages");
    let folder = tempfile::tempdir().expect("a folder");
    std::fs::write(folder.path().join("turned.pdf"), pages).expect("room");
    does(
        folder.path(),
        "pdftoppm",
        &["-r", "72", "turned.pdf", "page"],
    );
    let mut seen = 0;
    for page in std::fs::read_dir(folder.path()).expect("pages") {
        let path = page.expect("a page").path();
        if path.extension().is_none_or(|e| e != "ppm") {
            continue;
        }
        let ppm = std::fs::read(&path).expect("a page");
        let red = spot(&ppm, |r, g, b| r > 180 && g < 60 && b < 60);
        let blue = spot(&ppm, |r, g, b| b > 180 && r < 60 && g < 60);
        if let (Some(red), Some(blue)) = (red, blue) {
            assert!(red[3] <= blue[1] + 1, "{red:?} {blue:?}");
            assert!(red[0].abs_diff(blue[0]) < 2, "{red:?} {blue:?}");
            assert!(
                red[2] - red[0] >= 30 && blue[3] - red[1] >= 70,
                "{red:?} {blue:?}"
            );
            seen += 1;
        }
    }
    assert_eq!(seen, 1);
}

/// A tag stands whole on its label, in smaller letters or on two lines; one that is too long for both keeps its end.
#[test]
fn a_label_tells_devices_apart() {
    if !all_at_hand() {
        return;
    }
    let folder = tempfile::tempdir().expect("a folder");
    let house = stepwell::render::House {
        name: "Workshop of the united hospitals, house 4, first floor, beside the lift".to_owned(),
        ..Default::default()
    };
    let beside = stepwell::render::Beside {
        house,
        ..Default::default()
    };
    let longest = format!("KLINIK-{}-0042", "N".repeat(200));
    for tag in [
        "VP-1001",
        "KLINIK-NORD-INF-00012345",
        "KLINIKUM-NORD-INFUSIONSTECHNIK-STATION-4B-00012345",
        &longest,
    ] {
        let mut record = crate::by_hand::pass();
        record.device.tag = tag.to_owned();
        record.verdict = "pass with remarks".to_owned();
        record.remarks = vec!["the clock was set back".to_owned()];
        let next = stepwell::render::NextDue {
            day: "2027-03-09".to_owned(),
            recipe: None,
            overdue: false,
        };
        let label = stepwell::render::Label::of(&record, &beside, Some(&next));
        let page = stepwell::render::pdf::label(&label, "2026-03-09T10:00:00Z").expect("a page");
        std::fs::write(folder.path().join("label.pdf"), page).expect("room");
        let text = says(folder.path(), "pdftotext", &["-raw", "label.pdf", "-"]);
        let on_one: String = text.split_whitespace().collect();
        assert!(
            on_one.contains(tag) || tag == longest && on_one.contains("N-0042"),
            "{text}"
        );
        assert!(
            on_one.contains("…") && on_one.contains("B1-2026-0042"),
            "{text}"
        );
        // Ten dots a millimetre on a label of 29 mm: 1.5 mm stay free at its foot, however much stands on it.
        let drawn = does(folder.path(), "pdftoppm", &["-r", "254", "label.pdf"]);
        let [.., foot] = spot(&drawn, |r, _, _| r < 128).expect("letters");
        assert!(foot < 290 - 15, "{tag}: {foot}");
    }
}

/// A name that would be read backwards is shown as it is, as on the pages.
#[test]
fn names_of_carried_files_deceive_nobody() {
    if !all_at_hand() {
        return;
    }
    let folder = tempfile::tempdir().expect("a folder");
    let mut record = crate::by_hand::pass();
    let name = "photo\u{202e}gnp.exe".to_owned();
    record.attachments = vec![stepwell::record::Attachment {
        path: record.steps[0].path.clone(),
        name,
        digest: "sha256:00".to_owned(),
        bytes: 1,
        at: record.started.clone(),
    }];
    let beside = stepwell::render::Beside {
        files: vec![Some(std::sync::Arc::new(b"x".to_vec()))],
        ..Default::default()
    };
    let paper = stepwell::render::pdf::Paper::A4;
    let pages = stepwell::render::render_pdf(&record, &beside, paper).expect("pages");
    std::fs::write(folder.path().join("named.pdf"), pages).expect("room");
    let list = says(folder.path(), "pdfdetach", &["-list", "named.pdf"]);
    assert!(list.contains("photo[U+202E]gnp.exe"), "{list}");
}
