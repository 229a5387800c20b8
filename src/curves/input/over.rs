//! Over which places single takes of a curve hold: bays that carry its level, and seasons, blocks and bays that are taken out of it.
//!
//! Strengths are compared within these places, so that what a place has in common cancels. A take does not: a nursery plants in other seasons and
//! on other benches. What places add to the level of a curve is judged by the mean squares it draws on, as [`take_rates`](crate::rates::take_rates)
//! judges it (`tests/calibration/curve_places.md`).

use std::collections::BTreeMap;

use ndarray::Array2;

use super::places::LevelOverBays;
use crate::layers::{Layers, Place, Trays};
use crate::trial::{Factor, Units};

/// A tray of a curve with its coefficient in the mean take: a share of one cutting.
pub(super) type Share = (usize, f64);

/// How the levels of places differ beside the treatments.
pub(super) struct Judged {
    /// The least degrees of freedom between levels of one place; 0 where none can be told apart from the treatments.
    pub(super) df: f64,
    /// The places that can be told apart.
    pub(super) told: Vec<String>,
    /// One for each curve.
    pub(super) curves: Vec<LevelOverBays>,
    /// How the curves' mean takes vary together, in variances of a cutting: curves may stand in the same places.
    pub(super) covariances: Array2<f64>,
    /// Degrees of freedom of all differences between the curves' mean takes; 0 where a single curve or nothing tells of places.
    pub(super) differences_df: f64,
}

/// How well the mean take of each list of trays is known over places; `all` are the trays that show how their levels differ. What the
/// levels of the places `out` add is taken out of them.
pub(super) fn judged(
    units: &Units,
    all: &[usize],
    (places, out): (&[&Factor], &[&Factor]),
    curves: &[Vec<Share>],
) -> Judged {
    let unknown = || Judged {
        df: 0.0,
        told: Vec::new(),
        curves: vec![LevelOverBays { effective: 0.0, df: 0.0, within: 1.0 }; curves.len()],
        covariances: Array2::default((0, 0)),
        differences_df: 0.0,
    };
    let counts = |of: &[u64]| -> Vec<f64> { all.iter().filter_map(|unit| of.get(*unit)).map(|n| *n as f64).collect() };
    let (rooted, stuck) = (counts(&units.rooted), counts(&units.stuck));
    let (row, design) = design(units, all, out);
    let place = |factor: &&Factor| {
        let codes: Vec<u32> = all.iter().filter_map(|unit| factor.codes.get(*unit).copied()).collect();
        Place::new(&factor.name, &codes)
    };
    let places: Vec<Place> = places.iter().map(place).collect();
    let trays = Trays { rooted: &rooted, stuck: &stuck, row: &row, design: &design, places: &places };
    let Some(layers) = Layers::with(&trays, units.earlier.as_ref()) else { return unknown() };
    let seen = || layers.components.iter().filter(|one| one.df > 0.5);
    let dof = seen().map(|one| one.df).fold(f64::INFINITY, f64::min);
    if !dof.is_finite() {
        return unknown();
    }
    // Of trays with one rate the variance of a cutting cancels.
    let half = vec![0.5; stuck.len()];
    let over_trays = |own: &Vec<Share>| -> Vec<f64> {
        let by_unit: BTreeMap<usize, f64> = own.iter().copied().collect();
        all.iter().map(|unit| by_unit.get(unit).copied().unwrap_or(0.0)).collect()
    };
    let shares: Vec<Vec<f64>> = curves.iter().map(over_trays).collect();
    let of = |combination: &[f64]| layers.of_combination(&trays, combination, &half);
    let level = |share: &Vec<f64>| {
        let judged = of(share);
        LevelOverBays { effective: 0.25 / judged.variance, df: judged.df, within: layers.share_within }
    };
    let differ = |a: &[f64], b: &[f64]| -> Vec<f64> { a.iter().zip(b).map(|(a, b)| a - b).collect() };
    let covariance = |a: &Vec<f64>, b: &Vec<f64>| {
        let apart = if a == b { 0.0 } else { of(&differ(a, b)).variance };
        2.0 * (of(a).variance + of(b).variance - apart)
    };
    let both = |(i, j)| shares.get(i).zip(shares.get(j)).map_or(f64::NAN, |(a, b)| covariance(a, b));
    let covariances = Array2::from_shape_fn((shares.len(), shares.len()), both);
    let against: Vec<Vec<f64>> =
        shares.first().map_or_else(Vec::new, |first| shares.iter().skip(1).map(|one| differ(one, first)).collect());
    let joint = layers.joint_of(&trays, (&vec![0.0; against.len()], &against), &half, &[]);
    let differences_df = joint.filter(|_| !against.is_empty()).map_or(0.0, |joint| joint.df);
    let told = seen().map(|one| one.name.clone()).collect();
    Judged { df: dof, told, curves: shares.iter().map(level).collect(), covariances, differences_df }
}

/// Codes of the treatments, and of the places taken out.
type Kind = (Vec<u32>, Vec<u32>);

/// The row of every tray and the columns by row: combinations of the treatments, and levels of the places `out` beside them.
fn design(units: &Units, all: &[usize], out: &[&Factor]) -> (Vec<usize>, Vec<Vec<f64>>) {
    let code = |factor: &Factor, unit: usize| factor.codes.get(unit).copied().unwrap_or_default();
    let key = |unit: &usize| -> Kind {
        let cell = units.treatments.iter().map(|one| code(one, *unit)).collect();
        (cell, out.iter().map(|one| code(one, *unit)).collect())
    };
    let mut rows: BTreeMap<Kind, usize> = BTreeMap::new();
    let mut row = Vec::with_capacity(all.len());
    for unit in all {
        let next = rows.len();
        row.push(*rows.entry(key(unit)).or_insert(next));
    }
    let mut kinds: Vec<(&Kind, usize)> = rows.iter().map(|(key, at)| (key, *at)).collect();
    kinds.sort_unstable_by_key(|(_, at)| *at);
    let column = |holds: &dyn Fn(&Kind) -> bool| -> Vec<f64> {
        kinds.iter().map(|(key, _)| f64::from(u8::from(holds(key)))).collect()
    };
    let mut cells: Vec<&Vec<u32>> = kinds.iter().map(|((cell, _), _)| cell).collect();
    cells.sort_unstable();
    cells.dedup();
    let mut columns: Vec<Vec<f64>> = cells.iter().map(|own| column(&|(cell, _)| cell == *own)).collect();
    for (at, factor) in out.iter().enumerate() {
        let level = |level: u32| column(&|(_, places)| places.get(at) == Some(&level));
        columns.extend((1..factor.levels.len() as u32).map(level));
    }
    (row, columns)
}

/// Trays that count by their cuttings.
pub(super) fn by_cuttings(units: &Units, members: &[usize]) -> Vec<Share> {
    let stuck = |unit: &usize| units.stuck.get(*unit).map_or(0.0, |n| *n as f64);
    let sum: f64 = members.iter().map(stuck).sum();
    members.iter().map(|unit| (*unit, 1.0 / sum)).collect()
}

/// Trays whose places each count once, as the takes of a curve count them; `place` tells the place of a tray.
pub(super) fn by_places(units: &Units, members: &[usize], place: impl Fn(usize) -> Option<u32>) -> Vec<Share> {
    let mut stuck: BTreeMap<Option<u32>, f64> = BTreeMap::new();
    for unit in members {
        *stuck.entry(place(*unit)).or_default() += units.stuck.get(*unit).map_or(0.0, |n| *n as f64);
    }
    let all = stuck.len() as f64;
    let of = |unit: &usize| stuck.get(&place(*unit)).map_or(0.0, |own| 1.0 / (all * own));
    members.iter().map(|unit| (*unit, of(unit))).collect()
}
