//! The beta-binomial likelihood and its derivatives.

use super::penalty::Penalty;
use super::quadrature::Element;
use super::rho::RhoStatus;
use super::rows::{Table, add_outer, mirror};
use crate::control::{Control, checkpoint};
use crate::error::Result;
use crate::math::dense::add_scaled;
use crate::math::regression::Point as LinkPoint;
use crate::math::search::{Local, Maximum, Objective, maximise};
use crate::math::special::{Rising, RisingSums};

/// `sqrt t` that stands for rho 1 (rho misses it by 1e-12).
const AS_ONE: f64 = 1e6;
/// `sqrt t` below which a rho (then below 1e-10) is at 0.
const AS_ZERO: f64 = 1e-5;

#[derive(Debug, Clone)]
pub(super) struct Likelihood {
    pub(super) table: Table,
    rho_of: Vec<usize>,
    pub(super) n_rho: usize,
    rising: Rising,
    /// Distinct pairs of number stuck and rho, and the pair of each row.
    sizes: Vec<(f64, usize)>,
    size_of: Vec<usize>,
    pub(super) constant: f64,
    pub(super) penalty: Option<Penalty>,
}

/// The log-density of `y` rooted of `m` at a point of the link, with derivatives by the linear predictor and by `t = rho / (1 - rho)`; `whole` are the sums for `m` from 1.
pub(super) fn terms(rising: &Rising, point: &LinkPoint, (y, m, t): (f64, f64, f64), whole: &RisingSums) -> Element {
    let a = rising.sums(y, point.mean, point.ln_mean, t);
    let b = rising.sums(m - y, point.rest, point.ln_rest, t);
    let turn = point.turn();
    let up = point.up * (turn * a.share - point.up * a.share_square);
    let down = point.down * (turn * b.share + point.down * b.share_square);
    Element {
        value: a.ln + b.ln - whole.ln,
        e: point.up * a.share - point.down * b.share,
        ee: up - down,
        t: a.slope + b.slope - whole.slope,
        tt: whole.slope_square - a.slope_square - b.slope_square,
        et: point.down * b.cross - point.up * a.cross,
    }
}

impl Likelihood {
    pub(super) fn new(table: Table, rho_of: &[usize], penalised: bool) -> Self {
        let n = table.rows();
        let rho_of = if rho_of.is_empty() { vec![0; n] } else { rho_of.to_vec() };
        let n_rho = rho_of.iter().max().map_or(1, |largest| largest + 1);
        let counts = table.rooted.iter().zip(&table.stuck);
        let rising = Rising::of(counts.flat_map(|(y, m)| [*y, m - y, *m]));
        let mut keys: Vec<(u64, usize)> = table.stuck.iter().zip(&rho_of).map(|(m, g)| (*m as u64, *g)).collect();
        let all = keys.clone();
        keys.sort_unstable();
        keys.dedup();
        let size_of = all.iter().map(|key| keys.binary_search(key).unwrap_or(0)).collect();
        let sizes = keys.iter().map(|(m, g)| (*m as f64, *g)).collect();
        let constant = table.constant();
        let penalty = penalised.then(|| Penalty::new(&table));
        Self { table, rho_of, n_rho, rising, sizes, size_of, constant, penalty }
    }

    fn theta(&self, at: &[f64], g: usize) -> f64 {
        at.get(self.table.p + g).map_or(0.0, |s| s * s)
    }

    fn terms(&self, i: usize, eta: f64, t: f64, whole: &RisingSums) -> Element {
        let (y, m) =
            (self.table.rooted.get(i).copied().unwrap_or(0.0), self.table.stuck.get(i).copied().unwrap_or(0.0));
        terms(&self.rising, &self.table.link.at(eta), (y, m, t), whole)
    }

    /// Score statistic of each rho at the binomial fit.
    pub(super) fn scores(&self, coef: &[f64]) -> Vec<f64> {
        let eta = self.table.eta(coef);
        let mut sums = vec![(0.0, 0.0); self.n_rho];
        for (i, (eta, g)) in eta.iter().zip(&self.rho_of).enumerate() {
            let (m, _) = self.size_of.get(i).and_then(|k| self.sizes.get(*k)).copied().unwrap_or((0.0, 0));
            let terms = self.terms(i, *eta, 0.0, &self.rising.sums(m, 1.0, 0.0, 0.0));
            let copies = self.table.copies.get(i).copied().unwrap_or(1.0);
            if let Some((score, information)) = sums.get_mut(*g) {
                *score += copies * terms.t;
                // Its expected information at rho 0 for given rates.
                *information += copies * 0.5 * m * (m - 1.0);
            }
        }
        sums.iter()
            .map(|(score, information)| if *information > 0.0 { score / information.sqrt() } else { 0.0 })
            .collect()
    }

    /// What can be said of each rho from the counts alone.
    pub(super) fn statuses(&self) -> Vec<RhoStatus> {
        let mut seen = vec![(false, true); self.n_rho];
        let counts = self.table.rooted.iter().zip(&self.table.stuck).zip(&self.table.copies);
        for (((y, m), copies), g) in counts.zip(&self.rho_of) {
            if let Some((pairs, whole)) = seen.get_mut(*g)
                && *m >= 2.0
                && *copies > 0.0
            {
                *pairs = true;
                *whole &= *y == 0.0 || y == m;
            }
        }
        let status = |seen: &(bool, bool)| match seen {
            (false, _) => RhoStatus::NotEstimable,
            (true, true) => RhoStatus::AtOne,
            (true, false) => RhoStatus::Estimated,
        };
        seen.iter().map(status).collect()
    }

    /// Start values of `sqrt t`, from the Pearson statistic of the binomial fit.
    pub(super) fn starts(&self, pearson: &[f64], statuses: &[RhoStatus]) -> Vec<f64> {
        let start = |(g, status): (usize, &RhoStatus)| match status {
            RhoStatus::NotEstimable | RhoStatus::AtZero => 0.0,
            RhoStatus::AtOne => AS_ONE,
            RhoStatus::Estimated => {
                let of_g = self.rho_of.iter().zip(pearson).zip(&self.table.stuck).zip(&self.table.copies);
                let (mut excess, mut pairs) = (0.0, 0.0);
                for (((of, x2), m), copies) in of_g {
                    if *of == g {
                        excess += copies * (x2 - 1.0);
                        pairs += copies * (m - 1.0).max(0.0);
                    }
                }
                let rho = (excess / pairs).clamp(0.01, 0.5);
                (rho / (1.0 - rho)).sqrt()
            }
        };
        statuses.iter().enumerate().map(start).collect()
    }

    /// Puts every rho that came out at 0 exactly there and fits the rest again.
    pub(super) fn settle(
        &mut self,
        top: Maximum,
        mut free: Vec<usize>,
        mut statuses: Vec<RhoStatus>,
        control: &Control,
    ) -> Result<(Maximum, Vec<usize>, Vec<RhoStatus>)> {
        let (p, mut at, mut moved) = (self.table.p, top.at.clone(), false);
        for (g, status) in statuses.iter_mut().enumerate() {
            let Some(s) = at.get_mut(p + g) else { continue };
            if *status == RhoStatus::Estimated && s.abs() < AS_ZERO {
                (*s, *status, moved) = (0.0, RhoStatus::AtZero, true);
                free.retain(|j| *j != p + g);
            }
        }
        let top = if moved {
            let iterations = top.iterations;
            let mut again = maximise(self, &at, &free, control)?;
            again.iterations += iterations;
            again
        } else {
            top
        };
        Ok((top, free, statuses))
    }

    fn wholes(&self, at: &[f64]) -> Vec<RisingSums> {
        self.sizes.iter().map(|(m, g)| self.rising.sums(*m, 1.0, 0.0, self.theta(at, *g))).collect()
    }
}

impl Objective for Likelihood {
    fn value(&mut self, at: &[f64]) -> f64 {
        let wholes: Vec<f64> =
            self.sizes.iter().map(|(m, g)| self.rising.ln(*m, 1.0, 0.0, self.theta(at, *g))).collect();
        let eta = self.table.eta(at);
        let counts = self.table.rooted.iter().zip(&self.table.stuck).zip(&self.table.copies);
        let mut value = self.constant;
        for (((eta, g), ((y, m), copies)), size) in eta.iter().zip(&self.rho_of).zip(counts).zip(&self.size_of) {
            let (point, t) = (self.table.link.at(*eta), self.theta(at, *g));
            let parts =
                self.rising.ln(*y, point.mean, point.ln_mean, t) + self.rising.ln(m - y, point.rest, point.ln_rest, t);
            value += copies * (parts - wholes.get(*size).copied().unwrap_or(0.0));
        }
        value + self.penalty.as_ref().map_or(0.0, |penalty| penalty.value(&self.table, at))
    }

    fn local(&mut self, at: &[f64]) -> Local {
        let (p, size) = (self.table.p, self.table.p + self.n_rho);
        let (eta, wholes) = (self.table.eta(at), self.wholes(at));
        let (mut value, mut gradient, mut hessian) = (self.constant, vec![0.0; size], vec![vec![0.0; size]; size]);
        for (i, (eta, g)) in eta.iter().zip(&self.rho_of).enumerate() {
            checkpoint();
            let whole = self.size_of.get(i).and_then(|k| wholes.get(*k)).copied().unwrap_or_default();
            let s = at.get(p + g).copied().unwrap_or(0.0);
            let terms = self.terms(i, *eta, s * s, &whole);
            let copies = self.table.copies.get(i).copied().unwrap_or(1.0);
            let row = self.table.row(i);
            value += copies * terms.value;
            add_scaled(&mut gradient, copies * terms.e, row);
            add_outer(&mut hessian, copies * terms.ee, row);
            if let Some(entry) = gradient.get_mut(p + g) {
                *entry += copies * 2.0 * s * terms.t;
            }
            for (line, x) in hessian.iter_mut().zip(row) {
                if let Some(entry) = line.get_mut(p + g) {
                    *entry += copies * 2.0 * s * terms.et * x;
                }
            }
            if let Some(entry) = hessian.get_mut(p + g).and_then(|line| line.get_mut(p + g)) {
                *entry += copies * (2.0 * terms.t + 4.0 * s * s * terms.tt);
            }
        }
        mirror(&mut hessian);
        if let Some(penalty) = &self.penalty {
            value += penalty.add(&self.table, at, &mut gradient);
        }
        Local { value, gradient, hessian }
    }

    fn share(&self, _at: &[f64], step: &[f64]) -> f64 {
        let longest = step.iter().skip(self.table.p).fold(0.0_f64, |a, b| a.max(b.abs()));
        self.table.share(step, 6.0).min(if longest > 1.0 { 1.0 / longest } else { 1.0 })
    }
}
