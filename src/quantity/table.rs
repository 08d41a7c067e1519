//! The unit table: spellings of the trade, UCUM codes for data, exact factors to SI, and where each factor comes from.
//!
//! Never in here: how unit text is put together or parsed. Changes when a unit or a spelling is added.

use foldhash::HashMap;
use std::sync::{Arc, OnceLock};

use super::{Dimension, Exact, Kind, Scale};

/// One symbol of the table: a unit that is not made of others.
#[derive(Debug)]
pub struct Symbol {
    /// The spelling that is shown.
    pub text: String,
    /// The UCUM code.
    pub ucum: String,
    /// How many SI units one of it is.
    pub factor: Exact,
    /// What is added after the factor, for temperature scales; in kelvin.
    pub offset: Exact,
    /// Its kind.
    pub kind: Kind,
}

struct Row {
    /// Spellings, the one that is shown first.
    spellings: &'static [&'static str],
    ucum: &'static str,
    /// Numerator and denominator of the factor to SI, as decimal text.
    factor: (&'static str, &'static str),
    kind: &'static str,
    /// SI prefixes that may stand before it.
    prefixes: &'static str,
    /// Where the factor comes from; read by the tests that every row has one.
    source: &'static str,
}

const SI: &str = "SI brochure";
const SP811: &str = "NIST SP 811:2008, appendix B (conventional value)";
const YARD: &str = "international yard and pound agreement, 1959";
const BY_DEFINITION: &str = "by definition";

const fn row(
    spellings: &'static [&'static str],
    ucum: &'static str,
    factor: (&'static str, &'static str),
    kind: &'static str,
    prefixes: &'static str,
    source: &'static str,
) -> Row {
    Row {
        spellings,
        ucum,
        factor,
        kind,
        prefixes,
        source,
    }
}

const ROWS: &[Row] = &[
    row(&["1"], "1", ("1", "1"), "ratio", "", BY_DEFINITION),
    row(
        &["%", "percent"],
        "%",
        ("1", "100"),
        "ratio",
        "",
        BY_DEFINITION,
    ),
    row(
        &["ppm"],
        "[ppm]",
        ("1", "1000000"),
        "ratio",
        "",
        BY_DEFINITION,
    ),
    row(&["m"], "m", ("1", "1"), "length", "numck", SI),
    row(
        &["in", "inch", "inches"],
        "[in_i]",
        ("0.0254", "1"),
        "length",
        "",
        YARD,
    ),
    row(&["ft"], "[ft_i]", ("0.3048", "1"), "length", "", YARD),
    row(&["L", "l"], "L", ("0.001", "1"), "volume", "numcd", SI),
    row(
        &["cc"],
        "mL",
        ("0.000001", "1"),
        "volume",
        "",
        "common spelling of the millilitre",
    ),
    row(
        &["fl_oz_us"],
        "[foz_us]",
        ("0.0000295735295625", "1"),
        "volume",
        "",
        "231 cubic inches to the gallon, 128 to it",
    ),
    row(
        &["gal_us"],
        "[gal_us]",
        ("0.003785411784", "1"),
        "volume",
        "",
        "231 cubic inches",
    ),
    row(&["g"], "g", ("0.001", "1"), "mass", "numk", SI),
    row(
        &["mcg"],
        "ug",
        ("0.000000001", "1"),
        "mass",
        "",
        "common spelling of the microgram",
    ),
    row(&["lb"], "[lb_av]", ("0.45359237", "1"), "mass", "", YARD),
    row(
        &["oz"],
        "[oz_av]",
        ("0.028349523125", "1"),
        "mass",
        "",
        YARD,
    ),
    row(&["gr"], "[gr]", ("0.00006479891", "1"), "mass", "", YARD),
    row(
        &["s", "sec", "second", "seconds"],
        "s",
        ("1", "1"),
        "time",
        "num",
        SI,
    ),
    row(
        &["min", "mins", "minute", "minutes"],
        "min",
        ("60", "1"),
        "time",
        "",
        SI,
    ),
    row(
        &["h", "hr", "hrs", "hour", "hours"],
        "h",
        ("3600", "1"),
        "time",
        "",
        SI,
    ),
    row(&["d", "day", "days"], "d", ("86400", "1"), "time", "", SI),
    row(&["Hz"], "Hz", ("1", "1"), "frequency", "kM", SI),
    row(&["Pa"], "Pa", ("1", "1"), "pressure", "mhkM", SI),
    row(&["bar"], "bar", ("100000", "1"), "pressure", "m", SI),
    row(
        &["psi"],
        "[psi]",
        ("4.4482216152605", "0.00064516"),
        "pressure",
        "",
        "lb · g_n / in² (1959 agreement; 3rd CGPM)",
    ),
    row(
        &["mmHg"],
        "mm[Hg]",
        ("133.322387415", "1"),
        "pressure",
        "",
        SP811,
    ),
    row(
        &["inHg"],
        "[in_i'Hg]",
        ("3386.388640341", "1"),
        "pressure",
        "",
        SP811,
    ),
    row(
        &["cmH2O"],
        "cm[H2O]",
        ("98.0665", "1"),
        "pressure",
        "",
        SP811,
    ),
    row(
        &["mmH2O"],
        "mm[H2O]",
        ("9.80665", "1"),
        "pressure",
        "",
        SP811,
    ),
    row(
        &["inH2O"],
        "[in_i'H2O]",
        ("249.08891", "1"),
        "pressure",
        "",
        SP811,
    ),
    row(
        &["cmH2O_4C"],
        "98063800.uPa",
        ("98.0638", "1"),
        "pressure",
        "",
        "NIST SP 811 at 4 °C (from memory)",
    ),
    row(
        &["inH2O_4C"],
        "249082.mPa",
        ("249.082", "1"),
        "pressure",
        "",
        "NIST SP 811 at 39.2 °F (from memory)",
    ),
    row(
        &["inH2O_60F"],
        "248840.mPa",
        ("248.84", "1"),
        "pressure",
        "",
        "NIST SP 811 at 60 °F (from memory)",
    ),
    row(
        &["m[Hg]"],
        "m[Hg]",
        ("133322", "1"),
        "pressure",
        "",
        "UCUM 2.2, 2.9 ppm below the conventional value",
    ),
    row(
        &["atm"],
        "atm",
        ("101325", "1"),
        "pressure",
        "",
        "10th CGPM",
    ),
    row(
        &["Torr", "torr"],
        "101325.Pa/760",
        ("101325", "760"),
        "pressure",
        "",
        "1/760 atm",
    ),
    row(&["N"], "N", ("1", "1"), "force", "mk", SI),
    row(&["kgf"], "kgf", ("9.80665", "1"), "force", "", "3rd CGPM"),
    row(&["J"], "J", ("1", "1"), "energy", "mk", SI),
    row(&["W"], "W", ("1", "1"), "power", "mk", SI),
    row(&["VA"], "V.A", ("1", "1"), "power", "k", SI),
    row(&["A"], "A", ("1", "1"), "current", "num", SI),
    row(&["V"], "V", ("1", "1"), "voltage", "umk", SI),
    row(
        &["ohm", "Ohm", "\u{3a9}", "\u{2126}"],
        "Ohm",
        ("1", "1"),
        "resistance",
        "mkMG",
        SI,
    ),
    row(
        &["gtt", "drops"],
        "{gtt}",
        ("1", "1"),
        "drops",
        "",
        "a count; UCUM's drop is fixed at 1/20 mL and not used",
    ),
    row(
        &["U", "IU"],
        "[iU]",
        ("1", "1"),
        "biological units",
        "mk",
        "a count of an arbitrary unit",
    ),
];

const PREFIXES: &[(char, &[&str], &str, &str)] = &[
    // symbol in the table, spellings, numerator, denominator
    ('n', &["n"], "1", "1000000000"),
    ('u', &["u", "\u{b5}", "\u{3bc}"], "1", "1000000"),
    ('m', &["m"], "1", "1000"),
    ('c', &["c"], "1", "100"),
    ('d', &["d"], "1", "10"),
    ('h', &["h"], "100", "1"),
    ('k', &["k"], "1000", "1"),
    ('M', &["M"], "1000000", "1"),
    ('G', &["G"], "1000000000", "1"),
];

/// Temperatures: spellings, code, numerator and denominator, offset as numerator and denominator, scale.
type TemperatureRow = (
    &'static [&'static str],
    &'static str,
    (&'static str, &'static str),
    (&'static str, &'static str),
    Scale,
);

const TEMPERATURES: &[TemperatureRow] = &[
    (
        &["degC", "°C", "Cel"],
        "Cel",
        ("1", "1"),
        ("273.15", "1"),
        Scale::Point,
    ),
    (
        &["degF", "°F"],
        "[degF]",
        ("5", "9"),
        ("2298.35", "9"),
        Scale::Point,
    ),
    (&["K"], "K", ("1", "1"), ("0", "1"), Scale::Kelvin),
    (
        &["delta_degC", "delta_°C", "delta_K"],
        "K",
        ("1", "1"),
        ("0", "1"),
        Scale::Difference,
    ),
    (
        &["delta_degF", "delta_°F"],
        "5.K/9",
        ("5", "9"),
        ("0", "1"),
        Scale::Difference,
    ),
];

fn quotient((numerator, denominator): (&str, &str)) -> Exact {
    let read = |text: &str| Exact::parse(text).expect("the unit table holds decimal text");
    read(numerator)
        .checked_div(&read(denominator))
        .expect("no factor of the unit table is divided by zero")
}

/// Every spelling with its symbol, prefixes written out.
pub fn symbols() -> &'static HashMap<String, Arc<Symbol>> {
    static TABLE: OnceLock<HashMap<String, Arc<Symbol>>> = OnceLock::new();
    TABLE.get_or_init(build)
}

fn build() -> HashMap<String, Arc<Symbol>> {
    let mut table = HashMap::default();
    for row in ROWS {
        debug_assert!(!row.source.is_empty());
        let dimension =
            Dimension::from_name(row.kind).expect("a row of the unit table names a known kind");
        let kind = Kind::of(dimension);
        let factor = quotient(row.factor);
        insert(
            &mut table,
            row.spellings,
            &[""],
            row.ucum.to_owned(),
            factor.clone(),
            Exact::zero(),
            kind,
        );
        for (name, spellings, numerator, denominator) in PREFIXES {
            if row.prefixes.contains(*name) {
                let ucum = format!("{name}{}", row.ucum);
                let scaled = factor.clone() * quotient((numerator, denominator));
                insert(
                    &mut table,
                    row.spellings,
                    spellings,
                    ucum,
                    scaled,
                    Exact::zero(),
                    kind,
                );
            }
        }
    }
    for (spellings, ucum, factor, offset, scale) in TEMPERATURES {
        let kind = Kind {
            scale: *scale,
            ..Kind::temperature_point()
        };
        insert(
            &mut table,
            spellings,
            &[""],
            (*ucum).to_owned(),
            quotient(*factor),
            quotient(*offset),
            kind,
        );
    }
    table
}

fn insert(
    table: &mut HashMap<String, Arc<Symbol>>,
    spellings: &[&str],
    prefixes: &[&str],
    ucum: String,
    factor: Exact,
    offset: Exact,
    kind: Kind,
) {
    let text = format!("{}{}", prefixes[0], spellings[0]);
    let symbol = Arc::new(Symbol {
        text,
        ucum,
        factor,
        offset,
        kind,
    });
    for prefix in prefixes {
        for spelling in spellings {
            let before = table.insert(format!("{prefix}{spelling}"), Arc::clone(&symbol));
            debug_assert!(
                before.is_none(),
                "`{prefix}{spelling}` stands twice in the unit table"
            );
        }
    }
}
