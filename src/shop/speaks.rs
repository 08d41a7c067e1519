//! `speaks` in `instruments.yaml`: where an instrument prints its readings, and how a reading is picked out of a line.
//!
//! Never in here: listening (see the host). Changes when an instrument speaks otherwise.

use regex::Regex;

use crate::host::{Line, Parity, Speaker};
use crate::quantity::{DecimalSign, Dimension, Unit};
use crate::recipe::cursor::At;
use crate::text::{Code, Finding};

/// The baud rate where none is written: the one that is most common (common practice, no source).
const USUAL_BAUD: u32 = 9_600;
/// The ways in which an instrument can speak.
const WAYS: [&str; 3] = ["serial", "tcp", "command"];

/// How an instrument speaks.
#[derive(Clone, Debug)]
pub struct Speaks {
    /// Where from.
    pub speaker: Speaker,
    /// What can be picked out of its lines.
    pub spoken: Vec<Spoken>,
}

/// A kind of reading in an instrument's lines.
#[derive(Clone, Debug)]
pub struct Spoken {
    /// Its first group is the number.
    pub pattern: Regex,
    /// The unit of the number.
    pub unit: Unit,
    /// The decimal sign that the instrument prints.
    pub decimal: DecimalSign,
}

impl Spoken {
    /// The number in a line as it is typed at a bench with this decimal sign; nothing where the line has none that is
    /// sure to be whole.
    #[must_use]
    pub fn number(&self, line: &str, typed: DecimalSign) -> Option<String> {
        if is_noise(line) {
            return None;
        }
        let found = self.pattern.captures(line)?.get(1)?;
        let (before, after) = (&line[..found.start()], &line[found.end()..]);
        if !is_whole(before, after) {
            return None;
        }
        let (sign, digits) = match found.as_str().trim().split_at_checked(1)? {
            ("-", rest) => ("-", rest.trim_start()),
            ("+", rest) => ("", rest.trim_start()),
            _ => ("", found.as_str().trim()),
        };
        let (whole, part) = match digits.split_once(self.decimal.symbol()) {
            Some((whole, part)) => (whole, Some(part)),
            None => (digits, None),
        };
        let is_number = |text: &str| !text.is_empty() && text.bytes().all(|b| b.is_ascii_digit());
        if !is_number(whole) || part.is_some_and(|p| !p.is_empty() && !is_number(p)) {
            return None;
        }
        let part = part.filter(|p| !p.is_empty());
        let part = part.map_or(String::new(), |p| format!("{}{p}", typed.symbol()));
        Some(format!("{sign}{whole}{part}"))
    }

    /// Whether a line tells of this, though its number may not be whole.
    #[must_use]
    pub fn is_told(&self, line: &str) -> bool {
        self.pattern.is_match(line)
    }

    /// The kind of quantity that it is.
    #[must_use]
    pub fn dimension(&self) -> Dimension {
        self.unit.kind().dimension
    }
}

/// Whether a line holds what no instrument says: control characters but those around a message, or more signs beyond ASCII
/// than a unit has (`°C`, `µL`).
fn is_noise(line: &str) -> bool {
    const FRAMING: &str = "\t\u{2}\u{3}\u{4}\u{6}\u{11}\u{13}";
    const MOST_STRANGE: usize = 2;
    let strange = line.chars().filter(|c| !c.is_ascii()).count();
    strange > MOST_STRANGE || line.chars().any(|c| c.is_control() && !FRAMING.contains(c))
}

/// Whether a number stands alone: a digit, a point or a sign beside it belonged to it, a garbled byte may have; behind a
/// number with letters it is an exponent (`1.2e-5`) or of another base (`0x12`).
fn is_whole(before: &str, after: &str) -> bool {
    let ahead = before.trim_end_matches(|c: char| c.is_ascii_alphabetic());
    if ahead.len() < before.len() && ahead.ends_with(|c: char| c.is_ascii_digit() || c == '.') {
        return false;
    }
    let garbled = |c: char| c.is_control() && c != '\t';
    let belongs = |c: char| c.is_ascii_digit() || "+-.,".contains(c) || !c.is_ascii() || garbled(c);
    let mut after = after.chars();
    let goes_on = match after.next() {
        Some('.' | ',') => after.next().is_some_and(|c| c.is_ascii_digit()),
        Some('e' | 'E') => after
            .next()
            .is_some_and(|c| c.is_ascii_digit() || matches!(c, '+' | '-')),
        Some(next) => next.is_ascii_digit() || garbled(next) || next == '\u{fffd}',
        None => false,
    };
    !before.chars().next_back().is_some_and(belongs) && !goes_on
}

/// Reads `speaks`; `measures` are the kinds that the instrument measures.
pub(super) fn speaks(
    at: &At<'_>,
    measures: &[Dimension],
    findings: &mut Vec<Finding>,
) -> Option<Speaks> {
    let before = findings.len();
    let speaker = speaker(at, findings);
    let decimal = match at.text_of("decimal").as_deref() {
        Some(",") => DecimalSign::Comma,
        _ => DecimalSign::Point,
    };
    let mut parts: Vec<At<'_>> = at.get("readings").iter().flat_map(At::items).collect();
    if at.get("pattern").is_some() {
        parts.push(at.clone());
    }
    if parts.is_empty() {
        findings.push(at.finding(
            Code::ShopFault,
            "there is no `pattern` that picks the number out of a line",
            "write `pattern` and `unit`, or a list of such pairs under `readings`",
        ));
    }
    let mut spoken: Vec<Spoken> = Vec::new();
    for part in parts {
        let Some(one) = one(&part, decimal, measures, findings) else {
            continue;
        };
        if spoken.iter().any(|s| s.dimension() == one.dimension()) {
            findings.push(part.finding(
                Code::ShopFault,
                format!("a second pattern for {}", one.dimension().name()),
                "write one pattern for each kind of quantity",
            ));
        }
        spoken.push(one);
    }
    (findings.len() == before).then_some(Speaks {
        speaker: speaker?,
        spoken,
    })
}

fn speaker(at: &At<'_>, findings: &mut Vec<Finding>) -> Option<Speaker> {
    let given: Vec<&str> = WAYS
        .into_iter()
        .filter(|way| at.get(way).is_some())
        .collect();
    let [way] = given[..] else {
        findings.push(at.finding(
            Code::ShopFault,
            "it is not said where the lines come from, or more than once",
            "write one of `serial: /dev/ttyUSB0`, `tcp: host:port`, `command: [program, argument]`",
        ));
        return None;
    };
    for key in ["baud", "bits", "parity"] {
        if let Some(extra) = at.get(key).filter(|_| way != "serial") {
            findings.push(extra.finding_at_key(
                Code::ShopFault,
                format!("`{key}` belongs to `serial`, not to `{way}`"),
                format!("remove `{key}`"),
            ));
        }
    }
    let text = at.text_of(way).unwrap_or_default();
    Some(match way {
        "serial" => Speaker::Serial(Line {
            path: text.into(),
            baud: at.get("baud").and_then(|b| b.whole()).unwrap_or(USUAL_BAUD),
            bits: at.get("bits").and_then(|b| b.whole()).unwrap_or(8),
            parity: match at.text_of("parity").as_deref() {
                Some("even") => Parity::Even,
                Some("odd") => Parity::Odd,
                _ => Parity::None,
            },
        }),
        "tcp" => Speaker::Tcp(text),
        _ => Speaker::Command(
            at.get("command")?
                .items()
                .filter_map(|word| word.text())
                .collect(),
        ),
    })
}

fn one(
    at: &At<'_>,
    decimal: DecimalSign,
    measures: &[Dimension],
    findings: &mut Vec<Finding>,
) -> Option<Spoken> {
    let pattern = at.get("pattern")?;
    let text = pattern.text()?;
    let compiled = match Regex::new(&text) {
        Ok(compiled) if compiled.captures_len() == 2 => Some(compiled),
        Ok(_) => {
            findings.push(pattern.finding(
                Code::ShopFault,
                "the pattern must have one group, round the number",
                "put the number in parentheses: `([-+]?[0-9.]+) *g`; `(?: )` groups without picking",
            ));
            None
        }
        Err(error) => {
            let reason = error.to_string();
            let reason = reason.lines().last().unwrap_or_default();
            findings.push(pattern.finding(
                Code::BadPattern,
                format!(
                    "not a regular expression: {}",
                    reason.trim_start_matches("error: ")
                ),
                "mend the pattern; signs with a meaning want a `\\` before them",
            ));
            None
        }
    };
    let Some(unit) = at.get("unit") else {
        findings.push(at.finding(
            Code::ShopFault,
            "the unit of the number is missing",
            "write `unit: g` beside the pattern",
        ));
        return None;
    };
    let read = match Unit::parse(&unit.text()?) {
        Ok(read) => read,
        Err(error) => {
            findings.push(unit.finding(
                Code::UnknownUnit,
                error.to_string(),
                "write the unit that the instrument prints its number in",
            ));
            return None;
        }
    };
    if !measures.contains(&read.kind().dimension) {
        findings.push(unit.finding(
            Code::ShopFault,
            format!(
                "`{}` is a unit of {}, which the instrument does not measure",
                read.text(),
                read.kind().dimension.name()
            ),
            "write a unit of a kind that stands under `measures`",
        ));
    }
    Some(Spoken {
        pattern: compiled?,
        unit: read,
        decimal,
    })
}
