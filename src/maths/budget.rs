//! Combined standard uncertainty and its effective degrees of freedom.
//!
//! Never in here: where components come from, and how results are written. Changes when components are combined otherwise.

use std::collections::BTreeMap;

use super::Correlations;
use super::Refusal;
use super::refusal::wanted;

/// A component of uncertainty.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Component {
    /// ∂f/∂x, in the unit of the result over that of the input.
    pub sensitivity: f64,
    /// The standard uncertainty u of the input, in its unit.
    pub uncertainty: f64,
    /// Its degrees of freedom; infinite where u is taken as known.
    pub degrees_of_freedom: f64,
    /// Components with the same number here have their u from one and the same estimate (one pooled s, one certificate): in
    /// the effective degrees of freedom they count once, with their joint contribution.
    pub group: Option<usize>,
}

impl Component {
    /// A component whose standard uncertainty is taken as known.
    #[must_use]
    pub fn known(sensitivity: f64, uncertainty: f64) -> Self {
        Self::estimated(sensitivity, uncertainty, f64::INFINITY)
    }

    /// A component whose standard uncertainty was estimated with these degrees of freedom.
    #[must_use]
    pub fn estimated(sensitivity: f64, uncertainty: f64, degrees_of_freedom: f64) -> Self {
        Self {
            sensitivity,
            uncertainty,
            degrees_of_freedom,
            group: None,
        }
    }

    /// The same, with its u from the estimate of a group.
    #[must_use]
    pub fn sharing(self, group: usize) -> Self {
        Self {
            group: Some(group),
            ..self
        }
    }

    fn checked(&self) -> Result<(), Refusal> {
        wanted("a sensitivity", self.sensitivity, "a number", true)?;
        let (u, nu) = (self.uncertainty, self.degrees_of_freedom);
        wanted("a standard uncertainty", u, "0 or above", u >= 0.0)?;
        if nu != f64::INFINITY {
            wanted("degrees of freedom", nu, "above 0", nu > 0.0)?;
        }
        Ok(())
    }
}

/// Effective degrees of freedom.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum EffectiveFreedom {
    /// All components that count are taken as known.
    Infinite,
    /// After Welch-Satterthwaite, not yet truncated.
    Finite(f64),
    /// Components of different groups are correlated and have finite degrees of freedom: the formula doesn't hold (GUM G.4.1).
    NotDefined,
}

/// What a budget comes to.
#[derive(Clone, Debug, PartialEq)]
pub struct Combined {
    /// The combined standard uncertainty u_c, in the unit of the result.
    pub uncertainty: f64,
    /// Its effective degrees of freedom.
    pub degrees_of_freedom: EffectiveFreedom,
    /// |c·u| of each component, in the unit of the result.
    pub contributions: Vec<f64>,
}

/// u_c² = Σᵢ Σⱼ cᵢ·cⱼ·uᵢ·uⱼ·rᵢⱼ (GUM 5.2.2, eq. (16)), uncorrelated without `correlations`; and effective degrees of freedom
/// u_c⁴/Σ(uᵢ⁴/νᵢ) (GUM G.4.1, eq. (G.2b)), where components of one group count once: (Σ over the group)²/ν.
///
/// # Errors
/// No components; a negative u, ν ≤ 0; correlations of another size; different ν in a group; 0/0 in Welch-Satterthwaite.
pub fn combine(
    components: &[Component],
    correlations: Option<&Correlations>,
) -> Result<Combined, Refusal> {
    super::refusal::enough("a budget", 1, components.len())?;
    components.iter().try_for_each(Component::checked)?;
    if correlations.is_some_and(|r| r.size() != components.len()) {
        return Err(Refusal::CorrelationShape);
    }
    let signed: Vec<f64> = components
        .iter()
        .map(|c| c.sensitivity * c.uncertainty)
        .collect();
    // Relative to the greatest, so that squares and fourth powers neither overflow nor vanish.
    let scale = signed.iter().fold(0.0_f64, |most, c| most.max(c.abs()));
    wanted("a contribution", scale, "a number", true)?;
    let unit = if scale > 0.0 { scale } else { 1.0 };
    let relative: Vec<f64> = signed.iter().map(|c| c / unit).collect();
    let everything: Vec<usize> = (0..components.len()).collect();
    let variance = joint_variance(&everything, &relative, correlations);
    Ok(Combined {
        uncertainty: unit * variance.sqrt(),
        degrees_of_freedom: effective(components, &relative, correlations, variance)?,
        contributions: signed.iter().map(|c| c.abs()).collect(),
    })
}

/// Below this share of (Σ|cᵢ·uᵢ|)² what is left of contributions that cancel is rounding, and counts as zero.
const CANCELLED: f64 = 1e-14;

/// Σ cᵢ·cⱼ·uᵢ·uⱼ·rᵢⱼ over the `members`; never below zero.
fn joint_variance(members: &[usize], signed: &[f64], correlations: Option<&Correlations>) -> f64 {
    let between = |i: usize, j: usize| match correlations {
        Some(r) => r.between(i, j),
        None => f64::from(u8::from(i == j)),
    };
    let row = |i: &usize| -> f64 {
        members
            .iter()
            .map(|j| signed[*i] * signed[*j] * between(*i, *j))
            .sum()
    };
    let all: f64 = members.iter().map(|i| signed[*i].abs()).sum();
    let variance: f64 = members.iter().map(row).sum();
    if variance > CANCELLED * all * all {
        variance
    } else {
        0.0
    }
}

/// The members of each group; a component without one is a group of its own.
fn groups(components: &[Component]) -> Vec<Vec<usize>> {
    let mut shared: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
    let mut all = Vec::new();
    for (index, component) in components.iter().enumerate() {
        match component.group {
            Some(group) => shared.entry(group).or_default().push(index),
            None => all.push(vec![index]),
        }
    }
    all.extend(shared.into_values());
    all
}

fn effective(
    components: &[Component],
    signed: &[f64],
    correlations: Option<&Correlations>,
    variance: f64,
) -> Result<EffectiveFreedom, Refusal> {
    let groups = groups(components);
    let mut sum = 0.0;
    for members in &groups {
        let nu = components[members[0]].degrees_of_freedom;
        if let Some(other) = members
            .iter()
            .find(|m| components[**m].degrees_of_freedom != nu)
        {
            let group = components[*other].group.unwrap_or_default();
            return Err(Refusal::GroupDisagrees { group });
        }
        sum += joint_variance(members, signed, correlations).powi(2) / nu;
    }
    let finite = |c: &Component| c.degrees_of_freedom.is_finite();
    if variance == 0.0 && components.iter().any(finite) {
        return Err(Refusal::ZeroOverZero);
    }
    Ok(if crossed(components, signed, &groups, correlations) {
        EffectiveFreedom::NotDefined
    } else if sum == 0.0 {
        EffectiveFreedom::Infinite
    } else {
        EffectiveFreedom::Finite(variance * variance / sum)
    })
}

/// Whether contributions of different groups are correlated, and one of them has finite degrees of freedom.
fn crossed(
    components: &[Component],
    signed: &[f64],
    groups: &[Vec<usize>],
    correlations: Option<&Correlations>,
) -> bool {
    let Some(r) = correlations else { return false };
    let counts = |i: usize| signed[i] != 0.0;
    let pair = |i: usize, j: usize| {
        let finite = components[i].degrees_of_freedom.is_finite()
            || components[j].degrees_of_freedom.is_finite();
        counts(i) && counts(j) && finite && r.between(i, j) != 0.0
    };
    groups.iter().enumerate().any(|(at, members)| {
        let others = groups[at + 1..].iter().flatten();
        others
            .into_iter()
            .any(|j| members.iter().any(|i| pair(*i, *j)))
    })
}

/// The covariance of two results of the same inputs: Σᵢ Σⱼ aᵢ·bⱼ·uᵢ·uⱼ·rᵢⱼ (GUM F.1.2.3 and H.2.3, from memory), with the
/// sensitivities `a` and `b` of each result and the `uncertainties` of the inputs.
///
/// # Errors
/// Lists or correlations of different size; a negative uncertainty.
pub fn covariance_of_results(
    a: &[f64],
    b: &[f64],
    uncertainties: &[f64],
    correlations: &Correlations,
) -> Result<f64, Refusal> {
    let n = uncertainties.len();
    for found in [a.len(), b.len()] {
        if found != n {
            return Err(Refusal::Unpaired {
                first: found,
                second: n,
            });
        }
    }
    if correlations.size() != n {
        return Err(Refusal::CorrelationShape);
    }
    for u in uncertainties {
        wanted("a standard uncertainty", *u, "0 or above", *u >= 0.0)?;
    }
    let term = |i: usize, j: usize| {
        a[i] * b[j] * uncertainties[i] * uncertainties[j] * correlations.between(i, j)
    };
    let row = |i: usize| (0..n).map(|j| term(i, j)).sum::<f64>();
    Ok((0..n).map(row).sum())
}
