//! Limits over several shapes: what any of them allows.
//!
//! A shape is allowed to fall from its top by the critical value squared, less the distance of its criterion from the least one. So
//! the penalised likelihood is profiled over the shapes as well, and a shape that fits far worse than another has no say.
//!
//! # References
//! Dauncey PD, Kenzie M, Wardle N, Davies GJ (2015), J. Instrum. 10:P04015.

use crate::curves::fit::{Care, Curve, Limits, Member};
use crate::error::Result;
use crate::math::search::brent;

/// What a shape pays for its parameters beside another shape.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Penalty {
    /// As in Akaike's criterion with correction for few units.
    Akaike,
    /// One for each: what a parameter that is not needed gains on average.
    OneEach,
}

impl Penalty {
    /// Twice the lost log-likelihood with what is paid, up to a constant of the counts.
    fn criterion(self, member: &Member) -> f64 {
        match self {
            Self::Akaike => member.aicc,
            Self::OneEach => member.deviance + member.fitted.form.shape.parameters() as f64,
        }
    }
}

/// The shapes that may fall at all, and by how much (twice the log-likelihood).
pub(super) fn allowed<'a>(
    curve: &Curve,
    members: &[(&'a Member, f64)],
    level: f64,
    penalty: Penalty,
) -> Vec<(&'a Member, f64)> {
    let least = members.iter().map(|(member, _)| penalty.criterion(member)).fold(f64::INFINITY, f64::min);
    let most = curve.judge.critical(level).powi(2);
    let left = |member: &Member| most - (penalty.criterion(member) - least);
    members.iter().map(|(member, _)| (*member, left(member))).filter(|(_, left)| *left >= 0.0).collect()
}

/// The values between `ends` at which `fall` stays below `most`, for a fall that is 0 at the estimate and grows away from it. An
/// estimate beyond an end leaves that end open. Limits are looked for among tops near each other; where searches from all starts find a
/// higher one at a limit, it is looked for among those.
pub(crate) fn within(
    mut fall: impl FnMut(f64, Care) -> Result<f64>,
    estimate: f64,
    ends: (f64, f64),
    most: f64,
) -> Result<Limits> {
    let tolerance = TOLERANCE * (ends.1 - ends.0);
    let mut side = |end: f64, other: f64, [open, from_other]: [bool; 2]| -> Result<Option<f64>> {
        // A fall that is found is no less than the least.
        let beyond = if open { 0.0 } else { fall(end, Care::Quick)? };
        if beyond <= most || fall(end, Care::Check)? <= most {
            return Ok(None);
        }
        let mut at_from = 0.0;
        if from_other {
            at_from = fall(other, Care::Check)?;
            if at_from > most {
                return Ok(Some(other));
            }
        }
        let from = if from_other { other } else { estimate };
        let known = [(from, at_from), (end, beyond)];
        let quick = between(&mut fall, Care::Quick, (known, most), tolerance)?;
        if (fall(quick, Care::Check)? - most).abs() < SAME * (1.0 + most) {
            return Ok(Some(quick));
        }
        between(&mut fall, Care::Thorough, (known, most), tolerance).map(Some)
    };
    let beyond = [estimate <= ends.0, estimate >= ends.1];
    let low = side(ends.0, ends.1, beyond)?;
    let high = side(ends.1, ends.0, [beyond[1], beyond[0]])?;
    Ok((low, high))
}

/// Where the fall is `most` between two values at which it is known: the first of them where it is nowhere.
fn between(
    mut fall: impl FnMut(f64, Care) -> Result<f64>,
    care: Care,
    (known, most): ([(f64, f64); 2], f64),
    tolerance: f64,
) -> Result<f64> {
    let mut trouble = None;
    let gap = |value: f64| {
        let known = known.iter().find(|one| one.0.total_cmp(&value).is_eq());
        match known.map_or_else(|| fall(value, care), |one| Ok(one.1)) {
            Ok(fall) => fall.min(far(most)).sqrt() - most.sqrt(),
            Err(error) => {
                trouble = Some(error);
                f64::NAN
            }
        }
    };
    let [(from, _), (end, _)] = known;
    let root = brent(gap, from, end, tolerance);
    trouble.map_or_else(|| Ok(root.unwrap_or(from)), Err)
}

/// Falls that differ by less, as a share of what they are held against, are those of one top.
const SAME: f64 = 1e-7;

/// Falls beyond this are not told apart.
pub(super) fn far(most: f64) -> f64 {
    const FAR: f64 = 50.0;
    FAR * (1.0 + most)
}

/// Beyond this a fall is more than is allowed, whatever the rounding.
pub(super) fn above(most: f64) -> f64 {
    most + 100.0 * SAME * (1.0 + most)
}

/// How near limits are found, as a share of the distance between the ends: near enough for the statistic there to be the quantile to a millionth.
const TOLERANCE: f64 = 1e-10;

/// The widest limits.
pub(crate) fn hull(all: &[Limits]) -> Limits {
    let widest = |side: fn(&Limits) -> Option<f64>, wider: fn(f64, f64) -> f64| {
        all.iter().map(side).reduce(|a, b| a.zip(b).map(|(a, b)| wider(a, b))).flatten()
    };
    (widest(|one| one.0, f64::min), widest(|one| one.1, f64::max))
}
