//! Likelihood, slopes and information of all rows together.

use super::point::{Bends, Point};
use super::rows::GradeRows;
use crate::math::dense::dot;
use crate::math::design::{Entries, along};

/// What enters: cuts, then a slope for each column, then, for each column of `partial`, what its slope has more at the second and later cuts.
#[derive(Debug, Clone, Copy)]
pub(super) struct Layout<'a> {
    pub(super) cuts: usize,
    pub(super) width: usize,
    pub(super) partial: &'a [usize],
}

impl<'a> Layout<'a> {
    pub(super) fn of(rows: &GradeRows, partial: &'a [usize]) -> Self {
        Self { cuts: rows.grades() - 1, width: rows.width(), partial }
    }

    pub(super) fn size(&self) -> usize {
        self.cuts + self.width + self.partial.len() * (self.cuts - 1)
    }

    /// Predictors of a row.
    pub(super) fn predictors(&self, theta: &[f64], (x, offset): (&Entries, f64), out: &mut Vec<f64>) {
        let (cuts, rest) = theta.split_at(self.cuts.min(theta.len()));
        let shift = offset + along(x, rest);
        out.clear();
        out.extend(cuts.iter().map(|cut| cut + shift));
        for (value, from) in self.more(x) {
            let more = theta.get(from..from + self.cuts - 1).unwrap_or(&[]);
            out.iter_mut().skip(1).zip(more).for_each(|(e, more)| *e += value * more);
        }
    }

    /// Entries of the columns of `partial`, each with where its own slopes begin.
    fn more<'x>(&'x self, x: &'x Entries) -> impl Iterator<Item = (f64, usize)> + 'x {
        let start = self.cuts + self.width;
        let place = move |column: usize| {
            let at = self.partial.iter().position(|one| *one == column)?;
            Some(start + at * (self.cuts - 1))
        };
        x.iter().filter_map(move |(column, value)| Some((*value, place(*column)?)))
    }
}

/// Sums over rows at one place.
pub(super) struct Sums {
    pub(super) ln_likelihood: f64,
    pub(super) slopes: Vec<f64>,
    /// Lower triangle is filled, then mirrored.
    pub(super) information: Vec<Vec<f64>>,
}

/// Whose bends the information is made of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Of {
    /// The counts as they are.
    Counted,
    /// What is expected of them.
    Expected,
}

/// The likelihood alone; none where predictors of some row do not fall from cut to cut.
pub(super) fn ln_likelihood(rows: &GradeRows, layout: Layout<'_>, theta: &[f64]) -> Option<f64> {
    let (mut point, mut predictors, mut sum) = (Point::default(), Vec::new(), 0.0);
    for (x, offset, counts) in rows.iter() {
        layout.predictors(theta, (x, offset), &mut predictors);
        if !point.set(&predictors) {
            return None;
        }
        sum += point.ln_likelihood(counts);
    }
    Some(sum)
}

impl Sums {
    /// None where predictors of some row do not fall from cut to cut.
    pub(super) fn at(rows: &GradeRows, layout: Layout<'_>, theta: &[f64], of: Of) -> Option<Self> {
        let size = layout.size();
        let mut sums = Self { ln_likelihood: 0.0, slopes: vec![0.0; size], information: vec![vec![0.0; size]; size] };
        let (mut point, mut bends) = (Point::default(), Bends::default());
        let (mut predictors, mut slopes, mut expected) = (Vec::new(), Vec::new(), Vec::new());
        for (x, offset, counts) in rows.iter() {
            layout.predictors(theta, (x, offset), &mut predictors);
            if !point.set(&predictors) {
                return None;
            }
            sums.ln_likelihood += point.ln_likelihood(counts);
            point.slopes(counts, &mut slopes);
            layout.add_slopes(x, &slopes, &mut sums.slopes);
            match of {
                Of::Counted => point.bends(counts, &mut bends),
                Of::Expected => {
                    point.expected(counts.iter().sum(), &mut expected);
                    point.bends(&expected, &mut bends);
                }
            }
            layout.add_bends(x, &bends, &mut sums.information);
        }
        mirror(&mut sums.information);
        Some(sums)
    }
}

pub(super) fn mirror(matrix: &mut [Vec<f64>]) {
    for row in 0..matrix.len() {
        let above: Vec<f64> = matrix.iter().skip(row + 1).filter_map(|line| line.get(row).copied()).collect();
        if let Some(line) = matrix.get_mut(row) {
            line.iter_mut().skip(row + 1).zip(above).for_each(|(to, from)| *to = from);
        }
    }
}

pub(super) fn add(matrix: &mut [Vec<f64>], row: usize, column: usize, value: f64) {
    if let Some(slot) = matrix.get_mut(row.max(column)).and_then(|line| line.get_mut(row.min(column))) {
        *slot += value;
    }
}

impl Layout<'_> {
    pub(super) fn add_slopes(&self, x: &Entries, slopes: &[f64], out: &mut [f64]) {
        out.iter_mut().zip(slopes).take(self.cuts).for_each(|(sum, one)| *sum += one);
        let shift: f64 = slopes.iter().sum();
        for (column, value) in x {
            if let Some(sum) = out.get_mut(self.cuts + column) {
                *sum += shift * value;
            }
        }
        for (value, from) in self.more(x) {
            let own = out.iter_mut().skip(from).zip(slopes.iter().skip(1));
            own.for_each(|(sum, one)| *sum += value * one);
        }
    }

    fn add_bends(&self, x: &Entries, bends: &Bends, out: &mut [Vec<f64>]) {
        for (cut, own) in bends.own.iter().enumerate() {
            add(out, cut, cut, *own);
        }
        for (cut, next) in bends.next.iter().enumerate() {
            add(out, cut + 1, cut, -next);
        }
        let all: f64 = bends.shift.iter().sum();
        for (at, (column, value)) in x.iter().enumerate() {
            let row = self.cuts + column;
            for (cut, shift) in bends.shift.iter().enumerate() {
                add(out, row, cut, shift * value);
            }
            for (other, second) in x.iter().take(at + 1) {
                add(out, row, self.cuts + other, all * value * second);
            }
        }
        if !self.partial.is_empty() {
            self.add_bends_of_cuts(x, bends, out);
        }
    }

    /// Those of slopes that differ by cut.
    fn add_bends_of_cuts(&self, x: &Entries, bends: &Bends, out: &mut [Vec<f64>]) {
        let between = |first: usize, second: usize| match first.abs_diff(second) {
            0 => bends.own.get(first).copied().unwrap_or(0.0),
            1 => -bends.next.get(first.min(second)).copied().unwrap_or(0.0),
            _ => 0.0,
        };
        let more: Vec<(f64, usize)> = self.more(x).collect();
        for (at, (value, from)) in more.iter().enumerate() {
            for cut in 1..self.cuts {
                let row = from + cut - 1;
                for other in 0..self.cuts {
                    add(out, row, other, value * between(cut, other));
                }
                let shift = bends.shift.get(cut).copied().unwrap_or(0.0);
                for (column, second) in x {
                    add(out, row, self.cuts + column, shift * value * second);
                }
                for (second, start) in more.iter().take(at + 1) {
                    // Within one column each pair of cuts once.
                    let last = if from == start { cut } else { self.cuts - 1 };
                    for other in 1..=last {
                        add(out, row, start + other - 1, value * second * between(cut, other));
                    }
                }
            }
        }
    }
}

/// `|step|` along the slopes: twice what the likelihood would rise by if it were a parabola.
pub(super) fn decrement(slopes: &[f64], step: &[f64]) -> f64 {
    dot(slopes, step)
}
