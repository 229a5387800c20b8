//! Citations about planning trials; see [`super::references`].

/// How many cuttings a tray should hold where trays and cuttings cost.
// From memory: author, year and publisher.
pub const COCHRAN_1977: &str = "Cochran WG (1977). Sampling Techniques, 3rd edition. Wiley, New York.";
/// Equal limits at every look.
// From memory.
pub const POCOCK_1977: &str =
    "Pocock SJ (1977). Group sequential methods in the design and analysis of clinical trials. Biometrika 64: 191-199.";
/// Limits that begin far out.
// From memory.
pub const OBRIEN_FLEMING_1979: &str =
    "O'Brien PC, Fleming TR (1979). A multiple testing procedure for clinical trials. Biometrics 35: 549-556.";
/// What repeated looks do to a test.
// From memory.
pub const ARMITAGE_1969: &str = "Armitage P, McPherson CK, Rowe BC (1969). Repeated significance tests on accumulating data. Journal of the Royal Statistical Society A 132: 235-244.";

/// Stopping by the chance that is left.
// From memory.
pub const LAN_SIMON_HALPERIN_1982: &str = "Lan KKG, Simon R, Halperin M (1982). Stochastically curtailed tests in long-term clinical trials. Communications in Statistics C 1: 207-219.";

/// Every citation, in the order above.
pub const ALL: &[&str] = &[COCHRAN_1977, POCOCK_1977, OBRIEN_FLEMING_1979, ARMITAGE_1969, LAN_SIMON_HALPERIN_1982];
