//! Does the take rate differ from a target? Exact, mid-P and score tests of one count.

use rayon::prelude::*;
use serde::{Deserialize, Serialize};

use super::interval::{PARALLEL_FROM, check_counts};
use crate::choice::choice;
use crate::control::Control;
use crate::error::{CountError, Error, Result};
use crate::estimate::Count;
use crate::math::distributions::{binomial, normal};
use crate::math::search::boundary;

/// Relative slack within which two probabilities count as equal.
const SLACK: f64 = 1e-7;

/// How the two-sided P value of a rate against a target is made.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum TargetMethod {
    /// Exact: all counts that are not more probable than the observed one.
    Exact,
    /// Exact: twice the smaller tail, at most 1; agrees with the Clopper-Pearson interval.
    Doubled,
    /// Exact: the smaller tail and the largest opposite tail that does not exceed it; agrees with the Blaker interval.
    Blaker,
    /// Twice the smaller tail in which the observed count weighs one half; agrees with the mid-P interval.
    MidP,
    /// Normal tails of the score statistic; agrees with the Wilson interval.
    Score,
}

choice!(
    TargetMethod, "test against a target":
    Exact = "exact",
    Doubled = "doubled",
    Blaker = "blaker",
    MidP = "mid-p",
    Score = "score",
);

/// P values of one rate against a target.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct TargetTest {
    /// The observed rate.
    pub value: f64,
    /// The target rate.
    pub target: f64,
    /// Two-sided P.
    pub p: f64,
    /// P for a rate below the target.
    pub p_lower: f64,
    /// P for a rate above the target.
    pub p_higher: f64,
    /// The score statistic, for that method.
    pub statistic: Option<f64>,
    /// The method.
    pub method: TargetMethod,
}

/// Tests the take rate of `count` against `target` (0 to 1, both excluded); cuttings count as independent.
///
/// Tails are `P(X <= x)` and `P(X >= x)` of the binomial at the target, for mid-P with the observed count weighing one half;
/// the score statistic is `(x - n p) / sqrt(n p (1 - p))`. The two-sided definitions are those of [`TargetMethod`].
///
/// # Errors
/// [`CountError`] for an impossible count; [`CountError::OutOfRange`] for a target outside 0 to 1 or at an end.
///
/// # References
/// Clopper & Pearson 1934, Biometrika 26:404-413; Blaker 2000, Can. J. Stat. 28:783-798; Lancaster 1961, J. Am. Stat.
/// Assoc. 56:223-234.
///
/// ```
/// use rootling::{Count, rates::{TargetMethod, against_target}};
/// let found = against_target(Count { rooted: 0, stuck: 4 }, 0.5, TargetMethod::Exact)?;
/// approx::assert_relative_eq!(found.p, 2.0 / 16.0, epsilon = 0.0, max_relative = 8e-15);
/// # Ok::<(), rootling::Error>(())
/// ```
pub fn against_target(count: Count, target: f64, method: TargetMethod) -> Result<TargetTest> {
    count.check()?;
    check_target(target)?;
    let [less, greater, p] = p_values(count, target, method);
    let statistic = (method == TargetMethod::Score).then(|| score(count, target));
    Ok(TargetTest { value: count.rate(), target, p, p_lower: less, p_higher: greater, statistic, method })
}

/// P values of many rates against their targets: `less`, `greater` and two-sided, entry by entry.
///
/// # Errors
/// [`CountError::UnequalLengths`]; [`CountError::Entry`] with the 1-based place of the first impossible count or target;
/// [`Error::Interrupted`] when stopped.
///
/// ```
/// use rootling::control::Control;
/// use rootling::rates::{TargetMethod, against_target_many};
/// let control = Control::new();
/// let found = against_target_many(&[0, 4], &[4, 4], &[0.5, 0.5], TargetMethod::Doubled, &control)?;
/// assert!(found.iter().all(|[_, _, two_sided]| approx::relative_eq!(*two_sided, 0.125, epsilon = 0.0, max_relative = 1e-12)));
/// # Ok::<(), rootling::Error>(())
/// ```
pub fn against_target_many(
    rooted: &[u64],
    stuck: &[u64],
    targets: &[f64],
    method: TargetMethod,
    control: &Control,
) -> Result<Vec<[f64; 3]>> {
    let counts = check_counts(rooted, stuck)?;
    if targets.len() != counts.len() {
        return Err(CountError::UnequalLengths { rooted: counts.len(), stuck: targets.len() }.into());
    }
    for (place, target) in targets.iter().enumerate() {
        if let Err(Error::Count(problem)) = check_target(*target) {
            return Err(CountError::Entry { index: place + 1, problem: Box::new(problem) }.into());
        }
    }
    let one = |(count, target): (&Count, &f64)| {
        control.step()?;
        Ok(p_values(*count, *target, method))
    };
    if counts.len() > PARALLEL_FROM {
        counts.par_iter().zip(targets).map(one).collect()
    } else {
        counts.iter().zip(targets).map(one).collect()
    }
}

fn check_target(target: f64) -> Result<()> {
    if target > 0.0 && target < 1.0 { Ok(()) } else { Err(CountError::Target { value: target }.into()) }
}

fn score(count: Count, target: f64) -> f64 {
    let (x, n) = (count.rooted as f64, count.stuck as f64);
    (-n).mul_add(target, x) / (n * target * (1.0 - target)).sqrt()
}

/// `less`, `greater`, two-sided.
fn p_values(count: Count, target: f64, method: TargetMethod) -> [f64; 3] {
    let (x, n) = (count.rooted as f64, count.stuck as f64);
    let doubled = |less: f64, greater: f64| [less, greater, (2.0 * less.min(greater)).min(1.0)];
    if method == TargetMethod::Score {
        let z = score(count, target);
        return doubled(normal::cdf(z), normal::sf(z));
    }
    let (less, greater) = (binomial::cdf(x, n, target), binomial::sf(x - 1.0, n, target));
    match method {
        TargetMethod::MidP => {
            let (below, above) = (binomial::cdf(x - 1.0, n, target), binomial::sf(x, n, target));
            let half = 0.5 * binomial::pmf(x, n, target);
            doubled(below + half, above + half)
        }
        TargetMethod::Exact => [less, greater, by_probability(x, n, target)],
        TargetMethod::Blaker => [less, greater, blaker(x, n, target)],
        _ => doubled(less, greater),
    }
}

/// Sum over all counts that are not more probable than `x`.
fn by_probability(x: f64, n: f64, p: f64) -> f64 {
    let mode = ((n + 1.0) * p).floor().min(n);
    let limit = binomial::ln_pmf(x, n, p) + SLACK;
    if limit >= binomial::ln_pmf(mode, n, p) {
        return 1.0;
    }
    let light = |k: f64| binomial::ln_pmf(k, n, p) <= limit;
    // Outwards from the mode the probabilities fall: the first light count on the other side by halving.
    let (lower, upper) = if x > mode { (boundary(mode, -1.0, light), x) } else { (x, boundary(mode, n + 1.0, light)) };
    (binomial::cdf(lower, n, p) + binomial::sf(upper - 1.0, n, p)).min(1.0)
}

/// The smaller tail at `x` and the largest opposite tail that does not exceed it.
fn blaker(x: f64, n: f64, p: f64) -> f64 {
    let (less, greater) = (binomial::cdf(x, n, p), binomial::sf(x - 1.0, n, p));
    let limit = less.min(greater) * (1.0 + SLACK);
    let opposite = if greater <= less {
        binomial::cdf(boundary(x, -1.0, |k| binomial::cdf(k, n, p) <= limit), n, p)
    } else {
        binomial::sf(boundary(x, n + 1.0, |k| binomial::sf(k - 1.0, n, p) <= limit) - 1.0, n, p)
    };
    (less.min(greater) + opposite).min(1.0)
}
