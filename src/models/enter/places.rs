//! Recorded units above the tray: which are taken out as fixed effects, and which are layers of error.

use serde::{Deserialize, Serialize};

use super::spec::{ModelSpec, TrayMode};
use super::variables::Variable;
use crate::layers::{Place, refines};
use crate::math::design::{Codes, Key, constant_within, ranked};
use crate::trial::{Factor, Members, UnitKind, Value, Values};

/// An effect that changes within a single one of the places taken out as fixed effects. All that is known of it comes from there, and
/// nothing shows whether it holds elsewhere.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Confined {
    /// The effect.
    pub effect: String,
    /// The columns taken out.
    pub place: String,
    /// Their level within which the effect changes.
    pub level: String,
    /// Number of levels.
    pub levels: usize,
}

/// How the recorded units above the tray enter a model.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Placing {
    /// Columns taken out as additive factors.
    pub(crate) fixed: Vec<String>,
    /// These and the columns taken out together with them, with the level of every unit that enters.
    pub(crate) taken: Vec<Place>,
    /// Layers of error, with the level of every unit that enters.
    pub(crate) layers: Vec<Place>,
    /// A column that is taken out together with one that lies within it, and that one.
    pub(crate) together: Option<(String, String)>,
    /// Units that a law of the trays leaves out.
    pub(crate) left_out: Vec<String>,
    /// Effects that a single one of the places taken out carries.
    pub(crate) confined: Vec<Confined>,
}

impl Placing {
    /// A block or a season within whose levels every effect varies is taken out as a fixed effect; one within which an effect is constant is
    /// a layer of error, since as a fixed effect it would swallow that effect. So is a block that lasts over seasons while an effect changes its
    /// block from season to season, since as a fixed effect it would leave little of it. Whole plots and stock plants are layers.
    ///
    /// A law of the trays takes the groupings it is given, and leaves season and stock plants to them.
    ///
    /// Units that are effects of the model, have one level, or hold one tray each stand for nothing of their own. Counts pooled without
    /// trays know no layers.
    pub(crate) fn of(members: &Members<'_>, spec: &ModelSpec, asked: &[Variable]) -> Self {
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
        let plots = units.whole_plot.as_ref().filter(free);
        let law = matches!(spec.trays, TrayMode::Random | TrayMode::BetaBinomial);
        let lasts = |one: &Factor| units.lasting_block().is_some_and(|block| !law && block.name == one.name);
        let changes = |block: &Factor| {
            let (block, plots) = (codes(block), plots.map(codes));
            let of =
                |one: &Variable| plots.as_ref().is_some_and(|plots| constant(one, plots) && !constant(one, &block));
            asked.iter().any(of)
        };
        let (above, fixed): (Vec<&Factor>, Vec<&Factor>) =
            [season, block].into_iter().flatten().partition(|one| carries(one) || lasts(one) && changes(one));
        placing.confined = confined(asked, &fixed, &codes);
        placing.fix(fixed.into_iter().rev().map(layer).collect());
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

/// The effects that change within one combination of the levels of these places alone.
fn confined(asked: &[Variable], places: &[&Factor], codes: &impl Fn(&Factor) -> Vec<u32>) -> Vec<Confined> {
    let coded: Vec<Vec<u32>> = places.iter().map(|place| codes(place)).collect();
    let units = coded.first().map_or(0, Vec::len);
    let all = ranked(&coded.iter().map(|codes| Key::of(codes)).collect::<Vec<_>>(), units);
    let part = |(place, code): (&&Factor, &u32)| place.levels.get(*code as usize).cloned().unwrap_or_default();
    let one = |variable: &Variable| {
        let mut first: Vec<Option<Value>> = vec![None; all.len()];
        let mut changing = vec![false; all.len()];
        for (cell, value) in all.numbers.iter().zip(variable.values.iter()) {
            let cell = *cell as usize;
            if let (Some(first), Some(changing)) = (first.get_mut(cell), changing.get_mut(cell)) {
                *changing |= *first.get_or_insert(value) != value;
            }
        }
        let mut found = all.firsts.iter().zip(changing).filter(|(_, changing)| *changing).map(|(first, _)| *first);
        let lead = found.next().filter(|_| found.next().is_none() && all.len() > 1)?;
        let only: Vec<u32> = coded.iter().filter_map(|codes| codes.get(lead).copied()).collect();
        Some(Confined {
            effect: variable.name.clone(),
            place: places.iter().map(|place| place.name.as_str()).collect::<Vec<_>>().join(" and "),
            level: places.iter().zip(only.iter()).map(part).collect::<Vec<_>>().join(", "),
            levels: all.len(),
        })
    };
    asked.iter().filter_map(one).collect()
}

/// True when a variable does not change within the levels coded.
pub(crate) fn constant(variable: &Variable, codes: &[u32]) -> bool {
    match &variable.values {
        Values::Levels(levels) => match &**levels {
            Codes::Byte(levels) => constant_within(levels, codes),
            Codes::Short(levels) => constant_within(levels, codes),
            Codes::Long(levels) => constant_within(levels, codes),
        },
        Values::Numbers(numbers) => constant_within(numbers, codes),
    }
}
