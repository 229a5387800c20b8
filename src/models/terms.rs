//! What enters a model: variables, terms and the counts they are fitted to.

use std::collections::BTreeMap;

use crate::error::{ChoiceError, ModelError, Result};
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

/// Counts with the values of every variable.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Data {
    /// Cuttings rooted.
    pub rooted: Vec<f64>,
    /// Cuttings stuck.
    pub stuck: Vec<f64>,
    /// Values of the variables, one row per count.
    pub values: Vec<Vec<Value>>,
}

/// Variables, terms and counts of one model.
#[derive(Debug, Clone, PartialEq)]
pub struct Frame {
    /// Variables.
    pub variables: Vec<Variable>,
    /// Terms: block, effects, interactions.
    pub terms: Vec<Term>,
    /// Counts.
    pub data: Data,
    /// The same per unit, before any grouping.
    pub per_unit: Data,
}

impl Frame {
    /// Resolves names, checks covariates and codes everything; `grouped` joins units alike in all factors.
    ///
    /// # Errors
    /// [`ModelError`] or [`ChoiceError`] naming the column at fault.
    pub fn new(units: &Units, spec: &ModelSpec, grouped: bool) -> Result<Self> {
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
        let per_unit = per_unit(units, &variables, &rows);
        let numeric = variables.iter().any(Variable::is_covariate);
        let data = if grouped && !numeric { group(&per_unit) } else { per_unit.clone() };
        Ok(Self { variables, terms, data, per_unit })
    }

    /// Adds a factor (the whole plots) as first term; its codes are per unit with cuttings.
    #[must_use]
    pub fn with_factor(&self, units: &Units, factor: &Factor) -> Option<Self> {
        let variable = factor_variable(factor, None, &set_units(units)).ok()?;
        let mut frame = self.clone();
        for (row, value) in frame.per_unit.values.iter_mut().zip(&variable.values) {
            row.push(*value);
        }
        frame.data = frame.per_unit.clone();
        frame.terms.insert(0, Term { name: factor.name.clone(), variables: vec![frame.variables.len()], asked: false });
        frame.variables.push(variable);
        Some(frame)
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

fn per_unit(units: &Units, variables: &[Variable], rows: &[usize]) -> Data {
    let count = |counts: &[u64]| rows.iter().filter_map(|unit| counts.get(*unit)).map(|n| *n as f64).collect();
    let values = (0..rows.len()).map(|row| variables.iter().filter_map(|v| v.values.get(row).copied()).collect());
    Data { rooted: count(&units.rooted), stuck: count(&units.stuck), values: values.collect() }
}

fn group(data: &Data) -> Data {
    let mut groups: BTreeMap<Vec<usize>, (f64, f64)> = BTreeMap::new();
    for (values, (y, m)) in data.values.iter().zip(data.rooted.iter().zip(&data.stuck)) {
        let key = values.iter().map(|value| if let Value::Level(level) = value { *level } else { 0 }).collect();
        let sum = groups.entry(key).or_default();
        *sum = (sum.0 + y, sum.1 + m);
    }
    let mut out = Data::default();
    for (key, (y, m)) in groups {
        out.rooted.push(y);
        out.stuck.push(m);
        out.values.push(key.into_iter().map(Value::Level).collect());
    }
    out
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
    let occurs: Vec<usize> = (0..factor.levels.len()).filter(|level| codes.contains(level)).collect();
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
    let place = |code: usize| occurs.iter().position(|level| *level == code).unwrap_or(0);
    let values = codes.into_iter().map(|code| Value::Level(place(code))).collect();
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
