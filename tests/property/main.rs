//! Laws that hold for all inputs. Changes when a law is added.

mod derived;
mod difference;
mod digest;
mod flow;
mod format;
mod maths;
mod ranges;
mod session;
mod units;
