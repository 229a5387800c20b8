//! The trays of a surface over strength and darkness, and the rooms that darkness was given to.

use std::collections::BTreeSet;

use serde::{Deserialize, Serialize};

use crate::answer::Note;
use crate::compare::{code_of, column};
use crate::curves::input::{CurveInput, CurveOptions, gather, known_law, note as judged_by, offering, strengths};
use crate::error::{ChoiceError, CurveError, Result};
use crate::trial::{Factor, Units};
use crate::units::Strength;

/// Options of [`response_surface`](crate::curves::response_surface).
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(default, deny_unknown_fields)]
pub struct SurfaceOptions {
    /// Strengths, levels of other treatments, level, trays and axis, as for a strength curve.
    pub curve: CurveOptions,
    /// The treatment that holds the days of darkness.
    pub darkness: String,
}

impl Default for SurfaceOptions {
    fn default() -> Self {
        Self { curve: CurveOptions::default(), darkness: "dark_days".to_owned() }
    }
}

/// One tray with its strength, darkness and room.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct SurfaceTray {
    /// Strength, in the trial's unit.
    pub strength: f64,
    /// Days of darkness.
    pub darkness: f64,
    /// Number of its room or bay, where darkness was given to those.
    pub bay: Option<u32>,
    /// Cuttings rooted.
    pub rooted: u64,
    /// Cuttings stuck.
    pub stuck: u64,
}

/// What a surface is fitted to.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct SurfaceInput {
    /// What the strengths mean, where it was declared.
    pub strength: Option<Strength>,
    /// Unit of the strengths.
    pub unit: String,
    /// True when trays are counted.
    pub counted: bool,
    /// The room or bay column that darkness was given to; none where trays within one room had different darkness or none is recorded.
    pub bays: Option<String>,
    /// The trays.
    pub trays: Vec<SurfaceTray>,
    /// What was noted about the design.
    pub notes: Vec<Note>,
    /// The options.
    pub options: SurfaceOptions,
}

/// Notes on what a curve does with places; a surface has its own.
const OF_CURVES: [&str; 7] = [
    "judged_by",
    "blocks_taken_out",
    "blocks_left_in",
    "holds_over_places",
    "holds_for_places_at_hand",
    "level_over_bays",
    "level_not_judged",
];

/// Gathers the trays; everything that a strength curve refuses is refused here too.
pub(super) fn gather_surface(
    units: &Units,
    strength: Option<&Strength>,
    options: &SurfaceOptions,
) -> Result<SurfaceInput> {
    known_law(&options.curve, "response_surface")?;
    let darkness = column(units, &options.darkness)?;
    let days = strengths(darkness)?;
    let within = CurveOptions { within: vec![options.darkness.clone()], ..options.curve.clone() };
    let CurveInput { unit, counted, notes, strength: declared, unit_of, blocks, .. } =
        offering(gather(units, strength, &within), "")?;
    let treatment = column(units, &options.curve.column)?;
    let tested = strengths(treatment)?;
    let mut kept: Vec<usize> = (0..units.len()).filter(|unit| units.stuck.get(*unit).is_some_and(|m| *m > 0)).collect();
    for (name, level) in &options.curve.at {
        let factor = column(units, name)?;
        let code = code_of(factor, level)?;
        kept.retain(|unit| factor.codes.get(*unit) == Some(&code));
    }
    let rooms = units.whole_plot.as_ref().filter(|place| counted && darkness.constant_within(place));
    let value = |factor: &Factor, values: &[f64], unit: usize| {
        factor.codes.get(unit).and_then(|code| values.get(*code as usize)).copied()
    };
    let tray = |unit: &usize| {
        let count = units.count(*unit)?;
        Some(SurfaceTray {
            strength: value(treatment, &tested, *unit)?,
            darkness: value(darkness, &days, *unit)?,
            bay: rooms.and_then(|place| place.codes.get(*unit)).copied(),
            rooted: count.rooted,
            stuck: count.stuck,
        })
    };
    let trays: Vec<SurfaceTray> = kept.iter().filter_map(tray).collect();
    let levels =
        |of: fn(&SurfaceTray) -> f64| trays.iter().map(|tray| of(tray).to_bits()).collect::<BTreeSet<u64>>().len();
    let found = (levels(|tray| tray.strength), levels(|tray| tray.darkness));
    if found.0 < 3 || found.1 < 2 {
        return Err(CurveError::TooFewForSurface { strengths: found.0, darkness: found.1 }.into());
    }
    // A surface keeps no blocks of its own, so what a curve says of them is said anew.
    let taken = blocks.as_ref().map(|blocks| blocks.column.as_str());
    let judged = if counted { judged_by(units, &unit_of, (taken, None), &kept) } else { None };
    let others = notes.into_iter().filter(|note| !OF_CURVES.contains(&note.code.as_str()));
    let notes = others.chain(judged).collect();
    Ok(SurfaceInput {
        strength: declared,
        unit,
        counted,
        bays: rooms.map(|place| place.name.clone()),
        trays,
        notes,
        options: options.clone(),
    })
}

/// The name of an option that is not a column is explained as such.
pub(super) fn known(units: &Units, name: &str) -> Result<()> {
    let names: Vec<String> = units.treatments.iter().map(|factor| factor.name.clone()).collect();
    if names.iter().any(|known| known == name) {
        Ok(())
    } else {
        Err(ChoiceError::new("column of darkness", name, &names).into())
    }
}
