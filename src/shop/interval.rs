//! How often something is done, and when next: intervals in calendar steps, one for all or one a recipe.
//!
//! Never in here: the clock. Changes when intervals are written otherwise.

use std::fmt;

use jiff::civil::Date;
use jiff::{Span, ToSpan};

use crate::text::is_day;

/// Longest interval, in days.
const MAX_DAYS: u32 = 36_525;

/// A step of the calendar.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Unit {
    /// A day.
    Days,
    /// Seven days.
    Weeks,
    /// From a day to the same day of the next month, or to its last day where it has no such day.
    Months,
    /// Twelve months.
    Years,
}

impl Unit {
    /// The words for it, the one that is printed first.
    fn words(self) -> &'static [&'static str] {
        match self {
            Self::Days => &["days", "day", "d"],
            Self::Weeks => &["weeks", "week", "wk", "w"],
            Self::Months => &["months", "month", "mo"],
            Self::Years => &["years", "year", "yr", "y"],
        }
    }

    /// At least how many days a step has.
    fn days(self) -> u32 {
        match self {
            Self::Days => 1,
            Self::Weeks => 7,
            Self::Months => 28,
            Self::Years => 365,
        }
    }

    fn from_word(word: &str) -> Option<Self> {
        let word = word.to_lowercase();
        [Self::Days, Self::Weeks, Self::Months, Self::Years]
            .into_iter()
            .find(|u| u.words().contains(&word.as_str()))
    }
}

/// How long from one time to the next.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Interval {
    /// How many steps, at least one.
    pub count: u32,
    /// Of which length.
    pub unit: Unit,
}

impl Interval {
    /// Reads `12 months`, `1 year`, `26 weeks`, `90 days`; a bare number is in `bare`.
    ///
    /// # Errors
    /// Anything else; zero; more than a hundred years.
    pub fn parse(text: &str, bare: Unit) -> Result<Self, Unreadable> {
        let text = text.trim();
        let digits = text.len() - text.trim_start_matches(|c: char| c.is_ascii_digit()).len();
        let (number, word) = text.split_at(digits);
        let unit = if word.trim().is_empty() {
            Some(bare)
        } else {
            Unit::from_word(word.trim())
        };
        let wrong = || Unreadable {
            message: format!("`{text}` is not an interval"),
            help: "write it as `12 months`, `1 year`, `26 weeks` or `90 days`; a bare number is in months",
        };
        let (count, unit) = number.parse::<u32>().ok().zip(unit).ok_or_else(wrong)?;
        if count == 0 || count.saturating_mul(unit.days()) > MAX_DAYS {
            return Err(Unreadable {
                message: format!("`{text}` is not between a day and a hundred years"),
                help: "write how long it is from one time to the next; leave it empty where nothing is to be done",
            });
        }
        Ok(Self { count, unit })
    }

    /// The day an interval after another one. Months and years go to the same day of the month, or to its last one:
    /// 31 January and a month is 28 or 29 February. Nothing beyond the year 9999.
    #[must_use]
    pub fn after(self, day: Date) -> Option<Date> {
        let count = i64::from(self.count);
        let span: Span = match self.unit {
            Unit::Days => count.days(),
            Unit::Weeks => count.weeks(),
            Unit::Months => count.months(),
            Unit::Years => count.years(),
        };
        day.checked_add(span).ok()
    }
}

impl fmt::Display for Interval {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let words = self.unit.words();
        let word = words[usize::from(self.count == 1)];
        write!(f, "{} {word}", self.count)
    }
}

/// Text that can't be read, with the way to write it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Unreadable {
    /// What is wrong.
    pub message: String,
    /// What to do.
    pub help: &'static str,
}

/// Something that a device has once, or once a recipe.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub enum PerRecipe<T> {
    /// Not at all.
    #[default]
    None,
    /// One, whatever the recipe.
    Any(T),
    /// One a recipe, in the order written.
    Each(Vec<(String, T)>),
}

impl<T: fmt::Display> fmt::Display for PerRecipe<T> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::None => Ok(()),
            Self::Any(one) => write!(f, "{one}"),
            Self::Each(list) => {
                let parts: Vec<String> = list.iter().map(|(r, t)| format!("{r} {t}")).collect();
                f.write_str(&parts.join("; "))
            }
        }
    }
}

/// Reads one, or `RECIPE one; RECIPE one`, with `read` for each.
///
/// # Errors
/// What `read` refuses; a recipe twice; several without recipes.
pub fn per_recipe<T>(
    text: &str,
    read: &dyn Fn(&str) -> Result<T, Unreadable>,
) -> Result<PerRecipe<T>, Unreadable> {
    let parts: Vec<&str> = text
        .split(';')
        .map(str::trim)
        .filter(|p| !p.is_empty())
        .collect();
    match &parts[..] {
        [] => return Ok(PerRecipe::None),
        [one] if !begins_with_recipe(one) => return read(one).map(PerRecipe::Any),
        _ => {}
    }
    let mut list: Vec<(String, T)> = Vec::new();
    for part in parts {
        let named = part
            .split_once(char::is_whitespace)
            .filter(|_| begins_with_recipe(part));
        let Some((recipe, rest)) = named else {
            return Err(Unreadable {
                message: format!("`{part}` stands beside others without its recipe"),
                help: "write one for all, or a recipe before each: `volumetric-annual 12 months; battery-check 6 months`",
            });
        };
        if list.iter().any(|(known, _)| known == recipe) {
            return Err(Unreadable {
                message: format!("the recipe `{recipe}` stands twice in it"),
                help: "leave one of the two",
            });
        }
        list.push((recipe.to_owned(), read(rest.trim())?));
    }
    Ok(PerRecipe::Each(list))
}

/// Whether a part begins with a recipe's id and has something behind it.
fn begins_with_recipe(part: &str) -> bool {
    let first = part.split_whitespace().next().unwrap_or_default();
    let id = first.starts_with(|c: char| c.is_ascii_lowercase())
        && first
            .chars()
            .all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-');
    id && first.len() < part.len()
}

/// Reads intervals; a bare number is in `bare`.
///
/// # Errors
/// Text that is not one.
pub fn read_intervals(text: &str, bare: Unit) -> Result<PerRecipe<Interval>, Unreadable> {
    per_recipe(text, &|part| Interval::parse(part, bare))
}

/// Reads a day as `2026-03-31`, in the years 1900 to 2199.
///
/// # Errors
/// Anything else.
pub fn read_day(text: &str) -> Result<Date, Unreadable> {
    let parsed = is_day(text).then(|| text.parse::<Date>().ok()).flatten();
    let day = parsed.ok_or_else(|| Unreadable {
        message: format!("`{text}` is not a day"),
        help: "write it as 2026-03-31",
    })?;
    if (1900..2200).contains(&day.year()) {
        return Ok(day);
    }
    Err(Unreadable {
        message: format!("`{text}` lies outside the years 1900 to 2199"),
        help: "write the year with its four digits",
    })
}

/// Reads days, one for all recipes or one each.
///
/// # Errors
/// Text that is not one.
pub fn read_days(text: &str) -> Result<PerRecipe<Date>, Unreadable> {
    per_recipe(text, &read_day)
}

/// The last day that counts for a recipe, or for any: a day without a recipe counts for each.
#[must_use]
pub fn last_of(days: &PerRecipe<Date>, recipe: Option<&str>) -> Option<Date> {
    match days {
        PerRecipe::None => None,
        PerRecipe::Any(day) => Some(*day),
        PerRecipe::Each(list) => {
            let those = list
                .iter()
                .filter(|(r, _)| recipe.is_none_or(|wanted| wanted == r));
            those.map(|(_, day)| *day).max()
        }
    }
}
