//! What predictions and checks read of a fit, in one place.

use crate::math::linalg::dot;
use crate::models::fitted::Ready;
use crate::models::terms::Value;

impl Ready {
    /// Row of the design matrix.
    pub(crate) fn design_row(&self, row: usize) -> Vec<f64> {
        self.design.x.iter().map(|column| column.get(row).copied().unwrap_or(0.0)).collect()
    }

    /// The columns of the design, one entry per unit.
    pub(crate) fn unit_columns(&self) -> Vec<Vec<f64>> {
        let rows = &self.frame.per_unit.row;
        let spread = |column: &Vec<f64>| rows.iter().filter_map(|row| column.get(*row).copied()).collect();
        self.design.x.iter().map(spread).collect()
    }

    /// Values of the variables of a row of the data.
    pub(crate) fn values_of(&self, row: usize) -> Vec<Value> {
        self.frame.data.values.get(row).cloned().unwrap_or_default()
    }

    /// The design row and linear predictor of a combination of values; none when it cannot be estimated.
    pub(crate) fn at_values(&self, values: &[Value]) -> Option<(Vec<f64>, f64)> {
        let row = self.design.row(values)?;
        let eta = dot(&row, &self.solution.coef);
        Some((row, eta))
    }

    /// Standard deviation of all random effects together, on the link scale.
    pub(crate) fn total_deviation(&self) -> f64 {
        self.deviations.iter().map(|s| s * s).sum::<f64>().sqrt()
    }
}
