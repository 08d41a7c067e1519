//! `outline`: a procedure for a reader, before it is walked.
//!
//! Never in here: what is told. Changes when `outline` takes another option.

use std::path::{Path, PathBuf};

use crate::app::{self, AppError, Outline, OutlinedStep};
use crate::host::{Host, RealHost};
use crate::plan::{Device, DeviceField};
use crate::record::misfit;
use crate::render::pdf::Paper;
use crate::render::{Format, OutlinePage, RenderError};
use crate::text::findings_as_text;

use super::commands::{Done, GOOD, NO, colour, here, print, warn};
use super::paper::{self, Procedure};
use super::rendering::hand_over;
use super::show::plain;

/// How a procedure is shown.
pub(super) struct Outlining<'a> {
    pub to: &'a str,
    pub paper: &'a str,
    pub output: Option<&'a Path>,
    pub worksheet: bool,
    pub device: Option<&'a str>,
    pub answers: bool,
}

/// Shows a recipe: as an outline, as a worksheet for paper, or as a file of answers to be filled in.
pub(super) fn outline(
    host: &RealHost,
    shop: Option<&Path>,
    recipe: &str,
    asked: &Outlining<'_>,
) -> Done {
    let file = file(host, shop, recipe)?;
    let to = asked.to;
    let device = device(host, shop, &file, asked)?;
    if to == "pdf" {
        return pages(host, shop, (recipe, &file), device, asked);
    }
    let format =
        Format::from_name(to).ok_or_else(|| AppError::new(format!("there is no form `{to}`")))?;
    let failed = |e: RenderError| AppError::new(e.to_string());
    if asked.answers {
        if let Some(output) = asked.output.filter(|file| host.exists(file)) {
            return Err(AppError::new(format!(
                "{}: is there already, perhaps with answers in it; name another file",
                output.display()
            )));
        }
        let text = paper::answers(&for_paper(host, shop, (recipe, &file))?, device);
        return write(host, asked.output, &text);
    }
    if asked.worksheet {
        let sheet = paper::worksheet(&for_paper(host, shop, (recipe, &file))?, device);
        let text = crate::render::sheet(&sheet, format).map_err(failed)?;
        return write(host, asked.output, &text);
    }
    let outlined = app::outline(host, &file)?;
    let text = crate::render::outline(&page(&outlined), format).map_err(failed)?;
    write(host, asked.output, &text)?;
    Ok(told(&outlined))
}

/// Prints what is wrong with a procedure; whether nothing is.
fn told(outlined: &Outline) -> u8 {
    if outlined.errors.is_empty() {
        return GOOD;
    }
    let errors = findings_as_text(&outlined.errors, colour(&std::io::stderr()));
    eprint!("{errors}");
    NO
}

/// A procedure on pages.
fn pages(
    host: &RealHost,
    shop: Option<&Path>,
    (recipe, file): (&str, &Path),
    device: Device,
    asked: &Outlining<'_>,
) -> Done {
    let paper = Paper::from_name(asked.paper)
        .ok_or_else(|| AppError::new(format!("there is no paper `{}`", asked.paper)))?;
    let failed = |e: RenderError| AppError::new(e.to_string());
    let date = host.now();
    if asked.worksheet {
        let sheet = paper::worksheet(&for_paper(host, shop, (recipe, file))?, device);
        let pages = crate::render::sheet_pdf(&sheet, &date, paper).map_err(failed)?;
        return hand_over(host, asked.output, &pages);
    }
    let outlined = app::outline(host, file)?;
    let pages = crate::render::outline_pdf(&page(&outlined), &date, paper).map_err(failed)?;
    hand_over(host, asked.output, &pages)?;
    Ok(told(&outlined))
}

fn write(host: &RealHost, output: Option<&Path>, text: &str) -> Done {
    match output {
        Some(file) => host
            .write(file, text.as_bytes())
            .map_err(|e| AppError::at(file, &e))?,
        None => print(text),
    }
    Ok(GOOD)
}

/// What paper is for: the text that `run` takes, where there is a shop; else the file, which is told.
fn for_paper(
    host: &RealHost,
    shop: Option<&Path>,
    (recipe, file): (&str, &Path),
) -> Result<Procedure, AppError> {
    let as_it_is = |approved| app::procedure(host, file).map(|plan| Procedure { plan, approved });
    let Ok(open) = here(host, shop).and_then(|here| app::open_shop(host, &here)) else {
        return as_it_is(true);
    };
    match app::runnable(host, &open, recipe, false) {
        Ok(found) => {
            if let Some(notice) = found.notice {
                warn(&notice);
            }
            let approved = true;
            Ok(Procedure {
                plan: found.plan,
                approved,
            })
        }
        Err(_) => as_it_is(false),
    }
}

/// The file of a recipe; by its name, or that of an approved revision, where there is a shop.
fn file(host: &RealHost, shop: Option<&Path>, recipe: &str) -> Result<PathBuf, AppError> {
    let path = Path::new(recipe);
    if host.exists(path) && !host.is_folder(path) {
        return Ok(path.to_owned());
    }
    let open = app::open_shop(host, &here(host, shop)?)?;
    match app::approved_file(host, &open.paths, recipe)? {
        Some(approved) => Ok(approved),
        None => app::recipe_file(host, &open, recipe),
    }
}

/// The device that paper is for, as the register has it; nothing is known of it where none was named. Says where the recipe
/// is not for it: `run` refuses it then.
fn device(
    host: &RealHost,
    shop: Option<&Path>,
    recipe: &Path,
    asked: &Outlining<'_>,
) -> Result<Device, AppError> {
    let Some(tag) = asked.device else {
        return Ok(Device::default());
    };
    let open = app::open_shop(host, &here(host, shop)?)?;
    let own = app::registered(&open, tag)?;
    // A recipe with errors has findings of its own.
    let plan = app::procedure(host, recipe).ok();
    if let Some(why) = plan.and_then(|plan| misfit(&plan, own)) {
        eprintln!("stepwell: warning: {}", plain(&why));
    }
    Ok(Device::new(|field| {
        let text = match field {
            DeviceField::Tag => &own.tag,
            DeviceField::Serial => &own.serial,
            DeviceField::Maker => &own.maker,
            DeviceField::Model => &own.model,
            DeviceField::Category => &own.category,
            DeviceField::Location => &own.location,
            // Nobody knows yet who will run it.
            DeviceField::By => "",
        };
        text.to_owned()
    }))
}

fn page(outlined: &Outline) -> OutlinePage {
    let mut facts = vec![("Recipe".to_owned(), outlined.name.clone())];
    let all = [("Rests on", &outlined.rests_on), ("Edits", &outlined.edits)];
    for (label, lines) in all.into_iter().filter(|(_, lines)| !lines.is_empty()) {
        facts.push((label.to_owned(), lines.join("; ")));
    }
    facts.extend(outlined.terms.iter().cloned());
    let told = |steps: &[OutlinedStep]| steps.iter().map(step).collect();
    OutlinePage {
        title: outlined.title.clone(),
        facts,
        cautions: outlined.cautions.clone(),
        settings: outlined.settings.clone(),
        sections: vec![
            ("Setup".to_owned(), told(&outlined.setup)),
            ("Steps".to_owned(), told(&outlined.steps)),
        ],
        bases: outlined.bases.clone(),
    }
}

/// What is told of a step, what can hurt in it first.
fn step(step: &OutlinedStep) -> Vec<(String, String)> {
    let said = [&step.title, &step.said].map(String::as_str);
    let said: Vec<&str> = said.into_iter().filter(|t| !t.is_empty()).collect();
    let all = [
        ("Step", step.path.clone()),
        ("Caution", step.caution.clone()),
        (
            "What is done",
            format!("{}: {}", step.verb, said.join(": ")),
        ),
        ("If", step.when.clone()),
        ("Must hold", step.accept.join("; ")),
        ("If not", step.if_not.clone()),
    ];
    let beside = step.beside.iter().cloned();
    let all = all
        .into_iter()
        .chain(beside)
        .chain([("From", step.from.clone())]);
    all.filter(|(_, words)| !words.is_empty())
        .map(|(label, words)| (label.to_owned(), words))
        .collect()
}
