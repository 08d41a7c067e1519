//! What drifts, as text, as data and as a page.
//!
//! Never in here: finding it (see `app`). Changes when more is told of a drift.

use serde_json::{Value, json};

use crate::app::{AppError, Drift};
use crate::quantity::Exact;
use crate::render::DriftPage;

use super::fitted::in_columns;
use super::looking::TrendForm;
use super::show::plain;
use super::traced::{allowed, shown};

/// Widest column where no terminal is.
const WIDEST: usize = 60;
/// What is said where nothing drifts.
const NONE: &str = "no value runs towards a limit that it would meet within a year";

/// What drifts, in a form.
pub(super) fn drifts(all: &[Drift], form: TrendForm) -> Result<String, AppError> {
    match form {
        TrendForm::Json => Ok(format!("{:#}\n", all.iter().map(data).collect::<Value>())),
        TrendForm::Text => Ok(text(all)),
        TrendForm::Html => {
            let page = DriftPage {
                title: "What drifts".to_owned(),
                said: said(all),
                rows: all.iter().map(row).collect(),
            };
            crate::render::drifts(&page).map_err(|e| AppError::new(e.to_string()))
        }
    }
}

fn said(all: &[Drift]) -> String {
    let devices: std::collections::BTreeSet<&str> =
        all.iter().map(|d| d.newest.kept.device.as_str()).collect();
    match (all.len(), devices.len()) {
        (0, _) => NONE.to_owned(),
        (values, devices) => format!(
            "{values} {} of {devices} {}; the days hold if it goes on as it did: an extrapolation, not a promise",
            if values == 1 { "value" } else { "values" },
            if devices == 1 { "device" } else { "devices" },
        ),
    }
}

fn text(all: &[Drift]) -> String {
    if all.is_empty() {
        return format!("{NONE}\n");
    }
    let names = [
        "limit met",
        "device",
        "value",
        "newest",
        "allowed",
        "recipe",
    ];
    let mut rows = vec![names.map(str::to_owned).to_vec()];
    rows.extend(all.iter().map(|of| {
        let kept = &of.newest.kept;
        let cells = [
            met(of),
            kept.device.clone(),
            of.name.clone(),
            newest(of),
            limits(of),
            kept.recipe.clone(),
        ];
        cells.iter().map(|cell| plain(cell)).collect()
    }));
    format!("{}{}\n", in_columns(&rows, WIDEST), said(all))
}

fn met(of: &Drift) -> String {
    of.meets.clone().unwrap_or_else(|| "already".to_owned())
}

fn newest(of: &Drift) -> String {
    let kept = &of.newest.kept;
    let day = kept.started.get(..10).unwrap_or_default();
    format!("{} on {day}", shown(&kept.value, &kept.unit))
}

fn limits(of: &Drift) -> String {
    let kept = &of.newest.kept;
    allowed(kept.low.as_deref(), kept.high.as_deref(), &kept.unit)
}

fn row(of: &Drift) -> [String; 4] {
    let kept = &of.newest.kept;
    let value = format!("{}: {} of {}", kept.device, of.name, kept.recipe);
    [value, met(of), newest(of), limits(of)]
}

fn data(of: &Drift) -> Value {
    let kept = &of.newest.kept;
    let number = |end: &Option<Exact>| end.as_ref().map(Exact::to_text);
    json!({
        "device": kept.device, "recipe": kept.recipe, "value": of.name, "title": kept.title, "unit": kept.unit,
        "limit_met": of.meets, "already_met": of.meets.is_none(), "records": of.records,
        "newest": {
            "record": kept.record, "started": kept.started, "value": of.newest.value.to_text(),
            "low": number(&of.newest.low), "high": number(&of.newest.high), "verdict": kept.verdict,
        },
        "slope_per_day": of.fit.slope, "standard_error_per_day": of.fit.uncertainty,
    })
}
