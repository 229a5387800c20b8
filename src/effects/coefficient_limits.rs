//! Limits and a test of single coefficients: by the score where effect tests go by scores, by the profile otherwise.

use crate::effects::averaging::{Blend, RateOf, quantile};
use crate::effects::contrasts::{Judge, Profile, Scale, by_score, unsettled};
use crate::error::Result;
use crate::models::{Link, Model, ProfileLimits, Ready, tail};

/// What limits of a model's coefficients come from.
pub(super) struct Limits<'a> {
    model: &'a Model,
    ready: &'a Ready,
    judge: Option<Judge<'a>>,
}

impl<'a> Limits<'a> {
    /// The score is that of a change of log odds, so it serves the logit alone; other links are profiled.
    ///
    /// # Errors
    /// When the fit does not settle.
    pub(super) fn new(model: &'a Model, ready: &'a Ready) -> Result<Self> {
        let scores = by_score(model) && model.spec.link == Link::Logit;
        let judge = if scores { Some(Judge::new(model, ready, RateOf::Population)?) } else { None };
        Ok(Self { model, ready, judge })
    }

    /// Limits of the coefficient in column `j`; none when it is confounded with whole plots.
    ///
    /// # Errors
    /// When a constrained fit does not settle.
    pub(super) fn of(&self, j: usize, name: &str, level: f64) -> Result<Option<ProfileLimits>> {
        match &self.judge {
            Some(judge) => self.scored(judge, j, level),
            None => self.model.profile_of(self.ready, name, level),
        }
    }

    /// As those of a contrast: a coefficient is the change of log odds between two rows that differ by it.
    fn scored(&self, judge: &Judge<'_>, j: usize, level: f64) -> Result<Option<ProfileLimits>> {
        let effect = self.model.coefficients.get(j).and_then(|coefficient| coefficient.effect.as_deref());
        let error = effect.map_or(Some(self.model.strata.tray), |effect| self.model.strata.of(effect));
        let Some(error) = error else { return Ok(None) };
        let direction = self.ready.design.to_user(&self.ready.frame).into_iter().nth(j).unwrap_or_default();
        let half = |sign: f64| Blend(vec![(1.0, direction.iter().map(|x| 0.5 * sign * x).collect())]);
        let (high, low) = (half(1.0), half(-1.0));
        let goal = judge.goal(vec![(1.0, &high), (-1.0, &low)], Scale::Odds);
        let profile = Profile::new(judge, goal, error.dispersion).ok_or_else(unsettled)?;
        let error = profile.error(error);
        let critical = quantile(error, level);
        let statistic = profile.root().powi(2);
        Ok(Some(ProfileLimits {
            low: profile.limit(critical, -1.0),
            high: profile.limit(critical, 1.0),
            statistic,
            dof: error.dof,
            p_value: tail(statistic, 1.0, error.dof),
        }))
    }
}
