//! Treatment-coded columns, their names, and which of them cannot be told apart.

use std::sync::Arc;

use serde::{Deserialize, Serialize};

use crate::control::Control;
use crate::math::dense::{Cholesky, Qr};
use crate::math::design::{Block, Codes, Columns};
use crate::math::search::RANK;
use crate::models::enter::{ColumnSpec, Frame, term_columns};
use crate::trial::{Data, Value, Values};

/// A coefficient that cannot be estimated, with those it is confounded with.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Inseparable {
    /// The coefficient.
    pub name: String,
    /// What it cannot be told apart from; empty when no unit has this combination.
    pub with: Vec<String>,
}

/// The columns of some of a frame's terms, independent ones first.
#[derive(Debug, Clone)]
pub struct Design {
    /// Columns with a coefficient.
    pub columns: Vec<ColumnSpec>,
    /// Their values.
    pub matrix: Columns,
    /// What each column was divided by: `value on the user's scale = column x scale + columns of lower powers`.
    pub scales: Vec<f64>,
    /// Columns without a coefficient.
    pub dependent: Vec<ColumnSpec>,
    /// For each of them, its coefficients on `columns`.
    pub combinations: Vec<Vec<f64>>,
    /// Asked during long fits.
    pub control: Arc<Control>,
}

/// While every column keeps this share of its length squared beside those before it, all are independent beyond doubt.
const CLEARLY_INDEPENDENT: f64 = 1e-7;

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
        let all = Columns::new(data.values.rows, specs.len(), blocks(&specs, frame, data));
        let (kept, dropped) = independent(&all);
        let keep = |index: &usize| specs.get(*index).cloned();
        let dependent = dropped.iter().filter_map(|(column, _)| keep(column)).collect();
        let columns: Vec<ColumnSpec> = if dropped.is_empty() { specs } else { kept.iter().filter_map(keep).collect() };
        // A combination is of the columns kept before its own; the rest have no part in it.
        let full = |combination: &Vec<f64>| {
            let mut full = combination.clone();
            full.resize(kept.len(), 0.0);
            full
        };
        let combinations = dropped.iter().map(|(_, combination)| full(combination)).collect();
        let scale = |column: &ColumnSpec| -> f64 {
            let covariates = column.parts.iter().filter(|(_, level)| level.is_none());
            covariates.filter_map(|(index, _)| frame.variables.get(*index)).map(|variable| variable.scale).product()
        };
        let scales = columns.iter().map(scale).collect();
        let (matrix, control) = (all.kept(&kept), Arc::clone(&frame.control));
        Self { columns, matrix, scales, dependent, combinations, control }
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

    /// The columns written out, one vector each.
    #[must_use]
    pub fn x(&self) -> Vec<Vec<f64>> {
        self.matrix.to_dense()
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

    /// What is inseparable and with what.
    #[must_use]
    pub fn inseparable(&self) -> Vec<Inseparable> {
        let with = |combination: &Vec<f64>| -> Vec<String> {
            let involved = combination.iter().zip(&self.columns).filter(|(c, _)| c.abs() > 1e-6);
            involved.map(|(_, column)| column.name.clone()).collect()
        };
        let pairs = self.dependent.iter().zip(&self.combinations);
        pairs.map(|(column, combination)| Inseparable { name: column.name.clone(), with: with(combination) }).collect()
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

    /// Its factors with their levels.
    pub(crate) fn levels(&self) -> impl Iterator<Item = (usize, usize)> + Clone + '_ {
        self.parts.iter().filter_map(|(variable, level)| level.map(|level| (*variable, level)))
    }

    /// Its covariates, once for each power.
    pub(super) fn powers(&self) -> impl Iterator<Item = usize> + Clone + '_ {
        self.parts.iter().filter(|(_, level)| level.is_none()).map(|(variable, _)| *variable)
    }
}

/// Factors, powers, and the column of each combination of the factors' levels.
type Parts = (Vec<usize>, Vec<usize>, Vec<Option<usize>>);

/// The columns of one term with the same powers are a block: a row has the level of one of them at most.
fn blocks(specs: &[ColumnSpec], frame: &Frame, data: &Data) -> Vec<Block> {
    let mut found: Vec<(Option<usize>, Parts)> = Vec::new();
    let sizes = |factors: &[usize]| -> Vec<usize> {
        factors.iter().filter_map(|v| frame.variables.get(*v)).map(|variable| variable.levels.len()).collect()
    };
    for (at, spec) in specs.iter().enumerate() {
        let (factors, powers) = (spec.levels().map(|(v, _)| v), spec.powers());
        // The columns of a term follow each other, those of different powers in turns.
        let same = |(term, (_, known, _)): &(Option<usize>, Parts)| {
            *term == spec.term && powers.clone().eq(known.iter().copied())
        };
        let place = match found.iter().rposition(same) {
            Some(place) => place,
            None => {
                let factors: Vec<usize> = factors.collect();
                let codes = sizes(&factors).iter().product();
                found.push((spec.term, (factors, spec.powers().collect(), vec![None; codes])));
                found.len() - 1
            }
        };
        let size = |v: usize| frame.variables.get(v).map_or(0, |variable| variable.levels.len());
        let code = spec.levels().fold(0, |code, (v, level)| code * size(v) + level);
        if let Some(slot) = found.get_mut(place).and_then(|(_, (_, _, columns))| columns.get_mut(code)) {
            *slot = Some(at);
        }
    }
    let block = |(factors, powers, columns): Parts| {
        let number = |v: &usize| match data.values.columns.get(*v) {
            Some(Values::Numbers(numbers)) => Some(Arc::clone(numbers)),
            _ => None,
        };
        Block::new(codes(&factors, &sizes(&factors), data), columns, powers.iter().filter_map(number).collect())
    };
    found.into_iter().map(|(_, parts)| block(parts)).collect()
}

/// The combination of levels of each row; none without factors.
fn codes(factors: &[usize], sizes: &[usize], data: &Data) -> Option<Arc<Codes>> {
    let columns: Vec<&Arc<Codes>> = factors
        .iter()
        .filter_map(|v| match data.values.columns.get(*v) {
            Some(Values::Levels(codes)) => Some(codes),
            _ => None,
        })
        .collect();
    if columns.len() < 2 {
        return columns.first().map(|only| Arc::clone(only));
    }
    let combined = |row: usize| {
        columns.iter().zip(sizes).fold(0, |code, (codes, size)| code * *size as u32 + codes.get(row).unwrap_or(0))
    };
    let combined: Vec<u32> = (0..data.values.rows).map(combined).collect();
    Some(Arc::new(Codes::of(&combined, sizes.iter().product())))
}

/// A column that is a combination of columns kept before it.
type Dropped = (usize, Vec<f64>);

/// The independent columns in their order, and the others.
fn independent(all: &Columns) -> (Vec<usize>, Vec<Dropped>) {
    let products = all.products();
    if products.root().is_some_and(|root| root.smallest_share() > CLEARLY_INDEPENDENT) {
        return ((0..all.width()).collect(), Vec::new());
    }
    let products = products.rows();
    let size = |j: &usize| products.get(*j).and_then(|row| row.get(*j)).copied().unwrap_or(0.0);
    let (some, empty): (Vec<usize>, Vec<usize>) = (0..all.width()).partition(|j| size(j) > 0.0);
    let pick = |i: &usize| some.iter().filter_map(|j| products.get(*i)?.get(*j).copied()).collect::<Vec<f64>>();
    let inner: Vec<Vec<f64>> = some.iter().map(pick).collect();
    if Cholesky::new(&inner).is_some_and(|root| root.smallest_share() > CLEARLY_INDEPENDENT) {
        return (some, empty.into_iter().map(|j| (j, Vec::new())).collect());
    }
    let qr = Qr::new(&all.to_dense(), RANK);
    (qr.kept, qr.dependent.into_iter().map(|dependent| (dependent.column, dependent.combination)).collect())
}
