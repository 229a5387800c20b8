//! Rates averaged over the other factors, with the gradient that gives their standard errors.

use std::collections::{BTreeMap, BTreeSet};

use crate::answer::Note;
use crate::effects::average::{Average, RateOf};
use crate::effects::phrases::averaging_note;
use crate::effects::resolve::Names;
use crate::effects::untold::{Untold, codes_at};
use crate::error::{EffectError, Result};
use crate::math::dense::{NormalMatrix, dot};
use crate::math::design::{Entries, add_entries, along, entries_of};
use crate::math::distributions::{normal, student_t};
use crate::math::special::{expit, logit};
use crate::models::mixed::marginal_rate;
use crate::models::{LayerSpread, Link, OverPlaces, Ready, Stratum, Variable};
use crate::rates::interval::{IntervalMethod, interval_effective};
use crate::report::cautions;
use crate::report::numbers::{join, number};
use crate::trial::Value;

/// An averaged rate and its derivatives by the coefficients.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Averaged {
    pub(crate) rate: f64,
    pub(crate) gradient: Vec<f64>,
}

impl Averaged {
    /// The standard error where it is one: none of a rate that cannot be told from 0 or 1.
    pub(crate) fn shown_error(&self, se: f64) -> Option<f64> {
        let known = self.rate > 0.0 && self.rate < 1.0 && (se.is_normal() || se == 0.0);
        Some(se).filter(|_| known)
    }

    /// Limits from the logit of the rate, so that they stay between 0 and 1; all of it where the rate is so far out that it cannot be told
    /// from 0 or 1.
    pub(crate) fn limits(&self, se: f64, quantile: f64) -> (f64, f64) {
        let (centre, half) = (logit(self.rate), quantile * se / (self.rate * (1.0 - self.rate)));
        if centre.is_finite() && half.is_finite() && half > 0.0 {
            // Rounding at the ends must not leave the rate outside.
            (expit(centre - half).min(self.rate), expit(centre + half).max(self.rate))
        } else if half == 0.0 && self.rate > 1e-12 && self.rate < 1.0 - 1e-12 {
            (self.rate, self.rate)
        } else {
            (0.0, 1.0)
        }
    }
}

/// Limits that do not exclude what was counted: where none of the cuttings that carry a rate did the lower one is 0, where all did the
/// upper one is 1, whatever the effects that add up make of it. A count of 0 cannot rule out 0.
pub(crate) fn holding_counts((low, high): (f64, f64), (rooted, stuck): (f64, f64)) -> (f64, f64) {
    let counted = stuck > 0.0;
    (if counted && rooted <= 0.0 { 0.0 } else { low }, if counted && rooted >= stuck { 1.0 } else { high })
}

/// A standard error of a rate with what judges it.
#[derive(Debug, Clone, Copy)]
pub(crate) struct RateSpread {
    pub(crate) spread: LayerSpread,
    /// True where it is a combination of mean squares with Satterthwaite's degrees of freedom.
    combined: bool,
}

impl RateSpread {
    /// Of an averaged rate of a fitted model, over further places where these are taken out.
    pub(crate) fn of(ready: &Ready, over: Option<&OverPlaces>, averaged: &Averaged, stratum: Stratum) -> Option<Self> {
        let spread = match over {
            Some(over) => over.spread(ready, &averaged.gradient),
            None => ready.spread(&averaged.gradient, stratum)?,
        };
        Some(Self { spread, combined: over.is_some() || ready.layered.is_some() })
    }

    /// Limits of the rate: Wilson's on the number of cuttings that would say as much, as for
    /// [`take_rates`](crate::rates::take_rates), where mean squares are combined; from the logit of the rate otherwise.
    ///
    /// With the few degrees of freedom that such combinations have, limits from the logit are up to a third wider near 0 and 100 %, and
    /// hold no better (`tests/calibration/layers.md`).
    pub(crate) fn limits(&self, averaged: &Averaged, level: f64) -> (f64, f64) {
        let (rate, se) = (averaged.rate, self.spread.se);
        let critical = quantile(self.spread.error, level);
        let effective = rate * (1.0 - rate) / (se * se);
        if self.combined && effective.is_finite() && effective > 0.0 {
            let wilson = interval_effective(rate * effective, effective, IntervalMethod::Wilson, critical);
            if let Ok((low, high)) = wilson {
                return (low.min(rate), high.max(rate));
            }
        }
        averaged.limits(se, critical)
    }
}

/// The two-sided quantile of a stratum: t with its degrees of freedom, or normal.
pub(crate) fn quantile(stratum: Stratum, level: f64) -> f64 {
    let p = 0.5 + 0.5 * level;
    stratum.df.map_or_else(|| normal::quantile(p), |df| student_t::quantile(p, df))
}

/// Design rows with weights that sum to 1: an average over cells of the model.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Blend(pub(crate) Vec<(f64, Entries)>);

impl Blend {
    /// From rows in full.
    pub(crate) fn of(rows: impl Iterator<Item = (f64, Vec<f64>)>) -> Self {
        Self(rows.map(|(share, row)| (share, entries_of(&row))).collect())
    }
}

/// Below this SD of all random effects a rate bends as that of a typical tray.
const LEVEL: f64 = 1e-5;

/// From coefficients to averaged rates.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Surface {
    link: Link,
    /// Number of coefficients; what follows them are SDs of random effects.
    rank: usize,
    /// Number of those SDs.
    deviations: usize,
    /// Number of parameters behind them, of which rates know nothing.
    others: usize,
    /// Mean offset, at which rates are given.
    offset: f64,
    of: RateOf,
}

impl Surface {
    pub(crate) fn new(ready: &Ready, link: Link, of: RateOf) -> Self {
        let (rank, deviations) = (ready.design.rank(), ready.deviations.len());
        Self { link, rank, deviations, others: 0, offset: ready.offset, of }
    }

    /// The same at another offset.
    pub(crate) fn at_offset(self, offset: f64) -> Self {
        Self { offset, ..self }
    }

    /// The same where SDs at 0 are parameters too, and with others behind them.
    pub(crate) fn with(self, deviations: usize, others: usize) -> Self {
        Self { deviations, others, ..self }
    }

    /// Number of parameters.
    pub(crate) fn size(&self) -> usize {
        self.rank + self.deviations + self.others
    }

    /// The averaged rate at the parameters. With random effects it is that over all trays (marginal) unless the typical tray is
    /// asked for, and then moves with their SDs too.
    pub(crate) fn rate(&self, blend: &Blend, parameters: &[f64]) -> Averaged {
        let (coef, deviations) = self.parted(parameters);
        let total = dot(deviations, deviations).sqrt();
        let mut out = Averaged { rate: 0.0, gradient: vec![0.0; self.size()] };
        for (share, row) in &blend.0 {
            let eta = self.offset + along(row, coef);
            if total > 0.0 && self.of == RateOf::AllTrays {
                let marginal = marginal_rate(self.link, eta, total);
                out.rate += share * marginal.rate;
                add_entries(&mut out.gradient, share * marginal.by_eta, row);
                let slopes = deviations.iter().map(|s| share * marginal.by_deviation * s / total);
                out.gradient.iter_mut().skip(self.rank).zip(slopes).for_each(|(slope, more)| *slope += more);
            } else {
                let point = self.link.at(eta);
                out.rate += share * point.mean;
                add_entries(&mut out.gradient, share * point.slope(), row);
            }
        }
        out
    }

    /// The coefficients and the SDs among the parameters.
    fn parted<'a>(&self, parameters: &'a [f64]) -> (&'a [f64], &'a [f64]) {
        let (coef, rest) = parameters.split_at(self.rank.min(parameters.len()));
        (coef, rest.get(..self.deviations).unwrap_or(rest))
    }

    /// Adds `weight` times the second derivatives of the averaged rate to `hessian`.
    pub(crate) fn add_bend(&self, blend: &Blend, parameters: &[f64], weight: f64, hessian: &mut NormalMatrix) {
        let (coef, deviations) = self.parted(parameters);
        let total = dot(deviations, deviations).sqrt();
        let over_trays = self.of == RateOf::AllTrays && self.deviations > 0;
        for (share, row) in &blend.0 {
            let (eta, weight) = (self.offset + along(row, coef), weight * share);
            if over_trays && total > LEVEL {
                let bends = Bends::of(self.link, eta, total);
                let unit = deviations.iter().enumerate().map(|(k, s)| (self.rank + k, s / total));
                bends.add((row, &unit.collect::<Entries>()), weight, hessian);
                continue;
            }
            let point = self.link.at(eta);
            let bend = weight * point.slope() * point.turn();
            hessian.add_square(bend, row);
            if over_trays {
                (0..self.deviations).for_each(|k| hessian.add_square(bend, &[(self.rank + k, 1.0)]));
            }
        }
    }
}

/// Second derivatives of a rate over all trays, by the linear predictor and by the SD of all random effects together.
struct Bends {
    twice_by_eta: f64,
    mixed: f64,
    twice_by_deviation: f64,
}

/// How far from a point slopes are taken for the derivatives that have no formula of their own.
const APART: f64 = 1e-4;

impl Bends {
    /// The second derivative by the linear predictor is that by the SD over the SD; the others are differences of the latter.
    fn of(link: Link, eta: f64, total: f64) -> Self {
        let slope = |eta: f64, total: f64| marginal_rate(link, eta, total).by_deviation;
        let apart = APART.min(0.5 * total);
        Self {
            twice_by_eta: slope(eta, total) / total,
            mixed: (slope(eta + APART, total) - slope(eta - APART, total)) / (2.0 * APART),
            twice_by_deviation: (slope(eta, total + apart) - slope(eta, total - apart)) / (2.0 * apart),
        }
    }

    /// Adds them for a row of the design and the SDs over their length.
    fn add(&self, (row, unit): (&Entries, &Entries), weight: f64, hessian: &mut NormalMatrix) {
        hessian.add_square(weight * self.twice_by_eta, row);
        for sign in [1.0, -1.0] {
            let both: Entries = row.iter().copied().chain(unit.iter().map(|(at, x)| (*at, sign * x))).collect();
            hessian.add_square(0.5 * sign * weight * self.mixed, &both);
        }
        hessian.add_square(weight * (self.twice_by_deviation - self.twice_by_eta), unit);
        unit.iter().for_each(|(at, _)| hessian.add_square(weight * self.twice_by_eta, &[(*at, 1.0)]));
    }
}

/// What is held and how the rest is averaged, with names resolved.
#[derive(Debug, Clone)]
pub(crate) struct Averaging {
    held: Vec<(usize, Value)>,
    weights: Weights,
    /// Factors whose shares were scaled to sum to 1.
    scaled: Vec<String>,
    /// Covariates held outside what was tried: value and range.
    outside: Vec<String>,
    /// Combinations of levels, of what is averaged over, that nothing tells of at any of the levels asked for.
    untold: Option<Untold>,
}

#[derive(Debug, Clone)]
enum Weights {
    /// Shares of the levels of each variable.
    Apart(Vec<Vec<f64>>),
    /// Shares of combinations of levels, by code of every variable.
    Together,
}

impl Averaging {
    /// Nothing held, all combinations alike.
    pub(crate) fn equal(ready: &Ready) -> Self {
        let shares = ready.frame.variables.iter().map(alike).collect();
        Self { weights: Weights::Apart(shares), ..Self::together() }
    }

    fn together() -> Self {
        Self { held: Vec::new(), weights: Weights::Together, scaled: Vec::new(), outside: Vec::new(), untold: None }
    }

    /// The same for the levels of the variables `asked`: what is averaged over leaves out its combinations that nothing tells of at any of
    /// these levels, or, where no two levels could be set beside each other then, at some of the largest set of levels that can; the same
    /// ones for each level. Nothing is left out where none would be left.
    pub(crate) fn for_levels(mut self, ready: &Ready, asked: &[usize]) -> Self {
        let Weights::Apart(shares) = &self.weights else { return self };
        let variables = &ready.frame.variables;
        let is_free =
            |index: &usize| !asked.contains(index) && variables.get(*index).is_some_and(|one| !one.is_covariate());
        let free: Vec<usize> = (0..variables.len()).filter(is_free).filter(|index| !self.holds(*index)).collect();
        if ready.design.inseparable().is_empty() || free.is_empty() {
            return self;
        }
        let mut told: BTreeMap<Vec<usize>, BTreeSet<Vec<usize>>> = BTreeMap::new();
        for (_, cell) in product(ready, &self.held, shares).into_iter().filter(|(share, _)| *share > 0.0) {
            let levels = told.entry(codes_at(&cell, &free)).or_default();
            if ready.design.row(&cell).is_some() {
                levels.insert(codes_at(&cell, asked));
            }
        }
        self.untold = Untold::of(ready, &free, &told);
        self
    }

    /// Checks names, levels and shares.
    ///
    /// # Errors
    /// An unknown name or level, a mix that leaves out a level, shares that are none.
    pub(crate) fn new(names: Names<'_>, at: &BTreeMap<String, String>, average: &Average) -> Result<Self> {
        let mut averaging = Self::together();
        for (name, given) in at {
            let (index, value) = names.held(name, given)?;
            averaging.held.push((index, value));
            let variable = names.ready.frame.variables.get(index).filter(|variable| is_outside(range(variable), value));
            if let Some(variable) = variable {
                averaging.outside.push(format!("{name} {given} ({} in the trial)", tested_range(variable)));
            }
        }
        let variables = &names.ready.frame.variables;
        let mut shares: Vec<Vec<f64>> = variables.iter().map(alike).collect();
        match average {
            Average::AsStuck => return Ok(averaging),
            Average::Alike => {}
            Average::Mix(mix) => {
                for (name, given) in mix {
                    let (index, variable) = names.factor(name)?;
                    if averaging.held.iter().any(|(held, _)| *held == index) {
                        return Err(EffectError::Twice { name: name.clone(), first: "at=", second: "average=" }.into());
                    }
                    let found = averaging.mixed(names, variable, given)?;
                    if let Some(place) = shares.get_mut(index) {
                        *place = found;
                    }
                }
            }
        }
        averaging.weights = Weights::Apart(shares);
        Ok(averaging)
    }

    /// Shares of one factor, scaled to sum to 1.
    fn mixed(&mut self, names: Names<'_>, variable: &Variable, given: &BTreeMap<String, f64>) -> Result<Vec<f64>> {
        let factor = variable.name.clone();
        let mut shares = vec![None; variable.levels.len()];
        for (level, value) in given {
            if !(value.is_finite() && *value >= 0.0) {
                return Err(EffectError::Share { factor, level: level.clone(), value: *value }.into());
            }
            let code = names.level_of(variable, level)?;
            if let Some(place) = shares.get_mut(code) {
                *place = Some(*value);
            }
        }
        let left_out = variable.levels.iter().zip(&shares).filter(|(_, share)| share.is_none());
        let missing: Vec<&str> = left_out.map(|(level, _)| level.as_str()).collect();
        if !missing.is_empty() {
            return Err(EffectError::MixLeavesOut { factor, missing: crate::report::join(&missing) }.into());
        }
        let sum: f64 = shares.iter().flatten().sum();
        if sum <= 0.0 {
            return Err(EffectError::MixEmpty { factor }.into());
        }
        if (sum - 1.0).abs() > 1e-9 {
            self.scaled.push(factor);
        }
        Ok(shares.iter().flatten().map(|share| share / sum).collect())
    }

    /// Shares that did not sum to 1, and values beyond what was tried.
    pub(crate) fn notes(&self) -> Vec<Note> {
        let beyond = (!self.outside.is_empty()).then(|| {
            let verb = if self.outside.len() > 1 { "lie" } else { "lies" };
            cautions::beyond_tested(&format!("{} {verb}", join(&self.outside)), None)
        });
        let untold = self.untold.as_ref().map(Untold::note);
        beyond.into_iter().chain(averaging_note(&self.scaled)).chain(untold).collect()
    }

    /// True when the variable is held at one value.
    pub(crate) fn holds(&self, variable: usize) -> bool {
        self.held.iter().any(|(held, _)| *held == variable)
    }

    /// The levels at which a rate is carried by trays: those `fixed` and those held.
    pub(crate) fn carried_at(&self, fixed: &[(usize, Value)]) -> Vec<(usize, Value)> {
        let held = self.held.iter().filter(|(_, value)| matches!(value, Value::Level(_)));
        fixed.iter().chain(held).copied().collect()
    }

    /// The average over all other factors with `fixed` variables at their values, covariates at their mean unless held. None
    /// when a combination with weight cannot be estimated.
    pub(crate) fn blend(&self, ready: &Ready, fixed: &[(usize, Value)]) -> Option<Blend> {
        let fixed: Vec<(usize, Value)> = fixed.iter().chain(&self.held).copied().collect();
        let cells = match &self.weights {
            Weights::Apart(shares) => product(ready, &fixed, shares),
            Weights::Together => observed(ready, &fixed),
        };
        let untold = |cell: &[Value]| self.untold.as_ref().is_some_and(|one| one.holds(cell));
        let rows: Vec<(f64, Vec<Value>)> =
            cells.into_iter().filter(|(share, cell)| *share > 0.0 && !untold(cell)).collect();
        let whole = if self.untold.is_some() { rows.iter().map(|(share, _)| share).sum() } else { 1.0 };
        let entry = |(share, cell): (f64, Vec<Value>)| Some((share / whole, entries_of(&ready.design.row(&cell)?)));
        rows.into_iter().map(entry).collect::<Option<_>>().map(Blend)
    }
}

fn alike(variable: &Variable) -> Vec<f64> {
    vec![1.0 / variable.levels.len().max(1) as f64; variable.levels.len()]
}

/// All combinations of the levels of free factors.
fn product(ready: &Ready, fixed: &[(usize, Value)], shares: &[Vec<f64>]) -> Vec<(f64, Vec<Value>)> {
    let mut cells: Vec<(f64, Vec<Value>)> = vec![(1.0, Vec::new())];
    for (index, (variable, shares)) in ready.frame.variables.iter().zip(shares).enumerate() {
        let choices: Vec<(f64, Value)> = match fixed.iter().find(|(v, _)| *v == index) {
            Some((_, value)) => vec![(1.0, *value)],
            None if variable.is_covariate() => vec![(1.0, Value::Number(mean(variable)))],
            None => shares.iter().zip(0..).map(|(share, level)| (*share, Value::Level(level))).collect(),
        };
        let extend = |(weight, cell): &(f64, Vec<Value>)| -> Vec<(f64, Vec<Value>)> {
            choices.iter().map(|(share, value)| (weight * share, [cell.as_slice(), &[*value]].concat())).collect()
        };
        cells = cells.iter().flat_map(extend).collect();
    }
    cells
}

/// The combinations of free factors that occur, by their cuttings.
fn observed(ready: &Ready, fixed: &[(usize, Value)]) -> Vec<(f64, Vec<Value>)> {
    let variables = &ready.frame.variables;
    let (data, (_, set)) = (&ready.frame.data, ready.frame.counts_per_row());
    let mut found: BTreeMap<Vec<usize>, (f64, Vec<Value>)> = BTreeMap::new();
    for (row, stuck) in data.values.iter().zip(&set) {
        let set = |(index, (variable, value)): (usize, (&Variable, Value))| {
            let held = fixed.iter().find(|(v, _)| *v == index).map(|(_, value)| *value);
            held.unwrap_or(if variable.is_covariate() { Value::Number(mean(variable)) } else { value })
        };
        let cell: Vec<Value> = variables.iter().zip(row).enumerate().map(set).collect();
        let everything: Vec<usize> = (0..cell.len()).collect();
        let entry = found.entry(codes_at(&cell, &everything)).or_insert((0.0, cell));
        entry.0 += stuck;
    }
    let total: f64 = set.iter().sum();
    found.into_values().map(|(weight, cell)| (weight / total, cell)).collect()
}

/// The lowest and highest value of a covariate, as the model holds them.
pub(crate) fn range(variable: &Variable) -> (f64, f64) {
    let numbers = variable.values.numbers();
    numbers.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), z| (low.min(*z), high.max(*z)))
}

/// The range of a covariate in the trial, in the user's units: "4 to 12".
pub(crate) fn tested_range(variable: &Variable) -> String {
    let (low, high) = range(variable);
    let back = |z: f64| number(z * variable.scale + variable.centre);
    format!("{} to {}", back(low), back(high))
}

/// True when a number lies outside a range.
pub(crate) fn is_outside((low, high): (f64, f64), value: Value) -> bool {
    let Value::Number(z) = value else { return false };
    // A number of the trial itself may come back with its last digit changed.
    let slack = 1e-12 * (1.0 + z.abs());
    z < low - slack || z > high + slack
}

fn mean(variable: &Variable) -> f64 {
    variable.values.numbers().iter().sum::<f64>() / variable.values.len().max(1) as f64
}

/// The settings at which an effect's variable is compared: its levels, or a covariate's lowest and highest value (with those
/// between them where it enters as a polynomial).
pub(crate) fn settings(variable: &Variable) -> Vec<Value> {
    if !variable.is_covariate() {
        return (0..variable.levels.len()).map(Value::Level).collect();
    }
    let numbers = || variable.values.numbers().iter().copied();
    let (low, high) = (numbers().fold(f64::INFINITY, f64::min), numbers().fold(f64::NEG_INFINITY, f64::max));
    // A curve may turn in between.
    let steps = if variable.degree > 1 { 20 } else { 1 };
    (0..=steps).map(|step| Value::Number(low + (high - low) * f64::from(step) / f64::from(steps))).collect()
}
