//! Dealing trays to arms anew: counting, enumerating and drawing assignments.

use rayon::prelude::*;

use super::strata::Stratum;
use crate::control::Control;
use crate::error::Result;
use crate::math::rng::{self, ChaCha8Rng};

/// Most assignments that are enumerated; above it assignments are drawn.
pub const MOST_ENUMERATED: u64 = 1_000_000;

/// Most trays that an answer deals anew unasked: with more the randomisation test says what t and F say, and takes seconds.
pub(crate) const MOST_DEALT: usize = 1000;

/// Draws that share one random stream; fixed, so that results do not depend on threads.
const CHUNK: u64 = 1024;

/// Trays dealt between two looks at the stop signal.
const LOOK_EVERY: usize = 200_000;

/// What a tray adds to the arm it is dealt to: its rate, and 1 if it was there from the start; both less their mean in the
/// stratum, so that all assignments average to 0.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(super) struct Pull {
    pub(super) rate: f64,
    pub(super) own: f64,
}

impl Pull {
    #[inline]
    fn plus(self, other: Self) -> Self {
        Self { rate: self.rate + other.rate, own: self.own + other.own }
    }

    fn times(self, by: f64) -> Self {
        Self { rate: by * self.rate, own: by * self.own }
    }
}

/// One stratum ready for dealing: of its trays `take` are drawn for the smaller arm.
#[derive(Debug, Clone)]
pub(super) struct Urn {
    pub(super) pulls: Vec<Pull>,
    pub(super) take: usize,
    /// -1 when the smaller arm is the first.
    pub(super) sign: f64,
}

/// The strata in which there is something to deal.
#[derive(Debug, Clone)]
pub(super) struct Urns {
    pub(super) urns: Vec<Urn>,
    /// Number of assignments.
    pub(super) assignments: f64,
    /// The observed sums.
    pub(super) observed: Pull,
    /// Differences of `rate` below this are rounding.
    pub(super) slack: f64,
    /// True when both arms have equally many trays in every stratum.
    pub(super) symmetric: bool,
}

/// Number of ways to choose `k` of `n`, as a float.
pub(super) fn choices(n: usize, k: usize) -> f64 {
    let k = k.min(n.saturating_sub(k));
    (1..=k).fold(1.0, |product, i| product * (n - k + i) as f64 / i as f64).round()
}

pub(super) fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len().max(1) as f64
}

impl Urns {
    pub(super) fn new(strata: &[Stratum]) -> Self {
        let mut made =
            Self { urns: Vec::new(), assignments: 1.0, observed: Pull::default(), slack: 0.0, symmetric: true };
        for stratum in strata {
            let n = stratum.rates.len().min(stratum.second.len());
            let second = stratum.second.iter().take(n).filter(|second| **second).count();
            if second == 0 || second == n {
                continue;
            }
            let (middle, share) = (mean(&stratum.rates), second as f64 / n as f64);
            let pulls: Vec<Pull> = stratum
                .rates
                .iter()
                .zip(&stratum.second)
                .map(|(rate, second)| Pull { rate: rate - middle, own: f64::from(u8::from(*second)) - share })
                .collect();
            let there = pulls.iter().zip(&stratum.second).filter(|(_, second)| **second).map(|(pull, _)| *pull);
            made.observed = there.fold(made.observed, Pull::plus);
            made.assignments *= choices(n, second);
            made.slack += pulls.iter().map(|pull| pull.rate.abs()).sum::<f64>();
            made.symmetric &= 2 * second == n;
            let flipped = 2 * second > n;
            made.urns.push(Urn {
                pulls,
                take: if flipped { n - second } else { second },
                sign: if flipped { -1.0 } else { 1.0 },
            });
        }
        // Sums of the same trays in another order differ by far less than this.
        made.slack *= 1e-12;
        made
    }

    pub(super) fn enumerable(&self) -> bool {
        self.assignments <= MOST_ENUMERATED as f64
    }

    /// The sums of the second arm in every assignment.
    pub(super) fn enumerate(&self, control: &Control) -> Result<Vec<Pull>> {
        let mut sums = vec![Pull::default()];
        for urn in &self.urns {
            let mut parts = Vec::new();
            subsets(&urn.pulls, urn.take, Pull::default(), &mut parts);
            let mut next = Vec::with_capacity(sums.len() * parts.len());
            for sum in &sums {
                control.step()?;
                next.extend(parts.iter().map(|part| sum.plus(part.times(urn.sign))));
            }
            sums = next;
        }
        Ok(sums)
    }

    /// `gather` of the sums of `draws` drawn assignments, in an order that does not depend on threads.
    pub(super) fn draw<T: Send>(
        &self,
        (seed, draws): (u64, u64),
        control: &Control,
        gather: impl Fn(&mut dyn Iterator<Item = Result<Pull>>) -> Result<T> + Sync,
    ) -> Result<Vec<T>> {
        let trays: usize = self.urns.iter().map(|urn| urn.take).sum();
        control.expect(draws);
        (0..draws.div_ceil(CHUNK))
            .into_par_iter()
            .map(|chunk| {
                let mut random = rng::stream(seed, chunk);
                let mut urns = self.urns.clone();
                let mut dealt = LOOK_EVERY;
                let size = CHUNK.min(draws - chunk * CHUNK);
                let mut sums = (0..size).map(|_| {
                    dealt += trays;
                    if dealt > LOOK_EVERY {
                        dealt = 0;
                        control.step()?;
                    }
                    Ok(urns.iter_mut().map(|urn| urn.draw(&mut random)).fold(Pull::default(), Pull::plus))
                });
                let found = gather(&mut sums);
                control.finish(size);
                found
            })
            .collect()
    }
}

impl Urn {
    #[inline]
    fn draw(&mut self, random: &mut ChaCha8Rng) -> Pull {
        rng::deal(random, &mut self.pulls, self.take);
        self.pulls.iter().take(self.take).fold(Pull::default(), |sum, one| sum.plus(*one)).times(self.sign)
    }
}

/// Sums of all subsets of `take` entries; as deep as `take`, which is small where enumeration is possible.
fn subsets(pulls: &[Pull], take: usize, sum: Pull, found: &mut Vec<Pull>) {
    if take == 0 {
        found.push(sum);
        return;
    }
    let mut rest = pulls;
    while let Some((first, others)) = rest.split_first().filter(|_| rest.len() >= take) {
        subsets(others, take - 1, sum.plus(*first), found);
        rest = others;
    }
}
