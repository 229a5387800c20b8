//! How units differ beside what each is uncertain by anyway: an additive spread by moments.

/// What some units say of all like them.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Between {
    /// The mean, units weighted by what they tell.
    pub(crate) mean: f64,
    /// The variance of that mean.
    pub(crate) mean_variance: f64,
    /// The variance between units; 0 where they differ by no more than they are uncertain by.
    pub(crate) square: f64,
    /// The variance that units have by themselves, as it was taken off.
    pub(crate) within: f64,
}

/// The spread between units, each with its value and the variance that it has by itself; None with fewer than two.
///
/// # References
/// `DerSimonian` and Laird 1986, Controlled Clinical Trials 7:177-188.
pub(crate) fn between(units: &[(f64, f64)]) -> Option<Between> {
    let known: Vec<(f64, f64)> = units.iter().copied().filter(|(_, variance)| *variance > 0.0).collect();
    let free = known.len().checked_sub(1).filter(|free| *free > 0)? as f64;
    let weighted = |extra: f64| {
        let each = known.iter().map(|(value, variance)| (value, 1.0 / (variance + extra)));
        each.fold((0.0, 0.0), |(told, sum), (value, weight)| (told + weight, sum + weight * value))
    };
    let (told, sum) = weighted(0.0);
    let mean = sum / told;
    let squares: f64 = known.iter().map(|(_, variance)| variance.powi(-2)).sum();
    let q: f64 = known.iter().map(|(value, variance)| (value - mean).powi(2) / variance).sum();
    let scale = told - squares / told;
    let square = ((q - free) / scale).max(0.0);
    let (told, sum) = weighted(square);
    Some(Between { mean: sum / told, mean_variance: 1.0 / told, square, within: free / scale })
}
