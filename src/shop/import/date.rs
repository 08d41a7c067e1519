//! Days in other people's spreadsheets: three forms, taken only where nothing else can be meant.
//!
//! Never in here: the registers' own form. Changes when another form is to be read.

use jiff::civil::Date;

use crate::shop::interval::Unreadable;

/// The order in which a day is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum DateForm {
    /// `2026-03-31`
    YearMonthDay,
    /// `31.03.2026`
    DayMonthYear,
    /// `03/31/2026`
    MonthDayYear,
}

impl DateForm {
    /// All of them.
    pub const ALL: [Self; 3] = [Self::YearMonthDay, Self::DayMonthYear, Self::MonthDayYear];

    /// Its name.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::YearMonthDay => "year-month-day",
            Self::DayMonthYear => "day-month-year",
            Self::MonthDayYear => "month-day-year",
        }
    }

    /// The form of a name.
    #[must_use]
    pub fn from_name(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|f| f.name() == name)
    }

    /// How 31 March 2026 is written in it.
    #[must_use]
    pub fn example(self) -> &'static str {
        match self {
            Self::YearMonthDay => "2026-03-31",
            Self::DayMonthYear => "31.03.2026",
            Self::MonthDayYear => "03/31/2026",
        }
    }

    /// Reads a day; a midnight behind it, as spreadsheets write it, is passed over.
    ///
    /// # Errors
    /// Text of another form, a day that the calendar does not have, a year outside 1900 to 2199.
    pub fn read(self, text: &str) -> Result<Date, Unreadable> {
        let wrong = |message: String| Unreadable {
            message,
            help: match self {
                Self::YearMonthDay => "write it as 2026-03-31",
                Self::DayMonthYear => "write it as 31.03.2026",
                Self::MonthDayYear => "write it as 03/31/2026",
            },
        };
        let form = self.name();
        let Some(parts) = Parts::of(text) else {
            return Err(wrong(format!("not a day written {form}")));
        };
        if parts.lengths.iter().all(|l| *l <= 2) {
            return Err(wrong("a year without its century".to_owned()));
        }
        let [a, b, c] = parts.numbers;
        let year_first = parts.lengths[0] == 4;
        let (year, month, day) = match self {
            Self::YearMonthDay => (a, b, c),
            Self::DayMonthYear => (c, b, a),
            Self::MonthDayYear => (c, a, b),
        };
        if year_first != (self == Self::YearMonthDay) || (month > 12 && day <= 12) {
            return Err(wrong(format!("a day in another form than {form}")));
        }
        if !(1900..2200).contains(&year) {
            return Err(wrong("a year outside 1900 to 2199".to_owned()));
        }
        date(year, month, day)
            .ok_or_else(|| wrong("a day that the calendar does not have".to_owned()))
    }
}

fn date(year: u16, month: u16, day: u16) -> Option<Date> {
    let narrow = |n: u16| i8::try_from(n).ok();
    Date::new(i16::try_from(year).ok()?, narrow(month)?, narrow(day)?).ok()
}

/// Three numbers with one sign between them, one of them a year.
struct Parts {
    numbers: [u16; 3],
    lengths: [usize; 3],
}

impl Parts {
    fn of(text: &str) -> Option<Self> {
        let text = text.trim();
        let day = ["T00:00:00", " 00:00:00", " 00:00", " 0:00:00", " 0:00"]
            .into_iter()
            .find_map(|midnight| text.strip_suffix(midnight))
            .unwrap_or(text);
        let sign = day.find(|c: char| !c.is_ascii_digit())?;
        let sign = day[sign..].chars().next().filter(|c| "-/. ".contains(*c))?;
        let parts: Vec<&str> = day.split(sign).map(str::trim).collect();
        let [a, b, c] = <[&str; 3]>::try_from(parts).ok()?;
        let lengths = [a.len(), b.len(), c.len()];
        let fits = |l: usize| (1..=2).contains(&l);
        let year = |l: usize| l == 4 || fits(l);
        let shape = fits(lengths[1])
            && year(lengths[0])
            && year(lengths[2])
            && !(lengths[0] == 4 && lengths[2] == 4);
        let number = |t: &str| {
            let digits = t.bytes().all(|b| b.is_ascii_digit());
            t.parse::<u16>().ok().filter(|_| digits)
        };
        let numbers = [number(a)?, number(b)?, number(c)?];
        shape.then_some(Self { numbers, lengths })
    }

    /// Whether the day can be one, read in a form.
    fn suits(&self, form: DateForm) -> bool {
        let [a, b, c] = self.numbers;
        let year_first = self.lengths[0] == 4;
        match form {
            DateForm::YearMonthDay => year_first && date(a, b, c).is_some(),
            DateForm::DayMonthYear => self.lengths[2] == 4 && date(c, b, a).is_some(),
            DateForm::MonthDayYear => self.lengths[2] == 4 && date(c, a, b).is_some(),
        }
    }
}

/// What the cells of a file say of the form of their days.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Dates {
    /// No cell has a day.
    Any,
    /// One form alone can be meant.
    Sure(DateForm),
    /// More than one can; it must be said.
    Open,
}

/// Looks through the days of a file. Year first can't be mistaken for anything, so that it is taken where most are
/// written so; of the other two one is taken only where days speak for it (`31.03.2026`) and none against.
#[must_use]
pub fn dates_of<'a>(texts: impl Iterator<Item = &'a str>) -> Dates {
    let (mut year_first, mut others, mut day_first, mut month_first, mut open) = (0, 0, 0, 0, 0);
    for parts in texts.filter_map(Parts::of) {
        if parts.lengths[0] == 4 {
            year_first += usize::from(parts.suits(DateForm::YearMonthDay));
            continue;
        }
        others += 1;
        let suits = [DateForm::DayMonthYear, DateForm::MonthDayYear].map(|f| parts.suits(f));
        match suits {
            [true, false] => day_first += 1,
            [false, true] => month_first += 1,
            [true, true] if parts.numbers[0] != parts.numbers[1] => open += 1,
            _ => {}
        }
    }
    match (day_first, month_first) {
        _ if year_first > 0 && year_first >= others => Dates::Sure(DateForm::YearMonthDay),
        _ if year_first > 0 => Dates::Open,
        (0, 0) if others == 0 => Dates::Any,
        // They read alike, day first or month first.
        (0, 0) if open == 0 => Dates::Sure(DateForm::DayMonthYear),
        (0, 0) => Dates::Open,
        (_, 0) => Dates::Sure(DateForm::DayMonthYear),
        (0, _) => Dates::Sure(DateForm::MonthDayYear),
        _ => Dates::Open,
    }
}
