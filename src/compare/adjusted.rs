//! Two levels compared where no stratum keeps all else apart: other treatments that change within the units and lie in them in
//! different shares, places that cross the units unevenly, or so many combinations that most strata hold one level. The difference is that of a least-squares fit with all of these in it.

use std::collections::BTreeSet;

use crate::compare::effective_strata::EffectiveStrata;
use crate::math::dense::{Qr, add_scaled, dot, times};
use crate::rates::OverPlaces;
use crate::trial::{Factor, Layout, Units};

/// The difference of two levels with other columns taken out, as a pair of effective counts.
#[derive(Debug, Clone)]
pub(super) struct Adjusted {
    pub(super) score: EffectiveStrata,
    /// What is taken out.
    pub(super) beside: Vec<String>,
    /// The trays whose rates it draws on.
    pub(super) drawn_on: BTreeSet<usize>,
}

/// Below this share of its length a column is what rounding leaves of one that others span.
const TOLERANCE: f64 = 1e-9;

impl Adjusted {
    /// The difference of the levels `codes` over the trays in `members`, with the columns `beside` taken out additively; trays weigh by
    /// their effective cuttings, and those of further levels tell what the columns do. `None` where these columns leave nothing of the
    /// difference.
    ///
    /// The estimate is the coefficient of the second level in the weighted least-squares fit of the tray rates, a linear combination of
    /// the counts; places and plants add to its variance as they do to any other. The two rates that enter the score lie about the mean of
    /// all trays, as far apart as the estimate says.
    ///
    /// # References
    /// Frisch R, Waugh FV (1933), Econometrica 1:387-401 (partial regression); Satterthwaite FE (1946).
    pub(super) fn new(
        units: &Units,
        (treatment, codes): (&Factor, (u32, u32)),
        members: &[usize],
        beside: &[&Factor],
        over: &OverPlaces,
    ) -> Option<Self> {
        let mut weighed = Weighed::new(units, members, beside, over);
        weighed.apart(treatment, codes);
        let second = weighed.is(treatment, codes.1);
        let left = weighed.residual(&second)?;
        let along = weighed.along(&left);
        let scale = dot(&along, &left);
        let value = dot(&along, &weighed.rate) / scale;
        let combination: Vec<f64> = along.iter().map(|c| c / scale).collect();
        // At a rate of one half the variance of a cutting is 1/4, which cancels from the effective number.
        let judged = over.judged(&weighed.on_counts(units, &combination), &vec![0.5; units.len()], &[]);
        let pair = [weighed.is(treatment, codes.0), second].map(|of| dot(&weighed.weight, &of));
        let rooted = [codes.0, codes.1].map(|code| dot(&weighed.along(&weighed.is(treatment, code)), &weighed.rate));
        let all = pair.iter().sum::<f64>();
        let (mean, share) = (rooted.iter().sum::<f64>() / all, pair[1] / all);
        let value = value.clamp(-1.0, 1.0);
        let first = (mean - share * value).clamp((-value).max(0.0), (1.0 - value).min(1.0));
        let cuttings = 0.5 / judged.variance;
        let score = EffectiveStrata::of_rates((first, first + value), cuttings, judged.df);
        let drawn_on = weighed.drawn_on(&[left]);
        Some(Self { score, beside: beside.iter().map(|one| one.name.clone()).collect(), drawn_on })
    }
}

/// All other treatments, and all places that the treatment differs within, as far as they vary among `members`; but for places that last while
/// the treatment changes its place, which stand in the error.
pub(super) fn beside<'a>(
    units: &'a Units,
    treatment: &Factor,
    members: &[usize],
    layout: &Layout<'_>,
) -> Vec<&'a Factor> {
    let recorded = [&units.season, &units.block, &units.whole_plot, &units.stock_plant].into_iter().flatten();
    let lasts = |place: &&Factor| layout.lasting.iter().any(|one| one.name == place.name);
    let places = recorded.filter(|place| !treatment.constant_within(place) && !lasts(place));
    let others = units.treatments.iter().filter(|one| one.name != treatment.name);
    let varies = |factor: &&Factor| {
        let codes = || members.iter().filter_map(|unit| factor.codes.get(*unit));
        codes().any(|code| Some(code) != codes().next())
    };
    others.chain(places).filter(varies).collect()
}

/// Trays with their rates, weighed by their effective cuttings, and the columns to be taken out.
pub(super) struct Weighed {
    /// The trays that hold cuttings.
    pub(super) own: Vec<usize>,
    pub(super) rate: Vec<f64>,
    weight: Vec<f64>,
    columns: Vec<Vec<f64>>,
}

impl Weighed {
    pub(super) fn new(units: &Units, members: &[usize], beside: &[&Factor], over: &OverPlaces) -> Self {
        let of = |list: &[u64], unit: usize| list.get(unit).map_or(0.0, |count| *count as f64);
        let own: Vec<usize> = members.iter().copied().filter(|unit| of(&units.stuck, *unit) > 0.0).collect();
        let rate = own.iter().map(|unit| of(&units.rooted, *unit) / of(&units.stuck, *unit)).collect();
        let weight = own.iter().map(|unit| over.effective(of(&units.stuck, *unit))).collect();
        let columns = columns(units, &own, beside);
        Self { own, rate, weight, columns }
    }

    /// Whether each tray has a level, as 1 and 0.
    pub(super) fn is(&self, treatment: &Factor, code: u32) -> Vec<f64> {
        self.own.iter().map(|unit| f64::from(u8::from(treatment.codes.get(*unit) == Some(&code)))).collect()
    }

    /// What the trays have of a list with a number for each unit of the trial.
    pub(super) fn of_own(&self, list: &[f64]) -> Vec<f64> {
        self.own.iter().map(|unit| list.get(*unit).copied().unwrap_or(f64::NAN)).collect()
    }

    /// Takes a number of each unit out as well.
    pub(super) fn beside(&mut self, list: &[f64]) {
        self.columns.push(self.of_own(list));
    }

    /// Takes all levels but two out as well.
    fn apart(&mut self, treatment: &Factor, (first, second): (u32, u32)) {
        let found: BTreeSet<u32> = self.own.iter().filter_map(|unit| treatment.codes.get(*unit).copied()).collect();
        let others: Vec<Vec<f64>> = found
            .into_iter()
            .filter(|code| ![first, second].contains(code))
            .map(|code| self.is(treatment, code))
            .collect();
        self.columns.extend(others);
    }

    /// What the columns leave of a variable; none where they span it.
    pub(super) fn residual(&self, variable: &[f64]) -> Option<Vec<f64>> {
        residual(variable, &self.columns, &self.weight)
    }

    /// The trays of which something is left in any of these variables.
    pub(super) fn drawn_on(&self, left: &[Vec<f64>]) -> BTreeSet<usize> {
        let largest = left.iter().flatten().fold(0.0_f64, |most, one| most.max(one.abs()));
        let drawn = |at: usize| left.iter().any(|one| one.get(at).is_some_and(|r| r.abs() > TOLERANCE * largest));
        self.own.iter().enumerate().filter(|(at, _)| drawn(*at)).map(|(_, unit)| *unit).collect()
    }

    /// A residual times the weights: what it takes of each rate.
    pub(super) fn along(&self, residual: &[f64]) -> Vec<f64> {
        self.weight.iter().zip(residual).map(|(w, r)| w * r).collect()
    }

    /// A combination of these rates as one of the counts of all trays of the trial.
    pub(super) fn on_counts(&self, units: &Units, combination: &[f64]) -> Vec<f64> {
        let mut coefficients = vec![0.0; units.len()];
        for (unit, c) in self.own.iter().zip(combination) {
            let stuck = units.stuck.get(*unit).map_or(1.0, |stuck| *stuck as f64);
            coefficients.get_mut(*unit).into_iter().for_each(|slot| *slot = c / stuck);
        }
        coefficients
    }

    fn mean(&self) -> f64 {
        dot(&self.weight, &self.rate) / self.weight.iter().sum::<f64>()
    }

    /// The mean rate for every tray of the trial: where the treatment does nothing all are alike.
    pub(super) fn alike(&self, units: &Units) -> Vec<f64> {
        vec![self.mean(); units.len()]
    }
}

/// The constant and an indicator for every level of every column that occurs; numbers of blocks may start afresh in each season, unless
/// the blocks of each season are recorded beside them.
fn columns(units: &Units, own: &[usize], beside: &[&Factor]) -> Vec<Vec<f64>> {
    let mut all = vec![vec![1.0; own.len()]];
    let block = |factor: &Factor| units.block.as_ref().is_some_and(|block| block.name == factor.name);
    let told_apart = |season: &Factor, block: &Factor| {
        units.whole_plot.as_ref().is_some_and(|plot| season.constant_within(plot) && block.constant_within(plot))
    };
    for factor in beside {
        let season = units.season.as_ref().filter(|season| block(factor) && !told_apart(season, factor));
        let code = |unit: &usize| {
            (factor.codes.get(*unit).copied(), season.and_then(|season| season.codes.get(*unit).copied()))
        };
        let codes: Vec<_> = own.iter().map(code).collect();
        let mut levels = codes.clone();
        levels.sort_unstable();
        levels.dedup();
        all.extend(
            levels.iter().map(|level| codes.iter().map(|code| f64::from(u8::from(code == level))).collect::<Vec<_>>()),
        );
    }
    all
}

/// What weighted least squares on the columns leaves of a variable; none where they span it.
fn residual(variable: &[f64], columns: &[Vec<f64>], weight: &[f64]) -> Option<Vec<f64>> {
    let roots: Vec<f64> = weight.iter().map(|w| w.sqrt()).collect();
    let weighted = |column: &[f64]| -> Vec<f64> { column.iter().zip(&roots).map(|(x, root)| x * root).collect() };
    let qr = Qr::new(&columns.iter().map(|column| weighted(column)).collect::<Vec<_>>(), TOLERANCE);
    let mut left = weighted(variable);
    let before = dot(&left, &left);
    let spanned = times(qr.basis(), &qr.project(&left), left.len());
    add_scaled(&mut left, -1.0, &spanned);
    let rest = dot(&left, &left);
    (rest > TOLERANCE * before).then(|| left.iter().zip(&roots).map(|(x, root)| x / root).collect())
}
