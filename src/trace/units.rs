//! What cells are written in: the form of times, the unit of each column, the decimal sign.
//!
//! Never in here: rows. Changes when another source for a unit is taken.

use csv::ByteRecord;

use super::clock::form_of;
use super::decimal;
use super::fault::{TraceFault, quoted};
use super::layout::Layout;
use super::observe::{Observation, Oddity, about_heading};
use super::suffix::unit_of;
use super::{Mapping, TimeForm, Wanted};
use crate::quantity::{DecimalSign, Dimension, Kind, Unit};

/// How times are written, and the unit of each column's cells.
pub(super) fn units(
    mapping: &Mapping,
    layout: &Layout,
    first: &ByteRecord,
    observations: &mut Vec<Observation>,
) -> Result<(TimeForm, Vec<Unit>), Vec<TraceFault>> {
    let mut faults = Vec::new();
    let cell = |column: usize| first.get(column).unwrap_or_default();
    let form = time_form(mapping, layout, cell(layout.columns[0]), observations)
        .map_err(|fault| faults.push(fault))
        .ok();
    let mut units = Vec::new();
    for (wanted, column) in mapping.columns.iter().zip(&layout.columns[1..]) {
        match unit(wanted, layout, (*column, cell(*column)), observations) {
            Ok(unit) => units.push(unit),
            Err(fault) => faults.push(fault),
        }
    }
    match form {
        Some(form) if faults.is_empty() => Ok((form, units)),
        _ => Err(faults),
    }
}

/// The unit in a heading; one that it is as a whole only if that is of the kind wanted.
fn heading_unit(layout: &Layout, column: usize, wanted: Option<Kind>) -> Option<&Unit> {
    let heading = layout.headings.get(column)?;
    let fits = |unit: &&Unit| wanted.is_some_and(|w| unit.kind().comparable(w).is_ok());
    let bare = || heading.bare.as_ref().filter(fits);
    heading.unit.as_ref().or_else(bare)
}

fn time_form(
    mapping: &Mapping,
    layout: &Layout,
    first: &[u8],
    observations: &mut Vec<Observation>,
) -> Result<TimeForm, TraceFault> {
    let column = layout.columns[0];
    let time = Dimension::from_name("time").map(Kind::of);
    let found = match (&mapping.time.form, form_of(first)) {
        (Some(stated), _) => stated.clone(),
        (None, Some(form)) => {
            if form == TimeForm::MinutesSeconds {
                let message = "times with one colon were read as minutes and seconds".to_owned();
                observations.push(about_heading(
                    Oddity::MinutesTaken,
                    layout.line,
                    column + 1,
                    message,
                ));
            }
            form
        }
        (None, None) => match heading_unit(layout, column, time)
            .cloned()
            .or_else(|| unit_of(first))
        {
            Some(unit) => TimeForm::Number(unit),
            None => {
                return Err(TraceFault::new(
                    layout.line,
                    column + 1,
                    "the heading names no unit of time".to_owned(),
                    "state how times are written: a unit (s, min, h), hh:mm:ss, mm:ss or timestamps",
                ));
            }
        },
    };
    match &found {
        TimeForm::Number(unit) if Some(unit.kind()) != time => Err(TraceFault::new(
            layout.line,
            column + 1,
            format!("times can't be in {unit}, which is of kind {}", unit.kind()),
            "state the unit of time: s, min or h",
        )),
        _ => Ok(found),
    }
}

/// The unit of a column's cells: stated, the heading's, the one in the first cell, or the one wanted.
fn unit(
    wanted: &Wanted,
    layout: &Layout,
    (column, first): (usize, &[u8]),
    observations: &mut Vec<Observation>,
) -> Result<Unit, TraceFault> {
    let heading = heading_unit(layout, column, Some(wanted.unit.kind()));
    let (line, number) = (layout.line, column + 1);
    let in_cell = unit_of(first);
    let unit = wanted
        .written_in
        .as_ref()
        .or(heading)
        .or(in_cell.as_ref())
        .unwrap_or(&wanted.unit);
    if unit.kind().comparable(wanted.unit.kind()).is_err() {
        return Err(TraceFault::new(
            line,
            number,
            format!(
                "{} is in {unit}, of kind {}, where {} of kind {} is wanted",
                quoted(&wanted.name),
                unit.kind(),
                wanted.unit,
                wanted.unit.kind()
            ),
            "choose another column, or state the unit that the cells are written in",
        ));
    }
    let name = quoted(&wanted.name);
    match (&wanted.written_in, heading) {
        (Some(stated), Some(heading)) if stated != heading => {
            let message =
                format!("{name} was read in {stated} as stated, where the heading says {heading}");
            observations.push(about_heading(Oddity::UnitStated, line, number, message));
        }
        (None, None) if in_cell.is_none() => {
            let message = format!("the heading of {name} names no unit, so that {unit} was taken");
            observations.push(about_heading(Oddity::UnitTaken, line, number, message));
        }
        _ => {}
    }
    Ok(unit.clone())
}

/// The decimal sign that the cells show.
pub(super) fn found_decimal(
    bytes: &[u8],
    layout: &Layout,
    form: &TimeForm,
) -> Result<DecimalSign, TraceFault> {
    // Clock times have their own signs.
    let from = usize::from(!matches!(form, TimeForm::Number(_)));
    let separator = layout.separator;
    decimal::find(bytes, layout.from, separator, &layout.columns[from..])
}
