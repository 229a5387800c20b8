//! From columns of standardised covariates to coefficients per unit of the user's covariates.

use std::collections::HashMap;

use ndarray::Array2;

use super::coefficient::Coefficient;
use super::design_matrix::Design;
use crate::math::dense::rows::corner;
use crate::math::dense::{dot, quadratic};
use crate::math::regression::Solution;
use crate::models::enter::{ColumnSpec, Frame, Variable};

/// The levels and the powers of a column, both in order.
type Signature = (Vec<(usize, usize)>, Vec<usize>);

impl Design {
    /// Each coefficient of the user's scale as a combination of the design's: row `j` gives `b_j(user) = row . b`. Covariates
    /// at 0 then are the user's 0.
    ///
    /// The user's columns are `U = Z M` with the design's columns `Z` and an upper triangular `M`, since every term stands
    /// after those inside it: `x = s z + c`, `x^2 = s^2 z^2 + 2 s c z + c^2` and so on. The result is `M^-1`.
    #[must_use]
    pub fn to_user(&self, frame: &Frame) -> Vec<Vec<f64>> {
        let p = self.rank();
        let places = self.places();
        let columns: Vec<Vec<f64>> =
            self.columns.iter().map(|column| self.user_column(frame, column, &places)).collect();
        let mut inverse: Vec<Vec<f64>> = vec![Vec::new(); p];
        // Row i of the inverse from the rows below it: M inv = 1.
        for i in (0..p).rev() {
            let mut row = vec![0.0; p];
            if let Some(one) = row.get_mut(i) {
                *one = 1.0;
            }
            for (j, column) in columns.iter().enumerate().skip(i + 1) {
                let above = column.get(i).copied().unwrap_or(0.0);
                if above != 0.0 {
                    let below = inverse.get(j).cloned().unwrap_or_default();
                    row.iter_mut().zip(&below).for_each(|(entry, b)| *entry -= above * b);
                }
            }
            let pivot = columns.get(i).and_then(|column| column.get(i)).copied().unwrap_or(1.0);
            row.iter_mut().for_each(|entry| *entry /= pivot);
            if let Some(slot) = inverse.get_mut(i) {
                *slot = row;
            }
        }
        inverse
    }

    /// A column in the user's units as a combination of the design's columns.
    fn user_column(&self, frame: &Frame, column: &ColumnSpec, places: &HashMap<Signature, Place>) -> Vec<f64> {
        let mut out = vec![0.0; self.rank()];
        let levels = sorted(column.levels().collect());
        for (powers, share) in expanded(frame, &column.powers().collect::<Vec<_>>()) {
            match places.get(&(levels.clone(), sorted(powers))) {
                Some(Place::Kept(at)) => {
                    if let Some(entry) = out.get_mut(*at) {
                        *entry += share;
                    }
                }
                Some(Place::Dropped(at)) => {
                    let combination = self.combinations.get(*at).map(Vec::as_slice).unwrap_or_default();
                    out.iter_mut().zip(combination).for_each(|(entry, c)| *entry += share * c);
                }
                None => {}
            }
        }
        out
    }

    fn places(&self) -> HashMap<Signature, Place> {
        let kept = self.columns.iter().enumerate().map(|(at, column)| (column, Place::Kept(at)));
        let dropped = self.dependent.iter().enumerate().map(|(at, column)| (column, Place::Dropped(at)));
        kept.chain(dropped)
            .map(|(c, place)| ((sorted(c.levels().collect()), sorted(c.powers().collect())), place))
            .collect()
    }
}

enum Place {
    Kept(usize),
    Dropped(usize),
}

fn sorted<T: Ord>(mut values: Vec<T>) -> Vec<T> {
    values.sort_unstable();
    values
}

/// The product of covariates, each `s z + c`, as products of `z` with their shares.
fn expanded(frame: &Frame, powers: &[usize]) -> Vec<(Vec<usize>, f64)> {
    let mut terms: Vec<(Vec<usize>, f64)> = vec![(Vec::new(), 1.0)];
    for v in powers {
        let Some(variable) = frame.variables.get(*v) else { continue };
        let up = |(powers, share): &(Vec<usize>, f64)| ([powers.as_slice(), &[*v]].concat(), share * variable.scale);
        let stay = |(powers, share): &(Vec<usize>, f64)| (powers.clone(), share * variable.centre);
        terms = terms.iter().flat_map(|term| [up(term), stay(term)]).collect();
    }
    terms.retain(|(_, share)| *share != 0.0);
    terms
}

/// Coefficients and covariance per unit of the user's covariates, the intercept at covariates 0.
pub(crate) fn user_scale(
    frame: &Frame,
    design: &Design,
    solution: &Solution,
    v: &[Vec<f64>],
) -> (Vec<Coefficient>, Array2<f64>) {
    let effect = |term: Option<usize>| term.and_then(|term| frame.terms.get(term)).map(|term| term.name.clone());
    let coefficient = |column: &ColumnSpec, value: f64, variance: f64| Coefficient {
        name: column.name.clone(),
        effect: effect(column.term),
        value,
        se: variance.max(0.0).sqrt(),
    };
    let rank = design.rank();
    if !frame.variables.iter().any(Variable::is_covariate) {
        // Columns of factors are the user's own.
        let covariance = corner(v, rank);
        let columns = design.columns.iter().zip(&solution.coef).zip(covariance.diag());
        let made = columns.map(|((column, value), variance)| coefficient(column, *value, *variance)).collect();
        return (made, covariance);
    }
    let transform = design.to_user(frame);
    let half: Vec<Vec<f64>> = transform.iter().map(|row| v.iter().map(|v| dot(v, row)).collect()).collect();
    let mut covariance = Array2::zeros((transform.len(), transform.len()));
    for (mut to, h) in covariance.rows_mut().into_iter().zip(&half) {
        to.iter_mut().zip(&transform).for_each(|(to, row)| *to = dot(h, row));
    }
    let columns = design.columns.iter().zip(&transform);
    let made = columns.map(|(column, row)| coefficient(column, dot(row, &solution.coef), quadratic(v, row)));
    (made.collect(), covariance)
}
