//! Citations about how spreads of several trials are put together; see [`super::references`].

/// Variances shrunk to a common value with degrees of freedom estimated from how they differ.
// Confirmed: author, year and title, by reference lists of general statistics libraries; journal and volume from memory.
pub const SMYTH_2004: &str = "Smyth GK (2004). Linear models and empirical Bayes methods for assessing differential expression in microarray experiments. Statistical Applications in Genetics and Molecular Biology 3: Article 3.";
/// Variances of replicates as draws of one law.
// Confirmed: reference lists of general statistics libraries.
pub const LONNSTEDT_SPEED_2002: &str =
    "Lönnstedt I, Speed T (2002). Replicated microarray data. Statistica Sinica 12: 31-46.";

/// Every citation, in the order above.
pub const ALL: &[&str] = &[SMYTH_2004, LONNSTEDT_SPEED_2002];
