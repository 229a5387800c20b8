//! Names of factors and levels, found in a model or refused with the nearest.

use crate::error::{ChoiceError, EffectError, Result};
use crate::models::{Model, Ready, Variable};
use crate::trial::Value;

/// A model with its frame, to look names up in.
#[derive(Clone, Copy)]
pub(crate) struct Names<'a> {
    pub(crate) model: &'a Model,
    pub(crate) ready: &'a Ready,
}

impl<'a> Names<'a> {
    /// The factor of that name and its place among the variables.
    ///
    /// # Errors
    /// [`ChoiceError`] with the factors of the model.
    pub(crate) fn factor(self, name: &str) -> Result<(usize, &'a Variable)> {
        let factors = || self.ready.frame.variables.iter().enumerate().filter(|(_, variable)| !variable.is_covariate());
        let known: Vec<&str> = factors().map(|(_, variable)| variable.name.as_str()).collect();
        let found = factors().find(|(_, variable)| variable.name == name);
        found.ok_or_else(|| ChoiceError::new("factor of the model", name, &known).into())
    }

    /// The code of a level in the model.
    ///
    /// # Errors
    /// [`EffectError::NoTrays`] for a level recorded without cuttings, [`ChoiceError`] for one that is not known.
    pub(crate) fn level_of(self, variable: &Variable, level: &str) -> Result<usize> {
        if let Some(code) = variable.levels.iter().position(|known| known == level) {
            return Ok(code);
        }
        let recorded = self.model.units.factor(&variable.name);
        if recorded.is_some_and(|factor| factor.levels.iter().any(|known| known == level)) {
            return Err(EffectError::NoTrays { factor: variable.name.clone(), level: level.to_owned() }.into());
        }
        Err(ChoiceError::new(&format!("level of {}", variable.name), level, &variable.levels).into())
    }

    /// A variable held at a value: a level of a factor, or a number of a covariate on its own scale.
    ///
    /// # Errors
    /// [`ChoiceError`] for an unknown name or level, [`EffectError::CovariateValue`] for no number.
    pub(crate) fn held(self, name: &str, given: &str) -> Result<(usize, Value)> {
        let variables = &self.ready.frame.variables;
        let known: Vec<&str> = variables.iter().map(|variable| variable.name.as_str()).collect();
        let found = variables.iter().enumerate().find(|(_, variable)| variable.name == name);
        let (index, variable) = found.ok_or_else(|| ChoiceError::new("effect of the model", name, &known))?;
        if !variable.is_covariate() {
            return Ok((index, Value::Level(self.level_of(variable, given)?)));
        }
        let number = given.trim().parse::<f64>().ok().filter(|number| number.is_finite());
        let wrong = || EffectError::CovariateValue { covariate: name.to_owned(), given: given.to_owned() };
        let number = number.ok_or_else(wrong)?;
        Ok((index, Value::Number((number - variable.centre) / variable.scale)))
    }
}
