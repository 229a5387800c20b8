//! What of a raw difference between two stretches of time is the mix of what was set.

use serde::{Deserialize, Serialize};

use crate::counts::{Cells, parts};
use crate::math::distributions::student_t;
use crate::watch::crop::{Batch, Grouping};

/// The parts of a raw difference, as differences of rates; they add up.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct MixChange {
    /// Raw rate of the earlier batches.
    pub before: f64,
    /// Raw rate of the later ones.
    pub after: f64,
    /// Later minus earlier.
    pub value: f64,
    /// What the rates of like batches add.
    pub rates: f64,
    /// Standard error of that, by set weeks.
    pub rates_se: Option<f64>,
    /// Its limits.
    pub low: Option<f64>,
    /// Upper limit.
    pub high: Option<f64>,
    /// Degrees of freedom.
    pub df: Option<f64>,
    /// What the mix adds, column by column.
    pub mix: Vec<MixPart>,
    /// What batches add whose like only one of the two has.
    pub without_partner: f64,
    /// Share of the plants in batches that both have.
    pub overlap: f64,
    /// Batches, earlier and later.
    pub n_batches: (u64, u64),
    /// Confidence of the limits.
    pub confidence: f64,
}

/// What the mix of one column adds.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct MixPart {
    /// The column.
    pub grouping: String,
    /// What it adds.
    pub value: f64,
}

fn cells(batches: &[&Batch]) -> Cells {
    let mut cells = Cells::new();
    for batch in batches {
        let cell = cells.entry(batch.levels.clone()).or_insert((0.0, 0.0));
        cell.0 += batch.started as f64;
        cell.1 += batch.alive as f64;
    }
    cells
}

/// Takes the difference apart; None where the two have nothing in common.
pub(crate) fn mixed(before: &[&Batch], after: &[&Batch], groupings: &[Grouping], confidence: f64) -> Option<MixChange> {
    let (one, two) = (cells(before), cells(after));
    let found = parts(&one, &two, groupings.len())?;
    let error = error(&[(before, &one, &two), (after, &two, &one)]);
    let reach = error.map(|(se, df)| (se, df, -student_t::quantile(0.5 * (1.0 - confidence), df) * se));
    Some(MixChange {
        before: found.raw.0,
        after: found.raw.1,
        value: found.raw.1 - found.raw.0,
        rates: found.rates,
        rates_se: reach.map(|(se, _, _)| se),
        low: reach.map(|(_, _, reach)| found.rates - reach),
        high: reach.map(|(_, _, reach)| found.rates + reach),
        df: reach.map(|(_, df, _)| df),
        mix: groupings
            .iter()
            .zip(&found.mix)
            .map(|(of, value)| MixPart { grouping: of.name.clone(), value: *value })
            .collect(),
        without_partner: found.without_partner,
        overlap: found.overlap,
        n_batches: (before.len() as u64, after.len() as u64),
        confidence,
    })
}

/// A batch that leaves less than this of its cell to others is alone in it.
const ALONE: f64 = 1e-9;

/// Standard error of the rates' part and its degrees of freedom: residuals of batches from the rate of their cell, weighted as the part is,
/// summed over set weeks, which are the units. A residual is divided by the root of the share that its cell leaves it (`MacKinnon` and White
/// 1985); a cell of one batch leaves it nothing, and what it adds is taken to be as large as what the others do for their weight. None with
/// fewer than two weeks, or two batches more than cells.
fn error(stretches: &[(&[&Batch], &Cells, &Cells); 2]) -> Option<(f64, f64)> {
    let (mut variance, mut df) = (0.0, 0.0);
    for (batches, own, other) in stretches {
        let total = |cells: &Cells| -> f64 {
            cells
                .iter()
                .filter(|(cell, _)| own.contains_key(*cell) && other.contains_key(*cell))
                .map(|(_, (started, _))| started)
                .sum()
        };
        let (here, there) = (total(own), total(other));
        let mut weeks = std::collections::BTreeMap::<i32, f64>::new();
        let mut used = std::collections::BTreeSet::new();
        let (mut batches_used, mut told, mut all) = (0, 0.0, 0.0);
        for batch in *batches {
            let (Some((started, alive)), Some((others, _))) = (own.get(&batch.levels), other.get(&batch.levels)) else {
                continue;
            };
            used.insert(&batch.levels);
            let weight = f64::midpoint(started / here, others / there) / started;
            batches_used += 1;
            let n = batch.started as f64;
            let left = 1.0 - n / started;
            let share = weight * weight * n * n;
            all += share;
            let sum = weeks.entry(batch.set_week()).or_default();
            if left > ALONE {
                told += share;
                *sum += weight * (batch.alive as f64 - n * alive / started) / left.sqrt();
            }
        }
        let spare = (weeks.len() as f64 - 1.0).min(f64::from(batches_used) - used.len() as f64);
        if spare < 1.0 || told <= 0.0 {
            return None;
        }
        let squares = weeks.values().map(|sum| sum * sum).sum::<f64>();
        variance += squares * weeks.len() as f64 / (weeks.len() as f64 - 1.0) * all / told;
        df += spare;
    }
    (variance > 0.0).then(|| (variance.sqrt(), df))
}
