//! Several linear combinations at once: a quadratic form, and its degrees of freedom.

use super::components::Layers;
use crate::math::dense::{Cholesky, Eigen, add_scaled, dot};

/// A quadratic form of several combinations with their covariance, per combination that counts, to be held against F.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct JointJudged {
    /// `u' V^-1 u / rank`.
    pub statistic: f64,
    /// Number of combinations.
    pub rank: usize,
    /// Degrees of freedom of the error.
    pub df: f64,
}

/// Combinations with values `u`, with `within` their covariance if there were trays alone and `sums` one matrix per layer (as for
/// [`Layers::variance`], with products in place of squares). None when the covariance is singular.
///
/// The form is a sum of squares of directions that the trays and the layers both leave uncorrelated; each has Satterthwaite's degrees of
/// freedom, and those of the form follow from the mean of their F (Fai and Cornelius 1996). In a balanced layout it is the classical F.
#[must_use]
pub fn joint(layers: &Layers, u: &[f64], within: &[Vec<f64>], sums: &[Vec<Vec<f64>>]) -> Option<JointJudged> {
    let q = u.len();
    let factor = Cholesky::new(&layers.covariance(within, sums))?;
    let half = factor.forward(u);
    // Any fixed weights tell the layers apart.
    let told = mixed(layers, (within, sums), |layer| 1.0 / (1.0 + layer as f64));
    let whitened: Vec<Vec<f64>> = {
        let left: Vec<Vec<f64>> = told.iter().map(|row| factor.forward(row)).collect();
        let column = |at: usize| left.iter().filter_map(|row| row.get(at).copied()).collect::<Vec<f64>>();
        (0..q).map(|at| factor.forward(&column(at))).collect()
    };
    let eigen = Eigen::new(&whitened);
    let square = |m: &[Vec<f64>], d: &[f64]| m.iter().zip(d).map(|(row, x)| x * dot(row, d)).sum::<f64>();
    let dofs: Vec<f64> = eigen
        .vectors
        .iter()
        .map(|vector| {
            let direction = factor.backward(vector.clone());
            let sums: Vec<f64> = sums.iter().map(|sum| square(sum, &direction)).collect();
            layers.variance(square(within, &direction), &sums).df
        })
        .collect();
    Some(JointJudged { statistic: dot(&half, &half) / q as f64, rank: q, df: together(&dofs) })
}

/// The sum of the trays' matrix (weighed as layer 0) and those of the layers, each times its variance and a weight.
fn mixed(
    layers: &Layers,
    (within, sums): (&[Vec<f64>], &[Vec<Vec<f64>>]),
    weight: impl Fn(usize) -> f64,
) -> Vec<Vec<f64>> {
    let mut out: Vec<Vec<f64>> =
        within.iter().map(|row| row.iter().map(|x| layers.share_within * weight(0) * x).collect()).collect();
    for (at, (component, sum)) in layers.components.iter().zip(sums).enumerate() {
        let by = layers.share_within * component.parts.ratio * weight(at + 1);
        for (row, more) in out.iter_mut().zip(sum) {
            add_scaled(row, by, more);
        }
    }
    out
}

impl Layers {
    /// The covariance of several combinations, from that if there were trays alone and products by level (as [`joint`] takes them).
    #[must_use]
    pub fn covariance(&self, within: &[Vec<f64>], sums: &[Vec<Vec<f64>>]) -> Vec<Vec<f64>> {
        mixed(self, (within, sums), |_| 1.0)
    }
}

/// Degrees of freedom of a mean of independent F on one and `dofs` degrees of freedom.
fn together(dofs: &[f64]) -> f64 {
    let fewest = dofs.iter().copied().fold(f64::INFINITY, f64::min);
    let most = dofs.iter().copied().fold(0.0, f64::max);
    let q = dofs.len() as f64;
    if fewest <= 2.0 || most - fewest < 1e-6 * fewest {
        return fewest;
    }
    let sum: f64 = dofs.iter().map(|df| df / (df - 2.0)).sum();
    2.0 * sum / (sum - q)
}
