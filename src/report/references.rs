//! Full citations, one constant each, for methods texts and `references` lists.

/// The score interval for a proportion.
pub const WILSON_1927: &str = "Wilson EB (1927). Probable inference, the law of succession, and statistical inference. Journal of the American Statistical Association 22: 209-212.";
/// The exact interval for a proportion.
pub const CLOPPER_PEARSON_1934: &str = "Clopper CJ, Pearson ES (1934). The use of confidence or fiducial limits illustrated in the case of the binomial. Biometrika 26: 404-413.";
/// The interval from the invariant prior.
pub const JEFFREYS_1961: &str = "Jeffreys H (1961). Theory of Probability, 3rd edition. Clarendon Press, Oxford.";
/// Comparison of intervals for a proportion.
pub const BROWN_CAI_DASGUPTA_2001: &str = "Brown LD, Cai TT, DasGupta A (2001). Interval estimation for a binomial proportion. Statistical Science 16: 101-133.";
/// The adjusted interval for a proportion.
pub const AGRESTI_COULL_1998: &str = "Agresti A, Coull BA (1998). Approximate is better than \"exact\" for interval estimation of binomial proportions. The American Statistician 52: 119-126.";
/// The adjusted interval for a difference.
pub const AGRESTI_CAFFO_2000: &str = "Agresti A, Caffo B (2000). Simple and effective confidence intervals for proportions and differences of proportions result from adding two successes and two failures. The American Statistician 54: 280-288.";
/// Shorter exact intervals.
pub const BLAKER_2000: &str = "Blaker H (2000). Confidence curves and improved exact confidence intervals for discrete distributions. Canadian Journal of Statistics 28: 783-798.";
/// Mid-P intervals.
pub const BERRY_ARMITAGE_1995: &str =
    "Berry G, Armitage P (1995). Mid-P confidence intervals: a brief review. The Statistician 44: 417-423.";
/// The mid-P idea.
pub const LANCASTER_1961: &str = "Lancaster HO (1961). Significance tests in discrete distributions. Journal of the American Statistical Association 56: 223-234.";
/// Exact intervals with an effective sample size.
pub const KORN_GRAUBARD_1998: &str = "Korn EL, Graubard BI (1998). Confidence intervals for proportions with small expected number of positive counts estimated from survey data. Survey Methodology 24: 193-201.";
/// Intervals for a proportion.
pub const NEWCOMBE_1998A: &str = "Newcombe RG (1998). Two-sided confidence intervals for the single proportion: comparison of seven methods. Statistics in Medicine 17: 857-872.";
/// Intervals for a difference of proportions.
pub const NEWCOMBE_1998B: &str = "Newcombe RG (1998). Interval estimation for the difference between independent proportions: comparison of eleven methods. Statistics in Medicine 17: 873-890.";
/// Score intervals for differences and ratios.
pub const MIETTINEN_NURMINEN_1985: &str =
    "Miettinen O, Nurminen M (1985). Comparative analysis of two rates. Statistics in Medicine 4: 213-226.";
/// The score interval for a ratio.
pub const KOOPMAN_1984: &str =
    "Koopman PAR (1984). Confidence intervals for the ratio of two binomial proportions. Biometrics 40: 513-517.";
/// The log interval for a ratio.
pub const KATZ_1978: &str = "Katz D, Baptista J, Azen SP, Pike MC (1978). Obtaining confidence intervals for the risk ratio in cohort studies. Biometrics 34: 469-474.";
/// The log odds ratio and its variance.
pub const WOOLF_1955: &str =
    "Woolf B (1955). On estimating the relation between blood group and disease. Annals of Human Genetics 19: 251-253.";
/// The score interval for an odds ratio.
pub const CORNFIELD_1956: &str = "Cornfield J (1956). A statistical problem arising from retrospective studies. Proceedings of the Third Berkeley Symposium on Mathematical Statistics and Probability 4: 135-148.";
/// Exact intervals for a difference.
pub const CHAN_ZHANG_1999: &str = "Chan ISF, Zhang Z (1999). Test-based exact confidence intervals for the difference of two binomial proportions. Biometrics 55: 1202-1209.";
/// The chi-square test.
pub const PEARSON_1900: &str = "Pearson K (1900). On the criterion that a given system of deviations from the probable in the case of a correlated system of variables is such that it can be reasonably supposed to have arisen from random sampling. Philosophical Magazine Series 5, 50: 157-175.";
/// The exact test; randomisation as the basis of a test.
pub const FISHER_1935: &str = "Fisher RA (1935). The Design of Experiments. Oliver and Boyd, Edinburgh.";
/// The continuity correction.
pub const YATES_1934: &str = "Yates F (1934). Contingency tables involving small numbers and the chi-square test. Supplement to the Journal of the Royal Statistical Society 1: 217-235.";
/// The unconditional test.
pub const BARNARD_1947: &str = "Barnard GA (1947). Significance tests for 2 x 2 tables. Biometrika 34: 123-138.";
/// The unconditional test on the exact P value.
pub const BOSCHLOO_1970: &str = "Boschloo RD (1970). Raised conditional level of significance for the 2 x 2-table when testing the equality of two probabilities. Statistica Neerlandica 24: 1-9.";
/// Strengthened chi-square tests.
pub const COCHRAN_1954: &str =
    "Cochran WG (1954). Some methods for strengthening the common chi-square tests. Biometrics 10: 417-451.";
/// The test for a linear trend in proportions.
pub const ARMITAGE_1955: &str =
    "Armitage P (1955). Tests for linear trends in proportions and frequencies. Biometrics 11: 375-386.";
/// The stratified test and odds ratio.
pub const MANTEL_HAENSZEL_1959: &str = "Mantel N, Haenszel W (1959). Statistical aspects of the analysis of data from retrospective studies of disease. Journal of the National Cancer Institute 22: 719-748.";
/// Homogeneity of odds ratios.
pub const BRESLOW_DAY_1980: &str = "Breslow NE, Day NE (1980). Statistical Methods in Cancer Research, Volume 1: The Analysis of Case-Control Studies. International Agency for Research on Cancer, Lyon.";
/// The corrected homogeneity test.
pub const TARONE_1985: &str =
    "Tarone RE (1985). On heterogeneity tests based on efficient scores. Biometrika 72: 91-95.";
/// Variance of the stratified odds ratio.
pub const ROBINS_BRESLOW_GREENLAND_1986: &str = "Robins J, Breslow N, Greenland S (1986). Estimators of the Mantel-Haenszel variance consistent in both sparse data and large-strata limiting models. Biometrics 42: 311-323.";
/// The test for paired proportions.
pub const MCNEMAR_1947: &str = "McNemar Q (1947). Note on the sampling error of the difference between correlated proportions or percentages. Psychometrika 12: 153-157.";
/// The score interval for paired proportions.
pub const TANGO_1998: &str = "Tango T (1998). Equivalence test and confidence interval for the difference in proportions for the paired-sample design. Statistics in Medicine 17: 891-908.";
/// Intervals for a difference of paired proportions.
pub const NEWCOMBE_1998C: &str = "Newcombe RG (1998). Improved confidence intervals for the difference between binomial proportions based on paired data. Statistics in Medicine 17: 2635-2650.";
/// Penalised likelihood, finite under separation.
pub const FIRTH_1993: &str = "Firth D (1993). Bias reduction of maximum likelihood estimates. Biometrika 80: 27-38.";
/// Penalised likelihood against separation.
pub const HEINZE_SCHEMPER_2002: &str = "Heinze G, Schemper M (2002). A solution to the problem of separation in logistic regression. Statistics in Medicine 21: 2409-2419.";
/// When estimates exist.
pub const ALBERT_ANDERSON_1984: &str = "Albert A, Anderson JA (1984). On the existence of maximum likelihood estimates in logistic regression models. Biometrika 71: 1-10.";
/// Generalised linear models and quasi-likelihood.
pub const MCCULLAGH_NELDER_1989: &str =
    "McCullagh P, Nelder JA (1989). Generalized Linear Models, 2nd edition. Chapman and Hall, London.";
/// Quasi-likelihood.
pub const WEDDERBURN_1974: &str = "Wedderburn RWM (1974). Quasi-likelihood functions, generalized linear models, and the Gauss-Newton method. Biometrika 61: 439-447.";
/// Overdispersion between trays.
pub const WILLIAMS_1982: &str =
    "Williams DA (1982). Extra-binomial variation in logistic linear models. Applied Statistics 31: 144-148.";
/// Beta-binomial analysis of proportions; the seed plates.
pub const CROWDER_1978: &str = "Crowder MJ (1978). Beta-binomial anova for proportions. Applied Statistics 27: 34-37.";
/// Profile-likelihood intervals.
pub const VENZON_MOOLGAVKAR_1988: &str = "Venzon DJ, Moolgavkar SH (1988). A method for computing profile-likelihood-based confidence intervals. Applied Statistics 37: 87-94.";
/// The likelihood ratio test.
pub const WILKS_1938: &str = "Wilks SS (1938). The large-sample distribution of the likelihood ratio for testing composite hypotheses. Annals of Mathematical Statistics 9: 60-62.";
/// Tests and intervals when whole trays are assigned.
pub const DONNER_KLAR_2000: &str =
    "Donner A, Klar N (2000). Design and Analysis of Cluster Randomization Trials in Health Research. Arnold, London.";
/// Counts divided by the design effect.
pub const RAO_SCOTT_1992: &str =
    "Rao JNK, Scott AJ (1992). A simple method for the analysis of clustered binary data. Biometrics 48: 577-585.";
/// Cuttings counted as if they were units: pseudoreplication.
pub const HURLBERT_1984: &str = "Hurlbert SH (1984). Pseudoreplication and the design of ecological field experiments. Ecological Monographs 54: 187-211.";
/// The unequal-variance t test.
pub const WELCH_1947: &str = "Welch BL (1947). The generalization of \"Student's\" problem when several different population variances are involved. Biometrika 34: 28-35.";
/// Approximate degrees of freedom.
pub const SATTERTHWAITE_1946: &str = "Satterthwaite FE (1946). An approximate distribution of estimates of variance components. Biometrics Bulletin 2: 110-114.";
/// P values of drawn permutations are never zero.
pub const PHIPSON_SMYTH_2010: &str = "Phipson B, Smyth GK (2010). Permutation P-values should never be zero: calculating exact P-values when permutations are randomly drawn. Statistical Applications in Genetics and Molecular Biology 9: Article 39.";
/// Interaction in a three-way table; the plum root cuttings.
pub const BARTLETT_1935: &str = "Bartlett MS (1935). Contingency table interactions. Supplement to the Journal of the Royal Statistical Society 2: 248-252.";
/// The plum root cuttings.
pub const HOBLYN_PALMER_1934: &str = "Hoblyn TN, Palmer RC (1934). A complex experiment in the propagation of plum rootstocks from root cuttings. Journal of Pomology and Horticultural Science 12: 36-56.";
/// Step-down adjustment for several comparisons.
pub const HOLM_1979: &str = "Holm S (1979). A simple sequentially rejective multiple test procedure. Scandinavian Journal of Statistics 6: 65-70.";
/// The false discovery rate.
pub const BENJAMINI_HOCHBERG_1995: &str = "Benjamini Y, Hochberg Y (1995). Controlling the false discovery rate: a practical and powerful approach to multiple testing. Journal of the Royal Statistical Society Series B 57: 289-300.";
/// Several treatments against one control.
pub const DUNNETT_1955: &str = "Dunnett CW (1955). A multiple comparison procedure for comparing several treatments with a control. Journal of the American Statistical Association 50: 1096-1121.";
/// Comparing all means.
pub const TUKEY_1949: &str =
    "Tukey JW (1949). Comparing individual means in the analysis of variance. Biometrics 5: 99-114.";
/// Compact letters.
pub const PIEPHO_2004: &str = "Piepho HP (2004). An algorithm for a letter-based representation of all-pairwise comparisons. Journal of Computational and Graphical Statistics 13: 456-466.";
/// Two one-sided tests of equivalence.
pub const SCHUIRMANN_1987: &str = "Schuirmann DJ (1987). A comparison of the two one-sided tests procedure and the power approach for assessing the equivalence of average bioavailability. Journal of Pharmacokinetics and Biopharmaceutics 15: 657-680.";

/// Every citation, in the order above.
pub const ALL: &[&str] = &[
    WILSON_1927,
    CLOPPER_PEARSON_1934,
    JEFFREYS_1961,
    BROWN_CAI_DASGUPTA_2001,
    AGRESTI_COULL_1998,
    AGRESTI_CAFFO_2000,
    BLAKER_2000,
    BERRY_ARMITAGE_1995,
    LANCASTER_1961,
    KORN_GRAUBARD_1998,
    NEWCOMBE_1998A,
    NEWCOMBE_1998B,
    MIETTINEN_NURMINEN_1985,
    KOOPMAN_1984,
    KATZ_1978,
    WOOLF_1955,
    CORNFIELD_1956,
    CHAN_ZHANG_1999,
    PEARSON_1900,
    FISHER_1935,
    YATES_1934,
    BARNARD_1947,
    BOSCHLOO_1970,
    COCHRAN_1954,
    ARMITAGE_1955,
    MANTEL_HAENSZEL_1959,
    BRESLOW_DAY_1980,
    TARONE_1985,
    ROBINS_BRESLOW_GREENLAND_1986,
    MCNEMAR_1947,
    TANGO_1998,
    NEWCOMBE_1998C,
    FIRTH_1993,
    HEINZE_SCHEMPER_2002,
    ALBERT_ANDERSON_1984,
    MCCULLAGH_NELDER_1989,
    WEDDERBURN_1974,
    WILLIAMS_1982,
    CROWDER_1978,
    VENZON_MOOLGAVKAR_1988,
    WILKS_1938,
    DONNER_KLAR_2000,
    RAO_SCOTT_1992,
    HURLBERT_1984,
    WELCH_1947,
    SATTERTHWAITE_1946,
    PHIPSON_SMYTH_2010,
    BARTLETT_1935,
    HOBLYN_PALMER_1934,
    HOLM_1979,
    BENJAMINI_HOCHBERG_1995,
    DUNNETT_1955,
    TUKEY_1949,
    PIEPHO_2004,
    SCHUIRMANN_1987,
];
