//! The fewest trays that show what is there as often as asked, and the cheapest trays and cuttings.

use std::collections::BTreeMap;

use super::design::PlannedTrial;
use super::kernel::Wanted;
use super::numbers::{PlanRow, Planned};
use super::options::PlanOptions;
use super::power::empty;
use super::tried::Bench;
use super::uncertain::Correlations;
use super::words;
use crate::answer::Answer;
use crate::control::Control;
use crate::error::{PlanError, Result};

/// Trials drawn to find out where to look.
const ROUGH: u64 = 1_000;
/// Trials drawn of a design whose cost is looked at.
const LOOKING: u64 = 2_000;
/// Numbers of cuttings whose costs are looked at, and those among which all draws decide.
const LOOKED_AT: u64 = 15;
const SETTLED_AMONG: usize = 5;
/// Rough powers may be off by so much.
const SLACK: f64 = 0.06;
/// Steps that are looked at one by one.
const NEAR: u64 = 8;
/// Numbers beyond the smallest that must reach what is asked too.
const BEYOND: u64 = 2;

/// The smallest number of trays of each level (of bays, where levels are given to bays; of blocks, where trays stand in blocks) at which
/// what is expected is shown as often as `power` asks, and at every number of trays looked at beyond it.
///
/// Where the places for trays are given, no more trays are looked at than stand there.
///
/// Where costs are given, cuttings per tray are chosen as well: from `sqrt(cost of a tray / cost of a cutting x (1 - correlation) /
/// correlation)` outwards over whole numbers, with the trays that each needs.
///
/// # Errors
/// [`PlanError`] for what cannot be planned; [`Error::Interrupted`](crate::Error::Interrupted) when stopped. What cannot be reached is no
/// error: the answer says how far the most trays come.
///
/// # References
/// Cochran WG (1977), Sampling Techniques, 3rd edition, section 10.6 (the starting point of cuttings per tray).
///
/// ```
/// use rootling::prelude::*;
/// use rootling::plan::{PlanOptions, trays_needed};
/// let mut options = PlanOptions { correlation: vec![0.05], draws: 2_000, ..PlanOptions::default() };
/// options.trial.takes = vec![0.50, 0.80];
/// let row = &trays_needed(&options, &Control::new())?.numbers.rows[0];
/// assert!(row.power >= 0.8 && (4..=7).contains(&row.trays));
/// # Ok::<(), rootling::Error>(())
/// ```
pub fn trays_needed(options: &PlanOptions, control: &Control) -> Result<Answer<Planned>> {
    let bench = Bench::new(options, control)?;
    options.check_expected(&bench.asked)?;
    let mut found = empty(&bench, Some(options.power));
    let priced = options.cost_per_tray.or(options.cost_per_cutting).is_some();
    if priced && options.cost_per_tray.unwrap_or(0.0) + options.cost_per_cutting.unwrap_or(0.0) <= 0.0 {
        return Err(PlanError::Cost { name: "cost_per_tray", value: 0.0 }.into());
    }
    let cuttings = if priced { vec![0] } else { options.cuttings.clone() };
    let correlations = if options.earlier.is_empty() { options.correlations() } else { vec![0.05] };
    control.expect((cuttings.len() * correlations.len()) as u64);
    for cuttings in cuttings {
        for correlation in &correlations {
            let plan = options.trial.alike(*correlation);
            let size = if priced { bench.cheapest(&plan)? } else { cuttings };
            let row = bench.needed(&plan, size)?;
            if found.rows.len() as u64 == found.lead {
                let plan = Bench::of_row(&plan, &row);
                found.pairs = bench.row(&plan, Wanted::default())?.1;
            }
            found.rows.push(row);
            control.finish(1);
        }
    }
    Ok(words::needed(found, options))
}

impl Bench<'_> {
    /// The trial of a row.
    fn of_row(plan: &PlannedTrial, row: &PlanRow) -> PlannedTrial {
        let mut own = plan.alike(row.correlation);
        own.cuttings = row.cuttings;
        if plan.bays > 0 {
            own.bays = row.bays;
        } else {
            own.trays = row.trays;
        }
        own
    }

    /// The row of the fewest trays of so many cuttings.
    fn needed(&self, plan: &PlannedTrial, cuttings: u64) -> Result<PlanRow> {
        let known = self.options.known()?.map(|earlier| Correlations::of(&earlier, cuttings)).transpose()?;
        let mut plan = plan.clone();
        plan.cuttings = cuttings;
        if let Some(known) = &known {
            plan.correlation = known.middle();
        }
        let (size, reached) =
            Sizes { bench: self, plan: &plan, known: known.as_ref(), seen: BTreeMap::new() }.smallest()?;
        let own = Sizes::sized(&plan, size);
        let (mut row, _) = self.row(&own, Wanted { widths: true, second_opinion: self.options.second_opinion })?;
        row.reached = reached;
        if let Some(known) = &known {
            self.uncertain(&mut row, &own, known)?;
        }
        Ok(row)
    }

    /// The cuttings per tray at which the trial costs least.
    fn cheapest(&self, plan: &PlannedTrial) -> Result<u64> {
        let (tray, cutting) = (self.options.cost_per_tray.unwrap_or(0.0), self.options.cost_per_cutting.unwrap_or(0.0));
        let most = self.options.most_cuttings.max(1);
        let rho = plan.correlation.max(1e-4);
        let start = ((tray / cutting) * (1.0 - rho) / rho).sqrt();
        let start = if start.is_finite() { start.round().clamp(2.0, most as f64) as u64 } else { most };
        // Costs of neighbours differ by less than few draws can tell, so these only say where to look.
        let options = PlanOptions { draws: self.options.draws.min(LOOKING), ..self.options.clone() };
        let looking = Bench { options: &options, asked: self.asked.clone(), control: self.control };
        // Where places are few, more cuttings may be what fits.
        let (low, high) =
            ((start / 2).max(1), if self.options.places.is_some() { most } else { (2 * start).min(most) });
        let step = ((high - low) / LOOKED_AT).max(1);
        let mut costs = Vec::new();
        for cuttings in (low..=high).step_by(step as usize) {
            costs.push((looking.cost_of(plan, cuttings)?, cuttings));
        }
        costs.sort_by(|one, other| one.0.total_cmp(&other.0));
        let mut best = (f64::INFINITY, start);
        for (_, cuttings) in costs.into_iter().take(SETTLED_AMONG) {
            let cost = self.cost_of(plan, cuttings)?;
            if cost < best.0 {
                best = (cost, cuttings);
            }
        }
        Ok(best.1)
    }

    /// What the fewest trays of so many cuttings cost; without end where none reach what is asked.
    fn cost_of(&self, plan: &PlannedTrial, cuttings: u64) -> Result<f64> {
        let own = PlannedTrial { cuttings, ..plan.clone() };
        let (size, reached) = Sizes { bench: self, plan: &own, known: None, seen: BTreeMap::new() }.smallest()?;
        Ok(self.cost(&Sizes::sized(&own, size)).filter(|_| reached).unwrap_or(f64::INFINITY))
    }
}

/// The search for the smallest number of trays, blocks or bays.
struct Sizes<'a, 'b> {
    bench: &'a Bench<'b>,
    plan: &'a PlannedTrial,
    /// What earlier trials leave likely: power is then its mean over that.
    known: Option<&'a Correlations>,
    /// Powers worked out, by size.
    seen: BTreeMap<u64, f64>,
}

impl Sizes<'_, '_> {
    fn sized(plan: &PlannedTrial, size: u64) -> PlannedTrial {
        let mut own = plan.clone();
        match (plan.bays, plan.block_trays) {
            (0, 0) => own.trays = size,
            (0, each) => own.trays = size * each,
            _ => own.bays = size,
        }
        own
    }

    fn power(&mut self, size: u64) -> Result<f64> {
        if let Some(power) = self.seen.get(&size) {
            return Ok(*power);
        }
        let power = self.drawn(size, self.bench.options.draws)?;
        self.seen.insert(size, power);
        Ok(power)
    }

    fn rough(&self, size: u64) -> Result<f64> {
        self.drawn(size, ROUGH.min(self.bench.options.draws))
    }

    fn drawn(&self, size: u64, draws: u64) -> Result<f64> {
        let plan = Self::sized(self.plan, size);
        self.known.map_or_else(|| self.bench.power(&plan, draws), |known| self.bench.expected(&plan, known, draws))
    }

    /// The most that are looked at: no more than there are places for.
    fn most(&self) -> Result<u64> {
        let each = self.plan.block_trays.max(1) * if self.plan.bays > 0 { self.plan.trays } else { 1 };
        let most = (self.bench.options.most_trays / each).max(2);
        let Some(places) = self.bench.options.places else { return Ok(most) };
        let in_all = each * self.plan.takes.len() as u64;
        if places < 2 * in_all {
            return Err(PlanError::Places { places, least: 2 * in_all }.into());
        }
        Ok(most.min(places / in_all))
    }

    /// The smallest size that reaches what is asked there and beyond; the most that are looked at, and false, where none does.
    fn smallest(&mut self) -> Result<(u64, bool)> {
        let target = self.bench.options.power;
        let most = self.most()?;
        let (mut low, mut high) = (2, 2);
        loop {
            let rough = self.rough(high)?;
            // Whatever may reach it is not passed over.
            if rough < target - SLACK {
                low = high;
            }
            if rough >= target + SLACK || high >= most {
                break;
            }
            high = (2 * high).min(most);
        }
        while high - low > 1 {
            let middle = u64::midpoint(low, high);
            if self.rough(middle)? < target - SLACK { low = middle } else { high = middle }
        }
        // From here on with all draws, until sizes beyond reach it too.
        let mut at = low;
        let (mut found, mut step) = (None, 1);
        while at <= most {
            if self.power(at)? >= target {
                let first = *found.get_or_insert(at);
                if at - first >= BEYOND * step {
                    return self.between(first, step).map(|size| (size, true));
                }
            } else {
                found = None;
                step = if at - low > NEAR { (at / NEAR).max(1) } else { 1 };
            }
            at += step;
        }
        match found {
            Some(first) => self.between(first, step).map(|size| (size, true)),
            None => Ok((most, false)),
        }
    }

    /// The smallest size that reaches it among those that a wide step passed over.
    fn between(&mut self, first: u64, step: u64) -> Result<u64> {
        let target = self.bench.options.power;
        let mut size = first;
        while step > 1 && size > first.saturating_sub(step - 1).max(2) && self.power(size - 1)? >= target {
            size -= 1;
        }
        Ok(size)
    }
}
