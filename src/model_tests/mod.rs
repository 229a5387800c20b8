//! Tests that set one fitted model against another: nested models, and effects by parametric bootstrap.

mod bootstrap;
mod bootstrap_words;
mod nested;
mod nested_words;
mod numbers;
mod of_model;
mod refit;

pub use bootstrap::BootstrapOptions;
pub use numbers::{BootstrapTest, ModelComparison, ModelLine};
