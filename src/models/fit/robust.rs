//! Models whose errors allow for any correlation inside clusters: trays, or whole plots where they are recorded.

use std::collections::BTreeSet;

use crate::answer::Note;
use crate::error::{ModelError, Result};
use crate::math::dense::Qr;
use crate::math::design::Entries;
use crate::math::regression::{ClusterRobust, ClusteredFit, ClusteredRows, JointTest, Solution};
use crate::models::design::{Design, Fit, user_scale};
use crate::models::enter::{Frame, ModelSpec, PerUnit, TrayMode};
use crate::models::errors::{Strata, Stratum, WholePlots};
use crate::models::kept::{Model, Ready, is_robust};
use crate::models::laws::tray_law::Layer;
use crate::report::{agree, degrees_of_freedom, join};
use crate::trial::{UnitKind, Units};

/// Weights below this share of the largest are held there: rates at the very edge say nothing of the spread.
const LEAST_WEIGHT: f64 = 1e-8;

/// Whose correlation is allowed for.
struct Clusters {
    name: String,
    /// The cluster of each unit that enters.
    codes: Vec<usize>,
}

impl Clusters {
    /// The levels of the column asked for; else the whole plots, when they are recorded and no effect of the model; else the trays.
    fn of(frame: &Frame, units: &Units, spec: &ModelSpec) -> Result<Self> {
        let plots = units.whole_plot.as_ref().filter(|whole| frame.variables.iter().all(|one| one.name != whole.name));
        let name = match (&spec.robust_by, plots) {
            (Some(name), _) => name,
            (None, Some(plots)) => &plots.name,
            (None, None) => {
                return Ok(Self { name: "tray".to_owned(), codes: (0..frame.per_unit.row.len()).collect() });
            }
        };
        let layer = Layer::of(frame, units, name)?;
        Ok(Self { name: name.clone(), codes: layer.codes })
    }
}

/// Clusters can be named where there are trays, none of them is an effect, there are two or more, and whole plots lie in one each.
pub(crate) fn check(units: &Units, spec: &ModelSpec, frame: &Frame) -> Result<()> {
    let Some(name) = &spec.robust_by else { return Ok(()) };
    let column = name.clone();
    if units.kind == UnitKind::Pooled {
        return Err(ModelError::RobustWithoutTrays.into());
    }
    let layer = Layer::of(frame, units, name)?;
    if spec.effects.contains(name) {
        return Err(ModelError::RobustIsEffect { column }.into());
    }
    if layer.levels < 2 {
        let level = layer.labels().into_iter().next().unwrap_or_default();
        return Err(ModelError::RobustOneLevel { column, level }.into());
    }
    let Some(plots) = units.whole_plot.as_ref().filter(|plots| plots.name != *name) else { return Ok(()) };
    let mut homes: Vec<Option<usize>> = vec![None; plots.levels.len()];
    for (unit, cluster) in frame.members().iter().zip(&layer.codes) {
        let home = plots.codes.get(*unit).and_then(|code| homes.get_mut(*code as usize));
        if home.is_some_and(|home| *home.get_or_insert(*cluster) != *cluster) {
            let level = plots.label(*unit).unwrap_or_default().to_owned();
            return Err(ModelError::RobustCrossed { column, plots: plots.name.clone(), level }.into());
        }
    }
    Ok(())
}

/// Columns of a design and the clustered fit they belong to, one entry per unit.
struct Unfolded {
    weights: Vec<f64>,
    residuals: Vec<f64>,
    clusters: Vec<usize>,
}

/// The working model is the binomial one at the linear predictors: weights `m p'^2 / (p (1 - p))`, residuals `(y - m p) / (m p')`.
fn unfolded(frame: &Frame, eta: &[f64], units: &Units, spec: &ModelSpec) -> Result<Unfolded> {
    let PerUnit { rooted, stuck, row, .. } = &frame.per_unit;
    let one = |((y, m), row): ((&f64, &f64), &usize)| {
        let point = spec.link.at(eta.get(*row).copied().unwrap_or(0.0));
        let prior = frame.data.weights.get(*row).copied().unwrap_or(1.0);
        let off = y * point.rest - (m - y) * point.mean;
        (prior * m * point.weight(), off / (m * point.slope()))
    };
    let (mut weights, residuals): (Vec<f64>, Vec<f64>) = rooted.iter().zip(stuck).zip(row).map(one).unzip();
    let largest = weights.iter().fold(0.0_f64, |a, b| a.max(*b));
    weights.iter_mut().for_each(|w| *w = w.max(LEAST_WEIGHT * largest));
    let clusters = Clusters::of(frame, units, spec)?.codes;
    Ok(Unfolded { weights, residuals, clusters })
}

/// Columns of a design, one entry per unit.
fn unit_columns(frame: &Frame, design: &Design) -> Vec<Vec<f64>> {
    let spread = |column: &Vec<f64>| frame.per_unit.row.iter().filter_map(|row| column.get(*row).copied()).collect();
    design.x().iter().map(spread).collect()
}

/// The covariance of the coefficients of a fitted design.
fn covariance(model: &Model, frame: &Frame, design: &Design, solution: &Solution) -> Result<ClusterRobust> {
    let Unfolded { weights, residuals, clusters } = unfolded(frame, &solution.eta, &model.units, &model.spec)?;
    let mut rows = vec![Entries::new(); design.matrix.rows()];
    rows.iter_mut().enumerate().for_each(|(row, entries)| design.matrix.entries(row, entries));
    let x: Vec<Entries> = frame.per_unit.row.iter().filter_map(|row| rows.get(*row).cloned()).collect();
    let fit =
        ClusteredRows { width: design.rank(), x: &x, weights: &weights, residuals: &residuals, clusters: &clusters };
    Ok(ClusterRobust::of_rows(&fit))
}

fn unit(p: usize, j: usize) -> Vec<f64> {
    (0..p).map(|k| f64::from(u8::from(k == j))).collect()
}

/// Gives a fitted model this covariance, and withholds the error of effects that single clusters determine.
///
/// # Errors
/// A column of clusters that cannot be one.
pub(crate) fn apply(model: &mut Model, frame: &Frame, design: &Design, solution: &Solution) -> Result<()> {
    let robust = covariance(model, frame, design, solution)?;
    (model.coefficients, model.covariance) = user_scale(frame, design, solution, robust.covariance());
    let p = design.rank();
    let (mut unknown, mut fewest) = (Vec::new(), f64::INFINITY);
    for (index, term) in frame.terms.iter().enumerate().filter(|(_, term)| term.asked) {
        let columns = design.of_term(index);
        let dofs: Option<Vec<f64>> = columns.iter().map(|j| robust.df(&unit(p, *j))).collect();
        match dofs {
            Some(dofs) => fewest = dofs.into_iter().fold(fewest, f64::min),
            None => unknown.push(term.name.clone()),
        }
    }
    let name = Clusters::of(frame, &model.units, &model.spec)?.name;
    let df = Some(if fewest.is_finite() { fewest } else { 1.0 });
    let withheld = (!unknown.is_empty()).then_some(WholePlots { name, effects: unknown, error: None });
    model.strata = Strata { tray: Stratum { dispersion: 1.0, df }, whole_plots: withheld, ..model.strata.clone() };
    model.strata.raw_dispersion = None;
    model.trays = TrayMode::Robust;
    Ok(())
}

/// The covariance of a model's fit, rebuilt.
///
/// # Errors
/// A column of clusters that is not recorded.
pub(crate) fn rebuilt(
    model: &Model,
    frame: &Frame,
    design: &Design,
    solution: &Solution,
) -> Result<Option<ClusterRobust>> {
    is_robust(model).then(|| covariance(model, frame, design, solution)).transpose()
}

/// Tests that the columns `held` of a design add nothing; none where single clusters determine one of them.
///
/// # Errors
/// When the fit does not settle.
pub(crate) fn test_columns(model: &Model, frame: &Frame, design: &Design, held: &[usize]) -> Result<Option<JointTest>> {
    let fit = Fit { design, data: &frame.data, link: model.spec.link, penalised: model.penalised };
    let solution = fit.free()?;
    let robust = covariance(model, frame, design, &solution)?;
    let contrasts: Vec<Vec<f64>> = held.iter().map(|j| unit(design.rank(), *j)).collect();
    let estimates: Vec<f64> = held.iter().filter_map(|j| solution.coef.get(*j).copied()).collect();
    Ok(robust.joint_test(&contrasts, &estimates))
}

/// Tests what a fitted model adds to some columns (one entry per unit), which are combinations of its own.
pub(crate) fn test_beyond(model: &Model, ready: &Ready, kept: &[Vec<f64>]) -> Option<JointTest> {
    let Unfolded { weights, residuals, clusters } =
        unfolded(&ready.frame, &ready.solution.eta, &model.units, &model.spec).ok()?;
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

/// "tray" or the column of the clusters, and how many there are.
fn clusters(model: &Model) -> (String, usize) {
    let plots = model.units.whole_plot.as_ref().filter(|whole| !model.spec.effects.contains(&whole.name));
    let name = model.spec.robust_by.as_ref().or(plots.map(|plots| &plots.name));
    let Some(name) = name else { return ("tray".to_owned(), model.n_units as usize) };
    let count = match (model.units.factor(name), model.units.covariates.iter().find(|one| one.name == *name)) {
        (Some(factor), _) => factor.codes.iter().collect::<BTreeSet<_>>().len(),
        (None, Some(values)) => values.values.iter().map(|x| (x + 0.0).to_bits()).collect::<BTreeSet<_>>().len(),
        (None, None) => 0,
    };
    (name.clone(), count)
}

/// What the covariance rests on, and what it cannot tell.
pub(crate) fn notes(model: &Model) -> Vec<Note> {
    if !is_robust(model) {
        return Vec::new();
    }
    let (name, count) = clusters(model);
    let df = model.strata.tray.df.unwrap_or(1.0);
    let mut text = format!(
        "Standard errors allow for any correlation inside one {name} ({count} clusters). The least known effect has {}.",
        degrees_of_freedom((10.0 * df).round() / 10.0)
    );
    if df < 4.0 {
        text.push_str(" Below 4 such tests are rough: prefer the default, trays=\"auto\".");
    }
    let mut notes = vec![Note::new("robust_errors", text)];
    if let Some(withheld) = &model.strata.whole_plots {
        let effects = join(&withheld.effects);
        let (rests, it) = (agree(&effects, "rests", "rest"), agree(&effects, "it", "them"));
        let text = format!(
            "{effects} {rests} on single levels of {name}, so no test or interval is given for {it}; repeat {it} in more of them."
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
