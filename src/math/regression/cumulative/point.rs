//! What one row gives: shares of its grades, and slopes and bends of its likelihood by its predictors.

use crate::math::special::expit;

/// Shares and bends of one row at predictors `e_1 > e_2 > ...`, where `P(grade >= j) = F(e_j)` with the logistic `F`.
///
/// A share is `F(a) (1 - F(b)) (1 - exp(b - a))` of the predictors on both sides of its grade, so that its logarithm has slopes and bends
/// without a difference of near numbers, and the bends are those of `F` and of the gap alone.
#[derive(Debug, Clone, Default)]
pub(super) struct Point {
    /// `F(e_j)`.
    pub(super) above: Vec<f64>,
    /// `F (1 - F)` at each cut.
    pub(super) slope: Vec<f64>,
    /// For each grade between two cuts `1 / (exp(a - b) - 1)`.
    gap: Vec<f64>,
    /// And `exp(b - a) / (1 - exp(b - a))^2`.
    pub(super) bend: Vec<f64>,
    /// Logarithm of each grade's share.
    pub(super) ln_share: Vec<f64>,
}

/// `ln F(x)`.
fn ln_expit(x: f64) -> f64 {
    if x > 0.0 { -(-x).exp().ln_1p() } else { x - x.exp().ln_1p() }
}

impl Point {
    /// Moves to other predictors; false where these do not fall from cut to cut.
    pub(super) fn set(&mut self, predictors: &[f64]) -> bool {
        for list in [&mut self.above, &mut self.slope, &mut self.gap, &mut self.bend, &mut self.ln_share] {
            list.clear();
        }
        for e in predictors {
            let (up, down) = (expit(*e), expit(-e));
            self.above.push(up);
            self.slope.push(up * down);
        }
        let (Some(first), Some(last)) = (predictors.first(), predictors.last()) else { return false };
        self.ln_share.push(ln_expit(-first));
        for pair in predictors.windows(2) {
            let &[a, b] = pair else { return false };
            if !(a > b) {
                return false;
            }
            // 1 - exp(b - a).
            let open = -(b - a).exp_m1();
            self.gap.push((b - a).exp() / open);
            self.bend.push((b - a).exp() / (open * open));
            self.ln_share.push(ln_expit(a) + ln_expit(-b) + open.ln());
        }
        self.ln_share.push(ln_expit(*last));
        first.is_finite() && last.is_finite()
    }

    /// Logarithm of the likelihood of counts, without the number of orders.
    pub(super) fn ln_likelihood(&self, counts: &[f64]) -> f64 {
        counts.iter().zip(&self.ln_share).filter(|(n, _)| **n > 0.0).map(|(n, share)| n * share).sum()
    }

    /// Slopes by each predictor.
    pub(super) fn slopes(&self, counts: &[f64], out: &mut Vec<f64>) {
        out.clear();
        let above = counts.iter().skip(1);
        // A grade's gap to the cut above it, and that of the grade below the cut.
        let up = self.gap.iter().copied().chain([0.0]);
        let down = [0.0].into_iter().chain(self.gap.iter().copied());
        for ((((below, n), share), up), down) in counts.iter().zip(above).zip(&self.above).zip(up).zip(down) {
            out.push(n * (1.0 - share + up) - below * (share + down));
        }
    }

    /// Bends downwards by each predictor (`own`), of each with the next (`next`, minus the bend), and by a shift of all (`shift`).
    pub(super) fn bends(&self, counts: &[f64], out: &mut Bends) {
        for list in [&mut out.own, &mut out.next, &mut out.shift] {
            list.clear();
        }
        let above = counts.iter().skip(1);
        for ((below, n), slope) in counts.iter().zip(above).zip(&self.slope) {
            out.shift.push(slope * (below + n));
        }
        for (n, bend) in counts.iter().skip(1).zip(&self.bend) {
            out.next.push(n * bend);
        }
        let up = out.next.iter().copied().chain([0.0]);
        let down = [0.0].into_iter().chain(out.next.iter().copied());
        let own: Vec<f64> = out.shift.iter().zip(up).zip(down).map(|((own, up), down)| own + up + down).collect();
        out.own = own;
    }

    /// Shares of the grades times `n`.
    pub(super) fn expected(&self, n: f64, out: &mut Vec<f64>) {
        out.clear();
        out.extend(self.ln_share.iter().map(|share| n * share.exp()));
    }
}

/// Bends of the logarithm of a row's likelihood, signs turned.
#[derive(Debug, Clone, Default)]
pub(super) struct Bends {
    /// By each predictor.
    pub(super) own: Vec<f64>,
    /// Of each with the next one; the entry of the matrix is minus this.
    pub(super) next: Vec<f64>,
    /// Of each with a shift of all of them: the sum of its row.
    pub(super) shift: Vec<f64>,
}
