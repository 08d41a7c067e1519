//! `render --all`: many records, as pages of a folder or as one stream of rows or lines.
//!
//! Never in here: what is made of one record. Changes when many records are written otherwise.

use std::io;
use std::path::Path;

use crate::app::{self, AppError, Chosen, Surrounded};
use crate::host::{Host, RealHost};
use crate::render::{Beside, House, csv_head, csv_rows, json_line};
use crate::shop::Paths;
use crate::shop::import::Register;

use super::commands::{Done, GOOD, NO, print, print_bytes, warn};
use super::looking::ordered;
use super::rendering::{Form, RenderArguments, known, told};
use super::show::plain;

/// What became of a record: its bytes or nothing, and what is to be told of it.
struct Made {
    id: String,
    beside: Beside,
    written: Result<Vec<u8>, AppError>,
}

/// Renders the chosen records of a shop. A file that is no record is told and left out.
pub(super) fn render(
    host: &RealHost,
    paths: &Paths,
    form: &Form,
    house: &House,
    asked: &RenderArguments,
) -> Done {
    let many = &asked.many;
    ordered(many.since.as_deref(), many.until.as_deref())?;
    let device = many.device.as_deref();
    let device = device.map(|typed| app::as_registered(host, paths, Register::Devices, typed));
    let chosen = Chosen {
        since: many.since.as_deref(),
        until: many.until.as_deref(),
        recipe: many.recipe.as_deref(),
        device: device.as_deref(),
    };
    match (form, asked.output.as_deref()) {
        (Form::Csv | Form::Json, Some(file)) => {
            let mut done = Ok(GOOD);
            let filled = host.write_with(file, &mut |out| {
                done = stream(host, paths, &chosen, form, house, &mut |bytes| {
                    out.write_all(bytes)
                });
                // What went wrong is told below; the file stays as it was.
                done.as_ref()
                    .map(|_| ())
                    .map_err(|_| io::ErrorKind::Other.into())
            });
            let done = done?;
            filled.map_err(|e| AppError::at(file, &e))?;
            Ok(done)
        }
        (Form::Csv | Form::Json, None) => stream(host, paths, &chosen, form, house, &mut |bytes| {
            print_bytes(bytes);
            Ok(())
        }),
        (Form::Page(_) | Form::Template(..) | Form::Pdf(_), Some(folder)) => {
            pages(host, paths, &chosen, form, house, folder)
        }
        (Form::Page(_) | Form::Template(..) | Form::Pdf(_), None) => Err(AppError::new(
            "pages of many records go to a folder, a file each; name it with `--output DIR`",
        )),
    }
}

/// Rows under one head, or lines, in the order of the records.
fn stream(
    host: &RealHost,
    paths: &Paths,
    chosen: &Chosen<'_>,
    form: &Form,
    house: &House,
    out: &mut dyn FnMut(&[u8]) -> io::Result<()>,
) -> Done {
    let failed = |e: io::Error| AppError::at(Path::new("the output"), &e);
    let is_csv = matches!(form, Form::Csv);
    let make = |of: Surrounded| {
        let beside = known(of.around, house.clone());
        let written = match is_csv {
            true => csv_rows(&of.record, &beside),
            false => json_line(&of.record, &beside),
        };
        Made {
            id: of.record.record,
            beside,
            written: Ok(written),
        }
    };
    let mut head = is_csv.then(csv_head);
    let code = each(host, paths, chosen, &make, &mut |bytes| {
        let rows = [head.take().unwrap_or_default().as_slice(), bytes].concat();
        out(&rows).map_err(failed)
    })?;
    head.map_or(Ok(()), |head| out(&head)).map_err(failed)?;
    Ok(code)
}

/// A page of each record in a folder, named after the record's file.
fn pages(
    host: &RealHost,
    paths: &Paths,
    chosen: &Chosen<'_>,
    form: &Form,
    house: &House,
    folder: &Path,
) -> Done {
    host.make_folder(folder)
        .map_err(|e| AppError::at(folder, &e))?;
    let extension = form.extension();
    let make = |of: Surrounded| {
        let beside = known(of.around, house.clone());
        let mut name = of.path.file_stem().unwrap_or_default().to_owned();
        name.push(extension);
        let file = folder.join(name);
        let page = form.write(&of.record, &beside);
        let written = page.and_then(|bytes| {
            host.write(&file, &bytes)
                .map_err(|e| AppError::at(&file, &e))
        });
        Made {
            id: of.record.record,
            beside,
            written: written.map(|()| Vec::new()),
        }
    };
    let mut count = 0;
    let code = each(host, paths, chosen, &make, &mut |_| {
        count += 1;
        Ok(())
    })?;
    print(&format!("{count} written to {}\n", folder.display()));
    Ok(code)
}

/// Goes through the records; `take` gets the bytes of each in order. That there is none is told.
fn each(
    host: &RealHost,
    paths: &Paths,
    chosen: &Chosen<'_>,
    make: &(impl Fn(Surrounded) -> Made + Sync),
    take: &mut dyn FnMut(&[u8]) -> Result<(), AppError>,
) -> Done {
    let (mut good, mut none) = (true, true);
    app::series(host, paths, chosen, make, &mut |made| {
        match made {
            Ok(made) => {
                none = false;
                good &= told(&made.beside, &plain(&made.id));
                take(&made.written?)?;
            }
            Err(why) => {
                good = false;
                warn(&format!("{}; left out", plain(&why)));
            }
        }
        Ok(())
    })?;
    if none {
        of_nothing(host, paths, chosen)?;
    }
    Ok(if good { GOOD } else { NO })
}

/// Says that no record was chosen. A device or recipe that the shop doesn't have either is an error.
fn of_nothing(host: &RealHost, paths: &Paths, chosen: &Chosen<'_>) -> Result<(), AppError> {
    let unknown = |option: &str, why: &str| {
        let why = why.to_owned();
        AppError::new(format!("`{option}`: no record is of it, and {why}"))
    };
    if let Some(tag) = chosen.device {
        let devices = app::open_register(host, paths, Register::Devices)?;
        let entry = devices.entry(tag);
        entry.map_err(|e| unknown("--device", &e.to_string()))?;
    }
    if let Some(id) = chosen.recipe
        && !host.exists(&paths.recipes().join(format!("{id}.yaml")))
    {
        return Err(unknown(
            "--recipe",
            &format!("there is no recipe `{}`", plain(id)),
        ));
    }
    let asked = [
        ("of the device", chosen.device),
        ("by the recipe", chosen.recipe),
        ("since", chosen.since),
        ("until", chosen.until),
    ];
    let asked = asked.into_iter();
    let asked = asked.filter_map(|(what, of)| Some(format!(" {what} `{}`", plain(of?))));
    warn(&format!(
        "the shop has no record{}",
        asked.collect::<String>()
    ));
    Ok(())
}
