//! Factors and covariates of a model: names resolved, values checked, covariates standardised.

use std::sync::Arc;

use super::spec::ModelSpec;
use crate::error::{ChoiceError, ModelError, Result};
use crate::trial::{Levels, Members, Units, Value, Values, picked};

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
    /// Highest power of a covariate.
    pub degree: u32,
    /// One value per unit.
    pub values: Values,
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

    /// `dark_days`, `dark_days squared`, `dark_days cubed`, `dark_days to the 4th power`.
    #[must_use]
    pub fn power(&self, power: u32) -> String {
        match power {
            1 => self.name.clone(),
            2 => format!("{} squared", self.name),
            3 => format!("{} cubed", self.name),
            more => format!("{} to the {more}th power", self.name),
        }
    }
}

/// The variable of an effect: a factor, or a covariate where its column is one or is to enter as a number.
pub(super) fn resolve(members: &Members<'_>, spec: &ModelSpec, name: &str) -> Result<Variable> {
    let rows = members.rows;
    let Some(factor) = members.units.factor(name) else {
        let values = numbers(members.units, ("effects", name), rows)?;
        return covariate(name, values, spec.polynomials.get(name).copied(), rows);
    };
    let asked = spec.polynomials.get(name).copied();
    if asked.is_none() && !spec.numeric.iter().any(|numeric| numeric == name) {
        return factor_variable(&factor.name, &members.levels(factor), spec);
    }
    let number = |(at, level): (usize, &String)| {
        let known = factor.numbers.as_ref().and_then(|numbers| numbers.get(at).copied());
        let not = || ModelError::NotNumbers { effect: name.to_owned(), level: level.clone() };
        known.or_else(|| level.trim().parse().ok()).filter(|x: &f64| x.is_finite()).ok_or_else(not)
    };
    let levels: Vec<f64> = factor.levels.iter().enumerate().map(number).collect::<std::result::Result<_, _>>()?;
    let codes = members.picked(&factor.codes);
    let values = codes.iter().filter_map(|code| levels.get(*code as usize).copied()).collect();
    covariate(name, values, asked, rows)
}

/// The entries of a covariate at some units.
pub(super) fn numbers(units: &Units, (option, name): (&'static str, &str), rows: &[usize]) -> Result<Vec<f64>> {
    if let Some(covariate) = units.covariates.iter().find(|covariate| covariate.name == name) {
        return Ok(picked(&covariate.values, rows));
    }
    let known = recorded(units);
    if known.contains(&name) {
        let covariates = units.covariates.iter().map(|covariate| covariate.name.clone()).collect();
        return Err(ModelError::NoNumbers { option, column: name.to_owned(), covariates }.into());
    }
    Err(ChoiceError::new("column", name, &known).into())
}

/// Names of all recorded columns.
pub(crate) fn recorded(units: &Units) -> Vec<&str> {
    let design = [&units.block, &units.whole_plot, &units.season, &units.stock_plant, &units.tray];
    let factors = units.treatments.iter().chain(design.into_iter().flatten()).map(|factor| factor.name.as_str());
    factors.chain(units.covariates.iter().map(|covariate| covariate.name.as_str())).collect()
}

/// A factor with the levels that occur.
pub(super) fn factor_variable(name: &str, occurring: &Levels, spec: &ModelSpec) -> Result<Variable> {
    let levels = &occurring.names;
    if levels.len() < 2 {
        let level = levels.first().cloned().unwrap_or_default();
        return Err(ModelError::OneLevel { effect: name.to_owned(), level }.into());
    }
    let position = |wanted: &String| levels.iter().position(|level| level == wanted);
    let reference = match spec.reference.get(name) {
        // Where the control has no cuttings, the first level takes its place.
        None => spec.controls.get(name).and_then(position).unwrap_or(0),
        Some(given) => position(given).ok_or_else(|| ChoiceError::new(&format!("level of {name}"), given, levels))?,
    };
    let (levels, values) = (levels.clone(), Values::Levels(Arc::clone(&occurring.codes)));
    Ok(Variable { name: name.to_owned(), levels, reference, centre: 0.0, scale: 1.0, degree: 0, values })
}

/// A covariate, centred at its mean and divided by its farthest value: powers and products of such values stay apart as far
/// as they can.
fn covariate(name: &str, mut values: Vec<f64>, degree: Option<u32>, rows: &[usize]) -> Result<Variable> {
    let effect = name.to_owned();
    if let Some((at, value)) = values.iter().copied().enumerate().find(|(_, value)| !value.is_finite()) {
        let unit = rows.get(at).copied().unwrap_or(at);
        return Err(ModelError::CovariateNotFinite { effect, value, unit, row: None }.into());
    }
    let first = values.first().copied().unwrap_or(0.0);
    let spread = values.iter().map(|x| (x - first).abs()).fold(0.0, f64::max);
    if spread == 0.0 {
        return Err(ModelError::OneLevel { effect, level: first.to_string() }.into());
    }
    if let Some(degree) = degree {
        let distinct = distinct_up_to(&values, degree as usize + 1);
        if degree == 0 || distinct <= degree as usize {
            return Err(ModelError::Degree { effect, degree, distinct }.into());
        }
    }
    let n = values.len() as f64;
    let centre = first + values.iter().map(|x| (x - first) / n).sum::<f64>();
    let scale = values.iter().map(|x| (x - centre).abs()).fold(0.0, f64::max);
    values.iter_mut().for_each(|x| *x = (*x - centre) / scale);
    let (levels, values) = (Vec::new(), Values::Numbers(Arc::new(values)));
    Ok(Variable { name: effect, levels, reference: 0, centre, scale, degree: degree.unwrap_or(1), values })
}

/// How many different values there are, counted up to a limit.
fn distinct_up_to(values: &[f64], limit: usize) -> usize {
    let mut seen: Vec<f64> = Vec::new();
    for value in values {
        if seen.len() >= limit {
            break;
        }
        if !seen.iter().any(|known| known.total_cmp(value).is_eq()) {
            seen.push(*value);
        }
    }
    seen.len()
}
