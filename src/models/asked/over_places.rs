//! Rates that are to hold over further places, where a model takes those at hand out as fixed effects.

use super::spread::Spread;
use crate::layers::{Layers, Place, refines};
use crate::models::design::Design;
use crate::models::errors::{Layered, layers_about};
use crate::models::kept::Ready;

/// Seasons and blocks taken out, as layers of error of a rate that is averaged over them.
///
/// A contrast lies within these places, so that what they have in common cancels. A rate does not: a nursery plants in other blocks and in
/// other seasons. Its variance is therefore that of a model in which the places are layers, judged by the mean squares it draws on as
/// [`take_rates`](crate::rates::take_rates) judges it (`tests/calibration/units_above.md`).
#[derive(Debug, Clone)]
pub(crate) struct OverPlaces {
    layers: Layers,
    layered: Layered,
    names: Vec<String>,
}

/// Which places rates hold for.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(crate) struct HeldPlaces {
    /// Columns over whose further levels they hold.
    pub(crate) over: Vec<String>,
    /// Columns of which they hold for the levels at hand alone.
    pub(crate) at_hand: Vec<String>,
}

impl OverPlaces {
    /// None where no place is taken out but those `held` at a level or asked for, where trays do not enter as effective cuttings, or where
    /// nothing is left to judge the places by.
    pub(crate) fn of(ready: &Ready, held: &[&str]) -> Option<Self> {
        let (frame, placing) = (&ready.frame, &ready.frame.placing);
        if !frame.divided {
            return None;
        }
        let free: Vec<&Place> = placing.taken.iter().filter(|place| !is_held(place, &placing.taken, held)).collect();
        if free.is_empty() {
            return None;
        }
        let asked: Vec<usize> =
            (0..frame.terms.len()).filter(|at| frame.terms.get(*at).is_some_and(|term| term.asked)).collect();
        let design = Design::new(frame, &asked, &frame.data);
        let names: Vec<String> = free.iter().map(|place| place.name.clone()).collect();
        let mut places: Vec<Place> = free.into_iter().chain(&placing.layers).cloned().collect();
        loop {
            let layers = layers_about(frame, &design, &places)?;
            // What the effects span is no layer of its own.
            let idle = layers.components.iter().find(|one| one.df < 0.5).map(|one| one.name.clone());
            if let Some(idle) = idle {
                places.retain(|place| place.name != idle);
                continue;
            }
            let seen = |name: &String| layers.component(name).is_some() || layers.alike.iter().any(|(a, _)| a == name);
            let names: Vec<String> = names.into_iter().filter(seen).collect();
            if names.is_empty() {
                return None;
            }
            let fitted: Vec<&str> = placing.taken.iter().map(|place| place.name.as_str()).collect();
            let layered = Layered::new(&layers.clone().given(&fitted), &places, frame);
            return Some(Self { layers, layered, names });
        }
    }

    /// The standard error of a combination of the coefficients and what it is judged against.
    pub(crate) fn spread(&self, ready: &Ready, gradient: &[f64]) -> Spread {
        ready.spread_in(&self.layered, gradient)
    }

    /// The correlation of two cuttings of a tray in a place that is not known.
    pub(crate) fn of_any_tray(&self) -> f64 {
        self.layers.of_any_tray()
    }
}

impl HeldPlaces {
    /// Of a model's rates with some places held.
    pub(crate) fn of(ready: &Ready, over: Option<&OverPlaces>) -> Self {
        let over: Vec<String> = over.map(|over| over.names.clone()).unwrap_or_default();
        let taken = ready.frame.placing.taken.iter().map(|place| place.name.clone());
        Self { at_hand: taken.filter(|name| !over.contains(name)).collect(), over }
    }
}

/// True when one level of a held place lies in a single level of this one.
fn is_held(place: &Place, places: &[Place], held: &[&str]) -> bool {
    let holding = places.iter().filter(|one| held.contains(&one.name.as_str()));
    holding.into_iter().any(|one| refines(&one.codes, &place.codes))
}
