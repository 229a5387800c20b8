//! Mother plants and readers over the trays: each as often in every combination as can be, and as often in all.

use std::collections::BTreeMap;

use rand_chacha::ChaCha8Rng;

use super::numbers::{LayoutOptions, PlacedTray, Sharing};
use crate::math::rng::{deal, stream};

/// Who shares what: streams of their own, so that a plant more moves no tray.
const PLANTS: u64 = 2;
const READERS: u64 = 3;

/// Gives each tray its plant and its reader.
pub(super) fn share(options: &LayoutOptions, trays: &mut [(usize, PlacedTray)]) {
    if let Some(plants) = &options.stock_plants {
        let names = dealt(&mut stream(options.seed, PLANTS), plants, options, trays);
        trays.iter_mut().zip(names).for_each(|((_, tray), name)| tray.stock_plant = name);
    }
    if let Some(readers) = &options.readers {
        let names = dealt(&mut stream(options.seed, READERS), readers, options, trays);
        trays.iter_mut().zip(names).for_each(|((_, tray), name)| tray.reader = name);
    }
}

fn dealt(
    rng: &mut ChaCha8Rng,
    shared: &Sharing,
    options: &LayoutOptions,
    trays: &[(usize, PlacedTray)],
) -> Vec<Option<String>> {
    let mut found = vec![None; trays.len()];
    let Some(name) = &shared.treatment else {
        spread(rng, &shared.names, trays, |_| true, &mut found);
        return found;
    };
    let at = options.treatments.iter().position(|one| one.name == *name).unwrap_or_default();
    for own in &shared.by_level {
        spread(rng, &own.levels, trays, |tray| tray.levels.get(at) == Some(&own.name), &mut found);
    }
    found
}

/// Goes round the names in a drawn order, from one combination to the next: within each, and over all, no name is used more than once
/// oftener than another.
fn spread(
    rng: &mut ChaCha8Rng,
    names: &[String],
    trays: &[(usize, PlacedTray)],
    belongs: impl Fn(&PlacedTray) -> bool,
    found: &mut [Option<String>],
) {
    let mut groups: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
    for (at, (combination, tray)) in trays.iter().enumerate() {
        if belongs(tray) {
            groups.entry(*combination).or_default().push(at);
        }
    }
    let mut groups: Vec<Vec<usize>> = groups.into_values().collect();
    let n = groups.len();
    deal(rng, &mut groups, n);
    let mut order: Vec<&String> = names.iter().collect();
    let n = order.len();
    deal(rng, &mut order, n);
    let mut turn = order.iter().cycle();
    for mut group in groups {
        let n = group.len();
        deal(rng, &mut group, n);
        for at in group {
            if let (Some(slot), Some(name)) = (found.get_mut(at), turn.next()) {
                *slot = Some((*name).clone());
            }
        }
    }
}
