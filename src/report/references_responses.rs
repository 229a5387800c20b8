//! Citations about roots, lengths and masses of cuttings; see [`super::references`].

/// Means of what clusters hold: a total over a total.
// From memory: the book, and that chapter 6 is about ratio estimates.
pub const COCHRAN_1977: &str = "Cochran WG (1977). Sampling Techniques, third edition, chapter 6. Wiley, New York.";
/// Roots of shoots: those without any are a part of their own.
// From memory; the counts of its table are the reference data of this project.
pub const RIDOUT_1998: &str = "Ridout M, Demétrio CGB, Hinde J (1998). Models for count data with many zeros. Proceedings of the XIXth International Biometric Conference, Cape Town, 179-192.";
/// Counts in two parts.
// From memory.
pub const MULLAHY_1986: &str = "Mullahy J (1986). Specification and testing of some modified count data models. Journal of Econometrics 33: 341-365.";
/// Several contrasts of cell means at once where variances differ.
// From memory.
pub const BRUNNER_1997: &str = "Brunner E, Dette H, Munk A (1997). Box-type approximations in nonparametric factorial designs. Journal of the American Statistical Association 92: 1494-1502.";
/// Contrasts with degrees of freedom of their own, judged together.
// From memory.
pub const KONIETSCHKE_2012: &str = "Konietschke F, Hothorn LA, Brunner E (2012). Rank-based multiple test procedures and simultaneous confidence intervals. Electronic Journal of Statistics 6: 738-759.";
/// Zeros added to a law of counts.
// From memory.
pub const LAMBERT_1992: &str = "Lambert D (1992). Zero-inflated Poisson regression, with an application to defects in manufacturing. Technometrics 34: 1-14.";
