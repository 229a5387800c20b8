//! Estimates, signed roots, adjusted P values and limits of a family.

use rayon::prelude::*;

use super::constrained::{Reached, constrained};
use super::family::{Family, Member};
use super::goal::{Goal, Scale};
use super::likelihood::Likelihood;
use super::options::{Adjust, ContrastOptions, Kind};
use super::profile::Profile;
use crate::control::Control;
use crate::effects::averaging::Surface;
use crate::effects::multiplicity::adjusted_p;
use crate::effects::simultaneous::{self, Direction, SingleStep, single_step};
use crate::error::{EffectError, ModelError, Result};
use crate::math::cholesky::Cholesky;
use crate::math::distributions::multivariate::{Precision, correlation};
use crate::math::distributions::{normal, student_t};
use crate::math::linalg::{Qr, dot};
use crate::models::{Model, Ready, Stratum};

/// How exact joint P values are made: 0.05 to 0.0002, small ones to 0.00005.
const PRECISION: Precision = Precision { absolute: 5e-5, relative: 4e-3, most_points: 1_000_000, seed: 1 };

/// Points of a family, over all pairs of its contrasts.
const MOST_POINTS: u64 = 40_000_000;

/// A contrast that can be estimated.
#[derive(Debug, Clone)]
pub(super) struct Row {
    /// Position among the members of the family.
    pub(super) member: usize,
    pub(super) value: f64,
    pub(super) std_error: Option<f64>,
    pub(super) limits: Option<(f64, f64)>,
    pub(super) statistic: Option<f64>,
    pub(super) p_value: Option<f64>,
    pub(super) adjusted_p: Option<f64>,
}

/// The family's figures.
#[derive(Debug, Clone)]
pub(super) struct Solved {
    pub(super) rows: Vec<Row>,
    /// Multiplier of the intervals.
    pub(super) critical: Option<f64>,
    /// False when the joint distribution missed the precision asked for.
    pub(super) reached: bool,
}

/// Everything the steps share.
pub(super) struct Work<'a> {
    pub(super) model: &'a Model,
    pub(super) ready: &'a Ready,
    pub(super) family: &'a Family,
    pub(super) options: &'a ContrastOptions,
    pub(super) adjust: Adjust,
    pub(super) error: Option<Stratum>,
    pub(super) control: &'a Control,
}

impl<'a> Work<'a> {
    /// Contrasts whose rates can be estimated and that are not constant.
    fn goals(&self) -> Vec<(usize, Goal<'a>)> {
        let surface = Surface::new(self.ready, self.model.spec.link, self.options.of);
        let goal = |(index, member): (usize, &Member)| {
            let part = |(weight, place): &(f64, usize)| Some((*weight, self.family.blends.get(*place)?.as_ref()?));
            let parts = member.weights.iter().map(part).collect::<Option<Vec<_>>>()?;
            Some((index, Goal { surface, parts, scale: self.options.scale }))
        };
        self.family.members.iter().enumerate().filter_map(goal).collect()
    }

    /// Figures of every contrast; limits only where wanted.
    ///
    /// # Errors
    /// [`EffectError::NotEstimable`]; [`ModelError::NotFitted`] when a constrained fit does not settle; a method that does not suit
    /// the family; [`crate::Error::Interrupted`].
    pub(super) fn solve(&self, limits: bool) -> Result<Solved> {
        let goals = self.goals();
        if goals.is_empty() {
            let reason = "each needs a combination of levels that was not tried".to_owned();
            return Err(EffectError::NotEstimable { reason }.into());
        }
        let (likelihood, start) = Likelihood::of(self.model, self.ready).ok_or_else(unsettled)?;
        let best = constrained(&likelihood, &[], &[], &start).ok_or_else(unsettled)?;
        let dispersion = self.error.map_or(1.0, |error| error.dispersion);
        let profiles: Vec<Profile<'_>> = goals
            .iter()
            .map(|(_, goal)| Profile::new(&likelihood, goal.clone(), &best, &self.ready.covariance, dispersion))
            .collect();
        let Some(error) = self.error else {
            return Ok(Solved { rows: self.bare(&goals, &profiles), critical: None, reached: true });
        };
        let roots: Vec<f64> = profiles
            .par_iter()
            .map(|profile| {
                self.control.step()?;
                profile.root(0.0).ok_or_else(unsettled)
            })
            .collect::<Result<_>>()?;
        let found = self.together(&likelihood, &best, &goals, &roots, error)?;
        let ends: Vec<Option<(f64, f64)>> = profiles
            .par_iter()
            .zip(&roots)
            .map(|(profile, root)| {
                self.control.step()?;
                Ok(limits.then(|| profile.limits(found.critical, *root)))
            })
            .collect::<Result<_>>()?;
        let mut rows = self.bare(&goals, &profiles);
        for (((row, root), ends), (single, adjusted)) in rows.iter_mut().zip(&roots).zip(ends).zip(&found.p) {
            let shown = |value: f64| self.options.scale.shown(value);
            row.limits = ends.map(|(low, high)| (shown(low), shown(high)));
            row.statistic = Some(*root);
            (row.p_value, row.adjusted_p) = (Some(*single), Some(*adjusted));
        }
        Ok(Solved { rows, critical: Some(found.critical), reached: found.reached })
    }

    /// Estimates without tests.
    fn bare(&self, goals: &[(usize, Goal<'_>)], profiles: &[Profile<'_>]) -> Vec<Row> {
        let points = self.options.scale == Scale::Points;
        let row = |((member, _), profile): (&(usize, Goal<'_>), &Profile<'_>)| Row {
            member: *member,
            value: self.options.scale.shown(profile.estimate),
            std_error: Some(profile.std_error).filter(|_| points && self.error.is_some()),
            limits: None,
            statistic: None,
            p_value: None,
            adjusted_p: None,
        };
        goals.iter().zip(profiles).map(row).collect()
    }

    /// Single and adjusted P values and the critical value.
    fn together(
        &self,
        likelihood: &Likelihood,
        best: &Reached,
        goals: &[(usize, Goal<'_>)],
        roots: &[f64],
        error: Stratum,
    ) -> Result<Together> {
        let dof = error.dof.unwrap_or(f64::INFINITY);
        let alone = |root: &f64| student_or_normal(*root, error.dof);
        let single: Vec<f64> = roots.iter().map(alone).collect();
        let method = match self.adjust {
            Adjust::List(adjustment) => {
                let adjusted = adjusted_p(&single, adjustment, self.control)?;
                let each = adjustment.interval_level(self.options.level, roots.len());
                let critical = student_or_normal_quantile(0.5 + 0.5 * each, error.dof);
                let p = single.into_iter().zip(adjusted).collect();
                return Ok(Together { p, critical, reached: true });
            }
            Adjust::Joint => SingleStep::Joint,
            Adjust::Scheffe => SingleStep::Scheffe,
            Adjust::Dunnett if self.family.against.is_some() && self.one_list() => SingleStep::Dunnett,
            Adjust::TukeyKramer
                if self.options.kind == Kind::Pairwise && self.family.against.is_none() && self.one_list() =>
            {
                SingleStep::TukeyKramer { groups: self.family.blends.len() }
            }
            Adjust::Dunnett => {
                return Err(unsuited("adjust=\"dunnett\"", "use it with against=, or use adjust=\"joint\""));
            }
            Adjust::TukeyKramer => {
                return Err(unsuited(
                    "adjust=\"tukey-kramer\"",
                    "use it for all pairs of one factor, or use adjust=\"joint\"",
                ));
            }
        };
        let r = self.correlation(likelihood, best, goals)?;
        let family = simultaneous::Family { estimates: roots, covariance: &r, dof, direction: Direction::Either };
        // Points per node and statistic: a large family costs with its square, and its small P values need few.
        let most_points = (MOST_POINTS / (roots.len() * roots.len()).max(1) as u64).clamp(4_000, PRECISION.most_points);
        let precision = Precision { seed: self.options.seed, most_points, ..PRECISION };
        let found = single_step(&family, method, self.options.level, &precision, self.control)?;
        let p = single.into_iter().zip(found.rows.iter().map(|row| row.p_value)).collect();
        Ok(Together { p, critical: found.critical, reached: found.reached })
    }

    /// True when the family is that of one factor, not of slices or changes.
    fn one_list(&self) -> bool {
        self.options.within.is_none() && self.options.changing_with.is_none()
    }

    /// Correlations of the contrasts where none of them differs from 0: they then depend on the layout alone, not on the scale, and
    /// those of true null contrasts are right whatever the others are.
    fn correlation(
        &self,
        likelihood: &Likelihood,
        best: &Reached,
        goals: &[(usize, Goal<'_>)],
    ) -> Result<Vec<Vec<f64>>> {
        let at = |parameters: &[f64]| -> Option<Vec<Vec<f64>>> {
            let factor = Cholesky::new(&likelihood.at(parameters)?.information)?;
            let slopes: Vec<Vec<f64>> = goals.iter().map(|(_, goal)| goal.at(parameters).gradient).collect();
            let halves: Vec<Vec<f64>> = slopes.iter().map(|slope| factor.forward(slope)).collect();
            let v: Vec<Vec<f64>> = halves.iter().map(|a| halves.iter().map(|b| dot(a, b)).collect()).collect();
            correlation(&v).ok().map(|(r, _)| r)
        };
        let slopes: Vec<Vec<f64>> = goals.iter().map(|(_, goal)| goal.at(&best.parameters).gradient).collect();
        let free = Qr::new(&slopes, 1e-7).kept;
        let held: Vec<Goal<'_>> =
            free.iter().filter_map(|index| goals.get(*index)).map(|(_, goal)| goal.clone()).collect();
        let null = constrained(likelihood, &held, &vec![0.0; held.len()], &best.parameters);
        null.and_then(|null| at(&null.parameters)).or_else(|| at(&best.parameters)).ok_or_else(unsettled)
    }
}

/// What a family's contrasts are judged by.
struct Together {
    /// Single and adjusted P values.
    p: Vec<(f64, f64)>,
    critical: f64,
    reached: bool,
}

fn student_or_normal(statistic: f64, dof: Option<f64>) -> f64 {
    let size = statistic.abs();
    dof.map_or_else(|| 2.0 * normal::sf(size), |dof| student_t::two_sided(size, dof))
}

fn student_or_normal_quantile(p: f64, dof: Option<f64>) -> f64 {
    dof.map_or_else(|| normal::quantile(p), |dof| student_t::quantile(p, dof))
}

fn unsuited(first: &'static str, instead: &'static str) -> crate::Error {
    EffectError::NotTogether { first, second: "these contrasts", instead }.into()
}

fn unsettled() -> crate::Error {
    ModelError::NotFitted {
        reason: "a fit with a contrast held did not settle".to_owned(),
        try_next: "compare fewer levels, join levels with few cuttings or fit fewer effects".to_owned(),
    }
    .into()
}
