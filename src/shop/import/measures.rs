//! What an instrument measures, as one line of text: `volume=0 mL..60 mL; 1 % + 0.02 mL; k 2; 0.01 mL`.
//!
//! Never in here: what accuracies mean. Changes when an instrument says more of a kind.

use indexmap::IndexMap;

use crate::journal::Measure;
use crate::shop::instruments::read_instruments;
use crate::shop::interval::Unreadable;
use crate::text::Source;

const HELP: &str = "write it as `volume=0 mL..60 mL; 1 % + 0.02 mL; k 2; 0.01 mL`: range, accuracy, `k 2` or `rectangular`, step of the display; `|` before another kind";

/// Reads the text: kinds apart by `|`, each `KIND=LOW..HIGH; ACCURACY`, then `k NUMBER` or `rectangular`, and the step
/// of the display.
///
/// # Errors
/// Text of another form; what `instruments.yaml` would not take.
pub fn measures_from(text: &str) -> Result<IndexMap<String, Measure>, Unreadable> {
    let mut measures = IndexMap::new();
    for part in text.split('|').map(str::trim).filter(|p| !p.is_empty()) {
        let (kind, measure) = one(part).ok_or_else(|| Unreadable {
            message: format!("`{part}` does not say what is measured"),
            help: HELP,
        })?;
        if measures.insert(kind.clone(), measure).is_some() {
            return Err(Unreadable {
                message: format!("`{kind}` stands twice"),
                help: HELP,
            });
        }
    }
    let register = format!(
        "instruments: [{{id: a, kind: a, due: 2000-01-01, measures: {}}}]\n",
        measures_yaml(&measures)
    );
    let findings = read_instruments(Source::new("", &register)).1;
    match findings.first() {
        None => Ok(measures),
        Some(first) => Err(Unreadable {
            message: format!("{} ({})", first.message, first.help),
            help: HELP,
        }),
    }
}

fn one(part: &str) -> Option<(String, Measure)> {
    let (kind, rest) = part.split_once('=')?;
    let mut parts = rest.split(';').map(str::trim);
    let (low, high) = parts.next()?.split_once("..")?;
    let mut measure = Measure {
        range: Some([low.trim().to_owned(), high.trim().to_owned()]),
        accuracy: Some(parts.next()?.to_owned()),
        ..Measure::default()
    };
    for part in parts.filter(|p| !p.is_empty()) {
        if let Some(k) = part.strip_prefix("k ") {
            measure.k = Some(k.trim().to_owned());
        } else if part == "rectangular" {
            measure.limits = Some(part.to_owned());
        } else if measure.resolution.is_none() {
            measure.resolution = Some(part.to_owned());
        } else {
            return None;
        }
    }
    Some((kind.trim().to_owned(), measure))
}

/// The text that is read as these.
#[must_use]
pub fn measures_text(measures: &IndexMap<String, Measure>) -> String {
    let text = |(kind, measure): (&String, &Measure)| {
        let range = measure.range.as_ref();
        let range = range.map_or_else(String::new, |[low, high]| format!("{low}..{high}"));
        let mut parts = vec![range, measure.accuracy.clone().unwrap_or_default()];
        parts.extend(measure.k.as_ref().map(|k| format!("k {k}")));
        parts.extend(measure.limits.clone());
        parts.extend(measure.resolution.clone());
        format!("{kind}={}", parts.join("; "))
    };
    measures.iter().map(text).collect::<Vec<_>>().join(" | ")
}

/// The mapping that stands in `instruments.yaml`, in braces.
#[must_use]
pub fn measures_yaml(measures: &IndexMap<String, Measure>) -> String {
    let quoted = |text: &str| serde_json::Value::from(text).to_string();
    let text = |(kind, measure): (&String, &Measure)| {
        let mut keys = Vec::new();
        if let Some([low, high]) = &measure.range {
            keys.push(format!("range: [{}, {}]", quoted(low), quoted(high)));
        }
        keys.extend(
            measure
                .accuracy
                .as_ref()
                .map(|a| format!("accuracy: {}", quoted(a))),
        );
        keys.extend(measure.limits.as_ref().map(|l| format!("limits: {l}")));
        keys.extend(measure.k.as_ref().map(|k| {
            let number = k.parse::<f64>().is_ok_and(f64::is_finite);
            let k = if number { k.clone() } else { quoted(k) };
            format!("k: {k}")
        }));
        keys.extend(
            measure
                .resolution
                .as_ref()
                .map(|r| format!("resolution: {}", quoted(r))),
        );
        format!("{}: {{{}}}", quoted(kind), keys.join(", "))
    };
    let all: Vec<String> = measures.iter().map(text).collect();
    format!("{{{}}}", all.join(", "))
}
