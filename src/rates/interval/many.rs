//! Many intervals at once, in parallel when there are enough of them.

use rayon::prelude::*;
use serde::{Deserialize, Serialize};

use super::IntervalMethod;
use super::single::{Reach, Sides, limits};
use crate::control::Control;
use crate::error::{CountError, Error, Result};
use crate::estimate::{Count, check_level};

/// Above this many entries the work is shared among processors.
pub(crate) const PARALLEL_FROM: usize = 10_000;
const SHARE: usize = 4096;
/// Entries between two looks at the control.
const LOOK_EVERY: usize = 64;

/// Intervals of many rates, one entry per pair of counts.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Intervals {
    /// Take rates, 0 to 1.
    pub value: Vec<f64>,
    /// Lower limits.
    pub low: Vec<f64>,
    /// Upper limits.
    pub high: Vec<f64>,
    /// Confidence level of each.
    pub confidence: f64,
    /// The method.
    pub method: IntervalMethod,
}

/// [`interval`](super::interval) for each pair `rooted[i]` of `stuck[i]`, or its one-sided [`bound`](super::bound); more
/// than 10,000 pairs are shared among processors.
///
/// In such lists Clopper-Pearson and Jeffreys limits of counts above 10 (rooted and not) come from a table of beta points,
/// which holds them to 2e-14 relative.
///
/// # Errors
/// [`CountError::UnequalLengths`]; [`CountError::Entry`] with the 1-based place of the first impossible count;
/// [`CountError::Level`]; [`CountError::NotDefined`] for a one-sided Blaker bound;
/// [`Error::Interrupted`] when stopped.
///
/// ```
/// use rootling::control::Control;
/// use rootling::rates::{IntervalMethod, Sides, interval_many};
/// let (rooted, stuck, control) = ([0, 14, 20], [20, 20, 20], Control::new());
/// let takes = interval_many(&rooted, &stuck, IntervalMethod::Jeffreys, 0.95, Sides::Both, &control)?;
/// assert_eq!(takes.value, [0.0, 0.7, 1.0]);
/// # Ok::<(), rootling::Error>(())
/// ```
pub fn interval_many(
    rooted: &[u64],
    stuck: &[u64],
    method: IntervalMethod,
    level: f64,
    sides: Sides,
    control: &Control,
) -> Result<Intervals> {
    let reach = Reach::new(check_level(level)?, method, sides)?;
    same_length(rooted, stuck)?;
    let long = rooted.len() > PARALLEL_FROM;
    let reach = if long && method.has_beta_points() { reach.tabulated() } else { reach };
    let one = |rooted: u64, stuck: u64| {
        let count = Count { rooted, stuck };
        count.check()?;
        let (low, high) = limits(count, method, &reach)?;
        Ok((count.rate(), low, high))
    };
    // A point from the table costs little more than looking up a pair that was met before.
    let room = rooted.len() as u64 * 4 / if method.has_beta_points() { 8 } else { 1 };
    if let Some(pairs) = (!method.is_closed_form()).then(|| DistinctPairs::of(rooted, stuck, room)).flatten() {
        let made = fill(&pairs.rooted, &pairs.stuck, control, &one)?;
        let gather = |from: &[f64]| pairs.place.par_iter().map(|at| at_place(from, *at)).collect();
        let [value, low, high] = [gather(&made[0]), gather(&made[1]), gather(&made[2])];
        return Ok(Intervals { value, low, high, confidence: level, method });
    }
    let [value, low, high] = fill(rooted, stuck, control, &one)?;
    Ok(Intervals { value, low, high, confidence: level, method })
}

fn at_place(from: &[f64], place: u32) -> f64 {
    from.get(place as usize).copied().unwrap_or(f64::NAN)
}

/// The pairs that occur, each once: trays come in few sizes, so most entries of a long list repeat others.
struct DistinctPairs {
    rooted: Vec<u64>,
    stuck: Vec<u64>,
    place: Vec<u32>,
}

impl DistinctPairs {
    /// `None` when the list is short, when an entry is impossible, or when counts are so large that few would repeat: more than
    /// `most_room` pairs could occur.
    fn of(rooted: &[u64], stuck: &[u64], most_room: u64) -> Option<Self> {
        let most = stuck.iter().copied().max()?;
        let room = most.checked_add(1)?.checked_mul(most.checked_add(2)?)? / 2;
        if rooted.len() <= PARALLEL_FROM || room > most_room {
            return None;
        }
        // A triangle with one slot for each count of each size; 0 is free.
        let mut slots = vec![0_u32; usize::try_from(room).ok()?];
        let mut found = Self { rooted: Vec::new(), stuck: Vec::new(), place: Vec::with_capacity(rooted.len()) };
        for (rooted, stuck) in rooted.iter().zip(stuck) {
            if rooted > stuck || *stuck == 0 {
                return None;
            }
            let slot = slots.get_mut((stuck * (stuck + 1) / 2 + rooted) as usize)?;
            if *slot == 0 {
                found.rooted.push(*rooted);
                found.stuck.push(*stuck);
                *slot = u32::try_from(found.rooted.len()).ok()?;
            }
            found.place.push(*slot - 1);
        }
        Some(found)
    }
}

/// Value, lower and upper limit of each entry, by `one`; long lists are shared among processors.
fn fill(
    rooted: &[u64],
    stuck: &[u64],
    control: &Control,
    one: &(impl Fn(u64, u64) -> Result<(f64, f64, f64)> + Sync),
) -> Result<[Vec<f64>; 3]> {
    let n = rooted.len();
    let mut made = [vec![0.0; n], vec![0.0; n], vec![0.0; n]];
    let [value, low, high] = &mut made;
    let share = if n > PARALLEL_FROM { SHARE } else { n.max(1) };
    let parts = (value.par_chunks_mut(share).zip(low.par_chunks_mut(share)))
        .zip(high.par_chunks_mut(share))
        .zip(rooted.par_chunks(share).zip(stuck.par_chunks(share)))
        .enumerate();
    let work = |(part, (((value, low), high), (rooted, stuck))): (usize, Part<'_>)| {
        let ends = value.iter_mut().zip(low.iter_mut().zip(high.iter_mut()));
        for (place, ((value, (low, high)), (rooted, stuck))) in ends.zip(rooted.iter().zip(stuck)).enumerate() {
            if place.is_multiple_of(LOOK_EVERY) {
                control.step()?;
            }
            (*value, *low, *high) = one(*rooted, *stuck).map_err(|error| at_entry(error, part * share + place + 1))?;
        }
        Ok(())
    };
    // The first fault in order, whichever thread meets one first.
    parts.map(work).collect::<Vec<Result<()>>>().into_iter().collect::<Result<()>>()?;
    Ok(made)
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
