//! Which values a number can have at all: a count is whole and not negative, a spread is not negative.
//!
//! Never in here: what is accepted of them. Changes when another restriction is known.

use crate::quantity::{Exact, Rounding};

/// What a number can be.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Reach {
    /// Its least value.
    low: Option<Exact>,
    /// Its greatest value.
    high: Option<Exact>,
    /// Where it comes in steps: the step and a value that it has.
    steps: Option<(Exact, Exact)>,
    /// Whether it has all these values indeed.
    known: bool,
}

impl Default for Reach {
    fn default() -> Self {
        Self::any()
    }
}

impl Reach {
    /// Any number.
    pub fn any() -> Self {
        Self {
            low: None,
            high: None,
            steps: None,
            known: true,
        }
    }

    /// Nobody knows which ones.
    pub fn unknown() -> Self {
        Self {
            known: false,
            ..Self::any()
        }
    }

    /// Zero and above.
    pub fn not_negative() -> Self {
        Self {
            low: Some(Exact::zero()),
            ..Self::any()
        }
    }

    /// 0, 1, 2, …
    pub fn whole() -> Self {
        Self {
            steps: Some((Exact::one(), Exact::zero())),
            ..Self::not_negative()
        }
    }

    /// One number.
    pub fn exactly(value: &Exact) -> Self {
        Self {
            low: Some(value.clone()),
            high: Some(value.clone()),
            ..Self::any()
        }
    }

    /// Multiples of a step.
    pub fn steps_of(step: &Exact) -> Self {
        let steps = (!step.is_zero()).then(|| (step.abs(), Exact::zero()));
        Self {
            known: steps.is_some(),
            steps,
            ..Self::any()
        }
    }

    /// Whether it has all these values indeed.
    pub fn is_known(&self) -> bool {
        self.known
    }

    /// Multiplied by a factor that is not zero.
    pub fn scaled(&self, by: &Exact) -> Self {
        let times = |of: &Option<Exact>| of.as_ref().map(|x| x.clone() * by.clone());
        let (low, high) = (times(&self.low), times(&self.high));
        let (low, high) = if by.is_negative() {
            (high, low)
        } else {
            (low, high)
        };
        let steps = self.steps.as_ref();
        Self {
            low,
            high,
            steps: steps.map(|(step, at)| (step.clone() * by.abs(), at.clone() * by.clone())),
            known: self.known,
        }
    }

    /// The sum of two that have nothing to do with each other.
    pub fn plus(&self, other: &Self) -> Self {
        let sum = |a: &Option<Exact>, b: &Option<Exact>| Some(a.clone()? + b.clone()?);
        let (steps, known) = match (&self.steps, &other.steps, self.fixed(), other.fixed()) {
            (steps, None, _, Some(by)) | (None, steps, Some(by), _) => {
                let moved = |(step, at): &(Exact, Exact)| (step.clone(), at.clone() + by.clone());
                (steps.as_ref().map(moved), true)
            }
            (None, ..) | (_, None, ..) => (None, true),
            (Some((a, at)), Some((b, other_at)), ..) => {
                let steps = (a == b).then(|| (a.clone(), at.clone() + other_at.clone()));
                let known = steps.is_some();
                (steps, known)
            }
        };
        // A number in steps beside one that is bound may leave gaps that nobody looks for.
        let gaps = |x: &Self, y: &Self| {
            x.steps.is_some()
                && y.steps.is_none()
                && y.fixed().is_none()
                && y.low.is_some()
                && y.high.is_some()
        };
        Self {
            low: sum(&self.low, &other.low),
            high: sum(&self.high, &other.high),
            steps,
            known: known && self.known && other.known && !gaps(self, other) && !gaps(other, self),
        }
    }

    fn fixed(&self) -> Option<&Exact> {
        self.low
            .as_ref()
            .filter(|low| self.high.as_ref() == Some(low))
    }

    /// The mean of so many of them.
    pub fn divided(&self, n: u32) -> Self {
        let parts = Exact::one().checked_div(&Exact::from(i64::from(n)));
        let steps = self.steps.clone().zip(parts);
        Self {
            steps: steps.map(|((step, at), part)| (step * part, at)),
            ..self.clone()
        }
    }

    /// The same without its steps, some of which it may not have.
    pub fn without_steps(&self) -> Self {
        Self {
            known: self.known && self.steps.is_none(),
            steps: None,
            ..self.clone()
        }
    }

    /// The sum of several of them.
    pub fn summed(&self) -> Self {
        let zero = Exact::zero();
        let signless = |end: &Option<Exact>| end.as_ref().filter(|e| **e == zero).cloned();
        let even = self.steps.as_ref().is_none_or(|(_, at)| *at == zero);
        Self {
            low: signless(&self.low),
            high: signless(&self.high),
            steps: self.steps.clone().filter(|_| even),
            known: self.known && even,
        }
    }

    /// Numbers that stand for all others, as far as these bounds tell them apart: the bounds, and one between each two.
    pub fn samples(&self, bounds: &[Exact]) -> Vec<Exact> {
        let mut ends: Vec<Exact> = bounds
            .iter()
            .chain(&self.low)
            .chain(&self.high)
            .cloned()
            .collect();
        ends.sort();
        ends.dedup();
        let (Some(first), Some(last)) = (ends.first().cloned(), ends.last().cloned()) else {
            ends.push(self.near(Exact::zero()));
            return ends;
        };
        let step = self
            .steps
            .as_ref()
            .map_or_else(Exact::one, |(step, _)| step.clone());
        let mut all = vec![self.near(first - step.clone() - step.clone())];
        for pair in ends.windows(2) {
            all.push(pair[0].clone());
            all.extend(self.between(&pair[0], &pair[1]));
        }
        all.push(last.clone());
        all.push(self.near(last + step.clone() + step));
        all.retain(|x| self.has(x));
        all
    }

    /// Whether it has this value, as far as is known.
    pub fn has(&self, x: &Exact) -> bool {
        let on_step = |(step, at): &(Exact, Exact)| {
            (x.clone() - at.clone())
                .checked_div(step)
                .is_some_and(|n| n.is_whole())
        };
        self.low.as_ref().is_none_or(|low| low <= x)
            && self.high.as_ref().is_none_or(|high| x <= high)
            && self.steps.as_ref().is_none_or(on_step)
    }

    /// A value near a number.
    fn near(&self, x: Exact) -> Exact {
        match &self.steps {
            Some((step, at)) => {
                let steps = (x.clone() - at.clone()).round_to(step, Rounding::Floor);
                steps.map_or(x, |s| s + at.clone())
            }
            None => x,
        }
    }

    /// A value between two numbers, if there is one.
    fn between(&self, low: &Exact, high: &Exact) -> Option<Exact> {
        let middle = (low.clone() + high.clone()).checked_div(&Exact::from(2))?;
        let Some((step, _)) = &self.steps else {
            return Some(middle);
        };
        let below = self.near(middle);
        let above = below.clone() + step.clone();
        [below, above].into_iter().find(|x| low < x && x < high)
    }
}
