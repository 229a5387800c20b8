//! The score test of some coefficients of a binomial model.

use crate::error::Result;
use crate::math::irls::Point;
use crate::math::linalg::{Qr, add_scaled, dot, quadratic};
use crate::models::likelihood::Fit;

/// Score statistic of the coefficients at `held` being 0: `U' V^-1 U` at the fit without them.
///
/// `U = sum z (y - m p) p' / (p (1 - p))` with `z` the held columns, and `V` the variance of `U` with the other coefficients
/// fitted. As fitted rates follow the counts, `m p (1 - p)` falls short of the variance on average; each row's share is multiplied
/// by `m / (m - h)` with its leverage `h`. For one factor in blocks that is `N / (N - 1)` per block, and with two levels the
/// statistic is the square of the stratified score of Mantel and Haenszel, as in a comparison of two levels.
///
/// It needs no estimate of what it tests, so it exists where all or none rooted at a level.
///
/// # Errors
/// When the fit without the coefficients does not settle.
///
/// # References
/// Rao (1948), Proc. Cambridge Philos. Soc. 44:50-57; Mantel and Haenszel (1959), J. Natl. Cancer Inst. 22:719-748.
pub(crate) fn score(fit: &Fit<'_>, held: &[usize]) -> Result<f64> {
    let ScoreParts { off, tested } = score_parts(fit, held)?;
    let variance = Qr::new(&tested, 1e-9);
    let known: Vec<f64> = variance.kept.iter().filter_map(|j| off.get(*j)).copied().collect();
    Ok(quadratic(&variance.covariance(), &known))
}

/// The score of some coefficients where they are 0.
pub(crate) struct ScoreParts {
    /// Its entries.
    pub(crate) off: Vec<f64>,
    /// For each, the roots of the rows' parts of its variance, with their signs.
    pub(crate) tested: Vec<Vec<f64>>,
}

/// What [`score`] is made of.
///
/// # Errors
/// As [`score`].
pub(crate) fn score_parts(fit: &Fit<'_>, held: &[usize]) -> Result<ScoreParts> {
    let plain = Fit { penalised: false, ..*fit };
    // Where next to nothing rooted the plain fit of the rest may not settle; its penalised one does.
    let null = plain.without(held).or_else(|_| Fit { penalised: true, ..*fit }.without(held))?;
    let points: Vec<Point> = null.eta.iter().map(|eta| fit.link.at(*eta)).collect();
    let prior = |row: usize| fit.data.weights.get(row).copied().unwrap_or(1.0);
    let counts = || fit.data.rooted.iter().zip(&fit.data.stuck);
    let cells = points.iter().zip(&fit.data.stuck).enumerate();
    let roots: Vec<f64> = cells.map(|(row, (point, m))| (prior(row) * m * point.weight()).sqrt()).collect();
    let weigh = |column: &Vec<f64>| column.iter().zip(&roots).map(|(x, root)| x * root).collect::<Vec<f64>>();
    let columns = fit.design.x();
    let rest = columns.iter().enumerate();
    let rest: Vec<Vec<f64>> = rest.filter(|(j, _)| !held.contains(j)).map(|(_, x)| weigh(x)).collect();
    let others = Qr::new(&rest, 1e-12);
    let leverages = others.hat(points.len());
    let inflate = |(row, (m, h)): (usize, (&f64, &f64))| inflation(prior(row) * m, *h).sqrt();
    let inflation: Vec<f64> = fit.data.stuck.iter().zip(&leverages).enumerate().map(inflate).collect();
    let off_each =
        |(row, (point, (y, m))): (usize, (&Point, (&f64, &f64)))| prior(row) * (y * point.up - (m - y) * point.down);
    let scores: Vec<f64> = points.iter().zip(counts()).enumerate().map(off_each).collect();
    let (mut tested, mut off) = (Vec::new(), Vec::new());
    for column in held.iter().filter_map(|j| columns.get(*j)) {
        let mut left = weigh(column);
        let kept = others.solve_upper(&others.project(&left));
        for (known, c) in others.kept.iter().filter_map(|k| rest.get(*k)).zip(kept) {
            add_scaled(&mut left, -c, known);
        }
        off.push(dot(column, &scores));
        tested.push(left.iter().zip(&inflation).map(|(x, by)| x * by).collect::<Vec<f64>>());
    }
    Ok(ScoreParts { off, tested })
}

/// By how much the variance of a row of `m` cuttings exceeds the one at its fitted rate, on average: `m / (m - h)` with its leverage.
pub(crate) fn inflation(m: f64, h: f64) -> f64 {
    m / (m - h).max(0.5 * m.min(1.0))
}
