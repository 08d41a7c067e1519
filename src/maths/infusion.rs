//! Patient-controlled doses: which demands are answered.
//!
//! Never in here: drip rates and other arithmetic that an expression can say. Changes when the convention does.

use std::ops::Sub;

/// The indices of the demands that are honoured, for demand times in order.
///
/// A demand is honoured if the lockout has passed since the last dose (inclusive) and fewer than the allowed
/// number of doses lie less than the window back. Convention of this project; no standard states it.
pub fn honoured<T: Clone + PartialOrd + Sub<Output = T>>(
    demands: &[T],
    lockout: &T,
    window: Option<(&T, usize)>,
) -> Vec<usize> {
    let since = |dose: usize, now: &T| now.clone() - demands[dose].clone();
    let mut doses: Vec<usize> = Vec::new();
    for (index, now) in demands.iter().enumerate() {
        let unlocked = doses
            .last()
            .is_none_or(|last| since(*last, now) >= *lockout);
        let room = window.is_none_or(|(length, allowed)| {
            doses
                .iter()
                .rev()
                .take_while(|dose| since(**dose, now) < *length)
                .count()
                < allowed
        });
        if unlocked && room {
            doses.push(index);
        }
    }
    doses
}
