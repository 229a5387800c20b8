//! Ordered groups of counts with their scores.

use crate::error::{CountError, Result};
use crate::estimate::{Count, LARGEST_COUNT};

/// Counts and scores of the groups, checked.
#[derive(Debug, Clone)]
pub(crate) struct Groups {
    pub(crate) rooted: Vec<u64>,
    pub(crate) stuck: Vec<u64>,
    pub(crate) scores: Vec<f64>,
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
        let groups = Self { rooted: rooted.to_vec(), stuck: stuck.to_vec(), scores: scores.to_vec() };
        let total = groups.stuck.iter().fold(0_u64, |sum, count| sum.saturating_add(*count));
        if total > LARGEST_COUNT {
            return Err(CountError::TooLarge { value: total }.into());
        }
        check_scores(scores)?;
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

    /// Mean score of all cuttings, and the sum of squared differences from it.
    pub(crate) fn score_spread(&self) -> (f64, f64) {
        let total = self.total_stuck() as f64;
        let pairs = || self.scores.iter().zip(&self.stuck);
        let mean = pairs().map(|(score, stuck)| score * *stuck as f64).sum::<f64>() / total;
        (mean, pairs().map(|(score, stuck)| (score - mean).powi(2) * *stuck as f64).sum())
    }
}

/// Scores must be finite and not all the same.
pub(crate) fn check_scores(scores: &[f64]) -> Result<()> {
    if let Some((place, value)) = scores.iter().zip(1..).find(|(score, _)| !score.is_finite()).map(|(v, at)| (at, *v)) {
        return Err(CountError::Score { index: place, value }.into());
    }
    let first = scores.first().copied().unwrap_or(0.0);
    if scores.iter().all(|score| *score == first) {
        return Err(CountError::NotDefined {
            what: "a trend",
            why: "all scores are the same; give each group its own number, for example its strength",
        }
        .into());
    }
    Ok(())
}

/// Scores as whole numbers from 0 without a common divisor: `(score - least) / unit`. `None` when no unit of up to six
/// decimal places fits.
pub(super) fn whole_scores(scores: &[f64]) -> Option<Vec<u64>> {
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
        whole.map(|whole| {
            let divisor = whole.iter().fold(0, |divisor, value| greatest_divisor(divisor, *value)).max(1);
            whole.iter().map(|value| value / divisor).collect()
        })
    })
}

fn greatest_divisor(a: u64, b: u64) -> u64 {
    if b == 0 { a } else { greatest_divisor(b, a % b) }
}
