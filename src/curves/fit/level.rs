//! How well the level of fitted curves is known over places: what these add moves the take by its error over its slope.

use super::data::{Data, Level};
use super::judge::Judge;
use super::one_shape::Fitted;
use crate::curves::input::{CurveBays, CurveInput, LevelOverBays};
use crate::curves::shape::EDGE;
use crate::math::dense::{Cholesky, dot};
use crate::math::distributions::{fisher_f, student_t};

/// By how much a unit of height on the log odds moves the takes of a curve on average over its cuttings: the mean of `p (1 - p)`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Slope {
    pub(crate) mean: f64,
    /// True where the takes are those within bays, which are taken out.
    pub(super) within_bays: bool,
}

impl Slope {
    /// Of a curve as fitted.
    pub(crate) fn of(fitted: &Fitted, data: &Data) -> Self {
        let rate = |level: &Level| fitted.form.at(fitted.own(), level.place).mean.clamp(EDGE, 1.0 - EDGE);
        let least = 0.5 / (data.mean_take().1 + 1.0);
        let (slope, within_bays) = match &data.beside {
            Some(beside) => {
                let rates: Vec<f64> = data.levels.iter().map(rate).collect();
                (beside.mean_slope(&rates, fitted.beside()), beside.shifts() > 0)
            }
            None => {
                let (mut sum, mut cuttings) = (0.0, 0.0);
                for level in &data.levels {
                    let p = rate(level);
                    (sum, cuttings) = (sum + level.stuck * p * (1.0 - p), cuttings + level.stuck);
                }
                (sum / cuttings, false)
            }
        };
        Self { mean: slope.max(least * (1.0 - least)), within_bays }
    }
}

impl CurveBays {
    /// How the curves' heights on the log odds vary against that of the first over bays, of curves that add so much to the take by a unit of their
    /// height: one row and column for each other curve.
    ///
    /// A mean take of variance `v / effective`, where cuttings have the variance `v` on average over strengths, moves the height by its error
    /// over its slope. By the mean take alone, whose `p (1 - p)` is larger than that of the strengths on average, heights would seem better
    /// known than they are.
    pub(crate) fn against_first(&self, slopes: &[Slope]) -> Vec<Vec<f64>> {
        let scales: Vec<f64> =
            self.curves.iter().zip(slopes).map(|(own, slope)| (own.share(slope) * slope.mean).sqrt()).collect();
        let of = |i: usize, j: usize| {
            let both = scales.get(i).zip(scales.get(j)).map_or(f64::NAN, |(a, b)| a * b);
            self.covariances.get((i, j)).copied().unwrap_or(f64::NAN) / both
        };
        let others = 1..self.curves.len();
        let entry = |i: usize, j: usize| of(i, j) - of(i, 0) - of(0, j) + of(0, 0);
        others.clone().map(|i| others.clone().map(|j| entry(i, j)).collect()).collect()
    }

    /// F and its P for levels on the log odds that are alike but for how they vary; none where that is not known.
    pub(crate) fn test(&self, levels: &[f64], against_first: &[Vec<f64>]) -> Option<(f64, f64, f64)> {
        let first = levels.first().copied().unwrap_or_default();
        let apart: Vec<f64> = levels.iter().skip(1).map(|level| level - first).collect();
        let half = Cholesky::new(against_first)?.forward(&apart);
        let others = apart.len() as f64;
        let statistic = dot(&half, &half) / others;
        Some((statistic, others, fisher_f::sf(statistic, others, self.df)))
    }

    /// Half the width of an interval of a difference of two levels.
    pub(crate) fn reach(&self, variance: f64, level: f64) -> f64 {
        student_t::quantile(f64::midpoint(1.0, level), self.df) * variance.sqrt()
    }
}

/// How many times the variance of the mean take that of a take of a curve is, by its trays, at most. On average over the strengths it is as many
/// times as the curve has parameters; less is more cautious (`tests/calibration/curve_places.md`).
const OWN: f64 = 2.0;

impl LevelOverBays {
    /// The share of a cutting's variance that takes with this slope have.
    pub(crate) fn share(&self, slope: &Slope) -> f64 {
        if slope.within_bays { self.within } else { 1.0 }
    }
}

impl CurveInput {
    /// How well the level of a curve is known over places; none where takes hold for the places at hand.
    fn level_over_places(&self, curve: usize) -> Option<&LevelOverBays> {
        let bays = || self.bays.as_ref().map(|bays| &bays.takes);
        let all = self.places.as_ref().map(|places| &places.curves).or_else(bays)?;
        all.get(curve).filter(|own| own.effective > 0.0)
    }

    /// What places add to the variance of the level of a curve on the log odds, beside that of so many effective cuttings, so that the
    /// critical value of the trays gives the reach that places need. The mean take moves the level by its error over the curve's slope.
    ///
    /// A take of the curve has the error of its trays, some [`OWN`] times that of the curve's mean take (once where it is one take), and that mean takes part in how places
    /// differ. Both are mean squares; their sum has Satterthwaite's degrees of freedom, as take rates have them.
    ///
    /// # References
    /// Satterthwaite FE (1946), Biometrics Bulletin 2:110-114.
    pub(super) fn over_places(
        &self,
        curve: usize,
        (judge, parameters): (&Judge, f64),
        (slope, cuttings): (Slope, f64),
    ) -> f64 {
        let Some(own) = self.level_over_places(curve) else { return 0.0 };
        let level = self.options.confidence;
        let (within, over) = (1.0 / cuttings, 1.0 / (own.effective * own.share(&slope)));
        let times = parameters.clamp(1.0, OWN);
        let apart = (times - 1.0) * within;
        let whole = apart + over.max(within);
        let dof = whole * whole / (apart * apart / judge.df.unwrap_or(f64::INFINITY) + over * over / own.df);
        let stretch = student_t::quantile(f64::midpoint(1.0, level), dof) / judge.critical(level);
        ((stretch * stretch * whole - times * within) / slope.mean).max(0.0)
    }
}
