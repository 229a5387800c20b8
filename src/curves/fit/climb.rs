//! Searches that do not stay at a spread of 0 where the likelihood rises from there.

use super::beside::{Beside, Rate};
use super::data::Data;
use super::likelihood::add_pseudo;
use crate::control::Control;
use crate::error::Result;
use crate::math::search::{Point, Region, Surface, Top, maximise_within};
use crate::math::special::{expit, logit};

/// Where a search that came to a spread of 0 from above begins again, when the likelihood rises from there.
const LIFTED: f64 = 0.15;

/// As [`maximise_within`]; a search that ends at a spread of 0 where the likelihood rises to both sides begins again above it.
pub(crate) fn climb<F: Surface>(
    f: &mut F,
    start: &[f64],
    (region, spreads): (&Region, &[usize]),
    enough: f64,
    control: &Control,
) -> Result<Top> {
    let mut top = maximise_within(f, start, region, enough, control)?;
    for _ in 0..2 {
        let Some(lifted) = caught_at_zero(&top, (region, spreads)) else { break };
        let mut again = maximise_within(f, &lifted, region, enough, control)?;
        again.iterations += top.iterations;
        if again.local.value <= top.local.value {
            break;
        }
        top = again;
    }
    Ok(top)
}

/// Where a search that ended at a spread of 0 begins again, when the likelihood rises from there to both sides.
pub(super) fn caught_at_zero(top: &Top, (region, spreads): (&Region, &[usize])) -> Option<Vec<f64>> {
    let size = top.at.len();
    let caught = |j: usize| {
        let at_zero = top.at.get(j).is_some_and(|s| *s <= 0.0);
        let bend = top.local.hessian.get(j * size + j);
        at_zero && spreads.contains(&j) && region.free.contains(&j) && bend.is_some_and(|bend| *bend > 0.0)
    };
    let lifted: Vec<f64> = top.at.iter().enumerate().map(|(j, x)| if caught(j) { LIFTED } else { *x }).collect();
    (lifted != top.at).then_some(lifted)
}

/// A rate of its own for every strength, as log odds.
struct Free<'a> {
    beside: &'a Beside,
    data: &'a Data,
    size: usize,
}

impl Surface for Free<'_> {
    fn local(&mut self, at: &[f64], into: &mut Point) {
        into.clear();
        let rate = |level: usize| {
            let p = expit(at.get(level).copied().unwrap_or_default());
            Rate { mean: p, slopes: [p * (1.0 - p), 0.0, 0.0, 0.0, 0.0], map: [level; 5], used: 1 }
        };
        self.beside.add(rate, (at, self.size), into);
        for (j, (level, eta)) in self.data.levels.iter().zip(at).enumerate() {
            let p = expit(*eta);
            add_pseudo(level, (p, &[p * (1.0 - p)]), &[j], into);
        }
    }
}

/// Log-likelihood with a rate of its own for every strength, everything beside it estimated; without binomial coefficients.
pub(super) fn free_loglik(data: &Data, enough: f64, control: &Control) -> Result<f64> {
    const MOST_LOGIT: f64 = 25.0;
    let Some(beside) = &data.beside else { return Ok(data.free_on_counts()) };
    let size = data.levels.len();
    let mut region = Region { low: vec![-MOST_LOGIT; size], high: vec![MOST_LOGIT; size], free: (0..size).collect() };
    beside.extend(&mut region);
    let mut start: Vec<f64> =
        data.levels.iter().map(|level| logit((level.rooted + 0.25) / (level.stuck + 0.5))).collect();
    start.extend(beside.start());
    let spreads: Vec<usize> = beside.spread_at(size).into_iter().collect();
    Ok(climb(&mut Free { beside, data, size }, &start, (&region, &spreads), enough, control)?.local.value)
}
