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

#[cfg(test)]
mod tests {
    use super::between;

    #[test]
    fn three_like_units_are_worked_out_by_hand() {
        // Values 0, 2, 4, each with variance 1: Q = 8 on 2 degrees of freedom, scale 3 - 3/3 = 2, so 3 between units and 4/3 for their mean.
        let found = between(&[(0.0, 1.0), (2.0, 1.0), (4.0, 1.0)]).unwrap();
        assert!((found.square - 3.0).abs() < 1e-12 && (found.within - 1.0).abs() < 1e-12);
        assert!((found.mean - 2.0).abs() < 1e-12 && (found.mean_variance - 4.0 / 3.0).abs() < 1e-12);
        // Units that differ less than they are uncertain by differ by nothing.
        assert!(between(&[(0.0, 1.0), (0.1, 1.0)]).unwrap().square < 1e-300);
        assert!(between(&[(0.0, 1.0)]).is_none());
    }
}
