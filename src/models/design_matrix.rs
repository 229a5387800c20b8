//! Treatment-coded columns, their names, and which of them cannot be told apart.

use serde::{Deserialize, Serialize};

use crate::math::convergence::RANK;
use crate::math::linalg::Qr;
use crate::models::terms::{Data, Frame, Term, Value, Variable};

/// A coefficient that cannot be estimated, with those it is confounded with.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Aliased {
    /// The coefficient.
    pub name: String,
    /// What it cannot be told apart from; empty when no unit has this combination.
    pub with: Vec<String>,
}

/// One column: the product of level indicators and covariates.
#[derive(Debug, Clone, PartialEq)]
pub struct ColumnSpec {
    /// `intercept`, `strength 2500`, `strength 2500 x rootstock K17`.
    pub name: String,
    /// The term; none for the intercept.
    pub term: Option<usize>,
    /// Variable and level (none: the covariate itself).
    pub parts: Vec<(usize, Option<usize>)>,
}

/// The columns of some of a frame's terms, independent ones first.
#[derive(Debug, Clone, PartialEq)]
pub struct Design {
    /// Columns with a coefficient.
    pub columns: Vec<ColumnSpec>,
    /// Their values, one vector per column.
    pub x: Vec<Vec<f64>>,
    /// What each column was divided by: `value on the user's scale = column x scale`.
    pub scales: Vec<f64>,
    /// What must be added to a column, in its own units, to undo the centring of a covariate.
    pub shifts: Vec<f64>,
    /// Columns without a coefficient.
    pub dependent: Vec<ColumnSpec>,
    /// For each of them, its coefficients on `columns`.
    pub combinations: Vec<Vec<f64>>,
}

impl Design {
    /// Builds the columns of `terms` (indices, in that order) on `data`.
    #[must_use]
    pub fn new(frame: &Frame, terms: &[usize], data: &Data) -> Self {
        let mut specs = vec![ColumnSpec { name: "intercept".to_owned(), term: None, parts: Vec::new() }];
        for index in terms {
            if let Some(term) = frame.terms.get(*index) {
                specs.extend(term_columns(&frame.variables, term, *index));
            }
        }
        let all: Vec<Vec<f64>> =
            specs.iter().map(|spec| data.values.iter().map(|values| spec.value(values)).collect()).collect();
        let qr = Qr::new(&all, RANK);
        let keep = |index: &usize| specs.get(*index).cloned();
        let columns: Vec<ColumnSpec> = qr.kept.iter().filter_map(keep).collect();
        let x = qr.kept.iter().filter_map(|index| all.get(*index).cloned()).collect();
        let dependent = qr.dependent.iter().filter_map(|d| keep(&d.column)).collect();
        let combinations = qr.dependent.iter().map(|d| d.combination.clone()).collect();
        let scales = columns.iter().map(|c| c.scale(&frame.variables)).collect();
        let shifts = columns.iter().map(|c| c.shift(&frame.variables)).collect();
        Self { columns, x, scales, shifts, dependent, combinations }
    }

    /// Every term in the frame's order.
    #[must_use]
    pub fn full(frame: &Frame) -> Self {
        Self::new(frame, &(0..frame.terms.len()).collect::<Vec<_>>(), &frame.data)
    }

    /// Rank.
    #[must_use]
    pub fn rank(&self) -> usize {
        self.columns.len()
    }

    /// Positions of a term's columns.
    #[must_use]
    pub fn of_term(&self, term: usize) -> Vec<usize> {
        (0..self.rank()).filter(|j| self.columns.get(*j).is_some_and(|c| c.term == Some(term))).collect()
    }

    /// The row of a combination of values, or none when it cannot be estimated from these data.
    #[must_use]
    pub fn row(&self, values: &[Value]) -> Option<Vec<f64>> {
        let row: Vec<f64> = self.columns.iter().map(|column| column.value(values)).collect();
        for (column, combination) in self.dependent.iter().zip(&self.combinations) {
            let implied: f64 = combination.iter().zip(&row).map(|(c, x)| c * x).sum();
            if (implied - column.value(values)).abs() > 1e-6 {
                return None;
            }
        }
        Some(row)
    }

    /// What is aliased and with what.
    #[must_use]
    pub fn aliased(&self) -> Vec<Aliased> {
        let with = |combination: &Vec<f64>| -> Vec<String> {
            let involved = combination.iter().zip(&self.columns).filter(|(c, _)| c.abs() > 1e-6);
            involved.map(|(_, column)| column.name.clone()).collect()
        };
        let pairs = self.dependent.iter().zip(&self.combinations);
        pairs.map(|(column, combination)| Aliased { name: column.name.clone(), with: with(combination) }).collect()
    }
}

impl ColumnSpec {
    /// The entry for a row of variable values.
    #[must_use]
    pub fn value(&self, values: &[Value]) -> f64 {
        let factor = |(variable, level): &(usize, Option<usize>)| match (values.get(*variable), level) {
            (Some(Value::Level(code)), Some(level)) => f64::from(u8::from(code == level)),
            (Some(Value::Number(z)), None) => *z,
            _ => 0.0,
        };
        self.parts.iter().map(factor).product()
    }

    fn covariates<'a>(&'a self, variables: &'a [Variable]) -> impl Iterator<Item = &'a Variable> {
        self.parts.iter().filter(|(_, level)| level.is_none()).filter_map(|(index, _)| variables.get(*index))
    }

    fn scale(&self, variables: &[Variable]) -> f64 {
        self.covariates(variables).map(|variable| variable.scale).product()
    }

    fn shift(&self, variables: &[Variable]) -> f64 {
        self.covariates(variables).map(|variable| variable.centre / variable.scale).sum()
    }
}

/// The columns of one term: every combination of non-reference levels, the first variable slowest.
fn term_columns(variables: &[Variable], term: &Term, index: usize) -> Vec<ColumnSpec> {
    let mut out = vec![ColumnSpec { name: String::new(), term: Some(index), parts: Vec::new() }];
    for variable_index in &term.variables {
        let Some(variable) = variables.get(*variable_index) else { continue };
        let mut choices: Vec<(Option<usize>, String)> = Vec::new();
        if variable.is_covariate() {
            choices.push((None, variable.name.clone()));
        }
        for (level, label) in variable.levels.iter().enumerate().filter(|(level, _)| *level != variable.reference) {
            choices.push((Some(level), format!("{} {label}", variable.name)));
        }
        let extend = |column: &ColumnSpec| -> Vec<ColumnSpec> {
            let with = |(level, label): &(Option<usize>, String)| {
                let mut column = column.clone();
                column.name = if column.name.is_empty() { label.clone() } else { format!("{} x {label}", column.name) };
                column.parts.push((*variable_index, *level));
                column
            };
            choices.iter().map(with).collect()
        };
        out = out.iter().flat_map(extend).collect();
    }
    out
}
