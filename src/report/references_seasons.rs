//! Citations about seasons pooled; see [`super::references`].

/// Trials of several seasons and places together.
// From memory.
pub const YATES_COCHRAN_1938: &str =
    "Yates F, Cochran WG (1938). The analysis of groups of experiments. Journal of Agricultural Science 28: 556-580.";
/// The variance between groups that the scatter leads to.
// From memory.
pub const PAULE_MANDEL_1982: &str = "Paule RC, Mandel J (1982). Consensus values and weighting factors. Journal of Research of the National Bureau of Standards 87: 377-385.";
/// Limits of an average with t.
// From memory.
pub const HARTUNG_KNAPP_2001: &str = "Hartung J, Knapp G (2001). On tests of the overall treatment effect in meta-analysis with normally distributed responses. Statistics in Medicine 20: 1771-1782.";
/// What estimated weights add to the variance of an average.
// From memory.
pub const MEIER_1953: &str = "Meier P (1953). Variance of a weighted mean. Biometrics 9: 59-73.";
/// Limits of the variance between groups.
// From memory.
pub const VIECHTBAUER_2007: &str = "Viechtbauer W (2007). Confidence intervals for the amount of heterogeneity in meta-analysis. Statistics in Medicine 26: 37-52.";
/// Draws that carry all variances that are not known.
// From memory.
pub const IYER_WANG_MATHEW_2004: &str = "Iyer HK, Wang CMJ, Mathew T (2004). Models and confidence intervals for true values in interlaboratory trials. Journal of the American Statistical Association 99: 1060-1071.";
/// The range of a new group.
// From memory.
pub const HIGGINS_2009: &str = "Higgins JPT, Thompson SG, Spiegelhalter DJ (2009). A re-evaluation of random-effects meta-analysis. Journal of the Royal Statistical Society A 172: 137-159.";
/// Whether means differ whose variances are estimated.
// From memory.
pub const WELCH_1951: &str =
    "Welch BL (1951). On the comparison of several mean values: an alternative approach. Biometrika 38: 330-336.";
/// One group held against the others.
// From memory.
pub const VIECHTBAUER_CHEUNG_2010: &str = "Viechtbauer W, Cheung MWL (2010). Outlier and influence diagnostics for meta-analysis. Research Synthesis Methods 1: 112-125.";
