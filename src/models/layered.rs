//! Units above the tray as layers of a fitted model's error: what each effect is judged against, and the variance of a score.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::layers::{JointJudged, Judged, Layers, Place, Trays, joint, refines};
use crate::math::linalg::{Qr, combined, dot, quadratic};
use crate::models::design_matrix::Design;
use crate::models::effective::TrayCorrelation;
use crate::models::frame::Frame;
use crate::models::places::constant;
use crate::models::ready::Ready;
use crate::models::score::ScoreParts;
use crate::models::strata::{Stratum, WholePlots};

/// The layers above the trays and the effects that are constant within each, by name.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
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

/// The effective cuttings of every row in every level of every layer.
#[derive(Debug, Clone)]
pub(crate) struct Layered {
    layers: Layers,
    /// Per layer: row, level and cuttings.
    shares: Vec<Vec<(usize, usize, f64)>>,
    levels: Vec<usize>,
    /// Per row: the root of its prior weight over its effective cuttings.
    scale: Vec<f64>,
}

impl Layered {
    /// Of a frame with effective counts.
    pub(crate) fn new(layers: &Layers, places: &[Place], frame: &Frame) -> Self {
        let icc = layers.tray.used();
        let trays = &frame.per_unit;
        let (mut shares, mut levels) = (Vec::new(), Vec::new());
        for component in &layers.components {
            let codes = places.iter().find(|place| place.name == component.name);
            let codes = codes.map_or(&[][..], |place| place.codes.as_slice());
            let mut sums: BTreeMap<(usize, usize), f64> = BTreeMap::new();
            for ((code, row), m) in codes.iter().zip(&trays.row).zip(&trays.stuck) {
                *sums.entry((*row, *code as usize)).or_insert(0.0) += m / (1.0 + (m - 1.0) * icc);
            }
            levels.push(codes.iter().max().map_or(0, |most| *most as usize + 1));
            shares.push(sums.into_iter().map(|((row, level), sum)| (row, level, sum)).collect());
        }
        let prior = |row: usize| frame.data.weights.get(row).copied().unwrap_or(1.0);
        let scale = frame.data.stuck.iter().enumerate().map(|(row, m)| (prior(row) / m).sqrt()).collect();
        Self { layers: layers.clone(), shares, levels, scale }
    }

    /// Sums by level of one layer, of rows' shares of a score divided by the roots of their weights.
    fn by_level(&self, layer: usize, rows: &[f64]) -> Vec<f64> {
        let mut sums = vec![0.0; self.levels.get(layer).copied().unwrap_or(0)];
        for (row, level, share) in self.shares.get(layer).map_or(&[][..], Vec::as_slice) {
            let part = rows.get(*row).zip(self.scale.get(*row)).map_or(0.0, |(x, scale)| x * scale * share);
            if let Some(sum) = sums.get_mut(*level) {
                *sum += part;
            }
        }
        sums
    }

    /// The variance of a score. `rows` are the roots of the rows' parts of its variance if there were trays alone, with their signs:
    /// `sqrt(w) x'd` times the root of the inflation.
    pub(crate) fn judge(&self, rows: &[f64]) -> Judged {
        self.judge_beside(dot(rows, rows), rows)
    }

    fn judge_beside(&self, within: f64, rows: &[f64]) -> Judged {
        let square = |layer: usize| {
            let sums = self.by_level(layer, rows);
            dot(&sums, &sums)
        };
        let sums: Vec<f64> = (0..self.shares.len()).map(square).collect();
        self.layers.variance(within, &sums)
    }

    /// Products by layer of several scores.
    fn products(&self, scores: &[Vec<f64>]) -> Vec<Vec<Vec<f64>>> {
        let one = |layer: usize| {
            let sums: Vec<Vec<f64>> = scores.iter().map(|rows| self.by_level(layer, rows)).collect();
            sums.iter().map(|a| sums.iter().map(|b| dot(a, b)).collect()).collect()
        };
        (0..self.shares.len()).map(one).collect()
    }

    /// The covariance of several scores.
    pub(crate) fn covariance(&self, scores: &[Vec<f64>]) -> Vec<Vec<f64>> {
        let within: Vec<Vec<f64>> = scores.iter().map(|a| scores.iter().map(|b| dot(a, b)).collect()).collect();
        self.layers.covariance(&within, &self.products(scores))
    }

    /// The quadratic form of a score, over its rank.
    pub(crate) fn test(&self, parts: &ScoreParts) -> Option<JointJudged> {
        // Columns that add nothing to others are left out, as in the score without layers.
        let kept = Qr::new(&parts.tested, 1e-9).kept;
        let rows: Vec<Vec<f64>> = kept.iter().filter_map(|at| parts.tested.get(*at).cloned()).collect();
        let off: Vec<f64> = kept.iter().filter_map(|at| parts.off.get(*at).copied()).collect();
        let within: Vec<Vec<f64>> = rows.iter().map(|a| rows.iter().map(|b| dot(a, b)).collect()).collect();
        joint(&self.layers, &off, &within, &self.products(&rows))
    }
}

/// A standard error with the stratum that judges it.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Spread {
    pub(crate) se: f64,
    /// Its dispersion is in the standard error already.
    pub(crate) error: Stratum,
}

impl Ready {
    /// The standard error of a combination of the coefficients by the delta method, and what it is judged against: the layers it draws
    /// on, its own degrees of freedom where the covariance is robust, the stratum otherwise. None where the latter cannot be known.
    pub(crate) fn spread(&self, gradient: &[f64], stratum: Stratum) -> Option<Spread> {
        crate::control::checkpoint();
        let Some(layered) = &self.layered else {
            let error = self.error_of(gradient, stratum)?;
            return Some(Spread { se: (quadratic(&self.covariance, gradient) * error.dispersion).sqrt(), error });
        };
        Some(self.spread_in(layered, gradient))
    }

    /// The same with the layers given.
    pub(crate) fn spread_in(&self, layered: &Layered, gradient: &[f64]) -> Spread {
        let along = combined(&self.covariance, gradient);
        let judged = layered.judge_beside(quadratic(&self.covariance, gradient), &self.shares(&along));
        let error = Stratum { dispersion: 1.0, df: Some(judged.df) };
        Spread { se: judged.variance.sqrt(), error }
    }

    /// The roots of the rows' parts of a variance if there were trays alone, for the covariance times the slopes of what varies.
    fn shares(&self, along: &[f64]) -> Vec<f64> {
        self.design.matrix.times(along).iter().zip(self.roots.iter()).map(|(x, root)| x * root).collect()
    }

    /// Sums by level, layer by layer, of what [`Ready::spread`] judges, for the covariance times the slopes; they add up as slopes do.
    pub(crate) fn sums_by_layer(&self, along: &[f64]) -> Vec<Vec<f64>> {
        let Some(layered) = &self.layered else { return Vec::new() };
        let rows = self.shares(along);
        (0..layered.shares.len()).map(|layer| layered.by_level(layer, &rows)).collect()
    }

    /// The standard error and its stratum from the variance if there were trays alone and the squares of the sums by level.
    pub(crate) fn spread_of(&self, plain: f64, squares: &[f64], stratum: Stratum) -> Spread {
        let Some(layered) = &self.layered else {
            return Spread { se: (plain * stratum.dispersion).sqrt(), error: stratum };
        };
        let judged = layered.layers.variance(plain, squares);
        Spread { se: judged.variance.sqrt(), error: Stratum { dispersion: 1.0, df: Some(judged.df) } }
    }
}
