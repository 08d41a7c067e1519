//! `trend`: the history of a value, with what statistics tell of it.
//!
//! Never in here: how records are found (see the index), drawing. Changes when more is told of a history.

use std::collections::BTreeSet;

use jiff::ToSpan;
use jiff::civil::Date;

use crate::host::Host;
use crate::index::{Chosen, Index, Kept, Known, converted};
use crate::maths::control::{Individuals, individuals};
use crate::maths::line::Line;
use crate::maths::outlier::{Side, grubbs, modified_z};
use crate::maths::student::student_quantile;
use crate::quantity::{Exact, Unit};
use crate::recipe::schema::nearest;
use crate::shop::{Paths, read_devices};

use super::AppError;
use super::amendments::overruled;
use super::open::read_source;
use super::trace::{notes, open_index};

/// Most values that are named where several may be meant.
const MAX_NEAR: usize = 8;
/// A day in milliseconds.
const DAY_MS: f64 = 86_400_000.0;
/// How sure a slope must be to be told as one: both tails of 5 %.
const SURE: f64 = 0.975;
/// Significance of Grubbs' test.
const GRUBBS: f64 = 0.05;

/// What was found.
#[derive(Debug)]
pub enum Trend {
    /// No value was named: those that can be had.
    Values(Vec<Known>, Vec<String>),
    /// The history of the value.
    History(Box<History>),
}

/// The history of a value.
#[derive(Debug)]
pub struct History {
    /// Its name.
    pub name: String,
    /// The title of its step.
    pub title: String,
    /// The recipe.
    pub recipe: String,
    /// The unit of all numbers here, that of the newest record.
    pub unit: String,
    /// The values in order of time.
    pub points: Vec<TrendPoint>,
    /// The straight line through them; nothing of fewer than three values or of one time.
    pub fit: Option<Fit>,
    /// Shewhart's limits of individuals; nothing of fewer than two values.
    pub chart: Option<Individuals>,
    /// What is to be known: values that were left out, files that are no records.
    pub notes: Vec<String>,
}

/// A value of a record.
#[derive(Clone, Debug)]
pub struct TrendPoint {
    /// What the index keeps of it, in its own unit.
    pub kept: Kept,
    /// The value in the unit of the history.
    pub value: Exact,
    /// Its expanded uncertainty.
    pub expanded: Option<Exact>,
    /// The lower end of what is allowed.
    pub low: Option<Exact>,
    /// The upper end of what is allowed.
    pub high: Option<Exact>,
    /// Tests by which it stands apart from the others. A hint only: it is left out of nothing.
    pub hints: Vec<String>,
}

/// A straight line by time.
#[derive(Clone, Debug, PartialEq)]
pub struct Fit {
    /// The slope in units a day.
    pub slope: f64,
    /// Its standard uncertainty (standard error) in units a day.
    pub uncertainty: f64,
    /// Degrees of freedom.
    pub freedom: usize,
    /// The standard deviation of the values about the line.
    pub residual: f64,
    /// What the line gives at the first and at the last value.
    pub ends: [f64; 2],
    /// Whether the slope differs from zero at 95 %.
    pub is_significant: bool,
    /// Where it leads, if it is significant.
    pub crossing: Option<Crossing>,
}

/// Where the line meets a limit of the newest record. An extrapolation: nothing says that it goes on as it did.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Crossing {
    /// On this day, later than the newest record.
    On(String),
    /// It has met it already.
    Before,
    /// Not in the calendar, or there is no limit on that side.
    Never,
}

/// What was measured in a record that does not hold any longer says nothing of the device.
fn leave_out_overruled(
    host: &dyn Host,
    paths: &Paths,
    kept: &mut Vec<Kept>,
    notes: &mut Vec<String>,
) -> Result<(), AppError> {
    let overruled = overruled(host, paths)?;
    kept.retain(|k| match overruled.get(&k.record) {
        None => true,
        Some(why) => {
            notes.push(format!("{} is left out: {why}", k.record));
            false
        }
    });
    Ok(())
}

/// Works out the history of a value over the chosen records, or lists the values that can be had.
///
/// # Errors
/// Those of the system; a value that no chosen record has; one that stands in several recipes.
pub fn trend(
    host: &dyn Host,
    paths: &Paths,
    chosen: Chosen<'_>,
    value: Option<&str>,
) -> Result<Trend, AppError> {
    let index = open_index(host, paths)?;
    let mut notes = notes(&index)?;
    known(host, paths, &index, chosen)?;
    let Some(name) = value else {
        return Ok(Trend::Values(index.known_values(chosen)?, notes));
    };
    let mut kept = index.history(chosen, name)?;
    let whole = match kept.is_empty() {
        true => Some(meant(name, &index.known_values(chosen)?)?),
        false => None,
    };
    let name = whole.as_deref().unwrap_or(name);
    if whole.is_some() {
        kept = index.history(chosen, name)?;
    }
    leave_out_overruled(host, paths, &mut kept, &mut notes)?;
    let recipes: BTreeSet<&str> = kept.iter().map(|k| k.recipe.as_str()).collect();
    if recipes.len() > 1 {
        let all: Vec<&str> = recipes.into_iter().collect();
        return Err(AppError::new(format!(
            "`{name}` stands in several recipes: name one with `--recipe` ({})",
            all.join(", ")
        )));
    }
    let Some(newest) = kept.last() else {
        return Err(AppError::new(format!(
            "no chosen record has a value `{name}` that counts"
        )));
    };
    Ok(Trend::History(Box::new(history(
        name,
        newest.clone(),
        kept,
        notes,
    ))))
}

/// The value whose path ends in a name, or goes through it, if it is the only one.
fn meant(name: &str, known: &[Known]) -> Result<String, AppError> {
    let all: BTreeSet<&str> = known.iter().map(|k| k.name.as_str()).collect();
    let path = |whole: &str| {
        whole
            .split_once(": ")
            .map_or(whole, |(path, _)| path)
            .to_owned()
    };
    let ends = |whole: &&&str| path(whole).ends_with(&format!(".{name}"));
    let inside = |whole: &&&str| format!(".{}.", path(whole)).contains(&format!(".{name}."));
    let mut found: Vec<&str> = all.iter().filter(ends).copied().collect();
    if found.is_empty() {
        found = all.iter().filter(inside).copied().collect();
    }
    let help = match &found[..] {
        [only] => return Ok((*only).to_owned()),
        [] => match near_to(name, &all) {
            Some(near) => format!("the nearest one is `{near}`"),
            None => "without `--value` those that can be had are listed".to_owned(),
        },
        several => {
            let shown: Vec<String> = several
                .iter()
                .take(MAX_NEAR)
                .map(|n| format!("`{n}`"))
                .collect();
            let more = if several.len() > MAX_NEAR { " …" } else { "" };
            format!("several are called so: {}{more}", shown.join(", "))
        }
    };
    Err(AppError::new(format!(
        "no chosen record has a value `{name}`; {help}"
    )))
}

/// The value that may have been meant, by its whole name or by the last part of its path.
fn near_to<'k>(name: &str, known: &BTreeSet<&'k str>) -> Option<&'k str> {
    let last = |whole: &'k str| whole.rsplit_once('.').map_or(whole, |(_, last)| last);
    let whole = nearest(name, known.iter().copied());
    whole.or_else(|| {
        let near = nearest(name, known.iter().map(|whole| last(whole)))?;
        known.iter().find(|whole| last(whole) == near).copied()
    })
}

/// That the registers or the records have what is asked for.
pub(super) fn known(
    host: &dyn Host,
    paths: &Paths,
    index: &Index,
    chosen: Chosen<'_>,
) -> Result<(), AppError> {
    let [mut tags, mut models, mut recipes] = index.known_names()?;
    let file = paths.file("devices.csv");
    if host.exists(&file)
        && let Ok(source) = read_source(host, &file)?
    {
        // What can't be read of the register is left to `check`.
        for registered in read_devices(&source).0 {
            tags.push(registered.device.tag);
            models.push(registered.device.model);
        }
    }
    let folder = paths.recipes();
    let files = host.list(&folder).map_err(|e| AppError::at(&folder, &e))?;
    let stems = files.iter().filter_map(|f| f.file_stem()?.to_str());
    recipes.extend(stems.map(str::to_owned));
    for (asked, all, what, option) in [
        (chosen.device, tags, "device", "--device"),
        (chosen.model, models, "model", "--model"),
        (chosen.recipe, recipes, "recipe", "--recipe"),
    ] {
        let Some(asked) = asked.filter(|a| !all.iter().any(|known| known == a)) else {
            continue;
        };
        let help = match nearest(asked, all.iter().map(String::as_str)) {
            Some(near) => format!("; the nearest one is `{near}`"),
            None => String::new(),
        };
        return Err(AppError::new(format!(
            "`{option}`: no {what} `{asked}` stands in the registers or in a record{help}"
        )));
    }
    Ok(())
}

fn history(name: &str, newest: Kept, kept: Vec<Kept>, notes: Vec<String>) -> History {
    let all = kept.len();
    let unit = newest.unit.clone();
    let read: Vec<TrendPoint> = kept.into_iter().filter_map(|k| point(k, &unit)).collect();
    let mut history = History {
        name: name.to_owned(),
        title: newest.title.clone(),
        recipe: newest.recipe,
        fit: fit(&read),
        chart: chart(&read),
        points: read,
        unit,
        notes,
    };
    let left_out = all - history.points.len();
    if left_out > 0 {
        let unit = &history.unit;
        history.notes.push(format!(
            "values that can't be shown in {unit} are left out: {left_out}"
        ));
    }
    hints(&mut history.points);
    history
}

/// A value in the unit of the history; nothing where its kind is another.
pub(super) fn point(kept: Kept, unit: &str) -> Option<TrendPoint> {
    let same = kept.unit == unit;
    let into = if same {
        None
    } else {
        Some(Unit::parse(unit).ok()?)
    };
    let shown = |text: &String| match &into {
        None => Exact::parse(text).ok(),
        Some(into) => converted(text, &kept.unit, into).map(|q| q.value().to_exact()),
    };
    let of_difference = |text: &String| {
        let number = Exact::parse(text).ok()?;
        match &into {
            None => Some(number),
            Some(into) => {
                let own = Unit::parse(&kept.unit).ok()?;
                (number * own.factor().clone()).checked_div(into.factor())
            }
        }
    };
    Some(TrendPoint {
        value: shown(&kept.value)?,
        expanded: kept.expanded.as_ref().and_then(of_difference),
        low: kept.low.as_ref().and_then(shown),
        high: kept.high.as_ref().and_then(shown),
        hints: Vec::new(),
        kept,
    })
}

fn values(points: &[TrendPoint]) -> Vec<Exact> {
    points.iter().map(|p| p.value.clone()).collect()
}

fn chart(points: &[TrendPoint]) -> Option<Individuals> {
    individuals(&values(points)).ok()
}

/// The straight line through the values, by time since the first of them.
pub(super) fn fit(points: &[TrendPoint]) -> Option<Fit> {
    let first = points.first()?.kept.at_ms;
    let since = |p: &TrendPoint| Exact::from(p.kept.at_ms - first);
    let times: Vec<Exact> = points.iter().map(since).collect();
    let line = Line::through(&times, &values(points)).ok()?;
    let (slope, uncertainty) = (line.slope().to_f64(), line.slope_uncertainty());
    let freedom = line.degrees_of_freedom();
    let quantile = student_quantile(SURE, freedom as f64).ok()?;
    let is_significant = slope.abs() > quantile * uncertainty;
    let newest = points.last()?;
    let (from, to) = (times.first()?, times.last()?);
    Some(Fit {
        slope: slope * DAY_MS,
        uncertainty: uncertainty * DAY_MS,
        freedom,
        residual: line.residual_standard_deviation(),
        ends: [line.at(from).to_f64(), line.at(to).to_f64()],
        is_significant,
        crossing: is_significant.then(|| crossing(&line, to, newest)),
    })
}

/// Where the line meets the limit that it runs towards.
fn crossing(line: &Line, last: &Exact, newest: &TrendPoint) -> Crossing {
    let limit = if line.slope().is_negative() {
        &newest.low
    } else {
        &newest.high
    };
    let Some(limit) = limit else {
        return Crossing::Never;
    };
    let left = (limit.clone() - line.at(last)).checked_div(line.slope());
    match left.map(|ms| ms.to_f64() / DAY_MS) {
        Some(days) if days <= 0.0 => Crossing::Before,
        Some(days) => day_after(&newest.kept.started, days).map_or(Crossing::Never, Crossing::On),
        None => Crossing::Never,
    }
}

/// The day so many days after a time; nothing beyond the calendar.
fn day_after(started: &str, days: f64) -> Option<String> {
    let day: Date = started.get(..10)?.parse().ok()?;
    // Beyond this a day can't be told by a number of 32 bits.
    let whole = (days <= 3.0e6).then_some(days.ceil() as i32)?;
    day.checked_add(whole.days()).ok().map(|d| d.to_string())
}

/// Says which values stand apart, by which test.
fn hints(points: &mut [TrendPoint]) {
    let all = values(points);
    if let Ok(hint) = grubbs(&all, Side::Both, GRUBBS)
        && hint.stands_out
    {
        points[hint.index].hints.push(format!(
            "stands apart: Grubbs' G {:.2} above {:.2}",
            hint.statistic, hint.critical
        ));
    }
    let Ok((scores, _)) = modified_z(&all) else {
        return;
    };
    for hint in scores.into_iter().filter(|h| h.stands_out) {
        points[hint.index]
            .hints
            .push(format!("stands apart: modified z {:.1}", hint.statistic));
    }
}
