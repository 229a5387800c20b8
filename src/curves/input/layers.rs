//! What the strengths were given to: trays, or recorded units above them (bays, blocks, stock plants, seasons) that held one strength each.

use std::collections::BTreeMap;

use crate::answer::Note;
use crate::report::join;
use crate::trial::{Factor, Units};

/// The experimental units of the strengths: their name and their members.
///
/// Where every level of a recorded unit holds a single strength, the strength was given to that unit, and its trays count together. Of
/// several such units the outermost, with the fewest levels, is taken.
pub(super) fn given_to(units: &Units, treatment: &Factor, kept: &[usize]) -> (String, Vec<Vec<usize>>) {
    let layers = [&units.whole_plot, &units.block, &units.stock_plant, &units.season];
    let held: Vec<(&Factor, BTreeMap<u32, Vec<usize>>)> =
        layers.into_iter().flatten().filter_map(|layer| Some((layer, holds_one(layer, treatment, kept)?))).collect();
    match held.into_iter().min_by_key(|(_, members)| members.len()) {
        Some((layer, members)) => (layer.name.clone(), members.into_values().collect()),
        None => ("tray".to_owned(), kept.iter().map(|unit| vec![*unit]).collect()),
    }
}

/// The trays of each level of a recorded unit, where each level holds one strength and some level holds several trays.
fn holds_one(layer: &Factor, treatment: &Factor, kept: &[usize]) -> Option<BTreeMap<u32, Vec<usize>>> {
    let mut members: BTreeMap<u32, Vec<usize>> = BTreeMap::new();
    for unit in kept {
        members.entry(*layer.codes.get(*unit)?).or_default().push(*unit);
    }
    let strength = |unit: &usize| treatment.codes.get(*unit);
    let one = |trays: &Vec<usize>| trays.iter().all(|unit| strength(unit) == trays.first().and_then(strength));
    (members.values().all(one) && members.len() < kept.len() && members.len() > 1).then_some(members)
}

/// A place that is not taken out, and why.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct LeftIn {
    pub(crate) column: String,
    pub(crate) why: String,
}

impl LeftIn {
    /// Where cuttings are counted one by one: their differences are then in no limit.
    pub(crate) fn note(&self) -> Note {
        let Self { column, why } = self;
        Note::new(
            "blocks_left_in",
            format!("{column} is not taken out ({why}), so how its levels differ is in no figure and in no limit."),
        )
    }
}

/// Which unit judges the curves, where it is not the tray or where something above the tray is recorded and not taken out.
pub(crate) fn note(
    units: &Units,
    unit_of: &str,
    (taken, left): (Option<&str>, Option<&LeftIn>),
    kept: &[usize],
) -> Option<Note> {
    if unit_of != "tray" {
        return Some(Note::new(
            "judged_by",
            format!(
                "Each level of {unit_of} held one strength, so its trays count together: how levels of {unit_of} with one strength differ judges the curve. Several for each strength are needed."
            ),
        ));
    }
    let told =
        |names: &str, name: &String| names.split(" and ").flat_map(|part| part.split(", ")).any(|one| one == name);
    // What a place within them takes out is not among trays any more.
    let places = || [&units.block, &units.whole_plot].into_iter().flatten();
    let inside = |layer: &Factor| {
        let out = |place: &&Factor| taken.is_some_and(|taken| told(taken, &place.name)) && layer.constant_within(place);
        places().any(|place| out(&place))
    };
    // Plants that are the units themselves stand above no tray.
    let plants = units.stock_plant.as_ref().filter(|_| !units.plants_are_units());
    let others = [plants, units.season.as_ref()]
        .into_iter()
        .flatten()
        .filter(|layer| layer.varies_over(kept) && !inside(layer))
        .map(|layer| layer.name.clone())
        .filter(|name| taken.is_none_or(|taken| !told(taken, name)))
        .filter(|name| left.is_none_or(|left| !told(&left.column, name)));
    let named: Vec<String> = left.map(|left| left.column.clone()).into_iter().chain(others).collect();
    let why = left.map_or_else(String::new, |left| format!(" ({} not taken out: {})", left.column, left.why));
    (!named.is_empty()).then(|| {
        Note::new(
            "judged_by",
            format!(
                "Trays judge the curve; differences between levels of {} count as spread between trays{why}. Each strength should be in all of them.",
                join(&named)
            ),
        )
    })
}
