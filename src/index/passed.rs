//! When devices last passed and failed recipes.
//!
//! Never in here: what is due. Changes when something else makes a device done.

use super::{Index, IndexFault};

/// The last pass of a device by a recipe, or its last record that says whether it is good.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Ended {
    /// The tag.
    pub tag: String,
    /// The recipe.
    pub recipe: String,
    /// The day.
    pub day: String,
    /// When it began, in milliseconds since 1970.
    pub at: i64,
    /// Whether it passed, with remarks or without.
    pub passed: bool,
    /// Whether the recipe is for the device.
    pub fits: bool,
    /// Why it was tested.
    pub occasion: String,
}

impl Index {
    /// For each device, recipe and occasion the last pass, and the last record that says whether the device is good. Trials don't
    /// count, nor do the records that are named.
    ///
    /// # Errors
    /// Those of the index.
    pub fn last_ended(&self, without: &[&str]) -> Result<Vec<Ended>, IndexFault> {
        let without = serde_json::json!(without).to_string();
        // Of a row with a maximum SQLite gives the other columns too.
        let mut last = self.connection.prepare_cached(
            "SELECT d.tag, p.id, substr(r.finished, 1, 10), max(r.at), v.text <> 'fail' AS passed, r.fits, o.text \
             FROM record r JOIN device d ON r.device = d.key JOIN recipe p ON p.key = r.recipe \
             JOIN word v ON v.key = r.verdict JOIN word o ON o.key = r.occasion \
             WHERE r.trial = 0 AND v.text IN ('pass', 'pass with remarks', 'fail') \
             AND r.id NOT IN (SELECT value FROM json_each(?1)) GROUP BY d.tag, p.id, passed, r.fits, o.key",
        )?;
        let rows = last.query_map([without], |row| {
            Ok(Ended {
                tag: row.get(0)?,
                recipe: row.get(1)?,
                day: row.get(2)?,
                at: row.get(3)?,
                passed: row.get(4)?,
                fits: row.get(5)?,
                occasion: row.get(6)?,
            })
        })?;
        Ok(rows.collect::<Result<_, _>>()?)
    }
}
