//! Columns in half the room or less while the text of the file is still held: whole numbers with one power of ten for all.
//!
//! Never in here: cells. Changes when numbers are kept otherwise.

use super::si::ToSi;

/// Most decimal places that are packed.
const MOST_PLACES: usize = 9;
const TENS: [f64; MOST_PLACES + 1] = [1.0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9];

/// Numbers of a column in the order of the rows. Each comes back as the very double that was put in.
#[derive(Clone, Debug)]
pub(super) struct Packed {
    form: Form,
    /// Rows to make room for.
    room: usize,
}

/// How numbers are kept. Whole numbers stand for themselves divided by ten to the power of `places`: that gives the double
/// nearest to the decimal, since both are exact in doubles.
#[derive(Clone, Debug)]
enum Form {
    /// Each is more than the one before by the same step, as most times are.
    Even {
        first: i32,
        step: i64,
        count: usize,
        places: usize,
    },
    /// Each for itself.
    Narrow { whole: Vec<i32>, places: usize },
    /// What does not fit.
    Wide(Vec<f64>),
}

impl Packed {
    pub fn with_room(rows: usize) -> Self {
        let form = Form::Even {
            first: 0,
            step: 0,
            count: 0,
            places: 0,
        };
        Self { form, room: rows }
    }

    pub fn len(&self) -> usize {
        match &self.form {
            Form::Even { count, .. } => *count,
            Form::Narrow { whole, .. } => whole.len(),
            Form::Wide(numbers) => numbers.len(),
        }
    }

    pub fn push(&mut self, number: f64) {
        let is_taken = match &mut self.form {
            Form::Wide(numbers) => {
                numbers.push(number);
                true
            }
            Form::Narrow { whole, places } => {
                let found = packed(number, *places);
                whole.extend(found);
                found.is_some()
            }
            Form::Even {
                first,
                step,
                count,
                places,
            } => {
                let next = i64::from(*first) + *step * *count as i64;
                let fits = packed(number, *places).is_some_and(|n| i64::from(n) == next);
                *count += usize::from(fits && *count > 1);
                fits && *count > 2
            }
        };
        if !is_taken {
            self.push_other(number);
        }
    }

    /// A number that its form does not take.
    fn push_other(&mut self, number: f64) {
        let (count, places) = match &self.form {
            Form::Even { count, places, .. } => (*count, *places),
            Form::Narrow { whole, places } => (whole.len(), *places),
            Form::Wide(_) => return self.push(number),
        };
        let finer = (places..=MOST_PLACES).find_map(|p| Some((p, packed(number, p)?)));
        let Some((n, finer)) = finer.and_then(|(p, n)| Some((n, self.refined(p, places)?))) else {
            return self.widen(number);
        };
        self.form = match finer {
            Form::Even { places, .. } if count == 0 => Form::Even {
                first: n,
                step: 0,
                count: 1,
                places,
            },
            Form::Even { first, places, .. } if count == 1 => Form::Even {
                first,
                step: i64::from(n) - i64::from(first),
                count: 2,
                places,
            },
            other => other.narrow_with(n, self.room),
        };
    }

    /// The same numbers with more places; nothing where one does not fit.
    fn refined(&mut self, to: usize, from: usize) -> Option<Form> {
        let by = TENS[to - from] as i64;
        let scaled = |n: i32| i32::try_from(i64::from(n) * by).ok();
        match &mut self.form {
            Form::Even {
                first, step, count, ..
            } => {
                let last = i64::from(*first) + *step * count.saturating_sub(1) as i64;
                i32::try_from(last * by).ok()?;
                Some(Form::Even {
                    first: scaled(*first)?,
                    step: *step * by,
                    count: *count,
                    places: to,
                })
            }
            Form::Narrow { whole, .. } => {
                if by > 1 && whole.iter().any(|n| scaled(*n).is_none()) {
                    return None;
                }
                let mut whole = std::mem::take(whole);
                whole.iter_mut().for_each(|n| *n *= by as i32);
                Some(Form::Narrow { whole, places: to })
            }
            Form::Wide(_) => None,
        }
    }

    fn widen(&mut self, number: f64) {
        let mut numbers = Vec::with_capacity(self.room);
        numbers.extend(self.iter());
        numbers.push(number);
        self.form = Form::Wide(numbers);
    }

    pub fn iter(&self) -> impl Iterator<Item = f64> + Clone + '_ {
        (0..self.len()).map(|at| self.form.number(at))
    }

    /// The numbers in SI.
    pub fn into_si(self, si: ToSi) -> Vec<f64> {
        if let Form::Wide(mut numbers) = self.form {
            numbers.iter_mut().for_each(|n| *n = si.apply(*n));
            return numbers;
        }
        let mut numbers = Vec::with_capacity(self.len());
        numbers.extend(self.iter().map(|n| si.apply(n)));
        numbers
    }
}

impl Form {
    fn number(&self, at: usize) -> f64 {
        match self {
            Self::Even {
                first,
                step,
                places,
                ..
            } => (i64::from(*first) + *step * at as i64) as f64 / TENS[*places],
            Self::Narrow { whole, places } => f64::from(whole[at]) / TENS[*places],
            Self::Wide(numbers) => numbers[at],
        }
    }

    /// The same whole numbers each for itself, and one more.
    fn narrow_with(self, n: i32, room: usize) -> Self {
        match self {
            Self::Even {
                first,
                step,
                count,
                places,
            } => {
                let mut whole = Vec::with_capacity(room);
                // All of them were whole numbers of 32 bits when they came.
                whole.extend((0..count).map(|at| (i64::from(first) + step * at as i64) as i32));
                whole.push(n);
                Self::Narrow { whole, places }
            }
            Self::Narrow { mut whole, places } => {
                whole.push(n);
                Self::Narrow { whole, places }
            }
            wide @ Self::Wide(_) => wide,
        }
    }
}

/// The whole number that gives exactly this one.
fn packed(number: f64, places: usize) -> Option<i32> {
    let whole = (number * TENS[places]).round();
    let fits = whole.abs() <= f64::from(i32::MAX);
    let same = (whole / TENS[places]).to_bits() == number.to_bits();
    // −0 comes back as 0 from a whole number.
    let sign = whole != 0.0 || number.is_sign_positive();
    (fits && same && sign).then_some(whole as i32)
}
