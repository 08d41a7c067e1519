//! Patient-controlled doses: which demands are answered.
//!
//! Never in here: drip rates and other arithmetic that an expression can say. Changes when the convention does.

use std::ops::Sub;

/// The indices of the demands that are honoured, for demand times in order.
///
/// A demand at t is honoured if t − t_last ≥ `lockout` (a demand exactly at its end is) and, with a `window` of a length
/// and a number, fewer than that number of doses have t − t_dose < length (one exactly a window back no longer counts).
/// Times, lockout and length are in one unit, whichever. Convention of this project; no standard states it.
///
/// The times must not fall: the caller refuses a list that does. A lockout of zero honours every demand that the window allows.
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
