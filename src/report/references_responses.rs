//! Citations about roots, lengths and masses of cuttings; see [`super::references`].

/// Means of what clusters hold: a total over a total.
// From memory: the book, and that chapter 6 is about ratio estimates.
pub const COCHRAN_1977: &str = "Cochran WG (1977). Sampling Techniques, third edition, chapter 6. Wiley, New York.";
/// Roots of shoots: those without any are a part of their own.
// From memory; the counts of its table are the reference data of this project.
pub const RIDOUT_1998: &str = "Ridout M, Demetrio CGB, Hinde J (1998). Models for count data with many zeros. Proceedings of the XIXth International Biometric Conference, Cape Town, 179-192.";
/// Counts in two parts.
// From memory.
pub const MULLAHY_1986: &str = "Mullahy J (1986). Specification and testing of some modified count data models. Journal of Econometrics 33: 341-365.";
/// Zeros added to a law of counts.
// From memory.
pub const LAMBERT_1992: &str = "Lambert D (1992). Zero-inflated Poisson regression, with an application to defects in manufacturing. Technometrics 34: 1-14.";
