//! `run`, `resume`: what is asked before a walk, and what is told after it.
//!
//! Never in here: the walk itself (see `walk`). Changes when a session is begun or ended otherwise.

use std::collections::HashMap;
use std::path::Path;
use std::sync::{Mutex, PoisonError};

use indexmap::IndexMap;

use crate::app::{self, AppError, Choice, OpenShop, Resumed, Runnable, Session, Start};
use crate::engine::RecordVerdict;
use crate::host::{Host, RealHost};
use crate::journal::Instrument;
use crate::record::Record;
use crate::shop::{Deed, Paths};
use crate::trust::RECORD;

use super::arguments::Walk;
use super::commands::{Done, GOOD, NO, UNFINISHED, print, say};
use super::input::{Input, Line, Stored, Typed, Wanted};
use super::show::{plain, problems};
use super::signing::{at_hand, ready_signer};
use super::walk::{self, Outcome, Pace};

/// The recipe for what was repaired, where the shop has one.
const POST_REPAIR: &str = "post-repair";

/// The session that is under way, for whom it is interrupted.
static UNDER_WAY: Mutex<String> = Mutex::new(String::new());

/// On Ctrl-C or a hang-up everything entered is safe already; say how to go on.
fn on_interrupt(session: &str) {
    session.clone_into(&mut UNDER_WAY.lock().unwrap_or_else(PoisonError::into_inner));
    let handler = || {
        let session = UNDER_WAY.lock().unwrap_or_else(PoisonError::into_inner);
        eprintln!(
            "\npaused: everything that was entered is safe\ngo on with `stepwell resume {session}`"
        );
        std::process::exit(i32::from(UNFINISHED));
    };
    // Without a handler the program ends all the same, only with fewer words. From the second session on it is there.
    let _ = ctrlc::set_handler(handler);
}

pub(super) fn run(
    host: &RealHost,
    root: &Path,
    recipe: &str,
    start: &Start<'_>,
    how: &Walk,
) -> Done {
    let open = app::open_shop(host, root)?;
    let ready = prepare(host, &open, recipe, start, how)?;
    let mut input: Box<dyn Input> = input(host, &ready.runnable.plan, how)?;
    let session = begin(host, &open, ready, start, input.as_mut())?;
    walk_through(&open, session, input.as_mut(), how)
}

/// What is known before anything is asked.
pub(super) struct Ready {
    pub(super) runnable: Runnable,
    choices: Vec<Choice>,
    /// The instruments that were taken last, by role.
    usual: IndexMap<String, String>,
}

/// Looks whether a recipe can be run by somebody today.
pub(super) fn prepare(
    host: &RealHost,
    open: &OpenShop,
    recipe: &str,
    start: &Start<'_>,
    how: &Walk,
) -> Result<Ready, AppError> {
    let runnable = app::runnable(host, open, recipe, start.trial)?;
    if let Some(notice) = &runnable.notice {
        say(notice);
    }
    // Told before instruments are picked; the session holds it as the shop writes it.
    open.shop.occasion(start.occasion).map_err(AppError::new)?;
    let deed = if start.trial { Deed::Trial } else { Deed::Run };
    at_hand(
        host,
        &app::permitted(host, open, start.by, deed)?,
        &how.signing,
    )?;
    let choices = app::roles_of(open, &runnable.plan, &start.with, &host.today())?;
    let is_asked = choices.iter().any(|c| c.suitable.len() > 1);
    let usual = match is_asked && how.answers.is_none() {
        true => app::taken_last(host, open, start.by)?,
        false => IndexMap::new(),
    };
    Ok(Ready {
        runnable,
        choices,
        usual,
    })
}

/// Begins a session, once its instruments are picked.
pub(super) fn begin<'h>(
    host: &'h RealHost,
    open: &OpenShop,
    ready: Ready,
    start: &Start<'_>,
    input: &mut dyn Input,
) -> Result<Session<'h>, AppError> {
    let instruments = pick(ready.choices, &ready.usual, input)?;
    let mut start = start.clone();
    if input.is_terminal() && !start.beside {
        start.beside = goes_beside(host, open, start.device, input)?;
    }
    app::start(host, open, ready.runnable, &start, instruments)
}

/// Asks whether to begin beside other sessions on a device; nothing is asked where there are none.
fn goes_beside(
    host: &RealHost,
    open: &OpenShop,
    device: &str,
    input: &mut dyn Input,
) -> Result<bool, AppError> {
    let others = app::unfinished_on(host, &open.paths, device)?;
    if others.is_empty() {
        return Ok(false);
    }
    let mut screen = super::show::Screen::new();
    screen.line(0, &format!("`{device}` has a session under way:"));
    for other in &others {
        screen.line(2, &other.to_string());
    }
    screen.raw("Begin another one beside it, yes or no (no)> ");
    match input.line(&Wanted::Pick, None) {
        Line::Text(text) if matches!(text.trim().to_lowercase().as_str(), "y" | "yes") => Ok(true),
        _ => Err(AppError::new("the session was not begun")),
    }
}

fn input(
    host: &RealHost,
    plan: &crate::plan::Plan,
    how: &Walk,
) -> Result<Box<dyn Input>, AppError> {
    match &how.answers {
        Some(file) => {
            let source = app::read_source(host, file)?
                .map_err(|finding| AppError::Findings(vec![finding]))?;
            let answers = app::read_answers(source, plan).map_err(AppError::Findings)?;
            Ok(Box::new(Stored::new(answers)))
        }
        None => Ok(Box::new(Typed::new())),
    }
}

/// Fills the roles: at a terminal somebody picks where there is a choice, else the first suitable one is taken.
/// What was taken last is offered again.
pub(super) fn pick(
    choices: Vec<Choice>,
    usual: &IndexMap<String, String>,
    input: &mut dyn Input,
) -> Result<IndexMap<String, Instrument>, AppError> {
    let mut instruments = IndexMap::new();
    let mut screen = super::show::Screen::new();
    for mut choice in choices {
        let mut taken = 0;
        if input.is_terminal() && choice.suitable.len() > 1 {
            let measures = choice.measures.join(", ");
            screen.line(
                0,
                &format!("Instrument for `{}` ({measures}):", choice.role),
            );
            for (number, instrument) in (1..).zip(&choice.suitable) {
                screen.line(2, &format!("{number} {}", described(instrument)));
            }
            let last = usual.get(&choice.role);
            let last = choice.suitable.iter().position(|i| Some(&i.id) == last);
            let again = last.map_or(String::new(), |at| {
                format!(", or Enter for {}", choice.suitable[at].id)
            });
            taken = loop {
                screen.raw(&format!("1 to {}{again}> ", choice.suitable.len()));
                match input.line(&Wanted::Pick, None) {
                    Line::Text(text) => {
                        let text = text.trim().to_owned();
                        let by_number = text
                            .parse::<usize>()
                            .ok()
                            .and_then(|n| n.checked_sub(1))
                            .filter(|n| *n < choice.suitable.len());
                        let by_id = choice.suitable.iter().position(|i| i.id == text);
                        let again = last.filter(|_| text.is_empty());
                        if let Some(index) = by_id.or(by_number).or(again) {
                            break index;
                        }
                        screen.line(2, "type the number or the id of one of these");
                    }
                    _ => {
                        return Err(AppError::new(
                            "no instrument was picked; the session was not begun",
                        ));
                    }
                }
            };
        }
        let instrument = choice.suitable.swap_remove(taken);
        let line = format!("{}: {}", choice.role, described(&instrument));
        screen.line(0, &line);
        instruments.insert(choice.role, instrument);
    }
    Ok(instruments)
}

fn described(instrument: &Instrument) -> String {
    let Instrument { id, kind, due, .. } = instrument;
    format!("{id} ({kind}), due {due}")
}

pub(super) fn resume(
    host: &RealHost,
    root: &Path,
    session: Option<&str>,
    by: Option<&str>,
    how: &Walk,
) -> Done {
    let paths = Paths::at(root);
    let Some(name) = session else {
        let open = app::list_sessions(host, &paths)?;
        if open.is_empty() {
            print("no session is open\n");
        }
        for session in open {
            print(&format!(
                "{}\n",
                plain(&app::describe_session(host, &paths, &session)?)
            ));
        }
        return Ok(GOOD);
    };
    let open = app::open_shop(host, root)?;
    if let Some(by) = by {
        // Whether it is a trial is seen only then; that the person is known, here and has a key is seen now.
        let permit = app::permitted(host, &open, by, Deed::Run)?;
        app::may_be_unsigned(&open.shop, &permit)?;
    }
    let Resumed {
        session,
        lost,
        withdrawn,
    } = app::resume(host, &open, name, by)?;
    if session.is_written() {
        let (record, path) = session.close(&open, &mut |_| Ok(None))?;
        finished(&record, &path, &[]);
        return Ok(exit_of(&record));
    }
    at_hand(host, &session.permit(&open)?, &how.signing)?;
    if let Some(lost) = lost {
        let mut screen = super::show::Screen::new();
        screen.line(
            0,
            &format!("the last line of the journal was torn and has been dropped: {lost}"),
        );
        screen.line(0, "enter that value again; all before it is kept");
    }
    let mut input = input(host, &session.plan, how)?;
    if let Some(withdrawn) = withdrawn
        && !goes_on_withdrawn(&withdrawn, input.as_mut())
    {
        return Ok(UNFINISHED);
    }
    walk_through(&open, session, input.as_mut(), how)
}

/// Tells that the recipe was withdrawn meanwhile; whoever sits at a terminal is asked whether to go on.
fn goes_on_withdrawn(withdrawn: &str, input: &mut dyn Input) -> bool {
    let mut screen = super::show::Screen::new();
    screen.line(0, &format!("{withdrawn}; the record will say so"));
    if !input.is_terminal() {
        return true;
    }
    screen.raw("Go on all the same, yes or no (no)> ");
    match input.line(&Wanted::Pick, None) {
        Line::Text(text) if matches!(text.trim().to_lowercase().as_str(), "y" | "yes") => true,
        _ => {
            screen.line(
                0,
                "paused: everything that was entered is safe; `:stop WHY` ends a session",
            );
            false
        }
    }
}

pub(super) fn walk_through(
    open: &OpenShop,
    mut session: Session<'_>,
    input: &mut dyn Input,
    how: &Walk,
) -> Done {
    on_interrupt(&session.head.session);
    let mut screen = super::show::Screen::new();
    screen.gap();
    introduce(&mut screen, &session);
    print("`:help` lists what can be typed besides values.\n");
    let name = session.head.session.clone();
    let answers = if input.is_terminal() {
        ""
    } else {
        " (`--answers FILE` for stored answers)"
    };
    let pace = Pace {
        left: match how.answers {
            None => app::time_left(session.host(), open, &session.plan.recipe)?,
            Some(_) => HashMap::new(),
        },
        beeps: open.shop.beep && !how.quiet,
    };
    match walk::Walk::new(&mut session, input, open, pace).run()? {
        Outcome::Paused(why) => {
            screen.line(0, &format!("paused: {why}"));
            screen.line(0, "everything that was entered is safe");
            screen.line(0, &format!("go on with `stepwell resume {name}`{answers}"));
            Ok(UNFINISHED)
        }
        Outcome::Ended => {
            if session.is_abandoned() {
                session.discard()?;
                screen.line(
                    0,
                    &format!("nothing was entered: session {name} is removed, without a record"),
                );
                return Ok(UNFINISHED);
            }
            let mut against = problems(&session.plan, &session.state);
            against.extend(input.unused(&session));
            let (host, permit) = (session.host(), session.permit(open)?);
            // The key is opened before the session is closed: with a wrong passphrase it can still be corrected.
            let mut sign = ready_signer(host, &permit, RECORD, &how.signing)
                .map_err(|e| session.unsealed(&e))?;
            let next = after_fail(host, open, &session);
            let (record, path) = session.close(open, &mut sign)?;
            finished(&record, &path, &against);
            if record.verdict == RecordVerdict::Fail.word() {
                next.iter().for_each(|line| screen.line(2, line));
            }
            Ok(exit_of(&record))
        }
    }
}

/// What is walked through, on what, and what to beware of.
fn introduce(screen: &mut super::show::Screen, session: &Session<'_>) {
    let (head, plan) = (&session.head, &session.plan);
    let device = &head.device;
    screen.line(0, &format!("{}, revision {}", plan.title, plan.revision));
    screen.line(
        0,
        &format!(
            "Device {}: {} {}, serial {}",
            device.tag, device.maker, device.model, device.serial
        ),
    );
    screen.line(0, &format!("Session {} ({})", head.session, head.occasion));
    if head.trial {
        screen.line(0, "TRIAL: the recipe is not approved; the record says so");
    }
    for caution in &plan.cautions {
        screen.line(0, &format!("Caution: {caution}"));
    }
}

/// What is to be done after a fail: what the recipe says of the steps that failed, the repair, and the test after it.
fn after_fail(host: &dyn Host, open: &OpenShop, session: &Session<'_>) -> Vec<String> {
    let failed = session.plan.items.iter().zip(&session.state.items);
    let failed = failed.filter(|(_, went)| went.criteria().iter().any(|j| j.verdict.is_fail()));
    let mut lines: Vec<String> = failed
        .filter_map(|(item, _)| Some(format!("`{}`: {}", item.path, item.help.as_ref()?)))
        .collect();
    let has_own = host.exists(&open.paths.recipes().join(format!("{POST_REPAIR}.yaml")));
    let recipe = match has_own {
        true => POST_REPAIR,
        false => &session.plan.recipe,
    };
    lines.push(format!(
        "next: keep the device out of use and have it repaired; then `stepwell run {recipe} --device {} --by {} --occasion \"after repair\"`",
        session.head.device.tag,
        session.by()
    ));
    lines
}

/// The worse of two exit codes of sessions.
pub(super) fn ended_by(a: u8, b: u8) -> u8 {
    [NO, UNFINISHED]
        .into_iter()
        .find(|code| a == *code || b == *code)
        .unwrap_or(GOOD)
}

fn exit_of(record: &Record) -> u8 {
    match record.verdict.as_str() {
        v if v == RecordVerdict::Fail.word() => NO,
        v if v == RecordVerdict::Incomplete.word() => UNFINISHED,
        _ => GOOD,
    }
}

fn finished(record: &Record, path: &Path, against: &[String]) {
    let mut screen = super::show::Screen::new();
    screen.gap();
    if let Some(ended) = &record.ended {
        screen.line(2, ended);
    }
    for line in against {
        screen.line(2, line);
    }
    for remark in record
        .remarks
        .iter()
        .filter(|r| !against.iter().any(|a| a.contains(*r)))
    {
        screen.line(2, &format!("remark: {remark}"));
    }
    screen.line(
        0,
        &format!(
            "Record {}: {}{}",
            record.record,
            record.verdict.to_uppercase(),
            trial(record)
        ),
    );
    screen.line(2, &path.display().to_string());
    let signed = record.seal.signatures.iter().map(|s| &s.statement);
    for by in signed {
        screen.line(2, &format!("signed by {} ({})", by.by, by.name));
    }
    if record.seal.signatures.is_empty() {
        screen.line(2, "not signed; `stepwell people key PERSON` makes a key");
    }
}

/// What stands behind the verdict of a trial.
pub(super) fn trial(record: &Record) -> &'static str {
    if record.trial { ", TRIAL" } else { "" }
}
