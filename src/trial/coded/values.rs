//! Values of variables, column by column.

use std::ops::Deref;
use std::sync::Arc;

use crate::math::design::Codes;

/// One value of a variable.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Value {
    /// A level of a factor.
    Level(usize),
    /// A covariate on its standardised scale `(x - centre) / scale`.
    Number(f64),
}

/// The values of one variable, one per row. Copies share them.
#[derive(Debug, Clone, PartialEq)]
pub enum Values {
    /// Levels of a factor.
    Levels(Arc<Codes>),
    /// A covariate on its standardised scale.
    Numbers(Arc<Vec<f64>>),
}

impl Values {
    /// The value of a row.
    #[must_use]
    pub fn get(&self, row: usize) -> Option<Value> {
        match self {
            Self::Levels(codes) => codes.get(row).map(|code| Value::Level(code as usize)),
            Self::Numbers(numbers) => numbers.get(row).map(|z| Value::Number(*z)),
        }
    }

    /// Number of rows.
    #[must_use]
    pub fn len(&self) -> usize {
        match self {
            Self::Levels(codes) => codes.len(),
            Self::Numbers(numbers) => numbers.len(),
        }
    }

    /// True when there is no row.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// All values in order.
    pub fn iter(&self) -> impl Iterator<Item = Value> + '_ {
        (0..self.len()).filter_map(|row| self.get(row))
    }

    /// The standardised numbers of a covariate; none of a factor.
    #[must_use]
    pub fn numbers(&self) -> &[f64] {
        match self {
            Self::Levels(_) => &[],
            Self::Numbers(numbers) => numbers,
        }
    }

    /// The values at some rows.
    pub(crate) fn at(&self, rows: &[usize]) -> Self {
        match self {
            Self::Levels(codes) => Self::Levels(Arc::new(codes.at(rows))),
            Self::Numbers(numbers) => Self::Numbers(Arc::new(picked(numbers, rows))),
        }
    }
}

/// One number per row. Copies share them.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Numbers(Arc<Vec<f64>>);

impl Deref for Numbers {
    type Target = [f64];

    fn deref(&self) -> &[f64] {
        &self.0
    }
}

impl<'a> IntoIterator for &'a Numbers {
    type Item = &'a f64;
    type IntoIter = std::slice::Iter<'a, f64>;

    fn into_iter(self) -> Self::IntoIter {
        self.0.iter()
    }
}

impl From<Vec<f64>> for Numbers {
    fn from(numbers: Vec<f64>) -> Self {
        Self(Arc::new(numbers))
    }
}

impl FromIterator<f64> for Numbers {
    fn from_iter<I: IntoIterator<Item = f64>>(numbers: I) -> Self {
        Self(Arc::new(numbers.into_iter().collect()))
    }
}

/// The entries at some rows.
pub(crate) fn picked<T: Copy>(values: &[T], rows: &[usize]) -> Vec<T> {
    rows.iter().filter_map(|row| values.get(*row).copied()).collect()
}

/// The values of all variables, row by row or column by column.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ValueTable {
    /// One column per variable.
    pub columns: Vec<Values>,
    /// Number of rows.
    pub rows: usize,
}

impl ValueTable {
    /// The values of one row, in the order of the variables.
    #[must_use]
    pub fn get(&self, row: usize) -> Option<Vec<Value>> {
        (row < self.rows).then(|| self.columns.iter().filter_map(|column| column.get(row)).collect())
    }

    /// The value of one variable in one row.
    #[must_use]
    pub fn value(&self, variable: usize, row: usize) -> Option<Value> {
        self.columns.get(variable)?.get(row)
    }

    /// Number of rows.
    #[must_use]
    pub fn len(&self) -> usize {
        self.rows
    }

    /// True when there is no row.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.rows == 0
    }

    /// The rows in order.
    pub fn iter(&self) -> impl Iterator<Item = Vec<Value>> + '_ {
        (0..self.rows).filter_map(|row| self.get(row))
    }
}
