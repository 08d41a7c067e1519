//! The compiled procedure: typed expressions, steps laid out flat, and what they need. The hinge between reading and running.
//!
//! Never in here: YAML, a session. Changes when a recipe can say something new.

mod capability;
mod chance;
mod close;
mod device;
mod evaluate;
mod expression;
mod flow;
mod function;
mod interval;
mod layout;
mod limits;
mod logged;
mod model;
mod physical;
mod prompt;
mod propagate;
mod reach;
mod scope;
mod target;
mod trials;
mod uncertainty;
mod value;

pub use capability::{Accuracy, Capability, ReadingError, display_standard_si};
pub use chance::{conformance, uncertainty_of};
pub use close::is_close;
pub use device::{DEVICE, Device, DeviceField, SESSION};
pub use evaluate::{
    Absence, EvaluationError, evaluate, evaluate_node, is_relative, show_with_values,
    standard_deviation,
};
pub use expression::{BinaryOperator, Expression, Node, Type};
pub use flow::{TrumpetCurve, USUAL_DENSITY, start_up_of, trumpet_of};
pub use function::{FUNCTION_NAMES, Function};
pub use interval::Interval;
pub use layout::{
    AppliesTo, Bound, Category, Change, Condition, Criterion, CriterionSeverity, Decision, Item,
    OnFail, Plan, Role, Section, Slot, Then, Verb,
};
pub use limits::draws_limits;
pub use logged::{Logged, LoggedBy};
pub use model::{behind, names_in};
pub use prompt::{PromptError, PromptFault, prompt_names, render_prompt};
pub use propagate::propagate;
pub use reach::{Reach, Reaches, conjuncts};
pub use scope::{Behind, Origin, Scope};
pub use target::{Target, Tolerated};
pub use trials::{Distances, SEED, TRIALS, Trials, distances, is_first_order_enough, trials};
pub use uncertainty::{Cause, Contribution, Shape, Source, Sources, Spread, Uncertainty};
pub use value::Value;
