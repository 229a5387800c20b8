//! Rates averaged over the other factors, with the gradient that gives their standard errors.

use crate::math::distributions::{normal, student_t};
use crate::math::linalg::{add_scaled, quadratic};
use crate::math::special::{expit, logit};
use crate::models::mixed::marginal_rate;
use crate::models::{Link, Ready, Stratum, Value, Variable};

/// An averaged rate and its derivatives by the coefficients.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Averaged {
    pub(crate) rate: f64,
    pub(crate) gradient: Vec<f64>,
}

impl Averaged {
    /// Binomial standard error times the root of the dispersion.
    pub(crate) fn std_error(&self, covariance: &[Vec<f64>], dispersion: f64) -> f64 {
        (quadratic(covariance, &self.gradient) * dispersion).sqrt()
    }

    /// Limits from the logit of the rate, so that they stay between 0 and 1.
    pub(crate) fn limits(&self, std_error: f64, quantile: f64) -> (f64, f64) {
        let (centre, half) = (logit(self.rate), quantile * std_error / (self.rate * (1.0 - self.rate)));
        (expit(centre - half), expit(centre + half))
    }

    /// `self - other`.
    pub(crate) fn minus(&self, other: &Self) -> Self {
        let mut gradient = self.gradient.clone();
        add_scaled(&mut gradient, -1.0, &other.gradient);
        Self { rate: self.rate - other.rate, gradient }
    }
}

/// The two-sided quantile of a stratum: t with its degrees of freedom, or normal.
pub(crate) fn quantile(stratum: Stratum, level: f64) -> f64 {
    let p = 0.5 + 0.5 * level;
    stratum.dof.map_or_else(|| normal::quantile(p), |dof| student_t::quantile(p, dof))
}

/// Averages the fitted rate over all combinations of the other factors with equal weights, covariates at their mean.
/// None when a combination cannot be estimated.
pub(crate) fn average(ready: &Ready, link: Link, fixed: &[(usize, Value)]) -> Option<Averaged> {
    let mut cells: Vec<Vec<Value>> = vec![Vec::new()];
    for (index, variable) in ready.frame.variables.iter().enumerate() {
        let held = fixed.iter().find(|(v, _)| *v == index).map(|(_, value)| *value);
        let choices = match held {
            Some(value) => vec![value],
            None if variable.is_covariate() => vec![Value::Number(mean(variable))],
            None => (0..variable.levels.len()).map(Value::Level).collect(),
        };
        let extend = |cell: &Vec<Value>| -> Vec<Vec<Value>> {
            choices.iter().map(|choice| [cell.as_slice(), &[*choice]].concat()).collect()
        };
        cells = cells.iter().flat_map(extend).collect();
    }
    let share = 1.0 / cells.len() as f64;
    // With random effects the rate is that over all trays (marginal), and moves with their SDs too.
    let total = ready.deviations.iter().map(|s| s * s).sum::<f64>().sqrt();
    let mut out = Averaged { rate: 0.0, gradient: vec![0.0; ready.design.rank() + ready.deviations.len()] };
    for cell in &cells {
        let row = ready.design.row(cell)?;
        let eta = ready.predictor(&row);
        if total > 0.0 {
            let marginal = marginal_rate(link, eta, total);
            let slopes = row.iter().map(|x| marginal.by_eta * x);
            let tail = ready.deviations.iter().map(|s| marginal.by_deviation * s / total);
            out.rate += share * marginal.rate;
            add_scaled(&mut out.gradient, share, &slopes.chain(tail).collect::<Vec<_>>());
        } else {
            let point = link.at(eta);
            out.rate += share * point.mean;
            add_scaled(&mut out.gradient, share * point.slope(), &row);
        }
    }
    Some(out)
}

fn mean(variable: &Variable) -> f64 {
    variable.values.numbers().iter().sum::<f64>() / variable.values.len().max(1) as f64
}

/// The settings at which an effect's variable is compared: its levels, or a covariate's lowest and highest value (with those
/// between them where it enters as a polynomial).
pub(crate) fn settings(variable: &Variable) -> Vec<Value> {
    if !variable.is_covariate() {
        return (0..variable.levels.len()).map(Value::Level).collect();
    }
    let numbers = || variable.values.numbers().iter().copied();
    let (low, high) = (numbers().fold(f64::INFINITY, f64::min), numbers().fold(f64::NEG_INFINITY, f64::max));
    // A curve may turn in between.
    let steps = if variable.degree > 1 { 20 } else { 1 };
    (0..=steps).map(|step| Value::Number(low + (high - low) * f64::from(step) / f64::from(steps))).collect()
}
