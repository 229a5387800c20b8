//! Contrasts by scores: the same answer as the effect test and the comparison of two levels, and a second route to every root.

use approx::abs_diff_eq;
use proptest::prelude::*;
use rootling::compare::{CompareOptions, strengths};
use rootling::control::Control;
use rootling::effects::Scale;
use rootling::models::{Model, ModelSpec};
use rootling::trial::{UnitKind, Units};

use crate::contrasts::{ask, on, options};
use crate::models::{factor, spec, units};

fn two(rooted: &[u64], stuck: &[u64]) -> Units {
    let levels: Vec<&str> = (0..rooted.len()).map(|at| ["0", "2500"][at % 2]).collect();
    units(UnitKind::Tray, rooted.to_vec(), stuck.to_vec(), vec![factor("strength", &levels)])
}

/// Contrast, effect test and comparison of two levels: one P value, one interval.
fn three_agree(data: &Units) {
    let model = Model::fit(data, &ModelSpec::of(&["strength"])).unwrap();
    let row = ask(&model, "strength", &options()).numbers.contrasts.remove(0);
    let test = model.what_matters(None).unwrap().numbers.effects.remove(0);
    let compared =
        strengths(data, "strength", "0", "2500", &CompareOptions::default(), &Control::new()).unwrap().numbers;
    let Some(p) = compared.p else { return };
    let rooted: u64 = data.rooted.iter().sum();
    // Where all or none rooted P is 1; the effect test reaches it through a penalised fit, to that fit's precision.
    if rooted > 0 && rooted < data.stuck.iter().sum() {
        assert_rel!(row.p.unwrap(), test.p.unwrap(), 1e-7);
    }
    assert_rel!(row.p.unwrap(), p, 1e-7);
    let near = |got: Option<f64>, want: Option<f64>| {
        let (got, want) = (got.unwrap(), want.unwrap());
        assert!(abs_diff_eq!(got, want, epsilon = 1e-6), "{got} {want} {data:?}");
    };
    near(row.low, compared.low);
    near(row.high, compared.high);
    // The furthest difference the effect test leaves open is the one of the contrast and of the comparison.
    near(test.not_ruled_out, row.not_ruled_out);
    let ratio = ask(&model, "strength", &on(Scale::Ratio)).numbers.contrasts.remove(0);
    let bounded = |x: f64| Some(x).filter(|x| x.is_finite() && *x > 0.0);
    if let Some((_, low, high)) = compared.ratio {
        for (got, want) in [(ratio.low, bounded(low)), (ratio.high, bounded(high))] {
            let got = got.and_then(bounded);
            assert_eq!(got.is_some(), want.is_some(), "{ratio:?} {low} {high}");
            if let Some((got, want)) = got.zip(want) {
                assert_rel!(got, want, 1e-5);
            }
        }
    }
    // Odds ratios of the model are contrasts on the odds scale.
    let odds = ask(&model, "strength", &on(Scale::Odds)).numbers.contrasts.remove(0);
    let listed = model.odds_ratios(0.95).unwrap().numbers.ratios.remove(0);
    // A contrast that says that a limit was not found claims nothing about it.
    let limits = [(odds.low, listed.low), (odds.high, listed.high)];
    for (got, want) in limits.into_iter().filter(|(got, _)| got.is_some() || odds.why.is_none()) {
        // Where there is no bound both are infinite (or 0).
        assert_eq!(got.is_some(), want.is_some(), "{odds:?} {listed:?}");
        if let Some((got, want)) = got.zip(want) {
            assert_rel!(got, want, 1e-5);
        }
    }
    assert_rel!(listed.p.unwrap(), p, 1e-7);
}

#[test]
fn two_levels_have_one_answer_whoever_is_asked() {
    three_agree(&two(&[8, 12, 7, 15, 9, 11, 5, 13], &[20; 8]));
    // a level without a rooted cutting, one with all, none at all
    three_agree(&two(&[0, 3, 0, 5, 0, 2, 0, 6], &[20; 8]));
    three_agree(&two(&[20, 13, 20, 15, 20, 12], &[20; 6]));
    three_agree(&two(&[0; 8], &[20; 8]));
    three_agree(&two(&[0, 20, 0, 20, 0, 20], &[20; 6]));
}

/// Trays of three levels in two blocks.
fn three(rooted: &[u64]) -> Units {
    let at = |row: usize| row % 3;
    let level: Vec<&str> = (0..rooted.len()).map(|row| ["0", "1000", "2500"][at(row)]).collect();
    let joined: Vec<&str> = (0..rooted.len()).map(|row| ["low", "low", "high"][at(row)]).collect();
    let block: Vec<&str> = (0..rooted.len()).map(|row| ["a", "b"][row / 3 % 2]).collect();
    let factors = vec![factor("joined", &joined), factor("strength", &level), factor("rootstock", &block)];
    units(UnitKind::Tray, rooted.to_vec(), vec![20; rooted.len()], factors)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    #[test]
    fn any_two_levels_have_one_answer(
        rooted in prop::collection::vec(0_u64..=20, 4..12), size in 20_u64..=30
    ) {
        three_agree(&two(&rooted, &vec![size; rooted.len()]));
    }

    #[test]
    fn a_pair_of_three_is_the_test_of_telling_them_apart(
        counts in prop::collection::vec(0_u64..=20, 12..19)
    ) {
        // Two routes: the pair held equal by the contrast, and a model in which it is joined against one in which it is not.
        let data = three(&counts);
        let apart = Model::fit(&data, &spec(&["strength", "rootstock"], &[])).unwrap();
        let both = Model::fit(&data, &spec(&["joined", "strength", "rootstock"], &[])).unwrap();
        let row = ask(&apart, "strength", &options()).numbers.contrasts.remove(0);
        let test = both.what_matters(None).unwrap().numbers.effects.remove(1);
        prop_assert_eq!(test.df, 1.0);
        if !apart.penalised && test.statistic.unwrap() > 1e-12 {
            assert_rel!(row.statistic.unwrap().powi(2), test.statistic.unwrap(), 1e-7);
        }
    }
}
