//! Many intervals at once, in parallel when there are enough of them.

use rayon::prelude::*;
use serde::{Deserialize, Serialize};

use super::IntervalMethod;
use super::single::{Reach, Sides, limits};
use crate::error::{CountError, Error, Result};
use crate::estimate::{Count, check_level};

/// Above this many entries the work is shared among processors.
pub(crate) const PARALLEL_FROM: usize = 10_000;
const SHARE: usize = 4096;

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

/// [`interval`](super::interval) for each pair `rooted[i]` of `stuck[i]`, or its one-sided [`bound`](super::bound); more
/// than 10,000 pairs are shared among processors.
///
/// # Errors
/// [`CountError::UnequalLengths`]; [`CountError::Entry`] with the 1-based place of the first impossible count;
/// [`CountError::Level`]; [`CountError::NotDefined`] for a one-sided Blaker bound.
///
/// ```
/// use rootling::rates::{IntervalMethod, Sides, interval_many};
/// let takes = interval_many(&[0, 14, 20], &[20, 20, 20], IntervalMethod::Jeffreys, 0.95, Sides::Both)?;
/// assert_eq!(takes.value, [0.0, 0.7, 1.0]);
/// # Ok::<(), rootling::Error>(())
/// ```
pub fn interval_many(
    rooted: &[u64],
    stuck: &[u64],
    method: IntervalMethod,
    level: f64,
    sides: Sides,
) -> Result<Intervals> {
    let reach = Reach::new(check_level(level)?, method, sides)?;
    same_length(rooted, stuck)?;
    let n = rooted.len();
    let (mut value, mut conf_low, mut conf_high) = (vec![0.0; n], vec![0.0; n], vec![0.0; n]);
    let parts = (value.par_chunks_mut(SHARE).zip(conf_low.par_chunks_mut(SHARE)))
        .zip(conf_high.par_chunks_mut(SHARE))
        .zip(rooted.par_chunks(SHARE).zip(stuck.par_chunks(SHARE)))
        .enumerate();
    let fill = |(part, (((value, low), high), (rooted, stuck))): (usize, Part<'_>)| {
        let ends = value.iter_mut().zip(low.iter_mut().zip(high.iter_mut()));
        for (place, ((value, (low, high)), (rooted, stuck))) in ends.zip(rooted.iter().zip(stuck)).enumerate() {
            let count = Count { rooted: *rooted, stuck: *stuck };
            count.check().map_err(|error| at_entry(error, part * SHARE + place + 1))?;
            *value = count.rate();
            (*low, *high) = limits(count, method, reach)?;
        }
        Ok(())
    };
    if n > PARALLEL_FROM {
        // The first fault in order, whichever thread meets one first.
        parts.map(fill).collect::<Vec<Result<()>>>().into_iter().collect::<Result<()>>()?;
    } else {
        let serial = (value.chunks_mut(SHARE).zip(conf_low.chunks_mut(SHARE)))
            .zip(conf_high.chunks_mut(SHARE))
            .zip(rooted.chunks(SHARE).zip(stuck.chunks(SHARE)))
            .enumerate();
        serial.map(fill).collect::<Result<()>>()?;
    }
    Ok(Intervals { value, conf_low, conf_high, level, method: method.name().to_owned() })
}

type Part<'a> = (((&'a mut [f64], &'a mut [f64]), &'a mut [f64]), (&'a [u64], &'a [u64]));

fn same_length(rooted: &[u64], stuck: &[u64]) -> Result<()> {
    if rooted.len() == stuck.len() {
        return Ok(());
    }
    Err(CountError::UnequalLengths { rooted: rooted.len(), stuck: stuck.len() }.into())
}

/// Pairs of numbers as counts, each checked.
///
/// # Errors
/// [`CountError::UnequalLengths`]; [`CountError::Entry`] with the 1-based place of the first impossible count.
pub(crate) fn check_counts(rooted: &[u64], stuck: &[u64]) -> Result<Vec<Count>> {
    same_length(rooted, stuck)?;
    let pairs = rooted.iter().zip(stuck).enumerate();
    pairs.map(|(place, (r, s))| Count::new(*r, *s).map_err(|error| at_entry(error, place + 1))).collect()
}

fn at_entry(error: Error, index: usize) -> Error {
    match error {
        Error::Count(problem) => CountError::Entry { index, problem: Box::new(problem) }.into(),
        other => other,
    }
}
