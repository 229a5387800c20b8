//! Ordered groups of counts with their scores.

use crate::error::{CountError, Result};
use crate::estimate::{Count, LARGEST_COUNT};

/// Counts and scores of the groups, checked.
#[derive(Debug, Clone)]
pub(crate) struct Groups {
    pub(crate) rooted: Vec<u64>,
    pub(crate) stuck: Vec<u64>,
    /// As they were given.
    pub(crate) scores: Vec<f64>,
    /// The same from -1 to 1, which no size of a score can overflow; what a test says does not change with origin and unit.
    pub(crate) scaled: Vec<f64>,
}

impl Groups {
    /// Checks that there are two groups, each with cuttings, and that scores differ.
    pub(crate) fn new(rooted: &[u64], stuck: &[u64], scores: &[f64]) -> Result<Self> {
        if rooted.len() != stuck.len() {
            return Err(CountError::UnequalLengths { rooted: rooted.len(), stuck: stuck.len() }.into());
        }
        if scores.len() != rooted.len() {
            return Err(CountError::UnmatchedList {
                what: "scores",
                found: scores.len(),
                of: "groups",
                expected: rooted.len(),
            }
            .into());
        }
        if rooted.len() < 2 {
            return Err(CountError::TableTooSmall { rows: rooted.len(), columns: 2 }.into());
        }
        for (at, (rooted, stuck)) in rooted.iter().zip(stuck).enumerate() {
            if let Err(crate::Error::Count(problem)) = Count::new(*rooted, *stuck) {
                return Err(CountError::Entry { index: at + 1, problem: Box::new(problem) }.into());
            }
        }
        check_scores(scores)?;
        let (rooted, stuck, scaled) = (rooted.to_vec(), stuck.to_vec(), scaled(scores));
        let groups = Self { rooted, stuck, scores: scores.to_vec(), scaled };
        let total = groups.stuck.iter().fold(0_u64, |sum, count| sum.saturating_add(*count));
        if total > LARGEST_COUNT {
            return Err(CountError::TooLarge { value: total }.into());
        }
        Ok(groups)
    }

    /// True when every cutting rooted, or none did.
    pub(crate) fn is_fixed(&self) -> bool {
        let all = self.total_rooted();
        all == 0 || all == self.total_stuck()
    }

    pub(crate) fn total_rooted(&self) -> u64 {
        self.rooted.iter().sum()
    }

    pub(crate) fn total_stuck(&self) -> u64 {
        self.stuck.iter().sum()
    }

    /// Sum of the scores of the rooted cuttings.
    pub(crate) fn statistic(&self) -> f64 {
        self.scores.iter().zip(&self.rooted).map(|(score, rooted)| score * *rooted as f64).sum()
    }

    /// The same of the scaled scores.
    pub(crate) fn scaled_statistic(&self) -> f64 {
        self.scaled.iter().zip(&self.rooted).map(|(score, rooted)| score * *rooted as f64).sum()
    }

    /// Mean of the statistic without a trend.
    pub(crate) fn mean_statistic(&self) -> f64 {
        let sum: f64 = self.scores.iter().zip(&self.stuck).map(|(score, stuck)| score * *stuck as f64).sum();
        sum / self.total_stuck() as f64 * self.total_rooted() as f64
    }

    /// Mean scaled score of all cuttings, and the sum of squared differences from it.
    pub(crate) fn scaled_spread(&self) -> (f64, f64) {
        let total = self.total_stuck() as f64;
        let pairs = || self.scaled.iter().zip(&self.stuck);
        let mean = pairs().map(|(score, stuck)| score * *stuck as f64).sum::<f64>() / total;
        (mean, pairs().map(|(score, stuck)| (score - mean).powi(2) * *stuck as f64).sum())
    }

    /// What one unit of the scaled scores is in those given.
    pub(crate) fn unit(&self) -> f64 {
        middle_and_half(&self.scores).1
    }
}

/// The middle of the scores and half their range, without an overflow.
fn middle_and_half(scores: &[f64]) -> (f64, f64) {
    let half = |value: f64| 0.5 * value;
    let low = scores.iter().copied().map(half).fold(f64::INFINITY, f64::min);
    let high = scores.iter().copied().map(half).fold(f64::NEG_INFINITY, f64::max);
    (low + high, high - low)
}

/// Checked scores moved and stretched to lie from -1 to 1.
pub(crate) fn scaled(scores: &[f64]) -> Vec<f64> {
    let (middle, half) = middle_and_half(scores);
    scores.iter().map(|score| (0.5 * score - 0.5 * middle) / (0.5 * half)).collect()
}

/// A figure on the scale of the scores; none is told where it has no finite value.
pub(crate) fn finite(value: f64) -> Result<f64> {
    if value.is_finite() {
        return Ok(value);
    }
    let why = "the scores are too large or too near to each other to reckon with; divide or multiply all of them by one number";
    Err(CountError::NotDefined { what: "a trend", why }.into())
}

/// Scores must be finite and not all the same.
pub(crate) fn check_scores(scores: &[f64]) -> Result<()> {
    if let Some((place, value)) = scores.iter().zip(1..).find(|(score, _)| !score.is_finite()).map(|(v, at)| (at, *v)) {
        return Err(CountError::Score { index: place, value }.into());
    }
    // Scores that differ by less than the smallest number that can be halved count as one.
    if 0.5 * middle_and_half(scores).1 <= 0.0 {
        return Err(CountError::NotDefined {
            what: "a trend",
            why: "all scores are the same; give each group its own number, for example its strength",
        }
        .into());
    }
    Ok(())
}

/// Scores as whole numbers from 0 without a common divisor: `(score - least) / unit`. `None` when no unit of up to six
/// decimal places fits, of the scores or of their number of smallest steps.
pub(super) fn whole_scores(scores: &[f64]) -> Option<Vec<u64>> {
    whole_as_given(scores).or_else(|| whole_as_given(&in_steps(scores)?))
}

/// Most smallest steps between scores that are counted in them.
const MOST_STEPS: f64 = 1e6;

/// Scores by how many of the smallest step between two of them lie below.
fn in_steps(scores: &[f64]) -> Option<Vec<f64>> {
    let mut sorted = scaled(scores);
    sorted.sort_unstable_by(f64::total_cmp);
    let least = sorted.first().copied()?;
    let gaps = sorted.iter().zip(sorted.iter().skip(1)).map(|(low, high)| high - low);
    let step = gaps.filter(|gap| *gap > 0.0).fold(f64::INFINITY, f64::min);
    let steps: Vec<f64> = scaled(scores).iter().map(|score| (score - least) / step).collect();
    steps.iter().all(|steps| *steps <= MOST_STEPS).then_some(steps)
}

fn whole_as_given(scores: &[f64]) -> Option<Vec<u64>> {
    let least = scores.iter().copied().fold(f64::INFINITY, f64::min);
    let largest = scores.iter().map(|score| score - least).fold(0.0, f64::max);
    (0..=6).find_map(|places| {
        let scale = 10_f64.powi(places);
        if largest * scale > 1e12 {
            return None;
        }
        let whole: Option<Vec<u64>> = scores
            .iter()
            .map(|score| {
                let value = (score - least) * scale;
                ((value - value.round()).abs() <= 1e-9 * value.max(1.0)).then(|| value.round() as u64)
            })
            .collect();
        whole.filter(|whole| keeps_apart(scores, whole, largest)).map(|whole| {
            let divisor = whole.iter().fold(0, |divisor, value| greatest_divisor(divisor, *value)).max(1);
            whole.iter().map(|value| value / divisor).collect()
        })
    })
}

/// True where scores that differ by more than rounding differ as whole numbers too: tiny scores would all be 0.
fn keeps_apart(scores: &[f64], whole: &[u64], range: f64) -> bool {
    let mut sorted: Vec<(f64, u64)> = scores.iter().copied().zip(whole.iter().copied()).collect();
    sorted.sort_unstable_by(|a, b| a.0.total_cmp(&b.0));
    let mut steps = sorted.iter().zip(sorted.iter().skip(1));
    steps.all(|(low, high)| low.1 != high.1 || high.0 - low.0 <= 1e-9 * range)
}

fn greatest_divisor(a: u64, b: u64) -> u64 {
    if b == 0 { a } else { greatest_divisor(b, a % b) }
}
