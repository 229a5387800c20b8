//! What the engines are given: design columns, counts, offset and link.

use crate::control::Control;
use crate::error::{ModelError, Result};
use crate::math::dense::{Qr, dot};
use crate::math::design::Columns;
use crate::math::regression::{Link, Regression, Restriction, Solution};
use crate::math::search::RANK;
use crate::math::special::ln_choose;

/// `n` rows, each one tray or part of one.
#[derive(Debug, Clone, Copy)]
pub struct Rows<'a> {
    /// Design columns of length `n`.
    pub x: &'a [Vec<f64>],
    /// Cuttings rooted.
    pub rooted: &'a [f64],
    /// Cuttings stuck.
    pub stuck: &'a [f64],
    /// Fixed part of the linear predictor; empty for none.
    pub offset: &'a [f64],
    /// How many trays (or whole groups of the outermost grouping) are like this one: 1, 2, ..; empty for one each.
    pub copies: &'a [f64],
    /// Link.
    pub link: Link,
}

/// The rows checked and laid out row by row.
#[derive(Debug, Clone)]
pub(super) struct Table {
    pub(super) p: usize,
    pub(super) x: Vec<f64>,
    pub(super) rooted: Vec<f64>,
    pub(super) stuck: Vec<f64>,
    pub(super) offset: Vec<f64>,
    pub(super) copies: Vec<f64>,
    pub(super) link: Link,
}

impl Rows<'_> {
    /// Checks lengths, counts and rank.
    pub(super) fn table(&self) -> Result<Table> {
        let n = self.stuck.len();
        if n == 0 {
            return Err(ModelError::NoData.into());
        }
        let full = |values: &[f64], default: f64| if values.is_empty() { vec![default; n] } else { values.to_vec() };
        let (offset, copies) = (full(self.offset, 0.0), full(self.copies, 1.0));
        let columns = self.x.iter().map(|column| ("design", column.as_slice()));
        let others = [("rooted", self.rooted), ("offset", &offset), ("copies", &copies)];
        for (name, values) in columns.chain(others) {
            if values.len() != n {
                return Err(ModelError::Misaligned { column: name.to_owned(), units: n }.into());
            }
            if let Some(value) = values.iter().find(|value| !value.is_finite()) {
                return Err(ModelError::NotFinite { effect: name.to_owned(), value: *value }.into());
            }
        }
        let whole = |y: &f64| *y >= 0.0 && y.fract() == 0.0;
        let counts = self.rooted.iter().zip(self.stuck);
        if let Some((y, m)) = counts.clone().find(|(y, m)| !(whole(y) && whole(m) && y <= m && **m <= 1e9)) {
            return Err(not_fitted(&format!("{y} rooted of {m} stuck is not a count"), "correct the counts"));
        }
        if copies.iter().any(|c| *c < 0.0) {
            return Err(not_fitted("a negative number of copies", "give 0 or more for each tray"));
        }
        if let Some(dependent) = Qr::new(self.x, RANK).dependent.first() {
            let reason =
                format!("column {} of the design is a combination of the columns before it", dependent.column + 1);
            return Err(not_fitted(&reason, "leave the column out"));
        }
        let x = (0..n).flat_map(|i| self.x.iter().map(move |column| column.get(i).copied().unwrap_or(0.0))).collect();
        let (rooted, stuck) = (self.rooted.to_vec(), self.stuck.to_vec());
        Ok(Table { p: self.x.len(), x, rooted, stuck, offset, copies, link: self.link })
    }

    /// The binomial fit without tray effects and the rows whose rate runs to 0 or 1; and start values, penalised if need be.
    pub(super) fn binomial(&self, table: &Table, penalised: bool, control: &Control) -> Result<(Solution, Vec<f64>)> {
        let scaled = |counts: &[f64]| counts.iter().zip(&table.copies).map(|(y, c)| y * c).collect::<Vec<f64>>();
        let (rooted, stuck) = (scaled(&table.rooted), scaled(&table.stuck));
        let columns = Columns::dense(self.x, stuck.len());
        let problem = Regression {
            columns: &columns,
            rooted: &rooted,
            stuck: &stuck,
            offset: &table.offset,
            weights: &[],
            link: self.link,
            penalised: false,
            control,
        };
        let (zero, free) = (vec![0.0; self.x.len()], Restriction::none(self.x.len()));
        let plain = problem.solve(&zero, &free)?;
        let start =
            if penalised { Regression { penalised, ..problem }.solve(&zero, &free)?.coef } else { plain.coef.clone() };
        Ok((plain, start))
    }
}

impl Table {
    pub(super) fn rows(&self) -> usize {
        self.stuck.len()
    }

    pub(super) fn row(&self, i: usize) -> &[f64] {
        self.x.get(i * self.p..(i + 1) * self.p).unwrap_or_default()
    }

    /// `X b + offset`.
    pub(super) fn eta(&self, coef: &[f64]) -> Vec<f64> {
        if self.p == 0 {
            return self.offset.clone();
        }
        self.x.chunks_exact(self.p).zip(&self.offset).map(|(row, offset)| offset + dot(row, coef)).collect()
    }

    /// Sum of the logs of the binomial coefficients.
    pub(super) fn constant(&self) -> f64 {
        let counts = self.rooted.iter().zip(&self.stuck).zip(&self.copies);
        counts.map(|((y, m), c)| c * ln_choose(*m, *y)).sum()
    }

    /// The largest share of a step in the coefficients that moves no linear predictor by more than `most`.
    pub(super) fn share(&self, step: &[f64], most: f64) -> f64 {
        if self.p == 0 {
            return 1.0;
        }
        let longest = self.x.chunks_exact(self.p).map(|row| dot(row, step).abs()).fold(0.0_f64, f64::max);
        if longest > most { most / longest } else { 1.0 }
    }

    /// Pearson statistic of a binomial fit minus its degrees of freedom, per row.
    pub(super) fn pearson(&self, eta: &[f64]) -> Vec<f64> {
        let counts = self.rooted.iter().zip(&self.stuck);
        eta.iter()
            .zip(counts)
            .map(|(eta, (y, m))| {
                let point = self.link.at(*eta);
                let variance = m * point.mean * point.rest;
                if variance > 0.0 { (y - m * point.mean).powi(2) / variance } else { 0.0 }
            })
            .collect()
    }
}

/// Adds `weight x x'` to the upper triangle of the leading block of `h`.
pub(super) fn add_outer(h: &mut [Vec<f64>], weight: f64, x: &[f64]) {
    for (j, (row, xj)) in h.iter_mut().zip(x).enumerate() {
        if *xj != 0.0 {
            let scaled = weight * xj;
            let (row, x) = (row.get_mut(j..).unwrap_or_default(), x.get(j..).unwrap_or_default());
            for (entry, xk) in row.iter_mut().zip(x) {
                *entry += scaled * xk;
            }
        }
    }
}

/// Copies the upper triangle to the lower.
pub(super) fn mirror(h: &mut [Vec<f64>]) {
    for i in 1..h.len() {
        let (above, below) = h.split_at_mut(i);
        if let Some(row) = below.first_mut() {
            for (entry, source) in row.iter_mut().zip(above.iter()) {
                *entry = source.get(i).copied().unwrap_or(0.0);
            }
        }
    }
}

pub(super) fn not_fitted(reason: &str, try_next: &str) -> crate::Error {
    ModelError::NotFitted { reason: reason.to_owned(), try_next: try_next.to_owned() }.into()
}
