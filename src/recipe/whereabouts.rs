//! Where what an item of a plan consists of stands in its recipe: criteria, conditions, rows.
//!
//! Never in here: findings. Changes when a recipe can hold criteria or conditions elsewhere.

use indexmap::IndexMap;

use crate::plan::{Item, Plan};

use super::cursor::At;

/// Most rows that are listed.
const MAX_ROWS: usize = 5;

/// The items of a plan by their step, each in all its rows.
pub type Steps<'p> = IndexMap<&'p str, Vec<&'p Item>, foldhash::fast::RandomState>;

/// The items by their step.
#[must_use]
pub fn steps_of(plan: &Plan) -> Steps<'_> {
    let mut steps = Steps::default();
    for item in &plan.items {
        steps.entry(&item.place).or_default().push(item);
    }
    steps
}

/// Where the criterion with this number stands.
#[must_use]
pub fn place_of_criterion<'d>(step: &At<'d>, number: usize) -> Option<At<'d>> {
    let accept = step.get("accept")?;
    let one = if accept.value.is_array() {
        accept.items().nth(number)?
    } else {
        accept
    };
    Some(one.get("that").unwrap_or(one))
}

/// The steps around a step and itself, outermost first, as pointers.
fn around(place: &str) -> Vec<&str> {
    let inner = place
        .match_indices("/steps/")
        .filter(|(at, _)| *at > 0)
        .map(|(at, _)| &place[..at]);
    inner.chain([place]).collect()
}

/// The places of the conditions of a step: those of the groups around it first.
#[must_use]
pub fn conditions_around(root: &At<'_>, place: &str) -> Vec<String> {
    let of = |step: &str| Some(root.at(step)?.get("when")?.pointer);
    around(place).into_iter().filter_map(of).collect()
}

/// The place of the row that an item stands in, if there is one `each` around it and no more.
#[must_use]
pub fn place_of_row<'d>(root: &At<'d>, item: &Item) -> Option<At<'d>> {
    let steps = around(&item.place);
    let eachs: Vec<usize> = (0..steps.len())
        .filter(|n| root.at(steps[*n]).is_some_and(|s| s.has("in")))
        .collect();
    let [each] = eachs[..] else { return None };
    // Ids of the steps around, that of the `each` itself, and then the number of the row.
    let number: usize = item.path.split('.').nth(each + 1)?.parse().ok()?;
    root.at(&format!("{}/in/{}", steps[each], number.checked_sub(1)?))
}

/// The path of the row that an item stands in.
#[must_use]
pub fn row(item: &Item) -> &str {
    item.path
        .rsplit_once('.')
        .map_or(&item.path, |(row, _)| row)
}

/// Rows by their paths, as words of a finding.
#[must_use]
pub fn listed(rows: &[&str]) -> String {
    let shown = &rows[..rows.len().min(MAX_ROWS)];
    let more = if rows.len() > MAX_ROWS {
        " and more"
    } else {
        ""
    };
    let word = if rows.len() == 1 { "row" } else { "rows" };
    format!("{word} `{}`{more}", shown.join("`, `"))
}
