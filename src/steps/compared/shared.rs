//! Batches of which each has plants at both levels, as blocks: what their two sides share falls out of the difference.

use std::collections::BTreeMap;

use super::side::{Piece, Side};
use crate::answer::Note;
use crate::error::Result;
use crate::report::whole;
use crate::steps::chain::{Judged, Passed, Takes};
use crate::steps::held::Steps;

/// Takes of both levels, each batch being one unit of both.
pub(super) struct Shared {
    takes: Takes,
    steps: usize,
}

/// How a combination of the takes of both levels is known.
#[derive(Debug, Clone, Copy)]
pub(super) struct Tie {
    /// Correlation of the two sides; of use for a difference.
    pub(super) correlation: f64,
    /// Variance of both together.
    pub(super) variance: f64,
    /// Degrees of freedom of that.
    pub(super) df: f64,
}

/// A batch, and its plants at either level.
type Both<'a> = (&'a Piece<'a>, [Option<&'a Piece<'a>>; 2]);

impl Shared {
    /// Both levels by batch; None where a batch has plants of one alone, or was not counted at each step of both. Levels are then taken to be
    /// apart, which makes limits wider where some batches have plants of both.
    ///
    /// # Errors
    /// As those of takes.
    pub(super) fn of(steps: &Steps, from: usize, sides: [&Side<'_>; 2]) -> Result<Option<Self>> {
        let mut batches: BTreeMap<(&str, u64), Both<'_>> = BTreeMap::new();
        for (at, side) in sides.into_iter().enumerate() {
            for piece in &side.batches {
                let key = (piece.batch.name.as_str(), piece.batch.row);
                let (_, both) = batches.entry(key).or_insert((piece, [None, None]));
                if let Some(place) = both.get_mut(at) {
                    *place = Some(piece);
                }
            }
        }
        let counted = |both: &[Option<&Piece<'_>>; 2]| {
            let steps = |piece: &Piece<'_>| piece.steps.iter().skip(from).all(Option::is_some);
            both.iter().all(|piece| piece.is_some_and(steps))
        };
        if !batches.values().all(|(_, both)| counted(both)) {
            return Ok(None);
        }
        let length = steps.columns().len() - 1 - from;
        let own = |piece: Option<&Piece<'_>>| -> Vec<Option<Passed>> {
            piece.map_or_else(|| vec![None; length], |one| one.steps.iter().skip(from).copied().collect())
        };
        let chain: Vec<Vec<Option<Passed>>> =
            batches.values().map(|(_, both)| both.iter().flat_map(|piece| own(*piece)).collect()).collect();
        let units: Vec<_> = batches.values().map(|(piece, _)| piece.batch).collect();
        Ok(Some(Self { takes: Takes::of(&chain, steps.seasons_of(&units).as_deref())?, steps: length }))
    }

    /// The second level's combination less the first's, as for [`Shared::tie`].
    pub(super) fn difference(&self, [one, two]: &[Vec<f64>; 2], rates: [(f64, f64); 2]) -> Tie {
        self.tie(&[one.iter().map(|weight| -weight).collect(), two.clone()], rates)
    }

    /// A combination of both levels' takes, with the weights of either and the rate of so many plants that each is.
    pub(super) fn tie(&self, [one, two]: &[Vec<f64>; 2], [first, second]: [(f64, f64); 2]) -> Tie {
        let none = vec![0.0; self.steps];
        let known = |one: &[f64], two: &[f64], (value, plants): (f64, f64)| -> Judged {
            self.takes.combined(&[one, two].concat(), value, plants)
        };
        let all = (f64::midpoint(first.0, second.0), first.1 + second.1);
        let (own, other, both) = (known(one, &none, first), known(&none, two, second), known(one, two, all));
        let scale = 2.0 * (own.variance * other.variance).sqrt();
        // Weights carry the sign, so what both share makes the sum smaller.
        let apart = own.variance + other.variance - both.variance;
        let correlation = if scale > 0.0 { (apart / scale).clamp(-1.0, 1.0) } else { 0.0 };
        Tie { correlation, variance: both.variance, df: both.df }
    }
}

/// That batches have plants at several levels of a column, and how these count; None where none has.
pub(super) fn told(steps: &Steps, column: &str) -> Option<Note> {
    let at = steps.level_columns().iter().position(|one| one.column == column)?;
    let count = steps.parted(at) as u64;
    (count > 0).then(|| {
        let have = if count == 1 { "has" } else { "have" };
        Note::new(
            "levels_within_batches",
            format!(
                "{} {have} parts at several levels of {column}: each counts at its own level from where it was split off, what came before at the level of its origin. Where every batch has plants of two levels, what its parts share falls out of their difference; elsewhere levels are taken to be apart, which makes limits wider.",
                whole(count, "batch", "batches")
            ),
        )
    })
}
