//! What tests of tables cite beside [`crate::report::references`].

/// The exact test of tables of any shape.
// Confirmed: authors, year, title, journal, volume and pages, in the reference list of a general statistics library.
pub(crate) const FREEMAN_HALTON_1951: &str = "Freeman GH, Halton JH (1951). Note on an exact treatment of contingency, goodness of fit and other problems of significance. Biometrika 38: 141-149.";
