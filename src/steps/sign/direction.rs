//! Which way a sign points: rooting with it less rooting without it.

use super::numbers::{SignCounts, SignPoints};
use super::sums::Sums;
use crate::error::Result;
use crate::steps::trays::{Rate, rate};

/// The difference in rooting with and without the sign, with limits or bounds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Direction {
    pub(super) points: SignPoints,
    pub(super) value: Option<f64>,
    pub(super) low: Option<f64>,
    pub(super) high: Option<f64>,
}

/// Share rooted with the sign less that without it, each on the plants read on its side, with limits by square and add of those of the two
/// rates; where what was not read can be anything, the bounds that leaves.
///
/// # References
/// Newcombe 1998, Stat. Med. 17:873-890, method 10; Zou and Donner 2008, Stat. Med. 27:1693-1702.
pub(super) fn direction(trays: &[SignCounts], sums: Sums, bounds: bool, confidence: f64) -> Result<Direction> {
    let none = Direction { points: SignPoints::NotShown, value: None, low: None, high: None };
    if sums.with() <= 0.0 || sums.without() <= 0.0 {
        return Ok(Direction { points: SignPoints::Nowhere, ..none });
    }
    let (value, ends) = if bounds {
        let low = sums.a / sums.with() - (sums.c + sums.v) / sums.without();
        (None, Some((low, (sums.a + sums.u) / sums.with() - sums.c / sums.without())))
    } else {
        let of = |pick: fn(&SignCounts) -> (u64, u64)| -> Result<Option<Rate>> {
            rate(&trays.iter().map(pick).collect::<Vec<_>>(), confidence)
        };
        let with = of(|one| (one.with_rooted, one.with_rooted + one.with_failed))?;
        let without = of(|one| (one.without_rooted, one.without_rooted + one.without_failed))?;
        let Some((with, without)) = with.zip(without) else { return Ok(none) };
        (Some(with.value - without.value), added(with, without))
    };
    let points = match ends {
        Some((low, _)) if low > 0.0 => SignPoints::ToRooting,
        Some((_, high)) if high < 0.0 => SignPoints::AgainstRooting,
        _ => SignPoints::NotShown,
    };
    Ok(Direction { points, value, low: ends.map(|ends| ends.0), high: ends.map(|ends| ends.1) })
}

/// The limits of the difference of two rates; None where one has none.
fn added(with: Rate, without: Rate) -> Option<(f64, f64)> {
    let ((l1, u1), (l2, u2)) = with.limits().zip(without.limits())?;
    let (one, two) = (with.value, without.value);
    Some((one - two - (one - l1).hypot(u2 - two), one - two + (u1 - one).hypot(two - l2)))
}
