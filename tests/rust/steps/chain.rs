//! Takes of steps and the overall yield: two routes to each standard error.

use rootling::error::{Error, StepsError};
use rootling::math::rng;
use rootling::steps::{Passed, chain_yield, lost_most_often};

fn batch(counts: &[u64]) -> Vec<Option<Passed>> {
    counts.windows(2).map(|pair| Some(Passed { reached: pair[0], passed: pair[1] })).collect()
}

fn four() -> Vec<Vec<Option<Passed>>> {
    [[50, 40, 20, 18], [50, 30, 18, 10], [60, 44, 30, 27], [40, 36, 20, 20]].iter().map(|one| batch(one)).collect()
}

#[test]
fn followed_cohorts_by_hand() {
    // Residuals, covariances, leaving out one, Bell and McCaffrey's degrees of freedom by matrices, the beta-binomial's kurtosis and the
    // held mean square by scipy.stats, Wilson's limits: written out in Python with numpy and scipy.
    let found = chain_yield(&four(), None, 0.95).unwrap();
    for (step, want) in found.steps.iter().zip([0.75, 88.0 / 150.0, 75.0 / 88.0]) {
        assert_rel!(step.take, want, 1e-14);
    }
    assert_rel!(found.value, 0.375, 1e-14);
    assert_rel!(found.se, 0.06383805776374794, 1e-12);
    assert_rel!(found.se_without_one.unwrap(), 0.06386021447650095, 1e-12);
    assert_rel!(found.covariance[0][2], 0.004449896694214875, 1e-12);
    assert_rel!(found.covariance[1][1], 0.0018346877366255154, 1e-12);
    assert_rel!(found.df, 3.2190692526444833, 1e-10);
    assert_rel!(found.low, 0.21036487114429273, 1e-10);
    assert_rel!(found.high, 0.5747055876969849, 1e-10);
    for (step, (se, df)) in found.steps.iter().zip([
        (0.05695654149478898, 3.1271518204079496),
        (0.043737820024373514, 6.759012754966657),
        (0.08150732218687783, 1.6832773700695562),
    ]) {
        assert_rel!(step.se, se, 1e-11);
        assert_rel!(step.df, df, 1e-10);
    }
    assert_rel!(found.steps[2].low, 0.304649142238709, 1e-10);
    let wanted = [(0.25, 0.05695654149, 0.025), (0.31, 0.047403106726, 0.0319602272), (0.065, 0.031777912445, 0.022)];
    for (step, (lost, se, gain)) in found.steps.iter().zip(wanted) {
        assert_rel!(step.lost, lost, 1e-13);
        assert_rel!(step.lost_se, se, 1e-9);
        assert_rel!(step.gain, gain, 1e-7);
    }
    // What is lost and what is left make all that started.
    let all: f64 = found.steps.iter().map(|step| step.lost).sum::<f64>() + found.value;
    assert_rel!(all, 1.0, 1e-14);
}

#[test]
fn the_yield_of_followed_cohorts_is_that_of_start_and_end() {
    // With the same batches at all steps the residuals of the product are those of the plain ratio.
    let found = chain_yield(&four(), None, 0.95).unwrap();
    let ends = [[50, 18], [50, 10], [60, 27], [40, 20]].iter().map(|one| batch(one)).collect::<Vec<_>>();
    let plain = chain_yield(&ends, None, 0.95).unwrap();
    assert_rel!(found.value, plain.value, 1e-14);
    assert_rel!(found.se, plain.se, 1e-12);
    assert_rel!(found.high, plain.high, 1e-12);
}

#[test]
fn current_rates_take_each_step_from_its_own_batches() {
    let mut batches = four();
    batches[0][2] = None;
    batches.push(vec![None, Some(Passed { reached: 30, passed: 15 }), Some(Passed { reached: 15, passed: 12 })]);
    let found = chain_yield(&batches, None, 0.95).unwrap();
    assert_rel!(found.steps[2].take, 69.0 / 83.0, 1e-14);
    assert_rel!(found.value, 0.75 * (103.0 / 180.0) * (69.0 / 83.0), 1e-14);
    assert!(found.df > 3.0);
    assert!(found.se_without_one.is_some());
}

#[test]
fn plants_of_batches_that_are_all_alike_still_vary_as_if_alone() {
    let found = chain_yield(&vec![batch(&[40, 30, 15]); 6], None, 0.95).unwrap();
    // A correlation of .02 before events are seen, with 90 trees at the end.
    let least: f64 = 1.0 + 39.0 * 0.02 * 2.0 / 92.0;
    assert_rel!(found.se, (0.375 * 0.625 / 240.0_f64 * least).sqrt(), 1e-12);
    for all in [[20, 20, 20], [20, 20, 0]] {
        let found = chain_yield(&vec![batch(&all); 3], None, 0.95).unwrap();
        assert!(found.low <= found.value && found.value <= found.high && found.high - found.low > 0.01);
        assert!(found.low >= 0.0 && found.high <= 1.0 && !found.se.is_nan());
    }
}

#[test]
fn limits_hold_where_batches_differ() {
    // 12 batches of 40, correlation 0.1 at each of two steps: 400 crops, coverage 95 % within 4 standard errors below.
    let mut held = 0;
    for crop in 0..400 {
        let mut rng = rng::stream(18, crop);
        let batches: Vec<Vec<Option<Passed>>> = (0..12)
            .map(|_| {
                let first = rng::beta_binomial(&mut rng, 40, 0.7, 0.1);
                let second = rng::beta_binomial(&mut rng, first.max(1), 0.6, 0.1).min(first);
                batch(&[40, first, second])
            })
            .collect();
        let found = chain_yield(&batches, None, 0.95).unwrap();
        held += u32::from(found.low <= 0.42 && 0.42 <= found.high);
    }
    assert!((363..=395).contains(&held), "{held}");
}

#[test]
fn the_costliest_step_is_drawn_anew() {
    let shares = lost_most_often(&four(), 2000, 7).unwrap();
    assert_eq!(shares, lost_most_often(&four(), 2000, 7).unwrap());
    assert!((shares.iter().sum::<f64>() - 1.0).abs() < 1e-12);
    assert!(shares[1] > shares[0] && shares[0] > 0.05 && shares[2] < 0.01, "{shares:?}");
}

#[test]
fn chains_that_cannot_be() {
    let rises = vec![batch(&[50, 40]), vec![Some(Passed { reached: 10, passed: 11 })]];
    let wrong = StepsError::RisesAlongChain { batch: 2, step: 1, into: 10, out: 11 };
    assert_eq!(chain_yield(&rises, None, 0.95).unwrap_err(), Error::Steps(wrong));
    let none = vec![batch(&[50, 0, 0]), batch(&[50, 0, 0])];
    assert_eq!(chain_yield(&none, None, 0.95).unwrap_err(), Error::Steps(StepsError::NothingReached { step: 2 }));
    let uneven = vec![batch(&[50, 40, 20]), batch(&[50, 40])];
    let wrong = StepsError::UnevenChain { batch: 2, found: 1, expected: 2 };
    assert_eq!(chain_yield(&uneven, None, 0.95).unwrap_err(), Error::Steps(wrong));
    let one = StepsError::TooFewBatches { batches: 1 };
    assert_eq!(chain_yield(&[batch(&[50, 40])], None, 0.95).unwrap_err(), Error::Steps(one));
    assert_eq!(chain_yield(&[], None, 0.95).unwrap_err(), Error::Steps(StepsError::NoSteps));
    assert!(chain_yield(&four(), None, 1.0).is_err());
}

#[test]
fn seasons_are_no_spread_of_batches() {
    // Two seasons of two alike batches: within seasons batches do not differ, over both they do.
    let batches: Vec<_> = [[50, 10], [50, 10], [50, 40], [50, 40]].iter().map(|one| batch(one)).collect();
    let over = chain_yield(&batches, None, 0.95).unwrap();
    let within = chain_yield(&batches, Some(&[0, 0, 1, 1]), 0.95).unwrap();
    assert_rel!(within.value, over.value, 1e-14);
    let least: f64 = 1.0 + 49.0 * 0.02 * 2.0 / 102.0;
    assert_rel!(within.se, (0.25 / 200.0 * least).sqrt(), 1e-12);
    assert!(over.se > 4.0 * within.se);
    // A season of one batch leaves all together.
    let alone = chain_yield(&batches, Some(&[0, 0, 0, 1]), 0.95).unwrap();
    assert_rel!(alone.se, over.se, 1e-14);
}
