//! Take rates that are to hold over the places and plants their trays come from, not only for these.

use std::collections::BTreeSet;

use serde::{Deserialize, Serialize};

use crate::error::Result;
use crate::layers::{JointJudged, Judged, Layers, Place, TrayPart, Trays};
use crate::math::design::{Key, different, distinct};
use crate::math::distributions::student_t;
use crate::rates::TraySpread;
use crate::rates::interval::{IntervalMethod, interval_effective};
use crate::trial::{Factor, Units, picked};

/// A place or plant whose levels differ, as intervals of rates take it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct RateLayer {
    /// The user's column.
    pub name: String,
    /// Its levels.
    pub levels: u64,
    /// Degrees of freedom beside the treatments; 0 where it cannot be told apart from them.
    pub df: f64,
    /// Correlation of two trays of one level, as used: never below 0.
    pub correlation: f64,
    /// The same as computed.
    pub estimate: f64,
}

/// An interval with the degrees of freedom of its t.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Held {
    pub(crate) low: f64,
    pub(crate) high: f64,
    pub(crate) df: f64,
    /// The cuttings that would say as much if each stood alone.
    pub(crate) effective: f64,
}

/// The trays of a trial within all their treatments and in all their places.
#[derive(Debug, Clone)]
pub(crate) struct OverPlaces {
    layers: Layers,
    rooted: Vec<f64>,
    stuck: Vec<f64>,
    row: Vec<usize>,
    design: Vec<Vec<f64>>,
    places: Vec<Place>,
    /// The tray of each unit number.
    tray_of: Vec<Option<usize>>,
}

impl OverPlaces {
    /// `None` where no place or plant above the tray is recorded, or nothing is left to judge them by. The rates asked for are those of
    /// single levels of `fixed`, so these are no source of error.
    pub(crate) fn new(units: &Units, fixed: &[&Factor]) -> Option<Self> {
        let above = above(units);
        if above.is_empty() { None } else { Self::within(units, fixed, &above, cells) }
    }

    /// For a least-squares fit of all trays, whether places are recorded or not. What is left between trays is what the combinations of the
    /// treatments leave; where these are so many that they leave less than four fifths of what the treatments side by side do, or too little for
    /// some place, what those leave: more than trays differ by where treatments interact, so never too narrow for it.
    pub(crate) fn of_a_fit(units: &Units, fixed: &[&Factor]) -> Option<Self> {
        let above = above(units);
        let [by_cells, by_sum] = [cells, side_by_side].map(|design| Self::within(units, fixed, &above, design));
        let enough = |one: &Self, other: &Self| {
            let (own, beside) = (&one.layers, &other.layers);
            own.components.len() >= beside.components.len() && 5.0 * own.tray.df >= 4.0 * beside.tray.df
        };
        match (by_cells, by_sum) {
            (Some(by_cells), Some(by_sum)) => Some(if enough(&by_cells, &by_sum) { by_cells } else { by_sum }),
            (by_cells, by_sum) => by_cells.or(by_sum),
        }
    }

    fn within(units: &Units, fixed: &[&Factor], above: &[&Factor], design: Design) -> Option<Self> {
        let kept: Vec<usize> = (0..units.len()).filter(|unit| units.stuck.get(*unit).is_some_and(|m| *m > 0)).collect();
        let mut tray_of = vec![None; units.len()];
        for (tray, unit) in kept.iter().enumerate() {
            if let Some(slot) = tray_of.get_mut(*unit) {
                *slot = Some(tray);
            }
        }
        let keys: Vec<&Factor> = units.treatments.iter().chain(fixed.iter().copied()).collect();
        let codes: Vec<Vec<u32>> = keys.iter().map(|one| picked(&one.codes, &kept)).collect();
        let found = distinct(&codes.iter().map(|codes| Key::of(codes)).collect::<Vec<_>>(), kept.len());
        let row: Vec<usize> = found.numbers.iter().map(|number| *number as usize).collect();
        let combination =
            |first: &usize| -> Vec<u32> { codes.iter().filter_map(|codes| codes.get(*first).copied()).collect() };
        let combinations: Vec<Vec<u32>> = found.firsts.iter().map(combination).collect();
        let design = design(&combinations.iter().map(Vec::as_slice).collect::<Vec<_>>());
        let counts = |of: &[u64]| -> Vec<f64> {
            kept.iter().filter_map(|unit| of.get(*unit)).map(|count| *count as f64).collect()
        };
        let place = |factor: &&Factor| Place { name: factor.name.clone(), codes: picked(&factor.codes, &kept) };
        let places: Vec<Place> = above.iter().map(place).collect();
        let (rooted, stuck) = (counts(&units.rooted), counts(&units.stuck));
        let trays = Trays { rooted: &rooted, stuck: &stuck, row: &row, design: &design, places: &places };
        let layers = Layers::with(&trays, units.earlier.as_ref())?;
        Some(Self { layers, rooted, stuck, row, design, places, tray_of })
    }

    /// The interval of the rate of these units together: Wilson's on the number of cuttings that would say as much if each stood alone,
    /// with the t quantile on Satterthwaite's degrees of freedom. Within one place per tray it is
    /// [`tray_interval`](crate::rates::tray_interval).
    ///
    /// # References
    /// Satterthwaite FE (1946), Biometrics Bulletin 2:110-114; Korn EL, Graubard BI (1998), Survey Methodology 24:193-201.
    pub(crate) fn interval(&self, members: &[usize], level: f64) -> Result<Held> {
        let own: Vec<usize> = members.iter().filter_map(|unit| self.tray_of.get(*unit).copied().flatten()).collect();
        let of = |values: &[f64]| -> f64 { own.iter().filter_map(|tray| values.get(*tray)).sum() };
        let (rooted, stuck) = (of(&self.rooted), of(&self.stuck));
        let mut coefficients = vec![0.0; self.stuck.len()];
        for tray in &own {
            if let Some(slot) = coefficients.get_mut(*tray) {
                *slot = 1.0 / stuck;
            }
        }
        // Trays of one rate: its variance of a cutting cancels from the effective number.
        let half = vec![0.5; self.stuck.len()];
        let judged = self.layers.of_combination(&self.trays(), &coefficients, &half);
        let effective = (0.25 / judged.variance).min(stuck);
        let critical = student_t::quantile(f64::midpoint(1.0, level), judged.df);
        let (low, high) = interval_effective(rooted / stuck * effective, effective, IntervalMethod::Wilson, critical)?;
        Ok(Held { low, high, df: judged.df, effective })
    }

    /// The effective number of cuttings behind the difference of the rates of two sets of units, `n1 n2 / (n1 + n2)`, and its degrees of
    /// freedom.
    pub(crate) fn behind_difference(&self, first: &[usize], second: &[usize]) -> (f64, f64) {
        let mut coefficients = vec![0.0; self.tray_of.len()];
        for (members, sign) in [(first, -1.0), (second, 1.0)] {
            let own = || members.iter().filter_map(|unit| self.tray_of.get(*unit).copied().flatten());
            let stuck: f64 = own().filter_map(|tray| self.stuck.get(tray)).sum();
            for unit in members {
                coefficients.get_mut(*unit).into_iter().for_each(|slot| *slot = sign / stuck);
            }
        }
        let judged = self.judged(&coefficients, &vec![0.5; self.tray_of.len()], &[]);
        (0.25 / judged.variance, judged.df)
    }

    /// The variance of a combination of counts with its degrees of freedom, as if the levels of the columns `but` did not differ; a
    /// coefficient and a rate for every unit of the trial.
    pub(crate) fn judged(&self, coefficients: &[f64], rates: &[f64], but: &[&str]) -> Judged {
        let (coefficients, rates) = (self.by_tray(coefficients), self.by_tray(rates));
        self.layers.of_combination_but(&self.trays(), &coefficients, &rates, but)
    }

    /// The quadratic form of several combinations with the values `u`, to be held against F; none where they are not independent.
    pub(crate) fn joint(
        &self,
        (u, combinations): (&[f64], &[Vec<f64>]),
        rates: &[f64],
        but: &[&str],
    ) -> Option<JointJudged> {
        let each: Vec<Vec<f64>> = combinations.iter().map(|one| self.by_tray(one)).collect();
        self.layers.joint_of(&self.trays(), (u, &each), &self.by_tray(rates), but)
    }

    /// How trays differ beyond treatments and places.
    pub(crate) fn spread(&self) -> TraySpread {
        let TrayPart { estimate, floor, events, df } = self.layers.tray;
        TraySpread { icc: estimate, df, dispersion: None, dispersion_df: 0.0, icc_floor: floor, events }
    }

    /// The cuttings of a tray that would say as much if each stood alone.
    pub(crate) fn effective(&self, stuck: f64) -> f64 {
        stuck / (1.0 + (stuck - 1.0).max(0.0) * self.layers.tray.used())
    }

    /// Numbers of the trial's units, for the trays that hold cuttings.
    fn by_tray(&self, of_units: &[f64]) -> Vec<f64> {
        let mut out = vec![0.0; self.stuck.len()];
        for (value, tray) in of_units.iter().zip(&self.tray_of) {
            if let Some(slot) = tray.and_then(|tray| out.get_mut(tray)) {
                *slot = *value;
            }
        }
        out
    }

    fn trays(&self) -> Trays<'_> {
        Trays { rooted: &self.rooted, stuck: &self.stuck, row: &self.row, design: &self.design, places: &self.places }
    }

    /// The layers for the record.
    pub(crate) fn layers(&self) -> Vec<RateLayer> {
        let components = self.layers.components.iter();
        components
            .map(|one| RateLayer {
                name: one.name.clone(),
                levels: one.levels,
                df: one.df,
                correlation: one.correlation,
                estimate: one.estimate,
            })
            .collect()
    }
}

/// Columns of a design for the combinations of treatments that occur, one entry per combination.
type Design = fn(&[&[u32]]) -> Vec<Vec<f64>>;

/// Each combination by itself.
fn cells(combinations: &[&[u32]]) -> Vec<Vec<f64>> {
    let n = combinations.len();
    (0..n).map(|cell| (0..n).map(|at| f64::from(u8::from(at == cell))).collect()).collect()
}

/// The constant and every level of every treatment.
fn side_by_side(combinations: &[&[u32]]) -> Vec<Vec<f64>> {
    let mut columns = vec![vec![1.0; combinations.len()]];
    for at in 0..combinations.first().map_or(0, |first| first.len()) {
        let codes = || combinations.iter().map(|one| one.get(at).copied());
        let levels: BTreeSet<Option<u32>> = codes().collect();
        columns
            .extend(levels.into_iter().map(|level| codes().map(|code| f64::from(u8::from(code == level))).collect()));
    }
    columns
}

/// Recorded places and plants of several levels, some of which hold several trays.
fn above(units: &Units) -> Vec<&Factor> {
    let recorded = [&units.season, &units.block, &units.whole_plot, &units.stock_plant].into_iter().flatten();
    recorded.filter(|place| several(place) && !alone(place)).collect()
}

fn several(place: &Factor) -> bool {
    place.codes.iter().any(|code| Some(code) != place.codes.first())
}

/// True when no two trays share a level.
fn alone(place: &Factor) -> bool {
    different(&place.codes) == place.codes.len()
}
