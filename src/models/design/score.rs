//! The score test of some coefficients of a binomial model.

use super::likelihood::Fit;
use super::score_by_sums::score_by_sums;
use super::score_null::{Null, inflation};
use crate::error::Result;
use crate::math::dense::{Qr, add_scaled, dot, quadratic};

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
    let null = Null::new(fit, held)?;
    if let Some(statistic) = score_by_sums(fit, held, &null) {
        return Ok(statistic);
    }
    let ScoreParts { off, tested } = parts(fit, held, &null);
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
    Ok(parts(fit, held, &Null::new(fit, held)?))
}

fn parts(fit: &Fit<'_>, held: &[usize], null: &Null) -> ScoreParts {
    let roots: Vec<f64> = null.weights.iter().map(|w| w.sqrt()).collect();
    let weigh = |column: &Vec<f64>| column.iter().zip(&roots).map(|(x, root)| x * root).collect::<Vec<f64>>();
    let columns = fit.design.x();
    let rest = columns.iter().enumerate();
    let rest: Vec<Vec<f64>> = rest.filter(|(j, _)| !held.contains(j)).map(|(_, x)| weigh(x)).collect();
    let others = Qr::new(&rest, 1e-12);
    let leverages = others.hat(roots.len());
    let inflation: Vec<f64> = null.cuttings.iter().zip(&leverages).map(|(m, h)| inflation(*m, *h).sqrt()).collect();
    let (mut tested, mut off) = (Vec::new(), Vec::new());
    for column in held.iter().filter_map(|j| columns.get(*j)) {
        let mut left = weigh(column);
        let kept = others.solve_upper(&others.project(&left));
        for (known, c) in others.kept.iter().filter_map(|k| rest.get(*k)).zip(kept) {
            add_scaled(&mut left, -c, known);
        }
        off.push(dot(column, &null.scores));
        tested.push(left.iter().zip(&inflation).map(|(x, by)| x * by).collect::<Vec<f64>>());
    }
    ScoreParts { off, tested }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::rng::{stream, uniform};
    use crate::models::design::Design;
    use crate::models::{Model, ModelSpec};
    use crate::trial::{Covariate, Factor, UnitKind, Units};
    use approx::relative_eq;

    /// 60 levels in 5 blocks, unevenly, with a covariate.
    fn units() -> Units {
        let mut draw = stream(7, 0);
        let mut below = |n: u64| (uniform(&mut draw) * n as f64) as u64;
        let count = 240;
        let factor = |name: &str, levels: usize, codes: Vec<u32>| Factor {
            name: name.to_owned(),
            levels: (0..levels).map(|level| format!("{name}{level:03}")).collect(),
            numbers: None,
            codes,
        };
        let stuck: Vec<u64> = (0..count).map(|_| 8 + below(20)).collect();
        let rooted = stuck.iter().map(|m| 1 + below(m - 1)).collect();
        let blocks = (0..count).map(|_| below(5) as u32).collect();
        let values = (0..count).map(|_| below(1000) as f64 / 1000.0).collect();
        Units {
            kind: UnitKind::Tray,
            rooted,
            stuck,
            treatments: vec![
                factor("plant", 60, (0..count as u32).map(|unit| unit % 60).collect()),
                factor("site", 5, blocks),
            ],
            tray: None,
            block: None,
            whole_plot: None,
            season: None,
            earlier: None,
            stock_plant: None,
            covariates: vec![Covariate { name: "days".to_owned(), values }],
        }
    }

    #[test]
    fn sums_of_products_and_an_orthogonal_decomposition_agree() {
        let spec = ModelSpec::of(&["plant", "site", "days"]);
        let model = Model::fit(&units(), &spec).unwrap();
        let ready = model.ready().unwrap();
        let design: &Design = &ready.design;
        let fit = Fit { design, data: &ready.frame.data, link: spec.link, penalised: false };
        for term in 0..ready.frame.terms.len() {
            let held = design.of_term(term);
            let null = Null::new(&fit, &held).unwrap();
            let sums = score_by_sums(&fit, &held, &null).unwrap();
            let ScoreParts { off, tested } = parts(&fit, &held, &null);
            let variance = Qr::new(&tested, 1e-9);
            assert_eq!(variance.rank(), held.len());
            let dense = quadratic(&variance.covariance(), &off);
            assert!(relative_eq!(sums, dense, epsilon = 0.0, max_relative = 1e-10), "{term}: {sums} {dense}");
        }
    }
}
