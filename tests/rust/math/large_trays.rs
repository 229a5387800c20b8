//! Tails of the beta-binomial law for trays of any size, against sums and against each other.

use rootling::math::distributions::{beta_binomial, binomial};

#[test]
fn tails_are_those_of_summed_probabilities() {
    // scipy 1.17.1: stats.betabinom(20000, mean / g, (1 - mean) / g).logpmf over 0..=20000, exponentiated and summed by math.fsum, with
    // g = rho / (1 - rho); its log-gamma differences keep about ten digits.
    let cases = [
        ((100.0, 0.3, 0.05), 1.317_273_241_567_582_8e-9, 0.999_999_998_651_940_3),
        ((7000.0, 0.3, 0.05), 0.699_613_264_939_547_9, 0.300_386_735_029_665_73),
        ((19_000.0, 0.3, 0.05), 0.999_999_999_969_185_9, 2.768_226_650_139_223e-14),
        ((3.0, 0.01, 0.4), 0.886_242_867_858_590_1, 0.113_757_132_163_494_1),
        ((9000.0, 0.5, 0.001), 0.001_001_932_075_269_043_3, 0.998_998_067_887_414_3),
        ((2000.0, 0.02, 0.02), 0.993_916_279_922_186_3, 0.006_083_720_074_639_345),
    ];
    for ((k, mean, rho), below, above) in cases {
        assert_rel!(beta_binomial::cdf(k, 20_000.0, mean, rho).unwrap(), below, 2e-10);
        assert_rel!(beta_binomial::sf(k, 20_000.0, mean, rho).unwrap(), above, 2e-10);
    }
}

#[test]
fn tails_agree_with_our_own_sums() {
    for (n, mean, rho) in [(60.0, 0.4, 0.1), (500.0, 0.03, 0.3), (1500.0, 0.7, 1e-4), (1500.0, 0.5, 1e-9)] {
        let probability = |k: f64| beta_binomial::ln_pmf(k, n, mean, rho).exp();
        for share in [0.0, 0.02, 0.3, 0.5, 0.8, 0.97] {
            let k = (share * n).floor();
            let below: f64 = (0..=k as u64).map(|k| probability(k as f64)).sum();
            let above: f64 = (k as u64 + 1..=n as u64).rev().map(|k| probability(k as f64)).sum();
            assert_rel!(beta_binomial::cdf(k, n, mean, rho).unwrap(), below, 1e-9);
            assert_rel!(beta_binomial::sf(k, n, mean, rho).unwrap(), above, 1e-9);
        }
    }
}

#[test]
fn a_tray_of_two_thousand_million_has_tails() {
    let (n, mean, rho) = (2e9, 0.4, 0.05);
    let (below, above) =
        (beta_binomial::cdf(1e9, n, mean, rho).unwrap(), beta_binomial::sf(1e9, n, mean, rho).unwrap());
    assert_rel!(below + above, 1.0, 1e-12);
    // A vanishing correlation is the binomial law.
    let k = 800_020_000.0;
    assert_rel!(beta_binomial::sf(k, n, mean, 1e-16).unwrap(), binomial::sf(k, n, mean), 1e-5);
    // The ends.
    assert_eq!(beta_binomial::cdf(n, n, mean, rho), Some(1.0));
    assert_eq!(beta_binomial::cdf(-1.0, n, mean, rho), Some(0.0));
    assert_eq!(beta_binomial::sf(-1.0, n, mean, rho), Some(1.0));
    assert_eq!(beta_binomial::sf(n, n, mean, rho), Some(0.0));
}
