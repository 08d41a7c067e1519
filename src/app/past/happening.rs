//! What happens is done by the same functions as the commands use, on its own day.
//!
//! Never in here: when (see `schedule`). Changes when something new happens.

use std::collections::HashMap;
use std::path::Path;
use std::time::Duration;

use indexmap::IndexMap;
use jiff::civil::Date;

use crate::engine::Event;
use crate::host::{Host, HurriedHost};
use crate::plan::{Value, Verb};

use super::super::AppError;
use super::super::amend::{Amending, amend};
use super::super::approve::runnable;
use super::super::demo::approve_all;
use super::super::open::{OpenShop, open_shop};
use super::super::session::Session;
use super::super::start::Start;
use super::super::through::run_through;
use super::super::upkeep::{Calibrated, Done, calibrated, upkeep_done};
use super::readings::Readings;
use super::registers::certificate;
use super::schedule::{Act, Visit};
use super::{PastCount, revision, stories};

/// Time between two entries of a session.
const ENTRY: Duration = Duration::from_secs(20);
/// Time between two things that happen.
const BETWEEN: Duration = Duration::from_secs(10 * 60);
/// Who enters what was done for instruments.
const KEEPER: &str = "tech-07";

/// The shop as far as its past has come.
pub(super) struct Past<'h> {
    host: &'h HurriedHost,
    folder: &'h Path,
    open: OpenShop,
    /// The last record of each device.
    records: HashMap<String, String>,
    pub(super) count: PastCount,
}

impl<'h> Past<'h> {
    /// At its beginning.
    pub(super) fn open(host: &'h HurriedHost, folder: &'h Path) -> Result<Self, AppError> {
        Ok(Self {
            host,
            folder,
            open: open_shop(host, folder)?,
            records: HashMap::new(),
            count: PastCount::default(),
        })
    }

    /// Does one thing on its day.
    pub(super) fn happen(&mut self, day: Date, act: &Act) -> Result<(), AppError> {
        let morning = format!("{day}T07:30:00.000+00:00");
        if self.host.now() < morning {
            self.host.set(&morning);
        }
        self.host.pass(BETWEEN);
        match act {
            Act::Visit(visit) => self.visit(visit).map_err(|error| {
                let (tag, recipe) = (&visit.device.tag, visit.recipe);
                AppError::new(format!("{recipe} on {tag}, {day}: {error}"))
            }),
            Act::Write => revision::put_new(self.host, self.folder),
            Act::Approve => approve_all(self.host, self.folder, &|_| true),
            Act::Upkeep { instrument, task } => {
                upkeep_done(self.host, self.folder, task, &done(instrument, "")).map(drop)
            }
            Act::Calibrate { instrument, note } => self.calibrate(day, instrument, note),
        }
    }

    fn calibrate(&mut self, day: Date, instrument: &str, note: &str) -> Result<(), AppError> {
        let known = self.open.instruments.iter().find(|i| i.id == instrument);
        let before = known.map(|i| i.certificate.as_str()).unwrap_or_default();
        let [certificate, due] = certificate(before, day);
        let new = Calibrated {
            certificate: &certificate,
            due: &due,
        };
        calibrated(self.host, self.folder, &new, &done(instrument, note))?;
        self.open = open_shop(self.host, self.folder)?;
        Ok(())
    }

    fn visit(&mut self, visit: &Visit) -> Result<(), AppError> {
        let runnable = runnable(self.host, &self.open, visit.recipe, visit.trial)?;
        let mut readings = Readings::of(visit, &runnable.plan)?;
        let with = visit.with.iter();
        let how = Start {
            device: &visit.device.tag,
            by: visit.by,
            occasion: visit.occasion,
            trial: visit.trial,
            with: with
                .map(|(role, id)| ((*role).to_owned(), (*id).to_owned()))
                .collect::<IndexMap<_, _>>(),
            beside: false,
            other_device: false,
        };
        let record = run_through(
            self.host,
            &self.open,
            runnable,
            &how,
            &mut |session| {
                self.host.pass(ENTRY);
                let event = readings.next(session)?;
                Ok(event.map(|event| self.timed(session, event)))
            },
            &mut |_| Ok(None),
        )?;
        self.count.records += 1;
        self.count.failed += usize::from(record.verdict == "fail");
        let tag = visit.device.tag.clone();
        let before = self.records.insert(tag, record.record.clone());
        match before.filter(|_| visit.corrects) {
            Some(before) => self.correct(&before, &record.record, visit.by),
            None => Ok(()),
        }
    }

    /// A time that is entered has gone by before it is.
    fn timed(&self, session: &Session<'_>, mut event: Event) -> Event {
        if let Event::Entry { path, text, at, .. } = &mut event
            && let Some(item) = session.plan.items.iter().find(|i| i.path == *path)
            && matches!(item.verb, Verb::Time { .. })
            && let Ok(Value::Quantity(time)) = session.read(item, text)
            && let Ok(time) = Duration::try_from_secs_f64(time.si().to_f64())
        {
            self.host.pass(time);
            *at = session.now();
        }
        event
    }

    /// A record holds instead of the one before.
    fn correct(&self, before: &str, record: &str, by: &str) -> Result<(), AppError> {
        self.host.pass(BETWEEN);
        let what = Amending {
            record: before,
            by,
            why: stories::CORRECTED,
            note: None,
            correction: Some(record),
            void: false,
        };
        amend(self.host, &self.open, &what, &mut |_| Ok(None)).map(drop)
    }
}

fn done<'a>(instrument: &'a str, note: &'a str) -> Done<'a> {
    Done {
        instrument,
        by: KEEPER,
        on: None,
        note,
    }
}
