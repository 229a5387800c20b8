//! The most likely cuts and slopes, with or without cuttings added.

use super::many::Many;
use super::rows::GradeRows;
use super::sums::{Layout, Of, Sums, decrement, ln_likelihood};
use crate::error::{NumericError, Result};
use crate::math::dense::{Cholesky, add_scaled};
use crate::math::special::{expit, logit};

/// What is to be fitted: `logit P(grade >= j) = cut_j + offset + x b`, for the columns of `partial` with a slope of their own at each cut.
///
/// The likelihood is concave in cuts and slopes (Burridge 1981; Pratt 1981), so a top is the only one.
#[derive(Debug, Clone, Copy)]
pub struct Cumulative<'a> {
    /// Rows; every grade is held by somebody ([`GradeRows::held`]).
    pub rows: &'a GradeRows,
    /// Columns whose slope differs by cut.
    pub partial: &'a [usize],
}

/// A fit.
#[derive(Debug, Clone, PartialEq)]
pub struct CumulativeFit {
    /// Log odds of reaching grade 1, 2, ... where all columns are 0; they fall.
    pub cuts: Vec<f64>,
    /// For each column, what the log odds of a better grade rise by; for those of `partial` at the first cut.
    pub slopes: Vec<f64>,
    /// For each column of `partial`, what its slope has more at the second and later cuts.
    pub more: Vec<Vec<f64>>,
    /// Logarithm of the likelihood of the grades as single cuttings, without any added.
    pub ln_likelihood: f64,
    /// Covariance of cuts, slopes and what they have more: the inverse of the information as counted.
    pub covariance: Vec<Vec<f64>>,
    /// Steps.
    pub iterations: usize,
    /// True with cuttings added ([`Cumulative::fit_steadied`]).
    pub steadied: bool,
}

/// Rows from which on a fit begins at the top of some of them, and which of them those are.
const MANY: usize = 8192;
const EACH: usize = 10;
const STEPS: usize = 100;
const HALVINGS: usize = 40;
/// Twice what the likelihood has left to rise.
const SETTLED: f64 = 1e-20;
/// What rounding leaves of it.
const BLUR: f64 = 1e-13;
/// A predictor this far out is one that runs away: odds of 10^13.
const FAR: f64 = 30.0;

impl Cumulative<'_> {
    fn layout(&self) -> Layout<'_> {
        Layout::of(self.rows, self.partial)
    }

    /// Cuts where no column matters: those of all cuttings together.
    fn start(&self) -> Vec<f64> {
        let (mut left, total) = (self.rows.total(), self.rows.total());
        let mut start = Vec::new();
        for n in self.rows.by_grade().iter().take(self.rows.grades() - 1) {
            left -= n;
            start.push(logit(left / total));
        }
        start.resize(self.layout().size(), 0.0);
        start
    }

    /// The top of some of very many rows, near that of all, so that two or three steps are left; none where it is not met at once.
    fn near(&self, some: &Many) -> Option<Vec<f64>> {
        let mut theta = self.start();
        for _ in 0..STEPS {
            let sums = some.at(self.layout(), &theta)?;
            let step = Cholesky::new(&sums.information)?.solve(&sums.slopes);
            add_scaled(&mut theta, 1.0, &step);
            if decrement(&sums.slopes, &step) < 1e-6 {
                return Some(theta);
            }
        }
        None
    }

    fn told(
        &self,
        theta: &[f64],
        (ln_likelihood, covariance): (f64, Vec<Vec<f64>>),
        iterations: usize,
    ) -> CumulativeFit {
        let (cuts, rest) = theta.split_at(self.layout().cuts);
        let (slopes, more) = rest.split_at(self.rows.width());
        let more = more.chunks(self.layout().cuts.saturating_sub(1).max(1)).map(<[f64]>::to_vec).collect();
        let (cuts, slopes) = (cuts.to_vec(), slopes.to_vec());
        CumulativeFit { cuts, slopes, more, ln_likelihood, covariance, iterations, steadied: false }
    }

    /// Most likely cuts and slopes, by Newton's steps, halved where the likelihood would fall.
    ///
    /// # Errors
    /// [`NumericError::NotConverged`] where the likelihood has no top: a level of which all cuttings hold the highest grade, or the lowest, or columns
    /// that cannot be told apart.
    ///
    /// # References
    /// `McCullagh` (1980), J. R. Stat. Soc. B 42:109-142; Burridge (1981), J. R. Stat. Soc. B 43:41-45.
    ///
    /// ```
    /// use rootling::math::regression::{Cumulative, GradeRows};
    /// // Two grades, 8 of 40 and 24 of 40 in the upper: ln((24 / 16) / (8 / 32)).
    /// let rows = GradeRows::new(1, 2, vec![vec![], vec![(0, 1.0)]], vec![32.0, 8.0, 16.0, 24.0])?;
    /// let fit = Cumulative { rows: &rows, partial: &[] }.fit()?;
    /// approx::assert_abs_diff_eq!(fit.slopes[0], 6.0_f64.ln(), epsilon = 1e-12);
    /// # Ok::<(), rootling::Error>(())
    /// ```
    pub fn fit(&self) -> Result<CumulativeFit> {
        let (rows, layout) = (self.rows, self.layout());
        let lost = NumericError::NotConverged { routine: "the fit of grades", iterations: STEPS };
        let many = Many::of(rows, layout);
        let near = many.as_ref().filter(|_| rows.len() >= MANY).and_then(|many| self.near(&many.each(EACH)));
        let mut theta = near.unwrap_or_else(|| self.start());
        let mut here = self.sums(many.as_ref(), &theta).ok_or_else(|| lost.clone())?;
        for iteration in 0..STEPS {
            crate::control::checkpoint();
            let root = Cholesky::new(&here.information).ok_or_else(|| lost.clone())?;
            let step = root.solve(&here.slopes);
            let left = decrement(&here.slopes, &step);
            if left < SETTLED || left < BLUR * (1.0 + here.ln_likelihood.abs()) * f64::EPSILON.sqrt() {
                // The last step is taken too: it squares what the error was.
                add_scaled(&mut theta, 1.0, &step);
                return Ok(self.told(&theta, (here.ln_likelihood, root.inverse()), iteration));
            }
            let found = self.along(many.as_ref(), (&theta, &step), here.ln_likelihood);
            let (next, found) = found.ok_or_else(|| lost.clone())?;
            if left < 1e-3 && self.farthest(many.as_ref(), &next) > FAR {
                return Err(lost.into());
            }
            (theta, here) = (next, found);
        }
        Err(lost.into())
    }

    /// Sums over rows, those of very many single cuttings by grade where none lies far out.
    fn sums(&self, many: Option<&Many>, theta: &[f64]) -> Option<Sums> {
        let found = many.and_then(|many| many.at(self.layout(), theta));
        found.or_else(|| Sums::at(self.rows, self.layout(), theta, Of::Counted))
    }

    /// The largest predictor, whatever its sign.
    fn farthest(&self, many: Option<&Many>, theta: &[f64]) -> f64 {
        if let Some(many) = many {
            return many.farthest(self.layout(), theta);
        }
        let (mut predictors, mut far) = (Vec::new(), 0.0_f64);
        for (x, offset, _) in self.rows.iter() {
            self.layout().predictors(theta, (x, offset), &mut predictors);
            far = predictors.iter().fold(far, |far, e| far.max(e.abs()));
        }
        far
    }

    /// The first of a step, its half, its quarter ... at which the likelihood does not fall.
    fn along(&self, many: Option<&Many>, (theta, step): (&[f64], &[f64]), from: f64) -> Option<(Vec<f64>, Sums)> {
        let (mut by, slack) = (1.0, BLUR * (1.0 + from.abs()));
        for _ in 0..HALVINGS {
            let mut next = theta.to_vec();
            add_scaled(&mut next, by, step);
            let found = self.sums(many, &next);
            if let Some(sums) = found.filter(|sums| sums.ln_likelihood >= from - slack) {
                return Some((next, sums));
            }
            by /= 2.0;
        }
        None
    }

    /// The fit with as many cuttings added as there are slopes, shared among the rows by their cuttings and among the grades as all cuttings are:
    /// a prior by data, which has a top where the likelihood has none and draws every level a little towards all others.
    ///
    /// # Errors
    /// [`NumericError::NotConverged`] where columns cannot be told apart.
    ///
    /// # References
    /// Clogg, Rubin, Schenker, Schultz and Weidman (1991), J. American Statistical Association 86:68-78.
    ///
    /// ```
    /// use rootling::math::regression::{Cumulative, GradeRows};
    /// // All of the second row hold the upper grade: half a cutting is added to each row, 6 to 34 as in both together.
    /// let rows = GradeRows::new(1, 2, vec![vec![], vec![(0, 1.0)]], vec![6.0, 14.0, 0.0, 20.0])?;
    /// let fit = Cumulative { rows: &rows, partial: &[] }.fit_steadied()?;
    /// approx::assert_abs_diff_eq!(fit.slopes[0], (20.425 / 0.075 * 6.075 / 14.425_f64).ln(), epsilon = 1e-9);
    /// # Ok::<(), rootling::Error>(())
    /// ```
    pub fn fit_steadied(&self) -> Result<CumulativeFit> {
        let (total, by_grade) = (self.rows.total(), self.rows.by_grade());
        let slopes = self.layout().size() - self.layout().cuts;
        let added = |counts: &[f64]| -> Vec<f64> {
            let share = slopes.max(1) as f64 * counts.iter().sum::<f64>() / total;
            counts.iter().zip(&by_grade).map(|(n, all)| n + share * all / total).collect()
        };
        let rows = self.rows.with_counts(self.rows.iter().flat_map(|(_, _, counts)| added(counts)).collect())?;
        let fit = Cumulative { rows: &rows, partial: self.partial }.fit()?;
        let theta = [fit.cuts.clone(), fit.slopes.clone(), fit.more.concat()].concat();
        let ln_likelihood = ln_likelihood(self.rows, self.layout(), &theta).unwrap_or(fit.ln_likelihood);
        Ok(CumulativeFit { ln_likelihood, steadied: true, ..fit })
    }
}

impl CumulativeFit {
    /// Shares at or above grade 1, 2, ... of a row of columns; slopes that differ by cut are those of `partial`.
    #[must_use]
    pub fn at_least(&self, x: &[f64], partial: &[usize]) -> Vec<f64> {
        self.predictors(x, partial).into_iter().map(expit).collect()
    }

    /// Their log odds.
    #[must_use]
    pub fn predictors(&self, x: &[f64], partial: &[usize]) -> Vec<f64> {
        let shift: f64 = x.iter().zip(&self.slopes).map(|(x, b)| x * b).sum();
        let mut all: Vec<f64> = self.cuts.iter().map(|cut| cut + shift).collect();
        for (column, more) in partial.iter().zip(&self.more) {
            let value = x.get(*column).copied().unwrap_or(0.0);
            all.iter_mut().skip(1).zip(more).for_each(|(e, more)| *e += value * more);
        }
        all
    }
}
