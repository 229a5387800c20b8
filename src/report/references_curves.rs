//! Citations of strength curves, beside those of all other methods.

/// Profile likelihood over several shapes at once.
// Confirmed: reference lists of public repositories and the index page of its preprint.
pub const DAUNCEY_2015: &str = "Dauncey PD, Kenzie M, Wardle N, Davies GJ (2015). Handling uncertainties in background shapes: the discrete profiling method. Journal of Instrumentation 10: P04015.";
/// A dose by the rise of a rate over that without.
// Confirmed: reference list of a public repository.
pub const CRUMP_1984: &str = "Crump KS (1984). A new method for determining allowable daily intakes. Fundamental and Applied Toxicology 4: 854-871.";

/// Designs that are best for a purpose.
// Confirmed: reference lists of public repositories.
pub const ATKINSON_2007: &str =
    "Atkinson AC, Donev AN, Tobias RD (2007). Optimum Experimental Designs, with SAS. Oxford University Press, Oxford.";

/// Region of the top of a surface.
// Authors, year, title, journal, volume and pages from memory, not confirmed.
pub const BOX_HUNTER_1954: &str = "Box GEP, Hunter JS (1954). A confidence region for the solution of a set of simultaneous equations with an application to experimental design. Biometrika 41: 190-199.";

/// A take that low strengths stimulate and high ones burn, with a stimulation that levels off.
// Confirmed: the paper's first page and its entry in a medical index.
pub const CEDERGREEN_RITZ_STREIBIG_2005: &str = "Cedergreen N, Ritz C, Streibig JC (2005). Improved empirical models describing hormesis. Environmental Toxicology and Chemistry 24: 3166-3172.";

/// Limits of a sum or difference from the limits of its parts.
// Confirmed: cited alike in several public bibliographies.
pub const ZOU_DONNER_2008: &str = "Zou GY, Donner A (2008). Construction of confidence limits about effect measures: a general approach. Statistics in Medicine 27: 1693-1702.";

/// Differences of Akaike's criterion that leave a model support.
// From memory, not confirmed.
pub const BURNHAM_ANDERSON_2002: &str = "Burnham KP, Anderson DR (2002). Model Selection and Multimodel Inference: A Practical Information-Theoretic Approach. 2nd edition. Springer, New York.";

/// Every citation, in the order above.
pub const ALL: &[&str] = &[
    DAUNCEY_2015,
    CRUMP_1984,
    ATKINSON_2007,
    BOX_HUNTER_1954,
    CEDERGREEN_RITZ_STREIBIG_2005,
    ZOU_DONNER_2008,
    BURNHAM_ANDERSON_2002,
];
