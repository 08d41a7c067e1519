//! The commands: from arguments to an exit code.
//!
//! Never in here: what they do. Changes when a command is added.

use std::io::IsTerminal;
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::sync::atomic::{AtomicBool, Ordering};

use clap::Parser;
use indexmap::IndexMap;

use crate::app::{self, Amending, AppError, Start};
use crate::host::{Host, RealHost};
use crate::render::Format;
use crate::shop::{USUAL_OCCASION, occasion_of};
use crate::text::findings_as_text;

use super::approving::{amend, approve, countersign, waiting, withdraw};
use super::arguments::Walk;
use super::arguments::{Arguments, Command};
use super::author::{calc, calc_file, explain, fmt, schema};
use super::begun::{pick, resume, run, walk_through};
use super::checking::{Checking, check};
use super::differing::diff;
use super::falling::Telling;
use super::house;
use super::input::{Input, Stored, Typed};
use super::looking::{trace, trend};
use super::outlining::{Outlining, outline};
use super::queue;
use super::raising::raise;
use super::rendering::{beside, label, page, render};
use super::show::{filled, message, plain};
use super::verifying::verify;
use super::{completing, entries, falling, manual};

/// Exit codes of the contract.
pub(super) const GOOD: u8 = 0;
pub(super) const NO: u8 = 1;
pub(super) const FAILED: u8 = 2;
pub(super) const UNFINISHED: u8 = 3;

pub(super) type Done = Result<u8, AppError>;

/// Runs the program.
#[must_use]
pub fn main() -> ExitCode {
    let arguments = match Arguments::try_parse() {
        Ok(arguments) => arguments,
        Err(error) => {
            let code = if error.use_stderr() { FAILED } else { GOOD };
            // Nothing is left to do if even this can't be printed.
            let _ = error.print();
            return ExitCode::from(code);
        }
    };
    let host = RealHost::default();
    match dispatch(&host, arguments) {
        Ok(GOOD | NO) if LOST.load(Ordering::Relaxed) => {
            complain(&AppError::new(
                "the output could not be written; make room, or write it elsewhere",
            ));
            ExitCode::from(FAILED)
        }
        Ok(code) => ExitCode::from(code),
        Err(error) => {
            complain(&error);
            ExitCode::from(FAILED)
        }
    }
}

pub(super) fn complain(error: &AppError) {
    match error {
        AppError::Findings(findings) => {
            eprint!("{}", findings_as_text(findings, colour(&std::io::stderr())))
        }
        AppError::Message(text) => warn(text),
    }
}

/// Tells something on the side, where it does not get into what a program reads.
pub(super) fn warn(text: &str) {
    let terminal = std::io::stderr().is_terminal();
    eprintln!("{}", message(&format!("stepwell: {text}"), terminal));
}

/// Says something to a person on standard output.
pub(super) fn say(text: &str) {
    let terminal = std::io::stdout().is_terminal();
    print(&format!("{}\n", message(text, terminal)));
}

/// Says something that belongs to what was said before, set in.
pub(super) fn say_under(text: &str) {
    let text = plain(text);
    let lines = match std::io::stdout().is_terminal() {
        true => filled(&text, "  ", "    "),
        false => format!("  {text}"),
    };
    print(&format!("{lines}\n"));
}

pub(super) fn colour(stream: &impl IsTerminal) -> bool {
    stream.is_terminal() && std::env::var_os("NO_COLOR").is_none_or(|v| v.is_empty())
}

/// Whether something that was printed got lost.
static LOST: AtomicBool = AtomicBool::new(false);

/// Prints to standard output. A reader that has gone is no fault; output that is lost otherwise is.
pub(super) fn print(text: &str) {
    print_bytes(text.as_bytes());
}

/// Prints as [`print`] does what need not be text.
pub(super) fn print_bytes(bytes: &[u8]) {
    use std::io::Write;
    let mut out = std::io::stdout().lock();
    if let Err(error) = out.write_all(bytes).and_then(|()| out.flush())
        && error.kind() != std::io::ErrorKind::BrokenPipe
    {
        LOST.store(true, Ordering::Relaxed);
    }
}

fn dispatch(host: &RealHost, arguments: Arguments) -> Done {
    let shop = arguments.shop.as_deref();
    match arguments.command {
        Command::Demo {
            dir, past: true, ..
        } => demo_past(host, &dir),
        Command::Demo { dir, by_hand, .. } => demo(host, &dir, by_hand),
        Command::Init { dir } => init(host, &dir),
        Command::Check {
            paths,
            format,
            deny,
            watch,
        } => {
            let deny = deny.as_deref();
            check(
                host,
                shop,
                paths,
                &Checking {
                    format,
                    deny,
                    watch,
                },
            )
        }
        Command::Schema { name, output } => schema(host, name.as_deref(), output.as_deref()),
        Command::Fmt { paths, check } => fmt(host, shop, paths, check),
        Command::Raise(asked) => raise(host, shop, &asked),
        Command::Explain { code } => explain(code.as_deref()),
        Command::Outline {
            recipe,
            to,
            paper,
            output,
            worksheet,
            device,
            answers,
        } => {
            let asked = Outlining {
                to: &to,
                paper: &paper,
                output: output.as_deref(),
                worksheet,
                device: device.as_deref(),
                answers,
            };
            outline(host, shop, &recipe, &asked)
        }
        Command::Run {
            recipe,
            device,
            by,
            occasion,
            with,
            trial,
            beside,
            other_device,
            walk,
        } => {
            let Some(recipe) = recipe else {
                return queue::which(host, &here(host, shop)?, device.as_deref());
            };
            let own = occasion_of(&recipe).unwrap_or(USUAL_OCCASION);
            let start = Start {
                device: device.as_deref().unwrap_or_default(),
                by: &by,
                occasion: occasion.as_deref().unwrap_or(own),
                trial,
                with: roles(&with)?,
                beside,
                other_device,
            };
            let root = here(host, shop)?;
            match device {
                Some(_) => run(host, &root, &recipe, &start, &walk),
                None => queue::run(host, &root, &recipe, &start, &walk),
            }
        }
        Command::Resume { session, by, walk } => resume(
            host,
            &here(host, shop)?,
            session.as_deref(),
            by.as_deref(),
            &walk,
        ),
        Command::Approve {
            recipes,
            by,
            signing,
        } => approve(host, shop, &recipes, &by, &signing),
        Command::Withdraw {
            recipes,
            by,
            why,
            signing,
        } => withdraw(host, shop, &recipes, &by, &why, &signing),
        Command::Countersign {
            records,
            by,
            signing,
        } => match (&records[..], by) {
            (records @ [_, ..], Some(by)) => countersign(host, shop, records, &by, &signing),
            (_, by) => waiting(host, shop, by.as_deref()),
        },
        Command::Amend {
            record,
            by,
            why,
            note,
            correction,
            void,
            signing,
        } => {
            let what = Amending {
                record: &record,
                by: &by,
                why: &why,
                note: note.as_deref(),
                correction: correction.as_deref(),
                void,
            };
            amend(host, shop, &what, &signing)
        }
        Command::Render(asked) => render(host, shop, &asked),
        Command::Label { record, to, output } => label(host, shop, &record, &to, output.as_deref()),
        Command::Verify {
            records,
            full,
            format,
        } => verify(host, shop, &records, full, format),
        Command::Diff(asked) => diff(host, shop, &asked),
        Command::Trace(asked) => trace(host, shop, &asked),
        Command::Trend(asked) => trend(host, shop, &asked),
        Command::Calc {
            expression,
            names,
            budget,
            unit,
            file,
            format,
        } => match file {
            Some(file) => calc_file(host, &file, &names, unit.as_deref(), budget),
            None => {
                let text = expression.unwrap_or_default();
                calc(&text, &names, unit.as_deref(), format, budget)
            }
        },
        Command::People(what) => entries::people(host, &here(host, shop)?, what),
        Command::Devices(what) => entries::devices(host, &here(host, shop)?, what),
        Command::Instruments(what) => entries::instruments(host, &here(host, shop)?, what),
        Command::Due {
            within,
            all,
            format,
        } => {
            let how = Telling {
                within,
                all,
                format,
            };
            falling::due(host, &here(host, shop)?, &how)
        }
        Command::Manual => manual::manual(),
        Command::Completions { shell } => completing::completions(shell),
        Command::Names { of } => completing::names(host, shop, of),
    }
}

pub(super) fn current() -> Result<PathBuf, AppError> {
    std::env::current_dir().map_err(|e| AppError::at(Path::new("."), &e))
}

pub(super) fn here(host: &RealHost, shop: Option<&Path>) -> Result<PathBuf, AppError> {
    app::find_shop(host, shop, &current()?)
}

fn roles(with: &[String]) -> Result<IndexMap<String, String>, AppError> {
    let split = |text: &String| match text.split_once('=') {
        Some((role, instrument)) if !role.is_empty() && !instrument.is_empty() => {
            Ok((role.to_owned(), instrument.to_owned()))
        }
        _ => Err(AppError::new(format!(
            "`--with {text}`: write it as ROLE=INSTRUMENT"
        ))),
    };
    with.iter().map(split).collect()
}

/// A path as a shell takes it: in quotes where it has more than plain letters.
fn for_shell(path: &Path) -> String {
    let text = path.display().to_string();
    let is_plain = |c: char| c.is_alphanumeric() || "/._-+,:@%".contains(c);
    match !text.is_empty() && text.chars().all(is_plain) {
        true => text,
        false => format!("'{}'", text.replace('\'', "'\\''")),
    }
}

fn init(host: &RealHost, dir: &Path) -> Done {
    let written = app::init(host, dir)?;
    for path in &written {
        print(&format!("{}\n", path.display()));
    }
    let cd = if dir == Path::new(".") {
        String::new()
    } else {
        format!("cd {} && ", for_shell(dir))
    };
    print(&format!(
        "Next: enter your people, devices and instruments in these files, then\n  {cd}stepwell check\n  stepwell approve volumetric-annual --by review-01\n  stepwell run volumetric-annual --device TAG --by tech-01\n`stepwell people key PERSON` makes a key to sign with.\n"
    ));
    Ok(GOOD)
}

fn demo_past(host: &RealHost, dir: &Path) -> Done {
    let made = app::lay_out_past(host, dir)?;
    print(&format!(
        "The demo shop lies in {0}, with {1} records since {2}, {3} of them fails. Everything in it is invented.
Next: cd {4}, then
  stepwell verify
  stepwell due
  stepwell trend
  stepwell trend --device VP-1011 --value accuracy.2.delivered
  stepwell trend --device VP-1012 --value occlusion.alarm_pressure
  stepwell trace FM-01 --error '1.8 %'
  stepwell diff volumetric-annual@2 volumetric-annual@3 --replay
",
        dir.display(),
        made.records,
        made.since,
        made.failed,
        for_shell(dir)
    ));
    Ok(GOOD)
}

fn demo(host: &RealHost, dir: &Path, by_hand: bool) -> Done {
    app::lay_out_demo(host, dir)?;
    print(&format!(
        "The demo shop lies in {}. Everything in it is invented.\n",
        dir.display()
    ));
    let open = app::open_shop(host, dir)?;
    let runnable = app::runnable(host, &open, app::DEMO_RECIPE, false)?;
    let plan = &runnable.plan;
    let start = Start {
        device: app::DEMO_DEVICE,
        by: app::DEMO_PERSON,
        occasion: USUAL_OCCASION,
        trial: false,
        with: IndexMap::new(),
        beside: true,
        other_device: false,
    };
    let choices = app::roles_of(&open, plan, &start.with, &host.today())?;
    let mut input: Box<dyn Input> = if by_hand {
        Box::new(Typed::new())
    } else {
        let source = crate::text::Source::new("answers/pass.yaml", app::demo_answers());
        Box::new(Stored::new(
            app::read_answers(source, plan).map_err(AppError::Findings)?,
        ))
    };
    let instruments = pick(choices, &IndexMap::new(), input.as_mut())?;
    let session = app::start(host, &open, runnable, &start, instruments)?;
    let code = walk_through(&open, session, input.as_mut(), &Walk::default())?;
    if code == UNFINISHED {
        return Ok(code);
    }
    let latest = app::all_records(host, &open.paths)?.pop();
    let Some(latest) = latest else {
        return Err(AppError::new("no record was written"));
    };
    let (path, record) = app::read_record(host, Some(&open.paths), &latest.display().to_string())?;
    let file = path.with_extension("html");
    let house = house::house(host, Some(dir))?;
    let html = page(&record, &beside(host, &path, house)?, Format::Html)?;
    host.write(&file, &html)
        .map_err(|e| AppError::at(&file, &e))?;
    print(&format!("  {}\n", file.display()));
    print(&format!(
        "Next: cd {} && stepwell verify, or a walk by hand: stepwell demo --by-hand\n",
        for_shell(dir)
    ));
    Ok(code)
}
