//! Covariance of weighted least squares that allows for any correlation inside clusters, corrected for few clusters.

use crate::math::dense::{Cholesky, Eigen, NormalMatrix, Qr, combined, dot, trace_of_product};
use crate::math::design::{Entries, add_entries, along, entries_of};
use crate::math::sparse::MANY;

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

/// Rows of a design by their entries other than 0, with what [`ClusteredFit`] has of each.
#[derive(Debug, Clone, Copy)]
pub struct ClusteredRows<'a> {
    /// Number of columns, which are independent of each other.
    pub width: usize,
    /// Entries of each row.
    pub x: &'a [Entries],
    /// Weights above 0.
    pub weights: &'a [f64],
    /// Residuals on the scale of the linear predictor.
    pub residuals: &'a [f64],
    /// Cluster of each row, `0 .. clusters - 1`.
    pub clusters: &'a [usize],
}

/// One cluster. Nothing in it is as wide as the design, so that many clusters of few rows take little room.
#[derive(Debug, Clone, PartialEq)]
struct Part {
    x: Vec<Entries>,
    weights: Vec<f64>,
    /// `A` in rows; it is symmetric.
    adjusted: Vec<Vec<f64>>,
}

impl Part {
    /// `A' W q` of a vector with an entry per row.
    fn pulled(&self, q: impl Iterator<Item = f64>) -> Vec<f64> {
        let weighted: Vec<f64> = self.weights.iter().zip(q).map(|(w, q)| w * q).collect();
        self.adjusted.iter().map(|row| dot(row, &weighted)).collect()
    }

    /// `X' v` by its entries.
    fn gathered(&self, v: &[f64]) -> Entries {
        if let ([x], [v]) = (self.x.as_slice(), v) {
            return x.iter().map(|(at, x)| (*at, x * v)).collect();
        }
        let mut all: Entries =
            self.x.iter().zip(v).flat_map(|(x, v)| x.iter().map(move |(at, x)| (*at, x * v))).collect();
        all.sort_by_key(|(at, _)| *at);
        all.dedup_by(|next, kept| {
            let same = next.0 == kept.0;
            if same {
                kept.1 += next.1;
            }
            same
        });
        all
    }
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
    pub df: f64,
    /// Degrees of freedom of the error.
    pub error_df: f64,
}

/// Eigenvalues below this share of the largest count as 0: the cluster then determines some coefficient by itself.
const SINGULAR: f64 = 1e-10;
/// Sums of products serve while every column keeps this share of its length squared beside the others.
const SAFE_SHARE: f64 = 1e-6;
/// Share of a variance that single clusters determine by themselves, above which it is not known.
const LOST: f64 = 1e-6;

impl ClusterRobust {
    /// `V = M (sum X' W A e e' A' W X) M` over the clusters, with `A = D' B^(-1/2) D`, `B = D (I - H) F (I - H)' D'`, where `F = W^-1` is
    /// the working variance of the cluster, `D` its Cholesky factor, and `H = X M X' W`. If the working model holds, `V` is unbiased.
    ///
    /// # References
    /// Bell and `McCaffrey` (2002), Survey Methodology 28:169-181; Pustejovsky and Tipton (2018), Journal of Business & Economic Statistics
    /// 36:672-683, equations 5 to 7.
    ///
    /// ```
    /// use rootling::math::regression::{ClusterRobust, ClusteredFit};
    /// // Two groups of three, every row its own cluster: the variance of the difference is that of Welch, s1^2/3 + s2^2/3.
    /// let x = [vec![1.0; 6], vec![0.0, 0.0, 0.0, 1.0, 1.0, 1.0]];
    /// let residuals = [-1.0, 0.0, 1.0, -2.0, -1.0, 3.0];
    /// let fit = ClusteredFit { x: &x, weights: &[1.0; 6], residuals: &residuals, clusters: &[0, 1, 2, 3, 4, 5] };
    /// let robust = ClusterRobust::new(&fit);
    /// approx::assert_abs_diff_eq!(robust.covariance()[1][1], 1.0 / 3.0 + 7.0 / 3.0, epsilon = 1e-12);
    /// ```
    #[must_use]
    pub fn new(fit: &ClusteredFit<'_>) -> Self {
        let get = |column: &Vec<f64>, row: usize| column.get(row).copied().unwrap_or(0.0);
        let row = |row: usize| entries_of(&fit.x.iter().map(|column| get(column, row)).collect::<Vec<_>>());
        let x: Vec<Entries> = (0..fit.weights.len()).map(row).collect();
        let &ClusteredFit { weights, residuals, clusters, .. } = fit;
        Self::of_rows(&ClusteredRows { width: fit.x.len(), x: &x, weights, residuals, clusters })
    }

    /// The same from rows by their entries. Room and time grow with the rows and with the square of the columns, not with their product.
    #[must_use]
    pub fn of_rows(fit: &ClusteredRows<'_>) -> Self {
        let bread = bread(fit);
        let count = fit.clusters.iter().max().map_or(0, |last| last + 1);
        let mut members: Vec<Vec<usize>> = vec![Vec::new(); count];
        for (row, cluster) in fit.clusters.iter().enumerate() {
            if let Some(members) = members.get_mut(*cluster) {
                members.push(row);
            }
        }
        let mut meat = vec![vec![0.0; bread.len()]; bread.len()];
        let mut parts = Vec::new();
        for rows in members.iter().filter(|rows| !rows.is_empty()) {
            let get = |values: &[f64], row: &usize| values.get(*row).copied().unwrap_or(0.0);
            let x: Vec<Entries> = rows.iter().filter_map(|row| fit.x.get(*row).cloned()).collect();
            let weights: Vec<f64> = rows.iter().map(|row| get(fit.weights, row)).collect();
            let residuals: Vec<f64> = rows.iter().map(|row| get(fit.residuals, row)).collect();
            let adjusted = adjustment(&x, &weights, &bread);
            let left: Vec<f64> = adjusted.iter().zip(&weights).map(|(a, w)| w * dot(a, &residuals)).collect();
            let part = Part { x, weights, adjusted };
            let score = part.gathered(&left);
            add_outer(&mut meat, &score, &score);
            parts.push(part);
        }
        let covariance = between(&bread, &pressed(&bread, &meat));
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
    pub fn df(&self, contrast: &[f64]) -> Option<f64> {
        let weights = combined(&self.bread, contrast);
        let under_model = dot(contrast, &weights);
        let one = Pulls::new(self, &weights);
        let expected: f64 = one.own(self, &one).iter().zip(one.shared(self, &one)).map(|(a, b)| a - b).sum();
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
        if q == 0 || contrasts.iter().any(|contrast| self.df(contrast).is_none()) {
            return None;
        }
        let within = |v: &[Vec<f64>]| -> Vec<Vec<f64>> {
            let pulled: Vec<Vec<f64>> = contrasts.iter().map(|b| combined(v, b)).collect();
            contrasts.iter().map(|a| pulled.iter().map(|b| dot(a, b)).collect()).collect()
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
                Pulls::new(self, &combined(&self.bread, &contrast))
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
            df: q,
            error_df: left,
        })
    }
}

/// What one combination of the coefficients pulls from every cluster.
struct Pulls {
    /// `v = A' W X M c` of each cluster.
    rows: Vec<Vec<f64>>,
    /// `X' v` of each cluster.
    shifts: Vec<Entries>,
}

impl Pulls {
    fn new(robust: &ClusterRobust, weights: &[f64]) -> Self {
        let rows: Vec<Vec<f64>> =
            robust.parts.iter().map(|part| part.pulled(part.x.iter().map(|x| along(x, weights)))).collect();
        let shifts = robust.parts.iter().zip(&rows).map(|(part, v)| part.gathered(v)).collect();
        Self { rows, shifts }
    }

    /// `v_s' F v_t` of each cluster.
    fn own(&self, robust: &ClusterRobust, other: &Self) -> Vec<f64> {
        let rows = self.rows.iter().zip(&other.rows).zip(&robust.parts);
        rows.map(|((a, b), part)| a.iter().zip(b).zip(&part.weights).map(|((a, b), w)| a * b / w).sum()).collect()
    }

    /// `(X' v_s)' M (X' v_t)` of each cluster.
    fn shared(&self, robust: &ClusterRobust, other: &Self) -> Vec<f64> {
        self.shifts.iter().zip(&other.shifts).map(|(a, b)| form(&robust.bread, a, b)).collect()
    }

    /// `M sum (X' v_s) (X' v_t)'`.
    fn cross(&self, robust: &ClusterRobust, other: &Self) -> Vec<Vec<f64>> {
        let p = robust.bread.len();
        let mut sum = vec![vec![0.0; p]; p];
        self.shifts.iter().zip(&other.shifts).for_each(|(a, b)| add_outer(&mut sum, a, b));
        pressed(&robust.bread, &sum)
    }

    /// `sum_gh P_st[g, h] P_st[h, g]`, where `P_st[g, h]` is `own` (for `g = h`) less `(X' v_s)' M (X' v_t)`.
    fn trace(&self, robust: &ClusterRobust, other: &Self) -> f64 {
        let (own, shared) = (self.own(robust, other), self.shared(robust, other));
        let diagonal: f64 = own.iter().zip(&shared).map(|(a, b)| a * a - 2.0 * a * b).sum();
        let cross = other.cross(robust, self);
        diagonal + trace_of_product(&cross, &cross)
    }

    /// `sum_gh P_ss[g, h] P_tt[g, h]`.
    fn trace_of_both(&self, robust: &ClusterRobust, other: &Self) -> f64 {
        let (own_s, own_t) = (self.own(robust, self), other.own(robust, other));
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

/// `(X' W X)^-1`: from the sums of products where columns are many and keep their digits, from an orthogonal decomposition otherwise.
fn bread(fit: &ClusteredRows<'_>) -> Vec<Vec<f64>> {
    let rows = || fit.x.iter().map(Vec::as_slice);
    if fit.width >= MANY {
        let mut sum = NormalMatrix::zero(fit.width, NormalMatrix::layout(fit.width, rows()).as_ref());
        rows().zip(fit.weights).for_each(|(x, w)| sum.add_square(*w, x));
        if let Some(root) = sum.root().filter(|root| root.smallest_share() > SAFE_SHARE) {
            return root.inverse();
        }
    }
    let mut columns = vec![vec![0.0; fit.x.len()]; fit.width];
    for (row, (x, w)) in rows().zip(fit.weights).enumerate() {
        for (at, x) in x {
            if let Some(slot) = columns.get_mut(*at).and_then(|column| column.get_mut(row)) {
                *slot = x * w.sqrt();
            }
        }
    }
    Qr::new(&columns, 0.0).covariance()
}

/// Adds `a b'` to a matrix.
fn add_outer(sum: &mut [Vec<f64>], a: &[(usize, f64)], b: &[(usize, f64)]) {
    for (at, x) in a {
        if let Some(row) = sum.get_mut(*at) {
            add_entries(row, *x, b);
        }
    }
}

/// `a' M b`.
fn form(m: &[Vec<f64>], a: &[(usize, f64)], b: &[(usize, f64)]) -> f64 {
    a.iter().filter_map(|(at, x)| Some(x * along(b, m.get(*at)?))).sum()
}

/// `M S`, of which most entries of `S` may be 0.
fn pressed(m: &[Vec<f64>], s: &[Vec<f64>]) -> Vec<Vec<f64>> {
    let rows: Vec<Entries> = s.iter().map(|row| entries_of(row)).collect();
    let line = |m: &Vec<f64>| {
        let mut out = vec![0.0; m.len()];
        m.iter().zip(&rows).for_each(|(x, row)| add_entries(&mut out, *x, row));
        out
    };
    m.iter().map(line).collect()
}

/// `A M` of which only the symmetric part counts, for a symmetric `M`.
fn between(m: &[Vec<f64>], a: &[Vec<f64>]) -> Vec<Vec<f64>> {
    let half: Vec<Vec<f64>> =
        a.iter().enumerate().map(|(i, a)| m.iter().take(i + 1).map(|m| dot(a, m)).collect()).collect();
    let at = |i: usize, j: usize| half.get(i.max(j)).and_then(|row| row.get(i.min(j))).copied().unwrap_or(0.0);
    (0..m.len()).map(|i| (0..m.len()).map(|j| at(i, j)).collect()).collect()
}

/// `A = D' B^(-1/2) D` of one cluster, in rows; `D` is diagonal.
fn adjustment(x: &[Entries], weights: &[f64], bread: &[Vec<f64>]) -> Vec<Vec<f64>> {
    let deviations: Vec<f64> = weights.iter().map(|w| (1.0 / w).sqrt()).collect();
    if let ([row], [w]) = (x, weights) {
        let left = 1.0 - w * form(bread, row, row);
        return vec![vec![if left > SINGULAR { 1.0 / left.sqrt() } else { 0.0 }]];
    }
    let n = x.len();
    let entry = |i: usize, j: usize| -> f64 {
        let (Some(a), Some(b), Some(d), Some(e)) = (x.get(i), x.get(j), deviations.get(i), deviations.get(j)) else {
            return 0.0;
        };
        let variance = if i == j { d * d } else { 0.0 };
        d * e * (variance - form(bread, a, b))
    };
    let b: Vec<Vec<f64>> = (0..n).map(|i| (0..n).map(|j| entry(i, j)).collect()).collect();
    let root = Eigen::new(&b).inverse_root(SINGULAR);
    let scale = |(row, d): (Vec<f64>, &f64)| row.iter().zip(&deviations).map(|(value, e)| d * e * value).collect();
    root.into_iter().zip(&deviations).map(scale).collect()
}
