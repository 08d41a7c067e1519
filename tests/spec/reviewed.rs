//! Findings in the forms of services that review changes: what stands where, and what is escaped how.
//!
//! SARIF 2.1.0 by its standard (OASIS, 3.4, 3.10.3, 3.27 to 3.30); workflow commands by GitHub's documentation, "Workflow
//! commands": `%`, CR and LF are escaped in data, `:` and `,` in properties too. Changes when a form is added.

use stepwell::recipe::read;
use stepwell::text::{Finding, Source, findings_as_github, findings_as_sarif};

const RECIPE: &str = "format: 1
recipe: x
revision: 1
title: \"µ: 100 %\"
category: gauge
basis: {sm: none}
steps:
  - id: a
    measure: It
    unit: psii
    accept: a <= \"6 psi\"
    basis: sn
";

fn findings(name: &str) -> Vec<Finding> {
    read(Source::new(name, RECIPE)).findings
}

#[test]
fn commands_to_a_workflow_are_escaped() {
    let mut found = findings("recipes/50 %, a: b.yaml");
    found[0].message.push_str(" 5 %\n::warning::not one");
    let told = findings_as_github(&found);
    let lines: Vec<&str> = told.lines().collect();
    assert_eq!(lines.len(), found.len(), "{told}");
    let place = found[0].source.place(found[0].span.start);
    let start = format!(
        "::{} file=recipes/50 %25%2C a%3A b.yaml,line={},col={},",
        found[0].severity().word(),
        place.line,
        place.column
    );
    assert!(lines[0].starts_with(&start), "{told}");
    assert!(
        lines[0].contains(" 5 %25%0A::warning::not one%0A"),
        "{told}"
    );
    let title = format!(",title={}::", found[0].code.name());
    assert!(lines[0].contains(&title), "{told}");
    assert!(
        lines
            .iter()
            .all(|l| l.starts_with("::error ") || l.starts_with("::warning "))
    );
}

#[test]
fn sarif_tells_each_finding_with_rule_and_region() {
    let found = findings("recipes/50 %, µ: b.yaml");
    let log = findings_as_sarif(&found);
    assert_eq!(log["version"], "2.1.0");
    let run = &log["runs"][0];
    assert_eq!(run["tool"]["driver"]["name"], "stepwell");
    assert_eq!(run["columnKind"], "unicodeCodePoints");
    let results = run["results"].as_array().expect("results");
    assert_eq!(results.len(), found.len());
    for (result, finding) in results.iter().zip(&found) {
        let index =
            usize::try_from(result["ruleIndex"].as_u64().expect("an index")).expect("an index");
        assert_eq!(
            result["ruleId"],
            run["tool"]["driver"]["rules"][index]["id"]
        );
        assert_eq!(result["ruleId"], finding.code.name());
        let place = &result["locations"][0]["physicalLocation"];
        assert_eq!(
            place["artifactLocation"]["uri"],
            "recipes/50%20%25%2C%20%C2%B5%3A%20b.yaml"
        );
        let start = finding.source.place(finding.span.start);
        assert_eq!(place["region"]["startLine"], start.line);
        assert_eq!(place["region"]["startColumn"], start.column);
        let text = result["message"]["text"].as_str().expect("a message");
        assert!(
            text.starts_with(&finding.message) && text.contains(&finding.help),
            "{text}"
        );
    }
    let none = findings_as_sarif(&[]);
    assert_eq!(none["runs"][0]["results"], serde_json::json!([]));
}

#[test]
fn an_absolute_path_is_a_file_uri() {
    let log = findings_as_sarif(&findings("/srv/a b.yaml"));
    let place = &log["runs"][0]["results"][0]["locations"][0]["physicalLocation"];
    assert_eq!(place["artifactLocation"]["uri"], "file:///srv/a%20b.yaml");
}
