//! Over which places single takes of a curve hold: bays that carry its level, and seasons, blocks and bays that are taken out of it.
//!
//! Strengths are compared within these places, so that what a place has in common cancels. A take does not: a nursery plants in other seasons and
//! on other benches. What places add to the level of a curve is judged by the mean squares it draws on, as [`take_rates`](crate::rates::take_rates)
//! judges it (`tests/calibration/curve_places.md`).

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::bays::{Carried, Slope};
use super::candidates::Judge;
use super::input::CurveInput;
use crate::answer::Note;
use crate::layers::{Layers, Place, Trays};
use crate::math::distributions::student_t;
use crate::report::{cautions, join};
use crate::trial::{Factor, Units};

/// How well the level of one curve is known over places.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct LevelOverBays {
    /// Independent cuttings that would say as much of the curve's mean take.
    pub effective: f64,
    /// Degrees of freedom of its variance.
    pub df: f64,
    /// The share of a cutting's variance that lies within places.
    #[serde(default = "all_of_it")]
    pub within: f64,
}

impl LevelOverBays {
    /// The share of a cutting's variance that takes with this slope have.
    pub(super) fn share(&self, slope: &Slope) -> f64 {
        if slope.within_bays { self.within } else { 1.0 }
    }
}

/// Nothing lies between places where it is not told.
fn all_of_it() -> f64 {
    1.0
}

/// The places that are taken out, with bays that carry the level, over which takes hold.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CurvePlaces {
    /// Their columns, "season and bench".
    pub column: String,
    /// The least degrees of freedom between levels of one of them.
    pub df: f64,
    /// One for each curve, in their order.
    pub curves: Vec<LevelOverBays>,
}

/// How many times the variance of the mean take that of a take of a curve is, by its trays, at most. On average over the strengths it is as many
/// times as the curve has parameters; less is more cautious (`tests/calibration/curve_places.md`).
const OWN: f64 = 2.0;

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
    pub(super) covariances: Vec<Vec<f64>>,
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
        covariances: Vec::new(),
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
    let covariances = shares.iter().map(|a| shares.iter().map(|b| covariance(a, b)).collect()).collect();
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

impl CurvePlaces {
    /// Of places that are taken out; none where nothing tells how their levels differ.
    pub(super) fn of(units: &Units, taken: &[&Factor], carried: &Carried<'_>, curves: &[Vec<Share>]) -> Option<Self> {
        let recorded = [&units.season, &units.block, &units.whole_plot, &units.stock_plant].into_iter().flatten();
        let meant = |place: &&Factor| {
            let named = |one: &&Factor| one.name == place.name;
            taken.iter().any(named) || carried.places.iter().any(named)
        };
        let places: Vec<&Factor> = recorded.filter(meant).collect();
        let found = judged(units, &carried.trays(units), (&places, &[]), curves);
        (found.df > 0.0).then(|| Self { column: join(&found.told), df: found.df, curves: found.curves })
    }

    /// What a reader must know of them.
    pub(super) fn note(&self) -> Note {
        cautions::holds_over_places(&self.column)
    }
}

impl CurveInput {
    /// How well the level of a curve is known over places; none where takes hold for the places at hand.
    fn level_over_places(&self, curve: usize) -> Option<&LevelOverBays> {
        let bays = || self.bays.as_ref().map(|bays| &bays.takes);
        let all = self.places.as_ref().map(|places| &places.curves).or_else(bays)?;
        all.get(curve).filter(|own| own.effective > 0.0)
    }

    /// What places add to the variance of the level of a curve on the log odds, beside that of so many effective cuttings, so that the
    /// critical value of the trays gives the reach that places need. The mean take moves the level by its error over the curve's slope.
    ///
    /// A take of the curve has the error of its trays, some [`OWN`] times that of the curve's mean take (once where it is one take), and that mean takes part in how places
    /// differ. Both are mean squares; their sum has Satterthwaite's degrees of freedom, as take rates have them.
    ///
    /// # References
    /// Satterthwaite FE (1946), Biometrics Bulletin 2:110-114.
    pub(super) fn over_places(
        &self,
        curve: usize,
        (judge, parameters): (&Judge, f64),
        (slope, cuttings): (Slope, f64),
    ) -> f64 {
        let Some(own) = self.level_over_places(curve) else { return 0.0 };
        let level = self.options.confidence;
        let (within, over) = (1.0 / cuttings, 1.0 / (own.effective * own.share(&slope)));
        let times = parameters.clamp(1.0, OWN);
        let apart = (times - 1.0) * within;
        let whole = apart + over.max(within);
        let dof = whole * whole / (apart * apart / judge.df.unwrap_or(f64::INFINITY) + over * over / own.df);
        let stretch = student_t::quantile(f64::midpoint(1.0, level), dof) / judge.critical(level);
        ((stretch * stretch * whole - times * within) / slope.mean).max(0.0)
    }
}
