//! Many intervals at once, in parallel when there are enough of them.

use rayon::prelude::*;
use serde::{Deserialize, Serialize};

use super::IntervalMethod;
use super::single::{Reach, limits};
use crate::error::{CountError, Error, Result};
use crate::estimate::{Count, check_level};

const PARALLEL_FROM: usize = 10_000;

/// Intervals of many rates, one entry per pair of counts.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Intervals {
    /// Take rates, 0 to 1.
    pub value: Vec<f64>,
    /// Lower limits.
    pub conf_low: Vec<f64>,
    /// Upper limits.
    pub conf_high: Vec<f64>,
    /// Confidence level of each.
    pub level: f64,
    /// The method's name.
    pub method: String,
}

/// [`interval`](super::interval) for each pair `rooted[i]` of `stuck[i]`; more than 10,000 pairs are shared among processors.
///
/// # Errors
/// [`CountError::UnequalLengths`]; [`CountError::Entry`] with the 1-based place of the first impossible count;
/// [`CountError::Level`].
///
/// ```
/// use rootling::rates::{IntervalMethod, interval_many};
/// let takes = interval_many(&[0, 14, 20], &[20, 20, 20], IntervalMethod::Jeffreys, 0.95)?;
/// assert_eq!(takes.value, [0.0, 0.7, 1.0]);
/// # Ok::<(), rootling::Error>(())
/// ```
pub fn interval_many(rooted: &[u64], stuck: &[u64], method: IntervalMethod, level: f64) -> Result<Intervals> {
    if rooted.len() != stuck.len() {
        return Err(CountError::UnequalLengths { rooted: rooted.len(), stuck: stuck.len() }.into());
    }
    let reach = Reach::at_level(check_level(level)?);
    let counts: Vec<Count> = rooted.iter().zip(stuck).map(|(r, s)| Count { rooted: *r, stuck: *s }).collect();
    for (place, count) in counts.iter().enumerate() {
        count.check().map_err(|error| at_entry(error, place + 1))?;
    }
    let found: Result<Vec<(f64, f64)>> = if counts.len() > PARALLEL_FROM {
        counts.par_iter().map(|count| limits(*count, method, reach)).collect()
    } else {
        counts.iter().map(|count| limits(*count, method, reach)).collect()
    };
    let (conf_low, conf_high) = found?.into_iter().unzip();
    let value = counts.iter().map(|count| count.rate()).collect();
    Ok(Intervals { value, conf_low, conf_high, level, method: method.name().to_owned() })
}

fn at_entry(error: Error, index: usize) -> Error {
    match error {
        Error::Count(problem) => CountError::Entry { index, problem: Box::new(problem) }.into(),
        other => other,
    }
}
