//! Laying a file out evenly changes neither what it says nor its comments, and doing it again changes nothing.
//!
//! Never in here: how a text is to look (see the shop's tests of `fmt`). Changes when more of a text's layout is evened.

use proptest::prelude::*;
use stepwell::recipe::format::format;
use stepwell::text::Source;

#[derive(Clone, Debug)]
enum Tree {
    Scalar(String),
    /// A text over several lines: its indicator, and its lines.
    Long(&'static str, Vec<String>),
    Flow(String),
    List(Vec<Tree>),
    Mapping(Vec<Tree>),
}

fn tree() -> impl Strategy<Value = Tree> {
    let words = prop_oneof![
        Just("5.00 mL"),
        Just("'it''s: # no comment'"),
        Just("\"a, {b}: [c] \\u00b5\""),
        Just("µ „x“"),
        Just("a>\"6 psi\""),
        Just("x#y"),
        Just("\"\""),
        Just("~"),
    ];
    let flow = prop_oneof![
        Just("{ a: 1,b:  2 }"),
        Just("[1,2 , 3,]"),
        Just("{a: [ {b: 'x, y' },{} ], \"c\" : d}"),
        Just("[]"),
        Just("[ 'a'  ,   \"b: c\" ]"),
        Just("{a: {b : c}}"),
    ];
    let line = prop_oneof![
        Just("words"),
        Just("- no item"),
        Just("key: no key"),
        Just("# no comment"),
        Just("")
    ];
    let lines = proptest::collection::vec(line.prop_map(str::to_owned), 1..4);
    let long = (
        prop_oneof![Just("|"), Just(">"), Just("|-"), Just(">+")],
        lines,
    );
    let leaf = prop_oneof![
        words.prop_map(|w| Tree::Scalar(w.to_owned())),
        flow.prop_map(|f| Tree::Flow(f.to_owned())),
        long.prop_map(|(sign, lines)| Tree::Long(sign, lines)),
    ];
    leaf.prop_recursive(4, 24, 4, |inner| {
        prop_oneof![
            proptest::collection::vec(inner.clone(), 1..4).prop_map(Tree::List),
            proptest::collection::vec(inner, 1..4).prop_map(Tree::Mapping),
        ]
    })
}

/// Writes a tree as untidily as YAML allows, by drawn numbers.
struct Writer<'d> {
    draws: std::iter::Cycle<std::slice::Iter<'d, u8>>,
    text: String,
}

impl Writer<'_> {
    fn draw(&mut self, below: u8) -> u8 {
        self.draws.next().map_or(0, |d| d % below)
    }

    fn blanks(&mut self, count: u8) {
        self.text
            .extend(std::iter::repeat_n(' ', usize::from(count)));
    }

    /// The end of a line: blanks, a comment, blank lines, comments on their own.
    fn end(&mut self, comments: bool) {
        if comments && self.draw(4) == 0 {
            self.text.push_str("   # said beside");
        }
        let count = self.draw(3);
        self.blanks(count);
        self.text.push('\n');
        if comments && self.draw(5) == 0 {
            let (count, indent) = (self.draw(4), self.draw(7));
            self.text
                .extend(std::iter::repeat_n('\n', usize::from(count)));
            self.blanks(indent);
            self.text.push_str("# said before \n");
        }
    }

    fn parts(&mut self, parts: &[Tree], column: u8, list: bool, mut begun: bool) {
        let gap = self.draw(3);
        for (number, part) in parts.iter().enumerate() {
            if !std::mem::take(&mut begun) {
                self.blanks(column);
            }
            let ahead = if list {
                self.text.push('-');
                1 + gap
            } else {
                self.text.push_str(&format!("k{number}:"));
                0
            };
            self.value(part, column, ahead, list);
        }
    }

    fn value(&mut self, part: &Tree, column: u8, ahead: u8, in_list: bool) {
        match part {
            Tree::Scalar(text) | Tree::Flow(text) => {
                let count = 1 + self.draw(3);
                self.blanks(count);
                self.text.push_str(text);
                self.end(true);
            }
            Tree::Long(sign, lines) => {
                self.text.push_str(&format!(" {sign}"));
                self.text.push('\n');
                let indent = column + 1 + self.draw(4);
                for line in std::iter::once("begun").chain(lines.iter().map(String::as_str)) {
                    if !line.is_empty() {
                        self.blanks(indent);
                        self.text.push_str(line);
                    }
                    self.text.push('\n');
                }
            }
            Tree::List(parts) | Tree::Mapping(parts) => {
                let list = matches!(part, Tree::List(_));
                if in_list && self.draw(2) == 0 {
                    self.blanks(ahead);
                    self.parts(parts, column + 1 + ahead, list, true);
                    return;
                }
                self.end(true);
                // A list may stand at the column of the key that it belongs to.
                let least = u8::from(in_list || !list);
                let inner = column + least + self.draw(4);
                self.parts(parts, inner, list, false);
            }
        }
    }
}

fn written(parts: &[Tree], draws: &[u8]) -> String {
    let mut writer = Writer {
        draws: draws.iter().cycle(),
        text: String::new(),
    };
    writer.parts(parts, 0, false, false);
    writer.text
}

fn value(text: &str) -> serde_yaml::Value {
    serde_yaml::from_str(text).expect("the text is YAML")
}

fn comments(text: &str) -> usize {
    text.matches("# said ").count()
}

fn evened(text: &str) -> Result<String, String> {
    format(&Source::new("made-up.yaml", text)).map_err(|f| f[0].message.clone())
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 600, ..ProptestConfig::default() })]
    #[test]
    fn a_text_laid_out_evenly_says_the_same(
        parts in proptest::collection::vec(tree(), 1..5),
        draws in proptest::collection::vec(any::<u8>(), 7..40),
        feeds in any::<bool>(),
    ) {
        let mut text = written(&parts, &draws);
        if feeds {
            text = text.replace('\n', "\r\n");
        }
        let even = evened(&text).map_err(|e| TestCaseError::fail(format!("{e}\n{text}")))?;
        prop_assert_eq!(value(&even), value(&text), "{}", text);
        prop_assert_eq!(comments(&even), comments(&text));
        prop_assert!(even.ends_with('\n') && !even.contains('\r'));
        prop_assert_eq!(evened(&even), Ok(even.clone()), "{}", text);
    }

    #[test]
    fn no_text_makes_it_panic(text in "[-#:a {}\\[\\],'\"|>\n\t&*!é]{0,60}") {
        if let Ok(even) = evened(&text) {
            prop_assert_eq!(evened(&even), Ok(even.clone()), "{}", text);
        }
    }
}

/// What is shipped is laid out as the command lays out.
#[test]
fn what_is_shipped_is_even() {
    for text in [
        include_str!("../../recipes/volumetric-annual.yaml"),
        include_str!("../../recipes/volumetric-weighed.yaml"),
    ] {
        assert_eq!(evened(text).as_deref(), Ok(text));
    }
}

/// Before and after, as an author would see it.
#[test]
fn a_recipe_becomes_even() {
    let before = "\n\nformat: 1   \r\nsteps:\n-   id: a   # first\n    tell: >\n          Say\n          more\n    settings: { x: 1,y: [ 2,3 ]}\n\n\n\n# the second\n-   id: b\n    group: G\n    steps:\n        -   id: c\n            tell: C\n        -   {id: d,tell: D}\n\n";
    let after = "format: 1\nsteps:\n  - id: a   # first\n    tell: >\n          Say\n          more\n    settings: {x: 1, y: [2, 3]}\n\n  # the second\n  - id: b\n    group: G\n    steps:\n      - id: c\n        tell: C\n      - {id: d, tell: D}\n";
    assert_eq!(evened(before).as_deref(), Ok(after));
}

#[test]
fn a_comment_that_closes_a_block_stays_in_it() {
    let text = "recipe: made-up
steps:
    - id: a
      group: A
      steps:
          - id: x
            tell: Do it
          # the end of a
    # before b
    - id: b
      tell: Do more
    # the end of the steps
# the end
";
    let even = "recipe: made-up
steps:
  - id: a
    group: A
    steps:
      - id: x
        tell: Do it
      # the end of a
  # before b
  - id: b
    tell: Do more
  # the end of the steps
# the end
";
    let laid_out = |text: &str| format(&Source::new("made-up.yaml", text)).expect("an even text");
    assert_eq!(laid_out(text), even);
    assert_eq!(laid_out(even), even);
}
