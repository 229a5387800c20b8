//! How many to start, and what so many bring.

use rootling::math::rng;
use rootling::steps::StartLaw;

/// 36 % in batches of 40 with correlation 0.1.
const BATCHES: StartLaw =
    StartLaw { take: 0.36, batch_size: 40.0, correlation: 0.1, season_sd: 0.0, se: 0.0, df: f64::INFINITY };

#[test]
fn two_hundred_trees_at_36_per_cent() {
    let alone = StartLaw { correlation: 0.0, ..BATCHES };
    // scipy.stats.binom.sf(199, n, 0.36).
    assert_rel!(alone.assurance(556, 200).unwrap(), 0.5216083073619333, 1e-11);
    assert_rel!(alone.assurance(609, 200).unwrap(), 0.9529397646360991, 1e-11);
    assert_eq!(alone.needed(200, 0.95).unwrap(), Some(609));
    // scipy.stats.betabinom.sf of the sum's mean and variance; the exact convolution of batches gives 0.7727 and 0.9514.
    assert_rel!(BATCHES.assurance(609, 200).unwrap(), 0.771304811390269, 1e-8);
    assert_rel!(BATCHES.assurance(680, 200).unwrap(), 0.9516628032621047, 1e-8);
    assert_eq!(BATCHES.needed(200, 0.95).unwrap(), Some(679));
    // With seasons of a standard deviation of 0.25 on the log odds, and an estimate from 40 such batches beside (0.1155).
    let season = StartLaw { season_sd: 0.25, ..BATCHES };
    assert_eq!(season.needed(200, 0.95).unwrap(), Some(788));
    let both = StartLaw { se: 0.1155, ..season };
    assert_eq!(both.needed(200, 0.95).unwrap(), Some(809));
    // Known from six seasons only: scipy.stats.t.ppf in place of the normal quantile.
    assert_eq!(StartLaw { df: 5.0, ..season }.needed(200, 0.95).unwrap(), Some(835));
}

#[test]
fn the_inverse_agrees() {
    for law in [BATCHES, StartLaw { season_sd: 0.25, se: 0.1, ..BATCHES }] {
        let needed = law.needed(200, 0.95).unwrap().unwrap();
        assert!(law.sure_of(needed, 0.95).unwrap() >= 200);
        assert!(law.sure_of(needed - 1, 0.95).unwrap() < 200);
    }
    assert_eq!(BATCHES.sure_of(0, 0.95).unwrap(), 0);
    assert_eq!(BATCHES.needed(0, 0.95).unwrap(), Some(0));
}

#[test]
fn drawn_batches_come_to_the_assurance() {
    // 17 batches of 40 drawn 20,000 times; a standard error is 0.0015.
    let draws = 20_000_u64;
    let reached = (0..draws).filter(|draw| {
        let mut rng = rng::stream(5, *draw);
        (0..17).map(|_| rng::beta_binomial(&mut rng, 40, 0.36, 0.1)).sum::<u64>() >= 200
    });
    let share = reached.count() as f64 / draws as f64;
    assert!((share - BATCHES.assurance(680, 200).unwrap()).abs() < 0.006, "{share}");
}

#[test]
fn laws_that_cannot_be() {
    let wrong = [
        StartLaw { take: 0.0, ..BATCHES },
        StartLaw { take: 1.0, ..BATCHES },
        StartLaw { batch_size: 0.0, ..BATCHES },
        StartLaw { correlation: 1.0, ..BATCHES },
        StartLaw { season_sd: -0.1, ..BATCHES },
        StartLaw { season_sd: 5.1, ..BATCHES },
        StartLaw { se: f64::NAN, ..BATCHES },
        StartLaw { df: 0.0, ..BATCHES },
    ];
    for law in wrong {
        assert!(law.needed(200, 0.95).is_err() && law.assurance(500, 200).is_err() && law.sure_of(500, 0.95).is_err());
    }
    assert!(BATCHES.needed(200, 1.0).is_err());
    // No number does where seasons can be hopeless.
    assert_eq!(StartLaw { take: 1e-6, season_sd: 5.0, ..BATCHES }.needed(1_000_000, 0.99).unwrap(), None);
}
