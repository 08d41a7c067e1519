//! The compiled procedure: typed expressions, steps laid out flat, and what they need. The hinge between reading and running.
//!
//! Never in here: YAML, a session. Changes when a recipe can say something new.

mod evaluate;
mod expression;
mod function;
mod layout;
mod physical;
mod prompt;
mod value;

pub use evaluate::{EvaluationError, Scope, evaluate, evaluate_node, show_with_values};
pub use expression::{BinaryOperator, Expression, Node, Type};
pub use function::{FUNCTION_NAMES, Function};
pub use layout::{
    AppliesTo, Bound, Category, Change, Condition, Criterion, CriterionSeverity, Decision, Item,
    OnFail, Plan, Role, Section, Slot, Then, Verb,
};
pub use prompt::{PromptError, prompt_names, render_prompt};
pub use value::Value;
