//! Exact conditional inference on a common odds ratio: the law of the sum of first cells given all margins.

use serde::{Deserialize, Serialize};

use super::strata::{FourCells, is_informative};
use crate::control::Control;
use crate::counts::OddsRatioMethod;
use crate::error::Result;
use crate::estimate::Estimate;
use crate::math::search::root_until;
use crate::math::special::ln_choose;

/// Relative slack within which two probabilities count as equal.
const SLACK: f64 = 1e-7;
/// Multiplications that a convolution may take.
const MOST_WORK: f64 = 4e9;
/// Most values that the sum of first cells may take.
const MOST_SUMS: f64 = 1e6;
/// Width to which a log odds ratio is held.
const TOLERANCE: f64 = 1e-13;

/// Exact tests of a common odds ratio of 1, and its conditional estimate with limits.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct CommonOddsRatio {
    /// Sum of the first cells of the second rows over all strata.
    pub statistic: f64,
    /// Two-sided P: sums not more probable than the observed one, with relative slack 1e-7.
    pub p: f64,
    /// P of a sum at most as large as observed.
    pub p_lower: f64,
    /// P of a sum at least as large as observed.
    pub p_higher: f64,
    /// Two-sided P less half the probability of the observed sum.
    pub mid_p: f64,
    /// `p_lower` with the observed sum weighing one half.
    pub mid_p_lower: f64,
    /// `p_higher` with the observed sum weighing one half.
    pub mid_p_higher: f64,
    /// Conditional maximum likelihood estimate, second row over first, with exact limits.
    pub odds_ratio: Estimate<OddsRatioMethod>,
    /// The same estimate with mid-P limits.
    pub odds_ratio_mid_p: Estimate<OddsRatioMethod>,
}

/// One stratum: its smallest first cell, and the logarithm of the number of ways for each one from there on.
struct Ways {
    least: f64,
    ln: Vec<f64>,
}

impl Ways {
    fn of([a, b, c, d]: FourCells) -> Self {
        let (first, second, rooted) = (a + b, c + d, a + c);
        let least = (rooted - second).max(0.0);
        let count = (rooted.min(first) - least) as usize + 1;
        let ln = (0..count)
            .map(|k| least + k as f64)
            .map(|cell| ln_choose(first, cell) + ln_choose(second, rooted - cell))
            .collect();
        Self { least, ln }
    }

    /// Probabilities at a log odds ratio.
    fn law(&self, tilt: f64) -> Vec<f64> {
        normalised(self.ln.iter().enumerate().map(|(k, ln)| ln + k as f64 * tilt))
    }

    fn mean(&self, tilt: f64) -> f64 {
        self.law(tilt).iter().enumerate().map(|(k, p)| k as f64 * p).sum()
    }
}

/// Probabilities from logarithms of their multiples.
fn normalised(ln: impl Iterator<Item = f64> + Clone) -> Vec<f64> {
    let top = ln.clone().fold(f64::NEG_INFINITY, f64::max);
    let weights: Vec<f64> = ln.map(|value| (value - top).exp()).collect();
    let sum: f64 = weights.iter().sum();
    weights.into_iter().map(|weight| weight / sum).collect()
}

/// Exact conditional inference; `None` when the counts are too large for the convolution.
///
/// # References
/// Gart 1970, Biometrika 57:471-475; Breslow & Day 1980, section 4.4; Mehta, Patel & Gray 1985, J. Am. Stat. Assoc. 80:969-973.
pub(super) fn common_odds_ratio(
    tables: &[FourCells],
    level: f64,
    control: &Control,
) -> Result<Option<CommonOddsRatio>> {
    let used: Vec<FourCells> = tables.iter().copied().filter(|table| is_informative(*table)).collect();
    let width = |[a, b, c, d]: &FourCells| (a + b).min(a + c).min(c + d).min(b + d) + 1.0;
    let (work, sums) =
        used.iter().map(width).fold((0.0, 1.0), |(work, so_far), w| (work + so_far * w, so_far + w - 1.0));
    if work > MOST_WORK || sums > MOST_SUMS {
        return Ok(None);
    }
    let ways: Vec<Ways> = used.iter().map(|table| Ways::of(*table)).collect();
    let least: f64 = ways.iter().map(|one| one.least).sum();
    let free: f64 = used.iter().map(|[a, ..]| a).sum();
    let statistic: f64 = tables.iter().map(|[a, ..]| a).sum();
    let at = (free - least) as usize;
    let most = ways.iter().map(|one| one.ln.len() - 1).sum::<usize>();
    let mean = |tilt: f64| ways.iter().map(|one| one.mean(tilt)).sum::<f64>();
    let null = convolved(&ways, 0.0, control)?;
    let tests = tests(&null, at, statistic);
    // The law is taken where the observed sum is likely, so that no tail is lost to underflow.
    let target = (at as f64).clamp(0.5, most as f64 - 0.5);
    let start = root_until(control, |tilt| mean(tilt) - target, (0.0, 0.5), 1e-6)?;
    let near = Tilted::new(&convolved(&ways, start, control)?, start, at);
    let value = match at {
        0 => 0.0,
        at if at == most => f64::INFINITY,
        at => root_until(control, |tilt| mean(tilt) - at as f64, (start, 0.5), TOLERANCE)?.exp(),
    };
    let estimate = |weight: f64, method: OddsRatioMethod| -> Result<Estimate<OddsRatioMethod>> {
        let tail = 0.5 * (1.0 - level);
        let low = if at == 0 { 0.0 } else { near.limit(tail, weight, true, control)?.exp() };
        let high = if at == most { f64::INFINITY } else { near.limit(tail, weight, false, control)?.exp() };
        Ok(Estimate { value, se: None, low, high, confidence: level, method })
    };
    Ok(Some(CommonOddsRatio {
        odds_ratio: estimate(1.0, OddsRatioMethod::ConditionalExact)?,
        odds_ratio_mid_p: estimate(0.5, OddsRatioMethod::MidP)?,
        ..tests
    }))
}

fn convolved(ways: &[Ways], tilt: f64, control: &Control) -> Result<Vec<f64>> {
    let mut sum = vec![1.0];
    for one in ways {
        let law = one.law(tilt);
        let mut next = vec![0.0; sum.len() + law.len() - 1];
        for (shift, p) in law.iter().enumerate() {
            control.step()?;
            for (to, from) in next.iter_mut().skip(shift).zip(&sum) {
                *to += p * from;
            }
        }
        sum = next;
    }
    Ok(sum)
}

fn tests(law: &[f64], at: usize, statistic: f64) -> CommonOddsRatio {
    let point = law.get(at).copied().unwrap_or(0.0);
    let less: f64 = law.iter().take(at + 1).sum::<f64>().min(1.0);
    let greater: f64 = law.iter().skip(at).rev().sum::<f64>().min(1.0);
    let limit = point * (1.0 + SLACK);
    let p = law.iter().filter(|p| **p <= limit).sum::<f64>().min(1.0);
    let nothing = Estimate {
        value: f64::NAN,
        se: None,
        low: f64::NAN,
        high: f64::NAN,
        confidence: f64::NAN,
        method: OddsRatioMethod::ConditionalExact,
    };
    CommonOddsRatio {
        statistic,
        p,
        p_lower: less,
        p_higher: greater,
        mid_p: p - 0.5 * point,
        mid_p_lower: less - 0.5 * point,
        mid_p_higher: greater - 0.5 * point,
        odds_ratio: nothing.clone(),
        odds_ratio_mid_p: nothing,
    }
}

/// The law of the sum at one log odds ratio, from which it follows at any other.
struct Tilted {
    /// Sum less the observed one, and ln of its probability, where it has any.
    ln: Vec<(f64, f64)>,
    tilt: f64,
}

impl Tilted {
    fn new(law: &[f64], tilt: f64, at: usize) -> Self {
        let sums = law.iter().enumerate().filter(|(_, p)| **p > 0.0);
        Self { ln: sums.map(|(k, p)| (k as f64 - at as f64, p.ln())).collect(), tilt }
    }

    /// The upper or lower tail at the observed sum, which weighs `weight`.
    fn tail(&self, tilt: f64, weight: f64, upper: bool) -> f64 {
        let shift = tilt - self.tilt;
        let law = normalised(self.ln.iter().map(|(off, ln)| ln + off * shift));
        let side = if upper { 1.0 } else { -1.0 };
        let share = |off: f64| if off == 0.0 { weight } else { f64::from(u8::from(off * side > 0.0)) };
        // From the far end inwards, small terms first.
        let terms = self.ln.iter().zip(&law).map(|((off, _), p)| share(*off) * p);
        if upper { terms.rev().sum() } else { terms.sum() }
    }

    /// The log odds ratio at which the tail equals `tail`.
    fn limit(&self, tail: f64, weight: f64, upper: bool, control: &Control) -> Result<f64> {
        let sign = if upper { 1.0 } else { -1.0 };
        let off = |tilt| sign * (self.tail(tilt, weight, upper) - tail);
        root_until(control, off, (self.tilt, 0.5), TOLERANCE)
    }
}
