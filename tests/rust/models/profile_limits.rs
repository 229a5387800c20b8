//! At every reported profile limit the statistic, maximised anew from several starts by a search of its own, is the quantile.

use approx::abs_diff_eq;
use rootling::math::distributions::chi_squared;
use rootling::math::rng;
use rootling::models::Model;
use rootling::trial::UnitKind;

use super::{factor, spec, units};
use crate::support::highest;

const STRENGTHS: [&str; 3] = ["0", "2500", "5000"];
const DIPS: [&str; 2] = ["cold", "warm"];

/// Twice three cells of one strength and one dip: rooted and stuck.
type Cells = [(f64, f64); 6];

/// `sum y ln p + (m - y) ln(1 - p)`, with half the log determinant of the information where it is penalised.
fn objective(cells: &Cells, beta: &[f64], penalised: bool) -> f64 {
    let mut information = [[0.0; 4]; 4];
    let mut value = 0.0;
    for (at, (y, m)) in cells.iter().enumerate() {
        let x = [1.0, f64::from(at % 3 == 1), f64::from(at % 3 == 2), f64::from(at >= 3)];
        let eta: f64 = x.iter().zip(beta).map(|(x, b)| x * b).sum();
        let p = 1.0 / (1.0 + (-eta).exp());
        value -= y * (-eta).exp().ln_1p() + (m - y) * eta.exp().ln_1p();
        for j in 0..4 {
            for k in 0..4 {
                information[j][k] += m * p * (1.0 - p) * x[j] * x[k];
            }
        }
    }
    if penalised { value + 0.5 * ln_determinant(information) } else { value }
}

fn ln_determinant(mut a: [[f64; 4]; 4]) -> f64 {
    let mut sum = 0.0;
    for j in 0..4 {
        let pivot = a[j][j];
        if pivot <= 0.0 {
            return f64::NEG_INFINITY;
        }
        sum += pivot.ln();
        let row = a[j];
        for other in a.iter_mut().skip(j + 1) {
            let share = other[j] / pivot;
            other.iter_mut().zip(row).for_each(|(x, y)| *x -= share * y);
        }
    }
    sum
}

/// Twice the fall when coefficient `j` is held at `value`, from seven starts.
fn fall(cells: &Cells, (j, value): (usize, f64), top: (&[f64], f64), penalised: bool) -> f64 {
    let whole = |free: &[f64]| -> Vec<f64> {
        let mut beta = free.to_vec();
        beta.insert(j, value);
        beta
    };
    let mut starts = vec![vec![0.0; 3]];
    let mut own = top.0.to_vec();
    own.remove(j);
    starts.push(own);
    for sign in [-1.0, 1.0] {
        starts.extend([0, 1].map(|k| (0..3).map(|i| if i == k { sign * 3.0 } else { -sign }).collect()));
    }
    starts.push(vec![-value / 2.0; 3]);
    let best = starts.iter().map(|start| highest(|free| objective(cells, &whole(free), penalised), start).1);
    2.0 * (top.1 - best.fold(f64::NEG_INFINITY, f64::max))
}

#[test]
fn limits_are_where_the_statistic_is_the_quantile() {
    let names = ["intercept", "strength 2500", "strength 5000", "dip warm"];
    let quantile = chi_squared::quantile(0.95, 1.0);
    let (mut penalised, mut checked) = (0, 0);
    for trial in 0..40 {
        let mut random = rng::stream(11, trial);
        let take = [[0.02, 0.3, 0.97], [0.15, 0.5, 0.9], [0.01, 0.02, 0.6], [0.5, 0.99, 0.99]][(trial % 4) as usize];
        let mut cells: Cells = [(0.0, 0.0); 6];
        for (at, cell) in cells.iter_mut().enumerate() {
            let stuck = 6 + u64::from(rng::below(&mut random, 12));
            *cell = (rng::binomial(&mut random, stuck, take[at % 3]) as f64, stuck as f64);
        }
        let rooted: Vec<u64> = cells.iter().map(|cell| cell.0 as u64).collect();
        if rooted.iter().sum::<u64>() == 0 || cells.iter().all(|cell| cell.0 >= cell.1) {
            continue;
        }
        let strength = factor("strength", &[STRENGTHS, STRENGTHS].concat());
        let dip = factor("dip", &[[DIPS[0]; 3], [DIPS[1]; 3]].concat());
        let stuck = cells.iter().map(|cell| cell.1 as u64).collect();
        let data = units(UnitKind::Pooled, rooted, stuck, vec![strength, dip]);
        let model = Model::fit(&data, &spec(&["strength", "dip"], &[])).unwrap();
        penalised += usize::from(model.penalised);
        let start: Vec<f64> = model.coefficients.iter().map(|one| one.value).collect();
        let top = highest(|beta| objective(&cells, beta, model.penalised), &start);
        for (j, name) in names.iter().enumerate() {
            let limits = model.profile(name, 0.95).unwrap().unwrap();
            for limit in [limits.low, limits.high].into_iter().filter(|limit| limit.is_finite()) {
                let fall = fall(&cells, (j, limit), (&top.0, top.1), model.penalised);
                assert!(abs_diff_eq!(fall, quantile, epsilon = 1e-6), "trial {trial}, {name} at {limit}: {fall}");
                checked += 1;
            }
        }
    }
    assert!(penalised >= 10 && checked >= 250, "{penalised} penalised, {checked} limits");
}
