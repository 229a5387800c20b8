//! The correlation of two cuttings in one tray: by analysis of variance ([`anova_correlation`]) and by beta-binomial
//! likelihood ([`beta_binomial_correlation`]), each with an interval, and the answer made of both.

mod anova;
mod answer;
mod beta_binomial;
mod correlation;
mod numbers;

pub use anova::{AnovaCorrelation, anova_correlation};
pub use beta_binomial::{BetaBinomialCorrelation, beta_binomial_correlation};
pub use correlation::{arms_of_lists, tray_correlation, trial_correlation};
pub use numbers::{CorrelationEstimate, CorrelationMethod, CorrelationOptions, TrayCorrelation};
