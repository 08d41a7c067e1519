//! The fuzz targets over stored seeds, and over mutations of them from a fixed start.
//!
//! Never in here: a clock. Changes when a target needs another kind of mutation.

#[allow(
    dead_code,
    reason = "a fuzzer outside the project calls the targets one by one"
)]
mod targets;

use std::fs;
use std::path::Path;

use targets::TARGETS;

/// Mutations a target.
const MUTATIONS: usize = 300;
/// Longest mutation, in bytes.
const MAX_BYTES: usize = 16 * 1024;

/// Numbers that look random and are the same in every run (xorshift, Marsaglia 2003).
struct Dice(u64);

impl Dice {
    fn below(&mut self, limit: usize) -> usize {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        usize::try_from(self.0 % limit.max(1) as u64).expect("below a usize")
    }
}

/// The stored seeds of a target, in the order of their names.
fn seeds(target: &str) -> Vec<Vec<u8>> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("tests/fuzz/seeds")
        .join(target);
    let entries = fs::read_dir(&folder).expect("every target has seeds");
    let mut files: Vec<_> = entries
        .map(|e| e.expect("a readable folder").path())
        .collect();
    files.sort();
    files
        .iter()
        .map(|f| fs::read(f).expect("a readable seed"))
        .collect()
}

/// One seed with a few changes: bytes flipped, parts cut, doubled, or taken from another seed.
fn mutated(dice: &mut Dice, seeds: &[Vec<u8>]) -> Vec<u8> {
    let mut bytes = seeds[dice.below(seeds.len())].clone();
    for _ in 0..=dice.below(4) {
        let at = dice.below(bytes.len() + 1);
        let end = (at + 1 + dice.below(24)).min(bytes.len());
        match dice.below(5) {
            0 if at < bytes.len() => bytes[at] ^= 1 << dice.below(8),
            1 => drop(bytes.drain(at..end)),
            2 => bytes.insert(at, b" \t\n\"'{}[]():,.-0159eE%&*|^<>=!"[dice.below(30)]),
            3 => {
                let part = bytes[at.min(end)..end].to_vec();
                bytes.splice(at..at, part.repeat(1 + dice.below(6)));
            }
            _ => {
                let other = &seeds[dice.below(seeds.len())];
                let from = dice.below(other.len() + 1);
                let part = &other[from..(from + dice.below(80)).min(other.len())];
                bytes.splice(at..at, part.iter().copied());
            }
        }
    }
    bytes.truncate(MAX_BYTES);
    bytes
}

#[test]
fn stored_seeds_do_no_harm() {
    for (name, target) in TARGETS {
        let seeds = seeds(name);
        assert!(!seeds.is_empty(), "{name} has no seeds");
        seeds.iter().for_each(|seed| target(seed));
    }
}

#[test]
fn mutated_seeds_do_no_harm() {
    for (name, target) in TARGETS {
        let seeds = seeds(name);
        let mut dice = Dice(0x5354_4550_5745_4C4C);
        for _ in 0..MUTATIONS {
            target(&mutated(&mut dice, &seeds));
        }
    }
}
