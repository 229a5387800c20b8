//! The mean of every combination of levels, with limits that units of the combination carry.

use std::collections::BTreeMap;

use super::gathered::{Gathered, Held};
use super::numbers::{MeanOf, MeansOptions, ResponseMean, ResponseMeans};
use crate::error::{ChoiceError, Result};
use crate::estimate::check_level;
use crate::math::distributions::student_t;
use crate::math::regression::{UnitMeans, UnitValues, mean_limits};
use crate::trial::{Factor, Trial, Units};

/// Places of a combination from which on its trays are counted by place.
const SEVERAL_PLACES: usize = 3;

/// Works out the means by some columns, or by all treatments where none is named.
pub(super) fn means(trial: &Trial, by: &[&str], options: &MeansOptions) -> Result<ResponseMeans> {
    let confidence = check_level(options.confidence)?;
    let gathered = Gathered::of(trial, &options.response)?;
    let units = gathered.units;
    let of = options.mean_of.unwrap_or_else(|| MeanOf::usual(gathered.measured.response.kind));
    let factors: Vec<&Factor> = if by.is_empty() {
        units.treatments.iter().collect()
    } else {
        by.iter().map(|name| find(units, name)).collect::<Result<_>>()?
    };
    let cells = cells(units, &factors);
    let place = judged_by(units, &cells, &factors);
    let grouped: Vec<Vec<Vec<usize>>> = cells.values().map(|trays| by_place(trays, place)).collect();
    let lead = limits(&gathered, &grouped, of, confidence);
    let rooted =
        if of == MeanOf::Rooted { lead.clone() } else { limits(&gathered, &grouped, MeanOf::Rooted, confidence) };
    let mut found = Vec::new();
    let mut n_left_out = 0;
    for (((codes, trays), own), (lead, rooted)) in cells.iter().zip(&grouped).zip(lead.iter().zip(&rooted)) {
        let held = gathered.held(trays, of);
        n_left_out += held.left_out;
        let levels = factors.iter().zip(codes).filter_map(|(one, code)| one.levels.get(*code as usize).cloned());
        let enters = |unit: &&Vec<usize>| gathered.held(unit, of).size > 0.0;
        found.push(ResponseMean {
            levels: levels.collect(),
            value: held.mean(),
            low: lead.map(|one| one.0),
            high: lead.map(|one| one.1),
            df: lead.map(|one| one.2),
            of_rooted: gathered.held(trays, MeanOf::Rooted).mean(),
            of_rooted_low: rooted.map(|one| one.0),
            of_rooted_high: rooted.map(|one| one.1),
            n_units: own.iter().filter(enters).count() as u64,
            ..parts(held)
        });
    }
    Ok(ResponseMeans {
        response: gathered.measured.response.clone(),
        mean_of: of,
        by: factors.iter().map(|one| one.name.clone()).collect(),
        confidence,
        unit: place.map_or_else(|| crate::trial::unit_called(units), |place| place.name.clone()),
        means: found,
        primary: trial.primary() == Some(options.response.as_str()),
        n_left_out,
    })
}

/// The counts behind a mean.
pub(super) fn parts(held: Held) -> ResponseMean {
    ResponseMean {
        take: held.rooted as f64 / held.stuck.max(1) as f64,
        n_cuttings: held.stuck,
        n_rooted: held.rooted,
        n_measured: held.measured,
        ..ResponseMean::default()
    }
}

/// Low, high and degrees of freedom of each mean.
pub(super) type Limits = Option<(f64, f64, f64)>;

/// Limits of the mean of each group of units, none where nothing shows how units differ.
pub(super) fn limits(gathered: &Gathered<'_>, grouped: &[Vec<Vec<usize>>], of: MeanOf, confidence: f64) -> Vec<Limits> {
    let mut values = UnitValues { least: gathered.least(), ..UnitValues::default() };
    // Levels are numbered anew, since one without a unit has no column.
    let mut at: Vec<Option<usize>> = Vec::new();
    let mut next = 0;
    for units in grouped {
        let held: Vec<Held> =
            units.iter().map(|trays| gathered.held(trays, of)).filter(|held| held.size > 0.0).collect();
        at.push((!held.is_empty()).then_some(next));
        for one in &held {
            push(&mut values, *one, next);
        }
        next += usize::from(!held.is_empty());
    }
    let Some(fit) = UnitMeans::fit(&values) else { return vec![None; grouped.len()] };
    let one = |level: usize| -> Limits {
        let contrast: Vec<f64> = (0..next).map(|other| f64::from(u8::from(other == level))).collect();
        let found = fit.contrast(&contrast).filter(|found| found.df > 0.0)?;
        let t = student_t::quantile(f64::midpoint(1.0, confidence), found.df);
        let size: f64 = values.sizes.iter().zip(&values.levels).filter(|(_, own)| **own == level).map(|(n, _)| n).sum();
        let (low, high) = mean_limits(found, t, values.least / size);
        Some((low, high, found.df))
    };
    at.into_iter().map(|level| one(level?)).collect()
}

/// Adds a unit of a level.
pub(super) fn push(values: &mut UnitValues, held: Held, level: usize) {
    values.sizes.push(held.size);
    values.totals.push(held.total);
    values.squares.push(held.squares);
    values.levels.push(level);
}

/// Trays by combination of levels, in the order of the levels.
fn cells(units: &Units, factors: &[&Factor]) -> BTreeMap<Vec<u32>, Vec<usize>> {
    let mut found: BTreeMap<Vec<u32>, Vec<usize>> = BTreeMap::new();
    for unit in 0..units.len() {
        found.entry(factors.iter().filter_map(|one| one.codes.get(unit).copied()).collect()).or_default().push(unit);
    }
    found
}

/// The recorded place by which trays are counted: of those that are not asked for the one of fewest levels of which every combination has
/// several. None where trays count by themselves.
fn judged_by<'a>(units: &'a Units, cells: &BTreeMap<Vec<u32>, Vec<usize>>, factors: &[&Factor]) -> Option<&'a Factor> {
    let recorded = [&units.season, &units.block, &units.whole_plot, &units.stock_plant].into_iter().flatten();
    let levels = |place: &Factor, trays: &[usize]| {
        trays.iter().filter_map(|tray| place.codes.get(*tray)).collect::<std::collections::BTreeSet<_>>().len()
    };
    let known = |place: &&Factor| factors.iter().all(|one| one.name != place.name);
    let several = |place: &&Factor| cells.values().all(|trays| levels(place, trays) >= SEVERAL_PLACES);
    let shared = |place: &&Factor| cells.values().any(|trays| levels(place, trays) < trays.len());
    recorded.filter(known).filter(several).filter(shared).min_by_key(|place| place.levels.len())
}

fn by_place(trays: &[usize], place: Option<&Factor>) -> Vec<Vec<usize>> {
    let Some(place) = place else { return trays.iter().map(|tray| vec![*tray]).collect() };
    let mut found: BTreeMap<u32, Vec<usize>> = BTreeMap::new();
    for tray in trays {
        found.entry(place.codes.get(*tray).copied().unwrap_or_default()).or_default().push(*tray);
    }
    found.into_values().collect()
}

fn find<'a>(units: &'a Units, name: &str) -> Result<&'a Factor> {
    let places = [&units.block, &units.whole_plot, &units.season, &units.stock_plant, &units.tray];
    units.factor(name).ok_or_else(|| {
        let known: Vec<&str> =
            units.treatments.iter().chain(places.into_iter().flatten()).map(|one| one.name.as_str()).collect();
        ChoiceError::new("column", name, &known).into()
    })
}
