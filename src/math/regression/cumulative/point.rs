//! What one row gives: shares of its grades, and slopes and bends of its likelihood by its predictors.

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

impl Point {
    /// Moves to other predictors; false where these do not fall from cut to cut.
    pub(super) fn set(&mut self, predictors: &[f64]) -> bool {
        for list in [&mut self.above, &mut self.slope, &mut self.gap, &mut self.bend, &mut self.ln_share] {
            list.clear();
        }
        // Of a cut: logarithms of the shares above and below it, from one exponential.
        let mut below = 0.0;
        let mut before: Option<(f64, f64)> = None;
        for e in predictors {
            if !e.is_finite() {
                return false;
            }
            let t = (-e.abs()).exp();
            let near = 1.0 / (1.0 + t);
            let (up, down) = if *e > 0.0 { (near, t * near) } else { (t * near, near) };
            self.above.push(up);
            self.slope.push(up * down);
            let rest = t.ln_1p();
            let (ln_up, ln_down) = (e.min(0.0) - rest, (-e).min(0.0) - rest);
            match before {
                None => self.ln_share.push(ln_down),
                Some((a, ln_above)) => {
                    if a.partial_cmp(e) != Some(std::cmp::Ordering::Greater) {
                        return false;
                    }
                    let ratio = (e - a).exp();
                    // 1 - exp(b - a).
                    let open = -(e - a).exp_m1();
                    self.gap.push(ratio / open);
                    self.bend.push(ratio / (open * open));
                    self.ln_share.push(ln_above + ln_down + open.ln());
                }
            }
            before = Some((*e, ln_up));
            below = ln_up;
        }
        self.ln_share.push(below);
        before.is_some()
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
        let Bends { own, next, shift } = out;
        shift.clear();
        shift.extend(counts.iter().zip(counts.iter().skip(1)).zip(&self.slope).map(|((below, n), f)| f * (below + n)));
        next.clear();
        next.extend(counts.iter().skip(1).zip(&self.bend).map(|(n, bend)| n * bend));
        let up = next.iter().copied().chain([0.0]);
        let down = [0.0].into_iter().chain(next.iter().copied());
        own.clear();
        own.extend(shift.iter().zip(up).zip(down).map(|((own, up), down)| own + up + down));
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
