//! Randomisation test of two arms of trays, within strata (blocks, other treatments).

use serde::{Deserialize, Serialize};

use super::dealing::{MOST_ENUMERATED, Urn, Urns, choices};
use super::strata::Stratum;
use crate::control::Control;
use crate::error::Result;

/// The outcome of a randomisation test.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Randomisation {
    /// Two-sided P value: share of assignments at least as far from the expected value as the observed one.
    pub p: f64,
    /// Smallest P value that any outcome could reach with these trays, by the design alone; with drawn assignments not below
    /// one of all draws.
    pub smallest_p: f64,
    /// Smallest P value that any assignment of these very tray rates could reach; above `smallest_p` where rates are tied.
    pub smallest_p_given_rates: f64,
    /// Number of assignments there are (as a float, since it may be huge).
    pub assignments: f64,
    /// Assignments drawn, when not all were enumerated.
    pub drawn: Option<u64>,
    /// Monte Carlo standard error of the P value, when assignments were drawn.
    pub se: Option<f64>,
}

/// Tests whether the second arm's trays differ, by re-dealing the arms within each stratum.
///
/// The statistic is the sum over strata of `w (mean rate second - mean rate first)`, `w = n1 n2 / (n1 + n2)`: the least-squares
/// difference but for a constant. Its distance from its expectation over all assignments is two-sided. Up to
/// [`super::MOST_ENUMERATED`] assignments are enumerated (exact); above, `draws` are drawn from `seed`, and
/// P = (b + 1) / (draws + 1). The result does not depend on the number of threads.
///
/// # Errors
/// [`crate::Error::Interrupted`] when stopped.
///
/// # References
/// Fisher RA (1935), The Design of Experiments; Phipson B, Smyth GK (2010), Stat. Appl. Genet. Mol. Biol. 9:39.
///
/// ```
/// use rootling::compare::{Stratum, randomisation_test};
/// let trays = Stratum { rates: vec![0.1, 0.2, 0.3, 0.7, 0.8, 0.9], second: vec![false, false, false, true, true, true] };
/// let found = randomisation_test(&[trays], 1, 9_999, &rootling::control::Control::new())?;
/// assert_eq!(found.p, 0.1); // 2 of 20 assignments
/// # Ok::<(), rootling::Error>(())
/// ```
pub fn randomisation_test(strata: &[Stratum], seed: u64, draws: u64, control: &Control) -> Result<Randomisation> {
    randomisation_up_to(MOST_ENUMERATED, strata, (seed, draws), control)
}

/// The same where no more than so many assignments are enumerated.
pub(crate) fn randomisation_up_to(
    most: u64,
    strata: &[Stratum],
    (seed, draws): (u64, u64),
    control: &Control,
) -> Result<Randomisation> {
    let urns = Urns::new(strata);
    let assignments = urns.assignments;
    let smallest = (if urns.symmetric && assignments > 1.0 { 2.0 } else { 1.0 }) / assignments;
    let given = smallest_given_rates(&urns);
    let far = urns.observed.rate.abs() - urns.slack;
    if urns.assignments <= most as f64 {
        let sums = urns.enumerate(control)?;
        let count = sums.iter().filter(|sum| sum.rate.abs() >= far).count();
        return Ok(Randomisation {
            p: count as f64 / sums.len() as f64,
            smallest_p: smallest,
            smallest_p_given_rates: given,
            assignments,
            drawn: None,
            se: None,
        });
    }
    let hits: u64 = urns
        .draw((seed, draws), control, |sums| {
            let mut hits = 0_u64;
            for sum in sums {
                hits += u64::from(sum?.rate.abs() >= far);
            }
            Ok(hits)
        })?
        .into_iter()
        .sum();
    let all = (draws + 1) as f64;
    let p = (hits + 1) as f64 / all;
    Ok(Randomisation {
        p,
        smallest_p: smallest.max(1.0 / all),
        smallest_p_given_rates: given.max(1.0 / all),
        assignments,
        drawn: Some(draws),
        se: Some(monte_carlo_error(p, draws)),
    })
}

/// Standard error of a P value from `draws` assignments.
pub(super) fn monte_carlo_error(p: f64, draws: u64) -> f64 {
    (p * (1.0 - p) / draws.max(1) as f64).sqrt()
}

/// The share of assignments at the greatest distance that these rates allow: all high rates in one arm, with ties counted.
fn smallest_given_rates(urns: &Urns) -> f64 {
    let mut ends = [(0.0, 1.0), (0.0, 1.0)];
    for urn in &urns.urns {
        let mut rates: Vec<f64> = urn.pulls.iter().map(|pull| urn.sign * pull.rate).collect();
        rates.sort_by(f64::total_cmp);
        let low = extreme(rates.iter(), urn);
        let high = extreme(rates.iter().rev(), urn);
        for (end, found) in ends.iter_mut().zip([low, high]) {
            *end = (end.0 + found.0, end.1 * found.1);
        }
    }
    let [(low, low_share), (high, high_share)] = ends;
    if high - low <= urns.slack {
        return 1.0;
    }
    let far = high.max(-low) - urns.slack;
    (if high >= far { high_share } else { 0.0 }) + (if -low >= far { low_share } else { 0.0 })
}

/// Sum of the first `take` rates and the share of assignments that have it.
fn extreme<'a>(rates: impl Iterator<Item = &'a f64> + Clone, urn: &Urn) -> (f64, f64) {
    let chosen: Vec<f64> = rates.clone().take(urn.take).copied().collect();
    let last = chosen.last().copied().unwrap_or(0.0);
    #[expect(clippy::float_cmp, reason = "equal rates come from equal numbers and stay equal")]
    let tied = |rate: &&f64| **rate == last;
    let (inside, all) = (chosen.iter().filter(tied).count(), rates.filter(tied).count());
    (chosen.iter().sum(), choices(all, inside) / choices(urn.pulls.len(), urn.take))
}
