//! Many levels: what is worked out on few entries against the same in full, against closed forms, and against the same
//! levels by themselves.

use approx::abs_diff_eq;
use rootling::control::Control;
use rootling::effects::ContrastOptions;
use rootling::math::dense::{Cholesky, Eigen, NormalMatrix, Qr, apply, dot, product, trace_of_product};
use rootling::math::design::entries_of;
use rootling::math::regression::{ClusterRobust, ClusteredFit};
use rootling::math::rng::{binomial, stream, uniform};
use rootling::models::{Model, ModelSpec, StatisticKind, TrayMode};
use rootling::trial::{Factor, UnitKind, Units};

/// Trays of every level in every block, rates around one half.
fn trial(levels: u32, blocks: u32, trays: u32) -> Units {
    let mut draw = stream(11, u64::from(levels));
    let count = levels * blocks * trays;
    let stuck: Vec<u64> = (0..count).map(|unit| 15 + u64::from(unit % 7)).collect();
    let rate: Vec<f64> = (0..levels).map(|_| 0.2 + 0.6 * uniform(&mut draw)).collect();
    let rooted = (0..count).map(|u| binomial(&mut draw, stuck[u as usize], rate[(u % levels) as usize])).collect();
    let factor = |name: &str, levels: u32, of: &dyn Fn(u32) -> u32| Factor {
        name: name.to_owned(),
        levels: (0..levels).map(|level| format!("{level:04}")).collect(),
        numbers: None,
        codes: (0..count).map(of).collect(),
    };
    Units {
        kind: UnitKind::Tray,
        rooted,
        stuck,
        treatments: vec![
            factor("clone", levels, &|unit| unit % levels),
            factor("site", blocks, &|unit| (unit / levels) % blocks),
        ],
        tray: None,
        block: None,
        whole_plot: None,
        season: None,
        earlier: None,
        stock_plant: None,
        covariates: vec![],
    }
}

/// The units of some levels of the first treatment.
fn only(units: &Units, levels: &[u32]) -> Units {
    let kept: Vec<usize> = (0..units.len()).filter(|u| levels.contains(&units.treatments[0].codes[*u])).collect();
    let mut few = units.clone();
    few.rooted = kept.iter().map(|u| units.rooted[*u]).collect();
    few.stuck = kept.iter().map(|u| units.stuck[*u]).collect();
    for factor in &mut few.treatments {
        factor.codes = kept.iter().map(|u| factor.codes[*u]).collect();
    }
    let first = &mut few.treatments[0];
    first.codes = first.codes.iter().map(|c| levels.iter().position(|l| l == c).unwrap() as u32).collect();
    first.levels = levels.iter().map(|level| format!("{level:04}")).collect();
    few
}

/// A design of 60 levels, 4 sites and a number, in rows.
fn design() -> (Vec<Vec<f64>>, Vec<f64>) {
    let mut draw = stream(3, 0);
    let row = |level: usize, site: usize, z: f64| {
        let mut row = vec![0.0; 64];
        (row[0], row[63]) = (1.0, z);
        if level > 0 {
            row[level] = 1.0;
        }
        if site > 0 {
            row[59 + site] = 1.0;
        }
        row
    };
    // Every level at all sites but one.
    let rows = (0..300).map(|unit| row(unit % 60, (unit / 60 + unit % 60 * 3) % 4, uniform(&mut draw))).collect();
    (rows, (0..300).map(|_| 0.2 + uniform(&mut draw)).collect())
}

#[test]
fn few_entries_and_all_entries() {
    let (rows, weights) = design();
    let columns: Vec<Vec<f64>> =
        (0..64).map(|j| rows.iter().zip(&weights).map(|(row, w)| row[j] * w.sqrt()).collect()).collect();
    let full = Qr::new(&columns, 0.0);
    let entries: Vec<_> = rows.iter().map(|row| entries_of(row)).collect();
    let layout = NormalMatrix::layout(64, entries.iter().map(Vec::as_slice)).expect("few entries");
    let mut sum = NormalMatrix::zero(64, Some(&layout));
    entries.iter().zip(&weights).for_each(|(row, w)| sum.add_square(*w, row));
    let b: Vec<f64> = (0..64).map(|j| (f64::from(j) * 0.7).sin()).collect();
    let dense: Vec<Vec<f64>> = columns.iter().map(|a| columns.iter().map(|b| dot(a, b)).collect()).collect();
    for root in [sum.root().unwrap(), Cholesky::new(&dense).unwrap()] {
        let covariance = full.covariance();
        for (got, want) in root.solve(&b).iter().zip(apply(&covariance, &b)) {
            assert_rel!(*got, want, 1e-10);
        }
        for (got, want) in root.inverse().iter().flatten().zip(covariance.iter().flatten()) {
            assert!(abs_diff_eq!(got, want, epsilon = 1e-12 * (1.0 + want.abs())), "{got} {want}");
        }
        assert_rel!(root.ln_determinant(), full.ln_determinant(), 1e-12);
        let half = root.forward(&b);
        assert_rel!(dot(&half, &half), dot(&b, &apply(&covariance, &b)), 1e-11);
        for (got, row) in root.spreads(entries.iter().map(Vec::as_slice)).iter().zip(&rows) {
            assert_rel!(*got, dot(row, &apply(&covariance, row)), 1e-11);
        }
    }
    assert_rel!(dot(&sum.times(&b), &b), dot(&apply(&dense, &b), &b), 1e-12);
    // An entry that the pattern has no place for.
    let odd = vec![(1, 0.3), (2, 0.4), (62, 1.0)];
    sum.add_square(0.5, &odd);
    let mut more = dense;
    for (i, x) in &odd {
        for (j, y) in &odd {
            more[*i][*j] += 0.5 * x * y;
        }
    }
    let want = Cholesky::new(&more).unwrap().solve(&b);
    for (got, want) in sum.root().unwrap().solve(&b).iter().zip(want) {
        assert_rel!(*got, want, 1e-10);
    }
}

/// One factor: the score is Pearson's chi-square of the 2 x k table times (N - 1) / N (Mantel and Haenszel 1959).
#[test]
fn a_score_of_many_levels_is_a_chi_square() {
    let units = trial(90, 1, 2);
    let spec = ModelSpec { trays: TrayMode::Ignore, ..ModelSpec::of(&["clone"]) };
    let model = Model::fit(&units, &spec).unwrap();
    let found = model.what_matters(Some(StatisticKind::SmallSampleScore)).unwrap().numbers.effects.remove(0);
    let (all, hit) = (units.stuck.iter().sum::<u64>() as f64, units.rooted.iter().sum::<u64>() as f64);
    let mut chi = 0.0;
    for level in 0..90 {
        let of = |counts: &[u64]| -> f64 {
            counts.iter().zip(&units.treatments[0].codes).filter(|(_, c)| **c == level).map(|(n, _)| *n as f64).sum()
        };
        let (y, m) = (of(&units.rooted), of(&units.stuck));
        chi += (y - m * hit / all).powi(2) / (m * hit / all * (1.0 - hit / all));
    }
    assert_rel!(found.statistic.unwrap(), chi * (all - 1.0) / all, 1e-10);
    assert_eq!(found.df, 89.0);
}

/// Without trays a likelihood-ratio limit of a level against the reference rests on these two alone.
#[test]
fn limits_of_many_levels_are_those_of_two() {
    let mut units = trial(70, 1, 2);
    units.kind = UnitKind::Pooled;
    let many = Model::fit(&units, &ModelSpec::of(&["clone"])).unwrap().odds_ratios(0.95).unwrap().numbers;
    for level in [1, 17, 69] {
        let two = only(&units, &[0, level]);
        let two = Model::fit(&two, &ModelSpec::of(&["clone"])).unwrap().odds_ratios(0.95).unwrap().numbers;
        let (got, want) = (&many.ratios[level as usize - 1], &two.ratios[0]);
        assert_rel!(got.odds_ratio, want.odds_ratio, 1e-9);
        assert_rel!(got.low.unwrap(), want.low.unwrap(), 1e-8);
        assert_rel!(got.high.unwrap(), want.high.unwrap(), 1e-8);
        assert_rel!(got.statistic.unwrap(), want.statistic.unwrap(), 1e-9);
    }
}

/// An odds ratio and the contrast of its two levels are one hypothesis; sizes of an effect are those of all its pairs.
#[test]
fn tests_limits_and_contrasts_agree_beside_many_levels() {
    let units = trial(45, 5, 1);
    let model = Model::fit(&units, &ModelSpec::of(&["clone", "site"])).unwrap();
    assert!(model.coefficients.len() >= 48);
    let tests = model.what_matters(None).unwrap().numbers.effects;
    let ratios = model.odds_ratios(0.95).unwrap().numbers.ratios;
    let options = ContrastOptions { together: "none".parse().unwrap(), ..ContrastOptions::default() };
    for (effect, (found, first)) in ["clone", "site"].iter().zip(tests.iter().zip([0, 44])) {
        let pairs = model.contrasts(effect, &options, &Control::new()).unwrap().numbers.contrasts;
        assert_rel!(pairs[0].p.unwrap(), ratios[first].p.unwrap(), 1e-7);
        let largest = pairs.iter().map(|one| one.value.unwrap().abs()).fold(0.0, f64::max);
        let ends = pairs.iter().flat_map(|one| [one.low.unwrap().abs(), one.high.unwrap().abs()]);
        assert_rel!(found.largest_difference.unwrap(), largest, 1e-9);
        assert_rel!(found.not_ruled_out.unwrap(), ends.fold(0.0, f64::max), 1e-6);
    }
}

/// The covariance and its degrees of freedom from their definition (Pustejovsky and Tipton 2018, equations 5 to 11),
/// rows by rows.
#[test]
fn robust_covariance_of_many_columns() {
    let mut draw = stream(5, 1);
    // 50 blocks of four rows, two clusters of two rows in each, four treatments.
    let (blocks, n) = (50, 200);
    let mut x = vec![vec![0.0; n]; blocks + 3];
    for row in 0..n {
        x[row / 4][row] = 1.0;
        if row % 4 > 0 {
            x[blocks + row % 4 - 1][row] = 1.0;
        }
    }
    let weights: Vec<f64> = (0..n).map(|_| 0.5 + uniform(&mut draw)).collect();
    let residuals: Vec<f64> = (0..n).map(|_| uniform(&mut draw) - 0.5).collect();
    let clusters: Vec<usize> = (0..n).map(|row| row / 2).collect();
    let robust =
        ClusterRobust::new(&ClusteredFit { x: &x, weights: &weights, residuals: &residuals, clusters: &clusters });
    let rows: Vec<Vec<f64>> = (0..n).map(|r| x.iter().map(|column| column[r]).collect()).collect();
    let scaled: Vec<Vec<f64>> = x.iter().map(|c| c.iter().zip(&weights).map(|(x, w)| x * w.sqrt()).collect()).collect();
    let m = Qr::new(&scaled, 0.0).covariance();
    // (I - H) F (I - H)' = F - X M X'
    let left = |a: usize, b: usize| {
        let own = if a == b { 1.0 / weights[a] } else { 0.0 };
        own - dot(&rows[a], &apply(&m, &rows[b]))
    };
    let p = m.len();
    let contrast: Vec<f64> =
        (0..p).map(|j| f64::from(u8::from(j == p - 1)) - f64::from(u8::from(j == p - 2))).collect();
    let along = apply(&m, &contrast);
    let (mut meat, mut pulls) = (vec![vec![0.0; p]; p], Vec::new());
    for cluster in 0..n / 2 {
        let members = [2 * cluster, 2 * cluster + 1];
        let d = members.map(|row| (1.0 / weights[row]).sqrt());
        let b: Vec<Vec<f64>> =
            (0..2).map(|i| (0..2).map(|j| d[i] * d[j] * left(members[i], members[j])).collect()).collect();
        let root = Eigen::new(&b).inverse_root(1e-10);
        let a: Vec<Vec<f64>> = (0..2).map(|i| (0..2).map(|j| d[i] * d[j] * root[i][j]).collect()).collect();
        let mut score = vec![0.0; p];
        let mut pull = [0.0; 2];
        for i in 0..2 {
            for k in 0..2 {
                let w = weights[members[i]];
                for (s, x) in score.iter_mut().zip(&rows[members[i]]) {
                    *s += w * a[i][k] * residuals[members[k]] * x;
                }
                pull[k] += a[i][k] * w * dot(&rows[members[i]], &along);
            }
        }
        for (row, s) in meat.iter_mut().zip(&score) {
            row.iter_mut().zip(&score).for_each(|(entry, t)| *entry += s * t);
        }
        pulls.push((members, pull));
    }
    let want = product(&product(&m, &meat), &m);
    for (got, want) in robust.covariance().iter().flatten().zip(want.iter().flatten()) {
        assert!(abs_diff_eq!(got, want, epsilon = 1e-11), "{got} {want}");
    }
    let spread: Vec<Vec<f64>> = pulls
        .iter()
        .map(|(rows, a)| {
            let one = |(others, b): &([usize; 2], [f64; 2])| -> f64 {
                (0..2)
                    .flat_map(|i| (0..2).map(move |j| (i, j)))
                    .map(|(i, j)| a[i] * b[j] * left(rows[i], others[j]))
                    .sum()
            };
            pulls.iter().map(one).collect()
        })
        .collect();
    let trace: f64 = (0..spread.len()).map(|g| spread[g][g]).sum();
    assert_rel!(robust.df(&contrast).unwrap(), trace * trace / trace_of_product(&spread, &spread), 1e-9);
}
