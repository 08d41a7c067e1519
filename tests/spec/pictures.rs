//! Pictures that a recipe names and that do not lie beside it.
//!
//! Never in here: files. Changes when steps can show something else from a file.

use stepwell::recipe::{check_pictures, read};
use stepwell::text::Source;

use crate::document::line;

const RECIPE: &str = "\
setup:
  - id: outlet
    tell: Open the outlet
    picture: pictures/outlet.png
steps:
  - id: rows
    group: Rows
    steps:
      - id: closed
        tell: Close the outlet
        picture: closed.png
";

fn found(there: &str) -> Vec<String> {
    let whole = read(Source::new("page.yaml", RECIPE))
        .whole
        .expect("a recipe");
    let findings = check_pictures(&whole, &|name| name == there);
    findings.iter().map(line).collect()
}

#[test]
fn a_picture_that_is_not_there_is_found_where_it_is_named() {
    assert_eq!(
        found("pictures/outlet.png"),
        ["11:18 warning missing-picture there is no picture `closed.png` beside the recipe"]
    );
    assert_eq!(
        found("closed.png"),
        [
            "4:14 warning missing-picture there is no picture `pictures/outlet.png` beside the recipe"
        ]
    );
}
