//! Identifiers of works cited (DOI), beside the lines that lists show, so that records keep these lines as they are.
//!
//! All were written from memory; those with "confirmed" beside them were also found beside their work in public reference lists. Works whose
//! identifier was not sure are left out, and so are those that have none.

use super::{
    references as works, references_curves as of_curves, references_decide as of_decide,
    references_grades as of_grades, references_layout as of_layout, references_plan as of_plan,
    references_responses as of_responses, references_seasons as of_seasons, references_spread as of_spread,
    references_steps as of_steps, references_watch as of_watch,
};

/// The identifier of a work by the line that lists it: "10.2307/3002019"; none where it is not known.
///
/// ```
/// use rootling::report::{doi_of, references};
/// assert_eq!(doi_of(references::SATTERTHWAITE_1946), Some("10.2307/3002019"));
/// assert_eq!(doi_of(references::FISHER_1935), None);
/// ```
#[must_use]
pub fn doi_of(reference: &str) -> Option<&'static str> {
    KNOWN.iter().find(|(work, _)| *work == reference).map(|(_, doi)| *doi)
}

/// Works by their lines.
const KNOWN: &[(&str, &str)] = &[
    (
        "Freeman GH, Halton JH (1951). Note on an exact treatment of contingency, goodness of fit and other problems of significance. Biometrika 38: 141-149.",
        "10.1093/biomet/38.1-2.141",
    ),
    (works::WILSON_1927, "10.1080/01621459.1927.10502953"),
    (works::CLOPPER_PEARSON_1934, "10.1093/biomet/26.4.404"),
    (works::BROWN_CAI_DASGUPTA_2001, "10.1214/ss/1009213286"),
    (works::AGRESTI_COULL_1998, "10.1080/00031305.1998.10480550"),
    (works::AGRESTI_CAFFO_2000, "10.1080/00031305.2000.10474560"),
    (works::BLAKER_2000, "10.2307/3315916"),
    (works::BERRY_ARMITAGE_1995, "10.2307/2348891"),
    (works::LANCASTER_1961, "10.1080/01621459.1961.10482105"), // confirmed
    (works::NEWCOMBE_1998A, "10.1002/(SICI)1097-0258(19980430)17:8<857::AID-SIM777>3.0.CO;2-E"),
    (works::NEWCOMBE_1998B, "10.1002/(SICI)1097-0258(19980430)17:8<873::AID-SIM779>3.0.CO;2-I"),
    (works::NEWCOMBE_1998C, "10.1002/(SICI)1097-0258(19981130)17:22<2635::AID-SIM954>3.0.CO;2-C"),
    (works::TANGO_1998, "10.1002/(SICI)1097-0258(19980430)17:8<891::AID-SIM780>3.0.CO;2-B"),
    (works::MIETTINEN_NURMINEN_1985, "10.1002/sim.4780040211"),
    (works::KOOPMAN_1984, "10.2307/2531405"), // confirmed
    (works::KATZ_1978, "10.2307/2530610"),
    (works::WOOLF_1955, "10.1111/j.1469-1809.1955.tb01348.x"),
    (works::CHAN_ZHANG_1999, "10.1111/j.0006-341X.1999.01202.x"),
    (works::PEARSON_1900, "10.1080/14786440009463897"),
    (works::YATES_1934, "10.2307/2983604"),
    (works::BARNARD_1947, "10.1093/biomet/34.1-2.123"),
    (works::BOSCHLOO_1970, "10.1111/j.1467-9574.1970.tb00104.x"),
    (works::COCHRAN_1954, "10.2307/3001616"),
    (works::ARMITAGE_1955, "10.2307/3001775"),
    (works::MANTEL_HAENSZEL_1959, "10.1093/jnci/22.4.719"),
    (works::TARONE_1985, "10.1093/biomet/72.1.91"),
    (works::ROBINS_BRESLOW_GREENLAND_1986, "10.2307/2531052"),
    (works::MCNEMAR_1947, "10.1007/BF02295996"),
    (works::FIRTH_1993, "10.1093/biomet/80.1.27"),
    (works::HEINZE_SCHEMPER_2002, "10.1002/sim.1047"),
    (works::ALBERT_ANDERSON_1984, "10.1093/biomet/71.1.1"),
    (works::PINHEIRO_CHAO_2006, "10.1198/106186006X96962"),
    (works::LANE_NELDER_1982, "10.2307/2530043"),
    (works::NELDER_1977, "10.2307/2344517"),
    (works::WEDDERBURN_1974, "10.1093/biomet/61.3.439"),
    (works::WILLIAMS_1982, "10.2307/2347977"),
    (works::CROWDER_1978, "10.2307/2346223"),
    (works::VENZON_MOOLGAVKAR_1988, "10.2307/2347496"),
    (works::PUHR_2017, "10.1002/sim.7273"),
    (works::RAO_1948, "10.1017/S0305004100023987"),
    (works::WILKS_1938, "10.1214/aoms/1177732360"),
    (works::RAO_SCOTT_1992, "10.2307/2532311"),
    (works::HURLBERT_1984, "10.2307/1942661"),
    (works::WELCH_1947, "10.1093/biomet/34.1-2.28"),
    (works::HENDERSON_1953, "10.2307/3001853"),
    (works::FAI_CORNELIUS_1996, "10.1080/00949659608811740"),
    (works::SATTERTHWAITE_1946, "10.2307/3002019"),
    (works::PHIPSON_SMYTH_2010, "10.2202/1544-6115.1585"),
    (works::BENJAMINI_HOCHBERG_1995, "10.1111/j.2517-6161.1995.tb02031.x"),
    (works::DUNNETT_1955, "10.1080/01621459.1955.10501294"),
    (works::TUKEY_1949, "10.2307/3001913"),
    (works::PIEPHO_2004, "10.1198/1061860043515"),
    (works::SCHUIRMANN_1987, "10.1007/BF01068419"),
    (works::HOCHBERG_1988, "10.1093/biomet/75.4.800"),
    (works::HOMMEL_1988, "10.1093/biomet/75.2.383"),
    (works::WRIGHT_1992, "10.2307/2532694"),
    (works::SIDAK_1967, "10.1080/01621459.1967.10482935"),
    (works::BENJAMINI_YEKUTIELI_2001, "10.1214/aos/1013699998"),
    (works::DUNN_1961, "10.1080/01621459.1961.10482090"),
    (works::HOTHORN_BRETZ_WESTFALL_2008, "10.1002/bimj.200810425"),
    (works::KRAMER_1956, "10.2307/3001469"),
    (works::SCHEFFE_1953, "10.1093/biomet/40.1-2.87"),
    (works::GRAMM_2008, "10.1016/j.csda.2006.09.035"),
    (works::RAO_SCOTT_1984, "10.1214/aos/1176346391"),
    (works::DONNER_1986, "10.2307/1403259"),
    (works::PRENTICE_1986, "10.1080/01621459.1986.10478275"),
    (works::SELF_LIANG_1987, "10.1080/01621459.1987.10478472"),
    (works::DUNN_SMYTH_1996, "10.1080/10618600.1996.10474708"),
    (works::PREGIBON_1981, "10.1214/aos/1176345513"),
    (works::PREGIBON_1980, "10.2307/2346405"),
    (works::COOK_1977, "10.1080/00401706.1977.10489493"),
    (works::HOSMER_LEMESHOW_1980, "10.1080/03610928008827941"),
    (works::AKAIKE_1974, "10.1109/TAC.1974.1100705"),
    (works::HURVICH_TSAI_1989, "10.1093/biomet/76.2.297"),
    (works::SCHWARZ_1978, "10.1214/aos/1176344136"),
    (works::DAVISON_HINKLEY_1997, "10.1017/CBO9780511802843"),
    (works::PUSTEJOVSKY_TIPTON_2018, "10.1080/07350015.2016.1247004"),
    (works::FIELLER_1954, "10.1111/j.2517-6161.1954.tb00159.x"),
    (works::ABBOTT_1925, "10.1093/jee/18.2.265a"),
    (works::BRAIN_COUSENS_1989, "10.1111/j.1365-3180.1989.tb00845.x"),
    (works::BUCKLAND_BURNHAM_AUGUSTIN_1997, "10.2307/2533961"),
    (works::AYER_1955, "10.1214/aoms/1177728423"),
    (of_curves::DAUNCEY_2015, "10.1088/1748-0221/10/04/P04015"),
    (of_curves::BOX_HUNTER_1954, "10.1093/biomet/41.1-2.190"),
    (of_curves::CEDERGREEN_RITZ_STREIBIG_2005, "10.1897/05-014R.1"),
    (of_curves::ZOU_DONNER_2008, "10.1002/sim.3095"),
    (of_curves::BURNHAM_ANDERSON_2002, "10.1007/b97636"),
    (of_decide::XIE_SINGH_2013, "10.1111/insr.12000"),
    (of_decide::CLAXTON_1999, "10.1016/S0167-6296(98)00039-3"),
    (of_grades::MCCULLAGH_1980, "10.1111/j.2517-6161.1980.tb01109.x"),
    (of_grades::PETERSON_HARRELL_1990, "10.2307/2347760"),
    (of_grades::CLOGG_1991, "10.1080/01621459.1991.10475005"), // confirmed
    (of_layout::JACOBSON_MATTHEWS_1996, "10.1002/(SICI)1520-6610(1996)4:6<405::AID-JCD3>3.0.CO;2-J"),
    (of_layout::MCKAY_WANLESS_2005, "10.1007/s00026-005-0261-7"),
    (of_layout::PATTERSON_WILLIAMS_1976, "10.1093/biomet/63.1.83"),
    (of_layout::JARRETT_1977, "10.1093/biomet/64.1.67"),
    (of_plan::POCOCK_1977, "10.1093/biomet/64.2.191"),
    (of_plan::OBRIEN_FLEMING_1979, "10.2307/2530245"),
    (of_plan::ARMITAGE_1969, "10.2307/2343787"),
    (of_responses::MULLAHY_1986, "10.1016/0304-4076(86)90002-3"),
    (of_seasons::PAULE_MANDEL_1982, "10.6028/jres.087.022"),
    (of_seasons::HARTUNG_KNAPP_2001, "10.1002/sim.791"), // confirmed
    (of_seasons::MEIER_1953, "10.2307/3001633"),
    (of_seasons::VIECHTBAUER_2007, "10.1002/sim.2514"),
    (of_seasons::HIGGINS_2009, "10.1111/j.1467-985X.2008.00552.x"),
    (of_seasons::WELCH_1951, "10.1093/biomet/38.3-4.330"),
    (of_seasons::VIECHTBAUER_CHEUNG_2010, "10.1002/jrsm.11"),
    (of_spread::SMYTH_2004, "10.2202/1544-6115.1027"),
    (of_steps::ANG_2004, "10.1016/S0301-4215(03)00076-4"),
    (of_steps::COHEN_1960, "10.1177/001316446002000104"),
    (of_steps::FLEISS_1969, "10.1037/h0028106"),
    (of_steps::FEINSTEIN_CICCHETTI_1990, "10.1016/0895-4356(90)90158-L"),
    (of_steps::CICCHETTI_FEINSTEIN_1990, "10.1016/0895-4356(90)90159-M"),
    (of_steps::ALTMAN_BLAND_1994, "10.1136/bmj.308.6943.1552"),
    (of_steps::BEGG_GREENES_1983, "10.2307/2530820"),
    (of_steps::KAPLAN_MEIER_1958, "10.1080/01621459.1958.10501452"),
    (of_steps::TURNBULL_1976, "10.1111/j.2517-6161.1976.tb01597.x"),
    (of_steps::BROOKMEYER_CROWLEY_1982, "10.2307/2530286"),
    (of_steps::PRENTICE_GLOECKLER_1978, "10.2307/2529588"),
    (of_steps::PETO_PETO_1972, "10.2307/2344317"),
    (of_watch::STEINER_2000, "10.1093/biostatistics/1.4.441"),
    (of_watch::BROOK_EVANS_1972, "10.1093/biomet/59.3.539"),
    (of_watch::KITAGAWA_1955, "10.1080/01621459.1955.10501299"), // confirmed
    (of_watch::COX_REID_1987, "10.1111/j.2517-6161.1987.tb01422.x"),
    (of_watch::LUCAS_SACCUCCI_1990, "10.1080/00401706.1990.10484583"),
    (of_watch::DER_SIMONIAN_LAIRD_1986, "10.1016/0197-2456(86)90046-2"),
    (of_watch::MACKINNON_WHITE_1985, "10.1016/0304-4076(85)90158-7"),
];

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use super::KNOWN;

    #[test]
    fn each_is_well_formed_and_stands_once() {
        for (work, doi) in KNOWN {
            let (office, rest) = doi.split_once('/').unwrap_or_default();
            let number = office.strip_prefix("10.").unwrap_or_default();
            assert!((4..=5).contains(&number.len()) && number.bytes().all(|one| one.is_ascii_digit()), "{doi}");
            assert!(!rest.is_empty() && rest.bytes().all(|one| one.is_ascii_graphic()), "{doi}");
            assert!(!rest.ends_with(['.', ',']), "{doi}");
            assert!(work.contains(" (1") || work.contains(" (2"), "{work}");
        }
        let of = |part: fn(&(&'static str, &'static str)) -> &'static str| {
            KNOWN.iter().map(part).collect::<BTreeSet<_>>().len()
        };
        assert_eq!(of(|one| one.0), KNOWN.len());
        assert_eq!(of(|one| one.1), KNOWN.len());
    }
}
