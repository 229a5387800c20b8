//! What enters a model: variables, terms and the counts they are fitted to.

use std::collections::HashMap;

use crate::error::{ChoiceError, ModelError, Result};
use crate::math::groups::{Key, sorted};
use crate::models::spec::ModelSpec;
use crate::trial::{Covariate, Factor, Units};

/// One value of a variable.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Value {
    /// A level of a factor.
    Level(usize),
    /// A covariate on its standardised scale `(x - centre) / scale`.
    Number(f64),
}

/// A factor or covariate of the model.
#[derive(Debug, Clone, PartialEq)]
pub struct Variable {
    /// The user's column name.
    pub name: String,
    /// Levels that occur, in their order; empty for a covariate.
    pub levels: Vec<String>,
    /// Index of the reference level.
    pub reference: usize,
    /// Subtracted from a covariate.
    pub centre: f64,
    /// Divides a covariate.
    pub scale: f64,
    /// One value per unit.
    pub values: Vec<Value>,
}

impl Variable {
    /// True for a numeric covariate.
    #[must_use]
    pub fn is_covariate(&self) -> bool {
        self.levels.is_empty()
    }

    /// Codes in the order of the values, and how many there may be.
    fn coded(&self) -> (Vec<u32>, usize) {
        let number = |value: &Value| if let Value::Number(z) = value { z + 0.0 } else { 0.0 };
        if !self.is_covariate() {
            let level = |value: &Value| if let Value::Level(level) = value { *level as u32 } else { 0 };
            return (self.values.iter().map(level).collect(), self.levels.len());
        }
        let mut known: Vec<f64> = self.values.iter().map(number).collect();
        known.sort_unstable_by(f64::total_cmp);
        known.dedup_by(|a, b| a.total_cmp(b).is_eq());
        let rank = |value: &Value| known.binary_search_by(|z| z.total_cmp(&number(value))).unwrap_or_default() as u32;
        (self.values.iter().map(rank).collect(), known.len())
    }

    /// A value as the user wrote it.
    #[must_use]
    pub fn label(&self, value: Value) -> String {
        match value {
            Value::Level(level) => self.levels.get(level).cloned().unwrap_or_default(),
            Value::Number(z) => format!("{}", (z * self.scale + self.centre) as f32),
        }
    }
}

/// A main effect or an interaction.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Term {
    /// `strength` or `strength x rootstock`.
    pub name: String,
    /// Indices into the variables.
    pub variables: Vec<usize>,
    /// False for the block, which is kept but not tested.
    pub asked: bool,
}

impl Term {
    /// True when every variable of `self` is in `other`.
    #[must_use]
    pub fn within(&self, other: &Self) -> bool {
        self.variables.iter().all(|v| other.variables.contains(v))
    }
}

/// Counts with the values of every variable: units alike in all variables are one row.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Data {
    /// Cuttings rooted.
    pub rooted: Vec<f64>,
    /// Cuttings stuck.
    pub stuck: Vec<f64>,
    /// Units (trays or pooled counts).
    pub units: Vec<u64>,
    /// Values of the variables.
    pub values: Vec<Vec<Value>>,
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
    /// How many there are.
    pub times: f64,
}

/// Counts of the units in which cuttings were set.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct PerUnit {
    /// Cuttings rooted.
    pub rooted: Vec<f64>,
    /// Cuttings stuck.
    pub stuck: Vec<f64>,
    /// The row of [`Data`] each unit belongs to.
    pub row: Vec<usize>,
}

/// Variables, terms and counts of one model.
#[derive(Debug, Clone, PartialEq)]
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
}

impl Frame {
    /// Resolves names, checks covariates, codes everything and joins units alike in all variables.
    ///
    /// # Errors
    /// [`ModelError`] or [`ChoiceError`] naming the column at fault.
    pub fn new(units: &Units, spec: &ModelSpec) -> Result<Self> {
        spec.check()?;
        check_units(units)?;
        let rows = set_units(units);
        if rows.is_empty() {
            return Err(ModelError::NoData.into());
        }
        let (mut variables, mut terms) = (Vec::new(), Vec::new());
        if let Some(block) = units.block.as_ref().filter(|block| !spec.effects.contains(&block.name))
            && let Ok(variable) = factor_variable(block, None, &rows)
        {
            terms.push(Term { name: block.name.clone(), variables: vec![variables.len()], asked: false });
            variables.push(variable);
        }
        for name in &spec.effects {
            let variable = resolve(units, spec, name, &rows)?;
            terms.push(Term { name: name.clone(), variables: vec![variables.len()], asked: true });
            variables.push(variable);
        }
        for parts in &spec.interactions {
            let index = |name: &String| variables.iter().position(|v: &Variable| v.name == *name);
            let members: Vec<usize> = parts.iter().filter_map(index).collect();
            terms.push(Term { name: parts.join(" x "), variables: members, asked: true });
        }
        let count = |counts: &[u64]| rows.iter().filter_map(|unit| counts.get(*unit)).map(|n| *n as f64).collect();
        let per_unit = PerUnit { rooted: count(&units.rooted), stuck: count(&units.stuck), row: Vec::new() };
        Ok(Self { variables, terms, data: Data::default(), per_unit }.joined())
    }

    /// Joins units alike in all variables, in the order of their values.
    fn joined(mut self) -> Self {
        let codes: Vec<(Vec<u32>, usize)> = self.variables.iter().map(Variable::coded).collect();
        let keys: Vec<Key<'_>> = codes.iter().map(|(codes, size)| Key::new(codes, *size)).collect();
        let groups = sorted(&keys, self.per_unit.stuck.len());
        self.per_unit.row = vec![0; self.per_unit.stuck.len()];
        self.data = Data::default();
        for (row, members) in groups.groups().enumerate() {
            for member in members {
                if let Some(place) = self.per_unit.row.get_mut(*member) {
                    *place = row;
                }
            }
            let sum = |counts: &[f64]| members.iter().filter_map(|unit| counts.get(*unit)).sum();
            let lead = members.first().copied().unwrap_or_default();
            self.data.rooted.push(sum(&self.per_unit.rooted));
            self.data.stuck.push(sum(&self.per_unit.stuck));
            self.data.units.push(members.len() as u64);
            self.data.values.push(self.variables.iter().filter_map(|v| v.values.get(lead).copied()).collect());
        }
        self
    }

    /// True when a covariate takes part. Its units then stand for themselves also where trays are not counted.
    #[must_use]
    pub fn has_covariate(&self) -> bool {
        self.variables.iter().any(Variable::is_covariate)
    }

    /// Rooted, stuck and row of every unit, or of every row as a whole.
    #[must_use]
    pub fn counts(&self, apart: bool) -> Vec<Tally> {
        let tally =
            |((rooted, stuck), row): ((&f64, &f64), usize)| Tally { rooted: *rooted, stuck: *stuck, row, times: 1.0 };
        if !apart {
            return self.data.rooted.iter().zip(&self.data.stuck).zip(0..).map(tally).collect();
        }
        let PerUnit { rooted, stuck, row } = &self.per_unit;
        // Trays of one size take few values: each is worked out once.
        let mut places: HashMap<(u64, u64, usize), usize> = HashMap::new();
        let mut tallies: Vec<Tally> = Vec::new();
        for found in rooted.iter().zip(stuck).zip(row.iter().copied()).map(tally) {
            let place = places.entry((found.rooted as u64, found.stuck as u64, found.row)).or_insert(tallies.len());
            match tallies.get_mut(*place) {
                Some(known) => known.times += 1.0,
                None => tallies.push(found),
            }
        }
        tallies
    }

    /// Adds a factor (the whole plots) as first term; its codes are per unit with cuttings.
    #[must_use]
    pub fn with_factor(&self, units: &Units, factor: &Factor) -> Option<Self> {
        let variable = factor_variable(factor, None, &set_units(units)).ok()?;
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

/// Units in which cuttings were set.
fn set_units(units: &Units) -> Vec<usize> {
    (0..units.len()).filter(|unit| units.stuck.get(*unit).is_some_and(|m| *m > 0)).collect()
}

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

fn resolve(units: &Units, spec: &ModelSpec, name: &str, rows: &[usize]) -> Result<Variable> {
    if let Some(factor) = units.factor(name) {
        return factor_variable(factor, spec.reference.get(name), rows);
    }
    if let Some(covariate) = units.covariates.iter().find(|covariate| covariate.name == name) {
        let alone = !spec.interactions.iter().flatten().any(|part| part == name);
        return covariate_variable(covariate, alone, rows);
    }
    let design = [&units.block, &units.whole_plot, &units.season, &units.stock_plant, &units.tray];
    let factors = units.treatments.iter().chain(design.into_iter().flatten()).map(|factor| factor.name.as_str());
    let known: Vec<&str> = factors.chain(units.covariates.iter().map(|c| c.name.as_str())).collect();
    Err(ChoiceError::new("column", name, &known).into())
}

fn factor_variable(factor: &Factor, reference: Option<&String>, rows: &[usize]) -> Result<Variable> {
    let codes: Vec<usize> = rows.iter().filter_map(|row| factor.codes.get(*row)).map(|code| *code as usize).collect();
    let mut place: Vec<Option<usize>> = vec![None; factor.levels.len()];
    for code in &codes {
        if let Some(place) = place.get_mut(*code) {
            *place = Some(0);
        }
    }
    let occurs: Vec<usize> = place.iter().enumerate().filter_map(|(level, seen)| seen.map(|_| level)).collect();
    for (position, level) in occurs.iter().enumerate() {
        if let Some(place) = place.get_mut(*level) {
            *place = Some(position);
        }
    }
    let levels: Vec<String> = occurs.iter().filter_map(|level| factor.levels.get(*level).cloned()).collect();
    if levels.len() < 2 {
        let level = levels.first().cloned().unwrap_or_default();
        return Err(ModelError::OneLevel { effect: factor.name.clone(), level }.into());
    }
    let reference = match reference {
        None => 0,
        Some(given) => levels
            .iter()
            .position(|level| level == given)
            .ok_or_else(|| ChoiceError::new(&format!("level of {}", factor.name), given, &levels))?,
    };
    let value = |code: usize| Value::Level(place.get(code).copied().flatten().unwrap_or(0));
    let values = codes.into_iter().map(value).collect();
    Ok(Variable { name: factor.name.clone(), levels, reference, centre: 0.0, scale: 1.0, values })
}

/// A covariate is centred only when it enters no interaction, so that scaling back touches the intercept alone.
fn covariate_variable(covariate: &Covariate, alone: bool, rows: &[usize]) -> Result<Variable> {
    let effect = covariate.name.clone();
    let values: Vec<f64> = rows.iter().filter_map(|row| covariate.values.get(*row).copied()).collect();
    if let Some(value) = values.iter().copied().find(|value| !value.is_finite()) {
        return Err(ModelError::NotFinite { effect, value }.into());
    }
    let first = values.first().copied().unwrap_or(0.0);
    let spread = values.iter().map(|x| (x - first).abs()).fold(0.0, f64::max);
    if spread == 0.0 {
        return Err(ModelError::OneLevel { effect, level: first.to_string() }.into());
    }
    let n = values.len() as f64;
    let mean = first + values.iter().map(|x| (x - first) / n).sum::<f64>();
    let centre = if alone { mean } else { 0.0 };
    let scale = values.iter().map(|x| (x - centre).abs()).fold(0.0, f64::max);
    let values = values.iter().map(|x| Value::Number((x - centre) / scale)).collect();
    Ok(Variable { name: effect, levels: Vec::new(), reference: 0, centre, scale, values })
}
