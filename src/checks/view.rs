//! The trays of a model one by one, each with what the model expects of it.

use crate::math::dense::{Qr, quadratic};
use crate::models::{CountLaw, Model, Ready};
use crate::report::numbers::unit_name;
use crate::trial::UnitKind;

/// One tray (or pooled count).
#[derive(Debug, Clone, Copy)]
pub(super) struct View {
    /// Place among the units of the trial.
    pub(super) unit: usize,
    /// Row of the model's data.
    pub(super) row: usize,
    pub(super) rooted: f64,
    pub(super) stuck: f64,
    pub(super) eta: f64,
    pub(super) law: CountLaw,
    /// Expected rate.
    pub(super) mean: f64,
    /// Variance of the count under the model, over its prior weight.
    pub(super) variance: f64,
    /// Prior weight.
    pub(super) weight: f64,
    /// How the expected count moves with the linear predictor.
    pub(super) slope: f64,
    /// Leverage.
    pub(super) hat: f64,
}

impl View {
    /// Rooted less expected.
    pub(super) fn off(&self) -> f64 {
        self.rooted - self.stuck * self.mean
    }

    /// Weight of the linear predictor: squared slope over variance.
    pub(super) fn working_weight(&self) -> f64 {
        if self.variance > 0.0 { self.slope * self.slope / self.variance } else { 0.0 }
    }
}

/// Every unit with cuttings, and the covariance of the coefficients under the weights of the model.
#[derive(Debug, Clone)]
pub(super) struct Views {
    pub(super) trays: Vec<View>,
    /// Columns of the design.
    x: Vec<Vec<f64>>,
    /// `(X' W X)^-1`, in rows.
    pub(super) covariance: Vec<Vec<f64>>,
}

impl Views {
    /// Leverages are those of least squares with weights `W = (d mean / d eta)^2 / variance`.
    pub(super) fn new(model: &Model, ready: &Ready) -> Self {
        let per_unit = &ready.frame.per_unit;
        let counts = per_unit.rooted.iter().zip(&per_unit.stuck).zip(&per_unit.row);
        let members = ready.frame.members();
        let mut trays: Vec<View> = (members.iter())
            .zip(counts)
            .map(|(unit, ((rooted, stuck), row))| {
                let eta = ready.solution.eta.get(*row).copied().unwrap_or(0.0);
                let law = CountLaw::of_unit(model, *unit, eta, *stuck);
                View {
                    unit: *unit,
                    row: *row,
                    rooted: *rooted,
                    stuck: *stuck,
                    eta,
                    law,
                    mean: law.mean(),
                    variance: law.variance(*stuck) / ready.weight_of(*row),
                    weight: ready.weight_of(*row),
                    slope: stuck * law.slope(model.spec.link, eta),
                    hat: 0.0,
                }
            })
            .collect();
        let mut weights = vec![0.0; ready.solution.eta.len()];
        for tray in &trays {
            if let Some(weight) = weights.get_mut(tray.row) {
                *weight += tray.working_weight();
            }
        }
        let weighted = |column: &Vec<f64>| column.iter().zip(&weights).map(|(x, w)| x * w.sqrt()).collect();
        let x = ready.design.x();
        let columns: Vec<Vec<f64>> = x.iter().map(weighted).collect();
        let covariance = Qr::new(&columns, 0.0).covariance();
        // Trays of one row have the same predictor, so each row is worked out once.
        let found = Self { trays: Vec::new(), x, covariance };
        let spread: Vec<f64> = (0..weights.len()).map(|row| quadratic(&found.covariance, &found.row(row))).collect();
        for tray in &mut trays {
            tray.hat = (tray.working_weight() * spread.get(tray.row).copied().unwrap_or(0.0)).min(1.0);
        }
        Self { trays, ..found }
    }

    /// Row of the design matrix.
    pub(super) fn row(&self, row: usize) -> Vec<f64> {
        self.x.iter().map(|column| column.get(row).copied().unwrap_or(0.0)).collect()
    }
}

/// "tray T07", "tray T07 (bay 2)" where its name stands in several places, "mother plant M1" where plants are the units, or "count 3" where no
/// tray is recorded.
pub(super) fn name(model: &Model, unit: usize) -> String {
    let label = model.units.tray.as_ref().and_then(|tray| tray.label(unit));
    if let (Some(label), UnitKind::Tray) = (label, model.units.kind) {
        return format!("tray {label}{}", place(model, unit));
    }
    let plants = model.units.stock_plant.as_ref().filter(|_| model.units.plants_are_units());
    if let Some((plants, label)) = plants.and_then(|plants| Some((plants, plants.label(unit)?))) {
        return format!("{} {label}{}", unit_name(&plants.name), place(model, unit));
    }
    let what = if model.units.kind == UnitKind::Tray { "tray" } else { "count" };
    format!("{what} {}", unit + 1)
}

/// The places that tell trays of one name apart: " (bay 2)".
fn place(model: &Model, unit: usize) -> String {
    let units = &model.units;
    let code =
        |at: usize| units.tray.as_ref().or(units.stock_plant.as_ref()).and_then(|one| one.codes.get(at)).copied();
    let twins: Vec<usize> = (0..units.len()).filter(|at| *at != unit && code(*at) == code(unit)).collect();
    let places = [&units.season, &units.block, &units.whole_plot].into_iter().flatten();
    let apart = places.filter(|one| twins.iter().any(|twin| one.codes.get(*twin) != one.codes.get(unit)));
    let told: Vec<String> = apart.filter_map(|one| Some(format!("{} {}", one.name, one.label(unit)?))).collect();
    if told.is_empty() { String::new() } else { format!(" ({})", told.join(", ")) }
}

/// "strength 5000, rootstock K12".
pub(super) fn treatment(model: &Model, unit: usize) -> String {
    let of = |name: &String| {
        let level = model.units.factor(name).and_then(|factor| factor.label(unit)).map(str::to_owned);
        let covariate = || {
            let column = model.units.covariates.iter().find(|covariate| covariate.name == *name)?;
            column.values.get(unit).map(|x| crate::report::number(*x))
        };
        level.or_else(covariate).map(|value| format!("{name} {value}"))
    };
    model.spec.effects.iter().filter_map(of).collect::<Vec<_>>().join(", ")
}
