//! The charted sum: its law given that nothing was signalled, the limit that follows, and run lengths.

use super::lattice::Law;

/// The law of a sum of scores that never falls below 0, given no signal so far.
#[derive(Debug, Clone, PartialEq)]
pub struct Running {
    p: Vec<f64>,
    spent: f64,
    allowed: f64,
}

impl Default for Running {
    fn default() -> Self {
        Self { p: vec![1.0], spent: 0.0, allowed: 0.0 }
    }
}

impl Running {
    /// The sum takes a date's scores in, and `allowed` is the probability that a date may signal by chance. Gives the limit: above it the sum
    /// signals. What steps leave unused is carried to later dates, so that the promise is kept on the whole and not undercut at each date.
    ///
    /// # References
    /// Limits from the law of the sum given no signal: Zhang and Woodall 2015, Statistics in Medicine 34:3336-3348.
    pub fn advance(&mut self, scores: &Law, allowed: f64) -> i64 {
        self.p = moved(&self.p, scores);
        self.allowed += allowed;
        let may = (self.allowed - self.spent).max(0.0);
        let mut tail = 0.0;
        let mut keep = self.p.len();
        while let Some(p) = keep.checked_sub(1).and_then(|last| self.p.get(last)) {
            if tail + p > may || keep == 1 {
                break;
            }
            tail += p;
            keep -= 1;
        }
        self.p.truncate(keep);
        let left: f64 = self.p.iter().sum();
        self.p.iter_mut().for_each(|p| *p /= left);
        self.spent += tail;
        keep as i64 - 1
    }

    /// The sum takes a date's scores in under a limit that is given: the probability that it exceeds it, given no signal before.
    pub fn beyond(&mut self, scores: &Law, limit: i64) -> f64 {
        self.p = moved(&self.p, scores);
        let keep = usize::try_from(limit + 1).unwrap_or(0).clamp(1, self.p.len());
        let over: f64 = self.p.drain(keep..).sum();
        let left: f64 = self.p.iter().sum();
        if left > 0.0 {
            self.p.iter_mut().for_each(|p| *p /= left);
        }
        over / (over + left)
    }

    /// The sum after a signal: from 0 again.
    pub fn restart(&mut self) {
        self.p = vec![1.0];
    }
}

/// The law of max(0, sum + score).
fn moved(p: &[f64], scores: &Law) -> Vec<f64> {
    let top = (p.len() as i64 - 1 + scores.high()).max(0) as usize;
    let mut next = vec![0.0; top + 1];
    for (sum, weight) in (0_i64..).zip(p).filter(|(_, weight)| **weight > 0.0) {
        let first = sum + scores.low();
        let below = (-first).clamp(0, scores.probabilities().len() as i64) as usize;
        let (low, rest) = scores.probabilities().split_at(below);
        if let Some(zero) = next.first_mut() {
            *zero += weight * low.iter().sum::<f64>();
        }
        if let Some(into) = next.get_mut(first.max(0) as usize..) {
            into.iter_mut().zip(rest).for_each(|(entry, score)| *entry += weight * score);
        }
    }
    next
}

/// The mean number of dates until a sum of such scores, from 0 and never below it, first exceeds `limit`: the chain solved.
///
/// None where the sum never gets there.
///
/// # References
/// Brook and Evans 1972, Biometrika 59:539-549.
#[must_use]
pub fn run_length(scores: &Law, limit: i64) -> Option<f64> {
    let size = usize::try_from(limit).ok()? + 1;
    let mut a = vec![0.0; size * size];
    for (from, row) in a.chunks_exact_mut(size).enumerate() {
        for (score, p) in scores.atoms() {
            let to = (from as i64 + score).max(0) as usize;
            if let Some(entry) = row.get_mut(to) {
                *entry -= p;
            }
        }
        if let Some(own) = row.get_mut(from) {
            *own += 1.0;
        }
    }
    let mut b = vec![1.0; size];
    eliminate(&mut a, &mut b).filter(|length| length.is_finite() && *length >= 1.0)
}

/// The first unknown of a system whose off-diagonal entries are not positive and whose rows add up to 0 or more: its elimination
/// from the last unknown upwards needs no exchange of rows. None where a pivot is lost.
pub(super) fn eliminate(a: &mut [f64], b: &mut [f64]) -> Option<f64> {
    let size = b.len();
    for last in (1..size).rev() {
        let (above, own) = a.split_at_mut(last * size);
        let pivot = own.get(last).copied().filter(|pivot| *pivot > 0.0)?;
        let right = b.get(last).copied()?;
        let own = own.get(..last)?;
        for (row, value) in above.chunks_exact_mut(size).zip(b.iter_mut()) {
            let factor = row.get(last).copied()? / pivot;
            if factor != 0.0 {
                row.iter_mut().zip(own).for_each(|(entry, below)| *entry -= factor * below);
                *value -= factor * right;
            }
        }
    }
    Some(b.first()? / a.first()?)
}

/// The least limit whose run length is at least `wanted`.
#[must_use]
pub fn limit_for(scores: &Law, wanted: f64) -> Option<i64> {
    if scores.high() <= 0 {
        return None;
    }
    let enough = |limit: i64| run_length(scores, limit).is_none_or(|length| length >= wanted);
    let mut high = 1;
    while !enough(high) {
        high *= 2;
    }
    let mut low = high / 2;
    while high - low > 1 {
        let middle = i64::midpoint(low, high);
        if enough(middle) { high = middle } else { low = middle }
    }
    Some(high)
}
