//! What enters a model: variables, terms and the counts they are fitted to.

use std::collections::HashMap;
use std::sync::Arc;

use super::joined::join;
use super::per_unit::PerUnit;
use super::places::Placing;
use super::spec::ModelSpec;
use super::terms::{Term, interactions};
use super::variables::{Variable, factor_variable, numbers, resolve};
use crate::control::Control;
use crate::error::{ModelError, Result};
use crate::layers::Earlier;
use crate::trial::{Constants, Data, Factor, Members, Numbers, Prepared, Units, Value, at_own_rate};

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
    /// True when the counts of the data were divided by design effects; those per unit never are.
    pub(crate) divided: bool,
    prepared: Arc<Prepared>,
    /// How the recorded units above the tray enter.
    pub(crate) placing: Placing,
    /// Asked during long fits.
    pub control: Arc<Control>,
}

impl Frame {
    /// Resolves names, checks covariates, codes everything and joins units alike in all variables.
    ///
    /// # Errors
    /// [`ModelError`] or [`crate::error::ChoiceError`] naming the column at fault.
    pub fn new(units: &Units, spec: &ModelSpec) -> Result<Self> {
        let prepared = Arc::new(Prepared::new(&Arc::new(units.clone())));
        Self::of(&prepared, spec, &Arc::new(Control::new()))
    }

    /// The same from units that other models may share; fits of this frame end when the control is stopped.
    ///
    /// # Errors
    /// As [`Frame::new`].
    pub(crate) fn of(prepared: &Arc<Prepared>, spec: &ModelSpec, control: &Arc<Control>) -> Result<Self> {
        spec.check()?;
        let (units, counts) = (prepared.units(), prepared.counts()?);
        let weighted = weighted_units(units, spec, &counts.set)?;
        let rows = weighted.as_ref().map_or(&counts.set, |weighted| &weighted.members);
        let known = weighted.is_none().then_some(prepared.as_ref());
        let members = Members { units, rows, prepared: known };
        let offset = offset(units, spec, rows)?;
        let Entering { variables, terms, added, placing } = variables_and_terms(&members, spec)?;
        let counted = |known: &Numbers, counts: &[u64]| match &weighted {
            None => known.clone(),
            Some(_) => members.picked(counts).iter().map(|n| *n as f64).collect(),
        };
        let per_unit = PerUnit {
            rooted: counted(&counts.rooted, &units.rooted),
            stuck: counted(&counts.stuck, &units.stuck),
            offset,
            weights: weighted.as_ref().map(|weighted| weighted.weights.clone()).unwrap_or_default(),
            row: Vec::new(),
        };
        let members = (rows.len() < units.len()).then(|| rows.clone());
        let left_out = weighted.map(|weighted| weighted.left_out).unwrap_or_default();
        let (data, control, prepared) = (Data::default(), Arc::clone(control), Arc::clone(prepared));
        let divided = false;
        let frame =
            Self { variables, terms, data, per_unit, members, left_out, added, divided, prepared, placing, control };
        Ok(frame.joined())
    }

    /// What earlier trials of the place tell of how units differ.
    pub(crate) fn earlier(&self) -> Option<&Earlier> {
        self.prepared.units().earlier.as_ref()
    }

    /// The same with units alike in all variables joined.
    fn joined(mut self) -> Self {
        let plain = self.per_unit.weights.is_empty() && self.per_unit.offset.is_empty();
        let make = || join(&self.variables, &self.per_unit);
        let joined = if plain && !self.variables.iter().any(Variable::is_covariate) {
            let names = self.variables.iter().map(|variable| variable.name.clone()).collect();
            let known = self.prepared.joined(names, make);
            Arc::unwrap_or_clone(known)
        } else {
            make()
        };
        (self.per_unit.row, self.data, self.divided) = (joined.row, joined.data, false);
        self
    }

    /// Parts of the log-likelihood that depend on the counts alone; `apart` takes every unit for itself in the saturated model, also
    /// those alike in all variables.
    pub(crate) fn constants(&self, apart: bool) -> Constants {
        let known = if self.per_unit.weights.is_empty() {
            let trays = &self.per_unit;
            self.prepared.constants(trays.rooted.iter().copied().zip(trays.stuck.iter().copied()))
        } else {
            Constants::of(self.tallies(true).map(|one| (one.rooted, one.stuck, one.times)))
        };
        if apart || self.is_apart() {
            return known;
        }
        let saturated = self.tallies(false).map(|one| one.times * at_own_rate(one.rooted, one.stuck)).sum();
        Constants { saturated, ..known }
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
        let rows = self.members();
        let known = self.per_unit.weights.is_empty().then_some(self.prepared.as_ref());
        let members = Members { units: self.prepared.units(), rows: &rows, prepared: known };
        let variable = factor_variable(&factor.name, &members.levels(factor), &ModelSpec::default()).ok()?;
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

/// Units by their prior weights.
struct Weighted {
    members: Vec<usize>,
    left_out: Vec<usize>,
    weights: Numbers,
}

/// The units that enter, those whose weight is 0, and the weights of the first; none when no weights were named.
fn weighted_units(units: &Units, spec: &ModelSpec, set: &[usize]) -> Result<Option<Weighted>> {
    let Some(column) = &spec.weights else { return Ok(None) };
    let weights = numbers(units, ("weights", column.as_str()), set)?;
    let bad = |(_, weight): &(&usize, &f64)| !(weight.is_finite() && **weight >= 0.0);
    if let Some((unit, value)) = set.iter().zip(&weights).find(bad) {
        return Err(ModelError::Weight { column: column.clone(), value: *value, unit: *unit, row: None }.into());
    }
    let (members, left_out): (Vec<_>, Vec<_>) = set.iter().zip(&weights).partition(|(_, weight)| **weight > 0.0);
    if members.is_empty() {
        return Err(ModelError::NoWeight { column: column.clone() }.into());
    }
    let weights = members.iter().map(|(_, weight)| **weight).collect();
    let only = |pairs: Vec<(&usize, &f64)>| pairs.into_iter().map(|(unit, _)| *unit).collect();
    Ok(Some(Weighted { members: only(members), left_out: only(left_out), weights }))
}

fn offset(units: &Units, spec: &ModelSpec, members: &[usize]) -> Result<Numbers> {
    let Some(column) = &spec.offset else { return Ok(Numbers::default()) };
    let offset = numbers(units, ("offset", column.as_str()), members)?;
    match members.iter().zip(&offset).find(|(_, value)| !value.is_finite()) {
        Some((unit, value)) => {
            let effect = column.clone();
            Err(ModelError::CovariateNotFinite { effect, value: *value, unit: *unit, row: None }.into())
        }
        None => Ok(offset.into()),
    }
}

/// What enters: variables and terms, interactions that enter unasked, and units above the tray.
struct Entering {
    variables: Vec<Variable>,
    terms: Vec<Term>,
    added: Vec<String>,
    placing: Placing,
}

fn variables_and_terms(members: &Members<'_>, spec: &ModelSpec) -> Result<Entering> {
    let (mut variables, mut terms, mut added) = (Vec::new(), Vec::new(), Vec::new());
    let asked = spec.effects.iter().map(|name| resolve(members, spec, name)).collect::<Result<Vec<Variable>>>()?;
    let placing = Placing::of(members, spec, &asked);
    for place in placing.fixed.iter().filter_map(|name| members.units.factor(name)) {
        if let Ok(variable) = factor_variable(&place.name, &members.levels(place), spec) {
            terms.push(Term { name: place.name.clone(), variables: vec![variables.len()], asked: false });
            variables.push(variable);
        }
    }
    for (name, variable) in spec.effects.iter().zip(asked) {
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
    Ok(Entering { variables, terms, added, placing })
}

/// The most coefficients of a model: a step of a fit then takes less than a second, and sums of products fit into memory.
const MOST_COEFFICIENTS: usize = 1000;

/// The level of a value; 0 for a number.
#[must_use]
pub(crate) fn level_of(value: Value) -> usize {
    if let Value::Level(level) = value { level } else { 0 }
}
