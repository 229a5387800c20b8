//! Rates of new rows with their limits, and the range of a new tray's count.

use std::collections::{BTreeMap, HashMap};

use super::answer::answer;
use super::cells::Cells;
use super::numbers::{PredictOptions, Prediction, Predictions};
use super::resolve::{Resolved, is_optional, resolve};
use crate::answer::Answer;
use crate::control::checkpoint;
use crate::effects::RateOf;
use crate::effects::averaging::{Averaged, RateSpread, holding_counts, quantile};
use crate::error::{CountError, ModelError, Result};
use crate::estimate::check_level;
use crate::math::distributions::normal;
use crate::models::{CountLaw, Frame, HeldPlaces, LayerSpread, Model, OverPlaces, Ready, Stratum, TrayMode, taken_out};
use crate::trial::Value;
use crate::trial::{NewRows, answer_of_units};

/// What [`Model::predict`] tells.
pub(super) fn predict(model: &Model, rows: &NewRows, options: &PredictOptions) -> Result<Answer<Predictions>> {
    check_level(options.confidence)?;
    check(model, options)?;
    let ready = model.ready()?;
    let resolved = resolve(&ready.frame, rows, model.spec.offset.as_deref())?;
    let error = error_of_rates(model);
    let variables = ready.frame.variables.iter().map(|variable| &variable.name);
    let columns: Vec<String> = variables.chain(&model.spec.offset).cloned().collect();
    let combinations = Combinations::of(&ready.frame);
    let mut out = Vec::with_capacity(resolved.len());
    let mut places = Places::default();
    let mut known: HashMap<Vec<usize>, Prediction> = HashMap::new();
    for (index, one) in resolved.into_iter().enumerate() {
        checkpoint();
        let mut fresh = || expected((&ready, places.over(&ready, &one)), model, &one, error, options);
        let mut prediction = match alike(&one) {
            Some(levels) => known.entry(levels).or_insert_with(fresh).clone(),
            None => fresh(),
        };
        prediction.row = rows.row_number(index);
        prediction.labels = columns.iter().map(|name| rows.text(name, index).unwrap_or_default()).collect();
        let counts = combinations.counts(&one.values);
        prediction.tried = counts.is_some();
        if let (Some(low), Some(high), Some(counts)) = (prediction.low, prediction.high, counts) {
            let (low, high) = holding_counts((low, high), counts);
            (prediction.low, prediction.high) = (Some(low), Some(high));
        }
        prediction.outside = one.outside;
        out.push(prediction);
    }
    let PredictOptions { confidence: level, rate_of, new_tray } = *options;
    let HeldPlaces { over: holds_over, at_hand: holds_at } = places.held(&ready);
    let figures = Predictions { columns, confidence: level, rate_of, new_tray, rows: out, holds_over, holds_at };
    Ok(answer_of_units(&model.units, answer(model, &ready, figures)))
}

/// The places over which rows hold, by the factors that a row may leave out and gives.
#[derive(Default)]
struct Places(BTreeMap<Vec<usize>, Option<OverPlaces>>);

impl Places {
    fn over(&mut self, ready: &Ready, row: &Resolved) -> Option<&OverPlaces> {
        let given = |at: &usize| is_optional(&ready.frame, *at) && row.values.get(*at).is_some_and(Option::is_some);
        let given: Vec<usize> = (0..row.values.len()).filter(given).collect();
        let names = || given.iter().filter_map(|at| ready.frame.variables.get(*at)).map(|one| one.name.as_str());
        let made = |names: Vec<&str>| OverPlaces::of(ready, &names);
        let names: Vec<&str> = names().collect();
        self.0.entry(given.clone()).or_insert_with(|| made(names)).as_ref()
    }

    fn held(&self, ready: &Ready) -> HeldPlaces {
        let mut all = HeldPlaces::default();
        for one in self.0.values().map(|over| HeldPlaces::of(ready, over.as_ref())) {
            all.over.extend(one.over);
            all.at_hand.extend(one.at_hand);
        }
        for names in [&mut all.over, &mut all.at_hand] {
            names.sort_unstable();
            names.dedup();
        }
        all
    }
}

/// Columns that new rows are looked at for: a block that stays in the model, which rows may leave out, the effects, and the offset.
#[must_use]
pub fn columns(model: &Model) -> Vec<String> {
    let places = taken_out(model);
    places.into_iter().chain(model.spec.effects.iter().cloned()).chain(model.spec.offset.clone()).collect()
}

fn check(model: &Model, options: &PredictOptions) -> Result<()> {
    if options.rate_of == RateOf::TypicalTray && model.trays != TrayMode::Random {
        return Err(ModelError::NoTypicalTray.into());
    }
    if options.new_tray.is_some() && model.trays == TrayMode::Ignore {
        return Err(ModelError::NoTraySpread.into());
    }
    match options.new_tray {
        Some(0) => Err(CountError::TrayEmpty.into()),
        Some(stuck) if stuck > LARGEST_TRAY => Err(CountError::TrayTooLarge { stuck, most: LARGEST_TRAY }.into()),
        _ => Ok(()),
    }
}

/// Cuttings that a new tray can hold: far beyond any tray, and soon worked out.
const LARGEST_TRAY: u64 = 100_000;

/// The levels of a row that is nothing but levels: rows of the same ones are worked out once.
fn alike(row: &Resolved) -> Option<Vec<usize>> {
    let level = |value: &Option<Value>| match value {
        Some(Value::Level(level)) => Some(level + 1),
        Some(Value::Number(_)) => None,
        None => Some(0),
    };
    if row.offset.is_some() { None } else { row.values.iter().map(level).collect() }
}

/// The error of a rate that all effects enter; none when one of them is confounded with whole plots.
fn error_of_rates(model: &Model) -> Option<Stratum> {
    if model.spec.effects.iter().any(|effect| model.strata.withheld(effect).is_some()) {
        return None;
    }
    if model.strata.above.is_some() {
        return Some(model.strata.tray);
    }
    match model.strata.whole_plots.as_ref() {
        Some(whole) if whole.error.is_none() => None,
        Some(whole) => model.strata.of_rates().or(whole.error),
        None => model.strata.of_rates().or(Some(model.strata.tray)),
    }
}

fn expected(
    (ready, over): (&Ready, Option<&OverPlaces>),
    model: &Model,
    row: &Resolved,
    error: Option<Stratum>,
    options: &PredictOptions,
) -> Prediction {
    let cells = cells(ready, row);
    let averaged = cells.rate(ready, model.spec.link, options.rate_of);
    let spread_of = |averaged: &Averaged, stratum: Stratum| RateSpread::of(ready, over, averaged, stratum);
    let spread = averaged.as_ref().zip(error).and_then(|(averaged, stratum)| spread_of(averaged, stratum));
    let limits = averaged.as_ref().zip(spread).map(|(averaged, spread)| spread.limits(averaged, options.confidence));
    let spread = spread.map(|spread| spread.spread);
    let tray = options.new_tray.zip(error).and_then(|(stuck, stratum)| {
        let averaged = cells.rate(ready, model.spec.link, RateOf::AllTrays)?;
        let spread = spread_of(&averaged, stratum)?.spread;
        Some(new_tray((ready, over), model, &cells, (&averaged, spread), stuck, options.confidence))
    });
    Prediction {
        row: 0,
        labels: Vec::new(),
        value: averaged.as_ref().map(|averaged| averaged.rate),
        se: averaged.as_ref().zip(spread).and_then(|(averaged, spread)| averaged.shown_error(spread.se)),
        low: limits.map(|limits| limits.0),
        high: limits.map(|limits| limits.1),
        df: spread.and_then(|spread| spread.error.df),
        tray_low: tray.map(|tray| tray.0),
        tray_high: tray.map(|tray| tray.1),
        outside: Vec::new(),
        tried: true,
    }
}

/// The combinations of levels that were tried, of the factors that rows must name, with what was counted there.
struct Combinations {
    factors: Vec<usize>,
    known: BTreeMap<Vec<usize>, (f64, f64)>,
}

impl Combinations {
    fn of(frame: &Frame) -> Self {
        let asked = |at: &usize| {
            frame.variables.get(*at).is_some_and(|variable| !variable.is_covariate()) && !is_optional(frame, *at)
        };
        let factors: Vec<usize> = (0..frame.variables.len()).filter(asked).collect();
        let level = |value: Option<&Value>| if let Some(Value::Level(level)) = value { *level } else { usize::MAX };
        let mut known: BTreeMap<Vec<usize>, (f64, f64)> = BTreeMap::new();
        let (counted, set) = frame.counts_per_row();
        for ((row, rooted), stuck) in frame.data.values.iter().zip(&counted).zip(&set) {
            let sum = known.entry(factors.iter().map(|at| level(row.get(*at))).collect()).or_default();
            *sum = (sum.0 + rooted, sum.1 + stuck);
        }
        Self { factors, known }
    }

    /// Rooted and stuck of a row's combination; none where no tray has it.
    fn counts(&self, row: &[Option<Value>]) -> Option<(f64, f64)> {
        let level = |at: &usize| if let Some(Some(Value::Level(level))) = row.get(*at) { *level } else { usize::MAX };
        self.known.get(&self.factors.iter().map(level).collect::<Vec<_>>()).copied()
    }
}

/// The row's combination of values, or one for each block where the block is not given.
fn cells(ready: &Ready, row: &Resolved) -> Cells {
    let mut cells: Vec<Vec<Value>> = vec![Vec::new()];
    for (value, variable) in row.values.iter().zip(&ready.frame.variables) {
        let choices: Vec<Value> =
            value.map_or_else(|| (0..variable.levels.len()).map(Value::Level).collect(), |value| vec![value]);
        let extend = |cell: &Vec<Value>| -> Vec<Vec<Value>> {
            choices.iter().map(|choice| [cell.as_slice(), &[*choice]].concat()).collect()
        };
        cells = cells.iter().flat_map(extend).collect();
    }
    Cells { values: cells, offset: row.offset }
}

/// The middle `level` of the law of a new tray's count.
fn new_tray(
    (ready, over): (&Ready, Option<&OverPlaces>),
    model: &Model,
    cells: &Cells,
    (averaged, spread): (&Averaged, LayerSpread),
    stuck: u64,
    level: f64,
) -> (u64, u64) {
    let (m, rate) = (stuck as f64, averaged.rate);
    // The correlation is that of the cells; a tray of a place that is not known shares what trays of one place have in common.
    let rho = |cell: &Vec<Value>| {
        let (_, eta) = ready.at_values(cell, cells.offset)?;
        let own = ready
            .frame
            .variables
            .iter()
            .zip(cell)
            .find(|(one, _)| model.spec.correlation_by.as_ref() == Some(&one.name));
        let level = own.map(|(variable, value)| variable.label(*value));
        Some(CountLaw::of_level(model, level.as_deref(), eta, m).rho())
    };
    let rhos: Vec<f64> = cells.values.iter().filter_map(rho).collect();
    let rho = over.map_or_else(|| rhos.iter().sum::<f64>() / rhos.len().max(1) as f64, OverPlaces::of_any_tray);
    let se = spread.se;
    let own = m * rate * (1.0 - rate);
    let widening = quantile(spread.error, level) / normal::quantile(0.5 + 0.5 * level);
    let factor = (1.0 + (m - 1.0) * rho + (m * se).powi(2) / own) * widening * widening;
    let law = CountLaw::with_variance(rate, factor, m);
    (law.quantile(0.5 - 0.5 * level, stuck), law.quantile(0.5 + 0.5 * level, stuck))
}
