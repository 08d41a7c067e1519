//! Delivery over time: flows, trumpets, boluses and occlusions from logged series, after IEC 60601-2-24.
//!
//! Everything is in coherent SI units: times in s, masses in kg, volumes in m³, flows in m³/s, densities in kg/m³,
//! pressures in Pa; errors and deviations in %. The standard's text was not seen: windows, formulas and procedures are
//! from memory of IEC 60601-2-24:1998 cl. 50.102 and :2012 cl. 201.12.1.102.
//! Never in here: files, units as text, uncertainty. Changes when a figure of the standard is added.

mod bolus;
mod collected;
mod delivery;
mod fault;
mod occlusion;
mod resample;
mod series;
mod trumpet;

pub use bolus::{BOLUSES, BolusSeries, Deviation, bolus_series};
pub use collected::{corrected_for_evaporation, volumes_from_masses};
pub use delivery::{Allowed, Delivery, Ends, FlowPoint, Period, Portion};
pub use fault::FlowFault;
pub(super) use fault::{above_zero, not_below_zero};
pub use occlusion::{Occlusion, alarm_time, occlusion, occlusion_bolus};
pub use resample::{Resampled, resample};
pub use series::{Level, Sample, first_passing, peak};
pub use trumpet::{Extreme, TrumpetPoint, flow_error, trumpet, window_count};
