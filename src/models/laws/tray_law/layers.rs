//! The groupings that have random effects beside the trays: found in the recorded columns, checked, and told apart.

use std::collections::BTreeMap;

use crate::error::{ChoiceError, ModelError, Result};
use crate::models::enter::{Frame, ModelSpec, constant, level_of, recorded};
use crate::report::{join, whole};
use crate::trial::{Factor, Units};

/// A grouping of trays.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Layer {
    /// The user's column.
    pub(crate) name: String,
    /// Level of each unit that enters, `0 .. levels - 1`.
    pub(crate) codes: Vec<usize>,
    /// Number of levels that occur.
    pub(crate) levels: usize,
    /// The column's codes of those levels.
    present: Vec<u32>,
    /// The column for all units of the trial.
    pub(crate) factor: Factor,
}

impl Layer {
    /// A recorded column as a grouping; covariates group by their values.
    pub(crate) fn of(frame: &Frame, units: &Units, name: &str) -> Result<Self> {
        let factor = match units.factor(name) {
            Some(factor) => factor.clone(),
            None => by_value(units, name)?,
        };
        let known: Vec<u32> = frame.members().iter().filter_map(|unit| factor.codes.get(*unit)).copied().collect();
        let mut present = known.clone();
        present.sort_unstable();
        present.dedup();
        let codes = known.iter().map(|code| present.binary_search(code).unwrap_or(0)).collect();
        Ok(Self { name: name.to_owned(), codes, levels: present.len(), present, factor })
    }

    /// Names of the levels that occur, in the order of the codes.
    pub(crate) fn labels(&self) -> Vec<String> {
        self.present.iter().filter_map(|code| self.factor.levels.get(*code as usize).cloned()).collect()
    }

    /// True when every level of this one lies in a single level of the other.
    pub(super) fn is_within(&self, other: &[usize]) -> bool {
        let mut home: BTreeMap<usize, usize> = BTreeMap::new();
        self.codes.iter().zip(other).all(|(own, other)| home.entry(*own).or_insert(*other) == other)
    }

    /// True when both put the same trays together.
    fn is_alike(&self, other: &Self) -> bool {
        self.levels == other.levels && self.is_within(&other.codes)
    }
}

/// A covariate whose values are levels.
fn by_value(units: &Units, name: &str) -> Result<Factor> {
    let covariate = units.covariates.iter().find(|covariate| covariate.name == name);
    let covariate = covariate.ok_or_else(|| ChoiceError::new("column", name, &recorded(units)))?;
    if let Some(value) = covariate.values.iter().find(|value| !value.is_finite()) {
        return Err(ModelError::NotFinite { effect: name.to_owned(), value: *value }.into());
    }
    let values: Vec<f64> = covariate.values.iter().map(|value| value + 0.0).collect();
    let mut known = values.clone();
    known.sort_unstable_by(f64::total_cmp);
    known.dedup_by(|a, b| a.total_cmp(b).is_eq());
    let code = |value: &f64| known.binary_search_by(|known| known.total_cmp(value)).unwrap_or(0) as u32;
    Ok(Factor {
        name: name.to_owned(),
        levels: known.iter().map(f64::to_string).collect(),
        numbers: None,
        codes: values.iter().map(code).collect(),
    })
}

/// The whole plots, where they are recorded, no effect, and hold more than one tray somewhere; then the groupings named. Trays
/// themselves are left to the caller.
///
/// # Errors
/// A column that is not recorded, with its nearest; one that is an effect, has one level, or groups the trays as another does or each for
/// itself.
pub(super) fn layers(frame: &Frame, units: &Units, spec: &ModelSpec) -> Result<Vec<Layer>> {
    let mut found: Vec<Layer> = Vec::new();
    if let Some(whole) = &units.whole_plot
        && frame.variables.iter().all(|variable| variable.name != whole.name)
    {
        let layer = Layer::of(frame, units, &whole.name)?;
        if layer.levels > 1 && layer.levels < layer.codes.len() {
            found.push(layer);
        }
    }
    // A block within whose levels an effect is constant is no additive effect.
    let block = units.block.as_ref().map(|block| block.name.as_str());
    for place in frame.placing.layers.iter().filter(|place| Some(place.name.as_str()) == block) {
        let carries = frame.variables.iter().any(|one| constant(one, &place.codes));
        let layer = Layer::of(frame, units, &place.name)?;
        if carries && layer.levels < layer.codes.len() && !found.iter().any(|known| known.is_alike(&layer)) {
            found.push(layer);
        }
    }
    let tray = units.tray.as_ref().map(|tray| tray.name.as_str());
    for name in spec.random.iter().filter(|name| tray != Some(name.as_str())) {
        if frame.variables.iter().any(|variable| variable.name == *name) {
            return Err(ModelError::RandomIsEffect { column: name.clone() }.into());
        }
        if found.iter().any(|layer| layer.name == *name) {
            continue;
        }
        let layer = Layer::of(frame, units, name)?;
        check(&layer, frame, &found)?;
        found.push(layer);
    }
    Ok(found)
}

fn check(layer: &Layer, frame: &Frame, others: &[Layer]) -> Result<()> {
    let column = layer.name.clone();
    if layer.levels < 2 {
        let level = layer.labels().into_iter().next().unwrap_or_default();
        return Err(ModelError::RandomOneLevel { column, level }.into());
    }
    if layer.levels == layer.codes.len() {
        return Err(ModelError::RandomLikeTrays { column, levels: layer.levels }.into());
    }
    if let Some(other) = others.iter().find(|other| layer.is_alike(other)) {
        return Err(ModelError::RandomAlike { column, other: other.name.clone() }.into());
    }
    for variable in frame.variables.iter().filter(|variable| !variable.is_covariate()) {
        let codes: Vec<usize> = variable_codes(frame, &variable.name);
        if layer.levels == variable.levels.len() && layer.is_within(&codes) {
            return Err(ModelError::RandomAlike { column, other: variable.name.clone() }.into());
        }
    }
    Ok(())
}

/// Levels of a factor of the model, one per unit.
fn variable_codes(frame: &Frame, name: &str) -> Vec<usize> {
    let variable = frame.variables.iter().find(|variable| variable.name == name);
    variable.map(|variable| variable.values.iter().map(level_of).collect()).unwrap_or_default()
}

/// "60 trays within 12 levels of bay within 3 levels of batch; crossed with them 8 levels of `stock_plant`".
pub(super) fn in_words(layers: &[Layer], trays: usize) -> String {
    let mut order: Vec<&Layer> = layers.iter().collect();
    order.sort_by_key(|layer| std::cmp::Reverse(layer.levels));
    let (mut chain, mut crossed): (Vec<&Layer>, Vec<&Layer>) = (Vec::new(), Vec::new());
    for layer in order {
        if chain.last().is_none_or(|finer| finer.is_within(&layer.codes)) {
            chain.push(layer);
        } else {
            crossed.push(layer);
        }
    }
    let levels = |layer: &&Layer| format!("{} of {}", whole(layer.levels as u64, "level", "levels"), layer.name);
    let mut text = whole(trays as u64, "tray", "trays");
    for layer in &chain {
        text.push_str(&format!(" within {}", levels(layer)));
    }
    if !crossed.is_empty() {
        let names: Vec<String> = crossed.iter().map(levels).collect();
        text.push_str(&format!("; crossed with them {}", join(&names)));
    }
    text
}
