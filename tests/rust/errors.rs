//! Every error with its exact words; a new one without a line here fails.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

use rootling::Error;
use rootling::error::{ChoiceError, CountError, EffectError, NumericError, StrengthError, WatchError};

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
pub(crate) fn check<E: std::fmt::Debug + std::fmt::Display>(path: &str, cases: &[(E, &str)]) {
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
            CountError::TrayTooLarge { stuck: 2_000_000, most: 100_000 },
            "new_tray 2000000 is no tray (at most 100000 cuttings); give the cuttings of one tray, for example 60",
        ),
        (CountError::TrayEmpty, "new_tray 0 is a tray without cuttings; give the cuttings of one tray, for example 60"),
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
            "confidence 95 is not between 0 and 1; give it as a proportion, for example 0.95",
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
        (
            CountError::OutOfRange { name: "margin", value: 2.0, low: 0.0, high: 1.0 },
            "margin 2 is outside 0 to 1; give it as a proportion, 0.02 for 2 trees per 100",
        ),
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
            CountError::TrayTooLarge { stuck: 2_000_000, most: 100_000 },
            "new_tray 2000000 is no tray (at most 100000 cuttings); give the cuttings of one tray, for example 60",
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
            CountError::NoSurvivors { name: "strength 20000".into(), trays: 4 },
            "strength 20000 has no survivor in its 4 trays, so there is no rooting of survivors to compare; compare survival or the take",
        ),
        (CountError::NoCounts, "there are no counts; give one for each cutting, for example [0, 3, 5]"),
        (
            CountError::NoneHasAny { cuttings: 40 },
            "no count of 40 is above 0, so there is no law of counts; what share may have any, the interval of a take of 0 tells",
        ),
        (
            CountError::ZerosTruncated { zeros: 3, cuttings: 40 },
            "3 of 40 counts are 0, and a truncated law has none; leave them out, or choose a hurdle law, which keeps them apart",
        ),
        (
            CountError::CountTooLarge { index: 2, count: 2_000_000, most: 1_000_000 },
            "entry 2: 2000000 is above 1000000, more than is counted on a cutting; check the entry",
        ),
        (
            CountError::ColumnLength { name: "length".into(), found: 2, expected: 3 },
            "column \"length\": 2 entries for 3 counts; give one for each",
        ),
        (
            CountError::NotANumber { name: "length".into(), index: 3 },
            "length entry 3 is no number that can be used; correct it, or leave its cutting out",
        ),
        (
            CountError::ColumnNotApart { column: "length".into(), groups: 2 },
            "column \"length\" is made up by the groups and the columns before it, so what it does cannot be told; leave it out",
        ),
        (
            CountError::LawNotFitted { law: "zero-inflated-poisson" },
            "the law zero-inflated-poisson cannot be fitted to these counts: its likelihood has no highest point; choose a simpler one, such as \"poisson\" or \"hurdle-poisson\"",
        ),
        (
            CountError::LawNeedsBoth { law: "hurdle-poisson", group: "2500".into(), has: "any" },
            "the law hurdle-poisson cannot be fitted to these counts: every cutting of group \"2500\" has any; leave the columns out, or that group",
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
            CountError::ScoreOfLevel { level: "2500".into(), value: f64::NAN },
            "scores= gives NaN for level \"2500\"; give each level a number, for example its strength",
        ),
        (
            CountError::NoScore { level: "2500".into() },
            "scores= leaves out level \"2500\"; give each level a number, for example its strength",
        ),
        (
            CountError::UnequalStrata { index: 2, rows: 2, columns: 3, expected_rows: 2, expected_columns: 2 },
            "stratum 2 is 2 x 3 where the first is 2 x 2; all must have the same shape",
        ),
    ];
    check("src/error/count.rs", &cases);
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
            NumericError::Parameter {
                distribution: "a chi-squared distribution",
                name: "df",
                value: -1.0,
                wanted: "a number above 0",
            },
            "df -1 cannot be that of a chi-squared distribution; give a number above 0",
        ),
        (
            NumericError::DegreesOfFreedom { df: 0.0 },
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
            EffectError::Twice { name: text("strength"), first: "treatment", second: "within=" },
            "\"strength\" is named twice, in treatment and in within=; name two factors that differ",
        ),
        (
            EffectError::NotTogether { first: "against=", second: "this kind=", instead: "leave one of them out" },
            "against= and this kind= do not go together; leave one of them out",
        ),
        (
            EffectError::NoInteraction { first: text("strength"), second: text("rootstock") },
            "this model does not let strength act differently by rootstock, so nothing in it can say how its differences change with rootstock; ask a model that does: interactions=[(\"strength\", \"rootstock\")]",
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
            [
                "Choice",
                "Count",
                "Data",
                "Decide",
                "Dose",
                "Effect",
                "Grade",
                "Interrupted",
                "Layout",
                "Model",
                "Numeric",
                "Plan",
                "Record",
                "Response",
                "Rows",
                "Seasons",
                "Steps",
                "Strength",
                "Watch",
            ]
            .map(str::to_owned)
        )
    );
}

#[test]
fn watched_crops() {
    let cases = [
        (
            WatchError::DropTooLarge { drop: 5.0, usual: 0.88 },
            "drop=5 is not between 0 and the usual rate of 0.880; give it as a proportion, for example 0.05 for 5 trees per 100",
        ),
        (
            WatchError::DropTooSmall { drop: 1e-300 },
            "drop=1e-300 is below 0.001, a tree in 1000, which no crop is large enough to show; give for example 0.05 for 5 trees per 100",
        ),
        (
            WatchError::DropOfMost { drop: 0.8, usual: 0.88 },
            "drop=0.8 is more than three quarters of the usual rate of 0.880, which is seen without a chart; give a smaller one, for example 0.05 for 5 trees per 100",
        ),
        (
            WatchError::WeeksBetween { weeks: 1.0 },
            "weeks_between=1 is not a number of weeks from 2 to 5200; 104 is one signal by chance in two years",
        ),
        (
            WatchError::TooFewBatches { batches: 12, needed: 20, found: 4, weeks: 8 },
            "a baseline needs at least 20 batches over at least 8 weeks, and there are 12 over 4; take in earlier batches",
        ),
        (
            WatchError::NothingRead { side: "from", day: "2026-01-05".to_owned() },
            "no batch was read from 2026-01-05 on that counts; give another day",
        ),
        (
            WatchError::NothingAlike,
            "the two stretches have no kind of batch in common, so nothing is like; name fewer columns or another day",
        ),
        (
            WatchError::OneIn { value: 2.0 },
            "one_in=2 is not a number of batches of 10 or more; 500 means that one batch in 500 may lie below by chance",
        ),
        (
            WatchError::Weight { value: 2.0 },
            "weight=2 is not above 0 and at most 1; 0.1 gives each batch a tenth of the average",
        ),
        (
            WatchError::UnsoundBaseline { what: "spreads" },
            "the spreads of this baseline are not such as a baseline can have; make it again from its crop",
        ),
        (WatchError::Draws { draws: 0 }, "draws=0 is not between 19 and 1000000; 999 tell a P value of 0.001"),
        (
            WatchError::OtherColumns { baseline: "room".to_owned(), crop: "bench".to_owned() },
            "the baseline knows the columns room and this crop bench; make a baseline of this crop, or load both alike",
        ),
        (
            WatchError::OtherAge { baseline: 56, crop: 20 },
            "the baseline judges batches 56 days after setting and this crop 20; load both with one reading_age=",
        ),
    ];
    check("src/error/watch.rs", &cases);
}
