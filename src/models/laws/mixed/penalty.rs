//! Jeffreys' penalty on the coefficients, for data that separate.

use super::rows::Table;
use crate::math::dense::{Qr, add_scaled};

/// `0.5 ln |X' W X|` with the binomial weights `W = m p'^2 / (p (1 - p))` at the linear predictor without tray effects.
///
/// It keeps every coefficient finite. Leaving the trays' spread out of `W` makes it the penalty of the binomial model, the same for
/// every description of the trays, so their penalised likelihoods can be compared.
///
/// # References
/// Firth (1993), Biometrika 80:27-38.
#[derive(Debug, Clone)]
pub(super) struct Penalty {
    columns: Vec<Vec<f64>>,
}

impl Penalty {
    pub(super) fn new(table: &Table) -> Self {
        let column = |j: usize| (0..table.rows()).map(|i| table.row(i).get(j).copied().unwrap_or(0.0)).collect();
        Self { columns: (0..table.p).map(column).collect() }
    }

    fn decompose(&self, table: &Table, at: &[f64]) -> (Qr, Vec<f64>) {
        let eta = table.eta(at);
        let counts = table.stuck.iter().zip(&table.copies);
        let points = eta.iter().map(|eta| table.link.at(*eta));
        let (roots, bends): (Vec<f64>, Vec<f64>) =
            points.zip(counts).map(|(point, (m, c))| ((c * m * point.weight()).sqrt(), point.bend)).unzip();
        let weighted: Vec<Vec<f64>> =
            self.columns.iter().map(|column| column.iter().zip(&roots).map(|(x, w)| x * w).collect()).collect();
        (Qr::new(&weighted, 0.0), bends)
    }

    /// The penalty at the coefficients that lead `at`.
    pub(super) fn value(&self, table: &Table, at: &[f64]) -> f64 {
        let qr = self.decompose(table, at).0;
        if qr.rank() < table.p { f64::NEG_INFINITY } else { 0.5 * qr.ln_determinant() }
    }

    /// Adds its gradient `0.5 X' (h w' / w)`, `h` the leverages, and returns its value.
    pub(super) fn add(&self, table: &Table, at: &[f64], gradient: &mut [f64]) -> f64 {
        let (qr, bends) = self.decompose(table, at);
        if qr.rank() < table.p {
            return f64::NEG_INFINITY;
        }
        for (i, (h, bend)) in qr.hat(table.rows()).iter().zip(&bends).enumerate() {
            add_scaled(gradient, 0.5 * h * bend, table.row(i));
        }
        0.5 * qr.ln_determinant()
    }

    /// Adds its second derivatives, from differences of its gradient, to those of a likelihood.
    pub(super) fn add_bends(&self, table: &Table, at: &[f64], hessian: &mut [Vec<f64>]) {
        for j in 0..table.p {
            let slopes = [APART, -APART].map(|by| {
                let (mut moved, mut gradient) = (at.to_vec(), vec![0.0; at.len()]);
                moved.iter_mut().skip(j).take(1).for_each(|x| *x += by);
                self.add(table, &moved, &mut gradient);
                gradient
            });
            let [up, down] = &slopes;
            for (row, (up, down)) in hessian.iter_mut().zip(up.iter().zip(down)) {
                row.iter_mut().skip(j).take(1).for_each(|entry| *entry += (up - down) / (2.0 * APART));
            }
        }
    }
}

/// How far from a point slopes are taken for second derivatives.
const APART: f64 = 1e-4;
