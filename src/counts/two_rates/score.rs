//! Score statistics of two rates under a fixed difference or ratio, as a bounded signed share.
//!
//! With numerator D and its variance V under the constraint, the share is `sign(D) D^2 / (D^2 + z^2 V)`: it is 1/2 exactly
//! where the score statistic is z, stays between -1 and 1, and is 0 where D is 0 even if V is 0 too.

/// Two groups of effective counts.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Pair {
    pub(crate) x1: f64,
    pub(crate) n1: f64,
    pub(crate) x2: f64,
    pub(crate) n2: f64,
}

impl Pair {
    pub(super) fn new(first: crate::Count, second: crate::Count) -> Self {
        Self { x1: first.rooted as f64, n1: first.stuck as f64, x2: second.rooted as f64, n2: second.stuck as f64 }
    }

    /// Miettinen and Nurminen's variance factor `N / (N - 1)`.
    pub(crate) fn variance_factor(self) -> f64 {
        let total = self.n1 + self.n2;
        total / (total - 1.0)
    }

    /// Share for the difference `p1 - p2 = delta`; `reach` is `z^2` times any variance factor.
    pub(super) fn difference_share(self, delta: f64, reach: f64) -> f64 {
        let (off, variance) = self.difference_score(delta);
        share(off, reach * variance)
    }

    /// Numerator of the score statistic for the difference `delta`, and its variance under that difference.
    pub(crate) fn difference_score(self, delta: f64) -> (f64, f64) {
        let p2 = self.second_given_difference(delta);
        let p1 = (p2 + delta).clamp(0.0, 1.0);
        let variance = p1 * (1.0 - p1) / self.n1 + p2 * (1.0 - p2) / self.n2;
        (self.x1 / self.n1 - self.x2 / self.n2 - delta, variance)
    }

    /// The two groups exchanged.
    pub(super) fn turned(self) -> Self {
        Self { x1: self.x2, n1: self.n2, x2: self.x1, n2: self.n1 }
    }

    /// Constrained maximum likelihood rate of the second group: root of a cubic, polished by Newton steps.
    fn second_given_difference(self, delta: f64) -> f64 {
        let (low, high) = ((-delta).max(0.0), (1.0 - delta).min(1.0));
        let (total, rooted) = (self.n1 + self.n2, self.x1 + self.x2);
        let c3 = total;
        let c2 = (self.n1 + 2.0 * self.n2) * delta - total - rooted;
        let c1 = (self.n2 * delta - total - 2.0 * self.x2) * delta + rooted;
        let c0 = self.x2 * delta * (1.0 - delta);
        let third = c2 / (3.0 * c3);
        let q = third.powi(3) - c1 * c2 / (6.0 * c3 * c3) + c0 / (2.0 * c3);
        let size = (third * third - c1 / (3.0 * c3)).max(0.0).sqrt().copysign(q);
        let cosine = if size == 0.0 { 0.0 } else { (q / size.powi(3)).clamp(-1.0, 1.0) };
        let angle = (std::f64::consts::PI + cosine.acos()) / 3.0;
        let mut root = (2.0 * size * angle.cos() - third).clamp(low, high);
        let value = |p: f64| ((c3 * p + c2) * p + c1) * p + c0;
        for _ in 0..3 {
            let slope = (3.0 * c3 * root + 2.0 * c2) * root + c1;
            let next = root - value(root) / slope;
            if !(low..=high).contains(&next) || value(next).abs() >= value(root).abs() {
                break;
            }
            root = next;
        }
        root
    }

    /// Share for the ratio `p1 / p2 = exp(log_ratio)`.
    pub(super) fn ratio_share(self, log_ratio: f64, reach: f64) -> f64 {
        let (off, variance) = self.ratio_score(log_ratio.exp());
        share(off, reach * variance)
    }

    /// Numerator of the score statistic for the ratio, and its variance under that ratio.
    pub(crate) fn ratio_score(self, ratio: f64) -> (f64, f64) {
        let (a, c) = ((self.n1 + self.n2) * ratio, self.x1 + self.x2);
        let b = self.n1 * ratio + self.x1 + self.n2 + self.x2 * ratio;
        let p2 = (2.0 * c / (b + (b * b - 4.0 * a * c).max(0.0).sqrt())).min(1.0);
        let p1 = (ratio * p2).min(1.0);
        let variance = p1 * (1.0 - p1) / self.n1 + ratio * ratio * p2 * (1.0 - p2) / self.n2;
        (self.x1 / self.n1 - ratio * self.x2 / self.n2, variance)
    }
}

/// `sign(off) off^2 / (off^2 + spread)`.
pub(crate) fn share(off: f64, spread: f64) -> f64 {
    if off == 0.0 { 0.0 } else { (off * off / (off * off + spread)).copysign(off) }
}
