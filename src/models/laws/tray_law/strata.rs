//! What each effect is tested against when trays and their groupings have random effects.

use super::layers::Layer;
use crate::error::{ModelError, Result};
use crate::models::design::Design;
use crate::models::enter::{Frame, ModelSpec};
use crate::models::errors::{Strata, Stratum, WholePlots, carrier, constant_effects, split_plot};
use crate::trial::Units;

/// With more levels than this, what varies within a grouping is no longer looked at when its degrees of freedom are counted: it
/// takes next to nothing of so many.
const COUNTED: usize = 150;

/// Degrees of freedom of trays that follow a beta law: trays minus coefficients. What was laid out on whole plots has none.
pub(super) fn of_beta(frame: &Frame, units: &Units, rank: usize) -> Strata {
    let left = frame.per_unit.stuck.len().saturating_sub(rank);
    let whole_plots = split_plot(frame, units).map(|(_, constant)| withheld(frame, units, &constant));
    Strata { tray: error(left as f64), whole_plots, ..Strata::binomial() }
}

fn error(df: f64) -> Stratum {
    Stratum { dispersion: 1.0, df: Some(df) }
}

fn withheld(frame: &Frame, units: &Units, constant: &[usize]) -> WholePlots {
    let name = carrier(frame, units).map(|whole| whole.name.clone()).unwrap_or_default();
    let effects = constant.iter().filter_map(|index| frame.terms.get(*index)).map(|term| term.name.clone()).collect();
    WholePlots { name, effects, error: None }
}

/// The strata of random effects, and the groupings that the effects leave something of.
///
/// A grouping has as many degrees of freedom as its indicators add to the effects and to the indicators of the groupings that do not
/// lie within it: those of its stratum in an analysis of variance. Trays have what is left. An effect is tested against the grouping of
/// fewest degrees of freedom in whose levels it does not change, and against trays where there is none.
///
/// # Errors
/// A named grouping of which the effects leave nothing.
pub(super) fn of_random(
    frame: &Frame,
    units: &Units,
    spec: &ModelSpec,
    rank: usize,
    layers: Vec<Layer>,
) -> Result<(Strata, Vec<Layer>)> {
    let mut strata = Strata::binomial();
    let (mut kept, mut all) = (Vec::new(), rank);
    for (at, layer) in layers.iter().enumerate() {
        let coarser_or_crossed: Vec<&Layer> = layers
            .iter()
            .enumerate()
            .filter(|(other, one)| *other != at && !one.is_within(&layer.codes))
            .map(|(_, one)| one)
            .collect();
        let (df, constant) = free(frame, layer, &coarser_or_crossed);
        let is_plots = !spec.random.contains(&layer.name);
        if df == 0 && is_plots && !constant.is_empty() {
            let named = WholePlots { name: layer.name.clone(), ..withheld(frame, units, &constant) };
            strata.whole_plots = Some(named);
            continue;
        }
        if df == 0 {
            if is_plots {
                continue;
            }
            return Err(ModelError::RandomConfounded { column: layer.name.clone() }.into());
        }
        let effects = constant.iter().filter_map(|index| frame.terms.get(*index)).map(|term| term.name.clone());
        let one = WholePlots { name: layer.name.clone(), effects: effects.collect(), error: Some(error(df as f64)) };
        if is_plots && !one.effects.is_empty() {
            strata.whole_plots = Some(one.clone());
        }
        strata.layers.push(one);
        kept.push(layer.clone());
        all += df;
    }
    let left = frame.per_unit.stuck.len().saturating_sub(all).max(1);
    strata.tray = error(left as f64);
    Ok((strata, kept))
}

/// Degrees of freedom of a grouping beside effects and other groupings, and the effects that do not change within its levels.
fn free(frame: &Frame, layer: &Layer, others: &[&Layer]) -> (usize, Vec<usize>) {
    let Some(alone) = frame.with_factor(&layer.factor) else { return (0, Vec::new()) };
    let constant = constant_effects(&alone);
    let levels: usize = others.iter().map(|other| other.levels).sum::<usize>() + layer.levels;
    if levels > COUNTED {
        let own = Design::new(frame, &constant, &frame.data).rank();
        let coarser: usize = others.iter().filter(|other| layer.is_within(&other.codes)).map(|o| o.levels - 1).sum();
        return (layer.levels.saturating_sub(own + coarser), constant);
    }
    let mut with = frame.clone();
    // Each new term goes first, so the layer itself, added last, is term 0.
    for other in others {
        with = with.with_factor(&other.factor).unwrap_or(with);
    }
    let added = with.terms.len() - frame.terms.len();
    let Some(with) = with.with_factor(&layer.factor) else { return (0, constant) };
    let order: Vec<usize> = (1 + added..with.terms.len()).chain(1..=added).chain([0]).collect();
    (Design::new(&with, &order, &with.data).of_term(0).len(), constant)
}
