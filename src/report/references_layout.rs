//! Citations about laying out a trial; see [`super::references`].

/// Randomisation, blocks, Latin squares.
// From memory.
pub const FISHER_1935: &str = "Fisher RA (1935). The Design of Experiments. Oliver and Boyd, Edinburgh.";
/// Treatments of whole plots and within them.
// From memory.
pub const YATES_1935: &str =
    "Yates F (1935). Complex experiments. Supplement to the Journal of the Royal Statistical Society 2: 181-247.";
/// Lattices.
// From memory.
pub const YATES_1936: &str = "Yates F (1936). A new method of arranging variety trials involving a large number of varieties. Journal of Agricultural Science 26: 424-455.";
/// Uniform draws of Latin squares.
// From memory.
pub const JACOBSON_MATTHEWS_1996: &str = "Jacobson MT, Matthews P (1996). Generating uniformly distributed random Latin squares. Journal of Combinatorial Designs 4: 405-437.";
/// Numbers of Latin squares.
// From memory.
pub const MCKAY_WANLESS_2005: &str =
    "McKay BD, Wanless IM (2005). On the number of Latin squares. Annals of Combinatorics 9: 335-344.";
/// Restricted randomisation.
// From memory.
pub const GRUNDY_HEALY_1950: &str = "Grundy PM, Healy MJR (1950). Restricted randomization and quasi-Latin squares. Journal of the Royal Statistical Society B 12: 286-291.";
/// The same in practice.
// From memory.
pub const BAILEY_1987: &str = "Bailey RA (1987). Restricted randomization: a practical example. Journal of the American Statistical Association 82: 712-719.";
/// Resolvable designs and the most that they can reach.
// From memory.
pub const PATTERSON_WILLIAMS_1976: &str =
    "Patterson HD, Williams ER (1976). A new class of resolvable incomplete block designs. Biometrika 63: 83-92.";
/// Bounds from two moments.
// From memory.
pub const JARRETT_1977: &str =
    "Jarrett RG (1977). Bounds for the efficiency factor of block designs. Biometrika 64: 67-72.";
/// Interchange, average efficiency factors, bounds.
// From memory.
pub const JOHN_WILLIAMS_1995: &str =
    "John JA, Williams ER (1995). Cyclic and Computer Generated Designs. 2nd ed. Chapman and Hall, London.";
/// New entries once, controls in every block.
// From memory.
pub const FEDERER_1956: &str =
    "Federer WT (1956). Augmented (or hoonuiaku) designs. Hawaiian Planters' Record 55: 191-208.";

/// Every citation, in the order above.
pub const ALL: &[&str] = &[
    FISHER_1935,
    YATES_1935,
    YATES_1936,
    JACOBSON_MATTHEWS_1996,
    MCKAY_WANLESS_2005,
    GRUNDY_HEALY_1950,
    BAILEY_1987,
    PATTERSON_WILLIAMS_1976,
    JARRETT_1977,
    JOHN_WILLIAMS_1995,
    FEDERER_1956,
];
