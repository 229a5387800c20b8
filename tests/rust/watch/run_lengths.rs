//! Run lengths: published values, the chain against simulated counts, limits that keep their promise.

use rootling::math::distributions::normal;
use rootling::math::rng::{beta_binomial, deviate, stream};
use rootling::math::special::{expit, logit};
use rootling::watch::{
    DateScores, Expected, Law, Look, Running, Spreads, Truth, alive_law, average_limit, average_run_length, change_of,
    limit_for, run_length,
};

/// Scores of a normal variable less 0.5, in steps.
fn normal_scores(step: f64) -> Law {
    let atoms: Vec<(i64, f64)> = ((-8.0 / step) as i64..=(8.0 / step) as i64)
        .map(|i| {
            let x = i as f64 * step + 0.5;
            (i, normal::cdf(x + 0.5 * step) - normal::cdf(x - 0.5 * step))
        })
        .collect();
    Law::of(atoms)
}

#[test]
fn sums_of_normal_variables_have_the_published_run_lengths() {
    // Hawkins 1993, Journal of Quality Technology 25:248-260, and Hawkins and Olwell 1998, table 3.2, from memory: reference 0.5; one-sided sums
    // have twice the two-sided lengths 167.68 and 465.44.
    let step = 1.0 / 128.0;
    let scores = normal_scores(step);
    for (limit, two_sided) in [(4.0, 167.68), (5.0, 465.44)] {
        // A whole step is exceeded half a step earlier or later.
        let at = (limit / step) as i64;
        let length = 0.5 * (run_length(&scores, at).unwrap() + run_length(&scores, at - 1).unwrap());
        assert_rel!(length, 2.0 * two_sided, 2e-3, "limit {limit}");
    }
}

#[test]
fn a_chain_of_two_steps_has_the_length_that_is_found_by_hand() {
    // Up one step with probability 1/4, else down: from 0, above 1. L0 = 1 + 3/4 L0 + 1/4 L1, L1 = 1 + 3/4 L0, so L0 = 20.
    let scores = Law::new(-1, vec![0.75, 0.0, 0.25]);
    assert_rel!(run_length(&scores, 1).unwrap(), 20.0, 1e-12);
    assert_eq!(limit_for(&scores, 20.0), Some(1));
    assert_eq!(limit_for(&scores, 20.1), Some(2));
    assert_eq!(limit_for(&Law::new(-2, vec![0.5, 0.5]), 10.0), None);
}

#[test]
fn counts_have_the_law_of_a_beta_binomial() {
    for (started, rate, rho) in [(15, 0.88, 0.03), (1, 0.2, 0.0), (40, 0.99, 0.15), (200, 0.5, 0.0)] {
        let law = alive_law(started, rate, rho);
        let n = started as f64;
        assert_rel!(law.probabilities().iter().sum::<f64>(), 1.0, 1e-12);
        let (mean, variance) = law.moments();
        assert_rel!(mean, n * rate, 1e-11);
        assert_rel!(variance, n * rate * (1.0 - rate) * (1.0 + (n - 1.0) * rho), 1e-10);
    }
}

/// A week of batches and the look at it.
struct Case {
    clusters: usize,
    batches: usize,
    started: u64,
    rate: f64,
    spreads: Spreads,
}

impl Case {
    fn scores(&self) -> DateScores {
        let look = Look { change: change_of(0.05, self.rate).unwrap(), spreads: self.spreads, step: 1.0 / 32.0 };
        let batch = Expected { started: self.started, alive: 0, logit: logit(self.rate) };
        DateScores::new(&vec![vec![batch; self.batches]; self.clusters], &look, &[Truth::default()])
    }

    /// Scores of drawn weeks.
    fn drawn(&self, scores: &DateScores, weeks: u64, seed: u64) -> Vec<i64> {
        let one = |week: u64| {
            let mut rng = stream(seed, week);
            let shared = self.spreads.week * deviate(&mut rng);
            let counts: Vec<Vec<u64>> = (0..self.clusters)
                .map(|_| {
                    let shift = shared + self.spreads.week_in_place * deviate(&mut rng);
                    let rate = expit(logit(self.rate) + shift);
                    (0..self.batches).map(|_| beta_binomial(&mut rng, self.started, rate, self.spreads.batch)).collect()
                })
                .collect();
            scores.score(&counts)
        };
        (0..weeks).map(one).collect()
    }
}

fn cases() -> Vec<Case> {
    let spreads = |batch, week_in_place, week| Spreads { batch, week_in_place, week };
    vec![
        Case { clusters: 1, batches: 1, started: 10, rate: 0.8, spreads: spreads(0.0, 0.0, 0.0) },
        Case { clusters: 1, batches: 5, started: 15, rate: 0.88, spreads: spreads(0.03, 0.0, 0.0) },
        Case { clusters: 1, batches: 5, started: 15, rate: 0.88, spreads: spreads(0.03, 0.2, 0.0) },
        Case { clusters: 1, batches: 12, started: 20, rate: 0.95, spreads: spreads(0.15, 0.3, 0.0) },
        Case { clusters: 3, batches: 2, started: 12, rate: 0.85, spreads: spreads(0.05, 0.1, 0.2) },
        Case { clusters: 4, batches: 3, started: 15, rate: 0.9, spreads: spreads(0.02, 0.0, 0.3) },
    ]
}

#[test]
fn the_law_of_a_weeks_score_is_that_of_drawn_weeks() {
    for case in cases() {
        let scores = case.scores();
        let law = &scores.laws[0];
        let drawn = case.drawn(&scores, 40_000, 3);
        let (mean, variance) = law.moments();
        let n = drawn.len() as f64;
        let seen = drawn.iter().map(|one| *one as f64).sum::<f64>() / n;
        let spread = drawn.iter().map(|one| (*one as f64 - seen).powi(2)).sum::<f64>() / n;
        assert!((seen - mean).abs() < 4.0 * (variance / n).sqrt(), "mean {seen} of {mean}");
        assert!((spread / variance - 1.0).abs() < 0.05, "variance {spread} of {variance}");
        // Weeks as bad as the worst one in twenty of them.
        let mut above = 0.0;
        let tail = law.atoms().collect::<Vec<_>>().into_iter().rev().find(|(_, p)| {
            above += p;
            above > 0.05
        });
        let bound = tail.unwrap().0;
        let want: f64 = law.atoms().filter(|(value, _)| *value >= bound).map(|(_, p)| p).sum();
        let got = drawn.iter().filter(|one| **one >= bound).count() as f64 / n;
        assert!((got - want).abs() < 4.0 * (want / n).sqrt(), "tail {got} of {want}");
    }
}

#[test]
fn moving_limits_keep_the_weeks_that_were_promised() {
    for case in cases() {
        let scores = case.scores();
        let mut running = Running::default();
        let limits: Vec<i64> = (0..300).map(|_| running.advance(&scores.laws[0], 1.0 / 50.0)).collect();
        let (mut weeks, mut signals) = (0_u64, 0_u64);
        let drawn = case.drawn(&scores, 60_000, 11);
        let (mut sum, mut since) = (0_i64, 0);
        for score in drawn {
            sum = (sum + score).max(0);
            weeks += 1;
            since += 1;
            if sum > limits[since - 1] || since == limits.len() {
                signals += u64::from(sum > limits[since - 1]);
                (sum, since) = (0, 0);
            }
        }
        let between = weeks as f64 / signals as f64;
        // 1,200 signals: a standard error of 3 %.
        assert!((between / 50.0 - 1.0).abs() < 0.1, "{between} weeks between signals, 50 promised");
    }
}

#[test]
fn a_drop_is_seen_sooner_by_scores_of_the_right_law() {
    // Binomial scores and limits where batches are correlated: signals come many times as often as promised.
    let honest = Case {
        clusters: 1,
        batches: 5,
        started: 15,
        rate: 0.88,
        spreads: Spreads { batch: 0.05, week_in_place: 0.0, week: 0.0 },
    };
    let naive = Case { spreads: Spreads { batch: 0.0, ..honest.spreads }, ..honest };
    let length = |limits_of: &Case| {
        let scores = limits_of.scores();
        let limit = limit_for(&scores.laws[0], 100.0).unwrap();
        let drawn = honest.drawn(&scores, 20_000, 5);
        let (mut sum, mut signals) = (0_i64, 0_u64);
        for score in &drawn {
            sum = (sum + score).max(0);
            if sum > limit {
                signals += 1;
                sum = 0;
            }
        }
        drawn.len() as f64 / signals.max(1) as f64
    };
    assert!(length(&honest) > 90.0);
    assert!(length(&naive) < 35.0, "{}", length(&naive));
}

#[test]
fn running_averages_have_the_published_run_lengths() {
    // Lucas and Saccucci 1990, Technometrics 32:1-12, table 1, from memory: pairs of share and limit with a run length of 500.
    for (share, limit) in [(0.1, 2.814), (0.25, 2.998), (0.4, 3.054)] {
        assert_rel!(average_run_length(share, limit, true).unwrap(), 500.0, 1e-2, "share {share}");
    }
    // A share of 1 is each standing by itself: one in so many beyond its quantile.
    assert_rel!(average_run_length(1.0, 3.0, true).unwrap(), 1.0 / (2.0 * normal::sf(3.0)), 1e-3);
    let limit = average_limit(0.1, 500.0);
    assert_rel!(average_run_length(0.1, limit, false).unwrap(), 500.0, 1e-2);
}

#[test]
fn a_running_average_holds_its_run_length_in_drawn_standings() {
    let (share, limit) = (0.1, average_limit(0.1, 60.0));
    let spread = (share / (2.0_f64 - share)).sqrt();
    let mut rng = stream(8, 0);
    let (mut average, mut signals, draws) = (0.0, 0_u32, 120_000);
    for _ in 0..draws {
        average = (1.0 - share) * average + share * deviate(&mut rng);
        if average < -limit * spread {
            signals += 1;
            average = 0.0;
        }
    }
    let length = f64::from(draws) / f64::from(signals);
    assert!((length / 60.0 - 1.0).abs() < 0.08, "{length}");
}
