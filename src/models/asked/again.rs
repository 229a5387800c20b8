//! What is asked of a fitted law: the fit anew, limits of combinations, falls without some columns.

use crate::error::Result;
use crate::math::distributions::{chi_squared, fisher_f};
use crate::math::search::Along;
use crate::models::design::{Design, Fit};
use crate::models::enter::Frame;
use crate::models::fit::solved;
use crate::models::kept::{Model, ProfileLimits, Ready, Solved, tail};
use crate::models::laws::tray_law::Trays;

fn trays_of<'a>(model: &'a Model, frame: &'a Frame) -> Result<Trays<'a>> {
    Trays::again((&model.units, &model.spec), (model.penalised, &model.strata), frame)
}

/// The fit of a law anew.
pub(super) fn solved_again(model: &Model, frame: Frame) -> Result<Solved> {
    let design = Design::full(&frame);
    let law = trays_of(model, &frame)?.law(&design.x())?;
    let fit = Fit { design: &design, data: &frame.data, link: model.spec.link, penalised: model.penalised };
    let solution = fit.free()?;
    Ok(solved(frame, design, solution, law))
}

/// Limits and test of a combination of the design's coefficients.
pub(super) fn profile(
    model: &Model,
    ready: &Ready,
    direction: &[f64],
    level: f64,
    df: Option<f64>,
) -> Result<ProfileLimits> {
    let cutoff = df.map_or_else(|| chi_squared::quantile(level, 1.0), |df| fisher_f::quantile(level, 1.0, df));
    let Along { low, high, fall } = match &ready.law {
        Some(law) => law.along(direction, cutoff, &ready.frame.control)?,
        None => {
            trays_of(model, &ready.frame)?.law(&ready.design.x())?.along(direction, cutoff, &ready.frame.control)?
        }
    };
    Ok(ProfileLimits { low, high, statistic: fall, df, p: tail(fall, 1.0, df) })
}

/// Twice the fall of the log-likelihood when the columns `held` leave the design.
pub(crate) fn fall_without(model: &Model, frame: &Frame, design: &Design, held: &[usize]) -> Result<f64> {
    let (trays, x) = (trays_of(model, frame)?, design.x());
    if model.penalised || design.rank() as u64 != model.convergence.rank {
        return trays.law(&x)?.fall_without(held, &frame.control);
    }
    // The columns span those of the model, whose log-likelihood is known.
    let kept: Vec<Vec<f64>> =
        x.into_iter().enumerate().filter(|(j, _)| !held.contains(j)).map(|(_, column)| column).collect();
    let (reached, _) = trays.law(&kept)?.logliks();
    Ok((2.0 * (model.loglik - reached)).max(0.0))
}
