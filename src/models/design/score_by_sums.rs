//! The score test of many coefficients from sums of products, so that levels of a factor cost what few of them cost.

use super::likelihood::Fit;
use super::score_null::{Null, inflation};
use crate::math::dense::{Cholesky, NormalMatrix, dot};
use crate::math::design::{Entries, add_entries, along, entries_of};
use crate::math::sparse::MANY;

/// Each column keeps more than this share of its length squared beside the others, or an orthogonal decomposition has
/// to tell.
const SAFE_SHARE: f64 = 1e-5;

/// The entries of every row, those of the other coefficients and those of the ones tested.
struct Rows {
    rest: Vec<Entries>,
    held: Vec<Entries>,
}

/// `U' V^-1 U` as in [`super::score::score`], with `V = C - B'M - M'B + M'AM` of the sums `A = sum w f x x'`, `B = sum
/// w f x z'`, `C = sum w f z z'` over rows with columns `x` of the rest and `z` tested, inflations `f`, and `M` the
/// coefficients of `z` on `x`. None where there are few columns, or where this would lose digits.
pub(super) fn score_by_sums(fit: &Fit<'_>, held: &[usize], null: &Null) -> Option<f64> {
    if fit.design.rank() < MANY {
        return None;
    }
    let rows = split(fit, held);
    let size = fit.design.rank() - held.len();
    let layout = NormalMatrix::layout(size, rows.rest.iter().map(Vec::as_slice));
    let sum = |weight: &dyn Fn(usize) -> f64| {
        let mut sum = NormalMatrix::zero(size, layout.as_ref());
        rows.rest.iter().enumerate().for_each(|(row, x)| sum.add_square(weight(row), x));
        sum
    };
    let at = |values: &[f64], row: usize| values.get(row).copied().unwrap_or(0.0);
    let root = sum(&|row| at(&null.weights, row)).root().filter(|root| root.smallest_share() > SAFE_SHARE)?;
    let spreads = root.spreads(rows.rest.iter().map(Vec::as_slice));
    let inflate = |((w, m), spread): ((&f64, &f64), f64)| w * inflation(*m, w * spread);
    let inflated: Vec<f64> = null.weights.iter().zip(&null.cuttings).zip(spreads).map(inflate).collect();
    let a = sum(&|row| at(&inflated, row));
    let (mut off, mut own) = (vec![0.0; held.len()], vec![Vec::new(); held.len()]);
    for (row, z) in rows.held.iter().enumerate() {
        for (j, value) in z {
            if let (Some(off), Some(own)) = (off.get_mut(*j), own.get_mut(*j)) {
                *off += value * at(&null.scores, row);
                own.push((row, *value));
            }
        }
    }
    let across = |column: &Vec<(usize, f64)>, weights: &[f64]| -> Vec<f64> {
        let mut sum = vec![0.0; size];
        for (row, z) in column {
            let w = z * at(weights, *row);
            for (i, x) in rows.rest.get(*row).into_iter().flatten() {
                if let Some(sum) = sum.get_mut(*i) {
                    *sum += w * x;
                }
            }
        }
        sum
    };
    let b: Vec<Entries> = own.iter().map(|column| entries_of(&across(column, &inflated))).collect();
    let m: Vec<Vec<f64>> = own.iter().map(|column| root.solve(&across(column, &null.weights))).collect();
    let c = square(&rows.held, &inflated, held.len());
    let variance = variance(&c, &b, &m, &a)?;
    let root = Cholesky::new(&variance).filter(|root| root.smallest_share() > SAFE_SHARE)?;
    let half = root.forward(&off);
    Some(dot(&half, &half))
}

fn split(fit: &Fit<'_>, held: &[usize]) -> Rows {
    let mut place: Vec<(bool, usize)> = Vec::with_capacity(fit.design.rank());
    let mut free = 0;
    for j in 0..fit.design.rank() {
        let tested = held.iter().position(|one| *one == j);
        place.push(tested.map_or((false, free), |at| (true, at)));
        free += usize::from(tested.is_none());
    }
    let (mut rows, mut entries) = (Rows { rest: Vec::new(), held: Vec::new() }, Entries::new());
    for row in 0..fit.design.matrix.rows() {
        fit.design.matrix.entries(row, &mut entries);
        let of = |wanted: bool| -> Entries {
            let one =
                |(j, x): &(usize, f64)| place.get(*j).filter(|(tested, _)| *tested == wanted).map(|(_, at)| (*at, *x));
            entries.iter().filter_map(one).collect()
        };
        rows.rest.push(of(false));
        rows.held.push(of(true));
    }
    rows
}

/// `sum w z z'`, lower triangle.
fn square(rows: &[Entries], weights: &[f64], size: usize) -> Vec<Vec<f64>> {
    let mut sum = vec![vec![0.0; size]; size];
    for (z, w) in rows.iter().zip(weights) {
        for (i, x) in z {
            for (j, y) in z.iter().filter(|(j, _)| j <= i) {
                if let Some(entry) = sum.get_mut(*i).and_then(|row| row.get_mut(*j)) {
                    *entry += w * x * y;
                }
            }
        }
    }
    sum
}

/// `C - B'M + M'(A M - B)`, lower triangle; none where a tested column is next to nothing beside the rest.
fn variance(c: &[Vec<f64>], b: &[Entries], m: &[Vec<f64>], a: &NormalMatrix) -> Option<Vec<Vec<f64>>> {
    let pulled: Vec<Vec<f64>> = m
        .iter()
        .zip(b)
        .map(|(m, b)| {
            let mut pulled = a.times(m);
            add_entries(&mut pulled, -1.0, b);
            pulled
        })
        .collect();
    let row = |(i, c): (usize, &Vec<f64>)| -> Vec<f64> {
        let (Some(own), Some(pulled)) = (m.get(i), pulled.get(i)) else { return Vec::new() };
        c.iter().zip(m).zip(b).take(i + 1).map(|((c, m), b)| c - along(b, own) + dot(m, pulled)).collect()
    };
    let variance: Vec<Vec<f64>> = c.iter().enumerate().map(row).collect();
    let sound = |(i, (left, whole)): (usize, (&Vec<f64>, &Vec<f64>))| match (left.get(i), whole.get(i)) {
        (Some(left), Some(whole)) => *left > SAFE_SHARE * whole,
        _ => false,
    };
    variance.iter().zip(c).enumerate().all(sound).then_some(variance)
}
