//! The sentences that the technician reads: template syntax and names.
//!
//! Never in here: rendering at run time. Changes when templates can name something new.

use crate::plan::{PromptError, PromptFault, Type, Value, prompt_names, render_prompt};
use crate::quantity::{Exact, Quantity, Unit};
use crate::recipe::checked::Sentence;
use crate::recipe::cursor::At;
use crate::recipe::memo::Sound;
use crate::recipe::scope::{Lookup, Source};
use crate::text::{Code, Finding};

use super::Checker;

/// Longest sentence with its values, in bytes: a loop can make much of little.
const MAX_SHOWN: usize = 20_000;

impl Checker<'_> {
    /// Checks the sentence at a place.
    pub(super) fn sentence(&mut self, at: &At<'_>) -> Sentence {
        let template = at.text().unwrap_or_default();
        if !template.contains('{') {
            return Sentence {
                template,
                names: Vec::new(),
            };
        }
        self.single_braces(at, &template);
        if let Some(names) = self.said_before(&template) {
            return Sentence { template, names };
        }
        let names = match prompt_names(&template) {
            Ok(names) => names,
            Err(error) => {
                super::expressions::words(&template).for_each(|word| self.scopes.mention(word));
                let part = faulty_part(&template, |part| prompt_names(part).is_err());
                self.findings.push(at.finding_within(
                    Code::TemplateSyntax,
                    part,
                    error.message,
                    "values stand in `{{ … }}`",
                ));
                return Sentence {
                    template,
                    names: Vec::new(),
                };
            }
        };
        let mut known = Vec::new();
        let mut samples = Vec::new();
        let mut sound = true;
        for name in names {
            match self.scopes.look_up(&name, None) {
                Lookup::Value(of, source) => {
                    // What was reported has no sample to try the sentence with.
                    sound &= of.is_some();
                    samples.push((name.clone(), self.sample(of.as_ref(), &source)));
                    known.push((name, source));
                }
                Lookup::Refused(code, message, help) => {
                    self.scopes.mention(&name);
                    let code = if code == Code::UnknownName {
                        Code::TemplateName
                    } else {
                        code
                    };
                    let start = word(&template, &name);
                    self.findings.push(at.finding_within(
                        code,
                        (start, start + name.len()),
                        message,
                        help,
                    ));
                    sound = false;
                }
            }
        }
        if sound {
            let before = self.findings.len();
            self.try_out(at, &template, &samples);
            if self.findings.len() == before {
                self.keep_sentence(&template, &known);
            }
        }
        Sentence {
            template,
            names: known,
        }
    }

    /// Reports names in single braces: they were meant to be values.
    fn single_braces(&mut self, at: &At<'_>, template: &str) {
        let open = template.match_indices('{').map(|(at, _)| at);
        let alone = |at: &usize| {
            let (before, behind) = (&template[..*at], &template[at + 1..]);
            !before.ends_with('{') && !behind.starts_with(['{', '%', '#'])
        };
        for start in open.filter(alone).collect::<Vec<_>>() {
            let Some(length) = template[start..].find('}') else {
                continue;
            };
            let name = template[start + 1..start + length].trim();
            if !matches!(self.scopes.look_up(name, None), Lookup::Value(..)) {
                continue;
            }
            let (message, help) = (
                format!("`{name}` in single braces is shown as it stands"),
                format!("write `{{{{ {name} }}}}` for its value"),
            );
            let place = (start, start + length + 1);
            self.findings
                .push(at.finding_within(Code::SingleBraces, place, message, help));
        }
    }

    /// The names of a sentence that was found sound before, if they stand for the same.
    fn said_before(&self, template: &str) -> Option<Vec<(String, Source)>> {
        self.memo.sentence(template).into_iter().find_map(|sound| {
            let sources = self.sources_as_before(sound.thing.iter(), &sound.stood, None)?;
            Some(sound.thing.iter().cloned().zip(sources).collect())
        })
    }

    fn keep_sentence(&self, template: &str, names: &[(String, Source)]) {
        // Where nothing is repeated or decided, what holds for one value of a kind holds for all.
        let values = template.contains("{%") || template.contains('*');
        let stood = names
            .iter()
            .map(|(name, _)| Some(self.stands(name, None, values)?.0));
        if let Some(stood) = stood.collect() {
            let thing = names.iter().map(|(name, _)| name.clone()).collect();
            self.memo.keep_sentence(template, Sound { stood, thing });
        }
    }

    /// Puts samples into a sentence, and reports what fails.
    fn try_out(&mut self, at: &At<'_>, template: &str, samples: &[(String, Value)]) {
        let whole = match render_prompt(template, samples) {
            Ok(shown) if shown.len() <= MAX_SHOWN => return,
            Ok(_) => {
                let message = format!("more than {MAX_SHOWN} bytes once the values are in");
                let (place, help) = ((0, template.len()), "repeat less in one sentence");
                let finding = at.finding_within(Code::TemplateSyntax, place, message, help);
                self.findings.push(finding);
                return;
            }
            Err(error) => error,
        };
        let faulty: Vec<((usize, usize), PromptError)> = parts(template)
            .filter_map(|(start, end)| {
                let error = render_prompt(&template[start..end], samples).err()?;
                Some(((start, end), error))
            })
            .collect();
        if faulty.is_empty() {
            self.findings
                .push(at_fault(at, template, (0, template.len()), whole));
        }
        for (part, error) in faulty {
            self.findings.push(at_fault(at, template, part, error));
        }
    }

    /// A group's title is put together before anything is read.
    pub(super) fn title(&mut self, at: &At<'_>) -> Sentence {
        let sentence = self.sentence(at);
        if sentence
            .names
            .iter()
            .any(|(_, source)| matches!(source, Source::Leaf(..)))
        {
            let help = "use settings and fields of the row only; readings belong into the steps";
            self.findings.push(at.finding(
                Code::TemplateName,
                "a group's title names a reading",
                help,
            ));
        }
        let of_device = |(_, source): &(String, Source)| matches!(source, Source::Device(_));
        if sentence.names.iter().any(of_device) {
            let help = "use settings and fields of the row only; the device belongs into the steps";
            let message = "a group's title names a field of the device";
            self.findings
                .push(at.finding(Code::TemplateName, message, help));
        }
        sentence
    }

    /// A value of the right type, to try the template with.
    fn sample(&self, of: Option<&Type>, source: &Source) -> Value {
        if let Source::Setting(id) = source
            && let Some(quantity) = self.settings.get(id)
        {
            return Value::Quantity(quantity.clone());
        }
        sample(of)
    }
}

fn sample(of: Option<&Type>) -> Value {
    match of {
        Some(Type::Quantity { kind, .. }) => {
            let unit = if kind.scale == crate::quantity::Scale::Point {
                Unit::parse("degC").unwrap_or_else(|_| Unit::one())
            } else {
                Unit::si(*kind)
            };
            Value::Quantity(Quantity::new(Exact::one().into(), unit))
        }
        Some(Type::Truth) => Value::Truth(true),
        Some(Type::List(inner)) => Value::List(vec![sample(Some(inner)), sample(Some(inner))]),
        Some(Type::Text | Type::Trace(_) | Type::Series(_)) | None => {
            Value::Text("text".to_owned())
        }
    }
}

/// Where a name stands in a template as a word of its own.
fn word(template: &str, name: &str) -> usize {
    let inside = |c: char| c.is_ascii_alphanumeric() || matches!(c, '_' | '.');
    template
        .match_indices(name)
        .map(|(at, _)| at)
        .find(|at| {
            !template[..*at].ends_with(inside) && !template[at + name.len()..].starts_with(inside)
        })
        .or_else(|| template.find(name))
        .unwrap_or(0)
}

/// The first `{{ … }}` that is faulty by itself; the whole sentence where none is.
fn faulty_part(template: &str, is_faulty: impl Fn(&str) -> bool) -> (usize, usize) {
    parts(template)
        .find(|(start, end)| is_faulty(&template[*start..*end]))
        .unwrap_or((0, template.len()))
}

/// Where each `{{ … }}` stands.
fn parts(template: &str) -> impl Iterator<Item = (usize, usize)> {
    let opens: Vec<usize> = template.match_indices("{{").map(|(at, _)| at).collect();
    let ends: Vec<usize> = opens
        .iter()
        .skip(1)
        .copied()
        .chain([template.len()])
        .collect();
    opens.into_iter().zip(ends).map(|(start, next)| {
        let rest = &template[start..next];
        let end = rest
            .find("}}")
            .map(|end| end + 2)
            .or_else(|| rest.find('}').map(|end| end + 1));
        (start, start + end.unwrap_or(rest.trim_end().len()))
    })
}

/// The finding for a part that can't be shown, at the word in it that is wrong.
fn at_fault(at: &At<'_>, template: &str, part: (usize, usize), error: PromptError) -> Finding {
    let (code, wrong, help) = match &error.about {
        PromptFault::UnknownUnit(unit) => {
            let help = "write the unit as in `in(\"mL/h\")`";
            (Code::UnknownUnit, Some(unit), help)
        }
        PromptFault::OtherKind(unit) => {
            let help = "write a unit of the value's own kind";
            (Code::KindMismatch, Some(unit), help)
        }
        PromptFault::Filter(name) => {
            let help = "a value is shown in another unit by the filter `in`: `{{ rate | in(\"mL/min\") }}`";
            (Code::TemplateSyntax, Some(name), help)
        }
        PromptFault::Syntax | PromptFault::Other => {
            let help = "check the names of filters and the units they are given";
            (Code::TemplateSyntax, None, help)
        }
    };
    // Behind the bar: a value may be called as its unit is.
    let text = &template[part.0..part.1];
    let bar = text.find('|').unwrap_or_default();
    let found = wrong.map(|wrong| (part.0 + bar + word(&text[bar..], wrong), wrong.len()));
    let place = found.map_or(part, |(start, length)| (start, start + length));
    at.finding_within(code, place, error.message, help)
}
