//! Fits of a design with some coefficients held, and the likelihood profile of one coefficient.

use crate::error::Result;
use crate::math::irls::{Link, Problem, Solution};
use crate::math::linalg::Qr;
use crate::math::roots;
use crate::models::design_matrix::Design;
use crate::models::terms::Data;

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

impl Fit<'_> {
    fn problem<'b>(&'b self, x: &'b [Vec<f64>], offset: &'b [f64]) -> Problem<'b> {
        let penalty = if self.penalised { Some(self.design.x.as_slice()) } else { None };
        let Data { rooted, stuck, .. } = self.data;
        Problem { x, rooted, stuck, offset, link: self.link, penalty }
    }

    /// The unconstrained fit.
    ///
    /// # Errors
    /// When the fit does not settle.
    pub fn free(&self) -> Result<Solution> {
        let offset = vec![0.0; self.data.stuck.len()];
        self.problem(&self.design.x, &offset).solve(&vec![0.0; self.design.rank()])
    }

    /// The decomposed information at a linear predictor.
    #[must_use]
    pub fn information(&self, eta: &[f64]) -> Qr {
        self.problem(&self.design.x, &[]).information(eta)
    }

    /// The fit with the coefficients at `held` equal to 0.
    ///
    /// # Errors
    /// When the fit does not settle.
    pub fn without(&self, held: &[usize]) -> Result<Solution> {
        let columns = self.design.x.iter().enumerate();
        let x: Vec<Vec<f64>> = columns.filter(|(j, _)| !held.contains(j)).map(|(_, c)| c.clone()).collect();
        let offset = vec![0.0; self.data.stuck.len()];
        self.problem(&x, &offset).solve(&vec![0.0; x.len()])
    }

    /// Twice the fall of the (penalised) log-likelihood when the coefficients at `held` are 0.
    ///
    /// # Errors
    /// When a fit does not settle.
    pub fn ratio(&self, held: &[usize]) -> Result<f64> {
        Ok((2.0 * (self.free()?.objective - self.without(held)?.objective)).max(0.0))
    }
}

/// The likelihood profile of coefficient `j` of a fitted design.
#[derive(Debug)]
pub struct Profile<'a> {
    fit: Fit<'a>,
    free: &'a Solution,
    column: Vec<f64>,
    others: Vec<Vec<f64>>,
    start: Vec<f64>,
    /// The estimate.
    pub estimate: f64,
    std_error: f64,
}

/// How far, in standard errors, a limit is looked for before it is called infinite.
const FARTHEST: f64 = 400.0;

impl<'a> Profile<'a> {
    /// Sets up the profile; `std_error` only sets the pace of the search.
    #[must_use]
    pub fn new(fit: Fit<'a>, free: &'a Solution, j: usize, std_error: f64) -> Option<Self> {
        let column = fit.design.x.get(j)?.clone();
        let keep = |values: &[f64]| -> Vec<f64> {
            values.iter().enumerate().filter(|(k, _)| *k != j).map(|(_, value)| *value).collect()
        };
        let columns = fit.design.x.iter().enumerate();
        let others = columns.filter(|(k, _)| *k != j).map(|(_, c)| c.clone()).collect();
        let (start, estimate) = (keep(&free.coef), *free.coef.get(j)?);
        Some(Self { fit, free, column, others, start, estimate, std_error })
    }

    /// Twice the fall of the (penalised) log-likelihood when the coefficient is held at `value`.
    ///
    /// # Errors
    /// When the constrained fit does not settle.
    pub fn fall(&mut self, value: f64) -> Result<f64> {
        let offset: Vec<f64> = self.column.iter().map(|x| x * value).collect();
        let solution = self.fit.problem(&self.others, &offset).solve(&self.start)?;
        let fall = 2.0 * (self.free.objective - solution.objective);
        if solution.runaway.is_empty() {
            self.start = solution.coef;
        }
        Ok(fall.max(0.0))
    }

    /// The value on the side of `direction` (1 or -1) at which the fall reaches `cutoff`; infinite when it never does.
    pub fn limit(&mut self, direction: f64, cutoff: f64) -> f64 {
        let root = cutoff.sqrt();
        let (mut near, mut far) = (0.0, root.max(0.1));
        let home = self.start.clone();
        let mut fitted = true;
        loop {
            match self.fall(self.estimate + direction * far * self.std_error) {
                Ok(fall) if fall >= cutoff => break,
                Ok(_) => near = far,
                Err(_) => fitted = false,
            }
            if !fitted || far > FARTHEST {
                self.start = home;
                return direction * f64::INFINITY;
            }
            far *= 1.5;
        }
        let (estimate, pace) = (self.estimate, direction * self.std_error);
        let distance = roots::brent(
            |steps| self.fall(estimate + pace * steps).map_or(f64::NAN, |fall| fall.sqrt() - root),
            near,
            far,
            1e-10,
        );
        self.start = home;
        distance.map_or(direction * f64::INFINITY, |steps| estimate + pace * steps)
    }
}
