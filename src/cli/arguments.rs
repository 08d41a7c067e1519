//! The arguments of all commands.
//!
//! Never in here: what they do. Changes when a command or an option is added.

use std::path::PathBuf;

use super::completing::Named;
use super::differing::DiffArguments;
use super::looking::{TraceArguments, TrendArguments};
use super::raising::RaiseArguments;
use super::rendering::RenderArguments;
use super::signing::Signing;
use clap::{Args, Parser, Subcommand, ValueEnum};

use super::registers::{Devices, Instruments, People};

/// Procedures for proving infusion pumps: write them as recipes, walk through them, keep records that can be recomputed.
#[derive(Debug, Parser)]
#[command(
    name = "stepwell",
    version,
    about,
    max_term_width = 100,
    after_help = "A pump under test is never connected to a patient. A passed record does not release a device:\nthe maker's service manual, local codes and licensed practice govern."
)]
pub struct Arguments {
    /// The shop's folder; without it the nearest folder upwards that has a shop.yaml
    #[arg(long, global = true, value_name = "DIR")]
    pub shop: Option<PathBuf>,
    /// What to do
    #[command(subcommand)]
    pub command: Command,
}

/// How findings and results are printed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum Form {
    /// For a person
    Text,
    /// For a program
    Json,
}

/// How what is found is printed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum CheckForm {
    /// For a person
    Text,
    /// For a program
    Json,
    /// For services that review changes (SARIF 2.1.0)
    Sarif,
    /// For a workflow on GitHub: a command a finding
    Github,
}

/// The commands.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Lay the demo shop out and walk the volumetric recipe on one pump
    #[command(
        after_help = "Example: stepwell demo\nExample: stepwell demo my-demo --by-hand\nExample: stepwell demo my-past --past"
    )]
    Demo {
        /// Where to lay it out
        #[arg(default_value = "stepwell-demo")]
        dir: PathBuf,
        /// Type the readings yourself
        #[arg(long)]
        by_hand: bool,
        /// Walk no pump; give the shop two years of records up to yesterday, made by sessions of the program with a fixed seed
        #[arg(long, conflicts_with = "by_hand")]
        past: bool,
    },
    /// Lay an empty shop out, with the shipped recipes
    #[command(after_help = "Example: stepwell init my-shop")]
    Init {
        /// Where
        #[arg(default_value = ".")]
        dir: PathBuf,
    },
    /// Check recipes, shop files, or the whole shop
    #[command(
        after_help = "Example: stepwell check recipes/volumetric-annual.yaml\nExample: stepwell check --format json\nExample: stepwell check --watch recipes\nExample: stepwell check --format sarif > findings.sarif\nExit: 0 no errors, 1 errors, 2 could not be done"
    )]
    Check {
        /// Files or folders; without any, the whole shop
        paths: Vec<PathBuf>,
        /// How to print what is found
        #[arg(long, value_enum, default_value = "text")]
        format: CheckForm,
        /// Let warnings (or hints) count as errors
        #[arg(long, value_name = "SEVERITY", value_parser = ["warnings", "hints"])]
        deny: Option<String>,
        /// Check again whenever a file changes, until Ctrl-C
        #[arg(long, conflicts_with_all = ["format", "deny"])]
        watch: bool,
    },
    /// Explain a finding by its code
    #[command(after_help = "Example: stepwell explain unknown-name")]
    Explain {
        /// The code; without it, the list of codes
        code: Option<String>,
    },
    /// Print the JSON schema of a recipe, or of another file, for editors
    #[command(
        after_help = "Example: stepwell schema recipe --output schema/recipe.schema.json\nThe first line of a recipe then tells an editor: # yaml-language-server: $schema=../schema/recipe.schema.json\n`stepwell init` writes both."
    )]
    Schema {
        /// Which one; without it, the list of them
        name: Option<String>,
        /// Write to a file instead
        #[arg(long, short, value_name = "FILE", requires = "name")]
        output: Option<PathBuf>,
    },
    /// Lay recipes out evenly: indents, blanks, ends of lines; comments and meaning stay
    #[command(
        after_help = "Example: stepwell fmt\nExample: stepwell fmt recipes/volumetric-annual.yaml --check\nExit: 0 done, 1 with --check: a file would change, 2 could not be done"
    )]
    Fmt {
        /// Files or folders; without any, the whole shop
        paths: Vec<PathBuf>,
        /// Only tell which files would change
        #[arg(long)]
        check: bool,
    },
    /// Let all recipes that rest on a base or fragment rest on its newest revision
    #[command(
        after_help = "Example: stepwell raise volumetric-annual --by author-01 --check\nExample: stepwell raise volumetric-annual --by author-01\nEach gets a revision of its own, with an entry in `changes`, and so do those that rest on these. Comments and layout stay. What would have errors is left as it is.\nExit: 0 raised, or nothing to raise, 1 some are left as they were, 2 could not be done"
    )]
    Raise(RaiseArguments),
    /// Show a procedure as a document, with where each part of it comes from; or print it for paper
    #[command(
        after_help = "Example: stepwell outline volumetric-annual\nExample: stepwell outline recipes/volumetric-annual.yaml --to html --output procedure.html\nExample: stepwell outline volumetric-annual --worksheet --to html --output worksheet.html\nExample: stepwell outline volumetric-annual --answers --output paper.yaml\nExit: 0 shown, 1 shown but the recipe has errors, 2 could not be done"
    )]
    Outline {
        /// The recipe's id, or a path to it
        recipe: String,
        /// text, md, html or pdf
        #[arg(long, default_value = "text", value_parser = ["text", "md", "html", "pdf"])]
        to: String,
        /// The paper of a PDF: a4 or letter
        #[arg(long, default_value = "a4", value_parser = ["a4", "letter"])]
        paper: String,
        /// Write to a file instead
        #[arg(long, short, value_name = "FILE")]
        output: Option<PathBuf>,
        /// A worksheet for paper: boxes to fill in, limits beside them
        #[arg(long)]
        worksheet: bool,
        /// For this device: its tag, serial number, maker and model are filled in from the register, and it is said where
        /// the recipe is not for it
        #[arg(long, value_name = "TAG")]
        device: Option<String>,
        /// A file of answers to be typed into from paper, for `run --answers`
        #[arg(long, conflicts_with_all = ["worksheet", "to"])]
        answers: bool,
    },
    /// Walk through a recipe on a device
    #[command(
        after_help = "Example: stepwell run volumetric-annual --device VP-1001 --by tech-04\nExample: stepwell run volumetric-annual --device VP-1001 --by tech-04 --answers answers/pass.yaml\nExit: 0 pass, 1 fail, 2 could not be done, 3 paused or incomplete"
    )]
    Run {
        /// The recipe's id, or a path to it; without it, those that are for the device are listed
        recipe: Option<String>,
        /// Tag of the device; without it, one device after the other is asked for, what is due first
        #[arg(long, value_name = "TAG")]
        device: Option<String>,
        /// Id of the technician
        #[arg(long, value_name = "PERSON")]
        by: String,
        /// Why the device is tested: acceptance, scheduled check, after repair, after an incident, end of loan, or an
        /// occasion of the shop's own; without it a scheduled check, of `post-repair` and `incident-check` what they are for
        #[arg(long)]
        occasion: Option<String>,
        /// Instrument for a role, as ROLE=INSTRUMENT; may be given again
        #[arg(long, value_name = "ROLE=INSTRUMENT")]
        with: Vec<String>,
        /// Mark the record as a trial
        #[arg(long)]
        trial: bool,
        /// Begin although another session is under way on the device
        #[arg(long)]
        beside: bool,
        /// Begin although the recipe is for devices of another category, maker or model; the record says so
        #[arg(long)]
        other_device: bool,
        /// How the walk is answered
        #[command(flatten)]
        walk: Walk,
    },
    /// Go on with a paused or killed session; without a name, list them, and ask at a terminal
    #[command(
        after_help = "Example: stepwell resume\nExample: stepwell resume VP-1002\nExample: stepwell resume B1-20261125T093015"
    )]
    Resume {
        /// The session, a part of its name that no other one has, or the tag of its device
        session: Option<String>,
        /// Who goes on, if it is not the one who had it last
        #[arg(long, value_name = "PERSON")]
        by: Option<String>,
        /// How the walk is answered
        #[command(flatten)]
        walk: Walk,
    },
    /// Approve a revision of recipes, so that they may be run
    #[command(
        after_help = "Example: stepwell approve volumetric-annual --by review-01\nExample: stepwell approve volumetric-annual volumetric-vp2-old --by review-01\nOf each is told what changed since its last approval before the passphrase is asked for; if one can't be approved, none is.\nIts author can't approve it. What was approved stays as it is: a change needs a new revision."
    )]
    Approve {
        /// The recipes' ids, or paths to them
        #[arg(required = true, value_name = "RECIPE")]
        recipes: Vec<String>,
        /// Id of the reviewer
        #[arg(long, value_name = "PERSON")]
        by: String,
        /// How it is signed
        #[command(flatten)]
        signing: Signing,
    },
    /// Withdraw the approval of revisions: they can't be run any longer
    #[command(
        after_help = "Example: stepwell withdraw volumetric-annual@3 --by review-01 --why 'the maker corrected the limit'"
    )]
    Withdraw {
        /// The revisions, each as RECIPE@REVISION
        #[arg(required = true, value_name = "RECIPE@REVISION")]
        recipes: Vec<String>,
        /// Id of the reviewer
        #[arg(long, value_name = "PERSON")]
        by: String,
        /// The reason
        #[arg(long, value_name = "TEXT")]
        why: String,
        /// How it is signed
        #[command(flatten)]
        signing: Signing,
    },
    /// Add the reviewer's signature to records
    #[command(
        after_help = "Example: stepwell countersign B1-2026-0001 --by review-01\nExample: stepwell countersign B1-2026-0001 B1-2026-0002 --by review-01\nExample: stepwell countersign\nEach is shown in short before the passphrase is asked for.\nExit: 0 signed, or no record waits, 1 the listed records wait, 2 could not be done"
    )]
    Countersign {
        /// The records' ids, or paths to them; without any, those that wait for a countersignature are listed
        #[arg(value_name = "RECORD", requires = "by")]
        records: Vec<String>,
        /// Id of the reviewer
        #[arg(long, value_name = "PERSON")]
        by: Option<String>,
        /// How it is signed
        #[command(flatten)]
        signing: Signing,
    },
    /// Add a note or a correction to a sealed record, or declare it void; the record itself is never changed
    #[command(
        after_help = "Example: stepwell amend B1-2026-0001 --by tech-04 --why 'wrong serial number on the worksheet' --note 'the serial number is EW-100231'\nExample: stepwell amend B1-2026-0001 --by tech-04 --why 'the meter was not zeroed' --correction B1-2026-0007\nExample: stepwell amend B1-2026-0001 --by tech-04 --why 'another pump was on the bench' --void\nThe same words once more complete what a fault left undone, and add nothing."
    )]
    Amend {
        /// The record's id, or a path to it
        record: String,
        /// Id of the person who adds it
        #[arg(long, value_name = "PERSON")]
        by: String,
        /// The reason
        #[arg(long, value_name = "TEXT")]
        why: String,
        /// What has to be known
        #[arg(long, value_name = "TEXT")]
        note: Option<String>,
        /// The record that holds instead
        #[arg(long, value_name = "RECORD")]
        correction: Option<String>,
        /// Declare the record void: it counts no longer, and no other one instead
        #[arg(long, conflicts_with = "correction")]
        void: bool,
        /// How it is signed
        #[command(flatten)]
        signing: Signing,
    },
    /// Show a completed record
    #[command(
        after_help = "Example: stepwell render B1-2026-0001 --to html --output record.html\nExample: stepwell render --all --since 2026-01-01 --to csv --output values.csv\nExample: stepwell render --starter --to html --output templates/record.html\nExit: 0 good, 1 a record does not verify or can't be read, 2 could not be done"
    )]
    Render(RenderArguments),
    /// Print the label of a device after its test: tag, verdict, days, record
    #[command(after_help = "Example: stepwell label B1-2026-0001")]
    Label {
        /// The record's id, or a path to it
        record: String,
        /// text, or pdf of 62 mm by 29 mm
        #[arg(long, default_value = "text", value_parser = ["text", "pdf"])]
        to: String,
        /// Write to a file instead
        #[arg(long, short, value_name = "FILE")]
        output: Option<PathBuf>,
    },
    /// Recompute and check records
    #[command(
        after_help = "Example: stepwell verify\nExample: stepwell verify records/2026/B1-2026-0001.json --format json\nExit: 0 good, 1 a record does not verify, 2 could not be done"
    )]
    Verify {
        /// Ids or paths; without any, all records of the shop
        records: Vec<String>,
        /// Tell all that was checked of each record, not only what is wrong
        #[arg(long)]
        full: bool,
        /// How to print the outcome
        #[arg(long, value_enum, default_value = "text")]
        format: Form,
    },
    /// What changed in effect between two revisions of a recipe
    #[command(
        after_help = "Example: stepwell diff volumetric-annual@3 volumetric-annual\nExample: stepwell diff HEAD~1:recipes/volumetric-annual.yaml recipes/volumetric-annual.yaml --format html > changes.html\nExample: stepwell diff volumetric-annual@3 volumetric-annual --replay --since 2026-01-01 --model VP-1\nAs git's diff of recipes: git config diff.stepwell.command 'stepwell diff', and in .gitattributes: recipes/*.yaml diff=stepwell\nExit: 0 the same but for comments and layout, 1 something differs, 2 could not be done; for git always 0 if it could be done"
    )]
    Diff(DiffArguments),
    /// Find the records that rest on an instrument, and what an error of it could have overturned
    #[command(
        after_help = "Example: stepwell trace FM-01\nExample: stepwell trace FM-01 --since 2025-11-03 --error '2 % + 0.1 mL'\nWith --error all readings of the instrument are taken as off in the same direction, by the whole error and by less.\nExit: 0 no verdict could have been another one, 1 one could, 2 could not be done"
    )]
    Trace(TraceArguments),
    /// Show which devices drift, or the history of a value with limits, a straight line and hints
    #[command(
        after_help = "Example: stepwell trend\nExample: stepwell trend --device VP-1001\nExample: stepwell trend --device VP-1001 --value accuracy.2.delivered\nExample: stepwell trend --recipe volumetric-annual --model VP-1 --value occlusion.alarm_pressure --format html --output history.html"
    )]
    Trend(TrendArguments),
    /// Evaluate an expression of the language
    #[command(
        after_help = "Example: stepwell calc '\"750 mmHg\"' --unit psi\nExample: stepwell calc 'mean(\"4.98 mL\", \"5.01 mL\")' --format json\nExample: stepwell calc 'v / t' --let 'v=uncertain(\"10.02 mL\", \"0.03 mL\")' --let 't=\"6 min\"' --unit mL/h --budget"
    )]
    Calc {
        /// The expression
        #[arg(required_unless_present = "file", allow_hyphen_values = true)]
        expression: Option<String>,
        /// A name that the expression uses, with an expression of its own; may be given several times
        #[arg(long = "let", value_name = "NAME=EXPRESSION")]
        names: Vec<String>,
        /// Show what the uncertainty of the result is made of
        #[arg(long)]
        budget: bool,
        /// The unit to show the result in
        #[arg(long, value_name = "UNIT")]
        unit: Option<String>,
        /// A file with an expression on each line
        #[arg(long, value_name = "FILE", conflicts_with = "expression")]
        file: Option<PathBuf>,
        /// How to print the result
        #[arg(long, value_enum, default_value = "text")]
        format: Form,
    },
    /// The people: list, show, add, import, keys
    #[command(subcommand)]
    People(People),
    /// The devices: list, show, add, import
    #[command(subcommand)]
    Devices(Devices),
    /// The test instruments: list, show, add, import, upkeep, calibration
    #[command(subcommand)]
    Instruments(Instruments),
    /// What is to be checked, calibrated or cared for
    #[command(
        after_help = "Example: stepwell due --within 30\nExit: 0 nothing is due, 1 something is, 2 could not be done"
    )]
    Due {
        /// Days from today on
        #[arg(long, value_name = "DAYS", default_value = "0")]
        within: u32,
        /// List all of it at a terminal too, not only the most urgent
        #[arg(long)]
        all: bool,
        /// How to print the list
        #[arg(long, value_enum, default_value = "text")]
        format: Form,
    },
    /// Print the manual page
    #[command(after_help = "Example: stepwell manual > ~/.local/share/man/man1/stepwell.1")]
    Manual,
    /// Print completions for a shell
    #[command(
        after_help = "Example: stepwell completions bash > ~/.local/share/bash-completion/completions/stepwell"
    )]
    Completions {
        /// The shell
        shell: clap_complete::Shell,
    },
    /// List what completions offer: a name on each line
    #[command(hide = true)]
    Names {
        /// Of what
        #[arg(value_enum)]
        of: Named,
    },
}

/// How a walk is answered.
#[derive(Clone, Debug, Default, Args)]
pub struct Walk {
    /// Stored answers instead of somebody typing
    #[arg(long, value_name = "FILE")]
    pub answers: Option<PathBuf>,
    /// No sound at the end of a timed step
    #[arg(long)]
    pub quiet: bool,
    /// How the record is signed.
    #[command(flatten)]
    pub signing: Signing,
}
