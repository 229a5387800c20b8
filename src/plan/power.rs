//! How often planned trials show what is there, and how near they come to it.

use super::design::MOST_CUTTINGS;
use super::kernel::Wanted;
use super::numbers::{MoreCuttings, PlanRow, Planned};
use super::options::PlanOptions;
use super::question::Question;
use super::tried::Bench;
use super::uncertain::Correlations;
use super::words;
use crate::answer::Answer;
use crate::control::Control;
use crate::error::Result;

/// The share of trials that show what is there, for every number of trays, cuttings and correlation asked for.
///
/// Trials are drawn and judged by the tool's own default analysis: scores on effective cuttings with t on trays for two levels and pairs
/// (`compare`, `compare_all`), t along tray rates for a trend, the interval of a rate for a target, limits within the margin for
/// `not-worse` and `equivalent`. A difference counts as shown where P is at most 1 - `confidence` on the side expected.
///
/// # Errors
/// [`PlanError`](crate::error::PlanError) for what cannot be planned; [`Error::Interrupted`](crate::Error::Interrupted) when stopped.
///
/// # References
/// Donner A, Klar N (2000), chapter 5 (planning with correlated units).
///
/// ```
/// use rootling::prelude::*;
/// use rootling::plan::{PlanOptions, power};
/// let mut options = PlanOptions { correlation: vec![0.05], trays: vec![8], cuttings: vec![20], draws: 2_000, ..PlanOptions::default() };
/// options.trial.takes = vec![0.60, 0.75];
/// let found = power(&options, &Control::new())?;
/// assert!((0.43..0.53).contains(&found.numbers.rows[0].power));
/// # Ok::<(), rootling::Error>(())
/// ```
pub fn power(options: &PlanOptions, control: &Control) -> Result<Answer<Planned>> {
    let bench = Bench::new(options, control)?;
    options.check_expected(&bench.asked)?;
    let wanted = Wanted { widths: false, second_opinion: options.second_opinion };
    let mut found = rows(&bench, wanted, |row| row.power - options.power)?;
    found.more_cuttings = more_cuttings(&bench, &found)?;
    Ok(words::power(found, options))
}

/// How near planned trials come to the difference, or to the rate where one level is asked for: half the width of the interval, in the
/// middle of all trials and as nine in ten stay below.
///
/// # Errors
/// As [`power`].
///
/// ```
/// use rootling::prelude::*;
/// use rootling::plan::{PlanOptions, precision};
/// let options = PlanOptions { correlation: vec![0.05], draws: 1_000, ..PlanOptions::default() };
/// let row = &precision(&options, &Control::new())?.numbers.rows[0];
/// assert!(row.half_width < row.half_width_90 && row.half_width < Some(0.2));
/// # Ok::<(), rootling::Error>(())
/// ```
pub fn precision(options: &PlanOptions, control: &Control) -> Result<Answer<Planned>> {
    let bench = Bench::new(options, control)?;
    let wanted = Wanted { widths: true, second_opinion: false };
    let found = rows(&bench, wanted, |row| NEARLY - row.half_width.unwrap_or(1.0))?;
    Ok(words::precision(found, options))
}

/// Trials drawn of a design that is only mentioned.
const FEW: u64 = 2_000;

/// Half a width that says enough: the difference that matters unless another is named, as in a comparison.
const NEARLY: f64 = 0.10;

/// Every design asked for, in the order of trays, cuttings and correlations. `beyond` is how far a row goes beyond what is wanted.
fn rows(bench: &Bench<'_>, wanted: Wanted, beyond: impl Fn(&PlanRow) -> f64) -> Result<Planned> {
    let options = bench.options;
    let count = options.trays.len() * options.cuttings.len();
    let (mut found, mut pairs_of) = (empty(bench, None), Vec::new());
    let earlier = options.known()?;
    let each = if earlier.is_some() { 1 } else { options.correlations().len() };
    bench.control.expect((count * each) as u64);
    for trays in &options.trays {
        for cuttings in &options.cuttings {
            let plan = options.trial.sized(*trays, *cuttings);
            let known = earlier.as_ref().map(|earlier| Correlations::of(earlier, *cuttings)).transpose()?;
            let correlations = known.as_ref().map_or_else(|| options.correlations(), |known| vec![known.middle()]);
            for correlation in correlations {
                let plan = plan.alike(correlation);
                let (mut row, pairs) = bench.row(&plan, wanted)?;
                if let Some(known) = &known {
                    bench.uncertain(&mut row, &plan, known)?;
                }
                found.rows.push(row);
                pairs_of.push(pairs);
                bench.control.finish(1);
            }
        }
    }
    found.lead = lead(&found, beyond);
    found.pairs = pairs_of.into_iter().nth(found.lead as usize).unwrap_or_default();
    Ok(found)
}

/// The row that is spoken of, at the correlation in the middle: the fewest cuttings that reach what is wanted, or else what comes nearest.
fn lead(found: &Planned, beyond: impl Fn(&PlanRow) -> f64) -> u64 {
    let middle = found.leading().map_or(0.05, |row| row.correlation);
    let rows = || found.rows.iter().enumerate().filter(|(_, row)| row.correlation == middle || found.n_earlier > 0);
    let fewest = rows().filter(|(_, row)| beyond(row) >= 0.0).min_by_key(|(_, row)| row.n_cuttings);
    let most = || rows().max_by(|(_, one), (_, other)| beyond(one).total_cmp(&beyond(other)));
    fewest.or_else(most).map_or(0, |(at, _)| at as u64)
}

/// What ten times as many cuttings would do in the trays of the leading row: as good as all that cuttings can do.
fn more_cuttings(bench: &Bench<'_>, found: &Planned) -> Result<Option<MoreCuttings>> {
    let Some(row) = found.leading() else { return Ok(None) };
    let trial = &bench.options.trial;
    let trays = row.trays / trial.bays.max(1);
    let cuttings = (10 * row.cuttings).min(MOST_CUTTINGS);
    let plan = trial.sized(trays, cuttings).alike(row.correlation);
    let power = bench.power(&plan, bench.options.draws.min(FEW))?;
    Ok(Some(MoreCuttings { cuttings, power }))
}

/// An answer without rows. What is said leads with the correlation in the middle of those tried.
pub(super) fn empty(bench: &Bench<'_>, asked_power: Option<f64>) -> Planned {
    let options = bench.options;
    let lead = if options.earlier.is_empty() { middle(&options.correlations()) } else { 0 };
    Planned {
        question: bench.asked.question,
        takes: options.trial.takes.clone(),
        confidence: options.confidence,
        asked_power,
        lead: lead as u64,
        rows: Vec::new(),
        pairs: Vec::new(),
        more_cuttings: None,
        draws: options.draws,
        n_earlier: options.earlier.iter().map(|earlier| earlier.trials.len() as u64).sum(),
    }
}

/// Where the middle one of numbers stands; of two, the greater, since it needs more trays.
fn middle(values: &[f64]) -> usize {
    let mut order: Vec<usize> = (0..values.len()).collect();
    let value = |at: &usize| values.get(*at).copied().unwrap_or(0.0);
    order.sort_by(|one, other| value(one).total_cmp(&value(other)));
    order.get(values.len() / 2).copied().unwrap_or(0)
}

impl Planned {
    /// The row that the sentence speaks of.
    pub(super) fn leading(&self) -> Option<&PlanRow> {
        self.rows.get(self.lead as usize).or_else(|| self.rows.first())
    }

    /// True where one level stands against a target.
    pub(super) fn of_one_level(&self) -> bool {
        self.question == Question::Target
    }
}
