//! The trade's formulas on plain numbers: water, air, weighing, columns, infusion arithmetic, flow tests,
//! statistics, uncertainty and decisions.
//!
//! Never in here: units as text, recipes. Changes when a formula is added.

mod air;
pub mod budget;
mod column;
pub mod control;
mod correlations;
pub mod coverage;
pub mod decision;
pub mod distribution;
mod domain;
pub mod flow;
pub mod guard;
mod infusion;
mod integral;
pub mod line;
mod linear;
pub mod outlier;
pub mod rates;
mod refusal;
pub mod report;
pub mod risk;
mod root;
pub mod statistics;
pub mod student;
pub mod type_b;
mod water;
mod weighing;

pub use air::{AirFormula, air_density};
pub use budget::EffectiveFreedom;
pub use column::column_pressure_at;
pub use correlations::Correlations;
pub use domain::OutOfDomain;
pub use infusion::honoured;
pub use linear::{Linear, Scalar};
pub use refusal::Refusal;
pub use water::{WaterFormula, water_density};
pub use weighing::{weighed_volume, z_factor};
