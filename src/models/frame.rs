//! What enters a model: variables, terms and the counts they are fitted to.

use std::collections::{HashMap, HashSet};
use std::sync::Arc;

use crate::control::Control;
use crate::error::{ModelError, Result};
use crate::math::groups::{Key, sorted};
use crate::models::spec::ModelSpec;
use crate::models::terms::{Term, interactions};
use crate::models::values::{Numbers, Value, ValueTable, Values, picked};
use crate::models::variables::{Variable, factor_variable, numbers, resolve};
use crate::trial::{Factor, Units};

/// Counts with the values of every variable: units alike in all variables are one row.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Data {
    /// Cuttings rooted.
    pub rooted: Numbers,
    /// Cuttings stuck.
    pub stuck: Numbers,
    /// Units (trays or pooled counts).
    pub units: Vec<u64>,
    /// Fixed part of the linear predictor; empty without an offset.
    pub offset: Numbers,
    /// Prior weights; empty without.
    pub weights: Numbers,
    /// Values of the variables.
    pub values: ValueTable,
}

/// Units of one row with the same counts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tally {
    /// Cuttings rooted in each.
    pub rooted: f64,
    /// Cuttings stuck in each.
    pub stuck: f64,
    /// Their row of [`Data`].
    pub row: usize,
    /// What their log-likelihood is multiplied by: how many there are, times their weight.
    pub times: f64,
}

/// Counts of the units in which cuttings were set and whose weight is above 0.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct PerUnit {
    /// Cuttings rooted.
    pub rooted: Numbers,
    /// Cuttings stuck.
    pub stuck: Numbers,
    /// Offset; empty without.
    pub offset: Numbers,
    /// Prior weights; empty without.
    pub weights: Numbers,
    /// The row of [`Data`] each unit belongs to.
    pub row: Vec<usize>,
}

/// Variables, terms and counts of one model.
#[derive(Debug, Clone)]
pub struct Frame {
    /// Variables.
    pub variables: Vec<Variable>,
    /// Terms: block, effects, interactions.
    pub terms: Vec<Term>,
    /// Counts per combination of values. The estimates need no more: the binomial likelihoods of units with the same values
    /// differ from that of their sum by a constant.
    pub data: Data,
    /// Counts per unit, which show how units with the same values differ.
    pub per_unit: PerUnit,
    /// The units that enter, as numbers in the trial's units; none when all of them do.
    members: Option<Vec<usize>>,
    /// Units with cuttings and weight 0, which take no part.
    pub left_out: Vec<usize>,
    /// Interactions that entered because a larger one was asked for.
    pub added: Vec<String>,
    /// Asked during long fits.
    pub control: Arc<Control>,
}

impl Frame {
    /// Resolves names, checks covariates, codes everything and joins units alike in all variables.
    ///
    /// # Errors
    /// [`ModelError`] or [`crate::error::ChoiceError`] naming the column at fault.
    pub fn new(units: &Units, spec: &ModelSpec) -> Result<Self> {
        Self::watched(units, spec, &Arc::new(Control::new()))
    }

    /// The same; fits of this frame end when the control is stopped.
    ///
    /// # Errors
    /// As [`Frame::new`].
    pub fn watched(units: &Units, spec: &ModelSpec, control: &Arc<Control>) -> Result<Self> {
        spec.check()?;
        check_units(units)?;
        let set: Vec<usize> = set_units(units);
        if set.is_empty() {
            return Err(ModelError::NoData.into());
        }
        let (members, left_out, weights) = weighted_units(units, spec, set)?;
        let per_unit = PerUnit {
            rooted: counts(&units.rooted, &members),
            stuck: counts(&units.stuck, &members),
            offset: offset(units, spec, &members)?,
            weights,
            row: Vec::new(),
        };
        let (variables, terms, added) = variables_and_terms(units, spec, &members)?;
        let (data, control) = (Data::default(), Arc::clone(control));
        let members = (members.len() < units.len()).then_some(members);
        Ok(Self { variables, terms, data, per_unit, members, left_out, added, control }.joined())
    }

    /// Joins units alike in all variables, in the order of their values. Where a number is different almost everywhere, every
    /// unit stays a row of its own.
    fn joined(mut self) -> Self {
        let n = self.per_unit.stuck.len();
        let columns: Vec<Values> = self.variables.iter().map(|variable| variable.values.clone()).collect();
        let more: [&[f64]; 2] = [&self.per_unit.offset, &self.per_unit.weights];
        let numbers = columns.iter().map(Values::numbers).chain(more);
        if numbers.into_iter().any(mostly_distinct) {
            self.per_unit.row = (0..n).collect();
            let PerUnit { rooted, stuck, offset, weights, .. } = self.per_unit.clone();
            let values = ValueTable { columns, rows: n };
            self.data = Data { rooted, stuck, units: vec![1; n], offset, weights, values };
            return self;
        }
        let levels = self.variables.iter().map(|variable| variable.levels.len());
        let mut codes: Vec<(Vec<u32>, usize)> = columns.iter().zip(levels).map(coded).collect();
        codes.extend(more.into_iter().filter(|numbers| !numbers.is_empty()).map(ranked));
        let keys: Vec<Key<'_>> = codes.iter().map(|(codes, size)| Key::new(codes, *size)).collect();
        let groups = sorted(&keys, n);
        self.per_unit.row = vec![0; n];
        let (mut data, mut leads) = (Data::default(), Vec::new());
        let (mut rooted, mut stuck) = (Vec::new(), Vec::new());
        for (row, members) in groups.groups().enumerate() {
            for member in members {
                if let Some(place) = self.per_unit.row.get_mut(*member) {
                    *place = row;
                }
            }
            let sum = |counts: &[f64]| members.iter().filter_map(|unit| counts.get(*unit)).sum();
            leads.push(members.first().copied().unwrap_or_default());
            rooted.push(sum(&self.per_unit.rooted));
            stuck.push(sum(&self.per_unit.stuck));
            data.units.push(members.len() as u64);
        }
        (data.rooted, data.stuck) = (rooted.into(), stuck.into());
        data.offset = picked(&self.per_unit.offset, &leads).into();
        data.weights = picked(&self.per_unit.weights, &leads).into();
        let columns = columns.iter().map(|column| column.at(&leads)).collect();
        data.values = ValueTable { columns, rows: leads.len() };
        self.data = data;
        self
    }

    /// True when a covariate takes part. Its units then stand for themselves also where trays are not counted.
    #[must_use]
    pub fn has_covariate(&self) -> bool {
        self.variables.iter().any(Variable::is_covariate) || !self.data.offset.is_empty()
    }

    /// True when the rows are the units themselves.
    #[must_use]
    pub fn is_apart(&self) -> bool {
        self.data.values.rows == self.per_unit.stuck.len()
    }

    /// Rooted, stuck and row of every unit, or of every row as a whole.
    #[must_use]
    pub fn counts(&self, apart: bool) -> Vec<Tally> {
        if !apart || self.is_apart() {
            return self.tallies(apart).collect();
        }
        // Trays of one size take few values: each is worked out once.
        let mut places: HashMap<(u64, u64, usize), usize> = HashMap::new();
        let mut tallies: Vec<Tally> = Vec::new();
        for found in self.tallies(true) {
            let place = places.entry((found.rooted as u64, found.stuck as u64, found.row)).or_insert(tallies.len());
            match tallies.get_mut(*place) {
                Some(known) => known.times += found.times,
                None => tallies.push(found),
            }
        }
        tallies
    }

    /// The same one by one.
    pub(crate) fn tallies(&self, apart: bool) -> impl Iterator<Item = Tally> + '_ {
        let n = if apart { self.per_unit.stuck.len() } else { self.data.stuck.len() };
        (0..n).filter_map(move |at| {
            let (rooted, stuck, row) = if apart {
                let PerUnit { rooted, stuck, row, .. } = &self.per_unit;
                (*rooted.get(at)?, *stuck.get(at)?, *row.get(at)?)
            } else {
                (*self.data.rooted.get(at)?, *self.data.stuck.get(at)?, at)
            };
            Some(Tally { rooted, stuck, row, times: self.data.weights.get(row).copied().unwrap_or(1.0) })
        })
    }

    /// The units that enter, as numbers in the trial's units.
    pub(crate) fn members(&self) -> Vec<usize> {
        self.members.clone().unwrap_or_else(|| (0..self.per_unit.stuck.len()).collect())
    }

    /// The mean offset of the units; 0 without one.
    pub(crate) fn mean_offset(&self) -> f64 {
        let offset = &self.per_unit.offset;
        offset.iter().sum::<f64>() / offset.len().max(1) as f64
    }

    /// Adds a factor (the whole plots) as first term; its codes are per unit with cuttings.
    #[must_use]
    pub fn with_factor(&self, factor: &Factor) -> Option<Self> {
        let all: Vec<usize>;
        let members = match &self.members {
            Some(members) => members,
            None => {
                all = (0..factor.codes.len()).collect();
                &all
            }
        };
        let variable = factor_variable(factor, &ModelSpec::default(), members).ok()?;
        let mut frame = self.clone();
        frame.terms.insert(0, Term { name: factor.name.clone(), variables: vec![frame.variables.len()], asked: false });
        frame.variables.push(variable);
        Some(frame.joined())
    }

    /// Terms other than `term` that do not contain it, as indices.
    #[must_use]
    pub fn not_containing(&self, term: usize) -> Vec<usize> {
        let Some(this) = self.terms.get(term) else { return Vec::new() };
        let others = self.terms.iter().enumerate();
        others.filter(|(index, other)| *index != term && !this.within(other)).map(|(index, _)| index).collect()
    }
}

fn counts(counts: &[u64], members: &[usize]) -> Numbers {
    members.iter().filter_map(|unit| counts.get(*unit)).map(|n| *n as f64).collect()
}

/// Units in which cuttings were set.
fn set_units(units: &Units) -> Vec<usize> {
    (0..units.len()).filter(|unit| units.stuck.get(*unit).is_some_and(|m| *m > 0)).collect()
}

/// The units that enter, those whose weight is 0, and the weights of the first; no weights when none were named.
fn weighted_units(units: &Units, spec: &ModelSpec, set: Vec<usize>) -> Result<(Vec<usize>, Vec<usize>, Numbers)> {
    let Some(column) = &spec.weights else { return Ok((set, Vec::new(), Numbers::default())) };
    let weights = numbers(units, column, &set)?;
    let bad = |(_, weight): &(&usize, &f64)| !(weight.is_finite() && **weight >= 0.0);
    if let Some((unit, value)) = set.iter().zip(&weights).find(bad) {
        return Err(ModelError::Weight { column: column.clone(), value: *value, unit: *unit, row: None }.into());
    }
    let (members, left_out): (Vec<_>, Vec<_>) = set.iter().zip(&weights).partition(|(_, weight)| **weight > 0.0);
    if members.is_empty() {
        return Err(ModelError::NoWeight { column: column.clone() }.into());
    }
    let kept = members.iter().map(|(_, weight)| **weight).collect();
    let only = |pairs: Vec<(&usize, &f64)>| pairs.into_iter().map(|(unit, _)| *unit).collect();
    Ok((only(members), only(left_out), kept))
}

fn offset(units: &Units, spec: &ModelSpec, members: &[usize]) -> Result<Numbers> {
    let Some(column) = &spec.offset else { return Ok(Numbers::default()) };
    let offset = numbers(units, column, members)?;
    match members.iter().zip(&offset).find(|(_, value)| !value.is_finite()) {
        Some((unit, value)) => {
            let effect = column.clone();
            Err(ModelError::CovariateNotFinite { effect, value: *value, unit: *unit, row: None }.into())
        }
        None => Ok(offset.into()),
    }
}

type Entering = (Vec<Variable>, Vec<Term>, Vec<String>);

fn variables_and_terms(units: &Units, spec: &ModelSpec, members: &[usize]) -> Result<Entering> {
    let (mut variables, mut terms, mut added) = (Vec::new(), Vec::new(), Vec::new());
    let entered = |name: &String| spec.effects.contains(name) || spec.random.contains(name);
    if let Some(block) = units.block.as_ref().filter(|block| !entered(&block.name))
        && let Ok(variable) = factor_variable(block, spec, members)
    {
        terms.push(Term { name: block.name.clone(), variables: vec![variables.len()], asked: false });
        variables.push(variable);
    }
    for name in &spec.effects {
        let variable = resolve(units, spec, name, members)?;
        terms.push(Term { name: name.clone(), variables: vec![variables.len()], asked: true });
        variables.push(variable);
    }
    for (parts, unasked) in interactions(spec) {
        let index = |name: &String| variables.iter().position(|v: &Variable| v.name == *name);
        let (name, members) = (parts.join(" x "), parts.iter().filter_map(index).collect());
        if unasked {
            added.push(name.clone());
        }
        terms.push(Term { name, variables: members, asked: true });
    }
    let width = |v: &usize| {
        let variable: Option<&Variable> = variables.get(*v);
        variable.map_or(1, |variable| variable.degree as usize + variable.levels.len().saturating_sub(1))
    };
    let columns = |term: &Term| term.variables.iter().fold(1_usize, |product, v| product.saturating_mul(width(v)));
    let coefficients = terms.iter().fold(1_usize, |sum, term| sum.saturating_add(columns(term)));
    if coefficients > MOST_COEFFICIENTS {
        return Err(ModelError::TooManyCoefficients { coefficients, limit: MOST_COEFFICIENTS }.into());
    }
    Ok((variables, terms, added))
}

/// The most coefficients of a model: a step of a fit then takes less than a second, and sums of products fit into memory.
const MOST_COEFFICIENTS: usize = 1000;

/// Counts that can be, and one known level or value per unit in every column.
fn check_units(units: &Units) -> Result<()> {
    let n = units.len();
    let misaligned = |column: &str| ModelError::Misaligned { column: column.to_owned(), units: n };
    if units.stuck.len() != n {
        return Err(misaligned("stuck").into());
    }
    for unit in set_units(units) {
        units.count(unit).map_or(Ok(()), crate::Count::check)?;
    }
    let design = [&units.block, &units.whole_plot, &units.season, &units.stock_plant, &units.tray];
    for factor in units.treatments.iter().chain(design.into_iter().flatten()) {
        if factor.codes.len() != n || factor.codes.iter().any(|code| *code as usize >= factor.levels.len()) {
            return Err(misaligned(&factor.name).into());
        }
    }
    match units.covariates.iter().find(|covariate| covariate.values.len() != n) {
        Some(covariate) => Err(misaligned(&covariate.name).into()),
        None => Ok(()),
    }
}

/// Codes in the order of the values, and how many there may be.
fn coded((values, levels): (&Values, usize)) -> (Vec<u32>, usize) {
    match values {
        Values::Levels(codes) => ((0..codes.len()).filter_map(|row| codes.get(row)).collect(), levels),
        Values::Numbers(numbers) => ranked(numbers),
    }
}

/// The rank of each number among the different ones, and how many those are.
fn ranked(numbers: &[f64]) -> (Vec<u32>, usize) {
    // Adding 0 turns -0 into 0, so that both are one value.
    let mut known: Vec<f64> = numbers.iter().map(|z| z + 0.0).collect();
    known.sort_unstable_by(f64::total_cmp);
    known.dedup_by(|a, b| a.total_cmp(b).is_eq());
    let rank = |z: &f64| known.binary_search_by(|known| known.total_cmp(&(z + 0.0))).unwrap_or_default() as u32;
    (numbers.iter().map(rank).collect(), known.len())
}

/// True when more than half of the first few thousand numbers are different, so that joining alike units would spare nothing.
fn mostly_distinct(numbers: &[f64]) -> bool {
    const LOOK: usize = 4096;
    let Some(first) = numbers.get(..LOOK) else { return false };
    first.iter().map(|z| z.to_bits()).collect::<HashSet<u64>>().len() > LOOK / 2
}

/// The level of a value; 0 for a number.
#[must_use]
pub(crate) fn level_of(value: Value) -> usize {
    if let Value::Level(level) = value { level } else { 0 }
}
