//! One tray's count under a normal effect on the log odds, integrated out.

use super::quadrature::Tray;
use super::tray_terms::TrayTerms;
use crate::math::regression::Link;
use crate::math::special::logit;

/// Distance of nodes: at most so much of the width that the integrand has at its mode, and so much on the log odds. Equal steps then leave no
/// error but rounding: a normal density is exact to 1e-17 with the first, and the logit's nearest pole lies pi away, twelve times the second
/// (Trefethen and Weideman 2014, SIAM Review 56:385-458, section 5).
const OF_WIDTH: f64 = 0.65;
const OF_LOG_ODDS: f64 = 0.25;
/// Nodes end where an integrand is this share of the sum so far.
const GONE: f64 = 1e-16;
/// Nodes on one side at most.
const MOST_STEPS: i32 = 4000;

/// Sums of the integrand and of its derivatives by the log odds `e` and the deviation `s`, in units of the integrand at the first node.
#[derive(Default)]
struct Moments {
    sum: f64,
    e: f64,
    s: f64,
    ee: f64,
    es: f64,
    ss: f64,
}

impl Moments {
    /// Adds the node `u`: first and second derivative of the log-density by the log odds there.
    fn add(&mut self, share: f64, u: f64, [d1, d2]: [f64; 2]) {
        let (first, second) = (share * d1, share * (d2 + d1 * d1));
        self.sum += share;
        self.e += first;
        self.s += u * first;
        self.ee += second;
        self.es += u * second;
        self.ss += u * u * second;
    }

    fn terms(&self, ln_first: f64) -> TrayTerms {
        let share = 1.0 / self.sum;
        let (e, s) = (share * self.e, share * self.s);
        TrayTerms {
            value: ln_first + self.sum.ln(),
            e,
            s,
            ee: share * self.ee - e * e,
            es: share * self.es - e * s,
            ss: share * self.ss - s * s,
        }
    }
}

/// `log integral f(y | eta + s u) phi(u) du` for `y` rooted of `m` (whole numbers), without the binomial coefficient, and its derivatives.
///
/// On evenly spaced nodes the odds grow by one factor from each to the next, and so does what the normal density falls by: a node costs
/// a division and a power, no exponential.
pub(super) fn logit_tray((y, m): (f64, f64), eta: f64, s: f64) -> TrayTerms {
    if s.abs() <= 0.0 {
        let [value, d1, d2] = Link::Logit.density(eta, y, m);
        return TrayTerms { value, e: d1, ee: d2, ss: d2 + d1 * d1, ..TrayTerms::default() };
    }
    let tray = Tray { link: Link::Logit, eta, y, m, s };
    let (u, curvature) = tray.mode(expected(&tray));
    let step = (OF_WIDTH / curvature.sqrt()).min(OF_LOG_ODDS / s.abs());
    let at = (eta + s * u).clamp(-300.0, 300.0);
    let odds = at.exp();
    let slopes = |odds: f64, rest: f64| {
        let mean = odds * rest;
        [y - m * mean, -m * mean * rest]
    };
    let mut all = Moments::default();
    all.add(1.0, u, slopes(odds, 1.0 / (1.0 + odds)));
    for step in [step, -step] {
        let (times, of_rooted) = ((s * step).exp(), (s * step * y / m).exp());
        let (mut normal, normal_falls) = ((-u * step - 0.5 * step * step).exp(), (-step * step).exp());
        let (mut share, mut odds, mut whole) = (1.0, odds, 1.0 + odds);
        for k in 1..=MOST_STEPS {
            odds *= times;
            let rest = 1.0 / (1.0 + odds);
            share *= (of_rooted * whole * rest).powi(m as i32) * normal;
            whole = 1.0 + odds;
            normal *= normal_falls;
            all.add(share, u + f64::from(k) * step, slopes(odds, rest));
            if share.is_nan() || share < GONE * all.sum {
                break;
            }
        }
    }
    let [first, ..] = Link::Logit.density(at, y, m);
    all.terms(first - 0.5 * u * u + step.ln() - 0.5 * (2.0 * std::f64::consts::PI).ln())
}

/// Near the mode of the effect: where the tray's own rate, drawn in a little, pulls it.
fn expected(tray: &Tray) -> f64 {
    let p = (tray.y + 0.5) / (tray.m + 1.0);
    let known = tray.s * tray.m * p * (1.0 - p);
    known * (logit(p) - tray.eta) / (1.0 + tray.s * known)
}

#[cfg(test)]
mod tests {
    use super::super::nodes::Nodes;
    use super::*;
    use approx::abs_diff_eq;

    /// Against the general integral on the finest of its evenly spaced nodes, with exponentials and logarithms at each.
    #[test]
    fn as_the_general_integral() {
        let (rule, mut room) = (Nodes::new(400), Vec::new());
        for m in [1.0, 5.0, 20.0, 60.0, 500.0, 20_000.0] {
            for share in [0.0, 0.05, 0.5, 0.9, 1.0] {
                let y = f64::round(share * m);
                for eta in [-9.0, -2.0, 0.0, 0.7, 4.0] {
                    for s in [1e-6, 0.05, 0.3, 0.9, 2.5, 4.0] {
                        let want = Tray { link: Link::Logit, eta, y, m, s }.element(&rule, &mut 0.0, &mut room, true);
                        let got = logit_tray((y, m), eta, s);
                        let pairs = [
                            (got.value, want.value),
                            (got.e, want.e),
                            (got.s, want.t),
                            (got.ee, want.ee),
                            (got.es, want.et),
                            (got.ss, want.tt),
                        ];
                        for (at, (got, want)) in pairs.into_iter().enumerate() {
                            // Second derivatives are differences of sums as large as squared slopes, by the spread times squared effects.
                            let far = ((eta.abs() + 10.0) / s).min(9.0).powi(2);
                            let size = 1.0 + want.abs() + m * if at < 3 { 1.0 } else { 1.0 + far };
                            assert!(
                                abs_diff_eq!(got, want, epsilon = 1e-11 * size),
                                "{at}: {y} of {m}, {eta}, {s}: {got} {want}"
                            );
                        }
                    }
                }
            }
        }
    }
}
