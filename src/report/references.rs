//! Full citations, one constant each, for methods texts and `references` lists.
//!
//! The comment above each constant says where authors, year, title, journal, volume and pages were confirmed, or that
//! they were written from memory. A new entry needs such a comment; `tests/rust/report.rs` looks for it.

/// The score interval for a proportion.
// Confirmed: reference lists of general statistics libraries and course notes.
pub const WILSON_1927: &str = "Wilson EB (1927). Probable inference, the law of succession, and statistical inference. Journal of the American Statistical Association 22: 209-212.";
/// The exact interval for a proportion.
// Confirmed: reference lists of general statistics libraries and course notes.
pub const CLOPPER_PEARSON_1934: &str = "Clopper CJ, Pearson ES (1934). The use of confidence or fiducial limits illustrated in the case of the binomial. Biometrika 26: 404-413.";
/// The interval from the invariant prior.
// Confirmed: author, year, title and edition, by reference lists of general statistics libraries; some name the
// publisher Oxford University Press, whose imprint Clarendon Press is (imprint from memory, not confirmed).
pub const JEFFREYS_1961: &str = "Jeffreys H (1961). Theory of Probability, 3rd edition. Clarendon Press, Oxford.";
/// Comparison of intervals for a proportion.
// Confirmed: reference lists of general statistics libraries and course notes.
pub const BROWN_CAI_DASGUPTA_2001: &str = "Brown LD, Cai TT, DasGupta A (2001). Interval estimation for a binomial proportion. Statistical Science 16: 101-133.";
/// The adjusted interval for a proportion.
// Confirmed: reference lists of general statistics libraries and course notes.
pub const AGRESTI_COULL_1998: &str = "Agresti A, Coull BA (1998). Approximate is better than \"exact\" for interval estimation of binomial proportions. The American Statistician 52: 119-126.";
/// The adjusted interval for a difference.
// Confirmed: reference lists of general statistics libraries and course notes.
pub const AGRESTI_CAFFO_2000: &str = "Agresti A, Caffo B (2000). Simple and effective confidence intervals for proportions and differences of proportions result from adding two successes and two failures. The American Statistician 54: 280-288.";
/// Shorter exact intervals.
// Confirmed: reference lists of general statistics libraries and course notes.
pub const BLAKER_2000: &str = "Blaker H (2000). Confidence curves and improved exact confidence intervals for discrete distributions. Canadian Journal of Statistics 28: 783-798.";
/// Mid-P intervals.
// Confirmed: reference lists of general statistics libraries and course notes.
pub const BERRY_ARMITAGE_1995: &str =
    "Berry G, Armitage P (1995). Mid-P confidence intervals: a brief review. The Statistician 44: 417-423.";
/// The mid-P idea.
// Confirmed: reference lists of general statistics libraries and course notes.
pub const LANCASTER_1961: &str = "Lancaster HO (1961). Significance tests in discrete distributions. Journal of the American Statistical Association 56: 223-234.";
/// Exact intervals with an effective sample size.
// Confirmed: reference lists of general statistics libraries and course notes.
pub const KORN_GRAUBARD_1998: &str = "Korn EL, Graubard BI (1998). Confidence intervals for proportions with small expected number of positive counts estimated from survey data. Survey Methodology 24: 193-201.";
/// Intervals for a proportion.
// Confirmed: reference lists of general statistics libraries, and the source of a reference data set.
pub const NEWCOMBE_1998A: &str = "Newcombe RG (1998). Two-sided confidence intervals for the single proportion: comparison of seven methods. Statistics in Medicine 17: 857-872.";
/// Intervals for a difference of proportions.
// Confirmed: reference lists of general statistics libraries, and the source of a reference data set.
pub const NEWCOMBE_1998B: &str = "Newcombe RG (1998). Interval estimation for the difference between independent proportions: comparison of eleven methods. Statistics in Medicine 17: 873-890.";
/// Score intervals for differences and ratios.
// Confirmed: reference lists of general statistics libraries and course notes.
pub const MIETTINEN_NURMINEN_1985: &str =
    "Miettinen O, Nurminen M (1985). Comparative analysis of two rates. Statistics in Medicine 4: 213-226.";
/// The score interval for a difference, without the variance factor.
// Confirmed: reference lists of general statistics libraries and course notes.
pub const MEE_1984: &str =
    "Mee RW (1984). Confidence bounds for the difference between two probabilities. Biometrics 40: 1175-1176.";
/// The score interval for a ratio.
// Confirmed: reference lists of general statistics libraries and course notes.
pub const KOOPMAN_1984: &str =
    "Koopman PAR (1984). Confidence intervals for the ratio of two binomial proportions. Biometrics 40: 513-517.";
/// The log interval for a ratio.
// Confirmed: reference lists of general statistics libraries and course notes.
pub const KATZ_1978: &str = "Katz D, Baptista J, Azen SP, Pike MC (1978). Obtaining confidence intervals for the risk ratio in cohort studies. Biometrics 34: 469-474.";
/// The log odds ratio and its variance.
// Confirmed: reference lists of general statistics libraries and course notes.
pub const WOOLF_1955: &str =
    "Woolf B (1955). On estimating the relation between blood group and disease. Annals of Human Genetics 19: 251-253.";
/// The score interval for an odds ratio.
// Confirmed: reference lists of general statistics libraries and course notes.
pub const CORNFIELD_1956: &str = "Cornfield J (1956). A statistical problem arising from retrospective studies. Proceedings of the Third Berkeley Symposium on Mathematical Statistics and Probability 4: 135-148.";
/// Exact intervals for a difference.
// Confirmed: reference lists of general statistics libraries and course notes.
pub const CHAN_ZHANG_1999: &str = "Chan ISF, Zhang Z (1999). Test-based exact confidence intervals for the difference of two binomial proportions. Biometrics 55: 1202-1209.";
/// The chi-square test.
// Confirmed: reference lists of general statistics libraries and course notes.
pub const PEARSON_1900: &str = "Pearson K (1900). On the criterion that a given system of deviations from the probable in the case of a correlated system of variables is such that it can be reasonably supposed to have arisen from random sampling. Philosophical Magazine Series 5, 50: 157-175.";
/// The exact test; randomisation as the basis of a test.
// Confirmed: reference lists of general statistics libraries and course notes.
pub const FISHER_1935: &str = "Fisher RA (1935). The Design of Experiments. Oliver and Boyd, Edinburgh.";
/// The continuity correction.
// Confirmed: reference lists of general statistics libraries and course notes.
pub const YATES_1934: &str = "Yates F (1934). Contingency tables involving small numbers and the chi-square test. Supplement to the Journal of the Royal Statistical Society 1: 217-235.";
/// The unconditional test.
// Confirmed: reference lists of general statistics libraries and course notes.
pub const BARNARD_1947: &str = "Barnard GA (1947). Significance tests for 2 x 2 tables. Biometrika 34: 123-138.";
/// The unconditional test on the exact P value.
// Confirmed: reference lists of general statistics libraries and course notes.
pub const BOSCHLOO_1970: &str = "Boschloo RD (1970). Raised conditional level of significance for the 2 x 2-table when testing the equality of two probabilities. Statistica Neerlandica 24: 1-9.";
/// Strengthened chi-square tests.
// Confirmed: reference lists of general statistics libraries and course notes.
pub const COCHRAN_1954: &str =
    "Cochran WG (1954). Some methods for strengthening the common chi-square tests. Biometrics 10: 417-451.";
/// The test for a linear trend in proportions.
// Confirmed: reference lists of general statistics libraries and course notes.
pub const ARMITAGE_1955: &str =
    "Armitage P (1955). Tests for linear trends in proportions and frequencies. Biometrics 11: 375-386.";
/// The stratified test and odds ratio.
// Confirmed: reference lists of general statistics libraries and course notes.
pub const MANTEL_HAENSZEL_1959: &str = "Mantel N, Haenszel W (1959). Statistical aspects of the analysis of data from retrospective studies of disease. Journal of the National Cancer Institute 22: 719-748.";
/// Homogeneity of odds ratios.
// Confirmed: reference lists of general statistics libraries and course notes.
pub const BRESLOW_DAY_1980: &str = "Breslow NE, Day NE (1980). Statistical Methods in Cancer Research, Volume 1: The Analysis of Case-Control Studies. International Agency for Research on Cancer, Lyon.";
/// The corrected homogeneity test.
// Confirmed: reference lists of general statistics libraries and course notes.
pub const TARONE_1985: &str =
    "Tarone RE (1985). On heterogeneity tests based on efficient scores. Biometrika 72: 91-95.";
/// Variance of the stratified odds ratio.
// Confirmed: reference lists of general statistics libraries and course notes.
pub const ROBINS_BRESLOW_GREENLAND_1986: &str = "Robins J, Breslow N, Greenland S (1986). Estimators of the Mantel-Haenszel variance consistent in both sparse data and large-strata limiting models. Biometrics 42: 311-323.";
/// The test for paired proportions.
// Confirmed: reference lists of general statistics libraries and course notes.
pub const MCNEMAR_1947: &str = "McNemar Q (1947). Note on the sampling error of the difference between correlated proportions or percentages. Psychometrika 12: 153-157.";
/// The score interval for paired proportions.
// Confirmed: reference lists of general statistics libraries and course notes.
pub const TANGO_1998: &str = "Tango T (1998). Equivalence test and confidence interval for the difference in proportions for the paired-sample design. Statistics in Medicine 17: 891-908.";
/// Intervals for a difference of paired proportions.
// Confirmed: reference lists of general statistics libraries and course notes.
pub const NEWCOMBE_1998C: &str = "Newcombe RG (1998). Improved confidence intervals for the difference between binomial proportions based on paired data. Statistics in Medicine 17: 2635-2650.";
/// Penalised likelihood, finite under separation.
// Confirmed: reference lists of general statistics libraries and course notes.
pub const FIRTH_1993: &str = "Firth D (1993). Bias reduction of maximum likelihood estimates. Biometrika 80: 27-38.";
/// Penalised likelihood against separation.
// Confirmed: reference lists of general statistics libraries, and the source of a reference data set.
pub const HEINZE_SCHEMPER_2002: &str = "Heinze G, Schemper M (2002). A solution to the problem of separation in logistic regression. Statistics in Medicine 21: 2409-2419.";
/// When estimates exist.
// Confirmed: reference lists of general statistics libraries and course notes.
pub const ALBERT_ANDERSON_1984: &str = "Albert A, Anderson JA (1984). On the existence of maximum likelihood estimates in logistic regression models. Biometrika 71: 1-10.";
/// Generalised linear models and quasi-likelihood.
// Confirmed: reference lists of general statistics libraries and course notes.
pub const MCCULLAGH_NELDER_1989: &str =
    "McCullagh P, Nelder JA (1989). Generalized Linear Models, 2nd edition. Chapman and Hall, London.";
/// Beta-binomial law of trays.
// Confirmed: reference list of a general statistics library (author, year, title, journal, volume).
pub const SKELLAM_1948: &str = "Skellam JG (1948). A probability distribution derived from the binomial distribution by regarding the probability of success as variable between the sets of trials. Journal of the Royal Statistical Society B 10: 257-261.";
/// Quadrature and Laplace's approximation for random effects.
// Confirmed: reference lists of public papers and general statistics libraries.
pub const PINHEIRO_CHAO_2006: &str = "Pinheiro JC, Chao EC (2006). Efficient Laplacian and adaptive Gaussian quadrature algorithms for multilevel generalized linear mixed models. Journal of Computational and Graphical Statistics 15: 58-81.";
/// Averages over the other factors: adjusted rates.
// Confirmed: reference lists of general statistics libraries and course notes.
pub const LANE_NELDER_1982: &str = "Lane PW, Nelder JA (1982). Analysis of covariance and standardization as instances of prediction. Biometrics 38: 613-621.";
/// Effects are judged beside all effects that do not contain them.
// Confirmed: reference lists of general statistics libraries and course notes.
pub const NELDER_1977: &str =
    "Nelder JA (1977). A reformulation of linear models. Journal of the Royal Statistical Society Series A 140: 48-77.";
/// Quasi-likelihood.
// Confirmed: reference lists of general statistics libraries and course notes.
pub const WEDDERBURN_1974: &str = "Wedderburn RWM (1974). Quasi-likelihood functions, generalized linear models, and the Gauss-Newton method. Biometrika 61: 439-447.";
/// Overdispersion between trays.
// Confirmed: reference lists of general statistics libraries and course notes.
pub const WILLIAMS_1982: &str =
    "Williams DA (1982). Extra-binomial variation in logistic linear models. Applied Statistics 31: 144-148.";
/// Beta-binomial analysis of proportions; the seed plates.
// Confirmed: reference lists of general statistics libraries, and the source of a reference data set.
pub const CROWDER_1978: &str = "Crowder MJ (1978). Beta-binomial anova for proportions. Applied Statistics 27: 34-37.";
/// Profile-likelihood intervals.
// Confirmed: reference lists of general statistics libraries and course notes.
pub const VENZON_MOOLGAVKAR_1988: &str = "Venzon DJ, Moolgavkar SH (1988). A method for computing profile-likelihood-based confidence intervals. Applied Statistics 37: 87-94.";
/// Level of the rates of a penalised fit.
// Confirmed: reference lists of public papers and general statistics libraries.
pub const PUHR_2017: &str = "Puhr R, Heinze G, Nold M, Lusa L, Geroldinger A (2017). Firth's logistic regression with rare events: accurate effect estimates and predictions? Statistics in Medicine 36: 2302-2317.";
/// The score test.
// Confirmed: reference lists of public papers and general statistics libraries.
pub const RAO_1948: &str = "Rao CR (1948). Large sample tests of statistical hypotheses concerning several parameters with applications to problems of estimation. Mathematical Proceedings of the Cambridge Philosophical Society 44: 50-57.";
/// The likelihood ratio test.
// Confirmed: reference lists of general statistics libraries and course notes.
pub const WILKS_1938: &str = "Wilks SS (1938). The large-sample distribution of the likelihood ratio for testing composite hypotheses. Annals of Mathematical Statistics 9: 60-62.";
/// Tests and intervals when whole trays are assigned.
// Confirmed: reference lists of general statistics libraries and course notes.
pub const DONNER_KLAR_2000: &str =
    "Donner A, Klar N (2000). Design and Analysis of Cluster Randomization Trials in Health Research. Arnold, London.";
/// Counts divided by the design effect.
// Confirmed: reference lists of general statistics libraries, and the source of a reference data set.
pub const RAO_SCOTT_1992: &str =
    "Rao JNK, Scott AJ (1992). A simple method for the analysis of clustered binary data. Biometrics 48: 577-585.";
/// Cuttings counted as if they were units: pseudoreplication.
// Confirmed: a public bibliography entry with its publisher's record.
pub const HURLBERT_1984: &str = "Hurlbert SH (1984). Pseudoreplication and the design of ecological field experiments. Ecological Monographs 54: 187-211.";
/// The unequal-variance t test.
// Confirmed: reference lists of general statistics libraries and course notes.
pub const WELCH_1947: &str = "Welch BL (1947). The generalization of \"Student's\" problem when several different population variances are involved. Biometrika 34: 28-35.";
/// Variance components by sums of squares.
// Author, title, journal, volume and pages from memory, not confirmed.
pub const HENDERSON_1953: &str =
    "Henderson CR (1953). Estimation of variance and covariance components. Biometrics 9: 226-252.";
/// Degrees of freedom of F over several error terms.
// Author, title, journal, volume and pages from memory, not confirmed.
pub const FAI_CORNELIUS_1996: &str = "Fai AH, Cornelius PL (1996). Approximate F-tests of multiple degree of freedom hypotheses in generalized least squares analyses of unbalanced split-plot experiments. Journal of Statistical Computation and Simulation 54: 363-378.";
/// Approximate degrees of freedom.
// Confirmed: reference lists of general statistics libraries and course notes.
pub const SATTERTHWAITE_1946: &str = "Satterthwaite FE (1946). An approximate distribution of estimates of variance components. Biometrics Bulletin 2: 110-114.";
/// P values of drawn permutations are never zero.
// Confirmed: reference lists of general statistics libraries and course notes.
pub const PHIPSON_SMYTH_2010: &str = "Phipson B, Smyth GK (2010). Permutation P-values should never be zero: calculating exact P-values when permutations are randomly drawn. Statistical Applications in Genetics and Molecular Biology 9: Article 39.";
/// Interaction in a three-way table; the plum root cuttings.
// Confirmed: reference lists of general statistics libraries, and the source of a reference data set.
pub const BARTLETT_1935: &str = "Bartlett MS (1935). Contingency table interactions. Supplement to the Journal of the Royal Statistical Society 2: 248-252.";
/// The plum root cuttings.
// Confirmed: authors, year, journal, volume and pages, by the source of a reference data set. The title is from
// memory, not confirmed.
pub const HOBLYN_PALMER_1934: &str = "Hoblyn TN, Palmer RC (1934). A complex experiment in the propagation of plum rootstocks from root cuttings. Journal of Pomology and Horticultural Science 12: 36-56.";
/// Step-down adjustment for several comparisons.
// Confirmed: reference lists of general statistics libraries and course notes.
pub const HOLM_1979: &str = "Holm S (1979). A simple sequentially rejective multiple test procedure. Scandinavian Journal of Statistics 6: 65-70.";
/// The false discovery rate.
// Confirmed: reference lists of general statistics libraries and course notes.
pub const BENJAMINI_HOCHBERG_1995: &str = "Benjamini Y, Hochberg Y (1995). Controlling the false discovery rate: a practical and powerful approach to multiple testing. Journal of the Royal Statistical Society Series B 57: 289-300.";
/// Several treatments against one control.
// Confirmed: reference lists of general statistics libraries, and the source of a reference data set.
pub const DUNNETT_1955: &str = "Dunnett CW (1955). A multiple comparison procedure for comparing several treatments with a control. Journal of the American Statistical Association 50: 1096-1121.";
/// Comparing all means.
// Confirmed: reference lists of general statistics libraries and course notes.
pub const TUKEY_1949: &str =
    "Tukey JW (1949). Comparing individual means in the analysis of variance. Biometrics 5: 99-114.";
/// Compact letters.
// Confirmed: reference lists of general statistics libraries and course notes.
pub const PIEPHO_2004: &str = "Piepho HP (2004). An algorithm for a letter-based representation of all-pairwise comparisons. Journal of Computational and Graphical Statistics 13: 456-466.";
/// Two one-sided tests of equivalence.
// Confirmed: reference lists of general statistics libraries and course notes.
pub const SCHUIRMANN_1987: &str = "Schuirmann DJ (1987). A comparison of the two one-sided tests procedure and the power approach for assessing the equivalence of average bioavailability. Journal of Pharmacokinetics and Biopharmaceutics 15: 657-680.";

/// Limits from the values of all subsets.
// Confirmed: reference lists of public papers and general statistics libraries.
pub const HARTIGAN_1969: &str = "Hartigan JA (1969). Using subsample values as typical values. Journal of the American Statistical Association 64: 1303-1317.";
/// Step-up adjustment for several comparisons.
// Confirmed: reference lists of general statistics libraries; some of them end the pages at 803.
pub const HOCHBERG_1988: &str =
    "Hochberg Y (1988). A sharper Bonferroni procedure for multiple tests of significance. Biometrika 75: 800-802.";
/// Adjustment by closed testing.
// Confirmed: reference lists of general statistics libraries.
pub const HOMMEL_1988: &str = "Hommel G (1988). A stagewise rejective multiple test procedure based on a modified Bonferroni test. Biometrika 75: 383-386.";
/// Adjusted P values.
// Confirmed: reference lists of general statistics libraries.
pub const WRIGHT_1992: &str =
    "Wright SP (1992). Adjusted P-values for simultaneous inference. Biometrics 48: 1005-1013.";
/// Joint confidence regions.
// Confirmed: reference lists of general statistics libraries.
pub const SIDAK_1967: &str = "Šidák Z (1967). Rectangular confidence regions for the means of multivariate normal distributions. Journal of the American Statistical Association 62: 626-633.";
/// The false discovery rate under dependence.
// Confirmed: reference lists of general statistics libraries.
pub const BENJAMINI_YEKUTIELI_2001: &str = "Benjamini Y, Yekutieli D (2001). The control of the false discovery rate in multiple testing under dependency. Annals of Statistics 29: 1165-1188.";
/// Simultaneous intervals from an inequality.
// Confirmed: author, year, title, journal, volume and pages, in the reference list of a statistics course.
pub const DUNN_1961: &str =
    "Dunn OJ (1961). Multiple comparisons among means. Journal of the American Statistical Association 56: 52-64.";
/// Contrasts judged together by their joint distribution.
// Confirmed: reference lists of public papers and general statistics libraries.
pub const HOTHORN_BRETZ_WESTFALL_2008: &str = "Hothorn T, Bretz F, Westfall P (2008). Simultaneous inference in general parametric models. Biometrical Journal 50: 346-363.";
/// All pairs of unequal groups by the studentised range.
// Confirmed: reference lists of public papers and general statistics libraries.
pub const KRAMER_1956: &str = "Kramer CY (1956). Extension of multiple range tests to group means with unequal numbers of replications. Biometrics 12: 307-310.";
/// All contrasts of a space at once.
// Confirmed: reference lists of public papers; some of them end the pages at 110.
pub const SCHEFFE_1953: &str =
    "Scheffé H (1953). A method for judging all contrasts in the analysis of variance. Biometrika 40: 87-104.";
/// The fewest letters.
// Confirmed: reference lists of public papers; some of them give 2007, when it was first online.
pub const GRAMM_2008: &str = "Gramm J, Guo J, Hüffner F, Niedermeier R, Piepho HP, Schmid R (2008). Algorithms for compact letter displays: comparison and evaluation. Computational Statistics and Data Analysis 52: 725-736.";
/// Chi-square tests with estimated design effects.
// Confirmed: reference lists of general statistics libraries; some of them leave "cell" out of the title.
pub const RAO_SCOTT_1984: &str = "Rao JNK, Scott AJ (1984). On chi-squared tests for multiway contingency tables with cell proportions estimated from survey data. Annals of Statistics 12: 46-60.";
/// F forms of the same.
// Confirmed: reference lists of public papers and general statistics libraries.
pub const THOMAS_RAO_1987: &str = "Thomas DR, Rao JNK (1987). Small-sample comparisons of level and power for simple goodness-of-fit statistics under cluster sampling. Journal of the American Statistical Association 82: 630-636.";
/// The chi-square test adjusted for the correlation within clusters.
// Author and year confirmed by public documents; title, journal, volume and pages from memory, not confirmed.
pub const DONNER_1989: &str =
    "Donner A (1989). Statistical methods in ophthalmology: an adjusted chi-square approach. Biometrics 45: 605-611.";
/// Review of the intraclass correlation.
// Confirmed: reference lists of public papers and general statistics libraries.
pub const DONNER_1986: &str = "Donner A (1986). A review of inference procedures for the intraclass correlation coefficient in the one-way random effects model. International Statistical Review 54: 67-82.";
/// The beta-binomial law below zero correlation.
// Author, year and the first part of the title confirmed by public documents; the rest from memory, not confirmed.
pub const PRENTICE_1986: &str = "Prentice RL (1986). Binary regression using an extended beta-binomial distribution, with discussion of correlation induced by covariate measurement errors. Journal of the American Statistical Association 81: 321-327.";
/// Likelihood ratio tests at an edge.
// Confirmed: reference lists of public papers and general statistics libraries.
pub const SELF_LIANG_1987: &str = "Self SG, Liang KY (1987). Asymptotic properties of maximum likelihood estimators and likelihood ratio tests under nonstandard conditions. Journal of the American Statistical Association 82: 605-610.";
/// The analysis of variance behind the intraclass correlation.
// Confirmed: author, year, title and publisher, by reference lists of public papers; the city is from memory.
pub const SEARLE_1971: &str = "Searle SR (1971). Linear Models. Wiley, New York.";

/// Randomised quantile residuals.
// Confirmed: reference lists of public papers and general statistics libraries.
pub const DUNN_SMYTH_1996: &str = "Dunn PK, Smyth GK (1996). Randomized quantile residuals. Journal of Computational and Graphical Statistics 5: 236-244.";
/// Leverage and one-step influence in logistic regression.
// Confirmed: reference lists of public papers and general statistics libraries.
pub const PREGIBON_1981: &str = "Pregibon D (1981). Logistic regression diagnostics. Annals of Statistics 9: 705-724.";
/// The test of the link.
// Confirmed: reference lists of public papers; some of them end the pages at 23.
pub const PREGIBON_1980: &str =
    "Pregibon D (1980). Goodness of link tests for generalized linear models. Applied Statistics 29: 15-24.";
/// The distance of one observation.
// Confirmed: reference lists of public papers and general statistics libraries.
pub const COOK_1977: &str =
    "Cook RD (1977). Detection of influential observation in linear regression. Technometrics 19: 15-18.";
/// The test of calibration in groups.
// Confirmed: reference lists of public papers and general statistics libraries.
pub const HOSMER_LEMESHOW_1980: &str = "Hosmer DW, Lemeshow S (1980). Goodness of fit tests for the multiple logistic regression model. Communications in Statistics - Theory and Methods 9: 1043-1069.";
/// The information criterion.
// Confirmed: reference lists of public papers and general statistics libraries.
pub const AKAIKE_1974: &str = "Akaike H (1974). A new look at the statistical model identification. IEEE Transactions on Automatic Control 19: 716-723.";
/// Its correction for few observations.
// Confirmed: reference lists of public papers and general statistics libraries.
pub const HURVICH_TSAI_1989: &str =
    "Hurvich CM, Tsai CL (1989). Regression and time series model selection in small samples. Biometrika 76: 297-307.";
/// The criterion that weighs parameters by the number of observations.
// Confirmed: reference lists of public papers and general statistics libraries.
pub const SCHWARZ_1978: &str =
    "Schwarz G (1978). Estimating the dimension of a model. Annals of Statistics 6: 461-464.";
/// Bootstrap tests.
// Confirmed: reference lists of public papers and general statistics libraries.
pub const DAVISON_HINKLEY_1997: &str =
    "Davison AC, Hinkley DV (1997). Bootstrap Methods and their Application. Cambridge University Press, Cambridge.";
/// The bias-reduced covariance of clustered data.
// Confirmed: reference lists of public papers; some of them end the pages at 182.
pub const BELL_MCCAFFREY_2002: &str = "Bell RM, McCaffrey DF (2002). Bias reduction in standard errors for linear regression with multi-stage samples. Survey Methodology 28: 169-181.";
/// Its degrees of freedom and joint tests.
// Confirmed: reference lists of public papers and general statistics libraries.
pub const PUSTEJOVSKY_TIPTON_2018: &str = "Pustejovsky JE, Tipton E (2018). Small-sample methods for cluster-robust variance estimation and hypothesis testing in fixed effects models. Journal of Business and Economic Statistics 36: 672-683.";
/// Limits of a ratio.
// Confirmed: reference lists of public papers and general statistics libraries.
pub const FIELLER_1954: &str = "Fieller EC (1954). Some problems in interval estimation. Journal of the Royal Statistical Society Series B 16: 175-185.";
/// Dose and response, median effective doses, natural response, relative potency.
// Confirmed: reference lists of public papers and general statistics libraries.
pub const FINNEY_1971: &str = "Finney DJ (1971). Probit Analysis, 3rd edition. Cambridge University Press, Cambridge.";
/// Response without the substance taken out.
// Confirmed: reference lists of public papers and general statistics libraries.
pub const ABBOTT_1925: &str = "Abbott WS (1925). A method of computing the effectiveness of an insecticide. Journal of Economic Entomology 18: 265-267.";
/// A curve that rises before it falls.
// Confirmed: reference lists of public papers and general statistics libraries.
pub const BRAIN_COUSENS_1989: &str = "Brain P, Cousens R (1989). An equation to describe dose responses where there is stimulation of growth at low doses. Weed Research 29: 93-96.";
/// Estimates averaged over models.
// Confirmed: reference lists of public papers and general statistics libraries.
pub const BUCKLAND_BURNHAM_AUGUSTIN_1997: &str = "Buckland ST, Burnham KP, Augustin NH (1997). Model selection: an integral part of inference. Biometrics 53: 603-618.";
/// Rates that only rise.
// Confirmed: reference lists of public papers and general statistics libraries.
pub const AYER_1955: &str = "Ayer M, Brunk HD, Ewing GM, Reid WT, Silverman E (1955). An empirical distribution function for sampling with incomplete information. Annals of Mathematical Statistics 26: 641-647.";

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
    MEE_1984,
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
    LANE_NELDER_1982,
    NELDER_1977,
    WEDDERBURN_1974,
    SKELLAM_1948,
    PINHEIRO_CHAO_2006,
    WILLIAMS_1982,
    CROWDER_1978,
    VENZON_MOOLGAVKAR_1988,
    PUHR_2017,
    RAO_1948,
    WILKS_1938,
    DONNER_KLAR_2000,
    RAO_SCOTT_1992,
    HURLBERT_1984,
    WELCH_1947,
    HENDERSON_1953,
    FAI_CORNELIUS_1996,
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
    HARTIGAN_1969,
    HOCHBERG_1988,
    HOMMEL_1988,
    WRIGHT_1992,
    SIDAK_1967,
    BENJAMINI_YEKUTIELI_2001,
    DUNN_1961,
    HOTHORN_BRETZ_WESTFALL_2008,
    KRAMER_1956,
    SCHEFFE_1953,
    GRAMM_2008,
    RAO_SCOTT_1984,
    THOMAS_RAO_1987,
    DONNER_1989,
    DONNER_1986,
    PRENTICE_1986,
    SELF_LIANG_1987,
    SEARLE_1971,
    DUNN_SMYTH_1996,
    PREGIBON_1981,
    PREGIBON_1980,
    COOK_1977,
    HOSMER_LEMESHOW_1980,
    AKAIKE_1974,
    HURVICH_TSAI_1989,
    SCHWARZ_1978,
    DAVISON_HINKLEY_1997,
    BELL_MCCAFFREY_2002,
    PUSTEJOVSKY_TIPTON_2018,
    FIELLER_1954,
    FINNEY_1971,
    ABBOTT_1925,
    BRAIN_COUSENS_1989,
    BUCKLAND_BURNHAM_AUGUSTIN_1997,
    AYER_1955,
];

/// What to cite for an interval or test known by its authors' name (the names `method=` accepts); nothing for a name
/// that carries no citation of its own.
///
/// ```
/// use rootling::report::references;
/// assert_eq!(references::of_method("wilson"), [references::WILSON_1927]);
/// assert!(references::of_method("unheard of").is_empty());
/// ```
#[must_use]
pub fn of_method(name: &str) -> &'static [&'static str] {
    match name {
        "wilson" => &[WILSON_1927],
        "wilson-corrected" => &[NEWCOMBE_1998A],
        "clopper-pearson" => &[CLOPPER_PEARSON_1934],
        "mid-p" => &[LANCASTER_1961, BERRY_ARMITAGE_1995],
        "jeffreys" => &[JEFFREYS_1961, BROWN_CAI_DASGUPTA_2001],
        "agresti-coull" => &[AGRESTI_COULL_1998],
        "blaker" => &[BLAKER_2000],
        "wald" => &[BROWN_CAI_DASGUPTA_2001],
        "likelihood" => &[WILKS_1938],
        "miettinen-nurminen" => &[MIETTINEN_NURMINEN_1985],
        "mee" => &[MEE_1984],
        "newcombe" | "newcombe-corrected" => &[NEWCOMBE_1998B],
        "agresti-caffo" => &[AGRESTI_CAFFO_2000],
        "exact" => &[CHAN_ZHANG_1999],
        "koopman" => &[KOOPMAN_1984],
        "log" => &[KATZ_1978],
        "woolf" => &[WOOLF_1955],
        "conditional-exact" | "score" => &[CORNFIELD_1956],
        "pearson" => &[PEARSON_1900],
        "yates" => &[YATES_1934],
        "fisher" => &[FISHER_1935],
        "barnard" => &[BARNARD_1947],
        "boschloo" => &[BOSCHLOO_1970],
        "mcnemar" => &[MCNEMAR_1947],
        "tango" => &[TANGO_1998],
        "welch" => &[WELCH_1947, SATTERTHWAITE_1946],
        "three-way" => &[BARTLETT_1935],
        "holm" => &[HOLM_1979],
        "benjamini-hochberg" => &[BENJAMINI_HOCHBERG_1995],
        "dunnett" => &[DUNNETT_1955],
        "tukey" => &[TUKEY_1949],
        _ => &[],
    }
}

/// A method's name as a sentence writes it: names of people with capitals, all else as it is.
/// ```
/// assert_eq!(rootling::report::references::spoken("miettinen-nurminen"), "Miettinen-Nurminen");
/// ```
#[must_use]
pub fn spoken(name: &str) -> String {
    let part = |part: &str| match part {
        "p" => "P".to_owned(),
        "mid" | "corrected" | "likelihood" | "exact" | "log" | "score" | "conditional" | "way" | "three" => {
            part.to_owned()
        }
        person => super::capital(person),
    };
    name.split('-').map(part).collect::<Vec<_>>().join("-")
}
