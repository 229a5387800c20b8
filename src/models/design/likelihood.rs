//! Fits of a design with some coefficients held, and the likelihood profile of one coefficient.

use super::design_matrix::Design;
use crate::error::{ModelError, Result};
use crate::math::regression::{Information, Link, Regression, Restriction, Solution};
use crate::math::search;
use crate::trial::Data;

/// A design with its counts, ready to be fitted freely or with coefficients held.
///
/// With `penalised` the penalty is always the information of the whole design, also where coefficients are held.
#[derive(Debug, Clone, Copy)]
pub struct Fit<'a> {
    /// Columns.
    pub design: &'a Design,
    /// Counts.
    pub data: &'a Data,
    /// Link.
    pub link: Link,
    /// Add the Jeffreys prior penalty.
    pub penalised: bool,
}

impl<'a> Fit<'a> {
    pub(crate) fn regression(&self) -> Regression<'a> {
        let Data { rooted, stuck, offset, weights, .. } = self.data;
        Regression {
            columns: &self.design.matrix,
            rooted,
            stuck,
            offset,
            weights,
            link: self.link,
            penalised: self.penalised,
            control: &self.design.control,
        }
    }

    /// The unconstrained fit.
    ///
    /// # Errors
    /// When the fit does not settle.
    pub fn free(&self) -> Result<Solution> {
        let rank = self.design.rank();
        self.design.control.fit();
        self.regression().solve(&vec![0.0; rank], &Restriction::none(rank))
    }

    /// The information at some coefficients of the design.
    ///
    /// # Errors
    /// When it is singular.
    pub fn information(&self, coef: &[f64]) -> Result<Information> {
        self.regression().information(coef)?.ok_or_else(singular)
    }

    /// The leverage of each row of the data at some coefficients of the design.
    ///
    /// # Errors
    /// When the information is singular.
    pub fn leverages(&self, coef: &[f64]) -> Result<Vec<f64>> {
        Ok(self.regression().leverages(coef, &self.information(coef)?))
    }

    /// The fit with the coefficients at `held` equal to 0.
    ///
    /// # Errors
    /// When the fit does not settle.
    pub fn without(&self, held: &[usize]) -> Result<Solution> {
        let rank = self.design.rank();
        self.regression().solve(&vec![0.0; rank], &Restriction::held(rank, held))
    }

    /// Twice the fall of the (penalised) log-likelihood when the coefficients at `held` are 0.
    ///
    /// # Errors
    /// When a fit does not settle.
    pub fn ratio(&self, held: &[usize]) -> Result<f64> {
        self.ratio_from(self.free()?.objective, held)
    }

    /// The same from the top that the whole design is known to reach.
    pub(crate) fn ratio_from(&self, top: f64, held: &[usize]) -> Result<f64> {
        Ok((2.0 * (top - self.without(held)?.objective)).max(0.0))
    }
}

pub(crate) fn singular() -> crate::Error {
    ModelError::NotFitted {
        reason: "the information matrix is singular".to_owned(),
        try_next: "fit fewer effects or join levels with few cuttings".to_owned(),
    }
    .into()
}

/// The likelihood profile of a combination `direction . b` of the coefficients of a fitted design.
#[derive(Debug)]
pub struct Profile<'a> {
    fit: Fit<'a>,
    top: f64,
    direction: Vec<f64>,
    start: Vec<f64>,
    home: Vec<f64>,
    /// The estimate.
    pub estimate: f64,
    se: f64,
}

/// How far, in standard errors, a limit is looked for before it is called infinite.
const FARTHEST: f64 = 400.0;

impl<'a> Profile<'a> {
    /// Sets up the profile; `se` only sets the pace of the search.
    #[must_use]
    pub fn new(fit: Fit<'a>, free: &Solution, direction: Vec<f64>, se: f64) -> Self {
        let estimate = crate::math::dense::dot(&direction, &free.coef);
        let home = free.coef.clone();
        Self { fit, top: free.objective, direction, start: home.clone(), home, estimate, se }
    }

    /// Twice the fall of the (penalised) log-likelihood when the combination is held at `value`.
    ///
    /// With a penalty the held likelihood may have several tops: it is searched from where the last search ended, from the free estimates and
    /// from 0, and the highest counts.
    ///
    /// # Errors
    /// When the constrained fit does not settle.
    pub fn fall(&mut self, value: f64) -> Result<f64> {
        let held = Restriction::along(&self.direction, value);
        let regression = self.fit.regression();
        let mut found = regression.solve(&self.start, &held);
        if self.fit.penalised {
            let zero = vec![0.0; self.home.len()];
            for start in [&self.home, &zero] {
                let higher = |other: &Solution| found.as_ref().map_or(true, |best| other.objective > best.objective);
                if let Some(other) = regression.solve(start, &held).ok().filter(higher) {
                    found = Ok(other);
                }
            }
        }
        let solution = found?;
        let fall = 2.0 * (self.top - solution.objective);
        if solution.runaway.is_empty() {
            self.start = solution.coef;
        }
        Ok(fall.max(0.0))
    }

    /// The value on the side of `direction` (1 or -1) at which the fall reaches `cutoff`; infinite when it never does.
    ///
    /// # Errors
    /// When asked to stop.
    pub fn limit(&mut self, direction: f64, cutoff: f64) -> Result<f64> {
        let home = self.start.clone();
        let limit = self.search(direction, cutoff);
        self.start = home;
        match limit {
            Err(crate::Error::Interrupted) => Err(crate::Error::Interrupted),
            found => Ok(found.unwrap_or(direction * f64::INFINITY)),
        }
    }

    fn search(&mut self, direction: f64, cutoff: f64) -> Result<f64> {
        let (root, mut near, mut far) = (cutoff.sqrt(), 0.0, cutoff.sqrt().max(0.1));
        while self.fall(self.estimate + direction * far * self.se)? < cutoff {
            (near, far) = (far, 1.5 * far);
            if far > FARTHEST {
                return Ok(direction * f64::INFINITY);
            }
        }
        let (estimate, pace, mut trouble) = (self.estimate, direction * self.se, None);
        let off = |steps: f64| match self.fall(estimate + pace * steps) {
            Ok(fall) => fall.sqrt() - root,
            Err(error) => {
                trouble = Some(error);
                f64::NAN
            }
        };
        let distance = search::brent(off, near, far, 1e-10);
        match trouble {
            Some(error) => Err(error),
            None => Ok(estimate + pace * distance?),
        }
    }
}
