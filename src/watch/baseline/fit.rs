//! Fitting a baseline: rates by penalised likelihood, correlation and layers by the likelihood adjusted for the rates.

use rayon::prelude::*;

use crate::control::{Control, Signal};
use crate::error::Result;
use crate::math::dense::Cholesky;
use crate::math::search::maximum;
use crate::math::special::expit;

use super::batch::{Counted, slope};
use super::design::Row;
use super::tables::{Along, WIDEST, add, flat, integrated, layered, posterior, tables};
use crate::watch::law::Spreads;

/// What is fitted: rows of columns and counts, cluster by cluster, and which clusters make a week.
#[derive(Debug, Clone, Default)]
pub(super) struct Data {
    /// Columns of each batch.
    pub(super) rows: Vec<Row>,
    /// Started and alive of each batch.
    pub(super) counts: Vec<(f64, f64)>,
    /// Batches of each cluster.
    pub(super) clusters: Vec<Vec<usize>>,
    /// Clusters of each week.
    pub(super) weeks: Vec<Vec<usize>>,
    /// True where several places are told apart, so that a week has a layer of its own beside that of its places.
    pub(super) places: bool,
    /// Number of columns.
    pub(super) columns: usize,
    /// Columns that are not made of earlier ones.
    pub(super) kept: Vec<usize>,
}

/// A fitted baseline.
#[derive(Debug, Clone)]
pub(super) struct Fitted {
    pub(super) coefficients: Vec<f64>,
    pub(super) spreads: Spreads,
    /// The least correlation that was looked at: above 0 where clusters of very many plants would tell a shift more finely than tables do.
    pub(super) least: f64,
    /// Covariance of the coefficients, row after row; 0 for columns that others make.
    pub(super) covariance: Vec<Vec<f64>>,
    pub(super) converged: bool,
}

const MOST_ROUNDS: u64 = 30;
const MOST_STEPS: usize = 25;
const CLOSE: f64 = 1e-5;
/// Share of its diagonal below which a column is made of earlier ones.
const DEPENDENT: f64 = 1e-8;
const LARGEST_CORRELATION: f64 = 0.6;
/// How finely the square of a layer is found.
const FINE: f64 = 5e-5;

/// Fits a baseline.
pub(super) fn fit(data: &Data, control: &Control) -> Result<Fitted> {
    let mut spreads = Spreads { batch: 0.02, week_in_place: 0.1, week: if data.places { 0.1 } else { 0.0 } };
    let mut beta = vec![0.0; data.columns];
    let (alive, started) = data.counts.iter().fold((0.0, 0.0), |(a, s), (started, alive)| (a + alive, s + started));
    if let Some(common) = beta.first_mut() {
        *common = ((alive + 0.5) / (started - alive + 0.5)).ln();
    }
    let least = least_correlation(data, alive / started.max(1.0));
    let (mut rounds, mut converged) = (0, false);
    while rounds < MOST_ROUNDS && !converged {
        control.step()?;
        rounds += 1;
        let moved = rates(data, &mut beta, &spreads);
        // Where none died, or all did, nothing tells how batches differ.
        if alive <= 0.0 || alive >= started {
            converged = true;
            continue;
        }
        let next = layers(data, &beta, &spreads, least, control)?;
        let change = (next.batch - spreads.batch).abs()
            + (next.week_in_place - spreads.week_in_place).abs()
            + (next.week - spreads.week).abs();
        spreads = next;
        converged = moved < CLOSE && change < 1e-3;
    }
    rates(data, &mut beta, &spreads);
    let told = information(data, &beta, &spreads);
    Ok(Fitted { coefficients: beta, spreads, least, covariance: inverse(&told, &data.kept), converged })
}

/// What a cluster may tell of its shift at most: a standard error of 0.04, two thirds of the distance of nodes, at which sums over nodes are still the
/// integral to 0.1 %.
const MOST_TOLD: f64 = 600.0;
const HALVINGS: usize = 50;

/// The least correlation at which no cluster tells more than that; 0 unless one has thousands of plants.
fn least_correlation(data: &Data, rate: f64) -> f64 {
    let told = |cluster: &[usize], rho: f64| -> f64 {
        let sizes = cluster.iter().filter_map(|batch| data.counts.get(*batch)).map(|(started, _)| *started);
        sizes.map(|n| n * rate * (1.0 - rate) / (1.0 + (n - 1.0) * rho)).sum()
    };
    let one = |cluster: &Vec<usize>| {
        if told(cluster, 0.0) <= MOST_TOLD {
            return 0.0;
        }
        let (mut low, mut high) = (0.0, LARGEST_CORRELATION);
        for _ in 0..HALVINGS {
            let middle = f64::midpoint(low, high);
            if told(cluster, middle) > MOST_TOLD { low = middle } else { high = middle }
        }
        high
    };
    data.clusters.iter().map(one).fold(0.0, f64::max)
}

fn logit(row: &Row, beta: &[f64]) -> f64 {
    row.iter().filter_map(|(column, value)| Some(value * beta.get(*column)?)).sum()
}

fn correlated(rho: f64) -> f64 {
    rho / (1.0 - rho)
}

fn counted(data: &Data, beta: &[f64]) -> Vec<Vec<Counted>> {
    let one = |batch: &usize| {
        let (started, alive) = data.counts.get(*batch).copied()?;
        Some(Counted { started, alive, logit: logit(data.rows.get(*batch)?, beta) })
    };
    data.clusters.iter().map(|cluster| cluster.iter().filter_map(one).collect()).collect()
}

/// What one batch tells of its logit.
fn weight(batch: &Counted, rho: f64) -> f64 {
    let rate = expit(batch.logit);
    batch.started * rate * (1.0 - rate) / (1.0 + (batch.started - 1.0) * rho)
}

/// Weeks that are summed at a time, whatever the number of cores.
const TOGETHER: usize = 32;

/// Information on the coefficients with both layers integrated out.
fn information(data: &Data, beta: &[f64], spreads: &Spreads) -> Vec<Vec<f64>> {
    let counted = counted(data, beta);
    let stop = Signal::here();
    let parts: Vec<Vec<Vec<f64>>> =
        data.weeks.par_chunks(TOGETHER).map(|weeks| stop.on(|| told_by(data, &counted, weeks, spreads))).collect();
    let mut told = vec![vec![0.0; data.columns]; data.columns];
    for part in parts {
        told.iter_mut().zip(&part).for_each(|(row, one)| add(row, one));
    }
    told
}

/// What these weeks tell.
fn told_by(data: &Data, counted: &[Vec<Counted>], weeks: &[Vec<usize>], spreads: &Spreads) -> Vec<Vec<f64>> {
    let mut told = vec![vec![0.0; data.columns]; data.columns];
    for week in weeks {
        let (mut week_sums, mut week_total) = (vec![0.0; data.columns], 0.0);
        for cluster in week {
            let (Some(batches), Some(values)) = (data.clusters.get(*cluster), counted.get(*cluster)) else { continue };
            let (mut sums, mut total) = (vec![0.0; data.columns], 0.0);
            for (batch, value) in batches.iter().zip(values) {
                let a = weight(value, spreads.batch);
                total += a;
                let Some(row) = data.rows.get(*batch) else { continue };
                for (i, x) in row {
                    sums.iter_mut().skip(*i).take(1).for_each(|sum| *sum += a * x);
                    let Some(line) = told.get_mut(*i) else { continue };
                    row.iter()
                        .for_each(|(j, y)| line.iter_mut().skip(*j).take(1).for_each(|entry| *entry += a * x * y));
                }
            }
            let within = spreads.week_in_place.powi(2);
            less(&mut told, &sums, within / (1.0 + within * total));
            let kept = 1.0 / (1.0 + within * total);
            week_sums.iter_mut().zip(&sums).for_each(|(sum, one)| *sum += kept * one);
            week_total += kept * total;
        }
        let between = spreads.week.powi(2);
        less(&mut told, &week_sums, between / (1.0 + between * week_total));
    }
    told
}

/// Takes off what a layer hides: `by` times the product of the sums of each two columns.
fn less(told: &mut [Vec<f64>], sums: &[f64], by: f64) {
    let held: Vec<(usize, f64)> = sums.iter().copied().enumerate().filter(|(_, sum)| *sum != 0.0).collect();
    for (i, one) in &held {
        let Some(row) = told.get_mut(*i) else { continue };
        held.iter().for_each(|(j, other)| row.iter_mut().skip(*j).take(1).for_each(|entry| *entry -= one * other * by));
    }
}

/// The columns that are not made of earlier ones.
pub(super) fn independent(data: &Data) -> Vec<usize> {
    let told = information(data, &vec![0.0; data.columns], &Spreads { batch: 0.0, week_in_place: 0.0, week: 0.0 });
    let mut kept: Vec<usize> = Vec::new();
    for column in 0..told.len() {
        kept.push(column);
        if !Cholesky::new(&sub(&told, &kept)).is_some_and(|root| root.smallest_share() > DEPENDENT) {
            kept.pop();
        }
    }
    kept
}

/// Inverse of an information matrix over the columns kept; 0 elsewhere.
fn inverse(told: &[Vec<f64>], kept: &[usize]) -> Vec<Vec<f64>> {
    let mut full = vec![vec![0.0; told.len()]; told.len()];
    if let Some(root) = Cholesky::new(&sub(told, kept)) {
        for (i, row) in kept.iter().zip(root.inverse()) {
            let Some(line) = full.get_mut(*i) else { continue };
            kept.iter()
                .zip(row)
                .for_each(|(j, value)| line.iter_mut().skip(*j).take(1).for_each(|entry| *entry = value));
        }
    }
    full
}

fn sub(told: &[Vec<f64>], kept: &[usize]) -> Vec<Vec<f64>> {
    let entry = |i: &usize, j: &usize| told.get(*i).and_then(|row| row.get(*j)).copied().unwrap_or(0.0);
    kept.iter().map(|i| kept.iter().map(|j| entry(i, j)).collect()).collect()
}

pub(super) fn quadratic(row: &Row, matrix: &[Vec<f64>]) -> f64 {
    let entry = |i: usize, j: usize| matrix.get(i).and_then(|line| line.get(j)).copied().unwrap_or(0.0);
    row.iter().map(|(i, x)| row.iter().map(|(j, y)| x * y * entry(*i, *j)).sum::<f64>()).sum()
}

/// Moves the coefficients to where the penalised likelihood is largest; gives the length of the first step.
///
/// # References
/// The penalty is that of Firth 1993, Biometrika 80:27-38, with what each batch tells under its correlation.
fn rates(data: &Data, beta: &mut [f64], spreads: &Spreads) -> f64 {
    let g = correlated(spreads.batch);
    let mut first = 0.0_f64;
    for step in 0..MOST_STEPS {
        let counted = counted(data, beta);
        let covariance = inverse(&information(data, beta, spreads), &data.kept);
        let shifts = shifts(data, &tables(&counted, g), spreads);
        let gradient = gradient(data, (&counted, &shifts), (spreads.batch, g), &covariance);
        let change: Vec<f64> =
            covariance.iter().map(|row| row.iter().zip(&gradient).map(|(a, b)| a * b).sum()).collect();
        let longest = change.iter().fold(0.0_f64, |most, one| most.max(f64::abs(*one)));
        let held = if longest > 1.0 { 1.0 / longest } else { 1.0 };
        beta.iter_mut().zip(&change).for_each(|(value, by)| *value += held * by);
        if step == 0 {
            first = longest;
        }
        if longest < CLOSE {
            break;
        }
    }
    first
}

/// The slope of the penalised likelihood by each coefficient, clusters at a time, whatever the number of cores.
fn gradient(
    data: &Data,
    (counted, shifts): (&[Vec<Counted>], &[(f64, f64)]),
    (rho, g): (f64, f64),
    covariance: &[Vec<f64>],
) -> Vec<f64> {
    let of = |clusters: &[Vec<usize>], counted: &[Vec<Counted>], shifts: &[(f64, f64)]| {
        let mut gradient = vec![0.0; data.columns];
        for ((batches, values), (mean, variance)) in clusters.iter().zip(counted).zip(shifts) {
            let reach = (3.0 * variance).sqrt();
            for (batch, value) in batches.iter().zip(values) {
                let Some(row) = data.rows.get(*batch) else { continue };
                let slopes = [(-reach, 1.0 / 6.0), (0.0, 2.0 / 3.0), (reach, 1.0 / 6.0)];
                let slope: f64 = slopes.iter().map(|(off, share)| share * slope(value, mean + off, g)).sum();
                let leverage = weight(value, rho) * quadratic(row, covariance);
                let pulled = slope + leverage * (0.5 - expit(value.logit));
                row.iter().for_each(|(i, x)| gradient.iter_mut().skip(*i).take(1).for_each(|sum| *sum += pulled * x));
            }
        }
        gradient
    };
    let stop = Signal::here();
    let parts: Vec<Vec<f64>> = (data.clusters.par_chunks(TOGETHER))
        .zip(counted.par_chunks(TOGETHER).zip(shifts.par_chunks(TOGETHER)))
        .map(|(clusters, (counted, shifts))| stop.on(|| of(clusters, counted, shifts)))
        .collect();
    let mut sum = vec![0.0; data.columns];
    parts.iter().for_each(|part| add(&mut sum, part));
    sum
}

/// Mean and variance of the shift of each cluster, given the counts.
pub(super) fn shifts(data: &Data, tables: &[Along], spreads: &Spreads) -> Vec<(f64, f64)> {
    let mut found = vec![(0.0, 0.0); tables.len()];
    for week in &data.weeks {
        let own: Vec<(usize, &Along)> = week.iter().filter_map(|at| Some((*at, tables.get(*at)?))).collect();
        let inner: Vec<Along> = own.iter().map(|(_, table)| layered(table, spreads.week_in_place)).collect();
        for (place, (at, table)) in own.iter().enumerate() {
            let shift = if spreads.week > 0.0 {
                let mut others = flat();
                inner
                    .iter()
                    .enumerate()
                    .filter(|(other, _)| *other != place)
                    .for_each(|(_, one)| add(&mut others, one));
                posterior(table, &others, spreads.week, spreads.week_in_place)
            } else {
                let (_, mean, variance) = integrated(table, spreads.week_in_place);
                (mean, variance)
            };
            found.iter_mut().skip(*at).take(1).for_each(|entry| *entry = shift);
        }
    }
    found
}

/// What each week says along its own shift, with the layer of its places integrated out.
fn along_weeks(data: &Data, tables: &[Along], week_in_place: f64) -> Vec<Along> {
    let stop = Signal::here();
    let one = |week: &Vec<usize>| {
        let mut sum = flat();
        let own = week.iter().filter_map(|at| tables.get(*at));
        own.for_each(|table| add(&mut sum, &layered(table, week_in_place)));
        sum
    };
    data.weeks.par_iter().map(|week| stop.on(|| one(week))).collect()
}

/// The adjusted likelihood of the layers, given what each week says along its shift.
fn ln_adjusted(data: &Data, beta: &[f64], weeks: &[Along], spreads: &Spreads) -> f64 {
    let told = sub(&information(data, beta, spreads), &data.kept);
    let adjustment = Cholesky::new(&told).map_or(0.0, |root| root.ln_determinant());
    weeks.iter().map(|week| integrated(week, spreads.week).0).sum::<f64>() - 0.5 * adjustment
}

/// Correlation and layers where the adjusted likelihood is largest, one after another from where they are.
///
/// # References
/// Cox and Reid 1987, Journal of the Royal Statistical Society B 49:1-39.
fn layers(data: &Data, beta: &[f64], from: &Spreads, least: f64, control: &Control) -> Result<Spreads> {
    let counted = counted(data, beta);
    let mut best = *from;
    let along = |spreads: &Spreads, tables: &[Along]| {
        ln_adjusted(data, beta, &along_weeks(data, tables, spreads.week_in_place), spreads)
    };
    control.step()?;
    let at_rho = |rho: f64| {
        let spreads = Spreads { batch: rho.max(least), ..best };
        along(&spreads, &tables(&counted, correlated(spreads.batch)))
    };
    best.batch = largest(at_rho, best.batch, LARGEST_CORRELATION).max(least);
    let own = tables(&counted, correlated(best.batch));
    control.step()?;
    let at_place = |width: f64| along(&Spreads { week_in_place: width, ..best }, &own);
    best.week_in_place = largest(at_place, best.week_in_place, WIDEST);
    if data.places {
        control.step()?;
        let weeks = along_weeks(data, &own, best.week_in_place);
        let at_week = |width: f64| ln_adjusted(data, beta, &weeks, &Spreads { week: width, ..best });
        best.week = largest(at_week, best.week, WIDEST);
    }
    Ok(best)
}

/// Where a function of something that may be 0 is largest.
fn largest(f: impl Fn(f64) -> f64, near: f64, most: f64) -> f64 {
    // The square has its top inside more often than the value itself.
    let (place, height) = maximum(
        |square: f64| f(square.max(0.0).sqrt()),
        0.0,
        near.powi(2).clamp(1e-4, 0.9 * most * most),
        most * most,
        FINE,
    );
    if f(0.0) >= height { 0.0 } else { place.sqrt() }
}
