//! The newest records, by recipe or by person.
//!
//! Never in here: what is read of them. Changes when the newest of something else are wanted.

use rusqlite::params;

use super::{Index, IndexFault};

impl Index {
    /// The files of the newest records of a recipe, below the folder of records, the newest first.
    ///
    /// # Errors
    /// Those of the index.
    pub fn newest_of_recipe(&self, recipe: &str, most: u32) -> Result<Vec<String>, IndexFault> {
        let mut newest = self.connection.prepare_cached(
            "SELECT r.file FROM record r JOIN recipe p ON p.key = r.recipe WHERE p.id = ?1 AND r.fault IS NULL \
             ORDER BY r.at DESC LIMIT ?2",
        )?;
        let rows = newest.query_map(params![recipe, most], |row| row.get(0))?;
        Ok(rows.collect::<Result<_, _>>()?)
    }

    /// The files of the newest records that somebody began, below the folder of records, the newest first.
    ///
    /// # Errors
    /// Those of the index.
    pub fn newest_by(&self, person: &str, most: u32) -> Result<Vec<String>, IndexFault> {
        let mut newest = self.connection.prepare_cached(
            "SELECT r.file FROM record r JOIN word b ON b.key = r.by WHERE b.text = ?1 AND r.fault IS NULL \
             ORDER BY r.at DESC LIMIT ?2",
        )?;
        let rows = newest.query_map(params![person, most], |row| row.get(0))?;
        Ok(rows.collect::<Result<_, _>>()?)
    }
}
