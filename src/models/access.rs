//! What predictions and checks read of a fit, in one place.

use crate::math::linalg::dot;
use crate::models::fitted::Ready;
use crate::models::values::Value;

impl Ready {
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
