//! Units above the tray as layers of a fitted model's error: what each effect is judged against.

use serde::{Deserialize, Serialize};

use super::effective::TrayCorrelation;
use super::stratum::{Stratum, WholePlots};
use crate::layers::{Layers, Place, Trays, refines};
use crate::models::design::Design;
use crate::models::enter::{Frame, constant};

/// The layers above the trays and the effects that are constant within each, by name.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Above {
    /// Correlations, mean squares and degrees of freedom.
    pub layers: Layers,
    /// Effects and interactions constant within the levels of each layer, in the order of the components.
    pub effects: Vec<Vec<String>>,
    /// For each layer, the positions of those that it lies within.
    pub within: Vec<Vec<usize>>,
}

impl Above {
    /// The layers of a frame; none where no recorded unit stands above the trays, or trays leave no degree of freedom.
    pub(crate) fn of(frame: &Frame, design: &Design) -> Option<Self> {
        let places = &frame.placing.layers;
        if places.is_empty() {
            return None;
        }
        let mut layers = layers_about(frame, design, places)?;
        // What the fixed effects span and no effect was laid out on is no layer of its own.
        let effects_of = |place: usize| -> Vec<String> {
            let Some(place) = places.get(place) else { return Vec::new() };
            let still = |v: &usize| frame.variables.get(*v).is_some_and(|one| constant(one, &place.codes));
            let asked = frame.terms.iter().filter(|term| term.asked && term.variables.iter().all(still));
            asked.map(|term| term.name.clone()).collect()
        };
        let idle = layers.components.iter().any(|one| one.df < 0.5 && effects_of(one.place).is_empty());
        if idle {
            let useful = layers.components.iter().filter(|one| one.df > 0.5 || !effects_of(one.place).is_empty());
            let useful = useful.filter_map(|one| places.get(one.place)).cloned().collect();
            let mut fewer = frame.clone();
            fewer.placing.layers = useful;
            return Self::of(&fewer, design);
        }
        if layers.components.is_empty() {
            return None;
        }
        let effects = layers.components.iter().map(|one| effects_of(one.place)).collect();
        let codes = |at: usize| layers.components.get(at).and_then(|one| places.get(one.place));
        let lies = |inner: usize, outer: usize| match (codes(inner), codes(outer)) {
            (Some(a), Some(b)) => inner != outer && refines(&a.codes, &b.codes),
            _ => false,
        };
        let count = layers.components.len();
        let within = (0..count).map(|at| (0..count).filter(|other| lies(at, *other)).collect()).collect();
        for one in &mut layers.components {
            // Positions among the places of the frame, by name.
            one.place = frame.placing.layers.iter().position(|place| place.name == one.name).unwrap_or(one.place);
        }
        Some(Self { layers, effects, within })
    }

    /// The trays' correlation in the form that effective counts take.
    pub(crate) fn tray(&self) -> TrayCorrelation {
        let tray = self.layers.tray;
        TrayCorrelation { estimate: tray.estimate, floor: tray.floor, events: tray.events, df: tray.df }
    }

    fn holds(&self, layer: usize, effect: &str) -> bool {
        self.effects.get(layer).is_some_and(|names| names.iter().any(|name| name == effect))
    }

    /// The layers an effect is judged against: those it is constant in, the coarsest where they lie within each other.
    pub(crate) fn judging(&self, effect: &str) -> Vec<usize> {
        let holding: Vec<usize> = (0..self.effects.len()).filter(|at| self.holds(*at, effect)).collect();
        let coarsest = |at: &&usize| {
            let outer = self.within.get(**at).map_or(&[][..], Vec::as_slice);
            !outer.iter().any(|outer| holding.contains(outer))
        };
        holding.iter().filter(coarsest).copied().collect()
    }

    /// A layer that an effect is constant in and that has no degrees of freedom beside the effects.
    pub(crate) fn hides(&self, effect: &str) -> Option<&str> {
        let mut found = self.layers.components.iter().enumerate();
        found.find(|(at, one)| one.df < 0.5 && self.holds(*at, effect)).map(|(_, one)| one.name.as_str())
    }

    /// Names of the layers an effect is judged against.
    pub(crate) fn names(&self, effect: &str) -> Vec<&str> {
        let name = |at: usize| self.layers.components.get(at).map(|one| one.name.as_str());
        self.judging(effect).into_iter().filter_map(name).collect()
    }

    /// Every layer as a stratum, its dispersion over that of trays.
    pub(crate) fn strata(&self) -> Vec<WholePlots> {
        let one = |(component, effects): (&crate::layers::Component, &Vec<String>)| {
            let dispersion = (component.mean_square / component.beneath).max(1.0);
            let error = (component.df > 0.5).then_some(Stratum { dispersion, df: Some(component.df) });
            WholePlots { name: component.name.clone(), effects: effects.clone(), error }
        };
        self.layers.components.iter().zip(&self.effects).map(one).collect()
    }
}

/// The layers of places about the effects of a design.
pub(crate) fn layers_about(frame: &Frame, design: &Design, places: &[Place]) -> Option<Layers> {
    let trays = &frame.per_unit;
    let mut columns = design.x();
    if !frame.data.offset.is_empty() {
        columns.push(frame.data.offset.to_vec());
    }
    let (rooted, stuck) = (trays.rooted.to_vec(), trays.stuck.to_vec());
    let counted = Trays { rooted: &rooted, stuck: &stuck, row: &trays.row, design: &columns, places };
    Layers::with(&counted, frame.earlier())
}
