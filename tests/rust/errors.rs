//! Every error with its exact words; a new one without a line here fails.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

use rootling::Error;
use rootling::error::{ChoiceError, CountError, EffectError, ModelError, NumericError, StrengthError};

fn source(path: &str) -> String {
    let path: PathBuf = Path::new(env!("CARGO_MANIFEST_DIR")).join(path);
    std::fs::read_to_string(path).unwrap()
}

/// Names of the variants of the one enum in a source file.
fn variants(path: &str) -> BTreeSet<String> {
    let text = source(path);
    let body = text.split_once("pub enum ").unwrap().1;
    let names =
        body.lines().filter_map(|line| line.strip_prefix("    ")).filter(|line| line.starts_with(char::is_uppercase));
    names.map(|line| line.split(|c: char| !c.is_alphanumeric()).next().unwrap().to_owned()).collect()
}

/// The variant's name, which opens its debug text.
fn name(error: &impl std::fmt::Debug) -> String {
    let text = format!("{error:?}");
    text.split(|c: char| !c.is_alphanumeric()).next().unwrap().to_owned()
}

/// Checks the words of each error, and that no variant of the file is left out.
pub fn check<E: std::fmt::Debug + std::fmt::Display>(path: &str, cases: &[(E, &str)]) {
    for (error, words) in cases {
        assert_eq!(&error.to_string(), words);
    }
    let listed: BTreeSet<String> = cases.iter().map(|(error, _)| name(error)).collect();
    assert_eq!(listed, variants(path), "{path}: every variant needs a line here");
}

#[test]
fn counts() {
    let cases = [
        (
            CountError::NoneStuck,
            "0 cuttings were stuck, so there is no rate; leave this group out or correct the count",
        ),
        (
            CountError::RootedAboveStuck { rooted: 53, stuck: 50 },
            "53 rooted of 50 stuck; the number rooted cannot exceed the number stuck",
        ),
        (
            CountError::TooLarge { value: 9_007_199_254_740_993 },
            "count 9007199254740993 is above 9007199254740992, the largest that is held exactly; check the entry",
        ),
        (
            CountError::Level { value: 95.0 },
            "level 95 is not between 0 and 1; give it as a proportion, for example 0.95",
        ),
        (
            CountError::TooLargeForExact { total: 5000, most: 2000 },
            "5000 plants are too many for this exact method (at most 2000); use the score test or interval, which is rougher when few rooted or few failed",
        ),
        (
            CountError::Margin { value: 10.0 },
            "margin 10 is not above 0 and at most 1; give it as a proportion, for example 0.1 for 10 trees per 100",
        ),
        (
            CountError::Target { value: 60.0 },
            "target 60 is not between 0 and 1; give the rate to test against as a proportion, for example 0.6",
        ),
        (CountError::OutOfRange { name: "margin", value: 2.0, low: 0.0, high: 1.0 }, "margin 2 is outside 0 to 1"),
        (
            CountError::TableTooSmall { rows: 1, columns: 2 },
            "a table of 1 x 2 has no association to test; give at least 2 rows and 2 columns",
        ),
        (
            CountError::RaggedTable { row: 2, found: 3, expected: 2 },
            "row 2 of the table is 3 long where the first is 2 long; give all rows the same length",
        ),
        (CountError::EmptyMargin { axis: "column", index: 2 }, "column 2 of the table is all zero; leave it out"),
        (
            CountError::TooFewTrays { name: "2500".to_owned(), found: 1, needed: 2 },
            "2500 has 1 tray; at least 2 are needed to see how trays differ",
        ),
        (
            CountError::NotDefined { what: "the odds ratio", why: "every cutting rooted; give the difference" },
            "the odds ratio is not defined: every cutting rooted; give the difference",
        ),
        (
            CountError::Entry { index: 3, problem: Box::new(CountError::NoneStuck) },
            "entry 3: 0 cuttings were stuck, so there is no rate; leave this group out or correct the count",
        ),
        (
            CountError::UnequalLengths { rooted: 3, stuck: 4 },
            "the lists differ in length: 3 rooted, 4 stuck; give both for every entry",
        ),
        (
            CountError::TooLargeForExact { total: 20_001, most: 20_000 },
            "20001 plants are too many for this exact method (at most 20000); use the score test or interval, which is rougher when few rooted or few failed",
        ),
        (
            CountError::Margin { value: 10.0 },
            "margin 10 is not above 0 and at most 1; give it as a proportion, for example 0.1 for 10 trees per 100",
        ),
        (
            CountError::Target { value: 60.0 },
            "target 60 is not between 0 and 1; give the rate to test against as a proportion, for example 0.6",
        ),
        (
            CountError::UnmatchedList { what: "P values", found: 2, of: "comparisons", expected: 3 },
            "P values: 2 for 3 comparisons; give one for each",
        ),
        (
            CountError::Score { index: 2, value: f64::NAN },
            "score 2 is NaN; give each group or level a number, for example its strength",
        ),
        (
            CountError::UnequalStrata { index: 2, rows: 2, columns: 3, expected_rows: 2, expected_columns: 2 },
            "stratum 2 is 2 x 3 where the first is 2 x 2; all must have the same shape",
        ),
    ];
    check("src/error/count.rs", &cases);
}

#[test]
fn models() {
    let cases = [
        (
            ModelError::NoEffects,
            "no effects were named; give a list of columns, for example [\"strength\", \"rootstock\"]",
        ),
        (
            ModelError::InteractionWithoutMain { interaction: "a x b".to_owned(), missing: "b".to_owned() },
            "interaction \"a x b\" uses \"b\", which is not among the effects; add it to the list",
        ),
        (
            ModelError::OneLevel { effect: "strength".to_owned(), level: "2500".to_owned() },
            "\"strength\" has the single level \"2500\"; it cannot be compared, so leave it out of the model",
        ),
        (
            ModelError::NotFinite { effect: "length".to_owned(), value: f64::INFINITY },
            "covariate \"length\" holds a value that is not finite (inf); correct it or leave the row out",
        ),
        (ModelError::NoData, "there are no cuttings to fit; check the rows that were set aside"),
        (ModelError::Repeated { effect: "strength".to_owned() }, "effect \"strength\" is named twice; name it once"),
        (
            ModelError::NotFitted {
                reason: "the estimates did not settle".to_owned(),
                try_next: "leave an effect out".to_owned(),
            },
            "not fitted: the estimates did not settle; leave an effect out",
        ),
        (
            ModelError::CovariateNotFinite { effect: "length".to_owned(), value: f64::INFINITY, unit: 2, row: None },
            "covariate \"length\" is not finite (inf) in unit 3; correct it or leave the row out",
        ),
        (
            ModelError::NotNumbers { effect: "rootstock".to_owned(), level: "K12".to_owned() },
            "\"rootstock\" cannot enter as a number, since its level \"K12\" is none; leave it a factor or correct the level",
        ),
        (
            ModelError::Degree { effect: "dark_days".to_owned(), degree: 3, distinct: 3 },
            "a polynomial of degree 3 in \"dark_days\" cannot be fitted to 3 different values; choose a degree of at least 1 and below their number",
        ),
        (
            ModelError::TooManyCoefficients { coefficients: 2400, limit: 1000 },
            "the model would have 2400 coefficients, and at most 1000 can be fitted; leave an interaction out, or let an effect of many levels be a random effect or a number",
        ),
        (
            ModelError::Weight { column: "care".to_owned(), value: -1.0, unit: 2, row: Some(9) },
            "weight -1 of column \"care\" in row 9 is not 0 or more; correct it, or give 0 to leave the row out",
        ),
        (
            ModelError::NoWeight { column: "care".to_owned() },
            "every weight in column \"care\" is 0, so nothing is left to fit; give the rows that count a weight above 0",
        ),
        (
            ModelError::RandomNeedsMode,
            "random= names what has random effects beside the trays, which needs trays=\"random\"; add that, or leave random= out",
        ),
        (
            ModelError::RandomIsEffect { column: "bay".into() },
            "\"bay\" is in the model already and cannot have random effects as well; name it in one place only",
        ),
        (
            ModelError::RandomOneLevel { column: "bay".into(), level: "1".into() },
            "\"bay\" has the single level \"1\", so its random effects cannot be seen; leave it out of random=",
        ),
        (
            ModelError::RandomLikeTrays { column: "plant".into(), levels: 48 },
            "each of the 48 levels of \"plant\" holds one tray, so its random effects cannot be told apart from those of trays; leave it out of random=",
        ),
        (
            ModelError::RandomAlike { column: "batch".into(), other: "bay".into() },
            "\"batch\" puts the same trays together as \"bay\" does, so the two cannot be told apart; leave \"batch\" out of random=",
        ),
        (
            ModelError::RandomConfounded { column: "batch".into() },
            "the effects and the other groupings leave nothing of \"batch\" to be seen; leave it out of random=, or an effect out of the model",
        ),
        (
            ModelError::RandomWithoutTrays,
            "random effects need recorded trays, since without them cuttings of one tray cannot be told from others; load the trial with tray=, or leave random= out",
        ),
        (
            ModelError::RandomVaries { column: "plant".into() },
            "\"plant\" differs between the cuttings of one tray, so trays do not belong to its levels; leave it out of random=",
        ),
        (
            ModelError::IccNeedsMode,
            "icc_by= gives each level its own correlation within trays, which needs trays=\"beta-binomial\"; add that, or leave icc_by= out",
        ),
        (
            ModelError::IccTooMany { column: "tray".into(), levels: 48, trays: 48 },
            "\"tray\" has 48 levels and the trial 48 trays; each level needs two trays or more for a correlation of its own",
        ),
        (
            ModelError::WeightsUnderLaw,
            "weights enter plain and quasi models only; use trays=\"quasi\" or trays=\"ignore\", or leave the weights out",
        ),
        (
            ModelError::StatisticUnderRobust,
            "models with trays=\"robust\" have no likelihood to take scores or ratios from; ask for test=\"wald\", or use trays=\"auto\"",
        ),
        (
            ModelError::StatisticUnderLaw { trays: "random".to_owned() },
            "models with trays=\"random\" give likelihood ratios only; ask for those, or use trays=\"quasi\"",
        ),
        (
            ModelError::NotOdds { link: "probit".to_owned() },
            "odds ratios come from the logit link only and this model uses the probit link; read its adjusted rates",
        ),
        (
            ModelError::Misaligned { column: "bench".to_owned(), units: 12 },
            "column \"bench\" does not have one known level or value for each of the 12 units; load the trial again",
        ),
        (
            ModelError::NoTypicalTray,
            "a typical tray's rate comes from trays=\"random\" only; this model has one rate, that over all trays, so leave of= out",
        ),
        (
            ModelError::NotComparable {
                reason: "neither contains the other".to_owned(),
                try_next: "give the larger one all effects of the smaller".to_owned(),
            },
            "these models cannot be set against each other: neither contains the other; give the larger one all effects of the smaller",
        ),
        (
            ModelError::NoBootstrap {
                effect: "strength".to_owned(),
                reason: "it adds no coefficient".to_owned(),
                try_next: "leave it out".to_owned(),
            },
            "\"strength\" has no bootstrap test: it adds no coefficient; leave it out",
        ),
        (
            ModelError::NoTraySpread,
            "a range for a new tray needs the spread between trays, which this model does not know; record trays and do not ignore them",
        ),
    ];
    check("src/error/model.rs", &cases);
}

#[test]
fn numbers() {
    let cases = [
        (
            NumericError::NoSignChange { low: 0.0, high: 1.0 },
            "no sign change between 0 and 1; the equation has no root there",
        ),
        (
            NumericError::NotConverged { routine: "beta quantile", iterations: 200 },
            "beta quantile did not settle within 200 iterations",
        ),
        (
            NumericError::Lengths { what: "lower bounds", expected: 3, given: 2 },
            "2 lower bounds were given for 3 statistics; give one for each",
        ),
        (
            NumericError::NotCovariance { row: 0 },
            "row 1 does not belong to a covariance matrix; give a symmetric one without negative variances",
        ),
        (
            NumericError::DegreesOfFreedom { dof: 0.0 },
            "0 degrees of freedom; give a number from 1 upward, or infinity for the normal distribution",
        ),
        (NumericError::NotANumber { what: "bounds" }, "the bounds hold a value that is not a number; correct it"),
        (
            NumericError::NoVariance { row: 2 },
            "contrast 3 has no variance, so it cannot be tested; leave it out or use a penalised fit",
        ),
        (
            NumericError::TwoSidedOnly { method: "Scheffe" },
            "the Scheffe method has no one-sided form; ask for a difference either way, or use the joint distribution",
        ),
        (
            NumericError::NotManyToOne,
            "these contrasts do not have the correlations of comparisons with one control; use the joint distribution",
        ),
        (
            NumericError::TooFewGroups { groups: 1 },
            "1 means have no differences; give the number of means compared, at least 2",
        ),
    ];
    check("src/error/numeric.rs", &cases);
}

#[test]
fn strengths() {
    let text = |words: &str| words.to_owned();
    let cases = [
        (
            StrengthError::Negative { value: -5.0, unit: text("mg/L") },
            "strength -5 mg/L is not a strength; it must be 0 or more and finite",
        ),
        (
            StrengthError::MixedBasis { from: text("mg/L"), to: text("mg/kg") },
            "mg/L and mg/kg cannot share one axis: one is weight per volume, the other weight per weight; give the carrier's density or keep them apart",
        ),
        (
            StrengthError::MixedSubstance { first: text("IBA"), second: text("NAA") },
            "IBA and NAA are different substances and cannot share one axis; convert to one with `equivalent` or keep them apart",
        ),
        (
            StrengthError::BasisNotDeclared { unit: text("ppm") },
            "\"ppm\" does not say weight per volume or weight per weight; write \"ppm w/v\" for liquids or \"ppm w/w\" for powders",
        ),
        (
            StrengthError::NotAStrength { text: text("much") },
            "\"much\" is not a strength; write a number and a unit, for example \"2500 mg/L\"",
        ),
        (
            StrengthError::NoMolarMass { substance: text("other") },
            "mM needs a molar mass, and none is known for \"other\"; give molar_mass= in g/mol",
        ),
        (
            StrengthError::BasisContradicted {
                first: text("mg/L"),
                first_basis: text("weight per volume"),
                second: text("talc"),
                second_basis: text("weight per weight"),
            },
            "\"mg/L\" is weight per volume, but \"talc\" is weight per weight; give liquids in mg/L and powders in mg/kg",
        ),
        (
            StrengthError::UnknownUnit { unit: text("drops") },
            "\"drops\" is not a unit of strength; use mg/L, g/L, ppm w/v, % w/v, mM or µM for liquids, mg/kg, g/kg, ppm w/w or % w/w for powders",
        ),
        (
            StrengthError::UnknownMethod { method: text("spray") },
            "\"spray\" is not a method of treatment; use \"quick dip\", \"soak\", \"talc\" or \"paste\"",
        ),
        (
            StrengthError::AmbiguousNumber { text: text("1,000"), thousands: text("1000"), decimal: text("1.000") },
            "\"1,000\" can be read two ways; write 1000 or 1.000",
        ),
        (StrengthError::NoSubstance, "the substance has no name; give one, for example \"IBA\""),
        (StrengthError::MolarMass { value: 0.0 }, "molar mass 0 g/mol is not a mass; it must be above 0 and finite"),
        (
            StrengthError::MolarMassDiffers { substance: text("IBA"), given: 241.3, expected: 203.24 },
            "molar mass 241.3 g/mol is not that of IBA (203.24 g/mol); leave molar_mass= out or name the other substance",
        ),
    ];
    check("src/error/strength.rs", &cases);
}

#[test]
fn effects() {
    let text = str::to_owned;
    let cases = [
        (
            EffectError::NoTrays { factor: text("rootstock"), level: text("K30") },
            "level \"K30\" of rootstock has no trays with cuttings, so the model has no rate for it; leave it out",
        ),
        (
            EffectError::MixLeavesOut { factor: text("rootstock"), missing: text("K12 and K30") },
            "the mix of rootstock leaves out K12 and K30; give every level a share, 0 for one that is not grown",
        ),
        (
            EffectError::Share { factor: text("rootstock"), level: text("K12"), value: -0.5 },
            "the share -0.5 of rootstock K12 is not a number from 0 upward; correct it",
        ),
        (
            EffectError::MixEmpty { factor: text("rootstock") },
            "the mix of rootstock has only zeros; give at least one level a share above 0",
        ),
        (
            EffectError::Weights { name: text("mine"), sum: 1.0 },
            "the weights of contrast \"mine\" sum to 1, not to 0; a contrast sets some levels against others, so let them sum to 0",
        ),
        (
            EffectError::NoWeights { name: text("mine") },
            "contrast \"mine\" needs at least two weights that are numbers other than 0",
        ),
        (
            EffectError::Twice { name: text("strength"), first: "by=", second: "within=" },
            "\"strength\" is named twice, in by= and in within=; name two factors that differ",
        ),
        (
            EffectError::NotTogether { first: "against=", second: "this kind=", instead: "leave one of them out" },
            "against= and this kind= do not go together; leave one of them out",
        ),
        (
            EffectError::TooMany { count: 1035, most: 1000 },
            "1035 comparisons are more than make sense together (at most 1000); compare with one level, or within one level of the other factor, or name the few contrasts that matter",
        ),
        (
            EffectError::Margin {
                value: 10.0,
                wanted: "a proportion above 0 and below 1; 0.1 stands for 10 trees per 100",
            },
            "margin 10 is not a proportion above 0 and below 1; 0.1 stands for 10 trees per 100",
        ),
        (
            EffectError::NotEstimable { reason: text("each needs a combination of levels that was not tried") },
            "none of these comparisons can be estimated: each needs a combination of levels that was not tried",
        ),
        (
            EffectError::CovariateValue { covariate: text("length_cm"), given: text("long") },
            "\"long\" is no value of the covariate length_cm; give a number",
        ),
    ];
    check("src/error/effect.rs", &cases);
}

#[test]
fn choices_offer_only_names_that_are_near() {
    let known = ["rooted", "stuck", "x"];
    let cases = [
        ("roted", "column \"roted\" is not known; did you mean \"rooted\"? Known: rooted, stuck, x"),
        ("X", "column \"X\" is not known; did you mean \"x\"? Known: rooted, stuck, x"),
        // Neither an empty name nor one without a common letter is near to anything.
        ("", "column \"\" is not known; known: rooted, stuck, x"),
        (" ", "column \" \" is not known; known: rooted, stuck, x"),
        ("y", "column \"y\" is not known; known: rooted, stuck, x"),
        ("bench", "column \"bench\" is not known; known: rooted, stuck, x"),
    ];
    for (given, words) in cases {
        assert_eq!(ChoiceError::new("column", given, &known).to_string(), words);
    }
    assert_eq!(ChoiceError::new::<&str>("column", "y", &[]).to_string(), "column \"y\" is not known");
    assert_eq!(Error::Interrupted.to_string(), "stopped before the end, as asked; no result was kept");
    let whole = variants("src/error/mod.rs");
    assert_eq!(
        whole,
        BTreeSet::from(
            ["Choice", "Count", "Data", "Dose", "Effect", "Interrupted", "Model", "Numeric", "Rows", "Strength"]
                .map(str::to_owned)
        )
    );
}
