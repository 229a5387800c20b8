//! Citations about tables in layers; see [`super::references`].

/// Variances of a ratio and of a difference common to layers.
// Author, year, title, journal, volume and pages from memory, not confirmed.
pub const GREENLAND_ROBINS_1985: &str = "Greenland S, Robins JM (1985). Estimation of a common effect parameter from sparse follow-up data. Biometrics 41: 55-68.";
/// Variance of a difference common to layers.
// Author, year, title, journal, volume and pages from memory, not confirmed.
pub const SATO_1989: &str =
    "Sato T (1989). On the variance estimator for the Mantel-Haenszel risk difference. Biometrics 45: 1323-1324.";

/// Every citation, in the order above.
pub const ALL: &[&str] = &[GREENLAND_ROBINS_1985, SATO_1989];
