//! Limits and a test of single coefficients: by the score where effect tests go by scores, by the profile otherwise.

use rayon::prelude::*;

use crate::effects::average::RateOf;
use crate::effects::averaging::{Blend, quantile};
use crate::effects::contrasts::{Judge, Profile, Scale, unsettled};
use crate::effects::judged_by::by_score;
use crate::error::Result;
use crate::math::design::entries_of;
use crate::models::{Link, Model, ProfileLimits, Ready, tail};

/// What limits of a model's coefficients come from.
pub(super) struct Limits<'a> {
    model: &'a Model,
    ready: &'a Ready,
    judge: Option<Judge<'a>>,
    /// Each coefficient of the user's scale as a combination of those of the fit.
    directions: Vec<Vec<f64>>,
}

impl<'a> Limits<'a> {
    /// The score is that of a change of log odds, so it serves the logit alone; other links are profiled.
    ///
    /// # Errors
    /// When the fit does not settle.
    pub(super) fn new(model: &'a Model, ready: &'a Ready) -> Result<Self> {
        let scores = by_score(model) && model.spec.link == Link::Logit;
        let judge = if scores { Some(Judge::new(model, ready, RateOf::AllTrays)?) } else { None };
        let directions = ready.design.to_user(&ready.frame);
        Ok(Self { model, ready, judge, directions })
    }

    /// Those of all coefficients in their order, worked out side by side.
    ///
    /// # Errors
    /// As [`Limits::of`].
    pub(super) fn of_all(&self, level: f64) -> Result<Vec<Option<ProfileLimits>>> {
        (0..self.directions.len()).into_par_iter().map(|j| self.of(j, level)).collect()
    }

    /// Limits of the coefficient in column `j`; none when it is confounded with whole plots.
    ///
    /// # Errors
    /// When a constrained fit does not settle.
    fn of(&self, j: usize, level: f64) -> Result<Option<ProfileLimits>> {
        self.ready.answered.limits(j, level, || match &self.judge {
            Some(judge) => self.scored(judge, j, level),
            None => self.model.profile_along(self.ready, (j, self.direction(j)), level),
        })
    }

    /// A coefficient of the user's scale as a combination of those of the fit.
    pub(super) fn direction(&self, j: usize) -> &[f64] {
        self.directions.get(j).map_or(&[], Vec::as_slice)
    }

    /// As those of a contrast: a coefficient is the change of log odds between two rows that differ by it.
    fn scored(&self, judge: &Judge<'_>, j: usize, level: f64) -> Result<Option<ProfileLimits>> {
        let effect = self.model.coefficients.get(j).and_then(|coefficient| coefficient.effect.as_deref());
        let error = effect.map_or(Some(self.model.strata.tray), |effect| self.model.strata.of(effect));
        let Some(error) = error else { return Ok(None) };
        // In units of the fit: per day or per million days alike.
        let unit = self.direction(j).iter().fold(0.0_f64, |most, x| most.max(x.abs()));
        let direction = entries_of(self.direction(j));
        let part = |(at, x): &(usize, f64), sign: f64| (*at, 0.5 * sign * x / unit);
        let half = |sign: f64| Blend(vec![(1.0, direction.iter().map(|entry| part(entry, sign)).collect())]);
        let (high, low) = (half(1.0), half(-1.0));
        let goal = judge.goal(vec![(1.0, &high), (-1.0, &low)], Scale::Odds);
        let profile = Profile::new(judge, goal, error.dispersion).ok_or_else(unsettled)?;
        let error = profile.error(error);
        let critical = quantile(error, level);
        let statistic = profile.root().powi(2);
        Ok(Some(ProfileLimits {
            low: unit * profile.limit(critical, -1.0),
            high: unit * profile.limit(critical, 1.0),
            statistic,
            df: error.df,
            p: tail(statistic, 1.0, error.df),
        }))
    }
}
