//! By what a model judges: scores or likelihoods, and against which error.

use crate::models::{Model, Stratum, TrayMode};
use crate::report::references;

/// True when the model judges by scores: effective counts, unless a penalised likelihood was asked for. Effect tests and contrasts
/// ask here, so that they agree.
pub(super) fn by_score(model: &Model) -> bool {
    model.trays == TrayMode::Effective && !model.spec.penalised
}

/// The work after which comparisons are judged so.
pub(super) fn judged_after(model: &Model) -> &'static str {
    if by_score(model) { references::MIETTINEN_NURMINEN_1985 } else { references::VENZON_MOOLGAVKAR_1988 }
}

/// Whole plots, where they can be seen, set the error of every rate; where they cannot, only of those they carry.
pub(super) fn rate_error(model: &Model, by: &str, within: Option<&str>) -> Option<Stratum> {
    let strata = &model.strata;
    if strata.withheld(by).or_else(|| within.and_then(|name| strata.withheld(name))).is_some() {
        return None;
    }
    if strata.above.is_some() {
        return Some(strata.tray);
    }
    let error = strata.whole_plots.as_ref().and_then(|whole| whole.error);
    let carried = strata.on_whole_plots(by) || within.is_some_and(|name| strata.on_whole_plots(name));
    let withheld = carried && error.is_none();
    if let Some(fewest) = strata.of_rates().filter(|_| !withheld) {
        Some(fewest)
    } else if error.is_some() {
        error
    } else if carried {
        None
    } else {
        Some(strata.tray)
    }
}

/// The error of a comparison between levels of `by`, those of other factors held or averaged; none when it cannot be told apart
/// from whole plots. Comparisons within whole plots are measured between trays where every whole plot holds the levels of `by`
/// in one proportion, else between whole plots.
pub(super) fn comparison_error(model: &Model, by: &str) -> Option<Stratum> {
    if model.strata.withheld(by).is_some() {
        return None;
    }
    if model.strata.above.is_some() {
        // Each comparison has an error of its own, from the layers it draws on.
        return if by_score(model) { Some(model.strata.tray) } else { model.strata.of(by) };
    }
    let Some(whole) = model.strata.whole_plots.as_ref() else { return model.strata.of(by) };
    if model.strata.on_whole_plots(by) {
        return model.strata.of(by);
    }
    match whole.error {
        Some(error) if error.df.is_some() && !in_proportion(model, by) => Some(error),
        _ => model.strata.of(by),
    }
}

/// True when every whole plot holds the levels of a factor in the same proportions of cuttings.
fn in_proportion(model: &Model, by: &str) -> bool {
    let units = &model.units;
    let (Some(plots), Some(factor)) = (units.whole_plot.as_ref(), units.factor(by)) else { return true };
    let mut counts = vec![vec![0_u64; factor.levels.len()]; plots.levels.len()];
    for ((plot, level), stuck) in plots.codes.iter().zip(&factor.codes).zip(&units.stuck) {
        if let Some(place) = counts.get_mut(*plot as usize).and_then(|row| row.get_mut(*level as usize)) {
            *place += stuck;
        }
    }
    let share = |row: &Vec<u64>| -> Vec<f64> {
        let total = row.iter().sum::<u64>().max(1) as f64;
        row.iter().map(|count| *count as f64 / total).collect()
    };
    let mut shares = counts.iter().filter(|row| row.iter().any(|count| *count > 0)).map(share);
    let Some(first) = shares.next() else { return true };
    shares.all(|row| row.iter().zip(&first).all(|(a, b)| (a - b).abs() < 0.05))
}
