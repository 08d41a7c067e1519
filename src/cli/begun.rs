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
use crate::text::meant;
use crate::trust::RECORD;

use super::arguments::Walk;
use super::commands::{Done, GOOD, NO, UNFINISHED, print, say};
use super::entries::in_use;
use super::fitted::report;
use super::input::{Input, Line, Stored, Typed, Wanted};
use super::paging::{Rest, paged};
use super::repairing::{after_fail, is_for_repair, test_after_repair};
use super::show::plain;
use super::signing::{at_hand, ready_signer};
use super::standing::problems;
use super::walk::{self, Outcome, Pace};

/// The session that is under way, for whom it is interrupted.
static UNDER_WAY: Mutex<Option<(Paths, String)>> = Mutex::new(None);

/// On Ctrl-C or a hang-up everything entered is safe already; say how to go on. Where nothing was entered nothing is left.
fn on_interrupt(paths: &Paths, session: &str) {
    let under_way = || UNDER_WAY.lock().unwrap_or_else(PoisonError::into_inner);
    *under_way() = Some((paths.clone(), session.to_owned()));
    let handler = move || {
        let known = under_way();
        if let Some((paths, session)) = &*known {
            match app::leave_if_empty(&RealHost::default(), paths, session) {
                true => eprintln!("\nnothing was entered: session {session} is removed"),
                false => eprintln!(
                    "\npaused: everything that was entered is safe\ngo on with `stepwell resume {session}`"
                ),
            }
        }
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
    let runnable = prepare(host, &open, recipe, start, how)?;
    let mut input: Box<dyn Input> = input(host, &runnable.plan, how)?;
    let session = begin(host, &open, runnable, start, input.as_mut())?;
    walk_through(&open, session, input.as_mut(), how)
}

/// Looks whether a recipe can be run by somebody today.
pub(super) fn prepare(
    host: &RealHost,
    open: &OpenShop,
    recipe: &str,
    start: &Start<'_>,
    how: &Walk,
) -> Result<Runnable, AppError> {
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
    Ok(runnable)
}

/// Begins a session: what speaks against it first, then its instruments.
pub(super) fn begin<'h>(
    host: &'h RealHost,
    open: &OpenShop,
    runnable: Runnable,
    start: &Start<'_>,
    input: &mut dyn Input,
) -> Result<Session<'h>, AppError> {
    let mut start = start.clone();
    let seated = input.is_terminal();
    if seated && let Some(why) = app::is_for_others(open, &runnable.plan, &start)? {
        start.other_device = runs_on_other(&why, input)?;
    }
    app::may_start(open, &runnable.plan, &start)?;
    // A meter that is looked after may be on the bench for another device.
    let tag = &app::registered(open, start.device)?.tag;
    in_use(host, &open.paths, tag)?;
    if seated && !start.beside {
        start.beside = goes_beside(host, open, tag, input)?;
    }
    let choices = app::roles_of(open, &runnable.plan, &start.with, &host.today())?;
    let is_asked = seated && choices.iter().any(|c| c.suitable.len() > 1);
    let usual = match is_asked {
        true => app::taken_last(host, open, start.by)?,
        false => IndexMap::new(),
    };
    let instruments = pick(choices, &usual, input)?;
    app::start(host, open, runnable, &start, instruments)
}

/// Asks whether to run a recipe on a device that it is not for.
fn runs_on_other(why: &str, input: &mut dyn Input) -> Result<bool, AppError> {
    let mut screen = super::show::Screen::new();
    screen.line(0, why);
    let question =
        "Run it all the same (it does not count as the device's check), yes or no (no)> ";
    is_agreed(question, input)
}

/// Asks for a yes; anything else begins no session.
fn is_agreed(question: &str, input: &mut dyn Input) -> Result<bool, AppError> {
    input.leave_out_earlier();
    super::show::Screen::new().raw(question);
    match input.line(&Wanted::Pick, None) {
        Line::Text(text) if matches!(text.trim().to_lowercase().as_str(), "y" | "yes") => Ok(true),
        _ => Err(AppError::new("the session was not begun")),
    }
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
    is_agreed("Begin another one beside it, yes or no (no)> ", input)
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
        let asked = input.is_terminal() && choice.suitable.len() > 1;
        let taken = match asked {
            true => picked(&choice, usual.get(&choice.role), input)?,
            false => 0,
        };
        let instrument = choice.suitable.swap_remove(taken);
        if asked {
            screen.line(0, &format!("{}: {}", choice.role, described(&instrument)));
        }
        instruments.insert(choice.role, instrument);
    }
    Ok(instruments)
}

/// Which of several instruments is taken; `last` is the one that was taken last.
fn picked(
    choice: &Choice,
    last: Option<&String>,
    input: &mut dyn Input,
) -> Result<usize, AppError> {
    let mut screen = super::show::Screen::new();
    let measures = choice.measures.join(", ");
    screen.line(
        0,
        &format!("Instrument for `{}` ({measures}):", choice.role),
    );
    for (number, instrument) in (1..).zip(&choice.suitable) {
        screen.line(2, &format!("{number} {}", described(instrument)));
    }
    let place = |typed: &str| {
        let known = meant(choice.suitable.iter().enumerate(), typed, |(_, i)| &i.id);
        known.map(|(at, _)| at)
    };
    let last = last.and_then(|id| place(id));
    let again = last.map_or(String::new(), |at| {
        format!(", or Enter for {}", choice.suitable[at].id)
    });
    let by_number = |text: &str| {
        let at = text.parse::<usize>().ok()?.checked_sub(1)?;
        (at < choice.suitable.len()).then_some(at)
    };
    loop {
        input.leave_out_earlier();
        screen.raw(&format!("1 to {}{again}> ", choice.suitable.len()));
        let Line::Text(text) = input.line(&Wanted::Pick, None) else {
            return Err(unpicked());
        };
        let text = text.trim();
        if matches!(text, ":pause" | ":stop") {
            return Err(unpicked());
        }
        let again = last.filter(|_| text.is_empty());
        if let Some(index) = place(text).or_else(|| by_number(text)).or(again) {
            return Ok(index);
        }
        screen.line(
            2,
            "type the number or the id of one of these; `:stop` leaves, and no session is begun",
        );
    }
}

fn unpicked() -> AppError {
    AppError::new("no instrument was picked; the session was not begun")
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
    let named = match session {
        Some(typed) => Some(app::meant_session(host, &paths, typed)?),
        None => listed(host, &paths)?,
    };
    let Some(name) = named else {
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
    } = app::resume(host, &open, &name, by)?;
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

/// Lists the sessions under way; whoever sits at a terminal is asked which one goes on.
fn listed(host: &RealHost, paths: &Paths) -> Result<Option<String>, AppError> {
    let open = app::list_sessions(host, paths)?;
    if open.is_empty() {
        print("no session is open\n");
    }
    for session in &open {
        let told = app::describe_session(host, paths, session)?;
        print(&report(&format!("{}\n", plain(&told))));
    }
    let mut input = Typed::new();
    if open.is_empty() || !input.is_terminal() {
        return Ok(None);
    }
    let question = match &open[..] {
        [_] => "Enter or `yes` goes on with it, `no` leaves it> ",
        _ => "Tag of the device, or a part of the session's name; Enter leaves them> ",
    };
    input.leave_out_earlier();
    super::show::Screen::new().raw(question);
    let Line::Text(text) = input.line(&Wanted::Pick, None) else {
        return Ok(None);
    };
    match (text.trim(), &open[..]) {
        ("" | "yes" | "y", [one]) => Ok(Some(one.clone())),
        ("" | "no" | "n", _) => Ok(None),
        (typed, _) => app::meant_session(host, paths, typed).map(Some),
    }
}

/// Tells that the recipe was withdrawn meanwhile; whoever sits at a terminal is asked whether to go on.
fn goes_on_withdrawn(withdrawn: &str, input: &mut dyn Input) -> bool {
    let mut screen = super::show::Screen::new();
    screen.line(0, &format!("{withdrawn}; the record will say so"));
    if !input.is_terminal() {
        return true;
    }
    input.leave_out_earlier();
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
    on_interrupt(&open.paths, &session.head.session);
    let mut screen = super::show::Screen::new();
    screen.gap();
    let head = introduction(&open.paths, &session);
    let told = paged(&mut screen, input, &session, (0, &head), Rest::Always);
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
        chosen: match input.is_terminal() {
            true => app::chosen_last(session.host(), open, &session.head, &session.plan)?,
            false => HashMap::new(),
        },
        beeps: open.shop.beep && !how.quiet,
        told,
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
            let next = after_fail(&session);
            let command = is_for_repair(&session).then(|| test_after_repair(host, open, &session));
            let (record, path) = session.close(open, &mut sign)?;
            finished(&record, &path, &against);
            if record.verdict == RecordVerdict::Fail.word() {
                next.iter().for_each(|line| screen.line(2, line));
                // In one piece, to be copied.
                command
                    .iter()
                    .for_each(|c| screen.raw(&format!("  {}\n", plain(c))));
            }
            Ok(exit_of(&record))
        }
    }
}

/// What is walked through, on what, with what, and what to beware of.
fn introduction(paths: &Paths, session: &Session<'_>) -> Vec<String> {
    let (head, plan) = (&session.head, &session.plan);
    let device = &head.device;
    let mut lines = vec![
        format!(
            "{}, revision {} ({})",
            plan.title, plan.revision, head.occasion
        ),
        // Without its serial number: what is read off the plate is to be held against the register, not against the screen.
        format!("Device {}: {} {}", device.tag, device.maker, device.model),
    ];
    let fills = |(role, of): (&String, &Instrument)| format!("{role} {}", of.id);
    let instruments: Vec<String> = head.instruments.iter().map(fills).collect();
    if !instruments.is_empty() {
        lines.push(format!("Instruments: {}", instruments.join(", ")));
    }
    let taken: Vec<&Instrument> = head.instruments.values().collect();
    match app::overdue_upkeep(session.host(), paths, &taken) {
        Ok(overdue) if overdue.is_empty() => {}
        Ok(overdue) => lines.push(format!("Upkeep is overdue: {}", overdue.join(", "))),
        // What is wrong in a register of upkeep keeps nobody from testing.
        Err(error) => lines.push(format!("What upkeep is overdue can't be told: {error}")),
    }
    lines.push(format!(
        "Session {}; `:help` lists what can be typed besides values",
        head.session
    ));
    if head.trial {
        lines.push("TRIAL: the recipe is not approved; the record says so".to_owned());
    }
    lines.extend(plan.cautions.iter().map(|c| format!("Caution: {c}")));
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
    let judged = exit_of(record) != UNFINISHED;
    if judged && !record.trial && !record.other_device {
        let label = format!("`stepwell label {}` prints its label", record.record);
        screen.line(2, &label);
    }
}

/// What stands behind the verdict of a trial.
pub(super) fn trial(record: &Record) -> &'static str {
    if record.trial { ", TRIAL" } else { "" }
}
