//! One battery that every law of counts passes: probabilities that sum to the tails, points of both tails, moments, draws, and statrs'
//! own law where it has one.

use approx::assert_abs_diff_eq;
use rootling::math::distributions::{BetaBinomial, Binomial, Hypergeometric};
use rootling::math::rng::{self, stream, uniform};
use statrs::distribution as peers;
use statrs::distribution::{Discrete, DiscreteCDF};
use statrs::statistics::Distribution;

type Cdf = Box<dyn DiscreteCDF<u64, f64>>;
type Pmf = Box<dyn Discrete<u64, f64>>;

struct Case {
    name: String,
    law: Cdf,
    at: Pmf,
    moments: Box<dyn Distribution<f64>>,
    peer: Option<(Cdf, Pmf)>,
    /// Relative error of a tail.
    held: f64,
}

fn boxed<L, P>(name: String, law: L, peer: Option<P>, held: f64) -> Case
where
    L: DiscreteCDF<u64, f64> + Discrete<u64, f64> + Distribution<f64> + Copy + 'static,
    P: DiscreteCDF<u64, f64> + Discrete<u64, f64> + Clone + 'static,
{
    let peer = peer.map(|one| (Box::new(one.clone()) as Cdf, Box::new(one) as Pmf));
    Case { name, law: Box::new(law), at: Box::new(law), moments: Box::new(law), peer, held }
}

fn every() -> Vec<Case> {
    let mut all = Vec::new();
    for (n, p) in [(0, 0.3), (1, 0.5), (10, 0.3), (96, 0.5), (240, 0.97), (5000, 0.01), (4, 0.0), (4, 1.0)] {
        all.push(boxed(
            format!("binomial {n} {p}"),
            Binomial::new(n, p).unwrap(),
            peers::Binomial::new(p, n).ok(),
            1e-12,
        ));
    }
    for (n, mean, rho) in
        [(1, 0.4, 0.2), (12, 0.4, 0.1), (40, 0.05, 0.5), (300, 0.5, 0.02), (60, 0.3, 0.0), (30, 0.002, 0.9)]
    {
        let peer = (rho == 0.0).then(|| peers::Binomial::new(mean, n).unwrap());
        all.push(boxed(
            format!("beta-binomial {n} {mean} {rho}"),
            BetaBinomial::new(n, mean, rho).unwrap(),
            peer,
            1e-9,
        ));
    }
    for (successes, failures, draws) in
        [(3, 5, 3), (10, 14, 9), (240, 240, 263), (1000, 5000, 800), (7, 0, 4), (5, 9, 14), (20, 30, 0)]
    {
        let law = Hypergeometric::new(successes, failures, draws).unwrap();
        // statrs gives no number where a number of choices leaves the range.
        let small = successes + failures < 1000;
        let peer = peers::Hypergeometric::new(successes + failures, successes, draws).ok().filter(|_| small);
        all.push(boxed(format!("hypergeometric {successes} {failures} {draws}"), law, peer, 1e-12));
    }
    all
}

impl Case {
    fn counts(&self) -> std::ops::RangeInclusive<u64> {
        self.law.min()..=self.law.max()
    }
}

#[test]
fn probabilities_sum_to_the_tails() {
    for case in every() {
        let all: Vec<f64> = case.counts().map(|k| case.at.pmf(k)).collect();
        // As many roundings as terms, most of them far below the largest.
        assert_rel!(all.iter().sum::<f64>(), 1.0, 1e-12);
        let (mut below, mut seen) = (0.0, 1.0_f64);
        let mut above: Vec<f64> = all
            .iter()
            .rev()
            .scan(0.0, |sum, p| {
                let before = *sum;
                *sum += p;
                Some(before)
            })
            .collect();
        above.reverse();
        for (k, p) in case.counts().zip(&all) {
            below += p;
            let above = above[(k - case.law.min()) as usize];
            for (got, want) in [(case.law.cdf(k), below), (case.law.sf(k), above)] {
                if want > 1e-300 {
                    assert_rel!(got, want, case.held, "{} at {k}", case.name);
                    seen = seen.min(want);
                }
            }
            assert_abs_diff_eq!(case.law.cdf(k) + case.law.sf(k), 1.0, epsilon = 1e-12);
            assert_abs_diff_eq!(case.at.ln_pmf(k).exp(), *p, epsilon = 1e-12 * p);
        }
        // Laws of many counts are followed far out.
        let counts = case.law.max() - case.law.min();
        assert!(counts < 600 || seen < 1e-200, "{}: only to {seen:e}", case.name);
        assert_eq!((case.law.cdf(case.law.max()), case.law.sf(case.law.max())), (1.0, 0.0), "{}", case.name);
        assert_eq!(case.at.pmf(case.law.max() + 1), 0.0, "{}", case.name);
    }
}

#[test]
fn a_point_is_the_smallest_count_that_is_enough() {
    for case in every() {
        for p in [0.0, 1e-300, 1e-100, 1e-12, 1e-3, 0.2, 0.5, 0.77, 0.999, 1.0 - 1e-12, 1.0] {
            let k = case.law.inverse_cdf(p);
            assert!(case.counts().contains(&k), "{} at {p}: {k}", case.name);
            // Enough, or the upper tail is no more than what is left; one less is not.
            assert!(case.law.cdf(k) >= p || case.law.sf(k) <= 1.0 - p, "{} at {p}: {k}", case.name);
            if k > case.law.min() {
                assert!(
                    case.law.cdf(k - 1) < p || (p > 0.5 && case.law.sf(k - 1) > 1.0 - p),
                    "{} at {p}: {k}",
                    case.name
                );
            }
        }
        // No panic where there is no probability.
        assert_eq!(case.law.inverse_cdf(f64::NAN), case.law.min());
        assert_eq!((case.law.inverse_cdf(-0.5), case.law.inverse_cdf(1.5)), (case.law.min(), case.law.max()));
    }
}

#[test]
fn moments_are_sums() {
    for case in every() {
        let mean_of = |g: &dyn Fn(f64) -> f64| case.counts().map(|k| g(k as f64) * case.at.pmf(k)).sum::<f64>();
        let mean = case.moments.mean().unwrap();
        // As above, times the largest count.
        assert_abs_diff_eq!(mean_of(&|k| k), mean, epsilon = 1e-11 * (1.0 + mean));
        let variance = case.moments.variance().unwrap();
        assert_abs_diff_eq!(mean_of(&|k| (k - mean).powi(2)), variance, epsilon = 1e-10 * (1.0 + variance));
        let Some(skewness) = case.moments.skewness() else {
            assert!(variance < 1e-9 || case.law.max() - case.law.min() <= 1, "{}", case.name);
            continue;
        };
        let found = mean_of(&|k| ((k - mean) / variance.sqrt()).powi(3));
        assert_abs_diff_eq!(found, skewness, epsilon = 1e-9 * (1.0 + skewness.abs()));
    }
}

#[test]
fn statrs_agrees() {
    for case in every() {
        let Some((law, at)) = &case.peer else { continue };
        for p in [0.02, 0.3, 0.6, 0.97] {
            let k = case.law.inverse_cdf(p);
            // Its incomplete beta function and its logarithms of choose hold about eleven digits.
            assert_rel!(law.cdf(k), case.law.cdf(k), 1e-9, "{} at {k}", case.name);
            assert_rel!(at.pmf(k), case.at.pmf(k), 1e-9, "{} at {k}", case.name);
        }
    }
}

#[test]
fn draws_follow_their_law() {
    let mut random = stream(22, 0);
    let draws = 20_000;
    let check = |name: &str, law: &dyn DiscreteCDF<u64, f64>, draw: &mut dyn FnMut() -> u64| {
        let mut seen = vec![0_u32; law.max() as usize + 1];
        (0..draws).for_each(|_| seen[draw() as usize] += 1);
        let mut sum = 0;
        for (k, count) in seen.iter().enumerate() {
            sum += count;
            // Kolmogorov's bound for continuous laws (P = 0.001 at 1.95) is too wide for steps, never too narrow.
            let gap = (f64::from(sum) / f64::from(draws) - law.cdf(k as u64)).abs();
            assert!(gap < 1.95 / f64::from(draws).sqrt(), "{name} at {k}: {gap}");
        }
    };
    for (n, p) in [(12, 0.3), (60, 0.9), (400, 0.5)] {
        check("binomial", &Binomial::new(n, p).unwrap(), &mut || rng::binomial(&mut random, n, p));
    }
    for (n, mean, rho) in [(12, 0.3, 0.2), (60, 0.9, 0.02)] {
        let law = BetaBinomial::new(n, mean, rho).unwrap();
        check("beta-binomial", &law, &mut || rng::beta_binomial(&mut random, n, mean, rho));
    }
    let law = Hypergeometric::new(30, 50, 25).unwrap();
    check("hypergeometric", &law, &mut || law.inverse_cdf(uniform(&mut random)));
}

#[test]
fn what_is_no_parameter_is_refused() {
    for bad in [-0.1, 1.1, f64::NAN] {
        assert!(Binomial::new(5, bad).is_err() && BetaBinomial::new(5, bad, 0.1).is_err());
        assert!(BetaBinomial::new(5, 0.3, bad).is_err());
    }
    assert!(BetaBinomial::new(5, 0.3, 1.0).is_err() && Hypergeometric::new(3, 4, 8).is_err());
    assert!(Binomial::new(1 << 60, 0.3).is_err() && Hypergeometric::new(u64::MAX, 4, 8).is_err());
}
