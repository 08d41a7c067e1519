//! The arguments of the registers' commands.
//!
//! Never in here: what they do. Changes when a register gets a command or an option.

use std::io::IsTerminal;
use std::path::PathBuf;

use clap::{Args, Subcommand};

use super::arguments::Form;

/// What can be done with people.
#[derive(Debug, Subcommand)]
pub enum People {
    /// List them
    #[command(after_help = "Example: stepwell people list")]
    List(Listing),
    /// Show one
    #[command(after_help = "Example: stepwell people show tech-04")]
    Show(Showing),
    /// Add one
    #[command(
        after_help = "Example: stepwell people add tech-09 --name 'Technician 09' --roles technician,reviewer"
    )]
    Add {
        /// Id, as in `--by`
        id: String,
        /// Name as it stands on records
        #[arg(long, value_name = "TEXT")]
        name: String,
        /// technician, author, reviewer
        #[arg(long, value_name = "ROLES")]
        roles: String,
        /// A key that they have: its OpenSSH public key line (ed25519)
        #[arg(long, value_name = "LINE", conflicts_with_all = ["key", "passphrase_file", "new"])]
        public_key: Option<String>,
        /// Day the person left
        #[arg(long, value_name = "DATE")]
        left: Option<String>,
        /// Make no key now: `people key` does it on their own computer
        #[arg(long, conflicts_with_all = ["key", "passphrase_file"])]
        without_key: bool,
        /// The key that is made for them
        #[command(flatten)]
        key: NewKey,
    },
    /// Take them from a spreadsheet
    #[command(after_help = IMPORT_HELP)]
    Import(Importing),
    /// Make a key to sign with, or take one that somebody has; the one before stays for what it signed
    #[command(
        after_help = "Example: stepwell people key tech-04\nExample: stepwell people key tech-04 --new\nExample: stepwell people key tech-04 --public ~/.ssh/id_ed25519.pub"
    )]
    Key {
        /// Whose
        id: String,
        /// The file of a public key that they have
        #[arg(long, value_name = "FILE", conflicts_with_all = ["key", "passphrase_file"])]
        public: Option<PathBuf>,
        /// The key that is made
        #[command(flatten)]
        key: NewKey,
    },
    /// Write everybody's public keys in the form that `ssh-keygen -Y verify` reads
    #[command(
        after_help = "Example: stepwell people export --output allowed_signers\nThen: ssh-keygen -Y verify -f allowed_signers -I tech-04 -n stepwell-record -s FILE.sig < FILE"
    )]
    Export {
        /// Write to a file instead
        #[arg(long, short, value_name = "FILE")]
        output: Option<PathBuf>,
    },
}

/// A key that is made.
#[derive(Debug, Args)]
pub struct NewKey {
    /// The file for it; without it, one of that name in the folder of keys of this computer
    #[arg(long, value_name = "FILE")]
    pub key: Option<PathBuf>,
    /// A file whose first line is the passphrase; without it, it is asked for
    #[arg(long, value_name = "FILE")]
    pub passphrase_file: Option<PathBuf>,
    /// Put a key aside that lies there already; it stays in the register as a former one
    #[arg(long)]
    pub new: bool,
}

impl NewKey {
    /// Whether `people add` is to make one: where it is said how, or somebody can be asked for the passphrase.
    pub(super) fn is_wanted(&self) -> bool {
        let told = self.key.is_some() || self.passphrase_file.is_some();
        told || std::io::stdin().is_terminal()
    }
}

/// What can be done with devices.
#[derive(Debug, Subcommand)]
pub enum Devices {
    /// List them
    #[command(after_help = "Example: stepwell devices list --format json")]
    List(Listing),
    /// Show one, when it is due, and its records, the newest first
    #[command(after_help = "Example: stepwell devices show VP-1001")]
    Show(Showing),
    /// Add one
    #[command(
        after_help = "Example: stepwell devices add VP-1010 --serial EW-1 --maker 'Example Works' --model VP-1 --interval '12 months'\nExample: stepwell devices add VP-1011 --interval 'volumetric-annual 12 months; battery-check 6 months'"
    )]
    Add {
        /// The tag that is fixed to it
        tag: String,
        /// Serial number
        #[arg(long, value_name = "TEXT")]
        serial: Option<String>,
        /// Who made it
        #[arg(long, value_name = "TEXT")]
        maker: Option<String>,
        /// The maker's name of the model
        #[arg(long, value_name = "TEXT")]
        model: Option<String>,
        /// volumetric, syringe, pca, enteral, ambulatory, elastomeric, gravity, gauge, or an own one
        #[arg(long, value_name = "TEXT")]
        category: Option<String>,
        /// Where it is
        #[arg(long, value_name = "TEXT")]
        location: Option<String>,
        /// From one check to the next: `12 months`, or `RECIPE 12 months; RECIPE 6 months`
        #[arg(long, value_name = "INTERVAL")]
        interval: Option<String>,
        /// Day of the last check, or `RECIPE DATE; RECIPE DATE`
        #[arg(long, value_name = "DATE")]
        last_done: Option<String>,
    },
    /// Take them from a spreadsheet
    #[command(after_help = IMPORT_HELP)]
    Import(Importing),
}

/// What can be done with instruments.
#[derive(Debug, Subcommand)]
pub enum Instruments {
    /// List them
    #[command(after_help = "Example: stepwell instruments list")]
    List(Listing),
    /// Show one, with its upkeep and calibrations
    #[command(after_help = "Example: stepwell instruments show FM-01")]
    Show(Showing),
    /// Add one
    #[command(
        after_help = "Example: stepwell instruments add BU-10 --kind 'Burette' --due 2027-03-31 --measures 'volume=0 mL..60 mL; 1 % + 0.02 mL; k 2; 0.01 mL'"
    )]
    Add {
        /// The shop's id of it
        id: String,
        /// What it is
        #[arg(long, value_name = "TEXT")]
        kind: String,
        /// Last day on which it may be used without a new calibration
        #[arg(long, value_name = "DATE")]
        due: String,
        /// Who made it
        #[arg(long, value_name = "TEXT")]
        maker: Option<String>,
        /// The maker's name of the model
        #[arg(long, value_name = "TEXT")]
        model: Option<String>,
        /// Serial number
        #[arg(long, value_name = "TEXT")]
        serial: Option<String>,
        /// Number of the calibration certificate
        #[arg(long, value_name = "TEXT")]
        certificate: Option<String>,
        /// Day of the last calibration
        #[arg(long, value_name = "DATE")]
        calibrated: Option<String>,
        /// What it measures: KIND=LOW..HIGH; ACCURACY; `k 2` or `rectangular`; step of the display. May be given again
        #[arg(long, value_name = "TEXT")]
        measures: Vec<String>,
    },
    /// Take them from a spreadsheet
    #[command(after_help = IMPORT_HELP)]
    Import(Importing),
    /// Keep that upkeep was done
    #[command(after_help = "Example: stepwell instruments done PG-02 'leak check' --by tech-04")]
    Done {
        /// The instrument
        id: String,
        /// What was done, as its upkeep calls it
        what: String,
        /// Who did it
        #[arg(long, value_name = "PERSON")]
        by: String,
        /// The day; today if it is left out
        #[arg(long, value_name = "DATE")]
        on: Option<String>,
        /// A remark
        #[arg(long, value_name = "TEXT", default_value = "")]
        note: String,
    },
    /// Enter a new calibration; the old certificate is kept in the history
    #[command(
        after_help = "Example: stepwell instruments calibrated PG-09 --certificate C-2026-9 --on 2026-03-02 --due 2027-03-02 --by tech-04"
    )]
    Calibrated {
        /// The instrument
        id: String,
        /// Number of the new certificate
        #[arg(long, value_name = "TEXT")]
        certificate: String,
        /// Day of the calibration
        #[arg(long, value_name = "DATE")]
        on: String,
        /// Last day on which the instrument may be used with it
        #[arg(long, value_name = "DATE")]
        due: String,
        /// Who enters it
        #[arg(long, value_name = "PERSON")]
        by: String,
    },
}

const IMPORT_HELP: &str = "Example: stepwell devices import inventory.csv --dry-run
Example: stepwell devices import inventory.csv --column tag='Inv.Nr.' --column -=Colour --dates day-month-year
Exit: 0 imported, 1 faulty rows and nothing written, 2 could not be done";

/// How a list is printed.
#[derive(Debug, Args)]
pub struct Listing {
    /// How to print it
    #[arg(long, value_enum, default_value = "text")]
    pub format: Form,
}

/// What is shown, and how.
#[derive(Debug, Args)]
pub struct Showing {
    /// Its tag or id
    pub id: String,
    /// How to print it
    #[arg(long, value_enum, default_value = "text")]
    pub format: Form,
}

/// A spreadsheet, and what is said of it.
#[derive(Debug, Args)]
pub struct Importing {
    /// The file: CSV with commas, semicolons or tabs
    pub file: PathBuf,
    /// What a column is, as FIELD=HEADING or FIELD=#NUMBER; `-` passes over it; may be given again
    #[arg(long, value_name = "FIELD=HEADING", allow_hyphen_values = true)]
    pub column: Vec<String>,
    /// How days are written
    #[arg(long, value_name = "ORDER", value_parser = ["year-month-day", "day-month-year", "month-day-year"])]
    pub dates: Option<String>,
    /// How letters are written; without it as it was for these headings before, or utf-8
    #[arg(long, value_parser = ["utf-8", "windows-1252"])]
    pub encoding: Option<String>,
    /// Show what would change, and write nothing of it; what the columns are is kept
    #[arg(long)]
    pub dry_run: bool,
    /// Import the other rows where some are faulty
    #[arg(long)]
    pub leave_out_faulty: bool,
    /// How to print the outcome
    #[arg(long, value_enum, default_value = "text")]
    pub format: Form,
}
