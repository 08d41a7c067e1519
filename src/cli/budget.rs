//! What the uncertainty of a value is made of, in a few lines.
//!
//! Never in here: how it is found (see `plan`). Changes when a budget is told otherwise.

use crate::engine::{Limit, Sizes, State};
use crate::plan::Plan;
use crate::quantity::{Exact, shortened, with_unit};
use crate::record::{BudgetLine, Uncertainty, largest, uncertainty};

/// Most lines of a budget that are shown.
const LINES: usize = 5;

/// The budget of the value that was judged last, a line each; none where no uncertainty is known.
pub fn last_budget(plan: &Plan, state: &State) -> Vec<String> {
    let rows = plan.items.iter().zip(&state.items).rev();
    let judged = rows.flat_map(|(item, went)| {
        let limits = went
            .criteria()
            .iter()
            .rev()
            .flat_map(|c| c.limits.iter().rev());
        limits.map(move |limit| (item, limit))
    });
    let mut found = judged.filter_map(|(item, limit)| Some((item, limit, of_limit(limit, state)?)));
    let Some((item, limit, told)) = found.next() else {
        return Vec::new();
    };
    let freedom = told
        .freedom
        .as_ref()
        .map(|f| format!(", {f} degrees of freedom"));
    let mut lines = vec![format!(
        "Uncertainty of {} at {}: {}, k = {}{}",
        limit.of,
        item.path,
        told.shown,
        shortened(&told.k, 3),
        freedom.unwrap_or_default()
    )];
    let parts = largest(&told.budget, LINES);
    lines.extend(parts.iter().map(|l| line(l, &told.unit)));
    lines
}

fn of_limit(limit: &Limit, state: &State) -> Option<Uncertainty> {
    let value = limit.value.as_ref()?;
    let (number, sources) = (limit.number.as_ref()?, state.sources.borrow());
    uncertainty(value, number, &sources, None, &Sizes::default())
}

/// A share, what it comes to, and where it comes from.
fn line(of: &BudgetLine, unit: &str) -> String {
    format!(
        "  {}: {}, {}",
        share(&of.share),
        with_unit(&shortened(&of.contribution, 3), unit),
        of.source
    )
}

/// A ratio of the variance in percent, to two significant digits.
fn share(ratio: &str) -> String {
    match ratio.parse::<f64>() {
        Ok(ratio) if ratio >= 0.995 => "100 %".to_owned(),
        Ok(ratio) if ratio < 0.0001 => "< 0.01 %".to_owned(),
        Ok(ratio) => match Exact::from_f64(ratio * 100.0) {
            Some(percent) => format!("{} %", percent.to_significant(2)),
            None => String::new(),
        },
        Err(_) => String::new(),
    }
}
