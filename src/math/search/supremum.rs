//! The largest value over p of a sum of weighted binomial terms, `P(p) = sum_s w_s p^s (1 - p)^(N - s)` with `w_s >= 0`.
//!
//! With `t = logit p`, `ln P = K(t) - N ln(1 + e^t)` where `K(t) = ln sum_s w_s e^(s t)` is convex: between two points K lies
//! below its chord, which bounds P from above and discards most of the range. What is left is halved until its cells are a
//! sixteenth of a binomial standard deviation wide. Terms smoothed by the binomial cannot rise and fall again within
//! such a cell by more than rounding, so every remaining maximum shows as a change of sign of the slope, where Newton's
//! method finds it. The largest value lies between `first / N` and `last / N`, the first and last s with a weight: outside,
//! the slope `sum - N p` points inwards.

use crate::control::Control;
use crate::error::Result;

const HALVINGS: usize = 4;
const NEGLIGIBLE: f64 = 45.0;
const MOST_STEPS: usize = 80;

/// Where the largest value lies.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Supremum {
    /// ln of the value.
    pub(crate) ln_value: f64,
    /// The p at which it is taken.
    pub(crate) p: f64,
}

/// ln P with its first two derivatives in t.
#[derive(Debug, Clone, Copy)]
struct At {
    t: f64,
    value: f64,
    slope: f64,
    bend: f64,
}

/// The weights as logarithms, minus infinity where there is none; entry s belongs to p^s.
struct Terms<'a> {
    ln_weights: &'a [f64],
    first: usize,
    n: f64,
}

/// The largest value for `ln_weights` of length N + 1; minus infinity when no weight is above 0.
///
/// # Errors
/// [`crate::Error::Interrupted`] when stopped.
pub(crate) fn supremum(ln_weights: &[f64], control: &Control) -> Result<Supremum> {
    let present = |ln: &f64| *ln > f64::NEG_INFINITY;
    let (Some(first), Some(last)) = (ln_weights.iter().position(present), ln_weights.iter().rposition(present)) else {
        return Ok(Supremum { ln_value: f64::NEG_INFINITY, p: 0.5 });
    };
    let n = (ln_weights.len() - 1) as f64;
    let terms = Terms { ln_weights: ln_weights.get(first..=last).unwrap_or_default(), first, n };
    let end = |s: usize| ln_weights.get(s).copied().unwrap_or(f64::NEG_INFINITY);
    let mut best = Supremum { ln_value: f64::NEG_INFINITY, p: 0.5 };
    for (ln_value, p) in [(end(0), 0.0), (end(ln_weights.len() - 1), 1.0)] {
        if ln_value > best.ln_value {
            best = Supremum { ln_value, p };
        }
    }
    if best.ln_value >= 0.0 {
        return Ok(best);
    }
    let mut nodes = Vec::new();
    for t in grid(first as f64 / n, last as f64 / n, n) {
        control.step()?;
        nodes.push(terms.at(t));
    }
    let mut cells: Vec<(At, At)> = nodes.windows(2).filter_map(|two| Some((*two.first()?, *two.last()?))).collect();
    nodes.iter().for_each(|node| raise(&mut best, node));
    for _ in 0..HALVINGS {
        let mut halves = Vec::with_capacity(cells.len());
        for (low, high) in cells {
            if terms.bound(&low, &high) <= best.ln_value {
                continue;
            }
            control.step()?;
            let middle = terms.at(f64::midpoint(low.t, high.t));
            raise(&mut best, &middle);
            halves.extend([(low, middle), (middle, high)]);
        }
        cells = halves;
    }
    for (low, high) in cells {
        if low.slope > 0.0 && high.slope < 0.0 && terms.bound(&low, &high) > best.ln_value {
            control.step()?;
            raise(&mut best, &terms.top(low, high));
        }
    }
    Ok(best)
}

fn raise(best: &mut Supremum, at: &At) {
    if at.value > best.ln_value {
        *best = Supremum { ln_value: at.value, p: crate::math::special::expit(at.t) };
    }
}

/// Logits of points about one binomial standard deviation apart, evenly spaced in arcsin sqrt p.
fn grid(low: f64, high: f64, n: f64) -> Vec<f64> {
    let angle = |p: f64| p.sqrt().min(1.0).asin();
    let margin = 0.25 / n;
    let (from, to) = (angle(low.max(margin)), angle(high.min(1.0 - margin)));
    let cells = (2.0 * (to - from) * n.sqrt()).ceil().max(2.0);
    (0..=cells as usize)
        .map(|i| {
            let at = from + (to - from) * i as f64 / cells;
            2.0 * at.tan().ln()
        })
        .collect()
}

fn softplus(t: f64) -> f64 {
    t.max(0.0) + (-t.abs()).exp().ln_1p()
}

impl Terms<'_> {
    fn at(&self, t: f64) -> At {
        let start = self.first as f64;
        let exponent = |(i, ln): (usize, &f64)| (start + i as f64).mul_add(t, *ln);
        let most = self.ln_weights.iter().enumerate().map(exponent).fold(f64::NEG_INFINITY, f64::max);
        let (mut sum, mut moment, mut square) = (0.0, 0.0, 0.0);
        let n = self.n;
        let centre = n * crate::math::special::expit(t);
        for (i, ln) in self.ln_weights.iter().enumerate() {
            let below = exponent((i, ln)) - most;
            if below > -NEGLIGIBLE {
                let weight = below.exp();
                let off = start + i as f64 - centre;
                sum += weight;
                moment += weight * off;
                square += weight * off * off;
            }
        }
        let slope = moment / sum;
        let p = centre / n;
        At {
            t,
            value: most + sum.ln() - n * softplus(t),
            slope,
            bend: square / sum - slope * slope - centre * (1.0 - p),
        }
    }

    /// Upper bound of ln P between two points, from the chord of K.
    fn bound(&self, low: &At, high: &At) -> f64 {
        let n = self.n;
        let (from, to) = (low.value + n * softplus(low.t), high.value + n * softplus(high.t));
        let rise = (to - from) / (high.t - low.t);
        let share = (rise / n).clamp(1e-300, 1.0 - f64::EPSILON);
        let t = crate::math::special::logit(share).clamp(low.t, high.t);
        from + rise * (t - low.t) - n * softplus(t) + 1e-13 * n.sqrt()
    }

    /// The maximum inside a cell whose slopes point inwards: Newton's method on the slope, kept inside by halving.
    fn top(&self, mut low: At, mut high: At) -> At {
        let mut best = if low.value > high.value { low } else { high };
        for _ in 0..MOST_STEPS {
            let newton = best.t - best.slope / best.bend;
            let inside = best.bend < 0.0 && newton > low.t && newton < high.t;
            let t = if inside { newton } else { f64::midpoint(low.t, high.t) };
            let next = self.at(t);
            if next.slope > 0.0 {
                low = next;
            } else {
                high = next;
            }
            let settled = next.slope * next.slope <= 1e-15 * next.bend.abs() || t == best.t;
            best = next;
            if settled {
                break;
            }
        }
        best
    }
}
