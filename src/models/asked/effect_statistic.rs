//! Likelihood-ratio, score and Wald statistics of an effect.

use super::again::fall_without;
use crate::error::{ChoiceError, ModelError, Result};
use crate::math::dense::{Cholesky, dot};
use crate::models::design::{Design, Fit, score as small_sample_score, singular};
use crate::models::enter::{Frame, TrayMode};
use crate::models::kept::{EffectStatistic, Model, Ready, StatisticKind, is_used};

impl Model {
    /// The statistic of an effect or interaction, against the model of all effects that do not contain it.
    ///
    /// With a penalty its score joins that of the likelihood; the information stays the ordinary one. Wald statistics mislead
    /// near 0 and 100 % (Hauck and Donner 1977).
    ///
    /// # Errors
    /// For an effect that is not in the model, with its nearest; for score and Wald where a law of the trays is fitted; when a
    /// fit does not settle.
    ///
    /// # References
    /// Rao (1948), Proc. Cambridge Philosophical Society 44:50-57; Wald (1943), Trans. American Mathematical Society 54:426-482;
    /// Hauck and Donner (1977), J. American Statistical Association 72:851-853.
    ///
    /// ```
    /// use rootling::models::{Model, ModelSpec, StatisticKind};
    /// # use rootling::trial::{Factor, UnitKind, Units};
    /// # let strength = Factor {
    /// #     name: "strength".into(), levels: vec!["0".into(), "2500".into()], numbers: None, codes: vec![0, 1],
    /// # };
    /// # let units = Units {
    /// #     kind: UnitKind::Pooled, rooted: vec![12, 26], stuck: vec![40; 2], treatments: vec![strength],
    /// #     tray: None, block: None, whole_plot: None, season: None, earlier: None, stock_plant: None, covariates: vec![],
    /// # };
    /// let model = Model::fit(&units, &ModelSpec::of(&["strength"]))?;
    /// let score = model.effect_statistic("strength", StatisticKind::Score)?;
    /// // Pearson's chi-square of the 2 x 2 table: 80 (12 x 14 - 26 x 28)^2 / (40 x 40 x 38 x 42)
    /// approx::assert_abs_diff_eq!(score.statistic, 80.0 * 560.0_f64.powi(2) / (1600.0 * 38.0 * 42.0), epsilon = 1e-10);
    /// # Ok::<(), rootling::Error>(())
    /// ```
    pub fn effect_statistic(&self, effect: &str, kind: StatisticKind) -> Result<EffectStatistic> {
        let ready = self.ready()?;
        let frame = &ready.frame;
        let names: Vec<&str> = frame.terms.iter().map(|term| term.name.as_str()).collect();
        let term = names.iter().position(|name| *name == effect);
        let term = term.ok_or_else(|| ChoiceError::new("effect of the model", effect, &names))?;
        let (statistic, df) = change(self, frame, (term, Some(&ready)), kind)?;
        Ok(EffectStatistic { kind, statistic, df: df as u64 })
    }
}

/// The statistic of one term of a frame and its degrees of freedom; `known` is the model's fit where the frame is its own.
///
/// # Errors
/// As [`Model::effect_statistic`].
pub(crate) fn change(
    model: &Model,
    frame: &Frame,
    (term, known): (usize, Option<&Ready>),
    kind: StatisticKind,
) -> Result<(f64, usize)> {
    let mut order = frame.not_containing(term);
    order.push(term);
    let design = Design::new(frame, &order, &frame.data);
    let held = design.of_term(term);
    if held.is_empty() {
        return Ok((0.0, 0));
    }
    if is_used(model) {
        return match kind {
            StatisticKind::LikelihoodRatio => Ok((fall_without(model, frame, &design, &held)?, held.len())),
            _ => {
                let trays = if model.trays == TrayMode::Random { "random" } else { "beta-binomial" };
                Err(ModelError::StatisticUnderLaw { trays: trays.to_owned() }.into())
            }
        };
    }
    let fit = Fit { design: &design, data: &frame.data, link: model.spec.link, penalised: model.penalised };
    let statistic = match kind {
        StatisticKind::LikelihoodRatio => {
            // Columns that span those of the model reach its likelihood; a penalty depends on how they are written.
            let same = |ready: &&Ready| !model.penalised && design.rank() == ready.design.rank();
            match known.filter(same) {
                Some(ready) => fit.ratio_from(ready.solution.objective, &held)?,
                None => fit.ratio(&held)?,
            }
        }
        StatisticKind::Score => score(&fit, &held)?,
        StatisticKind::SmallSampleScore => small_sample_score(&fit, &held)?,
        StatisticKind::Wald => wald(&fit, &held)?,
    };
    Ok((statistic, held.len()))
}

fn score(fit: &Fit<'_>, held: &[usize]) -> Result<f64> {
    let without = fit.without(held)?;
    let (score, information) = fit.regression().score_and_information(&without.coef)?.ok_or_else(singular)?;
    Ok(information.quadratic(&score))
}

fn wald(fit: &Fit<'_>, held: &[usize]) -> Result<f64> {
    let free = fit.free()?;
    let information = fit.information(&free.coef)?;
    let v = information.covariance();
    let part = |i: &usize| held.iter().filter_map(|j| v.get(*i)?.get(*j).copied()).collect::<Vec<f64>>();
    let inner: Vec<Vec<f64>> = held.iter().map(part).collect();
    let b: Vec<f64> = held.iter().filter_map(|j| free.coef.get(*j).copied()).collect();
    let half = Cholesky::new(&inner).ok_or_else(singular)?.forward(&b);
    Ok(dot(&half, &half))
}
