//! Citations about watching a crop; see [`super::references`].

/// Limits from the law of the sum given no signal.
// From memory: authors, year and journal.
pub const ZHANG_WOODALL_2015: &str = "Zhang X, Woodall WH (2015). Dynamic probability control limits for risk-adjusted Bernoulli CUSUM charts. Statistics in Medicine 34: 3336-3348.";
/// Promises given an estimated baseline.
// From memory.
pub const GANDY_KVALOY_2013: &str = "Gandy A, Kvaløy JT (2013). Guaranteed conditional performance of control charts via bootstrap methods. Scandinavian Journal of Statistics 40: 647-668.";
/// Sums of scores adjusted for what is expected.
// From memory.
pub const STEINER_2000: &str = "Steiner SH, Cook RJ, Farewell VT, Treasure T (2000). Monitoring surgical performance using risk-adjusted cumulative sum charts. Biostatistics 1: 441-452.";
/// Run lengths by a chain.
// From memory.
pub const BROOK_EVANS_1972: &str = "Brook D, Evans DA (1972). An approach to the probability distribution of cusum run length. Biometrika 59: 539-549.";
/// Sets of plausible weeks.
// From memory.
pub const SIEGMUND_1988: &str =
    "Siegmund D (1988). Confidence sets in change-point problems. International Statistical Review 56: 31-48.";
/// Parts of a difference of two rates.
// From memory.
pub const KITAGAWA_1955: &str = "Kitagawa EM (1955). Components of a difference between two rates. Journal of the American Statistical Association 50: 1168-1194.";
/// The same with several columns.
// Confirmed: title page of the report.
pub const DAS_GUPTA_1993: &str = "Das Gupta P (1993). Standardization and decomposition of rates: a user's manual. Current Population Reports, Special Studies P23-186. US Bureau of the Census.";
/// Likelihood adjusted for other parameters.
// From memory.
pub const COX_REID_1987: &str = "Cox DR, Reid N (1987). Parameter orthogonality and approximate conditional inference. Journal of the Royal Statistical Society B 49: 1-39.";

/// Run lengths of an exponentially weighted average.
// From memory.
pub const LUCAS_SACCUCCI_1990: &str = "Lucas JM, Saccucci MS (1990). Exponentially weighted moving average control schemes: properties and enhancements. Technometrics 32: 1-12.";
/// A spread between units by moments.
// From memory.
pub const DER_SIMONIAN_LAIRD_1986: &str =
    "DerSimonian R, Laird N (1986). Meta-analysis in clinical trials. Controlled Clinical Trials 7: 177-188.";

/// Residuals freed of what a fit takes up.
// From memory.
pub const MACKINNON_WHITE_1985: &str = "MacKinnon JG, White H (1985). Some heteroskedasticity-consistent covariance matrix estimators with improved finite sample properties. Journal of Econometrics 29: 305-325.";

/// Every citation, in the order above.
pub const ALL: &[&str] = &[
    ZHANG_WOODALL_2015,
    GANDY_KVALOY_2013,
    STEINER_2000,
    BROOK_EVANS_1972,
    SIEGMUND_1988,
    KITAGAWA_1955,
    DAS_GUPTA_1993,
    COX_REID_1987,
    LUCAS_SACCUCCI_1990,
    DER_SIMONIAN_LAIRD_1986,
    MACKINNON_WHITE_1985,
];
