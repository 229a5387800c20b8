//! The tray correlation by maximum likelihood: beta-binomial counts with a mean per treatment and one correlation.

use serde::{Deserialize, Serialize};

use crate::control::Control;
use crate::error::Result;
use crate::math::distributions::{chi_squared, normal};
use crate::math::search::{brent, falling_root};
use crate::math::special::ln_choose;
use crate::rates::Arm;

/// Trays above this many cuttings would take long and are left to the analysis of variance.
const LARGEST_TRAY: u64 = 100_000;
/// Trays or treatments between two looks at the control.
pub(super) const LOOK_EVERY: usize = 1 << 12;

/// The likelihood is looked at here first, so that the higher of two peaks is found.
const GRID: [f64; 25] = [
    0.0, 1e-4, 3e-4, 1e-3, 2e-3, 4e-3, 7e-3, 0.012, 0.02, 0.03, 0.045, 0.065, 0.09, 0.12, 0.16, 0.21, 0.27, 0.34, 0.43,
    0.53, 0.64, 0.76, 0.88, 0.97, 1.0,
];

/// The beta-binomial fit.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct BetaBinomialCorrelation {
    /// The correlation, 0 to 1: the beta-binomial law has none below 0.
    pub value: f64,
    /// Lower limit by the profile likelihood, not below 0.
    pub low: f64,
    /// Upper limit by the profile likelihood.
    pub high: f64,
    /// True when the likelihood is highest at 0, the edge of what the law allows.
    pub at_zero: bool,
    /// The highest point when the law is carried on below 0 as far as it stays a law (Prentice 1986); equal to `value` unless
    /// that is 0.
    pub extended: f64,
    /// The lowest correlation to which the law can be carried on with these trays.
    pub lowest: f64,
    /// Mean take rate per treatment at `value`.
    pub means: Vec<f64>,
    /// Log-likelihood at `value`, with the binomial coefficients.
    pub loglik: f64,
    /// Log-likelihood without correlation.
    pub loglik_binomial: f64,
    /// One-sided P value of no correlation, by the likelihood ratio at the edge: half the chi-square tail on one degree of
    /// freedom, 1 when `at_zero`.
    pub p: f64,
}

/// Trays of one treatment as numbers of factors: `rooted[i]` trays have more than `i` rooted, and so on.
struct Tally {
    rooted: Vec<f64>,
    not_rooted: Vec<f64>,
    stuck: Vec<f64>,
    largest: f64,
}

fn above(counts: &[u64]) -> Vec<f64> {
    let most = counts.iter().max().copied().unwrap_or(0);
    let mut found = vec![0.0; usize::try_from(most).unwrap_or(0)];
    for count in counts {
        // Each count adds one factor to all places before it; here only to the last, summed up below.
        if let Some(last) = count.checked_sub(1).and_then(|at| found.get_mut(usize::try_from(at).unwrap_or(usize::MAX)))
        {
            *last += 1.0;
        }
    }
    let mut sum = 0.0;
    for place in found.iter_mut().rev() {
        sum += *place;
        *place = sum;
    }
    found
}

/// Sums over i >= 1 of the factors `base c + i rho`, `c = 1 - rho`: of their logarithms, and of the slopes in rho.
fn logarithms(weights: &[f64], base: f64, rho: f64) -> (f64, f64) {
    let (mut sum, mut slope) = (0.0, 0.0);
    for (i, weight) in weights.iter().enumerate().skip(1) {
        let i = i as f64;
        let factor = base.mul_add(1.0 - rho, i * rho);
        sum += weight * factor.ln();
        slope += weight * (i - base) / factor;
    }
    (sum, slope)
}

/// Sums over i >= 1 of `c / factor`, the slope of the logarithm in the base, and of its square.
fn slopes(weights: &[f64], base: f64, rho: f64) -> (f64, f64) {
    let c = 1.0 - rho;
    weights.iter().enumerate().skip(1).fold((0.0, 0.0), |(sum, squares), (i, weight)| {
        let slope = c / base.mul_add(c, i as f64 * rho);
        (sum + weight * slope, squares + weight * slope * slope)
    })
}

impl Tally {
    fn new(arm: &Arm) -> Self {
        let not_rooted: Vec<u64> = arm.stuck.iter().zip(&arm.rooted).map(|(m, x)| m.saturating_sub(*x)).collect();
        let largest = arm.stuck.iter().max().map_or(1.0, |m| *m as f64);
        Self { rooted: above(&arm.rooted), not_rooted: above(&not_rooted), stuck: above(&arm.stuck), largest }
    }

    /// The least mean that keeps every probability of the law at or above 0.
    fn least_mean(&self, rho: f64) -> f64 {
        if rho < 0.0 { -(self.largest - 1.0) * rho / (1.0 - rho) } else { 0.0 }
    }

    fn first(weights: &[f64]) -> f64 {
        weights.first().copied().unwrap_or(0.0)
    }

    /// The mean at which the likelihood is highest for this correlation; the likelihood is concave in it.
    fn best_mean(&self, rho: f64) -> f64 {
        let least = self.least_mean(rho);
        let (some, others) = (Self::first(&self.rooted), Self::first(&self.not_rooted));
        if some == 0.0 {
            return least;
        }
        if others == 0.0 {
            return 1.0 - least;
        }
        let score = |p: f64| {
            let q = 1.0 - p;
            let (up, down) = (slopes(&self.rooted, p, rho), slopes(&self.not_rooted, q, rho));
            (some / p - others / q + up.0 - down.0, -some / (p * p) - others / (q * q) - up.1 - down.1)
        };
        falling_root(score, least, 1.0 - least, some / (some + others))
    }

    /// Log-likelihood without coefficients, highest over the mean, its slope in rho, and the mean.
    fn profile(&self, rho: f64) -> (f64, f64, f64) {
        let p = self.best_mean(rho);
        let q = 1.0 - p;
        let c = 1.0 - rho;
        let (some, others, trays) =
            (Self::first(&self.rooted), Self::first(&self.not_rooted), Self::first(&self.stuck));
        let all = logarithms(&self.stuck, 1.0, rho);
        let (up, down) = (logarithms(&self.rooted, p, rho), logarithms(&self.not_rooted, q, rho));
        let times = |weight: f64, value: f64| if weight == 0.0 { 0.0 } else { weight * value };
        // Trays with rooted and not rooted cuttings hold the factor 1 - rho once more than trays without.
        let mixed = some + others - trays;
        let value = times(some, p.ln()) + times(others, q.ln()) + times(mixed, c.ln()) + up.0 + down.0 - all.0;
        let mut slope = up.1 + down.1 - all.1 - times(mixed, 1.0 / c);
        let least = self.least_mean(rho);
        if rho < 0.0 {
            // The mean may be held by its bound, which moves with rho.
            let moved = (self.largest - 1.0) / (c * c);
            let pull = times(some, 1.0 / p) - times(others, 1.0 / q) + slopes(&self.rooted, p, rho).0
                - slopes(&self.not_rooted, q, rho).0;
            let held = least * (1.0 + 1e-12) + 1e-15;
            if p <= held {
                slope -= pull * moved;
            } else if q <= held {
                slope += pull * moved;
            }
        }
        (value, slope, p)
    }
}

struct Likelihood<'a> {
    tallies: Vec<Tally>,
    control: &'a Control,
}

impl Likelihood<'_> {
    fn at(&self, rho: f64) -> Result<(f64, f64)> {
        self.control.step()?;
        let mut sum = (0.0, 0.0);
        for (at, tally) in self.tallies.iter().enumerate() {
            if at.is_multiple_of(LOOK_EVERY) {
                self.control.step()?;
            }
            let found = tally.profile(rho);
            sum = (sum.0 + found.0, sum.1 + found.1);
        }
        Ok(sum)
    }

    /// The highest point on the grid, made exact between its neighbours.
    fn highest(&self, grid: &[f64]) -> Result<f64> {
        let values: Vec<f64> = grid.iter().map(|rho| self.at(*rho).map(|found| found.0)).collect::<Result<_>>()?;
        let best = (0..grid.len())
            .max_by(|a, b| values.get(*a).partial_cmp(&values.get(*b)).unwrap_or(std::cmp::Ordering::Less));
        let at = best.unwrap_or(0);
        let rho = grid.get(at).copied().unwrap_or(0.0);
        let (before, after) = (at.checked_sub(1).and_then(|at| grid.get(at)), grid.get(at + 1));
        let slope = self.at(rho)?.1;
        let (low, high) = match (before, after) {
            (Some(before), _) if slope < 0.0 => (*before, rho),
            (_, Some(after)) if slope > 0.0 => (rho, *after),
            // Highest at an end of the grid, or here by luck.
            _ => return Ok(rho),
        };
        Self::root(|one| self.at(one).map(|found| found.1), low, high, rho)
    }

    /// Root of `f`, or `otherwise` where it has no sign change (a flat likelihood).
    fn root(f: impl Fn(f64) -> Result<f64>, low: f64, high: f64, otherwise: f64) -> Result<f64> {
        let mut stopped = None;
        let found = brent(
            |rho| match f(rho) {
                Ok(value) => value,
                Err(error) => {
                    stopped = Some(error);
                    0.0
                }
            },
            low,
            high,
            1e-15,
        );
        match stopped {
            Some(error) => Err(error),
            None => Ok(found.unwrap_or(otherwise)),
        }
    }

    /// The interval of all correlations in `[0, 1]` whose profile is within `drop` of the highest.
    fn limits(&self, value: f64, top: f64, drop: f64) -> Result<(f64, f64)> {
        let over = |rho: f64| self.at(rho).map(|found| found.0 - (top - drop));
        let low = if value <= 0.0 || over(0.0)? >= 0.0 { 0.0 } else { Self::root(over, 0.0, value, 0.0)? };
        let high = if value >= 1.0 || over(1.0)? >= 0.0 {
            1.0
        } else {
            // Just below 1 the profile is finite, so the root search has numbers to work with.
            Self::root(|rho| over(rho).map(|gap| gap.max(-1e300)), value, 1.0, 1.0)?
        };
        Ok((low, high))
    }
}

/// Beta-binomial maximum likelihood with a mean per treatment and one correlation, with a profile-likelihood interval.
///
/// The chance of `x` rooted of `m` is `C(m, x) prod(p + i g) prod(1 - p + i g) / prod(1 + i g)` with `x`, `m - x` and `m` factors
/// and `g = rho / (1 - rho)`. For each correlation the means are found exactly (the likelihood is concave in each), so one
/// dimension remains. The interval holds all correlations in `[0, 1]` whose profile is within half the chi-square quantile of
/// the highest; where that is at 0 the interval is on the wide side. With few trays per treatment the maximum lies too low, since
/// the means are fitted too. `None` when no treatment has two trays, no tray two cuttings, nothing varies, or a tray is above
/// 100,000 cuttings.
///
/// # Errors
/// [`crate::Error::Interrupted`] when stopped.
///
/// # References
/// Skellam JG (1948), J. R. Stat. Soc. B 10:257-261; Crowder MJ (1978), Appl. Stat. 27:34-37; Prentice RL (1986), JASA
/// 81:321-327 (below 0); Self SG, Liang KY (1987), JASA 82:605-610 (the test at the edge).
///
/// ```
/// use rootling::rates::{Arm, beta_binomial_correlation};
/// let arms = [Arm { rooted: vec![3, 9, 6, 15], stuck: vec![20, 20, 20, 20] }];
/// let found = beta_binomial_correlation(&arms, 0.95, &rootling::control::Control::new())?.ok_or(rootling::Error::Interrupted)?;
/// assert!(found.low < found.value && found.value < found.high);
/// # Ok::<(), rootling::Error>(())
/// ```
pub fn beta_binomial_correlation(
    arms: &[Arm],
    level: f64,
    control: &Control,
) -> Result<Option<BetaBinomialCorrelation>> {
    let arms: Vec<&Arm> = arms.iter().filter(|arm| !arm.stuck.is_empty()).collect();
    let largest = arms.iter().flat_map(|arm| &arm.stuck).max().copied().unwrap_or(0);
    let varies = arms.iter().any(|arm| arm.stuck.len() > 1 && arm.rate() > 0.0 && arm.rate() < 1.0);
    if !varies || !(2..=LARGEST_TRAY).contains(&largest) {
        return Ok(None);
    }
    let tallies = arms.iter().map(|arm| control.step().map(|()| Tally::new(arm))).collect::<Result<_>>()?;
    let likelihood = Likelihood { tallies, control };
    // Below 0 the law lasts while (m - 1) g >= -1/2 for the largest tray; a hair inside, where logarithms are finite.
    let lowest = -1.0 / (2.0 * largest as f64 - 3.0).max(1.0) * (1.0 - 1e-9);
    let value = likelihood.highest(&GRID)?;
    let at_zero = value <= 0.0;
    let extended = if at_zero {
        let below: Vec<f64> = (0..=20).map(|step| lowest * (1.0 - f64::from(step) / 20.0)).collect();
        likelihood.highest(&below)?.min(0.0)
    } else {
        value
    };
    let top = likelihood.at(value)?.0;
    let drop = chi_squared::isf(1.0 - level, 1.0) / 2.0;
    let (low, high) = likelihood.limits(value, top, drop)?;
    let mut coefficients = 0.0;
    for (at, (x, m)) in arms.iter().flat_map(|arm| arm.rooted.iter().zip(&arm.stuck)).enumerate() {
        if at.is_multiple_of(LOOK_EVERY) {
            control.step()?;
        }
        coefficients += ln_choose(*m as f64, *x as f64);
    }
    let without = likelihood.at(0.0)?.0;
    let ratio = (2.0 * (top - without)).max(0.0);
    Ok(Some(BetaBinomialCorrelation {
        value,
        low,
        high,
        at_zero,
        extended,
        lowest,
        means: likelihood.tallies.iter().map(|one| one.profile(value).2).collect(),
        loglik: top + coefficients,
        loglik_binomial: without + coefficients,
        p: if at_zero { 1.0 } else { normal::sf(ratio.sqrt()) },
    }))
}
