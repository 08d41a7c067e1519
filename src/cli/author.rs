//! What an author of recipes asks for: explain, schema, fmt, calc.
//!
//! Never in here: sessions and records. Changes when findings or results are printed otherwise.

use std::path::{Path, PathBuf};

use serde_json::json;

use crate::app::{self, AppError, Formatted};
use crate::host::{Host, RealHost};
use crate::plan::Value;
use crate::quantity::shortened;
use crate::record::{DrawnErrors, Uncertainty};
use crate::text::{Code, Finding, findings_as_text};

use super::arguments::Form;
use super::commands::{Done, FAILED, GOOD, NO, colour, here, print};
use super::show::about;

pub(super) fn explain(code: Option<&str>) -> Done {
    let Some(name) = code else {
        for code in Code::ALL {
            print(&format!(
                "{:26} {:8} {}\n",
                code.name(),
                code.severity().word(),
                code.title()
            ));
        }
        return Ok(GOOD);
    };
    let Some(code) = Code::from_name(name) else {
        let help = match crate::recipe::schema::nearest(name, Code::ALL.iter().map(|c| c.name())) {
            Some(near) => format!("the nearest one is `{near}`"),
            None => "`stepwell explain` lists them".to_owned(),
        };
        return Err(AppError::new(format!("there is no code `{name}`; {help}")));
    };
    print(code.page());
    Ok(GOOD)
}

/// Prints a schema, or the names of all.
pub(super) fn schema(host: &RealHost, name: Option<&str>, output: Option<&Path>) -> Done {
    let Some(name) = name else {
        let names = app::SCHEMAS.iter().map(|(name, _)| format!("{name}\n"));
        print(&names.collect::<String>());
        return Ok(GOOD);
    };
    let text = app::schema(name)?;
    match output {
        Some(file) => {
            if let Some(folder) = file.parent().filter(|f| !f.as_os_str().is_empty()) {
                host.make_folder(folder)
                    .map_err(|e| AppError::at(folder, &e))?;
            }
            host.write(file, text.as_bytes())
                .map_err(|e| AppError::at(file, &e))?;
        }
        None => print(text),
    }
    Ok(GOOD)
}

/// Lays files out evenly, or tells which ones are not.
pub(super) fn fmt(
    host: &RealHost,
    shop: Option<&Path>,
    paths: Vec<PathBuf>,
    only_tell: bool,
) -> Done {
    let paths = match paths.is_empty() {
        true => vec![here(host, shop)?],
        false => paths,
    };
    let mut code = GOOD;
    let changed = if only_tell {
        "would be laid out anew"
    } else {
        "laid out anew"
    };
    for (file, formatted) in app::format_files(host, &paths, only_tell)? {
        let file = file.display();
        match formatted {
            Formatted::Even => {}
            Formatted::Changed => {
                print(&format!("{file}: {changed}\n"));
                code = code.max(if only_tell { NO } else { GOOD });
            }
            Formatted::Approved => print(&format!(
                "{file}: left as it is, since it was approved so; lay it out with its next revision\n"
            )),
            Formatted::Refused(findings) => {
                eprint!(
                    "{}",
                    findings_as_text(&findings, colour(&std::io::stderr()))
                );
                code = FAILED;
            }
        }
    }
    Ok(code)
}

pub(super) fn calc(
    expression: &str,
    names: &[String],
    unit: Option<&str>,
    format: Form,
    budget: bool,
) -> Done {
    let sheet = sheet(names)?;
    let calculated = sheet
        .calculate("expression", expression, unit)
        .map_err(AppError::Findings)?;
    if format == Form::Json {
        print(&format!("{}\n", sheet.json(&calculated, budget)));
        return Ok(GOOD);
    }
    match &calculated.value {
        Value::Quantity(q) => print(&format!("{}\n", about(q))),
        other => print(&format!("{other}\n")),
    }
    if calculated.close {
        print(
            "rests on an inexact number that lies within its numerical error of what it is compared with\n",
        );
    }
    if let Some(told) = sheet.uncertainty(&calculated) {
        print(&uncertainty_in_words(&told, budget));
    }
    if let Some(why) = calculated.undrawn {
        print(&format!("first order is not enough for this, and {why}\n"));
    }
    Ok(GOOD)
}

fn sheet(names: &[String]) -> Result<app::Sheet, AppError> {
    let mut sheet = app::Sheet::default();
    for given in names {
        sheet.give(given).map_err(AppError::Findings)?;
    }
    Ok(sheet)
}

/// What drawing errors came to; nothing where it only confirms value ± U and no budget is asked for.
fn drawn_in_words(drawn: &DrawnErrors, budget: bool) -> Option<String> {
    let unit = match drawn.unit.as_str() {
        "1" => "",
        unit => &format!(" {unit}"),
    };
    let (low, high) = (shortened(&drawn.low, 4), shortened(&drawn.high, 4));
    let interval = format!("95.45 % of the results lie from {low}{unit} to {high}{unit}");
    match drawn.agrees {
        false => Some(format!(
            "first order is not enough for this: with errors drawn at random {interval}\n"
        )),
        true => budget.then(|| {
            format!("with errors drawn at random {interval}, which agrees with value ± U\n")
        }),
    }
}

fn uncertainty_in_words(told: &Uncertainty, budget: bool) -> String {
    let freedom = told.freedom.as_deref().map_or_else(String::new, |f| {
        format!(", {f} effective degrees of freedom")
    });
    let mut text = format!(
        "{}: k = {} for 95.45 %{freedom}; u = {} {}\n",
        told.shown,
        shortened(&told.k, 4),
        shortened(&told.standard, 4),
        told.unit
    );
    for line in told.budget.iter().filter(|_| budget) {
        let share = line.share.parse::<f64>().unwrap_or(0.0) * 100.0;
        let standard = line
            .standard
            .as_deref()
            .map(|n| shortened(n, 4))
            .unwrap_or_default();
        let sensitivity = line
            .sensitivity
            .as_deref()
            .map(|n| shortened(n, 4))
            .unwrap_or_default();
        text.push_str(&format!(
            "  {share:5.1} %  {}: u = {standard} {}, c = {sensitivity}, contributes {} {}\n",
            line.source,
            line.unit.as_deref().unwrap_or_default(),
            shortened(&line.contribution, 4),
            told.unit
        ));
    }
    let drawn = told.drawn.as_ref().and_then(|d| drawn_in_words(d, budget));
    text + &drawn.unwrap_or_default()
}

/// One expression a line, one line of JSON each; a line that is wrong gives its fault and the others go on.
pub(super) fn calc_file(
    host: &RealHost,
    file: &Path,
    names: &[String],
    unit: Option<&str>,
    budget: bool,
) -> Done {
    let sheet = sheet(names)?;
    let source =
        app::read_source(host, file)?.map_err(|finding| AppError::Findings(vec![finding]))?;
    let mut good = true;
    for (number, line) in source.text.lines().enumerate() {
        let line = line.trim();
        if line.is_empty() || line.starts_with('#') {
            continue;
        }
        let place = format!("{}:{}", file.display(), number + 1);
        let json = match sheet.calculate(&place, line, unit) {
            Ok(calculated) => sheet.json(&calculated, budget),
            Err(findings) => {
                good = false;
                let first: Option<&Finding> = findings.first();
                json!({"error": first.map(|f| f.message.clone()), "code": first.map(|f| f.code.name()), "line": number + 1})
            }
        };
        print(&format!("{json}\n"));
    }
    Ok(if good { GOOD } else { NO })
}
