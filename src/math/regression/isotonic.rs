//! Rates that only rise, only fall, or rise and then fall: largest likelihood without any curve.

/// A run of neighbours with one common rate.
#[derive(Debug, Clone, Copy)]
struct Pool {
    rooted: f64,
    stuck: f64,
    members: usize,
}

impl Pool {
    fn rate(self) -> f64 {
        self.rooted / self.stuck
    }
}

/// The rising rates of largest likelihood, by pooling neighbours that fall. Counts need not be whole; `stuck` is above 0.
///
/// # References
/// Ayer M, Brunk HD, Ewing GM, Reid WT, Silverman E (1955), Annals of Mathematical Statistics 26:641-647.
///
/// ```
/// let rates = rootling::math::regression::isotonic::rising(&[2.0, 5.0, 4.0, 9.0], &[10.0; 4]);
/// assert_eq!(rates, [0.2, 0.45, 0.45, 0.9]);
/// ```
#[must_use]
pub fn rising(rooted: &[f64], stuck: &[f64]) -> Vec<f64> {
    let mut pools: Vec<Pool> = Vec::with_capacity(rooted.len());
    for (rooted, stuck) in rooted.iter().zip(stuck) {
        let mut pool = Pool { rooted: *rooted, stuck: *stuck, members: 1 };
        while let Some(last) = pools.last().filter(|last| last.rate() >= pool.rate()) {
            pool = Pool {
                rooted: pool.rooted + last.rooted,
                stuck: pool.stuck + last.stuck,
                members: pool.members + last.members,
            };
            pools.pop();
        }
        pools.push(pool);
    }
    pools.iter().flat_map(|pool| std::iter::repeat_n(pool.rate(), pool.members)).collect()
}

/// The falling rates of largest likelihood.
#[must_use]
pub fn falling(rooted: &[f64], stuck: &[f64]) -> Vec<f64> {
    let back = |values: &[f64]| values.iter().rev().copied().collect::<Vec<_>>();
    back(&rising(&back(rooted), &back(stuck)))
}

/// The rates of largest likelihood among those that rise up to some place and fall from it on, and that place (from 0).
///
/// Every place is tried; the top belongs to the rising side, so falling from the second on holds it apart where it must.
///
/// ```
/// let (rates, top) = rootling::math::regression::isotonic::one_hump(&[2.0, 6.0, 5.0, 8.0, 1.0], &[10.0; 5]);
/// assert_eq!(top, 3);
/// assert_eq!(rates, [0.2, 0.55, 0.55, 0.8, 0.1]);
/// ```
#[must_use]
pub fn one_hump(rooted: &[f64], stuck: &[f64]) -> (Vec<f64>, usize) {
    let mut best = (Vec::new(), 0, f64::NEG_INFINITY);
    for cut in 0..=rooted.len() {
        let ((up_rooted, down_rooted), (up_stuck, down_stuck)) = (split(rooted, cut), split(stuck, cut));
        let mut rates = rising(up_rooted, up_stuck);
        rates.extend(falling(down_rooted, down_stuck));
        let loglik = loglik(rooted, stuck, &rates);
        if loglik > best.2 {
            let top =
                rates.iter().enumerate().fold((0, f64::NEG_INFINITY), |a, b| if *b.1 > a.1 { (b.0, *b.1) } else { a });
            best = (rates, top.0, loglik);
        }
    }
    (best.0, best.1)
}

fn split(values: &[f64], at: usize) -> (&[f64], &[f64]) {
    values.split_at_checked(at).unwrap_or((values, &[]))
}

/// `sum of y ln p + (n - y) ln(1 - p)`; 0 times minus infinity is 0.
#[must_use]
pub fn loglik(rooted: &[f64], stuck: &[f64], rates: &[f64]) -> f64 {
    let part = |count: f64, p: f64| if count <= 0.0 { 0.0 } else { count * p.ln() };
    rooted.iter().zip(stuck).zip(rates).map(|((y, n), p)| part(*y, *p) + part(n - y, 1.0 - p)).sum()
}
