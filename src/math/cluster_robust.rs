//! Covariance of weighted least squares that allows for any correlation inside clusters, corrected for few clusters.

use super::cholesky::Cholesky;
use super::linalg::{Qr, add_scaled, dot, quadratic};
use super::symmetric::{Eigen, apply, product, trace_of_product};

/// What was fitted: residuals of a linear (or linearised) regression whose weights are the inverse variances of a working model that takes
/// rows as independent.
#[derive(Debug, Clone, Copy)]
pub struct ClusteredFit<'a> {
    /// Design columns of length `n`, independent of each other.
    pub x: &'a [Vec<f64>],
    /// Weights above 0.
    pub weights: &'a [f64],
    /// Residuals on the scale of the linear predictor.
    pub residuals: &'a [f64],
    /// Cluster of each row, `0 .. clusters - 1`.
    pub clusters: &'a [usize],
}

/// The parts of one cluster.
#[derive(Debug, Clone, PartialEq)]
struct Part {
    /// `X' W A e`.
    score: Vec<f64>,
    /// `X' A' W X`, in rows.
    shift: Vec<Vec<f64>>,
    /// `X' W A F A' W X` with the working variance `F`, in rows.
    spread: Vec<Vec<f64>>,
}

/// The covariance CR2 with what its degrees of freedom need.
#[derive(Debug, Clone, PartialEq)]
pub struct ClusterRobust {
    /// `M = (X' W X)^-1`, in rows.
    bread: Vec<Vec<f64>>,
    parts: Vec<Part>,
    covariance: Vec<Vec<f64>>,
}

/// A test that several combinations of the coefficients are 0.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct JointTest {
    /// F.
    pub statistic: f64,
    /// Combinations.
    pub dof: f64,
    /// Degrees of freedom of the error.
    pub dof_denominator: f64,
}

/// Eigenvalues below this share of the largest count as 0: the cluster then determines some coefficient by itself.
const SINGULAR: f64 = 1e-10;
/// Share of a variance that single clusters determine by themselves, above which it is not known.
const LOST: f64 = 1e-6;

impl ClusterRobust {
    /// `V = M (sum X' W A e e' A' W X) M` over the clusters, with `A = D' B^(-1/2) D`, `B = D (I - H) F (I - H)' D'`, where `F = W^-1` is
    /// the working variance of the cluster, `D` its Cholesky factor, and `H = X M X' W`. If the working model holds, `V` is unbiased.
    ///
    /// # References
    /// Bell and McCaffrey (2002), Survey Methodology 28:169-181; Pustejovsky and Tipton (2018), Journal of Business & Economic Statistics
    /// 36:672-683, equations 5 to 7.
    ///
    /// ```
    /// use rootling::math::cluster_robust::{ClusterRobust, ClusteredFit};
    /// // Two groups of three, every row its own cluster: the variance of the difference is that of Welch, s1^2/3 + s2^2/3.
    /// let x = [vec![1.0; 6], vec![0.0, 0.0, 0.0, 1.0, 1.0, 1.0]];
    /// let residuals = [-1.0, 0.0, 1.0, -2.0, -1.0, 3.0];
    /// let fit = ClusteredFit { x: &x, weights: &[1.0; 6], residuals: &residuals, clusters: &[0, 1, 2, 3, 4, 5] };
    /// let robust = ClusterRobust::new(&fit);
    /// assert!((robust.covariance()[1][1] - (1.0 / 3.0 + 7.0 / 3.0)).abs() < 1e-12);
    /// ```
    #[must_use]
    pub fn new(fit: &ClusteredFit<'_>) -> Self {
        let root = |column: &Vec<f64>| column.iter().zip(fit.weights).map(|(x, w)| x * w.sqrt()).collect();
        let bread = Qr::new(&fit.x.iter().map(root).collect::<Vec<_>>(), 0.0).covariance();
        let count = fit.clusters.iter().max().map_or(0, |last| last + 1);
        let mut members: Vec<Vec<usize>> = vec![Vec::new(); count];
        for (row, cluster) in fit.clusters.iter().enumerate() {
            if let Some(members) = members.get_mut(*cluster) {
                members.push(row);
            }
        }
        let parts: Vec<Part> =
            members.iter().filter(|rows| !rows.is_empty()).map(|rows| part(fit, &bread, rows)).collect();
        let mut covariance = vec![vec![0.0; bread.len()]; bread.len()];
        for part in &parts {
            let pull = apply(&bread, &part.score);
            for (row, x) in covariance.iter_mut().zip(&pull) {
                add_scaled(row, *x, &pull);
            }
        }
        Self { bread, parts, covariance }
    }

    /// The covariance of the coefficients, in rows.
    #[must_use]
    pub fn covariance(&self) -> &[Vec<f64>] {
        &self.covariance
    }

    /// Number of clusters.
    #[must_use]
    pub fn clusters(&self) -> usize {
        self.parts.len()
    }

    /// Satterthwaite's degrees of freedom of the variance of `contrast . b`, `tr(P)^2 / tr(P P)`; none where clusters that determine a
    /// coefficient by themselves leave the variance unknown.
    #[must_use]
    pub fn dof(&self, contrast: &[f64]) -> Option<f64> {
        let weights = apply(&self.bread, contrast);
        let under_model = dot(contrast, &weights);
        let one = Pulls::new(self, &weights);
        let expected: f64 = one.own(&one).iter().zip(one.shared(self, &one)).map(|(a, b)| a - b).sum();
        if under_model <= 0.0 || expected < (1.0 - LOST) * under_model {
            return None;
        }
        Some(expected * expected / one.trace(self, &one))
    }

    /// Tests that all `contrasts . b`, with these estimates, are 0: Hotelling's T2 of the estimates by this covariance, as
    /// `F = (eta - q + 1) / (eta q) T2` on `q` and `eta - q + 1` degrees of freedom. None where a variance is not known or `eta` is too small.
    ///
    /// # References
    /// Pustejovsky and Tipton (2018), section 3.2; Zhang (2012), Computational Statistics 27:283-297.
    #[must_use]
    pub fn joint_test(&self, contrasts: &[Vec<f64>], estimates: &[f64]) -> Option<JointTest> {
        let q = contrasts.len();
        if q == 0 || contrasts.iter().any(|contrast| self.dof(contrast).is_none()) {
            return None;
        }
        let within = |v: &[Vec<f64>]| -> Vec<Vec<f64>> {
            contrasts.iter().map(|a| contrasts.iter().map(|b| dot(a, &apply(v, b))).collect()).collect()
        };
        let hotelling = dot(estimates, &Cholesky::new(&within(&self.covariance))?.solve(estimates));
        // Combinations that are independent with variance 1 under the working model.
        let root = Cholesky::new(&within(&self.bread))?;
        let columns = contrasts.first()?.len();
        let turned: Vec<Vec<f64>> = (0..columns)
            .map(|j| root.forward(&contrasts.iter().map(|c| c.get(j).copied().unwrap_or(0.0)).collect::<Vec<_>>()))
            .collect();
        let pulls: Vec<Pulls> = (0..q)
            .map(|s| {
                let contrast: Vec<f64> = turned.iter().map(|c| c.get(s).copied().unwrap_or(0.0)).collect();
                Pulls::new(self, &apply(&self.bread, &contrast))
            })
            .collect();
        let mut variances = 0.0;
        for s in &pulls {
            for t in &pulls {
                variances += s.trace(self, t) + s.trace_of_both(self, t);
            }
        }
        let q = q as f64;
        let eta = q * (q + 1.0) / variances;
        let left = eta - q + 1.0;
        (left > 0.0 && hotelling.is_finite()).then(|| JointTest {
            statistic: left / (eta * q) * hotelling,
            dof: q,
            dof_denominator: left,
        })
    }
}

/// What one combination of the coefficients pulls from every cluster.
struct Pulls {
    /// `X' v`, `v = A' W X M c`.
    shifts: Vec<Vec<f64>>,
    /// `M c`.
    weights: Vec<f64>,
    /// `X' W A F A' W X M c`.
    spreads: Vec<Vec<f64>>,
}

impl Pulls {
    fn new(robust: &ClusterRobust, weights: &[f64]) -> Self {
        Self {
            shifts: robust.parts.iter().map(|part| apply(&part.shift, weights)).collect(),
            weights: weights.to_vec(),
            spreads: robust.parts.iter().map(|part| apply(&part.spread, weights)).collect(),
        }
    }

    /// `v_s' F v_t` of each cluster.
    fn own(&self, other: &Self) -> Vec<f64> {
        self.spreads.iter().map(|spread| dot(spread, &other.weights)).collect()
    }

    /// `(X' v_s)' M (X' v_t)` of each cluster.
    fn shared(&self, robust: &ClusterRobust, other: &Self) -> Vec<f64> {
        self.shifts.iter().zip(&other.shifts).map(|(a, b)| dot(a, &apply(&robust.bread, b))).collect()
    }

    /// `M sum (X' v_s) (X' v_t)'`.
    fn cross(&self, robust: &ClusterRobust, other: &Self) -> Vec<Vec<f64>> {
        let p = robust.bread.len();
        let mut sum = vec![vec![0.0; p]; p];
        for (a, b) in self.shifts.iter().zip(&other.shifts) {
            for (row, x) in sum.iter_mut().zip(a) {
                add_scaled(row, *x, b);
            }
        }
        product(&robust.bread, &sum)
    }

    /// `sum_gh P_st[g, h] P_st[h, g]`, where `P_st[g, h]` is `own` (for `g = h`) less `(X' v_s)' M (X' v_t)`.
    fn trace(&self, robust: &ClusterRobust, other: &Self) -> f64 {
        let (own, shared) = (self.own(other), self.shared(robust, other));
        let diagonal: f64 = own.iter().zip(&shared).map(|(a, b)| a * a - 2.0 * a * b).sum();
        let cross = other.cross(robust, self);
        diagonal + trace_of_product(&cross, &cross)
    }

    /// `sum_gh P_ss[g, h] P_tt[g, h]`.
    fn trace_of_both(&self, robust: &ClusterRobust, other: &Self) -> f64 {
        let (own_s, own_t) = (self.own(self), other.own(other));
        let (shared_s, shared_t) = (self.shared(robust, self), other.shared(robust, other));
        let diagonal: f64 = own_s
            .iter()
            .zip(&own_t)
            .zip(shared_s.iter().zip(&shared_t))
            .map(|((a, b), (c, d))| a * b - a * d - b * c)
            .sum();
        diagonal + trace_of_product(&self.cross(robust, other), &other.cross(robust, self))
    }
}

fn part(fit: &ClusteredFit<'_>, bread: &[Vec<f64>], rows: &[usize]) -> Part {
    let get = |values: &[f64], row: usize| values.get(row).copied().unwrap_or(0.0);
    let x: Vec<Vec<f64>> = rows.iter().map(|row| fit.x.iter().map(|column| get(column, *row)).collect()).collect();
    let weights: Vec<f64> = rows.iter().map(|row| get(fit.weights, *row)).collect();
    let residuals: Vec<f64> = rows.iter().map(|row| get(fit.residuals, *row)).collect();
    let adjusted = adjustment(&x, &weights, bread);
    let p = bread.len();
    let (mut score, mut shift, mut spread) = (vec![0.0; p], vec![vec![0.0; p]; p], vec![vec![0.0; p]; p]);
    // `adjusted` is A in rows; it is symmetric.
    for ((a, w), x_row) in adjusted.iter().zip(&weights).zip(&x) {
        let fitted = dot(a, &residuals);
        add_scaled(&mut score, w * fitted, x_row);
        for (entry, x_other) in a.iter().zip(&x) {
            let scale = entry * w;
            for (line, value) in shift.iter_mut().zip(x_other) {
                add_scaled(line, scale * value, x_row);
            }
        }
    }
    // X' W A F A' W X = sum over rows k of F_k (A' W X)_k (A' W X)_k'.
    for (k, w_k) in weights.iter().enumerate() {
        let mut line = vec![0.0; p];
        for ((a, w), x_row) in adjusted.iter().zip(&weights).zip(&x) {
            add_scaled(&mut line, w * get(a, k), x_row);
        }
        let variance = 1.0 / w_k;
        for (row, value) in spread.iter_mut().zip(&line) {
            add_scaled(row, variance * value, &line);
        }
    }
    Part { score, shift, spread }
}

/// `A = D' B^(-1/2) D` of one cluster, in rows; `D` is diagonal.
fn adjustment(x: &[Vec<f64>], weights: &[f64], bread: &[Vec<f64>]) -> Vec<Vec<f64>> {
    let deviations: Vec<f64> = weights.iter().map(|w| (1.0 / w).sqrt()).collect();
    if let ([row], [w]) = (x, weights) {
        let left = 1.0 - w * quadratic(bread, row);
        return vec![vec![if left > SINGULAR { 1.0 / left.sqrt() } else { 0.0 }]];
    }
    let pulled: Vec<Vec<f64>> = x.iter().map(|row| apply(bread, row)).collect();
    let entry = |i: usize, j: usize| -> f64 {
        let (Some(a), Some(b), Some(d), Some(e)) = (x.get(i), pulled.get(j), deviations.get(i), deviations.get(j))
        else {
            return 0.0;
        };
        let variance = if i == j { d * d } else { 0.0 };
        d * e * (variance - dot(a, b))
    };
    let n = x.len();
    let b: Vec<Vec<f64>> = (0..n).map(|i| (0..n).map(|j| entry(i, j)).collect()).collect();
    let root = Eigen::new(&b).inverse_root(SINGULAR);
    let scale = |(row, d): (Vec<f64>, &f64)| row.iter().zip(&deviations).map(|(value, e)| d * e * value).collect();
    root.into_iter().zip(&deviations).map(scale).collect()
}
