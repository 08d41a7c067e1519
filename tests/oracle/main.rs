//! Values from outside against what Stepwell computes; sources beside each row of `data/`.
//!
//! Never in here: expected values computed with our own code. Changes when a topic of `data/checks.json` gets its test.

mod calc;
mod canonical;
mod decision;
mod distribution;
mod flow;
mod maths;
mod propagation;
mod statistics;
mod uncertainty;
mod verdicts;
