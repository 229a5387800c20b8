//! What could not be told apart, seen before anything is stuck: a treatment that changes only together with places, plants or readers.

use std::collections::{BTreeMap, BTreeSet};

use super::numbers::{LayoutKind, LayoutOptions, PlacedTray, PlannedConfounding};

/// What a treatment may go along with: its name, its plural, the unit of a tray, and how to part the two.
type Beside = (&'static str, &'static str, fn(&PlacedTray) -> Option<&String>, &'static str);

const BESIDE: [Beside; 4] = [
    (
        "whole plot",
        "whole plots",
        |tray| tray.whole_plot.as_ref(),
        "give each level two whole plots or more (whole_plots=2)",
    ),
    ("block", "blocks", |tray| tray.block.as_ref(), "let every block hold every level"),
    (
        "stock plant",
        "stock plants",
        |tray| tray.stock_plant.as_ref(),
        "spread the plants over all levels (stock_plants=[...])",
    ),
    ("reader", "readers", |tray| tray.reader.as_ref(), "let every reader read every level (readers=[...])"),
];

/// Every treatment that changes only together with something else.
pub(super) fn confounded(options: &LayoutOptions, trays: &[(usize, PlacedTray)]) -> Vec<PlannedConfounding> {
    let mut found = Vec::new();
    for (at, treatment) in options.treatments.iter().enumerate() {
        for (with, plural, unit, remedy) in BESIDE {
            // Each block of new entries or of incomplete blocks holds some levels by design.
            let by_design =
                with == "block" && matches!(options.layout, LayoutKind::Augmented | LayoutKind::IncompleteBlocks);
            let Some((per_unit, per_level)) = together(trays, at, unit).filter(|_| !by_design) else { continue };
            let constant = per_unit == 1;
            let genotype = with == "stock plant" && options.genotype.as_deref() == Some(treatment.name.as_str());
            let name = &treatment.name;
            let reason = if constant && per_level == 1 {
                let remedy = if genotype { "take cuttings from two plants of each level or more" } else { remedy };
                format!(
                    "each level of {name} has a single {with}, so a difference between levels may just as well be one between {plural}; {remedy}"
                )
            } else if constant && with == "stock plant" && !genotype {
                format!(
                    "the cuttings of a plant go to one level of {name} alone, so plants and not trays are its units; {remedy}, or say genotype=\"{name}\" where its levels are kinds of plants"
                )
            } else if constant && with == "reader" {
                format!("each reader reads one level of {name} alone, so readers and not trays are its units; {remedy}")
            } else {
                continue;
            };
            let (treatment, with) = (name.clone(), with.to_owned());
            found.push(PlannedConfounding { treatment, with, inseparable: per_level == 1, reason });
        }
    }
    found
}

/// Most levels of a treatment within a unit, and most units of a level; None where there is one level, or no such units.
fn together(
    trays: &[(usize, PlacedTray)],
    treatment: usize,
    unit: fn(&PlacedTray) -> Option<&String>,
) -> Option<(usize, usize)> {
    let (mut levels, mut units): (BTreeMap<&String, BTreeSet<&String>>, BTreeMap<_, BTreeSet<_>>) = Default::default();
    for (_, tray) in trays {
        let (unit, level) = (unit(tray)?, tray.levels.get(treatment)?);
        levels.entry(unit).or_default().insert(level);
        units.entry(level).or_default().insert(unit);
    }
    let most = |sizes: Vec<usize>| sizes.into_iter().max().unwrap_or(0);
    let found = (most(levels.values().map(BTreeSet::len).collect()), most(units.values().map(BTreeSet::len).collect()));
    (units.len() > 1).then_some(found)
}
