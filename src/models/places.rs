//! Recorded units above the tray: which are taken out as fixed effects, and which are layers of error.

use std::collections::BTreeMap;

use crate::layers::{Place, refines};
use crate::models::prepared::Members;
use crate::models::spec::{ModelSpec, TrayMode};
use crate::models::values::Value;
use crate::models::variables::Variable;
use crate::trial::{Factor, UnitKind};

/// How the recorded units above the tray enter a model.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Placing {
    /// Columns taken out as additive factors.
    pub(super) fixed: Vec<String>,
    /// These and the columns taken out together with them, with the level of every unit that enters.
    pub(crate) taken: Vec<Place>,
    /// Layers of error, with the level of every unit that enters.
    pub(crate) layers: Vec<Place>,
    /// A column that is taken out together with one that lies within it, and that one.
    pub(crate) together: Option<(String, String)>,
    /// Units that a law of the trays leaves out.
    pub(crate) left_out: Vec<String>,
}

impl Placing {
    /// A block or a season within whose levels every effect varies is taken out as a fixed effect; one within which an effect is constant is
    /// a layer of error, since as a fixed effect it would swallow that effect. Whole plots and stock plants are layers.
    ///
    /// A law of the trays takes the groupings it is given, and leaves season and stock plants to them.
    ///
    /// Units that are effects of the model, have one level, or hold one tray each stand for nothing of their own. Counts pooled without
    /// trays know no layers.
    pub(super) fn of(members: &Members<'_>, spec: &ModelSpec, asked: &[Variable]) -> Self {
        let units = members.units;
        let codes = |factor: &Factor| members.picked(&factor.codes);
        let free = |factor: &&Factor| !spec.names(&factor.name) && Place::new("", &codes(factor)).levels() > 1;
        let carries = |factor: &Factor| asked.iter().any(|one| constant(one, &codes(factor)));
        let layer = |factor: &Factor| Place::new(&factor.name, &codes(factor));
        let (block, mut season) = (units.block.as_ref().filter(free), units.season.as_ref().filter(free));
        let mut placing = Self::default();
        let mut plants = units.stock_plant.as_ref().filter(free);
        if matches!(spec.trays, TrayMode::Random | TrayMode::BetaBinomial) {
            // Laws of the trays take the groupings they are given.
            let plants = plants.take().filter(|plants| carries(plants));
            placing.left_out = season.take().into_iter().chain(plants).map(|factor| factor.name.clone()).collect();
        }
        if units.kind == UnitKind::Pooled {
            let season = season.filter(|season| !carries(season));
            placing.fix([block, season].into_iter().flatten().map(layer).collect());
            return placing;
        }
        let (above, fixed): (Vec<&Factor>, Vec<&Factor>) =
            [season, block].into_iter().flatten().partition(|factor| carries(factor));
        placing.fix(fixed.into_iter().rev().map(layer).collect());
        let plots = units.whole_plot.as_ref().filter(free);
        for factor in above.into_iter().chain(plots).chain(plants) {
            let place = layer(factor);
            let known = |other: &Place| other.name == place.name;
            if place.levels() < members.rows.len()
                && !placing.layers.iter().any(known)
                && !placing.fixed.contains(&place.name)
            {
                placing.layers.push(place);
            }
        }
        placing
    }

    /// Takes out what no other one lies within.
    fn fix(&mut self, places: Vec<Place>) {
        self.taken.clone_from(&places);
        for (at, place) in places.iter().enumerate() {
            let finer = places.iter().enumerate().find(|(other, finer)| {
                let alike = refines(&place.codes, &finer.codes);
                *other != at && refines(&finer.codes, &place.codes) && (!alike || *other < at)
            });
            match finer {
                Some((_, finer)) if finer.name == place.name => {}
                Some((_, finer)) => self.together = Some((place.name.clone(), finer.name.clone())),
                None => self.fixed.push(place.name.clone()),
            }
        }
    }
}

/// True when a variable does not change within the levels coded.
pub(crate) fn constant(variable: &Variable, codes: &[u32]) -> bool {
    let mut seen: BTreeMap<u32, Value> = BTreeMap::new();
    variable.values.iter().zip(codes).all(|(value, code)| *seen.entry(*code).or_insert(value) == value)
}
