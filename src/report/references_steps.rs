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
/// The share to which each of several things has happened.
// From memory.
pub const AALEN_JOHANSEN_1978: &str = "Aalen OO, Johansen S (1978). An empirical transition matrix for non-homogeneous Markov chains based on censored observations. Scandinavian Journal of Statistics 5: 141-150.";
/// The share still waiting.
// From memory.
pub const KAPLAN_MEIER_1958: &str = "Kaplan EL, Meier P (1958). Nonparametric estimation from incomplete observations. Journal of the American Statistical Association 53: 457-481.";
/// Ends over missed visits.
// From memory.
pub const TURNBULL_1976: &str = "Turnbull BW (1976). The empirical distribution function with arbitrarily grouped, censored and truncated data. Journal of the Royal Statistical Society B 38: 290-295.";
/// Limits of the time by which half have come to it.
// From memory.
pub const BROOKMEYER_CROWLEY_1982: &str =
    "Brookmeyer R, Crowley J (1982). A confidence interval for the median survival time. Biometrics 38: 29-41.";
/// Rates in proportion, from visits.
// From memory.
pub const PRENTICE_GLOECKLER_1978: &str = "Prentice RL, Gloeckler LA (1978). Regression analysis of grouped survival data with application to breast cancer data. Biometrics 34: 57-67.";
/// The log-rank test.
// From memory.
pub const MANTEL_1966: &str = "Mantel N (1966). Evaluation of survival data and two new rank order statistics arising in its consideration. Cancer Chemotherapy Reports 50: 163-170.";
/// The log-rank test as one of dealing anew.
// From memory.
pub const PETO_PETO_1972: &str = "Peto R, Peto J (1972). Asymptotically efficient rank invariant test procedures. Journal of the Royal Statistical Society A 135: 185-207.";
/// Limits of a difference from those of its parts.
// From memory.
pub const ZOU_DONNER_2008: &str = "Zou GY, Donner A (2008). Construction of confidence limits about effect measures: a general approach. Statistics in Medicine 27: 1693-1702.";
