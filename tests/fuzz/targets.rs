//! The fuzz targets: bytes from anywhere go in, and nothing may panic or take long.
//!
//! Plain functions, so that a fuzzer outside the project can call the same bodies. Never in here: what the results
//! should be. Changes when another door takes bytes from outside.

use std::sync::OnceLock;

use stepwell::app::{calculate, calculated_json, read_answers};
use stepwell::engine::{Bench, Event, State, apply, begin, question};
use stepwell::journal::{event_to_line, head_to_line, recover, replay};
use stepwell::maths::flow::{Allowed, Delivery, resample, trumpet, volumes_from_masses};
use stepwell::plan::{Plan, Verb};
use stepwell::quantity::{DecimalSign, Unit, parse_quantity, parse_reading};
use stepwell::recipe::{Absent, Door, Fetched, Library, Name, read, read_with};
use stepwell::record::{Known, verify};
use stepwell::shop::import::{DateForm, Encoding, Register, changes, entries, read_sheet, settle};
use stepwell::shop::{ApprovalAct, Approvals, RecordAct, Standing};
use stepwell::text::{Finding, Source, findings_as_json, findings_as_text};
use stepwell::trace::{self, ColumnChoice, Header, Mapping, TimeColumn, TimeForm, Wanted};
use stepwell::trust::{Act, Ledger, Tail};

/// Most entries that a walk through a fuzzed recipe makes.
const MAX_ENTRIES: usize = 60;
/// Most findings that are laid out as text.
const MAX_LAID_OUT: usize = 40;

/// A target by its name.
pub type Target = fn(&[u8]);

/// All targets; a folder of seeds goes with each.
pub const TARGETS: [(&str, Target); 11] = [
    ("recipe_bytes", recipe_bytes),
    ("derived_bytes", derived_bytes),
    ("expression", expression),
    ("quantity_text", quantity_text),
    ("journal_bytes", journal_bytes),
    ("answers_bytes", answers_bytes),
    ("record_bytes", record_bytes),
    ("trace_bytes", trace_bytes),
    ("sheet_bytes", sheet_bytes),
    ("ledger_bytes", ledger_bytes),
    ("approvals_bytes", approvals_bytes),
];

/// A recipe file: read, its findings shown, its plan walked for some steps.
pub fn recipe_bytes(bytes: &[u8]) {
    let Ok(text) = std::str::from_utf8(bytes) else {
        return;
    };
    let reading = read(Source::new("fuzzed.yaml", text));
    show(&reading.findings);
    if let Some(plan) = reading.plan {
        walk(&plan);
    }
}

/// Recipes one behind the other, parted by a line of `=`: what is fetched is the one of that id, whatever its revision.
struct Behind<'a>(Vec<&'a str>);

impl Door for Behind<'_> {
    fn fetch(&self, name: &Name) -> Result<Fetched, Absent> {
        let line = format!("recipe: {}", name.id);
        let found = self.0.iter().find(|text| text.lines().any(|l| l == line));
        let text = found.ok_or(Absent::Unknown(None))?;
        let source = Source::new(&name.id, text);
        Ok(Fetched { source, newest: 9 })
    }
}

/// Recipes of which the first may rest on the others; its effective text is read again.
pub fn derived_bytes(bytes: &[u8]) {
    let Ok(text) = std::str::from_utf8(bytes) else {
        return;
    };
    let mut parts = text.split("\n=====\n");
    let first = parts.next().unwrap_or_default();
    let behind = Behind(parts.take(20).collect());
    let reading = read_with(Source::new("fuzzed.yaml", first), &Library::new(&behind));
    show(&reading.findings);
    if let Some(whole) = &reading.whole {
        let again = read(Source::new("effective.yaml", whole.text()));
        assert!(
            reading.plan.is_none() || again.plan.is_some(),
            "{}",
            whole.text()
        );
    }
    if let Some(plan) = reading.plan {
        walk(&plan);
    }
}

/// An expression; a unit for the result may stand on the second line.
pub fn expression(bytes: &[u8]) {
    let Ok(text) = std::str::from_utf8(bytes) else {
        return;
    };
    let (text, unit) = text
        .split_once('\n')
        .map_or((text, None), |(text, unit)| (text, Some(unit)));
    match calculate("fuzzed", text, unit) {
        Ok(value) => drop((calculated_json(&value), value.to_string())),
        Err(findings) => show(&findings),
    }
}

/// Quantity text: as a recipe's, as an entry's with either decimal sign, and as a unit.
pub fn quantity_text(bytes: &[u8]) {
    let Ok(text) = std::str::from_utf8(bytes) else {
        return;
    };
    if let Ok(unit) = Unit::parse(text) {
        let again = Unit::parse(unit.text()).expect("a unit's own text is a unit");
        assert_eq!(again.factor(), unit.factor(), "{text}");
    }
    if let Ok(quantity) = parse_quantity(text) {
        drop((
            quantity.shown(),
            quantity.to_string(),
            quantity.mul(&quantity),
        ));
        let here = quantity.convert(quantity.unit()).expect("its own unit");
        assert!(here.compare(&quantity).is_ok_and(std::cmp::Ordering::is_eq));
    }
    for sign in [DecimalSign::Point, DecimalSign::Comma] {
        for unit in ["mL", "degC", "%", "s"] {
            let unit = Unit::parse(unit).expect("a unit of the table");
            drop(parse_reading(text, &unit, sign));
        }
    }
}

/// A journal: recovered, and run again under the recipe in it. Its whole lines must come back as they were read.
pub fn journal_bytes(bytes: &[u8]) {
    let Ok(recovered) = recover(bytes) else {
        return;
    };
    let mut written = head_to_line(&recovered.head);
    for (event, number) in recovered.events.iter().zip(1..) {
        written.push_str(&event_to_line(number, event.clone()));
    }
    let again = recover(written.as_bytes()).expect("what we write can be read");
    assert_eq!(again.events, recovered.events);
    let source = Source::new("fuzzed journal", &recovered.head.recipe.source);
    if let Some(plan) = read(source).plan {
        drop(replay(
            &plan,
            &mut recovered.head.bench(),
            &recovered.events,
            &|_| None,
        ));
    }
}

/// An answers file, held against the shipped recipe.
pub fn answers_bytes(bytes: &[u8]) {
    let Ok(text) = std::str::from_utf8(bytes) else {
        return;
    };
    if let Err(findings) = read_answers(Source::new("fuzzed.yaml", text), shipped()) {
        show(&findings);
    }
}

/// A record, verified.
pub fn record_bytes(bytes: &[u8]) {
    if let Ok(text) = std::str::from_utf8(bytes) {
        drop(verify(text, &|_| None, &Known::default()));
    }
}

/// A logged series: by headings, by numbers, with nothing stated and with all of it; what is read goes through a trumpet.
pub fn trace_bytes(bytes: &[u8]) {
    let heading = |name: &str| ColumnChoice::Heading(name.to_owned());
    let mut mapping = mapping(heading("time"), heading("mass"));
    take_trace(bytes, &mapping);
    mapping.time.column = ColumnChoice::Number(1);
    take_trace(bytes, &mapping);
    mapping.columns[0].column = ColumnChoice::Number(2);
    for form in [
        None,
        Some(TimeForm::Number(Unit::parse("min").expect("a unit"))),
    ] {
        for (header, decimal) in [
            (Header::Find, None),
            (Header::None, Some(DecimalSign::Comma)),
            (Header::Line(2), Some(DecimalSign::Point)),
        ] {
            mapping.time.form.clone_from(&form);
            (mapping.header, mapping.decimal) = (header, decimal);
            take_trace(bytes, &mapping);
        }
    }
}

/// A spreadsheet, taken for each register: its columns are those that its headings tell, and its rows are held against a
/// register that has nothing.
pub fn sheet_bytes(bytes: &[u8]) {
    for encoding in Encoding::ALL {
        let Ok(sheet) = read_sheet(bytes.to_vec(), encoding) else {
            continue;
        };
        let lines = bytes.iter().filter(|b| matches!(b, b'\n' | b'\r')).count() + 1;
        for register in [Register::People, Register::Devices, Register::Instruments] {
            let Ok(columns) = settle(register, &sheet.headings, &[], None) else {
                continue;
            };
            for form in DateForm::ALL {
                let today = jiff::civil::date(2026, 4, 1);
                let read = entries(register, &sheet, &columns, form, today);
                assert!(read.entries.len() <= sheet.rows.len());
                assert!(read.faults.iter().all(|f| f.line <= lines));
                let changes = changes(register, &read.entries, &[]);
                assert!(changes.list.iter().all(|c| c.added));
            }
        }
    }
}

/// A ledger of records; what is whole of it can be gone on with.
pub fn ledger_bytes(bytes: &[u8]) {
    ledger::<RecordAct>(bytes);
}

/// A ledger of approvals, and where each revision in it stands.
pub fn approvals_bytes(bytes: &[u8]) {
    let known = Approvals::of(&[ledger::<ApprovalAct>(bytes)]);
    for of in known.revisions() {
        let standing = known.standing(&of.recipe, of.revision);
        assert_ne!(standing, Standing::Unapproved);
        let newest = known.newest(&of.recipe).map(|e| e.act.of().revision);
        let runs = matches!(standing, Standing::Approved(_));
        assert!(!runs || newest >= Some(of.revision));
        if let Some(other) = known.other_text(&of.recipe, of.revision, &of.digest) {
            assert_ne!(other.act.of().digest, of.digest);
        }
    }
    for entry in known.entries() {
        assert!(known.entry(&entry.entry).is_some());
        entry
            .act
            .signed_digest("B1", entry.previous.as_deref())
            .expect("what was entered");
    }
}

fn ledger<A: Act>(bytes: &[u8]) -> Ledger<A> {
    let ledger = Ledger::<A>::read("B1", bytes);
    let whole = usize::try_from(ledger.whole).expect("no more than there are bytes");
    assert!(whole <= bytes.len());
    if let (Ok(mut tail), Some(last)) = (Tail::<A>::read("B1", bytes), ledger.entries.last()) {
        let next = tail.next(last.act.clone(), &last.at);
        drop(next.map(|(_, line)| {
            let gone_on = [&bytes[..whole], &line].concat();
            // What was sound before is sound with a line more.
            assert!(
                !ledger.faults.is_empty() || Ledger::<A>::read("B1", &gone_on).faults.is_empty()
            );
        }));
    }
    ledger
}

fn mapping(time: ColumnChoice, mass: ColumnChoice) -> Mapping {
    Mapping {
        time: TimeColumn {
            column: time,
            form: None,
        },
        columns: vec![Wanted {
            name: "mass".to_owned(),
            column: mass,
            unit: Unit::parse("g").expect("a unit"),
            written_in: None,
        }],
        separator: None,
        decimal: None,
        header: Header::Find,
    }
}

fn take_trace(bytes: &[u8], mapping: &Mapping) {
    let trace = match trace::read(bytes, mapping) {
        Ok(trace) => trace,
        Err(faults) => {
            assert!(!faults.is_empty());
            return drop(faults.iter().map(ToString::to_string).collect::<Vec<_>>());
        }
    };
    let values = &trace.columns[0].values;
    assert_eq!(trace.rows(), values.len());
    assert!(trace.times.windows(2).all(|pair| pair[0] <= pair[1]));
    let lines = bytes.iter().filter(|b| matches!(b, b'\n' | b'\r')).count() + 1;
    assert!(trace.observations.iter().all(|o| o.row <= lines));
    let Ok(volumes) = volumes_from_masses(values, 998.0) else {
        return;
    };
    let allowed = Allowed {
        spacing: 0.5,
        fall: 1.0,
    };
    if let Ok(delivery) = Delivery::new(&trace.times, &volumes, allowed) {
        let windows = [30.0, 60.0, 120.0];
        drop(trumpet(&delivery, delivery.whole(), 1e-9, &windows));
        drop((delivery.start_up(), delivery.volume_after(60.0)));
        drop(resample(&trace.times, &volumes, 600.0));
    }
}

fn shipped() -> &'static Plan {
    static PLAN: OnceLock<Plan> = OnceLock::new();
    PLAN.get_or_init(|| {
        let text = include_str!("../../recipes/volumetric-annual.yaml");
        let reading = read(Source::new("volumetric-annual.yaml", text));
        reading.plan.expect("the shipped recipe has no errors")
    })
}

fn show(findings: &[Finding]) {
    drop(findings_as_json(findings));
    drop(findings_as_text(
        &findings[..findings.len().min(MAX_LAID_OUT)],
        true,
    ));
}

fn walk(plan: &Plan) {
    let mut state = begin(plan, &Bench::default());
    for _ in 0..MAX_ENTRIES {
        let Some((path, text)) = answer(plan, &state) else {
            break;
        };
        let entry = Event::Entry {
            path: path.clone(),
            text,
            confirmed: true,
            timer: None,
            heard: None,
            at: "2026-03-02T09:00:00.000Z".to_owned(),
        };
        let at = "2026-03-02T09:00:01.000Z".to_owned();
        let why = "fuzzed".to_owned();
        if apply(plan, &Bench::default(), &mut state, &entry).is_err()
            && apply(
                plan,
                &Bench::default(),
                &mut state,
                &Event::Skip { path, why, at },
            )
            .is_err()
        {
            break;
        }
    }
    let _ = state.verdict(plan);
}

/// An answer that the step is likely to take.
fn answer(plan: &Plan, state: &State) -> Option<(String, String)> {
    let question = question(plan, state)?;
    let text = match &question.item.verb {
        Verb::Confirm | Verb::Tell => "yes".to_owned(),
        Verb::Choose(options) => options.first().cloned().unwrap_or_default(),
        Verb::Enter(_) => "A1".to_owned(),
        _ => "5".to_owned(),
    };
    Some((question.item.path.clone(), text))
}
