//! Places that recur over seasons: benches A to D of two years, bays whose darkness changed places.
//!
//! What grows on a bench in one season is another crop than what grows there in the next, and treatments are dealt out anew. So the
//! levels of a block or whole plot within each season are places of their own, whether labels restart or the benches are the same ones:
//! every verb compares within, and judges by, the bench of a season. Only a place that one level of a treatment stays in over all
//! seasons is kept as it is, since its seasons repeat that place and not the treatment.

use std::collections::BTreeMap;

use crate::trial::columns::Factor;

/// True where some label stands in several seasons and no treatment stays in its place over all of them.
pub(super) fn recurs(season: &Factor, place: &Factor, treatments: &[&Factor]) -> bool {
    !season.constant_within(place)
        && treatments.iter().filter(|one| one.levels.len() > 1).all(|one| !one.constant_within(place))
}

/// The levels of a place within each season, under the name of the place.
pub(super) fn within_seasons(season: &Factor, place: &Factor) -> Factor {
    let pairs: Vec<(u32, u32)> = season.codes.iter().copied().zip(place.codes.iter().copied()).collect();
    let mut known: BTreeMap<(u32, u32), u32> = pairs.iter().map(|pair| (*pair, 0)).collect();
    for (at, code) in known.values_mut().enumerate() {
        *code = at as u32;
    }
    let part = |factor: &Factor, code: u32| factor.levels.get(code as usize).cloned().unwrap_or_default();
    let level = |pair: &(u32, u32)| format!("{} / {}", part(season, pair.0), part(place, pair.1));
    Factor {
        name: place.name.clone(),
        levels: known.keys().map(level).collect(),
        numbers: None,
        codes: pairs.iter().filter_map(|pair| known.get(pair).copied()).collect(),
    }
}
