//! Bad counts, tables, levels and names, asked of the Rust functions: each case with its exact sentence.

use rootling::Count;
use rootling::compare::{Claim, EquivalenceOptions, MarginTest, RandomisationOptions, equivalence, randomisation};
use rootling::control::Control;
use rootling::counts::{
    ContingencyTable, ExactOptions, PairedMethod, Strata, StratifiedOptions, UnconditionalOrder, fisher,
    freeman_halton, linear_by_linear, paired, pairs, stratified, trend, unconditional,
};
use rootling::counts::{DifferenceMethod, OddsRatioMethod, RatioMethod, difference, odds_ratio, ratio};
use rootling::rates::{
    IntervalMethod, Sides, TargetMethod, against_target, against_target_many, bound, interval, interval_many,
};

/// The words of what was refused.
#[track_caller]
fn said<T: std::fmt::Debug>(found: rootling::Result<T>) -> String {
    found.unwrap_err().to_string()
}

fn of(rooted: u64, stuck: u64) -> Count {
    Count { rooted, stuck }
}

fn table(cells: &[&[u64]]) -> rootling::Result<ContingencyTable> {
    ContingencyTable::new(cells.iter().map(|row| row.to_vec()).collect())
}

const NONE_STUCK: &str = "0 cuttings were stuck, so there is no rate; leave this group out or correct the count";
const MORE: &str = "5 rooted of 3 stuck; the number rooted cannot exceed the number stuck";
const LARGE: &str =
    "count 9007199254740993 is above 9007199254740992, the largest that is held exactly; check the entry";

#[test]
fn counts_that_cannot_be() {
    let wilson = IntervalMethod::Wilson;
    for (rooted, stuck, words) in [(0, 0, NONE_STUCK), (5, 3, MORE), (1, (1 << 53) + 1, LARGE)] {
        let bad = of(rooted, stuck);
        assert_eq!(said(interval(bad, wilson, 0.95)), words);
        assert_eq!(said(bound(bad, wilson, 0.95, Sides::Upper)), words);
        assert_eq!(said(against_target(bad, 0.5, TargetMethod::Exact)), words);
        assert_eq!(said(difference(bad, of(1, 2), DifferenceMethod::Mee, 0.95)), words);
        assert_eq!(said(ratio(of(1, 2), bad, RatioMethod::Koopman, 0.95)), words);
        assert_eq!(said(odds_ratio(bad, of(1, 2), OddsRatioMethod::Score, 0.95)), words);
        let control = Control::new();
        let many = interval_many(&[1, rooted], &[2, stuck], wilson, 0.95, Sides::Both, &control);
        assert_eq!(said(many), format!("entry 2: {words}"));
        let many = against_target_many(&[1, rooted], &[2, stuck], &[0.5, 0.5], TargetMethod::Score, &control);
        assert_eq!(said(many), format!("entry 2: {words}"));
        let found = trend(&[1, rooted], &[2, stuck], &[0.0, 1.0], ExactOptions::default(), &control);
        assert_eq!(said(found), format!("entry 2: {words}"));
    }
}

#[test]
fn tables_that_cannot_be() {
    let size = |rows, columns| {
        format!("a table of {rows} x {columns} has no association to test; give at least 2 rows and 2 columns")
    };
    assert_eq!(said(table(&[])), size(0, 0));
    assert_eq!(said(table(&[&[1, 2]])), size(1, 2));
    assert_eq!(said(table(&[&[1], &[2]])), size(2, 1));
    assert_eq!(said(table(&[&[0, 0], &[1, 2]])), "row 1 of the table is all zero; leave it out");
    assert_eq!(said(table(&[&[0, 1, 1], &[0, 2, 1]])), "column 1 of the table is all zero; leave it out");
    assert_eq!(
        said(table(&[&[1, 2], &[3]])),
        "row 2 of the table is 1 long where the first is 2 long; give all rows the same length"
    );
    assert_eq!(said(table(&[&[1 << 53, 1], &[1, 1]])), LARGE.replace("0993", "0995"));
    let three = table(&[&[1, 2, 3], &[4, 5, 6]]).unwrap();
    let not_two = "this exact test is not defined: the table is not 2 x 2; use the chi-square tests or compare two rows and two columns at a time";
    assert_eq!(said(fisher(&three)), not_two);
    assert_eq!(said(unconditional(&three, UnconditionalOrder::Barnard, 0.95, &Control::new())), not_two);
    assert_eq!(
        said(pairs(&[vec![1, 2, 3], vec![4, 5, 6]])),
        "a paired comparison is not defined: the table is not 2 x 2; give [[both rooted, first only], [second only, neither]]"
    );
    assert_eq!(
        said(paired([[0, 0], [0, 0]], PairedMethod::Tango, 0.95)),
        "a paired comparison is not defined: there is no pair; enter the pairs"
    );
    assert_eq!(said(Strata::new(Vec::new())), size(0, 0));
    assert_eq!(
        said(Strata::new(vec![vec![vec![1, 2], vec![3, 4]], vec![vec![1, 2]]])),
        "stratum 2 is 1 x 2 where the first is 2 x 2; all must have the same shape"
    );
    assert_eq!(
        said(Strata::new(vec![vec![vec![0, 0], vec![3, 4]]])),
        "an association within strata is not defined: in every stratum all plants are in one row or in one column; compare groups that share a stratum"
    );
}

#[test]
fn levels_and_targets_outside_their_range() {
    let (one, other, control) = (of(1, 3), of(2, 5), Control::new());
    let two = table(&[&[8, 2], &[1, 5]]).unwrap();
    for (level, shown) in [(0.0, "0"), (1.0, "1"), (95.0, "95"), (-0.5, "-0.5"), (f64::NAN, "NaN")] {
        let words = format!("confidence {shown} is not between 0 and 1; give it as a proportion, for example 0.95");
        assert_eq!(said(interval(one, IntervalMethod::Jeffreys, level)), words);
        assert_eq!(said(bound(one, IntervalMethod::Wilson, level, Sides::Lower)), words);
        assert_eq!(said(interval_many(&[1], &[3], IntervalMethod::Wilson, level, Sides::Both, &control)), words);
        assert_eq!(said(difference(one, other, DifferenceMethod::Newcombe, level)), words);
        assert_eq!(said(ratio(one, other, RatioMethod::Log, level)), words);
        assert_eq!(said(odds_ratio(one, other, OddsRatioMethod::MidP, level)), words);
        assert_eq!(said(unconditional(&two, UnconditionalOrder::Boschloo, level, &control)), words);
        assert_eq!(said(paired([[1, 2], [3, 4]], PairedMethod::Newcombe, level)), words);
        let strata = Strata::new(vec![vec![vec![8, 2], vec![1, 5]]]).unwrap();
        let options = StratifiedOptions { confidence: level, ..StratifiedOptions::default() };
        assert_eq!(said(stratified(&strata, &options, &control)), words);
        let options = RandomisationOptions { confidence: level, ..RandomisationOptions::default() };
        assert_eq!(said(randomisation(&[0.1, 0.2], &[0.3, 0.4], &options, &control)), words);
    }
    assert_eq!(
        said(bound(one, IntervalMethod::Blaker, 0.95, Sides::Upper)),
        "a one-sided blaker bound is not defined: the method joins both tails; use clopper-pearson"
    );
    assert_eq!(
        said(bound(one, IntervalMethod::Wilson, 0.4, Sides::Upper)),
        "confidence of a one-sided bound 0.4 is outside 0.5 to 1"
    );
    assert_eq!(
        said(against_target(one, 60.0, TargetMethod::Exact)),
        "target 60 is not between 0 and 1; give the rate to test against as a proportion, for example 0.6"
    );
    let margin = |margin, level| {
        let options =
            EquivalenceOptions { margin, claim: Claim::NotWorse, method: MarginTest::Score, confidence: level };
        said(equivalence(one, other, &options, &control))
    };
    assert_eq!(
        margin(10.0, 0.95),
        "margin 10 is not above 0 and at most 1; give it as a proportion, for example 0.1 for 10 trees per 100"
    );
    assert_eq!(margin(0.1, 0.4), "confidence of a one-sided test 0.4 is outside 0.5 to 1");
}

#[test]
fn lists_that_do_not_belong_together() {
    let (exact, control) = (ExactOptions::default(), Control::new());
    let unequal = "the lists differ in length: 1 rooted, 2 stuck; give both for every entry";
    assert_eq!(said(interval_many(&[1], &[3, 4], IntervalMethod::Wilson, 0.95, Sides::Both, &control)), unequal);
    assert_eq!(said(against_target_many(&[1], &[3, 4], &[0.5], TargetMethod::Exact, &control)), unequal);
    assert_eq!(said(trend(&[1], &[3, 4], &[0.0, 1.0], exact, &control)), unequal);
    assert_eq!(said(trend(&[1, 2], &[3, 4], &[0.0], exact, &control)), "scores: 1 for 2 groups; give one for each");
    assert_eq!(
        said(trend(&[1, 2], &[3, 4], &[0.0, f64::NAN], exact, &control)),
        "score 2 is NaN; give each group or level a number, for example its strength"
    );
    assert_eq!(
        said(trend(&[1, 2], &[3, 4], &[3.0, 3.0], exact, &control)),
        "a trend is not defined: all scores are the same; give each group its own number, for example its strength"
    );
    let two = table(&[&[8, 2], &[1, 5]]).unwrap();
    assert_eq!(
        said(linear_by_linear(&two, &[1.0], &[1.0, 2.0], exact, &control)),
        "scores: 1 for 2 rows; give one for each"
    );
    assert_eq!(
        said(freeman_halton(&two, ExactOptions { draws: 98, ..exact }, &control)),
        "number of draws 98 is outside 99 to 1000000000"
    );
    let options = RandomisationOptions { draws: 0, ..RandomisationOptions::default() };
    assert_eq!(said(randomisation(&[0.1], &[0.2], &options, &control)), "draws 0 is outside 1 to 1000000000");
}

#[test]
fn what_has_no_odds_ratio_and_what_is_too_large() {
    for (one, other) in [(of(0, 3), of(0, 4)), (of(3, 3), of(4, 4))] {
        assert_eq!(odds_ratio(one, other, OddsRatioMethod::Score, 0.95).unwrap().value, None);
    }
    assert_eq!(
        said(odds_ratio(of(0, 3), of(2, 4), OddsRatioMethod::Woolf, 0.95)),
        "the woolf interval is not defined: one of the four counts is 0; use conditional-exact, mid-p or score"
    );
    assert_eq!(
        said(ratio(of(0, 3), of(0, 4), RatioMethod::Log, 0.95)),
        "the log interval of the ratio is not defined: a group without a rooted cutting, or all rooted in both groups, has no log standard error; use koopman"
    );
    let too_many = |plants: u64, most: u64| {
        format!(
            "{plants} plants are too many for this exact method (at most {most}); use the score test or interval, which is rougher when few rooted or few failed"
        )
    };
    let (large, control) = (of(4000, 20_000), Control::new());
    assert_eq!(said(difference(large, large, DifferenceMethod::Exact, 0.95)), too_many(40_000, 20_000));
    let options =
        EquivalenceOptions { margin: 0.1, claim: Claim::Equivalent, method: MarginTest::Exact, confidence: 0.95 };
    assert_eq!(said(equivalence(large, large, &options, &control)), too_many(40_000, 20_000));
    let nine = table(&[&[9000, 9000], &[9000, 9000]]).unwrap();
    assert_eq!(said(unconditional(&nine, UnconditionalOrder::Boschloo, 0.95, &control)), too_many(36_000, 20_000));
    let milliard = table(&[&[1_000_000_000, 1], &[1, 1]]).unwrap();
    assert_eq!(said(fisher(&milliard)), too_many(1_000_000_003, 1_000_000_000));
    let strata = Strata::new(vec![vec![vec![10_000_000, 10_000_000], vec![10_000_000, 10_000_005]]]).unwrap();
    let found = stratified(&strata, &StratifiedOptions::default(), &control).unwrap();
    assert_eq!(
        found.exact_left_out.as_deref(),
        Some("the strata hold too many plants for exact work; the Mantel-Haenszel odds ratio and its limits stand in")
    );
}

#[test]
fn unknown_names_come_with_the_nearest() {
    assert_eq!(
        said("clopper".parse::<IntervalMethod>()),
        "interval method \"clopper\" is not known; did you mean \"clopper-pearson\"? Known: wald, wilson, wilson-corrected, clopper-pearson, mid-p, jeffreys, agresti-coull, likelihood, blaker"
    );
    assert_eq!(
        said("uper".parse::<Sides>()),
        "choice of sides \"uper\" is not known; did you mean \"upper\"? Known: both, lower, upper"
    );
    assert_eq!(
        said("exat".parse::<TargetMethod>()),
        "test against a target \"exat\" is not known; did you mean \"exact\"? Known: exact, doubled, blaker, mid-p, score"
    );
    assert_eq!(
        said("miettinen".parse::<DifferenceMethod>()),
        "difference method \"miettinen\" is not known; did you mean \"miettinen-nurminen\"? Known: miettinen-nurminen, mee, newcombe, newcombe-corrected, agresti-caffo, wald, exact"
    );
    assert_eq!(
        said("koopmann".parse::<RatioMethod>()),
        "ratio method \"koopmann\" is not known; did you mean \"koopman\"? Known: koopman, log, miettinen-nurminen"
    );
    assert_eq!(
        said("wolf".parse::<OddsRatioMethod>()),
        "odds ratio method \"wolf\" is not known; did you mean \"woolf\"? Known: conditional-exact, mid-p, woolf, score, miettinen-nurminen"
    );
    assert_eq!(
        said("boshloo".parse::<UnconditionalOrder>()),
        "unconditional test \"boshloo\" is not known; did you mean \"boschloo\"? Known: boschloo, barnard, barnard-unpooled"
    );
    assert_eq!(
        said("tanga".parse::<PairedMethod>()),
        "paired interval \"tanga\" is not known; did you mean \"tango\"? Known: tango, newcombe"
    );
    assert_eq!(
        said("worse".parse::<Claim>()),
        "claim \"worse\" is not known; known: equivalent, not-worse, not-better"
    );
    assert_eq!(
        said("scor".parse::<MarginTest>()),
        "test against a margin \"scor\" is not known; did you mean \"score\"? Known: score, exact"
    );
}
