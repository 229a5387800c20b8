//! Citations about the chain of steps, readers and early signs; see [`super::references`].

/// A change of a product split by logarithmic means.
// From memory: authors, year and journal.
pub const ANG_2004: &str = "Ang BW (2004). Decomposition analysis for policymaking in energy: which is the preferred method? Energy Policy 32: 1131-1139.";
/// A change split over all orders.
// From memory.
pub const SHAPLEY_1953: &str = "Shapley LS (1953). A value for n-person games. In: Kuhn HW, Tucker AW (eds), Contributions to the Theory of Games II, 307-317. Princeton University Press.";
/// Agreement beyond chance.
// From memory.
pub const COHEN_1960: &str = "Cohen J (1960). A coefficient of agreement for nominal scales. Educational and Psychological Measurement 20: 37-46.";
/// The standard errors of kappa.
// From memory; the example's kappa .4286 and standard error .0537 follow from its table.
pub const FLEISS_1969: &str = "Fleiss JL, Cohen J, Everitt BS (1969). Large sample standard errors of kappa and weighted kappa. Psychological Bulletin 72: 323-327.";
/// Why kappa can be near 0 where readers agree.
// From memory.
pub const FEINSTEIN_CICCHETTI_1990: &str = "Feinstein AR, Cicchetti DV (1990). High agreement but low kappa: I. The problems of two paradoxes. Journal of Clinical Epidemiology 43: 543-549.";
/// Agreement on each answer.
// From memory.
pub const CICCHETTI_FEINSTEIN_1990: &str = "Cicchetti DV, Feinstein AR (1990). High agreement but low kappa: II. Resolving the paradoxes. Journal of Clinical Epidemiology 43: 551-558.";
/// Sensitivity and specificity.
// From memory.
pub const ALTMAN_BLAND_1994: &str =
    "Altman DG, Bland JM (1994). Diagnostic tests 1: sensitivity and specificity. British Medical Journal 308: 1552.";
/// Readings that depend on the sign.
// From memory.
pub const BEGG_GREENES_1983: &str = "Begg CB, Greenes RA (1983). Assessment of diagnostic tests when disease verification is subject to selection bias. Biometrics 39: 207-215.";
/// What is learnt by leaving out one unit after the other.
// From memory.
pub const TUKEY_1958: &str =
    "Tukey JW (1958). Bias and confidence in not quite large samples. Annals of Mathematical Statistics 29: 614.";
