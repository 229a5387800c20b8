//! Whether levels hold other treatments, and seasons, in the same shares.

use std::collections::BTreeMap;

use crate::trial::columns::{Factor, Units};

/// Shares of trays that differ by less are the same.
const SAME_TRAYS: f64 = 0.02;

/// True where all combinations of the levels of `by` hold every combination of the others in the same share of their trays.
pub(crate) fn same_shares(by: &[&Factor], others: &[&Factor], members: &[usize]) -> bool {
    let key = |factors: &[&Factor], unit: usize| -> Vec<u32> {
        factors.iter().filter_map(|one| one.codes.get(unit).copied()).collect()
    };
    let mut shares: BTreeMap<Vec<u32>, BTreeMap<Vec<u32>, f64>> = BTreeMap::new();
    let mut totals: BTreeMap<Vec<u32>, f64> = BTreeMap::new();
    for unit in members {
        let level = key(by, *unit);
        *shares.entry(key(others, *unit)).or_default().entry(level.clone()).or_default() += 1.0;
        *totals.entry(level).or_default() += 1.0;
    }
    let all: f64 = totals.values().sum();
    shares.values().all(|held| {
        let wanted = held.values().sum::<f64>() / all;
        totals
            .iter()
            .all(|(level, total)| (held.get(level).copied().unwrap_or(0.0) / total - wanted).abs() < SAME_TRAYS)
    })
}

/// Treatments other than `by` that lie in different shares over its levels; none where the mix is the same, or nothing else was tried.
pub(crate) fn uneven_beside<'a>(treatments: &'a [Factor], by: &[&Factor], members: &[usize]) -> Vec<&'a Factor> {
    let others = treatments.iter().filter(|one| by.iter().all(|known| known.name != one.name));
    others.filter(|one| !same_shares(by, &[*one], members)).collect()
}

/// The season, where levels that lie within it are spread over it in different shares: a good season then looks like a good level.
pub(crate) fn uneven_season<'a>(units: &'a Units, by: &[&Factor], members: &[usize]) -> Option<&'a Factor> {
    let season = units.season.as_ref().filter(|season| by.iter().all(|one| one.name != season.name))?;
    let within = by.iter().any(|one| !one.constant_within(season));
    (within && !same_shares(by, &[season], members)).then_some(season)
}
