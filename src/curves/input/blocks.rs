//! Blocks and bays that every strength stands in: can what they add be taken out of the curve?

use std::collections::BTreeMap;

use super::layers::LeftIn;
use super::options::{BlocksUse, CurveOptions};
use super::places::CurveBlocks;
use super::trays::CurveGroup;
use crate::answer::Note;
use crate::report::join;
use crate::trial::{Factor, Units, to_name};

impl CurveBlocks {
    /// What a reader must know of them; several curves have their own.
    pub(crate) fn note(&self, several: bool) -> Note {
        let combined = if self.column.contains(" and ") { ", each combination by itself," } else { "" };
        let of_each = if several { " of each curve for itself" } else { "" };
        let text = format!(
            "What the levels of {} add{combined} is taken out{of_each} (on the log odds): rates are averages over these levels, each counted once.",
            self.column
        );
        Note::new("blocks_taken_out", text)
    }
}

/// Trays that must be left for the spread when strengths and blocks are taken out.
const LEAST_LEFT: usize = 3;

/// The places that trays of several strengths share: blocks, and whole plots where strengths were laid out within them.
pub(super) struct Places<'a> {
    factors: Vec<&'a Factor>,
    /// How many of them, the first ones, are recorded places.
    recorded: usize,
    column: String,
    levels: Vec<String>,
    codes: BTreeMap<Vec<u32>, u32>,
}

impl<'a> Places<'a> {
    /// None where no place is recorded.
    pub(super) fn new(units: &'a Units, treatment: &Factor, kept: &[usize], common: &[&'a Factor]) -> Option<Self> {
        let inner = units.whole_plot.as_ref().filter(|place| !treatment.constant_within(place));
        let seasons = units.season.as_ref().filter(|seasons| seasons.varies_over(kept));
        let recorded: Vec<&Factor> = units.block.iter().chain(inner).chain(seasons).collect();
        let factors: Vec<&Factor> = recorded.iter().chain(common).copied().collect();
        let names: Vec<&str> = to_name(&factors).into_iter().map(|factor| factor.name.as_str()).collect();
        let (column, recorded) = (join(&names), recorded.len());
        let mut places = Self { column, factors, recorded, levels: Vec::new(), codes: BTreeMap::new() };
        let mut keys: Vec<Vec<u32>> = kept.iter().filter_map(|unit| places.key(*unit)).collect();
        keys.sort_unstable();
        keys.dedup();
        for key in keys {
            let label = |(code, factor): (&u32, &&Factor)| factor.levels.get(*code as usize).cloned();
            let parts: Vec<String> = key.iter().zip(&places.factors).filter_map(label).collect();
            places.codes.insert(key, places.levels.len() as u32);
            places.levels.push(parts.join(" "));
        }
        (!places.factors.is_empty()).then_some(places)
    }

    fn key(&self, unit: usize) -> Option<Vec<u32>> {
        self.factors.iter().map(|factor| factor.codes.get(unit).copied()).collect()
    }

    /// The recorded places: levels of treatments are not drawn from others.
    pub(super) fn recorded(&self) -> Vec<&'a Factor> {
        self.factors.iter().take(self.recorded).copied().collect()
    }

    /// The place of a tray.
    pub(super) fn of(&self, unit: usize) -> Option<u32> {
        self.key(unit).and_then(|key| self.codes.get(&key).copied())
    }
}

/// Keeps the blocks of the trays where they are to be taken out, removes them where they cannot, and says which.
pub(super) fn settle(
    places: Option<&Places<'_>>,
    units: &Units,
    groups: &mut [CurveGroup],
    options: &CurveOptions,
    counted: bool,
) -> (Option<CurveBlocks>, Option<LeftIn>) {
    let why = match (places, options.blocks) {
        (Some(_), BlocksUse::Auto) => {
            groups.iter().find_map(|group| kept_in(group, (groups.len() > 1, counted), &options.within))
        }
        (Some(_), BlocksUse::Spread) => Some("as asked".to_owned()),
        (None, _) => Some("whole plots are the units".to_owned()),
    };
    let Some(why) = why else {
        let Some(places) = places else { return (None, None) };
        let names: Vec<&str> = to_name(&places.recorded()).into_iter().map(|place| place.name.as_str()).collect();
        let (column, levels) = (places.column.clone(), places.levels.clone());
        return (Some(CurveBlocks { column, levels, places: join(&names) }), None);
    };
    groups.iter_mut().flat_map(|group| &mut group.trays).for_each(|tray| tray.block = None);
    let column = places.map(|places| places.column.clone());
    let column = column.or_else(|| units.block.as_ref().or(units.whole_plot.as_ref()).map(|place| place.name.clone()));
    (None, column.map(|column| LeftIn { column, why }))
}

/// Why the blocks of a curve cannot be taken out; none where they can.
fn kept_in(group: &CurveGroup, (several, counted): (bool, bool), within: &[String]) -> Option<String> {
    let of = if several { format!(" of {}", group.name(within)) } else { String::new() };
    let mut at: BTreeMap<u64, Vec<u32>> = BTreeMap::new();
    for tray in &group.trays {
        at.entry(tray.strength.to_bits()).or_default().extend(tray.block);
    }
    for blocks in at.values_mut() {
        blocks.sort_unstable();
        blocks.dedup();
    }
    let mut all: Vec<u32> = at.values().flatten().copied().collect();
    all.sort_unstable();
    all.dedup();
    if let Some((strength, _)) = at.iter().find(|(_, blocks)| blocks.len() < 2) {
        return Some(format!("strength {}{of} stands in one of them only", f64::from_bits(*strength)));
    }
    // Strengths that share a block hang together; all must.
    let mut reached: Vec<u32> = at.values().next().cloned().unwrap_or_default();
    loop {
        let more = at.values().filter(|blocks| blocks.iter().any(|block| reached.contains(block)));
        let mut next: Vec<u32> = more.flatten().copied().collect();
        next.sort_unstable();
        next.dedup();
        if next.len() == reached.len() {
            break;
        }
        reached = next;
    }
    if reached.len() < all.len() {
        return Some(format!("the strengths{of} fall into groups that share none of them"));
    }
    let left = (group.trays.len() + 1).saturating_sub(at.len() + all.len());
    (counted && left < LEAST_LEFT).then(|| format!("too few trays{of} would be left for the spread"))
}
