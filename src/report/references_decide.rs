//! Citations about choices in money; see [`super::references`].

/// Choosing after a sample, and what the sample is worth before it is drawn.
// From memory.
pub const RAIFFA_SCHLAIFER_1961: &str =
    "Raiffa H, Schlaifer R (1961). Applied Statistical Decision Theory. Harvard University, Boston.";
/// Laws whose quantiles are confidence limits.
// From memory.
pub const XIE_SINGH_2013: &str = "Xie M, Singh K (2013). Confidence distribution, the frequentist distribution estimator of a parameter: a review. International Statistical Review 81: 3-39.";
/// Means that rise with what they are held against.
// From memory.
pub const BARLOW_1972: &str = "Barlow RE, Bartholomew DJ, Bremner JM, Brunk HD (1972). Statistical Inference under Order Restrictions. Wiley, London.";
/// Choosing by what is expected, and when to look further.
// From memory.
pub const CLAXTON_1999: &str = "Claxton K (1999). The irrelevance of inference: a decision-making approach to the stochastic evaluation of health care technologies. Journal of Health Economics 18: 341-364.";
