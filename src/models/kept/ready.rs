//! A fit as questions read it: frame, design, solution and law.

use std::sync::Arc;

use super::answered::Answered;
use crate::control::Control;
use crate::math::dense::dot;
use crate::math::regression::{ClusterRobust, Solution};
use crate::models::design::Design;
use crate::models::enter::Frame;
use crate::models::errors::Layered;
use crate::models::laws::tray_law::Law;
use crate::trial::Value;

/// What a fit came to.
#[derive(Debug)]
pub(crate) struct Solved {
    /// Its counts as they were fitted.
    pub(crate) frame: Frame,
    pub(crate) design: Design,
    pub(crate) solution: Solution,
    /// Where trays follow a law of their own, which then holds the coefficients.
    pub(crate) law: Option<Law>,
}

/// The fit of a model as questions read it. Copies share what is large.
#[derive(Debug, Clone)]
pub(crate) struct Ready {
    pub(crate) frame: Frame,
    pub(crate) design: Design,
    pub(crate) solution: Arc<Solution>,
    /// Of the coefficients, then of the SDs of random effects, if any.
    pub(crate) covariance: Arc<Vec<Vec<f64>>>,
    /// SDs of random effects above 0: rates are averaged over them.
    pub(crate) deviations: Vec<f64>,
    /// Mean offset, at which rates are given.
    pub(crate) offset: f64,
    /// What gives combinations of the coefficients their degrees of freedom, where the covariance is robust.
    pub(crate) robust: Option<Arc<ClusterRobust>>,
    /// The layers above the trays.
    pub(crate) layered: Option<Arc<Layered>>,
    /// Roots of the rows' weights in the information, where there are layers or places taken out.
    pub(crate) roots: Arc<Vec<f64>>,
    /// The law of the trays, where they have one.
    pub(crate) law: Option<Arc<Law>>,
    /// What was asked of it before.
    pub(crate) answered: Arc<Answered>,
}

impl Ready {
    /// The same fit, further work with which ends when the control is stopped.
    pub(crate) fn watched(&self, control: &Arc<Control>) -> Self {
        let mut same = self.clone();
        same.frame.control = Arc::clone(control);
        same.design.control = Arc::clone(control);
        same
    }

    /// The columns of the design, one entry per unit.
    pub(crate) fn unit_columns(&self) -> Vec<Vec<f64>> {
        let rows = &self.frame.per_unit.row;
        let spread = |column: &Vec<f64>| rows.iter().filter_map(|row| column.get(*row).copied()).collect();
        self.design.x().iter().map(spread).collect()
    }

    /// Values of the variables of a row of the data.
    pub(crate) fn values_of(&self, row: usize) -> Vec<Value> {
        self.frame.data.values.get(row).unwrap_or_default()
    }

    /// The design row and linear predictor of a combination of values at an offset, or at the mean offset; none when it cannot be
    /// estimated.
    pub(crate) fn at_values(&self, values: &[Value], offset: Option<f64>) -> Option<(Vec<f64>, f64)> {
        let row = self.design.row(values)?;
        let eta = offset.unwrap_or(self.offset) + dot(&row, &self.solution.coef);
        Some((row, eta))
    }

    /// The offset of a row of the data; 0 without one.
    pub(crate) fn offset_of(&self, row: usize) -> f64 {
        self.frame.data.offset.get(row).copied().unwrap_or(0.0)
    }

    /// The prior weight of a row of the data; 1 without one.
    pub(crate) fn weight_of(&self, row: usize) -> f64 {
        self.frame.data.weights.get(row).copied().unwrap_or(1.0)
    }

    /// Standard deviation of all random effects together, on the link scale.
    pub(crate) fn total_deviation(&self) -> f64 {
        self.deviations.iter().map(|s| s * s).sum::<f64>().sqrt()
    }
}
