//! When devices last passed recipes.
//!
//! Never in here: what is due. Changes when something else makes a device done.

use super::{Index, IndexFault};

impl Index {
    /// The days on which devices last passed recipes, with remarks or without: tag, recipe, day. Trials don't count.
    ///
    /// # Errors
    /// Those of the index.
    pub fn last_passed(
        &self,
        without: &[&str],
    ) -> Result<Vec<(String, String, String)>, IndexFault> {
        let without = serde_json::json!(without).to_string();
        let mut last = self.connection.prepare_cached(
            "SELECT d.tag, p.id, max(substr(r.finished, 1, 10)) FROM record r JOIN device d ON r.device = d.key \
             JOIN recipe p ON p.key = r.recipe JOIN word v ON v.key = r.verdict \
             WHERE r.trial = 0 AND v.text IN ('pass', 'pass with remarks') \
             AND r.id NOT IN (SELECT value FROM json_each(?1)) GROUP BY d.tag, p.id",
        )?;
        let rows = last.query_map([without], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?)))?;
        Ok(rows.collect::<Result<_, _>>()?)
    }
}
