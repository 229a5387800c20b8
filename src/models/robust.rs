//! Models whose errors allow for any correlation inside clusters: trays, or whole plots where they are recorded.

use std::collections::BTreeSet;

use crate::answer::Note;
use crate::error::Result;
use crate::math::cluster_robust::{ClusterRobust, ClusteredFit, JointTest};
use crate::math::irls::{Link, Solution};
use crate::math::linalg::Qr;
use crate::models::design_matrix::Design;
use crate::models::fitted::{Model, Ready};
use crate::models::frame::{Frame, PerUnit};
use crate::models::likelihood::Fit;
use crate::models::spec::TrayMode;
use crate::models::strata::{Strata, Stratum, WholePlots};
use crate::models::user_scale::user_scale;
use crate::report::degrees_of_freedom;
use crate::trial::Units;

/// Weights below this share of the largest are held there: rates at the very edge say nothing of the spread.
const LEAST_WEIGHT: f64 = 1e-8;

/// True when the model has such a covariance.
pub(crate) fn is_robust(model: &Model) -> bool {
    model.trays == TrayMode::Robust
}

/// The whole plots, when they are recorded and no effect of the model.
fn whole_plots<'a>(frame: &Frame, units: &'a Units) -> Option<&'a crate::trial::Factor> {
    units.whole_plot.as_ref().filter(|whole| frame.variables.iter().all(|variable| variable.name != whole.name))
}

/// Columns of a design and the clustered fit they belong to, one entry per unit.
struct Unfolded {
    weights: Vec<f64>,
    residuals: Vec<f64>,
    clusters: Vec<usize>,
}

/// The working model is the binomial one at the linear predictors: weights `m p'^2 / (p (1 - p))`, residuals `(y - m p) / (m p')`.
fn unfolded(frame: &Frame, eta: &[f64], units: &Units, link: Link) -> Unfolded {
    let PerUnit { rooted, stuck, row, .. } = &frame.per_unit;
    let one = |((y, m), row): ((&f64, &f64), &usize)| {
        let point = link.at(eta.get(*row).copied().unwrap_or(0.0));
        let prior = frame.data.weights.get(*row).copied().unwrap_or(1.0);
        let off = y * point.rest - (m - y) * point.mean;
        (prior * m * point.weight(), off / (m * point.slope()))
    };
    let (mut weights, residuals): (Vec<f64>, Vec<f64>) = rooted.iter().zip(stuck).zip(row).map(one).unzip();
    let largest = weights.iter().fold(0.0_f64, |a, b| a.max(*b));
    weights.iter_mut().for_each(|w| *w = w.max(LEAST_WEIGHT * largest));
    let clusters = match whole_plots(frame, units) {
        Some(whole) => {
            frame.members().iter().filter_map(|unit| whole.codes.get(*unit)).map(|code| *code as usize).collect()
        }
        None => (0..row.len()).collect(),
    };
    Unfolded { weights, residuals, clusters }
}

/// Columns of a design, one entry per unit.
fn unit_columns(frame: &Frame, design: &Design) -> Vec<Vec<f64>> {
    let spread = |column: &Vec<f64>| frame.per_unit.row.iter().filter_map(|row| column.get(*row).copied()).collect();
    design.x().iter().map(spread).collect()
}

/// The covariance of the coefficients of a fitted design.
fn covariance(frame: &Frame, design: &Design, solution: &Solution, units: &Units, link: Link) -> ClusterRobust {
    let Unfolded { weights, residuals, clusters } = unfolded(frame, &solution.eta, units, link);
    let x = unit_columns(frame, design);
    ClusterRobust::new(&ClusteredFit { x: &x, weights: &weights, residuals: &residuals, clusters: &clusters })
}

fn unit(p: usize, j: usize) -> Vec<f64> {
    (0..p).map(|k| f64::from(u8::from(k == j))).collect()
}

/// Gives a fitted model this covariance, and withholds the error of effects that single clusters determine.
pub(crate) fn apply(model: &mut Model, frame: &Frame, design: &Design, solution: &Solution) {
    let robust = covariance(frame, design, solution, &model.units, model.spec.link);
    (model.coefficients, model.covariance) = user_scale(frame, design, solution, robust.covariance());
    let p = design.rank();
    let (mut unknown, mut fewest) = (Vec::new(), f64::INFINITY);
    for (index, term) in frame.terms.iter().enumerate().filter(|(_, term)| term.asked) {
        let columns = design.of_term(index);
        let dofs: Option<Vec<f64>> = columns.iter().map(|j| robust.dof(&unit(p, *j))).collect();
        match dofs {
            Some(dofs) => fewest = dofs.into_iter().fold(fewest, f64::min),
            None => unknown.push(term.name.clone()),
        }
    }
    let whole = whole_plots(frame, &model.units).map(|whole| whole.name.clone());
    let dof = Some(if fewest.is_finite() { fewest } else { 1.0 });
    let name = whole.unwrap_or_else(|| "tray".to_owned());
    let withheld = (!unknown.is_empty()).then_some(WholePlots { name, effects: unknown, error: None });
    model.strata = Strata { tray: Stratum { dispersion: 1.0, dof }, whole_plots: withheld, ..model.strata.clone() };
    model.strata.raw_dispersion = None;
    model.trays = TrayMode::Robust;
}

/// The covariance of a model's fit, rebuilt.
pub(crate) fn rebuilt(model: &Model, frame: &Frame, design: &Design, solution: &Solution) -> Option<ClusterRobust> {
    is_robust(model).then(|| covariance(frame, design, solution, &model.units, model.spec.link))
}

impl Ready {
    /// The error of a combination of the coefficients: that of the stratum, with degrees of freedom of its own where the covariance is
    /// robust; none where they cannot be known.
    pub(crate) fn error_of(&self, combination: &[f64], stratum: Stratum) -> Option<Stratum> {
        match &self.robust {
            None => Some(stratum),
            Some(robust) => robust.dof(combination).map(|dof| Stratum { dispersion: 1.0, dof: Some(dof) }),
        }
    }
}

/// Tests that the columns `held` of a design add nothing; none where single clusters determine one of them.
///
/// # Errors
/// When the fit does not settle.
pub(crate) fn test_columns(model: &Model, frame: &Frame, design: &Design, held: &[usize]) -> Result<Option<JointTest>> {
    let fit = Fit { design, data: &frame.data, link: model.spec.link, penalised: model.penalised };
    let solution = fit.free()?;
    let robust = covariance(frame, design, &solution, &model.units, model.spec.link);
    let contrasts: Vec<Vec<f64>> = held.iter().map(|j| unit(design.rank(), *j)).collect();
    let estimates: Vec<f64> = held.iter().filter_map(|j| solution.coef.get(*j).copied()).collect();
    Ok(robust.joint_test(&contrasts, &estimates))
}

/// Tests what a fitted model adds to some columns (one entry per unit), which are combinations of its own.
pub(crate) fn test_beyond(model: &Model, ready: &Ready, kept: &[Vec<f64>]) -> Option<JointTest> {
    let Unfolded { weights, residuals, clusters } =
        unfolded(&ready.frame, &ready.solution.eta, &model.units, model.spec.link);
    let all = [kept, unit_columns(&ready.frame, &ready.design).as_slice()].concat();
    let places = Qr::new(&all, 1e-7).kept;
    let x: Vec<Vec<f64>> = places.iter().filter_map(|place| all.get(*place).cloned()).collect();
    let eta: Vec<f64> = ready
        .frame
        .per_unit
        .row
        .iter()
        .map(|row| ready.solution.eta.get(*row).copied().unwrap_or(0.0) - ready.offset_of(*row))
        .collect();
    let basis = Qr::new(&x, 0.0);
    let coef = basis.solve_upper(&basis.project(&eta));
    let fit = ClusteredFit { x: &x, weights: &weights, residuals: &residuals, clusters: &clusters };
    let held: Vec<usize> = (kept.len()..x.len()).collect();
    let contrasts: Vec<Vec<f64>> = held.iter().map(|j| unit(x.len(), *j)).collect();
    let estimates: Vec<f64> = held.iter().filter_map(|j| coef.get(*j).copied()).collect();
    ClusterRobust::new(&fit).joint_test(&contrasts, &estimates)
}

/// "tray" or the column of the whole plots, and how many there are.
fn clusters(model: &Model) -> (String, usize) {
    let used = model.units.whole_plot.as_ref().filter(|whole| !model.spec.effects.contains(&whole.name));
    match used {
        Some(whole) => (whole.name.clone(), whole.codes.iter().collect::<BTreeSet<_>>().len()),
        None => ("tray".to_owned(), model.n_units as usize),
    }
}

/// What the covariance rests on, and what it cannot tell.
pub(crate) fn notes(model: &Model) -> Vec<Note> {
    if !is_robust(model) {
        return Vec::new();
    }
    let (name, count) = clusters(model);
    let dof = model.strata.tray.dof.unwrap_or(1.0);
    let mut text = format!(
        "Standard errors allow for any correlation inside one {name} ({count} clusters). The least known effect has {}.",
        degrees_of_freedom((10.0 * dof).round() / 10.0)
    );
    if dof < 4.0 {
        text.push_str(" Below 4 such tests are rough: prefer the default, trays=\"quasi\".");
    }
    let mut notes = vec![Note::new("robust_errors", text)];
    if let Some(withheld) = &model.strata.whole_plots {
        let text = format!(
            "{} rests on single levels of {name}, so no test or interval is given for it; repeat it in more of them.",
            withheld.effects.join(", ")
        );
        notes.push(Note::new("single_clusters", text));
    }
    notes
}

/// The sentence of the methods paragraph.
pub(crate) fn methods(model: &Model) -> String {
    let (name, count) = clusters(model);
    format!(
        " Covariances are robust to correlation inside one {name} ({count} clusters), with the bias-reduced correction of Bell and \
         McCaffrey (2002) under the binomial working model; t quantiles and F tests use Satterthwaite's degrees of freedom and the \
         approximate Hotelling distribution (Pustejovsky and Tipton 2018)."
    )
}
