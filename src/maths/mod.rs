//! The trade's formulas on plain numbers: water, air, weighing, columns, infusion arithmetic, flow tests.
//!
//! Never in here: units as text, recipes. Changes when a formula is added.

mod air;
mod column;
mod domain;
pub mod flow;
mod infusion;
pub mod rates;
mod water;
mod weighing;

pub use air::{AirFormula, air_density};
pub use column::column_pressure_at;
pub use domain::OutOfDomain;
pub use infusion::honoured;
pub use water::{WaterFormula, water_density};
pub use weighing::{weighed_volume, z_factor};
