//! Whether instruments are good enough for the limits of a recipe: the ratio of what a limit leaves to the expanded
//! uncertainty of a reading.
//!
//! Never in here: the uncertainty of values that were read. Changes when instruments are held against limits otherwise.

use crate::engine::{Ahead, is_reached, limits_ahead};
use crate::journal::Instrument;
use crate::plan::{Plan, display_standard_si};
use crate::quantity::{Quantity, Unit, shortened_double, with_unit};
use crate::recipe::{self, Whole};
use crate::shop::is_of_role;
use crate::text::{Code, Finding};

/// Under this ratio a reading says little near a limit (common practice, no source).
const GOOD: f64 = 4.0;
/// Under this ratio no reading can show on which side of the limit the true value lies.
const ENOUGH: f64 = 1.0;
/// The coverage factor of the expanded uncertainty.
const K: f64 = 2.0;

/// What limits are held against: how far they let a reading stray, and U of an instrument there, in SI.
struct Held {
    leeway_si: f64,
    expanded_si: f64,
}

impl Held {
    fn ratio(&self) -> f64 {
        self.leeway_si / self.expanded_si
    }

    /// Whether the ratio is at least this; exactly this is enough, whatever doubles make of it.
    fn reaches(&self, wanted: f64) -> bool {
        is_reached(self.ratio(), wanted)
    }
}

/// Limits that no instrument of a shop is good enough for, or hardly.
#[must_use]
pub fn check_ratios(whole: &Whole, plan: &Plan, instruments: &[Instrument]) -> Vec<Finding> {
    if instruments.is_empty() {
        return Vec::new();
    }
    let mut worst: Vec<(Ahead, Held, String)> = Vec::new();
    for ahead in limits_ahead(plan) {
        let Some((held, id)) = best(plan, &ahead, instruments) else {
            continue;
        };
        let place = |a: &Ahead| &plan.items[a.step].place;
        let known = worst
            .iter_mut()
            .find(|(a, ..)| place(a) == place(&ahead) && a.criterion == ahead.criterion);
        match known {
            // Rows of one step are told once, by the worst of them.
            Some(known) if held.ratio() < known.1.ratio() => *known = (ahead, held, id),
            Some(_) => {}
            None => worst.push((ahead, held, id)),
        }
    }
    let told = worst.iter().filter(|(_, held, _)| !held.reaches(GOOD));
    told.filter_map(|(ahead, held, id)| finding(whole, plan, ahead, held, id))
        .collect()
}

/// Why an instrument is not fit for the role in a plan, whose limits are known ahead: its range does not reach them, or it is
/// too uncertain for them. Nothing where it is fit.
#[must_use]
pub fn unfit(plan: &Plan, ahead: &[Ahead], role: &str, instrument: &Instrument) -> Option<String> {
    let of_role = |a: &Ahead| plan.items[a.item].verb.role() == Some(role);
    ahead.iter().filter(|a| of_role(a)).find_map(|ahead| {
        let path = &plan.items[ahead.step].path;
        if let Some((low, high)) = unreached(plan, ahead, instrument) {
            return Some(format!(
                "its range, {low} to {high}, does not reach the limits of `{path}`"
            ));
        }
        let held = held(plan, ahead, instrument).filter(|h| !h.reaches(ENOUGH))?;
        let told = Told::new(&held, &plan.items[ahead.item].verb.unit()?, ENOUGH);
        Some(format!(
            "too uncertain for the limits of `{path}`: the ratio is {}:1",
            told.ratio
        ))
    })
}

/// The range of an instrument that the limits lie outside of.
fn unreached(plan: &Plan, ahead: &Ahead, instrument: &Instrument) -> Option<(Quantity, Quantity)> {
    let unit = plan.items[ahead.item].verb.unit()?;
    let capabilities = instrument.capabilities();
    let capability = capabilities
        .iter()
        .find(|c| c.dimension == unit.kind().dimension)?;
    let (low, high) = capability.range.as_ref()?;
    let inside = |end: &Quantity| {
        let above = end.compare(low).is_ok_and(std::cmp::Ordering::is_ge);
        above && end.compare(high).is_ok_and(std::cmp::Ordering::is_le)
    };
    let ends = [&ahead.low, &ahead.high];
    let outside = ends.into_iter().flatten().any(|end| !inside(end));
    outside.then(|| (low.clone(), high.clone()))
}

fn best(plan: &Plan, ahead: &Ahead, instruments: &[Instrument]) -> Option<(Held, String)> {
    let role = plan.roles.get(plan.items[ahead.item].verb.role()?)?;
    let held = instruments
        .iter()
        .filter(|i| is_of_role(role, i))
        .filter(|i| unreached(plan, ahead, i).is_none())
        .filter_map(|i| Some((held(plan, ahead, i)?, i.id.clone())));
    held.max_by(|(a, _), (b, _)| a.ratio().total_cmp(&b.ratio()))
}

fn held(plan: &Plan, ahead: &Ahead, instrument: &Instrument) -> Option<Held> {
    let unit = plan.items[ahead.item].verb.unit()?;
    let (at, leeway_si) = (ahead.farthest()?, ahead.leeway_si()?);
    let capabilities = instrument.capabilities();
    let capability = capabilities
        .iter()
        .find(|c| c.dimension == unit.kind().dimension)?;
    let accuracy = capability.accuracy.as_ref()?.standard_si(at);
    let display = capability
        .resolution
        .as_ref()
        .map_or(0.0, display_standard_si);
    let expanded_si = K * accuracy.hypot(display);
    (expanded_si > 0.0).then_some(Held {
        leeway_si,
        expanded_si,
    })
}

fn finding(whole: &Whole, plan: &Plan, ahead: &Ahead, held: &Held, id: &str) -> Option<Finding> {
    let (step, read) = (&plan.items[ahead.step], &plan.items[ahead.item]);
    let enough = held.reaches(ENOUGH);
    let told = Told::new(held, &read.verb.unit()?, if enough { GOOD } else { ENOUGH });
    let for_reading = match step.path == read.path {
        true => String::new(),
        false => format!(" for `{}`", read.path),
    };
    let message = format!(
        "the limits of `{}` leave {}{for_reading}, and the best instrument, {id}, has U = {} at {} (k = 2): {}:1, under {}:1",
        step.path,
        told.leeway,
        told.expanded,
        ahead.farthest()?.shown(),
        told.ratio,
        told.wanted,
    );
    let (code, help) = if enough {
        (
            Code::UncertaintyLarge,
            "near the limit a reading says little: use a better instrument, or decide by `guarded` or `banded`",
        )
    } else {
        (
            Code::UncertaintyTooLarge,
            "no reading can tell a good device from a bad one: use a better instrument, or look the limit up again",
        )
    };
    recipe::finding_at_criterion(whole, &step.place, ahead.criterion, code, message, help)
}

/// A ratio that is too small and its sides as text, with as many digits as it takes to see that.
struct Told {
    leeway: String,
    expanded: String,
    ratio: String,
    wanted: f64,
}

impl Told {
    fn new(held: &Held, unit: &Unit, wanted: f64) -> Self {
        const FEWEST: u32 = 2;
        const MOST: u32 = 12;
        // How far the quotient of what is shown may be from the ratio.
        const APART: f64 = 0.01;
        let unit = unit.of_difference();
        let factor = unit.factor().to_f64();
        let sides = [held.leeway_si / factor, held.expanded_si / factor];
        let is_under = |text: &str| text.parse().is_ok_and(|ratio: f64| ratio < wanted);
        let ratio_in = |digits| shortened_double(held.ratio(), digits);
        let digits = (FEWEST..MOST).find(|d| is_under(&ratio_in(*d)));
        let digits = digits.unwrap_or(MOST);
        let ratio = ratio_in(digits);
        let tell_it = |shown: u32| {
            let [leeway, expanded] = sides.map(|s| shortened_double(s, shown).parse::<f64>());
            let quotient = leeway.ok().zip(expanded.ok()).map(|(a, b)| a / b);
            quotient.is_some_and(|q| q < wanted && (q / held.ratio() - 1.0).abs() < APART)
        };
        let shown = (FEWEST..MOST).find(|d| tell_it(*d)).unwrap_or(MOST);
        let [leeway, expanded] =
            sides.map(|side| with_unit(&shortened_double(side, shown), unit.text()));
        Self {
            leeway,
            expanded,
            ratio,
            wanted,
        }
    }
}
