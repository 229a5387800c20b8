//! What a model judges its contrasts by: the likelihood, and whether by its fall or by its score.

use super::ball::Ball;
use super::constrained::{Reached, constrained};
use super::goal::{Goal, Scale};
use super::likelihood::Likelihood;
use super::unsettled;
use crate::effects::average::RateOf;
use crate::effects::averaging::{Averaged, Blend, Surface};
use crate::effects::judged_by::by_score;
use crate::error::Result;
use crate::math::dense::{Qr, dot};
use crate::math::design::along as along_row;
use crate::math::distributions::multivariate::correlation;
use crate::models::{Model, Ready, is_robust, is_used};

/// What the distance of a contrast from a value is measured by.
#[derive(Debug, Clone)]
pub(super) enum Measure {
    /// The fall of the log-likelihood from its maximum.
    Ratio { likelihood: Likelihood, best: Reached },
    /// The slope of the log-likelihood where the contrast is held; `eased` where a rate would run to its end.
    Score { plain: Likelihood, eased: Likelihood },
    /// The distance from the estimates by their covariance, where it is robust or no fit of a law of the trays is found.
    Distance { ball: Ball, likelihood: Option<Likelihood> },
}

/// Rates whose slopes are below this do not move with any coefficient.
const FLAT: f64 = 1e-120;
/// What is said where the trays of some levels leave no spread to judge by.
const ALL_ALIKE: &str = "the trays of these levels are alike to the last cutting, so nothing shows how trays differ";
/// What is said far outside what was tried.
const AT_THE_ENDS: &str =
    "so far outside what was tried the model's rates cannot be told from 0 or 100 %, so nothing can be tested there";

/// A fitted model as a judge of contrasts.
#[derive(Debug, Clone)]
pub(crate) struct Judge<'a> {
    ready: &'a Ready,
    pub(super) measure: Measure,
    /// The parameters at which rates are shown.
    pub(super) centre: Vec<f64>,
    surface: Surface,
    /// The same by the covariance of the estimates, where a law of the trays is profiled: what is shown is read off it, and it stands in
    /// where no fit is found with a contrast held.
    by_covariance: Option<Box<Judge<'a>>>,
}

impl<'a> Judge<'a> {
    /// # Errors
    /// When the fit does not settle.
    pub(crate) fn new(model: &Model, ready: &'a Ready, of: RateOf) -> Result<Self> {
        let surface = Surface::new(ready, model.spec.link, of);
        let centre: Vec<f64> = ready.solution.coef.iter().chain(&ready.deviations).copied().collect();
        if by_score(model) {
            let (plain, eased) = Likelihood::plain(model, ready);
            return Ok(Self { ready, measure: Measure::Score { plain, eased }, centre, surface, by_covariance: None });
        }
        if is_used(model) || is_robust(model) {
            let likelihood = Likelihood::around(&centre, &ready.covariance);
            let measure = Measure::Distance { ball: Ball::new(&centre, &ready.covariance), likelihood };
            let own = Self { ready, measure, centre, surface, by_covariance: None };
            return Ok(own.under_law());
        }
        let likelihood = Likelihood::of(model, ready);
        let best = constrained(&likelihood, (&[], &[]), &centre, false).ok_or_else(unsettled)?;
        // The level of penalised rates is balanced after the fit: a shift of the intercept that belongs to how rates are read.
        let shift = centre.first().zip(best.parameters.first()).map_or(0.0, |(shown, fitted)| shown - fitted);
        let surface = if model.penalised { surface.at_offset(ready.offset + shift) } else { surface };
        let centre = best.parameters.clone();
        Ok(Self { ready, measure: Measure::Ratio { likelihood, best }, centre, surface, by_covariance: None })
    }

    /// By the likelihood of the law of the trays, where there is one.
    fn under_law(self) -> Self {
        let Some(hill) = self.ready.law.as_ref().map(|law| law.hill()) else { return self };
        let surface = self.surface.with(hill.deviations(), hill.others());
        let (centre, value) = (hill.top(), hill.height());
        let (multipliers, along) = (Vec::new(), Vec::new());
        let best = Reached { parameters: centre.clone(), value, multipliers, along, finer: None };
        let measure = Measure::Ratio { likelihood: Likelihood::Law(Box::new(hill)), best };
        Self { ready: self.ready, measure, centre, surface, by_covariance: Some(Box::new(self)) }
    }

    /// The judge that stands in where this one finds no fit.
    pub(super) fn stand_in(&self) -> Option<&Judge<'a>> {
        self.by_covariance.as_deref()
    }

    /// A contrast as it is shown, its slopes those of the estimates that have a covariance.
    pub(super) fn shown(&self, goal: &Goal<'_>) -> Averaged {
        let judge = self.stand_in().unwrap_or(self);
        judge.own(goal).at(&judge.centre)
    }

    /// The same contrast in the parameters of this judge.
    pub(super) fn own<'b>(&self, goal: &Goal<'b>) -> Goal<'b> {
        Goal { surface: self.surface, ..goal.clone() }
    }

    /// The furthest value of a contrast within a distance of the estimates by their covariance; none where that is not what is measured.
    pub(super) fn furthest(&self, goal: &Goal<'_>, radius: f64, direction: f64) -> f64 {
        match &self.measure {
            Measure::Distance { ball, .. } => ball.extreme(&self.own(goal), radius, direction).value,
            _ => f64::NAN,
        }
    }

    /// Why a contrast cannot be tested; none where it can.
    pub(super) fn untestable(&self, goal: &Goal<'_>) -> Option<&'static str> {
        let steepest = goal.at(&self.centre).gradient.iter().fold(0.0_f64, |most, x| most.max(x.abs()));
        if steepest.is_nan() || steepest <= FLAT {
            return Some(AT_THE_ENDS);
        }
        match &self.measure {
            Measure::Distance { ball, .. } if !ball.spreads(goal) => Some(ALL_ALIKE),
            _ => None,
        }
    }

    /// True when contrasts are judged by scores.
    pub(super) fn scores(&self) -> bool {
        matches!(self.measure, Measure::Score { .. })
    }

    /// How exactly a root is met on the way to a limit, relative to the critical value.
    pub(super) fn exactness(&self) -> f64 {
        self.likelihoods().map(Likelihood::exactness).fold(0.0, f64::max)
    }

    pub(crate) fn ready(&self) -> &'a Ready {
        self.ready
    }

    /// An averaged rate as it is shown.
    pub(crate) fn rate(&self, blend: &Blend) -> Averaged {
        let judge = self.stand_in().unwrap_or(self);
        judge.surface.rate(blend, &judge.centre)
    }

    /// Weights on averaged rates.
    pub(crate) fn goal<'b>(&self, parts: Vec<(f64, &'b Blend)>, scale: Scale) -> Goal<'b> {
        Goal { surface: self.surface, parts, scale }
    }

    /// The likelihoods to try, in turn.
    fn likelihoods(&self) -> impl Iterator<Item = &Likelihood> {
        match &self.measure {
            Measure::Ratio { likelihood, .. } => [Some(likelihood), None],
            Measure::Score { plain, eased } => [Some(plain), Some(eased)],
            Measure::Distance { likelihood, .. } => [likelihood.as_ref(), None],
        }
        .into_iter()
        .flatten()
    }

    /// Correlations of contrasts where none of them differs from 0: they then depend on the layout alone, not on the scale, and
    /// those of true null contrasts are right whatever the others are.
    /// Under a law of the trays they are those of the covariance of the estimates, with the slopes where none differs from 0.
    pub(super) fn correlation(&self, goals: &[Goal<'_>]) -> Result<Vec<Vec<f64>>> {
        if let Some(judge) = self.stand_in() {
            return judge.correlation(&goals.iter().map(|goal| judge.own(goal)).collect::<Vec<_>>());
        }
        let at = |likelihood: &Likelihood, parameters: &[f64]| -> Option<Vec<Vec<f64>>> {
            let factor = likelihood.at(parameters)?.information.root()?;
            let slopes: Vec<Vec<f64>> = goals.iter().map(|goal| goal.at(parameters).gradient).collect();
            if let Some(layered) = self.ready.layered.as_ref().filter(|_| self.scores()) {
                let rows = likelihood.weighed(parameters);
                let along = |slope: &Vec<f64>| -> Vec<f64> {
                    let along = factor.solve(slope);
                    rows.iter().map(|(w, row)| w.sqrt() * along_row(&row.x, &along)).collect()
                };
                let scores: Vec<Vec<f64>> = slopes.iter().map(along).collect();
                return correlation(&layered.covariance(&scores)).ok().map(|(r, _)| r);
            }
            let halves: Vec<Vec<f64>> = slopes.iter().map(|slope| factor.forward(slope)).collect();
            let v: Vec<Vec<f64>> = halves.iter().map(|a| halves.iter().map(|b| dot(a, b)).collect()).collect();
            correlation(&v).ok().map(|(r, _)| r)
        };
        let slopes: Vec<Vec<f64>> = goals.iter().map(|goal| goal.at(&self.centre).gradient).collect();
        let free = Qr::new(&slopes, 1e-7).kept;
        let held: Vec<Goal<'_>> = free.iter().filter_map(|index| goals.get(*index)).cloned().collect();
        let wanted = vec![0.0; held.len()];
        let none = |likelihood: &Likelihood| {
            let null = constrained(likelihood, (&held, &wanted), &self.centre, false)?;
            at(likelihood, &null.parameters).filter(|_| !likelihood.runs_off(&null.parameters))
        };
        self.likelihoods()
            .find_map(none)
            .or_else(|| self.likelihoods().last().and_then(|likelihood| at(likelihood, &self.centre)))
            .or_else(|| self.at_estimates(&slopes))
            .ok_or_else(unsettled)
    }

    /// Correlations at the estimates, from a covariance that may be singular.
    fn at_estimates(&self, slopes: &[Vec<f64>]) -> Option<Vec<Vec<f64>>> {
        let covariance = &self.ready.covariance;
        let half: Vec<Vec<f64>> = slopes.iter().map(|a| covariance.iter().map(|row| dot(row, a)).collect()).collect();
        let v: Vec<Vec<f64>> = half.iter().map(|a| slopes.iter().map(|b| dot(a, b)).collect()).collect();
        correlation(&v).ok().map(|(r, _)| r)
    }
}
