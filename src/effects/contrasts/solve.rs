//! Estimates, signed roots, adjusted P values and limits of a family.

use rayon::prelude::*;

use super::family::{Family, Member};
use super::goal::{Goal, Scale};
use super::judge::Judge;
use super::options::{Adjust, ContrastOptions, Pattern};
use super::profile::Profile;
use super::unsettled;
use crate::control::{Control, Signal};
use crate::effects::averaging::Averaged;
use crate::effects::multiplicity::adjusted_p;
use crate::effects::simultaneous::{self, Direction, SingleStep, single_step};
use crate::error::{EffectError, Result};
use crate::math::distributions::multivariate::Precision;
use crate::math::distributions::student_t;
use crate::models::{Model, Ready, Stratum};

/// How exact joint P values are made: 0.05 to 0.0002, small ones to 0.00005.
const PRECISION: Precision = Precision { absolute: 5e-5, relative: 4e-3, most_points: 1_000_000, seed: 1 };

/// A contrast that can be estimated.
#[derive(Debug, Clone)]
pub(super) struct Row {
    /// Position among the members of the family.
    pub(super) member: usize,
    pub(super) value: f64,
    pub(super) se: Option<f64>,
    pub(super) limits: Option<(f64, f64)>,
    pub(super) statistic: Option<f64>,
    pub(super) p: Option<f64>,
    pub(super) p_adjusted: Option<f64>,
    pub(super) df: Option<f64>,
    /// Why there is no test, where there could be one.
    pub(super) why: Option<&'static str>,
}

/// The family's figures.
#[derive(Debug, Clone)]
pub(super) struct Solved {
    pub(super) rows: Vec<Row>,
    /// Multiplier of the intervals.
    pub(super) critical: Option<f64>,
    /// False when the joint distribution missed the precision asked for.
    pub(super) reached: bool,
    /// True where some contrast is judged by the covariance of the estimates.
    pub(super) by_covariance: bool,
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
    /// Contrasts whose rates can be estimated.
    fn goals(&self, judge: &Judge<'a>) -> Vec<(usize, Goal<'a>)> {
        let goal = |(index, member): (usize, &Member)| {
            let part = |(weight, place): &(f64, usize)| Some((*weight, self.family.blends.get(*place)?.as_ref()?));
            let parts = member.weights.iter().map(part).collect::<Option<Vec<_>>>()?;
            Some((index, judge.goal(parts, self.options.scale)))
        };
        self.family.members.iter().enumerate().filter_map(goal).collect()
    }

    /// Figures of every contrast; limits only where wanted.
    ///
    /// # Errors
    /// [`EffectError::NotEstimable`]; [`crate::error::ModelError::NotFitted`] when a constrained fit does not settle; a method that
    /// does not suit the family; [`crate::Error::Interrupted`].
    pub(super) fn solve(&self, limits: bool) -> Result<Solved> {
        let judge = Judge::new(self.model, self.ready, self.options.rate_of)?;
        let goals = self.goals(&judge);
        if goals.is_empty() {
            let reason = "each needs a combination of levels that was not tried".to_owned();
            return Err(EffectError::NotEstimable { reason }.into());
        }
        let dispersion = self.error.map_or(1.0, |error| error.dispersion);
        let mut rows: Vec<Row> =
            goals.iter().map(|(member, goal)| self.bare(*member, &judge.shown(goal), dispersion)).collect();
        let untested = |rows| Solved { rows, critical: None, reached: true, by_covariance: false };
        let Some(error) = self.error else { return Ok(untested(rows)) };
        for (row, (_, goal)) in rows.iter_mut().zip(&goals) {
            row.why = judge.untestable(goal);
        }
        let testable: Vec<bool> = rows.iter().map(|row| row.why.is_none()).collect();
        let mut open = testable.iter();
        let goals: Vec<(usize, Goal<'a>)> =
            goals.into_iter().filter(|_| open.next().copied().unwrap_or(false)).collect();
        if goals.is_empty() {
            return Ok(untested(rows));
        }
        let signal = Signal::here();
        let profile = |(_, goal): &(usize, Goal<'a>)| {
            self.control.step()?;
            signal.on(|| Profile::new(&judge, goal.clone(), dispersion)).ok_or_else(unsettled)
        };
        let profiles: Vec<Profile<'_>> = goals.par_iter().map(profile).collect::<Result<_>>()?;
        let dofs: Vec<f64> = profiles.iter().map(|profile| self.df(profile, error)).collect();
        let found = self.together(&judge, &goals, &profiles, &dofs)?;
        let ends = |(profile, critical): (&Profile<'_>, &f64)| {
            self.control.step()?;
            Ok(limits.then(|| signal.on(|| profile.limits(*critical))))
        };
        let ends: Vec<Option<((f64, f64), bool)>> =
            profiles.par_iter().zip(&found.critical).map(ends).collect::<Result<_>>()?;
        let by_covariance =
            profiles.iter().any(Profile::by_covariance) || ends.iter().flatten().any(|(_, stands_in)| *stands_in);
        let figures = profiles.iter().zip(&dofs).zip(ends).zip(&found.p);
        let tested = rows.iter_mut().zip(&testable).filter(|(_, yes)| **yes).map(|(row, _)| row);
        for (row, (((profile, df), ends), (single, adjusted))) in tested.zip(figures) {
            let shown = |value: f64| self.options.scale.shown(value);
            row.limits = ends.map(|((low, high), _)| (shown(low), shown(high)));
            row.statistic = Some(profile.root());
            (row.p, row.p_adjusted) = (Some(*single), Some(*adjusted));
            row.df = Some(*df).filter(|df| df.is_finite());
        }
        let first = found.critical.first().copied();
        let one = found.critical.iter().all(|critical| Some(*critical) == first);
        Ok(Solved { rows, critical: first.filter(|_| one), reached: found.reached, by_covariance })
    }

    /// An estimate without a test.
    fn bare(&self, member: usize, at: &Averaged, dispersion: f64) -> Row {
        let told = self.options.scale == Scale::Points && self.error.is_some();
        let spread = || self.ready.spread(&at.gradient, Stratum { dispersion, df: None });
        Row {
            member,
            value: self.options.scale.shown(at.rate),
            se: spread().filter(|_| told).map(|spread| spread.se),
            limits: None,
            statistic: None,
            p: None,
            p_adjusted: None,
            df: None,
            why: None,
        }
    }

    /// Degrees of freedom of a contrast: those of its error, or its own where the covariance is robust.
    fn df(&self, profile: &Profile<'_>, error: Stratum) -> f64 {
        let own = self.ready.error_of(&profile.direction(), profile.error(error));
        own.map_or(1.0, |error| error.df.unwrap_or(f64::INFINITY))
    }

    /// Single and adjusted P values and critical values.
    ///
    /// Where contrasts have degrees of freedom of their own, each root is turned into the one with the same P value on the fewest of
    /// them; the joint distribution is then that of t on the fewest, and its critical value is turned back.
    fn together(
        &self,
        judge: &Judge<'_>,
        goals: &[(usize, Goal<'_>)],
        profiles: &[Profile<'_>],
        dofs: &[f64],
    ) -> Result<Together> {
        let roots: Vec<f64> = profiles.iter().map(Profile::root).collect();
        let single: Vec<f64> = roots.iter().zip(dofs).map(|(root, df)| student_t::two_sided(*root, *df)).collect();
        let method = match self.adjust {
            Adjust::List(adjustment) => {
                let adjusted = adjusted_p(&single, adjustment, self.control)?;
                let alpha = 1.0 - adjustment.interval_level(self.options.confidence, roots.len());
                let critical = dofs.iter().map(|df| critical(alpha, *df)).collect();
                let p = single.into_iter().zip(adjusted).collect();
                return Ok(Together { p, critical, reached: true });
            }
            _ => self.single_step()?,
        };
        let fewest = dofs.iter().copied().fold(f64::INFINITY, f64::min);
        let turned = |((root, p), df): ((&f64, &f64), &f64)| {
            // A P value too small to be turned back stays as far out as it was.
            let other = root.signum() * critical(*p, fewest);
            if *df > fewest && other.is_finite() { other } else { *root }
        };
        let turned: Vec<f64> = roots.iter().zip(&single).zip(dofs).map(turned).collect();
        let r = judge.correlation(&goals.iter().map(|(_, goal)| goal.clone()).collect::<Vec<_>>())?;
        let family =
            simultaneous::Family { estimates: &turned, covariance: &r, df: fewest, direction: Direction::Either };
        let precision = Precision { seed: self.options.seed, ..PRECISION };
        let found = single_step(&family, method, self.options.confidence, &precision, self.control)?;
        let back = |df: &f64| {
            if *df > fewest { critical(student_t::two_sided(found.critical, fewest), *df) } else { found.critical }
        };
        let p = single.into_iter().zip(found.rows.iter().map(|row| row.p)).collect();
        Ok(Together { p, critical: dofs.iter().map(back).collect(), reached: found.reached })
    }

    /// The distribution of a one-step adjustment, where it suits the family.
    fn single_step(&self) -> Result<SingleStep> {
        match self.adjust {
            Adjust::Joint | Adjust::List(_) => Ok(SingleStep::Joint),
            Adjust::Scheffe => Ok(SingleStep::Scheffe),
            Adjust::Dunnett if self.family.against.is_some() && self.one_list() => Ok(SingleStep::Dunnett),
            Adjust::TukeyKramer
                if self.options.pattern == Pattern::AllPairs && self.family.against.is_none() && self.one_list() =>
            {
                Ok(SingleStep::TukeyKramer { groups: self.family.blends.len() })
            }
            Adjust::Dunnett => Err(unsuited("together=\"dunnett\"", "use it with against=, or use together=\"joint\"")),
            Adjust::TukeyKramer => Err(unsuited(
                "together=\"tukey-kramer\"",
                "use it for all pairs of one factor, or use together=\"joint\"",
            )),
        }
    }

    /// True when the family is that of one factor, not of slices or changes.
    fn one_list(&self) -> bool {
        self.options.within.is_none() && self.options.changing_with.is_none()
    }
}

/// What a family's contrasts are judged by.
struct Together {
    /// Single and adjusted P values.
    p: Vec<(f64, f64)>,
    /// Critical values of the roots.
    critical: Vec<f64>,
    reached: bool,
}

/// The size of a statistic with a two-sided P value.
fn critical(p: f64, df: f64) -> f64 {
    -student_t::quantile(0.5 * p, df)
}

fn unsuited(first: &'static str, instead: &'static str) -> crate::Error {
    EffectError::NotTogether { first, second: "these contrasts", instead }.into()
}
