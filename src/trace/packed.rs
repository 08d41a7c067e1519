//! Columns in half the room while the text of the file is still held: whole numbers with one power of ten for all.
//!
//! Never in here: cells. Changes when numbers are kept otherwise.

use super::si::ToSi;

/// Most decimal places that are packed.
const MOST_PLACES: usize = 9;
const TENS: [f64; MOST_PLACES + 1] = [1.0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9];

/// Numbers of a column in the order of the rows. Each comes back as the very double that was put in.
#[derive(Clone, Debug)]
pub(super) enum Packed {
    /// Each is one of these divided by ten to the power of `places`: with up to 2⁵³ and 10²² the double nearest to the decimal.
    Narrow { whole: Vec<i32>, places: usize },
    /// What does not fit.
    Wide(Vec<f64>),
}

impl Packed {
    pub fn with_room(rows: usize) -> Self {
        Self::Narrow {
            whole: Vec::with_capacity(rows),
            places: 0,
        }
    }

    pub fn len(&self) -> usize {
        match self {
            Self::Narrow { whole, .. } => whole.len(),
            Self::Wide(numbers) => numbers.len(),
        }
    }

    pub fn push(&mut self, number: f64) {
        match self {
            Self::Wide(numbers) => numbers.push(number),
            Self::Narrow { whole, places } => match packed(number, *places) {
                Some(n) => whole.push(n),
                None => self.push_other(number),
            },
        }
    }

    /// A number with more decimal places than those before, or one that does not fit.
    fn push_other(&mut self, number: f64) {
        let Self::Narrow { whole, places } = self else {
            return self.push(number);
        };
        let finer = (*places + 1..=MOST_PLACES).find_map(|p| Some((p, packed(number, p)?)));
        if let Some((finer, n)) = finer {
            let by = TENS[finer - *places] as i64;
            let fits = |n: &i32| i32::try_from(i64::from(*n) * by).is_ok();
            if whole.iter().all(fits) {
                whole.iter_mut().for_each(|n| *n *= by as i32);
                whole.push(n);
                *places = finer;
                return;
            }
        }
        let room = whole.capacity();
        let mut numbers = Vec::with_capacity(room);
        numbers.extend(self.iter());
        numbers.push(number);
        *self = Self::Wide(numbers);
    }

    pub fn iter(&self) -> impl Iterator<Item = f64> + Clone + '_ {
        let (whole, places, wide): (&[i32], usize, &[f64]) = match self {
            Self::Narrow { whole, places } => (whole, *places, &[]),
            Self::Wide(numbers) => (&[], 0, numbers),
        };
        let narrow = whole.iter().map(move |n| f64::from(*n) / TENS[places]);
        narrow.chain(wide.iter().copied())
    }

    /// The numbers in SI.
    pub fn into_si(self, si: ToSi) -> Vec<f64> {
        match self {
            Self::Wide(mut numbers) => {
                numbers.iter_mut().for_each(|n| *n = si.apply(*n));
                numbers
            }
            narrow @ Self::Narrow { .. } => {
                let mut numbers = Vec::with_capacity(narrow.len());
                numbers.extend(narrow.iter().map(|n| si.apply(n)));
                numbers
            }
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

#[cfg(test)]
mod tests {
    use super::*;

    /// Whatever is put in comes back bit for bit.
    #[test]
    fn numbers_come_back_as_they_were() {
        for numbers in [
            vec![0.0, 1.0, 2.0, 999_999.0],
            vec![1.0, 0.1, 0.25, 12.3456, -7.0],
            vec![0.0, -0.0, 5.0],
            vec![1.0, 1e-20, 3.0],
            vec![2_147_483_647.0, 0.5, 4.0],
            vec![0.1 + 0.2, 1e300, -2_147_483_648.0],
        ] {
            let mut packed = Packed::with_room(4);
            numbers.iter().for_each(|n| packed.push(*n));
            let bits = |all: Vec<f64>| all.into_iter().map(f64::to_bits).collect::<Vec<_>>();
            assert_eq!(packed.len(), numbers.len());
            assert_eq!(bits(packed.iter().collect()), bits(numbers));
        }
    }
}
