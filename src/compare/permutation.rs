//! Randomisation test of two arms of trays, within strata (blocks, other treatments).

use rayon::prelude::*;
use serde::{Deserialize, Serialize};

use crate::control::Control;
use crate::error::Result;
use crate::math::rng;

/// Most assignments that are enumerated; above it assignments are drawn.
pub const MOST_ENUMERATED: u64 = 1_000_000;

/// One stratum: tray rates, and which trays are in the second arm.
#[derive(Debug, Clone, PartialEq)]
pub struct Stratum {
    /// Take rate per tray.
    pub rates: Vec<f64>,
    /// True for trays of the second arm.
    pub second: Vec<bool>,
}

/// The outcome of a randomisation test.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Randomisation {
    /// Two-sided P value: share of assignments at least as far from the expected value as the observed one.
    pub p_value: f64,
    /// Smallest P value that any outcome could reach with these trays.
    pub smallest_p: f64,
    /// Number of assignments there are (as a float, since it may be huge).
    pub assignments: f64,
    /// Assignments drawn, when not all were enumerated.
    pub drawn: Option<u64>,
}

/// Relative slack within which two statistics count as tied.
const SLACK: f64 = 1e-9;

/// Tests whether the second arm's trays differ, by re-dealing the arms within each stratum.
///
/// The statistic is the sum of tray rates in the second arm; its distance from its expectation over all assignments is
/// two-sided. Up to [`MOST_ENUMERATED`] assignments are enumerated (exact); above, `draws` are drawn from `seed`, and
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
/// assert_eq!(found.p_value, 0.1); // 2 of 20 assignments
/// # Ok::<(), rootling::Error>(())
/// ```
pub fn randomisation_test(strata: &[Stratum], seed: u64, draws: u64, control: &Control) -> Result<Randomisation> {
    let assignments: f64 = strata.iter().map(|one| choices(one.rates.len(), chosen(one))).product();
    let symmetric = strata
        .iter()
        .all(|one| 2 * chosen(one) == one.rates.len() || chosen(one) == 0 || chosen(one) == one.rates.len());
    let smallest_p = (if symmetric && assignments > 1.0 { 2.0 } else { 1.0 }) / assignments;
    let expected: f64 = strata.iter().map(|one| chosen(one) as f64 * mean(&one.rates)).sum();
    let observed: f64 = strata
        .iter()
        .map(|one| one.rates.iter().zip(&one.second).filter(|(_, second)| **second).map(|(rate, _)| rate).sum::<f64>())
        .sum();
    let scale: f64 = strata.iter().flat_map(|one| &one.rates).map(|rate| rate.abs()).sum::<f64>().max(1.0);
    let far = (observed - expected).abs() - SLACK * scale;
    if assignments <= MOST_ENUMERATED as f64 {
        let sums = enumerate(strata, control)?;
        let count = sums.iter().filter(|sum| (*sum - expected).abs() >= far).count();
        let p_value = count as f64 / sums.len() as f64;
        return Ok(Randomisation { p_value, smallest_p, assignments, drawn: None });
    }
    let hits = (0..draws)
        .into_par_iter()
        .map(|replicate| {
            if replicate % 256 == 0 {
                control.step()?;
            }
            let mut random = rng::stream(seed, replicate);
            let sum: f64 = strata.iter().map(|one| draw(one, &mut random)).sum();
            Ok::<u64, crate::Error>(u64::from((sum - expected).abs() >= far))
        })
        .try_reduce(|| 0, |a, b| Ok(a + b))?;
    let p_value = (hits + 1) as f64 / (draws + 1) as f64;
    let smallest_p = smallest_p.max(1.0 / (draws + 1) as f64);
    Ok(Randomisation { p_value, smallest_p, assignments, drawn: Some(draws) })
}

fn chosen(stratum: &Stratum) -> usize {
    stratum.second.iter().filter(|second| **second).count()
}

fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len().max(1) as f64
}

fn choices(n: usize, k: usize) -> f64 {
    let k = k.min(n - k);
    (1..=k).fold(1.0, |product, i| product * (n - k + i) as f64 / i as f64).round()
}

fn enumerate(strata: &[Stratum], control: &Control) -> Result<Vec<f64>> {
    let mut sums = vec![0.0];
    for stratum in strata {
        let parts = subset_sums(&stratum.rates, chosen(stratum));
        let mut next = Vec::with_capacity(sums.len() * parts.len());
        for sum in &sums {
            control.step()?;
            next.extend(parts.iter().map(|part| sum + part));
        }
        sums = next;
    }
    Ok(sums)
}

/// Sums of all subsets of `k` values.
fn subset_sums(values: &[f64], k: usize) -> Vec<f64> {
    fn grow(values: &[f64], k: usize, sum: f64, sums: &mut Vec<f64>) {
        match values.split_first() {
            _ if k == 0 => sums.push(sum),
            Some((first, rest)) if values.len() >= k => {
                grow(rest, k - 1, sum + first, sums);
                grow(rest, k, sum, sums);
            }
            _ => {}
        }
    }
    let mut sums = Vec::new();
    grow(values, k, 0.0, &mut sums);
    sums
}

/// The sum of `k` values drawn without replacement (a partial shuffle).
fn draw(stratum: &Stratum, random: &mut rng::ChaCha8Rng) -> f64 {
    let mut rates = stratum.rates.clone();
    let n = rates.len();
    let mut sum = 0.0;
    for at in 0..chosen(stratum) {
        let pick = at + ((rng::uniform(random) * (n - at) as f64) as usize).min(n - at - 1);
        rates.swap(at, pick);
        sum += rates.get(at).copied().unwrap_or_default();
    }
    sum
}
