//! Two arms of trays compared within strata on effective numbers of cuttings: one score statistic gives the test and the
//! limits of difference, ratio and odds ratio, so they never contradict each other.

use crate::counts::two_rates::score::{Pair, share};
use crate::error::Result;
use crate::math::distributions::student_t;
use crate::math::search::{brent, root_from};
use crate::rates::{Arm, TraySpread};

/// The two arms of every stratum as effective counts; "first" in a pair is the second arm, so differences are second minus
/// first and ratios second over first.
///
/// Stratum `s` has weight `w = n1 n2 / (n1 + n2)` on effective numbers. Under a fixed difference, ratio or odds ratio the
/// statistic is `T = sum w U / sqrt(sum w^2 V N / (N - 1))` with `U` the distance from it and `V` the variance of `U` at the
/// rates of largest likelihood under it, `N = n1 + n2`. T is judged by t on the degrees of freedom of the trays' spread.
/// At equality all three statistics are the same number. With one stratum this is the score interval of Miettinen and
/// Nurminen on effective counts, at equality the Mantel-Haenszel statistic.
///
/// # References
/// Miettinen O, Nurminen M (1985), Stat. Med. 4:213-226; Mantel N, Haenszel W (1959), J. Natl. Cancer Inst. 22:719-748;
/// Donner A, Klar N (2000).
///
/// ```
/// use rootling::compare::EffectiveStrata;
/// use rootling::rates::{Arm, tray_spread};
/// let first = Arm { rooted: vec![4, 6, 5, 3], stuck: vec![20; 4] };
/// let second = Arm { rooted: vec![12, 14, 11, 15], stuck: vec![20; 4] };
/// let spread = tray_spread(&[first.clone(), second.clone()]).ok_or("no spread")?;
/// let found = EffectiveStrata::new(&[(first, second)], &spread);
/// let (low, high) = found.difference_limits(spread.critical(0.95))?;
/// assert!(low > 0.0 && high < 1.0 && found.p() < 0.05);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone)]
pub struct EffectiveStrata {
    pairs: Vec<Pair>,
    df: f64,
}

/// Limits of a search beyond which a ratio or odds ratio is as good as 0 or infinite.
const TOLERANCE: f64 = 1e-13;

impl EffectiveStrata {
    /// From the arms `(first, second)` of each stratum; strata without one of the arms say nothing and are left out.
    #[must_use]
    pub fn new(strata: &[(Arm, Arm)], spread: &TraySpread) -> Self {
        let both = strata.iter().filter(|(first, second)| !first.stuck.is_empty() && !second.stuck.is_empty());
        let pairs = both
            .map(|(first, second)| {
                let (n1, n2) = (spread.effective_cuttings(second), spread.effective_cuttings(first));
                Pair { x1: second.rate() * n1, n1, x2: first.rate() * n2, n2 }
            })
            .collect();
        Self { pairs, df: spread.df }
    }

    /// Two rates, first and second, that say as much as so many cuttings each would.
    pub(super) fn of_rates((first, second): (f64, f64), cuttings: f64, dof: f64) -> Self {
        let pair = Pair { x1: second * cuttings, n1: cuttings, x2: first * cuttings, n2: cuttings };
        Self { pairs: vec![pair], df: dof }
    }

    /// True when no stratum holds both arms.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.pairs.is_empty()
    }

    /// Degrees of freedom of t.
    #[must_use]
    pub fn df(&self) -> f64 {
        self.df
    }

    fn sum(&self, part: impl Fn(&Pair) -> f64) -> f64 {
        self.pairs.iter().map(part).sum()
    }

    /// The weighted mean of the strata's differences of take rates, second minus first.
    #[must_use]
    pub fn difference(&self) -> f64 {
        self.sum(|pair| weight(pair) * (pair.x1 / pair.n1 - pair.x2 / pair.n2)) / self.sum(weight)
    }

    /// The standard error of that mean at the rates seen, with the factor `N / (N - 1)` of the score; none where it tells nothing, as where
    /// all rooted or none did.
    #[must_use]
    pub fn standard_error(&self) -> Option<f64> {
        let of = |x: f64, n: f64| x / n * (1.0 - x / n) / n;
        let variance = |pair: &Pair| of(pair.x1, pair.n1) + of(pair.x2, pair.n2);
        let squared = self.sum(|pair| weight(pair).powi(2) * variance(pair) * pair.variance_factor());
        Some(squared.sqrt() / self.sum(weight)).filter(|se| se.is_finite() && *se > 0.0)
    }

    /// The common ratio of take rates, second over first: infinite when only the second rooted, `None` when neither did.
    #[must_use]
    pub fn ratio(&self) -> Option<f64> {
        let part = |rooted: f64, stuck: f64, pair: &Pair| rooted * stuck / (pair.n1 + pair.n2);
        let (above, below) =
            (self.sum(|pair| part(pair.x1, pair.n2, pair)), self.sum(|pair| part(pair.x2, pair.n1, pair)));
        (above > 0.0 || below > 0.0).then(|| above / below)
    }

    /// The common odds ratio, second over first; `None` when it has no value (all rooted or none rooted).
    #[must_use]
    pub fn odds_ratio(&self) -> Option<f64> {
        let (above, below) = self.odds_parts();
        (above > 0.0 || below > 0.0).then(|| above / below)
    }

    fn odds_parts(&self) -> (f64, f64) {
        let above = self.sum(|pair| pair.x1 * (pair.n2 - pair.x2) / (pair.n1 + pair.n2));
        let below = self.sum(|pair| pair.x2 * (pair.n1 - pair.x1) / (pair.n1 + pair.n2));
        (above, below)
    }

    /// The statistic at equal take rates, positive when the second arm is higher; 0 when all or none rooted.
    #[must_use]
    pub fn statistic(&self) -> f64 {
        let (off, variance) = self.score(|pair| pair.difference_score(0.0));
        if off == 0.0 { 0.0 } else { off / variance.sqrt() }
    }

    /// Two-sided P value of equal take rates, by t.
    #[must_use]
    pub fn p(&self) -> f64 {
        student_t::two_sided(self.statistic(), self.df)
    }

    fn score(&self, part: impl Fn(&Pair) -> (f64, f64)) -> (f64, f64) {
        self.pairs.iter().fold((0.0, 0.0), |(off, variance), pair| {
            let (one, spread) = part(pair);
            let weight = weight(pair);
            (off + weight * one, variance + weight * weight * spread * pair.variance_factor())
        })
    }

    fn share(&self, critical: f64, part: impl Fn(&Pair) -> (f64, f64)) -> f64 {
        let (off, variance) = self.score(part);
        share(off, critical * critical * variance)
    }

    /// Limits of the difference at a critical value of t.
    ///
    /// # Errors
    /// A numeric error when a root search does not settle.
    pub fn difference_limits(&self, critical: f64) -> Result<(f64, f64)> {
        let value = self.difference().clamp(-1.0, 1.0);
        let share = |delta: f64| self.share(critical, |pair| pair.difference_score(delta));
        let low = if value <= -1.0 { -1.0 } else { brent(|delta| share(delta) - 0.5, -1.0, value, 1e-14)? };
        let high = if value >= 1.0 { 1.0 } else { brent(|delta| share(delta) + 0.5, value, 1.0, 1e-14)? };
        Ok((low, high))
    }

    /// Limits of the ratio at a critical value of t: 0 when the second arm has no rooted cutting, infinite when the first has
    /// none.
    ///
    /// # Errors
    /// A numeric error when a root search does not settle.
    pub fn ratio_limits(&self, critical: f64) -> Result<(f64, f64)> {
        let share = |log: f64| self.share(critical, |pair| pair.ratio_score(log.exp()));
        Self::limits(self.sum(|pair| pair.x1), self.sum(|pair| pair.x2), self.ratio(), share)
    }

    /// Limits of the odds ratio at a critical value of t; 0 or infinite where the counts leave no other bound.
    ///
    /// # Errors
    /// A numeric error when a root search does not settle.
    pub fn odds_ratio_limits(&self, critical: f64) -> Result<(f64, f64)> {
        let share = |log: f64| self.share(critical, |pair| odds_score(pair, log));
        let (above, below) = self.odds_parts();
        Self::limits(above, below, self.odds_ratio(), share)
    }

    fn limits(above: f64, below: f64, value: Option<f64>, share: impl Fn(f64) -> f64) -> Result<(f64, f64)> {
        let start = value.filter(|value| *value > 0.0 && value.is_finite()).map_or(0.0, f64::ln);
        let low = if above <= 0.0 { 0.0 } else { root_from(|t| 0.5 - share(t), start, 0.5, TOLERANCE)?.exp() };
        let high =
            if below <= 0.0 { f64::INFINITY } else { root_from(|t| -0.5 - share(t), start, 0.5, TOLERANCE)?.exp() };
        Ok((low, high))
    }
}

fn weight(pair: &Pair) -> f64 {
    pair.n1 * pair.n2 / (pair.n1 + pair.n2)
}

/// `p1 (1 - p2) - odds ratio x p2 (1 - p1)` of the observed rates, which has mean 0 in strata of any size, and its variance at
/// the rates of largest likelihood under the odds ratio.
fn odds_score(pair: &Pair, log: f64) -> (f64, f64) {
    let odds = log.exp();
    let (p1, p2) = (pair.x1 / pair.n1, pair.x2 / pair.n2);
    let off = p1 * (1.0 - p2) - odds * p2 * (1.0 - p1);
    let (p1, p2) = given_odds_ratio(pair, odds);
    let (q1, q2) = (1.0 - p1, 1.0 - p2);
    let variance = (q2 + odds * p2).powi(2) * p1 * q1 / pair.n1 + (p1 + odds * q1).powi(2) * p2 * q2 / pair.n2;
    (off, variance)
}

/// Rates of largest likelihood with odds in the ratio `odds`: `p2` is the root in 0 to 1 of
/// `n2 (odds - 1) p^2 + (n1 odds + n2 - x (odds - 1)) p - x = 0` with `x` all rooted.
fn given_odds_ratio(pair: &Pair, odds: f64) -> (f64, f64) {
    let rooted = pair.x1 + pair.x2;
    let a = pair.n2 * (odds - 1.0);
    let b = pair.n1 * odds + pair.n2 - rooted * (odds - 1.0);
    let root = (b * b + 4.0 * a * rooted).max(0.0).sqrt();
    let p2 = if b >= 0.0 { 2.0 * rooted / (b + root) } else { (root - b) / (2.0 * a) };
    let p2 = p2.clamp(0.0, 1.0);
    (odds * p2 / (1.0 - p2 + odds * p2), p2)
}
