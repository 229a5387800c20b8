//! What becomes of the places that trays stand in, and what is said of it.

use super::bays::Carried;
use super::blocks::{Places, settle};
use super::layers::{self, LeftIn};
use super::options::CurveOptions;
use super::over::{Share, by_cuttings, by_places, judged};
use super::places::{CurveBays, CurveBlocks, CurvePlaces};
use super::trays::CurveGroup;
use crate::answer::Note;
use crate::error::Result;
use crate::report::{cautions, join};
use crate::trial::{Factor, UnitKind, Units};

/// The trays of all curves.
pub(super) struct Gathered<'a> {
    pub(super) units: &'a Units,
    pub(super) treatment: &'a Factor,
    pub(super) within: &'a [&'a Factor],
    /// Trays that stay.
    pub(super) kept: &'a [usize],
    /// Trays of each curve.
    pub(super) members: &'a [Vec<usize>],
    /// What strengths were given to.
    pub(super) unit_of: &'a str,
    /// True when trays are counted.
    pub(super) counted: bool,
}

/// Places taken out, bays that carry the level, places over which takes hold, and what is noted of them.
pub(super) struct Held {
    pub(super) blocks: Option<CurveBlocks>,
    pub(super) bays: Option<CurveBays>,
    pub(super) places: Option<CurvePlaces>,
    pub(super) notes: Vec<Note>,
}

impl Gathered<'_> {
    /// Takes out the places that can be, and judges the level of the curves over them.
    pub(super) fn hold(
        &self,
        places: Option<&Places<'_>>,
        groups: &mut [CurveGroup],
        options: &CurveOptions,
    ) -> Result<Held> {
        let units = self.units;
        let carried = Carried::new(units, self.treatment, self.within, options)?;
        let (blocks, left) = settle(places, units, groups, options, self.counted);
        let mut held = Held { blocks, bays: None, places: None, notes: Vec::new() };
        if self.counted {
            held.bays = CurveBays::of(units, &carried, self.within, self.members);
            held.places = match places {
                None => self.across(&carried),
                Some(places) => held.blocks.as_ref().and_then(|_| {
                    let share = |own: &Vec<usize>| by_places(units, own, |unit| places.of(unit));
                    let shares: Vec<_> = self.members.iter().map(share).collect();
                    CurvePlaces::of(units, &places.recorded(), &carried, &shares)
                }),
            };
        }
        held.notes = self.notes(&held, left.filter(|_| self.counted || places.is_some()));
        Ok(held)
    }

    /// Seasons and blocks that cross the bays which strengths were given to: strengths differ within them, takes are to hold over them.
    fn across(&self, carried: &Carried<'_>) -> Option<CurvePlaces> {
        let recorded = [&self.units.season, &self.units.block].into_iter().flatten();
        let crossing: Vec<&Factor> =
            recorded.filter(|place| place.varies_over(self.kept) && !self.treatment.constant_within(place)).collect();
        let unit = self.units.unit_of(self.treatment).filter(|_| !crossing.is_empty())?;
        let over: Vec<&Factor> = crossing.iter().copied().chain([unit]).collect();
        let shares: Vec<_> = self.members.iter().map(|own| by_cuttings(self.units, own)).collect();
        let names: Vec<&str> = crossing.iter().map(|one| one.name.as_str()).collect();
        CurvePlaces::of(self.units, &over, carried, &shares).map(|found| CurvePlaces { column: join(&names), ..found })
    }

    fn notes(&self, held: &Held, left: Option<LeftIn>) -> Vec<Note> {
        let Held { blocks, bays, places, .. } = held;
        let mut notes: Vec<Note> =
            blocks.as_ref().map(|blocks| blocks.note(self.members.len() > 1)).into_iter().collect();
        // Bays that carry a level are told once.
        let once = |column: &str| bays.as_ref().is_none_or(|bays| bays.column != column);
        let taken = blocks.as_ref().map(|blocks| blocks.places.as_str()).filter(|names| !names.is_empty());
        let at_hand = taken.filter(|names| places.is_none() && once(names));
        let recorded = self.units.kind == UnitKind::Tray;
        notes.extend(at_hand.map(|names| cautions::holds_for_places_at_hand(names, recorded)));
        if !self.counted {
            notes.extend(left.as_ref().map(LeftIn::note));
            return notes;
        }
        // Takes hold over places, so that how these differ is in their limits and not among trays.
        let own = [
            blocks.as_ref().map(|one| one.column.as_str()),
            bays.as_ref().map(|one| one.column.as_str()),
            places.as_ref().map(|one| one.column.as_str()),
        ];
        let told = join(&own.into_iter().flatten().collect::<Vec<&str>>());
        let left = left.filter(|left| once(&left.column));
        notes.extend(bays.as_ref().map(CurveBays::note));
        notes.extend(places.as_ref().filter(|places| once(&places.column)).map(CurvePlaces::note));
        notes.extend(layers::note(self.units, self.unit_of, (Some(&told), left.as_ref()), self.kept));
        notes
    }
}

impl CurvePlaces {
    /// Of places that are taken out; none where nothing tells how their levels differ.
    pub(crate) fn of(units: &Units, taken: &[&Factor], carried: &Carried<'_>, curves: &[Vec<Share>]) -> Option<Self> {
        let recorded = [&units.season, &units.block, &units.whole_plot, &units.stock_plant].into_iter().flatten();
        let meant = |place: &&Factor| {
            let named = |one: &&Factor| one.name == place.name;
            taken.iter().any(named) || carried.places.iter().any(named)
        };
        let places: Vec<&Factor> = recorded.filter(meant).collect();
        let found = judged(units, &carried.trays(units), (&places, &[]), curves);
        (found.df > 0.0).then(|| Self { column: join(&found.told), df: found.df, curves: found.curves })
    }

    /// What a reader must know of them.
    pub(crate) fn note(&self) -> Note {
        cautions::holds_over_places(&self.column)
    }
}
