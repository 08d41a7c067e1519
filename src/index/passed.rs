//! When a device last passed a recipe.
//!
//! Never in here: what is due. Changes when something else makes a device done.

use rusqlite::{OptionalExtension, params};

use super::{Index, IndexFault};

impl Index {
    /// The day on which a device last passed a recipe, with remarks or without; trials don't count.
    ///
    /// # Errors
    /// Those of the index.
    pub fn last_passed(&self, tag: &str, recipe: &str) -> Result<Option<String>, IndexFault> {
        let mut last = self.connection.prepare_cached(
            "SELECT substr(r.finished, 1, 10) FROM device d JOIN record r ON r.device = d.key \
             JOIN recipe p ON p.key = r.recipe JOIN word v ON v.key = r.verdict \
             WHERE d.tag = ?1 AND p.id = ?2 AND r.trial = 0 AND v.text IN ('pass', 'pass with remarks') \
             ORDER BY r.at DESC LIMIT 1",
        )?;
        let day = last.query_row(params![tag, recipe], |row| row.get(0));
        Ok(day.optional()?)
    }
}
