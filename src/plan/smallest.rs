//! The smallest difference from a take that a design shows as often as asked.

use super::design::PlannedTrial;
use super::numbers::{Smallest, SmallestRow};
use super::options::PlanOptions;
use super::question::Question;
use super::tried::Bench;
use super::words_smallest;
use crate::answer::Answer;
use crate::control::Control;
use crate::error::{PlanError, Result};

/// Differences are found to so many trees per 100.
const FINE: f64 = 0.001;

/// The smallest rise and the smallest fall from the first take that is shown as often as `power` asks.
///
/// # Errors
/// As [`power`](super::power()); [`PlanError::NoSmallest`] for other questions than a difference.
///
/// ```
/// use rootling::prelude::*;
/// use rootling::plan::{PlanOptions, smallest_difference};
/// let mut options = PlanOptions { correlation: vec![0.05], draws: 1_000, ..PlanOptions::default() };
/// options.trial.takes = vec![0.60];
/// let row = &smallest_difference(&options, &Control::new())?.numbers.rows[0];
/// assert!(row.rise.unwrap() > 0.15 && row.fall.unwrap() > 0.15);
/// # Ok::<(), rootling::Error>(())
/// ```
pub fn smallest_difference(options: &PlanOptions, control: &Control) -> Result<Answer<Smallest>> {
    if options.question != Question::Difference {
        return Err(PlanError::NoSmallest { question: options.question.name() }.into());
    }
    let take = options.trial.takes.first().copied().ok_or(PlanError::Empty { name: "take" })?;
    let mut both = options.clone();
    both.trial.takes = vec![take, take];
    both.levels.clear();
    let bench = Bench::new(&both, control)?;
    let correlations = both.correlations();
    let mut found = Smallest {
        take,
        asked_power: both.power,
        confidence: both.confidence,
        lead: (correlations.len() / 2) as u64,
        rows: Vec::new(),
        draws: both.draws,
    };
    control.expect((both.trays.len() * both.cuttings.len() * correlations.len()) as u64);
    for trays in &both.trays {
        for cuttings in &both.cuttings {
            for correlation in &correlations {
                let plan = both.trial.sized(*trays, *cuttings).alike(*correlation);
                plan.check()?;
                found.rows.push(SmallestRow {
                    trays: plan.trays_per_level(),
                    cuttings: *cuttings,
                    correlation: *correlation,
                    rise: smallest(&bench, &plan, 1.0 - take)?,
                    fall: smallest(&bench, &plan, -take)?,
                });
                control.finish(1);
            }
        }
    }
    found.lead = lead(&found);
    Ok(words_smallest::smallest(found, &both))
}

/// The row that is spoken of: the smallest rise at the correlation in the middle.
fn lead(found: &Smallest) -> u64 {
    let middle = found.rows.get(found.lead as usize).map_or(0.05, |row| row.correlation);
    let rows = found.rows.iter().enumerate().filter(|(_, row)| row.correlation == middle);
    let rise = |row: &SmallestRow| row.rise.unwrap_or(f64::INFINITY);
    rows.min_by(|(_, one), (_, other)| rise(one).total_cmp(&rise(other))).map_or(0, |(at, _)| at as u64)
}

/// The smallest difference on one side: halved between what is shown as often and what is not.
fn smallest(bench: &Bench<'_>, plan: &PlannedTrial, whole: f64) -> Result<Option<f64>> {
    let take = plan.takes.first().copied().unwrap_or(0.5);
    let power = |difference: f64| {
        let other = (take + difference).clamp(0.0, 1.0);
        bench.power(&PlannedTrial { takes: vec![take, other], ..plan.clone() }, bench.options.draws)
    };
    if whole == 0.0 || power(whole)? < bench.options.power {
        return Ok(None);
    }
    let (mut low, mut high) = (0.0, whole);
    while (high - low).abs() > FINE {
        let middle = f64::midpoint(low, high);
        if power(middle)? < bench.options.power { low = middle } else { high = middle }
    }
    Ok(Some(high.abs()))
}
