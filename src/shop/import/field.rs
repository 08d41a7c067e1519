//! The registers and their fields, with the headings that are taken for them.
//!
//! Never in here: reading cells. Changes when a register gets a field.

use super::super::interval::Unit;

/// A register.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Register {
    /// `people.yaml`
    People,
    /// `devices.csv`
    Devices,
    /// `instruments.yaml`
    Instruments,
}

/// How the cells of a field are read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// What it is called by: letters, digits, dots, hyphens.
    Id,
    /// The tag of a device: any text.
    Tag,
    /// Text.
    Text,
    /// A category of pumps.
    Category,
    /// An interval; a bare number is in this unit.
    Interval(Unit),
    /// A day.
    Day,
    /// A day, or one a recipe.
    Days,
    /// Roles of a person.
    Roles,
    /// An OpenSSH public key.
    Key,
    /// Several of them.
    Keys,
    /// What an instrument measures.
    Measures,
}

/// What a column can be.
#[derive(Clone, Copy, Debug)]
pub struct Field {
    /// The name by which it is asked for.
    pub name: &'static str,
    /// The field of the register that it fills.
    pub fills: &'static str,
    /// How its cells are read.
    pub kind: Kind,
    /// Whether a new entry must have it.
    pub needed: bool,
    /// Headings that are taken for it: small letters and digits alone.
    known: &'static [&'static str],
}

const fn field(
    name: &'static str,
    kind: Kind,
    needed: bool,
    known: &'static [&'static str],
) -> Field {
    Field {
        name,
        fills: name,
        kind,
        needed,
        known,
    }
}

const fn interval(name: &'static str, unit: Unit, known: &'static [&'static str]) -> Field {
    Field {
        name,
        fills: "interval",
        kind: Kind::Interval(unit),
        needed: false,
        known,
    }
}

const SERIAL: &[&str] = &[
    "serial",
    "serialnumber",
    "serialno",
    "serialnr",
    "serialnum",
    "sn",
    "sno",
];
const MAKER: &[&str] = &[
    "maker",
    "manufacturer",
    "manufacturername",
    "mfr",
    "mfg",
    "make",
    "brand",
];
const MODEL: &[&str] = &[
    "model",
    "modelname",
    "modelnumber",
    "modelno",
    "devicemodel",
];

const DEVICES: &[Field] = &[
    field(
        "tag",
        Kind::Tag,
        true,
        &[
            "tag",
            "assettag",
            "asset",
            "assetno",
            "assetnumber",
            "assetid",
            "tagno",
            "tagnumber",
            "equipmentno",
            "equipmentnumber",
            "equipmentid",
            "inventorynumber",
            "inventoryno",
            "controlnumber",
            "deviceid",
            "devicetag",
        ],
    ),
    field("serial", Kind::Text, false, SERIAL),
    field("maker", Kind::Text, false, MAKER),
    field("model", Kind::Text, false, MODEL),
    field(
        "category",
        Kind::Category,
        false,
        &["category", "devicecategory", "pumptype"],
    ),
    field(
        "location",
        Kind::Text,
        false,
        &["location", "ward", "department", "dept", "site", "room"],
    ),
    interval(
        "interval",
        Unit::Months,
        &[
            "interval",
            "intervalmonths",
            "intervalinmonths",
            "checkinterval",
            "checkintervalmonths",
            "testinterval",
            "testintervalmonths",
        ],
    ),
    interval(
        "interval-days",
        Unit::Days,
        &["intervaldays", "intervalindays"],
    ),
    interval(
        "interval-weeks",
        Unit::Weeks,
        &["intervalweeks", "intervalinweeks"],
    ),
    interval(
        "interval-years",
        Unit::Years,
        &["intervalyears", "intervalinyears"],
    ),
    field(
        "last-done",
        Kind::Days,
        false,
        &[
            "lastdone",
            "lastcheck",
            "lastchecked",
            "lasttest",
            "lasttested",
            "lastinspection",
            "lastservice",
            "lastpm",
            "datelastdone",
            "dateoflastcheck",
            "dateoflasttest",
            "lastcheckdate",
            "lasttestdate",
        ],
    ),
];

const PEOPLE: &[Field] = &[
    field(
        "id",
        Kind::Id,
        true,
        &[
            "id",
            "personid",
            "userid",
            "staffid",
            "employeeid",
            "initials",
            "staffno",
            "employeeno",
        ],
    ),
    field(
        "name",
        Kind::Text,
        true,
        &[
            "name",
            "fullname",
            "personname",
            "staffname",
            "employeename",
        ],
    ),
    field("roles", Kind::Roles, true, &["roles", "role"]),
    field(
        "public_key",
        Kind::Key,
        false,
        &["key", "publickey", "sshkey"],
    ),
    field("former_keys", Kind::Keys, false, &["formerkeys"]),
    field(
        "left",
        Kind::Day,
        false,
        &["left", "lefton", "leavingdate", "dateleft", "lastday"],
    ),
];

const INSTRUMENTS: &[Field] = &[
    field(
        "id",
        Kind::Id,
        true,
        &[
            "id",
            "instrumentid",
            "instrument",
            "instrumentno",
            "tag",
            "assettag",
            "asset",
            "assetno",
            "assetnumber",
            "equipmentid",
            "equipmentno",
        ],
    ),
    field(
        "kind",
        Kind::Text,
        true,
        &["kind", "description", "instrumentkind", "instrumenttype"],
    ),
    field("maker", Kind::Text, false, MAKER),
    field("model", Kind::Text, false, MODEL),
    field("serial", Kind::Text, false, SERIAL),
    field(
        "certificate",
        Kind::Text,
        false,
        &[
            "certificate",
            "certificateno",
            "certificatenumber",
            "certno",
            "certnumber",
            "cert",
            "calibrationcertificate",
        ],
    ),
    field(
        "calibrated",
        Kind::Day,
        false,
        &[
            "calibrated",
            "calibratedon",
            "calibrationdate",
            "caldate",
            "lastcalibration",
            "lastcalibrated",
            "dateofcalibration",
        ],
    ),
    field(
        "due",
        Kind::Day,
        true,
        &[
            "due",
            "duedate",
            "caldue",
            "calibrationdue",
            "calduedate",
            "calibrationduedate",
            "nextcalibration",
            "validuntil",
        ],
    ),
    field("measures", Kind::Measures, false, &["measures"]),
];

impl Register {
    /// Its name, as the command is called.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::People => "people",
            Self::Devices => "devices",
            Self::Instruments => "instruments",
        }
    }

    /// The register of a name.
    #[must_use]
    pub fn from_name(name: &str) -> Option<Self> {
        [Self::People, Self::Devices, Self::Instruments]
            .into_iter()
            .find(|r| r.name() == name)
    }

    /// Its file in the shop's folder.
    #[must_use]
    pub fn file(self) -> &'static str {
        match self {
            Self::People => "people.yaml",
            Self::Devices => "devices.csv",
            Self::Instruments => "instruments.yaml",
        }
    }

    /// One of its entries, in words.
    #[must_use]
    pub fn one(self) -> &'static str {
        match self {
            Self::People => "person",
            Self::Devices => "device",
            Self::Instruments => "instrument",
        }
    }

    /// What a column can be; the first is what entries are called by.
    #[must_use]
    pub fn fields(self) -> &'static [Field] {
        match self {
            Self::People => PEOPLE,
            Self::Devices => DEVICES,
            Self::Instruments => INSTRUMENTS,
        }
    }

    /// The field of a name; `last done` and `last_done` are `last-done`.
    #[must_use]
    pub fn field(self, name: &str) -> Option<&'static Field> {
        let name = name.trim().to_lowercase().replace([' ', '_'], "-");
        self.fields().iter().find(|f| f.name == name)
    }

    /// The field that a heading is taken for.
    #[must_use]
    pub fn field_of_heading(self, heading: &str) -> Option<&'static Field> {
        let folded: String = heading
            .to_lowercase()
            .chars()
            .filter(|c| c.is_alphanumeric())
            .collect();
        let known = |f: &&Field| f.known.contains(&folded.as_str());
        self.fields().iter().find(known)
    }
}
