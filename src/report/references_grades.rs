//! Citations about grades; see [`super::references`].

/// One odds ratio for all grades.
// From memory.
pub const MCCULLAGH_1980: &str =
    "McCullagh P (1980). Regression models for ordinal data. Journal of the Royal Statistical Society B 42: 109-142.";
/// Whether one odds ratio serves all grades.
// From memory.
pub const PETERSON_HARRELL_1990: &str = "Peterson B, Harrell FE (1990). Partial proportional odds models for ordinal response variables. Applied Statistics 39: 205-217.";
/// Cuttings added where a level holds one end alone.
// From memory.
pub const CLOGG_1991: &str = "Clogg CC, Rubin DB, Schenker N, Schultz B, Weidman L (1991). Multiple imputation of industry and occupation codes in census public-use samples using Bayesian logistic regression. Journal of the American Statistical Association 86: 68-78.";
