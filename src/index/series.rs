//! Each value of each device over its records, one device and recipe after the other.
//!
//! Never in here: statistics. Changes when the values of many devices are asked otherwise.

use std::collections::{HashMap, VecDeque};

use rusqlite::params;

use super::values::{Held, is_own, record};
use super::{Chosen, Index, IndexFault, Kept};

/// Most records of a device and recipe that are held: the newest.
const MOST: usize = 1000;

/// A value of a device by a recipe, in order of time.
#[derive(Clone, Debug)]
pub struct Series {
    /// Its name, as in [`super::Known`].
    pub name: String,
    /// What was found in each record.
    pub kept: VecDeque<Kept>,
}

impl Index {
    /// Tells the values of each device and recipe of the chosen records, in one pass; records of which `counts` says no
    /// are left out. Of many records the newest 1,000 are told, so that no more than these are held at once.
    ///
    /// # Errors
    /// Those of the index.
    pub fn each_series(
        &self,
        chosen: Chosen<'_>,
        counts: &dyn Fn(&str) -> bool,
        tell: &mut dyn FnMut(Series),
    ) -> Result<(), IndexFault> {
        let (records, bound) = chosen.records();
        let sql = format!(
            "SELECT r.key, r.id, r.started, r.at, d.tag, p.id, p.revision {records} ORDER BY d.tag, p.id, r.at, r.id"
        );
        let mut all = self.connection.prepare(&sql)?;
        let mut rows = all.query(rusqlite::params_from_iter(&bound))?;
        let mut of = (String::new(), String::new());
        let mut series = Gathered::default();
        while let Some(row) = rows.next()? {
            let kept = record(row)?;
            if !counts(&kept.record) {
                continue;
            }
            if of != (kept.device.clone(), kept.recipe.clone()) {
                of = (kept.device.clone(), kept.recipe.clone());
                series.hand_over(tell);
            }
            self.values_of(row.get(0)?, &kept, &mut series)?;
        }
        series.hand_over(tell);
        Ok(())
    }

    /// Adds the values of one record.
    fn values_of(&self, key: i64, of: &Kept, into: &mut Gathered) -> Result<(), IndexFault> {
        let mut held = self.connection.prepare_cached(
            "SELECT s.title, h.of, h.value, h.unit, h.low, h.high, h.expanded, h.verdict, s.path FROM held h \
             JOIN step s ON s.key = h.step WHERE h.record = ?1 ORDER BY h.n",
        )?;
        let mut limits: HashMap<String, (String, Vec<Held>)> = HashMap::new();
        let mut rows = held.query(params![key])?;
        while let Some(row) = rows.next()? {
            let mut title = String::new();
            let one = self.held(row, &mut title)?;
            let of_step = limits.entry(row.get(8)?).or_insert((title, Vec::new()));
            of_step.1.push(one);
        }
        let mut values = self.connection.prepare_cached(
            "SELECT s.title, v.value, v.unit, v.repeats, v.expanded, s.path FROM value v JOIN step s ON s.key = v.step \
             WHERE v.record = ?1 AND v.value IS NOT NULL ORDER BY v.n",
        )?;
        let mut rows = values.query(params![key])?;
        while let Some(row) = rows.next()? {
            let path: String = row.get(5)?;
            let mut kept = of.clone();
            (kept.title, kept.value) = (row.get(0)?, row.get(1)?);
            (kept.unit, kept.repeats) = (self.word(row.get(2)?), row.get(3)?);
            kept.expanded = row.get(4)?;
            if let Some((_, limits)) = limits.get(&path) {
                kept.narrow(limits, |limit| is_own(&path, &limit.of));
            }
            into.add(path, kept);
        }
        for (path, (title, limits)) in &limits {
            for limit in limits.iter().filter(|l| !is_own(path, &l.of)) {
                let mut kept = of.clone();
                kept.title.clone_from(title);
                if kept.take_held(limits, &limit.of) {
                    kept.narrow(limits, |other| other.of == limit.of);
                    into.add(format!("{path}: {}", limit.of), kept);
                }
            }
        }
        Ok(())
    }
}

/// The values of one device and recipe.
#[derive(Default)]
struct Gathered(HashMap<String, VecDeque<Kept>>);

impl Gathered {
    /// Adds what a record has; once, where several of its steps or criteria are called so.
    fn add(&mut self, name: String, kept: Kept) {
        let series = self.0.entry(name).or_default();
        if series.back().is_some_and(|last| last.record == kept.record) {
            return;
        }
        series.push_back(kept);
        if series.len() > MOST {
            series.pop_front();
        }
    }

    fn hand_over(&mut self, tell: &mut dyn FnMut(Series)) {
        for (name, kept) in self.0.drain() {
            tell(Series { name, kept });
        }
    }
}
