//! Expectations over the studentising scale: E h(q S), with S the square root of chi-squared over its degrees of freedom.
//!
//! Written over ln w with w = q S, the expectation is an integral of a density that moves with ln q times values h(w) that do
//! not. The trapezoidal rule on a fixed lattice in ln w therefore computes each h(w) once, whatever q is asked: a whole
//! quantile search costs hardly more than one value. The rule converges faster than any power of the step, as the integrand
//! is analytic and dies out at both ends.
//!
//! # References
//! Trefethen & Weideman 2014, SIAM Review 56:385-458 (trapezoidal rule); Takahasi & Mori 1974, Publ. RIMS 9:721-741 (the map
//! used for few degrees of freedom, where the integrand fades too slowly towards ln w = -infinity).

use crate::error::Result;
use crate::math::search::brent;
use crate::math::special::stirling_error;
use std::collections::HashMap;

/// Below this many degrees of freedom the lattice lies on the mapped scale.
const MAPPED_BELOW: f64 = 8.0;
/// Lattice step on the mapped scale.
const MAPPED_STEP: f64 = 0.085;
/// Lattice step on the ln scale in standard deviations 1 / sqrt(2 df) of ln S, and at most.
const STEP: f64 = 0.68;
const MOST_STEP: f64 = 0.1;
/// The largest of many values has a tail that is steep in ln w: half its standard deviation over its mean, which for the range
/// of k values is about 0.75 / (1 + 1.4 ln(k / 2)).
const STEP_OF_LARGEST: f64 = 0.4;
/// Terms below this share of the sum are left out.
const NEGLIGIBLE: f64 = 1e-16;
const MOST_TERMS: i32 = 4000;

/// E h(q S) for one h >= 0 that is monotone and log-concave in ln w, as tails are.
pub(crate) struct ChiMixture<H> {
    h: H,
    df: f64,
    /// ln of the constant of the density of ln S.
    constant: f64,
    step: f64,
    /// ln of the centre of the mapped lattice; none on the plain one.
    centre: Option<f64>,
    known: HashMap<i32, f64>,
}

impl<H: FnMut(f64) -> f64> ChiMixture<H> {
    /// `df` > 0, infinity included; `near` is a q of the size that will be asked; h is a tail of the largest of `count` values.
    pub(crate) fn new(df: f64, near: f64, count: f64, h: H) -> Self {
        let mapped = df < MAPPED_BELOW;
        let most = STEP_OF_LARGEST / (1.0 + 1.4 * (0.5 * count).max(1.0).ln());
        Self {
            h,
            df,
            constant: ln_constant(df),
            step: most.min(if mapped { MAPPED_STEP } else { (STEP / (2.0 * df).sqrt()).min(MOST_STEP) }),
            centre: mapped.then(|| near.min(1.0).ln()),
            known: HashMap::new(),
        }
    }

    /// ln w and d ln w / d(lattice coordinate) at a lattice point.
    fn place(&self, index: i32) -> (f64, f64) {
        let t = f64::from(index) * self.step;
        match self.centre {
            None => (t, 1.0),
            Some(centre) => (centre + t - (-t).exp(), 1.0 + (-t).exp()),
        }
    }

    fn term(&mut self, index: i32, ln_q: f64) -> f64 {
        let (ln_w, stretch) = self.place(index);
        let density = (self.constant - 0.5 * self.df * excess(2.0 * (ln_w - ln_q))).exp();
        if density == 0.0 {
            return 0.0;
        }
        let h = &mut self.h;
        density * stretch * *self.known.entry(index).or_insert_with(|| h(ln_w.exp()))
    }

    /// E h(q S) for q = exp(`ln_q`).
    pub(crate) fn value(&mut self, ln_q: f64) -> f64 {
        if self.df == f64::INFINITY {
            return (self.h)(ln_q.exp());
        }
        let mut top = self.start(ln_q);
        let mut most = self.term(top, ln_q);
        // Uphill to the largest term, then down both sides.
        for direction in [-1, 1] {
            for _ in 0..MOST_TERMS {
                let next = self.term(top + direction, ln_q);
                if next <= most {
                    break;
                }
                most = next;
                top += direction;
            }
        }
        let mut sum = most;
        for direction in [-1, 1] {
            for k in 1..MOST_TERMS {
                let term = self.term(top + direction * k, ln_q);
                sum += term;
                if term <= NEGLIGIBLE * sum {
                    break;
                }
            }
        }
        sum * self.step
    }

    /// A lattice point near the largest term: S^2 about df / (df + q^2 / 2).
    fn start(&self, ln_q: f64) -> i32 {
        let ln_w = ln_q - 0.5 * (0.5 * (2.0 * ln_q).exp() / self.df).ln_1p();
        let t = match self.centre {
            None => ln_w,
            Some(centre) => (ln_w - centre).max(-2.0) + 0.5,
        };
        (t / self.step).round() as i32
    }

    /// ln q with E h(q S) = p, from a start; `rising` tells whether h grows.
    ///
    /// # Errors
    /// When no sign change is found within a factor e^300 of the start.
    pub(crate) fn solve(&mut self, p: f64, start: f64, rising: bool) -> Result<f64> {
        let mut found = self.search(p, start, rising)?;
        for _ in 0..8 {
            // A mapped lattice resolves q near its centre and above 1 only.
            let wanted = found.min(0.0);
            if self.centre.is_none_or(|centre| (centre - wanted).abs() < 0.4) {
                break;
            }
            self.centre = Some(wanted);
            self.known.clear();
            found = self.search(p, found, rising)?;
        }
        Ok(found)
    }

    fn search(&mut self, p: f64, start: f64, rising: bool) -> Result<f64> {
        let target = p.ln();
        let sign = if rising { 1.0 } else { -1.0 };
        let mut miss = |x: f64| sign * (self.value(x).max(f64::MIN_POSITIVE).ln() - target);
        let up = miss(start) < 0.0;
        let mut stride = if up { 0.05 } else { -0.05 };
        let (mut from, mut to) = (start, start + stride);
        while (miss(to) < 0.0) == up && stride.abs() < 300.0 {
            stride *= 2.0;
            (from, to) = (to, to + stride);
        }
        brent(miss, from.min(to), from.max(to), 1e-13)
    }
}

/// ln of the density of ln S at 0.
fn ln_constant(df: f64) -> f64 {
    0.5 * (df / std::f64::consts::PI).ln() - stirling_error(0.5 * df)
}

/// ln of the density of ln S at t.
pub(crate) fn ln_scale_density(t: f64, df: f64) -> f64 {
    ln_constant(df) - 0.5 * df * excess(2.0 * t)
}

/// e^x - 1 - x without cancellation.
fn excess(x: f64) -> f64 {
    if x.abs() > 0.1 {
        return x.exp_m1() - x;
    }
    let mut term = 0.5 * x * x;
    let mut sum = term;
    for k in 3..14 {
        term *= x / f64::from(k);
        sum += term;
    }
    sum
}
