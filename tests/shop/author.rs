//! What an author does beside checking: watching files, laying them out, printing a procedure for paper.
//!
//! Never in here: single findings (see `tests/spec`). Changes when authors get another command.

use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::sync::mpsc::{Receiver, channel};
use std::time::Duration;

use super::made::{shop, stepwell};

/// Longest wait for a line, far beyond what any machine needs.
const LONG: Duration = Duration::from_secs(60);

/// What `render` refuses of the files that shape renderings, `check` tells.
#[test]
fn check_tells_what_render_would_refuse_of_a_shops_templates() {
    let shop = shop();
    let shop = shop.path();
    let templates = shop.join("templates");
    std::fs::create_dir_all(&templates).unwrap();
    let says = |words: &[&str]| {
        let output = stepwell(shop, words);
        let text = String::from_utf8_lossy(&output.stdout).into_owned();
        (output.status.code(), text)
    };
    let good = says(&["check"]);
    let many = "{# #}".repeat(2 << 20);
    for (file, text, words) in [
        ("record.html", "<p>\n{% if x %}\n", "record.html:"),
        ("record.md", "{{ record. }}", "record.md:"),
        ("record.txt", many.as_str(), "are the most that are read"),
        (
            "words.yaml",
            "texts:\n  \"{n} in all\": \"{m} en tout\"\n",
            "its parts must be `{n}`",
        ),
        ("logo.png", "<svg>", "neither a PNG nor a JPEG"),
    ] {
        let path = templates.join(file);
        std::fs::write(&path, text).unwrap();
        let named = format!("templates/{file}");
        for asked in [
            &["check"][..],
            &["check", "templates"],
            &["check", named.as_str()],
        ] {
            let (code, told) = says(asked);
            assert_eq!(code, Some(1), "{asked:?}: {told}");
            assert!(told.contains(words), "{asked:?}: {told}");
        }
        std::fs::remove_file(&path).unwrap();
    }
    assert_eq!(says(&["check"]), good);
}

/// `check --watch` in a shop, with its lines as they come.
struct Watching {
    child: Child,
    lines: Receiver<String>,
}

impl Watching {
    fn begin(shop: &Path, path: &str) -> Self {
        let mut child = Command::new(env!("CARGO_BIN_EXE_stepwell"))
            .current_dir(shop)
            .args(["check", "--watch", path])
            .stdout(Stdio::piped())
            .spawn()
            .expect("the program runs");
        let out = BufReader::new(child.stdout.take().expect("its output"));
        let (send, lines) = channel();
        std::thread::spawn(move || {
            for line in out.lines().map_while(Result::ok) {
                if send.send(line).is_err() {
                    return;
                }
            }
        });
        Self { child, lines }
    }

    /// What is printed up to the line that counts the findings, that one included.
    fn round(&self) -> Vec<String> {
        let mut lines = Vec::new();
        loop {
            let line = self.lines.recv_timeout(LONG).expect("another line");
            let last = line.contains(" file: ") || line.contains(" files: ");
            lines.push(line);
            if last {
                return lines;
            }
        }
    }

    fn interrupt(mut self) -> Option<i32> {
        let pid = self.child.id().to_string();
        let sent = Command::new("kill").args(["-INT", &pid]).status();
        assert!(sent.expect("kill").success());
        self.child.wait().expect("an end").code()
    }
}

fn edit(file: &Path, from: &str, to: &str) {
    let text = std::fs::read_to_string(file).expect("the file");
    assert!(text.contains(from), "no `{from}`");
    std::fs::write(file, text.replacen(from, to, 1)).expect("room");
}

#[test]
fn a_watched_recipe_is_checked_again_when_it_or_its_base_changes() {
    let shop = shop();
    let recipes = shop.path().join("recipes");
    let derived = "format: 1\nrecipe: vp9\nrevision: 1\nextends: volumetric-annual@3\nchanges:\n  - {revision: 1, date: 2026-11-02, why: Made}\n";
    std::fs::write(recipes.join("vp9.yaml"), derived).expect("room");
    let watching = Watching::begin(shop.path(), "recipes/vp9.yaml");
    let first = watching.round();
    assert!(first[0].starts_with("checked on 20"), "{first:?}");
    assert!(
        first.last().expect("a line").contains(": 0 errors"),
        "{first:?}"
    );

    edit(&recipes.join("vp9.yaml"), "why: Made", "wy: Made");
    let second = watching.round().join("\n");
    assert!(
        second.contains("unknown-key") && second.contains("1 file: 1 error"),
        "{second}"
    );

    edit(&recipes.join("vp9.yaml"), "wy: Made", "why: Made");
    assert!(watching.round().join("\n").contains(": 0 errors"));

    edit(
        &recipes.join("volumetric-annual.yaml"),
        "head: 20 in",
        "head: 20 inn",
    );
    let of_base = watching.round().join("\n");
    assert!(
        of_base.contains("unknown-unit") && of_base.contains("volumetric-annual.yaml"),
        "{of_base}"
    );
    assert_eq!(watching.interrupt(), Some(0));
}

#[test]
fn watching_nothing_is_refused() {
    let shop = shop();
    let said = stepwell(shop.path(), &["check", "--watch", "recipes/none.yaml"]);
    assert_eq!(said.status.code(), Some(2));
}

/// What the program says, and its exit code.
fn says(shop: &Path, words: &[&str]) -> (String, Option<i32>) {
    let output = stepwell(shop, words);
    let text = [output.stdout, output.stderr].concat();
    (
        String::from_utf8_lossy(&text).into_owned(),
        output.status.code(),
    )
}

/// A recipe of the shop with a header of its own and one step.
fn write_recipe(shop: &Path, name: &str, header: &str, steps: &str) {
    let text = format!(
        "format: 1\nrecipe: {name}\nrevision: 1\ntitle: Made\ncategory: gauge\n{header}basis: {{sm: none}}\nchanges: [{{revision: 1, date: 2026-11-02, why: Made, by: tech-04}}]\nsteps:\n{steps}"
    );
    std::fs::write(shop.join(format!("recipes/{name}.yaml")), text).expect("room");
}

#[test]
fn names_that_the_registers_nearly_have_are_hinted_at() {
    let shop = shop();
    let step = "  - {id: a, measure: It, unit: psi, with: gauge, record_only: true}\n";
    let header = "applies_to: {maker: Exampel Works, models: [VP-1]}\ninstruments: {gauge: {measures: [pressure], kind: Presure gauge}}\n";
    write_recipe(shop.path(), "misspelled", header, step);
    let (told, code) = says(shop.path(), &["check", "recipes/misspelled.yaml"]);
    assert_eq!(code, Some(0), "{told}");
    assert_eq!(told.matches("hint[nothing-fits]").count(), 2, "{told}");
    assert!(
        told.contains("the nearest one is `Example Works`"),
        "{told}"
    );
    assert!(
        told.contains("the nearest one is `Pressure gauge`"),
        "{told}"
    );
    let right = header
        .replace("Exampel", "Example")
        .replace("Presure", "Pressure");
    write_recipe(shop.path(), "misspelled", &right, step);
    let (told, _) = says(shop.path(), &["check", "recipes/misspelled.yaml"]);
    assert!(!told.contains("nothing-fits"), "{told}");
}

/// A slip in each of very many steps: the first ones are told, and how many more there are.
#[test]
fn very_many_findings_are_cut_aloud() {
    let shop = shop();
    let step = |n: usize| {
        format!(
            "  - {{id: s{n}, measure: It, unit: pis, accept: \'s{n} <= \"9 psi\"\', basis: sm}}\n"
        )
    };
    let steps: String = (0..300).map(step).collect();
    write_recipe(shop.path(), "slips", "", &steps);
    let (told, code) = says(shop.path(), &["check", "recipes/slips.yaml"]);
    assert_eq!(code, Some(1), "{told}");
    assert_eq!(told.matches("error[unknown-unit]").count(), 200);
    assert!(told.contains("\nand 100 more; mend these first\n"));
    let (told, _) = says(
        shop.path(),
        &["check", "--format", "json", "recipes/slips.yaml"],
    );
    assert_eq!(told.matches("\"unknown-unit\"").count(), 300);
}

/// 125 mL/h of a set with 20 gtt/mL are 41.67 gtt/min, which nobody on paper looks up; the limits of leakage rest on answers.
#[test]
fn a_worksheet_tells_the_numbers_that_are_known_ahead() {
    let shop = shop();
    let sheet = |recipe: &str| {
        let (text, code) = says(shop.path(), &["outline", recipe, "--worksheet"]);
        assert_eq!(code, Some(0), "{text}");
        text.split_whitespace().collect::<Vec<_>>().join(" ")
    };
    let drip = sheet("gravity-set-drip");
    assert!(drip.contains("flow that is wanted, 42 gtt/min"), "{drip}");
    assert!(drip.contains("Set the clamp to 42 gtt/min"), "{drip}");
    assert!(drip.contains("Limit: 40 to 44"), "{drip}");
    let syringe = sheet("syringe-annual");
    let limits = syringe.split("Limit of the equipment leakage for this class and method,");
    let told: String = limits
        .skip(1)
        .flat_map(|rest| rest.chars().take(300))
        .collect();
    for limit in ["1000 ", "500 ", "100 ", "\"alternative\""] {
        assert!(told.contains(limit), "no {limit} in {told}");
    }
}

#[test]
fn fmt_lays_out_what_is_uneven_and_leaves_the_rest() {
    let shop = shop();
    let untidy = "---\nformat: 1\nrecipe: untidy\nrevision: 1   \ntitle: Untidy\ncategory: gauge\nbasis: { sm: none}\nsteps:\n- id: a # first\n  measure: It\n  unit: psi\n  record_only: true\n";
    let even = "---\nformat: 1\nrecipe: untidy\nrevision: 1\ntitle: Untidy\ncategory: gauge\nbasis: {sm: none}\nsteps:\n  - id: a # first\n    measure: It\n    unit: psi\n    record_only: true\n";
    let file = shop.path().join("recipes/untidy.yaml");
    std::fs::write(&file, untidy).expect("room");

    let (told, code) = says(shop.path(), &["fmt", "--check", "recipes"]);
    assert_eq!(
        (told.as_str(), code),
        ("recipes/untidy.yaml: would be laid out anew\n", Some(1))
    );
    assert_eq!(std::fs::read_to_string(&file).expect("the file"), untidy);
    let (told, code) = says(shop.path(), &["fmt", "recipes"]);
    assert_eq!(
        (told.as_str(), code),
        ("recipes/untidy.yaml: laid out anew\n", Some(0))
    );
    assert_eq!(std::fs::read_to_string(&file).expect("the file"), even);
    assert_eq!(
        says(shop.path(), &["fmt", "--check", "recipes"]),
        (String::new(), Some(0))
    );
}

#[test]
fn fmt_leaves_an_approved_text_and_what_is_no_yaml() {
    let shop = shop();
    let file = shop.path().join("recipes/tight-limits.yaml");
    edit(&file, "title: ", "title:   ");
    edit(&file, "revision: 1\n", "revision: 1   \n");
    let approved = says(
        shop.path(),
        &["approve", "tight-limits", "--by", "review-01"],
    );
    assert_eq!(approved.1, Some(0), "{}", approved.0);
    let (told, code) = says(shop.path(), &["fmt", "recipes/tight-limits.yaml"]);
    assert!(told.contains("left as it is") && code == Some(0), "{told}");

    let broken = "steps: [a\n  b: }\n";
    std::fs::write(shop.path().join("recipes/broken.yaml"), broken).expect("room");
    let (told, code) = says(shop.path(), &["fmt", "recipes/broken.yaml"]);
    assert!(told.contains("yaml-syntax") && code == Some(2), "{told}");
    let after = std::fs::read_to_string(shop.path().join("recipes/broken.yaml"));
    assert_eq!(after.expect("the file"), broken);
}

#[test]
fn schemas_are_printed_by_name() {
    let shop = shop();
    let (names, code) = says(shop.path(), &["schema"]);
    assert!(names.starts_with("recipe\n") && code == Some(0), "{names}");
    for name in names.lines() {
        let (text, code) = says(shop.path(), &["schema", name]);
        let schema: serde_json::Value = serde_json::from_str(&text).expect("JSON");
        assert!(schema["$schema"].is_string() && code == Some(0), "{name}");
    }
    let (told, code) = says(shop.path(), &["schema", "recipee"]);
    assert!(
        told.contains("the nearest one is `recipe`") && code == Some(2),
        "{told}"
    );
}

#[test]
fn a_worksheet_has_a_place_for_each_answer_with_its_limit() {
    let shop = shop();
    let sheet = |form: &str| {
        says(
            shop.path(),
            &["outline", "volumetric-annual", "--worksheet", "--to", form],
        )
        .0
    };
    let text = sheet("text");
    for words in [
        "Worksheet: Volumetric infusion pump",
        "Instrument: meter",
        "☐ yes ☐ no",
        "__________ __________ __________ mL",
        "__________ psi",
    ] {
        assert!(text.contains(words), "{words}\n{text}");
    }
    assert!(text.contains("☐ pass ☐ fail ☐ incomplete") && text.contains("Signature"));
    assert!(!text.contains("In order"));
    let unwrapped = text.split_whitespace().collect::<Vec<_>>().join(" ");
    for words in [
        "The pump is not connected to a patient; Limit: stop if not;",
        "mL again: __________",
        "(if \"Power cord\" is \"detachable\")",
        "(if \"Battery run time\" is below 2 h)",
        "Limit: it is the serial in the register;",
        "__________ h:min:s",
    ] {
        assert!(unwrapped.contains(words), "{words}\n{text}");
    }
    let lines: Vec<&str> = text.lines().map(str::trim).collect();
    let gloves = "Caution: Wear gloves until you are sure of it.";
    assert!(lines.iter().any(|l| l.starts_with(gloves)), "{text}");
    // A step behind a group does not stand under its heading.
    let battery = lines
        .iter()
        .position(|l| l.contains("Running time on battery"));
    let heading = lines.iter().rposition(|l| *l == "Further steps");
    let air = lines.iter().rposition(|l| *l == "Air detector");
    assert!(air < heading && heading < battery, "{text}");
    // The limits of a row stand beside it: 10 mL within 5 %.
    assert!(
        unwrapped.contains("9.5 mL") && unwrapped.contains("10.5 mL"),
        "{text}"
    );
    let html = sheet("html");
    assert!(sheet("md").contains("| ") && html.contains("<table"));
    // No box is parted from its word, no line from its unit, no caution from its step.
    let boxes = html.matches('☐').count();
    assert_eq!(html.matches("☐\u{a0}").count(), boxes);
    assert!(html.contains("__________\u{a0}psi") && html.contains("class=\"before\""));
    let (_, code) = says(
        shop.path(),
        &["outline", "volumetric-annual", "--answers", "--worksheet"],
    );
    assert_eq!(code, Some(2));
}

/// Where a value is to be set there is a line to write it on, or what the register says; computed steps have their numbers.
#[test]
fn a_worksheet_has_lines_for_what_is_not_known_before() {
    let shop = shop();
    let sheet = |recipe: &str, more: &[&str]| {
        let words: Vec<&str> = ["outline", recipe, "--worksheet"]
            .iter()
            .chain(more)
            .copied()
            .collect();
        let (text, code) = says(shop.path(), &words);
        assert_eq!(code, Some(0), "{text}");
        text.split_whitespace().collect::<Vec<_>>().join(" ")
    };
    for recipe in ["gravity-set-drip", "volumetric-annual", "syringe-annual"] {
        let text = sheet(recipe, &[]);
        assert!(!text.contains('—'), "{recipe}: {text}");
        for n in 1..=20 {
            assert!(text.contains(&format!(" {n}. ")), "{recipe} {n}: {text}");
        }
    }
    let drip = sheet("gravity-set-drip", &[]);
    assert!(
        drip.contains("may be left empty: the program computes it"),
        "{drip}"
    );
    let known = sheet("volumetric-annual", &["--device", "VP-1001"]);
    for words in [
        "tag VP-1001 serial EW-100231",
        "it is the serial in the register, EW-100231;",
    ] {
        assert!(known.contains(words), "{words}\n{known}");
    }
    let (told, code) = says(
        shop.path(),
        &[
            "outline",
            "volumetric-annual",
            "--worksheet",
            "--device",
            "VP-1O01",
        ],
    );
    assert_eq!(code, Some(2), "{told}");
}

/// Controls and marks that turn the direction of writing are shown, never written: on the screen and in a file.
#[test]
fn nothing_that_deceives_gets_into_an_outline() {
    let shop = shop();
    let text =
        std::fs::read_to_string(shop.path().join("recipes/stopwatch.yaml")).expect("a recipe");
    let title = text
        .lines()
        .find(|l| l.starts_with("title: "))
        .expect("a title");
    let text = text.replace(
        title,
        "title: \"Watch \\e[31m \\a \\0 \\u202egnp\\u200b \\uFFFE\"",
    );
    std::fs::write(shop.path().join("deceiving.yaml"), text).expect("room");
    for form in ["text", "md", "html"] {
        for more in [None, Some("--worksheet")] {
            let words = ["outline", "deceiving.yaml", "--to", form]
                .into_iter()
                .chain(more);
            let (told, code) = says(shop.path(), &words.collect::<Vec<_>>());
            assert_eq!(code, Some(0), "{told}");
            let hidden = |c: char| c.is_control() && c != '\n';
            assert!(
                !told.contains(hidden) && !told.contains(['\u{202e}', '\u{200b}', '\u{fffe}']),
                "{form}"
            );
            assert!(
                told.contains("U+001B") && told.contains("U+202E"),
                "{form}: {told}"
            );
        }
    }
    let pdf = [
        "outline",
        "deceiving.yaml",
        "--worksheet",
        "--to",
        "pdf",
        "--output",
        "w.pdf",
    ];
    assert_eq!(says(shop.path(), &pdf).1, Some(0));
}

/// The skeleton of answers with these lines filled in.
fn filled(skeleton: &str, answers: &serde_yaml::Value) -> String {
    let mut text = String::new();
    for line in skeleton.lines() {
        let key = line.strip_prefix("  ").and_then(|l| l.strip_suffix(':'));
        let Some(key) = key.filter(|k| !k.starts_with('#')) else {
            text.push_str(&format!("{line}\n"));
            continue;
        };
        let answer = match &answers[key] {
            serde_yaml::Value::Null => "\"yes\"".to_owned(),
            answer => serde_json::to_string(answer).expect("JSON"),
        };
        text.push_str(&format!("{line} {answer}\n"));
    }
    text
}

#[test]
fn what_was_written_on_paper_is_typed_into_a_file_of_answers() {
    let shop = shop();
    let (skeleton, code) = says(shop.path(), &["outline", "volumetric-annual", "--answers"]);
    assert_eq!(code, Some(0), "{skeleton}");
    assert!(
        skeleton.contains("3 readings in `mL`") && skeleton.contains("limit: "),
        "{skeleton}"
    );
    let run = |device: &str, answers: &str| {
        std::fs::write(shop.path().join("paper.yaml"), answers).expect("room");
        assert_eq!(says(shop.path(), &["check", "paper.yaml"]).1, Some(0));
        says(
            shop.path(),
            &[
                "run",
                "volumetric-annual",
                "--device",
                device,
                "--by",
                "tech-04",
                "--answers",
                "paper.yaml",
            ],
        )
    };
    // With nothing filled in the session pauses at its first step.
    let (told, code) = run("VP-1002", &skeleton);
    assert_eq!(code, Some(3), "{told}");
    let pass = std::fs::read_to_string(shop.path().join("answers/pass.yaml")).expect("answers");
    let pass: serde_yaml::Value = serde_yaml::from_str(&pass).expect("YAML");
    let (told, code) = run("VP-1001", &filled(&skeleton, &pass["answers"]));
    assert_eq!(code, Some(0), "{told}");
}

/// A device that a recipe is not for is told as `run` tells it; paper is made all the same.
#[test]
fn paper_for_a_device_heeds_it() {
    let shop = shop();
    let register = std::fs::read_to_string(shop.path().join("devices.csv")).expect("a register");
    let long = format!("LONG-{}", "X".repeat(10_000));
    let line = format!("{long},S-1,Example Works,VP-1,volumetric,Ward 3,12,\n");
    std::fs::write(shop.path().join("devices.csv"), register + &line).expect("room");
    let paper = |device: &str, form: &str| {
        says(
            shop.path(),
            &["outline", "volumetric-annual", form, "--device", device],
        )
    };
    let warning = "stepwell: warning: `SY-2001` is of category syringe; the recipe `volumetric-annual` is for category volumetric";
    for form in ["--worksheet", "--answers"] {
        let (told, code) = paper("SY-2001", form);
        assert!(code == Some(0) && told.contains(warning), "{told}");
        assert!(!paper("VP-1001", form).0.contains("stepwell: warning"));
    }
    let (answers, _) = paper("VP-1001", "--answers");
    for words in [
        "run volumetric-annual --device VP-1001 --by",
        "limit: must match the register",
        "only if \"Power cord\" is \"detachable\"",
        "optional: it may stay empty",
    ] {
        assert!(answers.contains(words), "{words}: {answers}");
    }
    let (sheet, _) = paper("VP-1001", "--worksheet");
    let sheet = sheet.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        sheet.contains("☐ does not apply") && sheet.contains("☐ left out"),
        "{sheet}"
    );
    assert!(sheet.contains("(optional)"), "{sheet}");
    let (sheet, _) = paper(&long, "--worksheet");
    assert!(sheet.contains("more characters)") && !sheet.contains(&"X".repeat(200)));
}

/// What must hold before the first step is not let go by a stored answer: the file is mended, and the session goes on.
#[test]
fn a_setup_step_that_does_not_hold_waits_for_a_mended_answer() {
    let shop = shop();
    let pass = std::fs::read_to_string(shop.path().join("answers/pass.yaml")).expect("answers");
    let wrong = pass.replace("serial: EW-100231", "serial: EW-999999");
    assert_ne!(pass, wrong);
    let go = |words: &[&str], answers: &str| {
        std::fs::write(shop.path().join("paper.yaml"), answers).expect("room");
        says(shop.path(), &[words, &["--answers", "paper.yaml"]].concat())
    };
    let run = "run volumetric-annual --device VP-1001 --by tech-04";
    let run: Vec<&str> = run.split(' ').collect();
    let (told, code) = go(&run, &wrong);
    assert_eq!(code, Some(3), "{told}");
    assert!(told.contains("`serial` does not hold"), "{told}");
    // As it stands it does not go on, and nothing is entered again.
    let (told, code) = go(&["resume", "VP-1001"], &wrong);
    assert_eq!(code, Some(3), "{told}");
    let (told, code) = go(&["resume", "VP-1001"], &pass);
    assert_eq!(code, Some(0), "{told}");
}
