//! Cluster-robust covariance against dense matrices (`tests/reference/values/cluster_robust.json`, made by
//! `tests/reference/make/cluster_robust.py`), peers (`cluster_robust_peers.json`, clubSandwich 0.5.8, R 4.2.2) and closed forms.

use approx::assert_abs_diff_eq;
use rootling::checks::CheckOptions;
use rootling::control::Control;
use rootling::effects::{ContrastOptions, RateOptions};
use rootling::math::dense::{Eigen, apply};
use rootling::math::regression::{ClusterRobust, ClusteredFit, Link};
use rootling::math::rng::{self, stream};
use rootling::model_tests::BootstrapOptions;
use rootling::models::{Model, ModelSpec, TrayMode};
use rootling::prediction::PredictOptions;
use rootling::trial::{NewRows, UnitKind};
use serde_json::Value;

use crate::models::{crowder, estimates, factor, has_note, spec, trays, units};

fn numbers(value: &Value) -> Vec<f64> {
    value.as_array().unwrap().iter().map(|x| x.as_f64().unwrap()).collect()
}

fn rows(value: &Value) -> Vec<Vec<f64>> {
    value.as_array().unwrap().iter().map(numbers).collect()
}

fn variance(robust: &ClusterRobust, contrast: &[f64]) -> f64 {
    apply(robust.covariance(), contrast).iter().zip(contrast).map(|(a, b)| a * b).sum()
}

#[test]
fn dense_matrices_agree() {
    let all: Value = serde_json::from_str(include_str!("../reference/values/cluster_robust.json")).unwrap();
    for case in all["cases"].as_array().unwrap() {
        let (x, weights, residuals) = (rows(&case["x"]), numbers(&case["weights"]), numbers(&case["residuals"]));
        let clusters: Vec<usize> = numbers(&case["clusters"]).iter().map(|x| *x as usize).collect();
        let fit = ClusteredFit { x: &x, weights: &weights, residuals: &residuals, clusters: &clusters };
        let robust = ClusterRobust::new(&fit);
        let contrasts = rows(&case["contrasts"]);
        for ((contrast, want), dof) in contrasts.iter().zip(numbers(&case["variances"])).zip(numbers(&case["df"])) {
            // The roots of the adjustment lose half the digits of a nearly singular cluster.
            assert_rel!(variance(&robust, contrast), want, 1e-9);
            assert_rel!(robust.df(contrast).unwrap(), dof, 1e-8);
        }
        let joint = robust.joint_test(&rows(&case["joint"]), &numbers(&case["estimates"]));
        let f_dof = case["f_dof"].as_f64().unwrap();
        match joint {
            Some(joint) => {
                assert_rel!(joint.statistic, case["f"].as_f64().unwrap(), 1e-8);
                assert_rel!(joint.error_df, f_dof, 1e-8);
            }
            None => assert!(f_dof <= 0.0, "{}: {f_dof}", case["kind"]),
        }
    }
}

/// Weights and residuals of a logit model on the scale of the linear predictor, with the model's columns.
fn logit(model: &Model, x: &[Vec<f64>]) -> (Vec<f64>, Vec<f64>) {
    let b = estimates(model);
    let counts = model.units.rooted.iter().zip(&model.units.stuck).enumerate();
    let each = counts.map(|(unit, (y, m))| {
        let eta = x.iter().zip(&b).map(|(column, b)| column[unit] * b).sum();
        let (p, m) = (Link::Logit.at(eta).mean, *m as f64);
        let w = m * p * (1.0 - p);
        (w, (*y as f64 - m * p) / w)
    });
    each.unzip()
}

fn is(model: &Model, name: &str, level: usize) -> Vec<f64> {
    let factor = model.units.factor(name).unwrap();
    factor.codes.iter().map(|code| f64::from(u8::from(*code as usize == level))).collect()
}

fn agree(id: &str, model: &Model, x: &[Vec<f64>], clusters: &[usize]) {
    let all: Value = serde_json::from_str(include_str!("../reference/values/cluster_robust_peers.json")).unwrap();
    let want = &all[id];
    let (weights, residuals) = logit(model, x);
    let robust = ClusterRobust::new(&ClusteredFit { x, weights: &weights, residuals: &residuals, clusters });
    let unit = |j: usize| (0..x.len()).map(|k| f64::from(u8::from(k == j))).collect::<Vec<f64>>();
    for (j, (std_error, dof)) in numbers(&want["se"]).into_iter().zip(numbers(&want["df"])).enumerate() {
        assert_rel!(variance(&robust, &unit(j)).sqrt(), std_error, 1e-7);
        // R's fits end at a relative change of the deviance of 1e-14
        assert_rel!(robust.df(&unit(j)).unwrap(), dof, 1e-6);
    }
    let contrasts: Vec<Vec<f64>> = (1..x.len()).map(unit).collect();
    let joint = robust.joint_test(&contrasts, &estimates(model)[1..]).unwrap();
    assert_rel!(joint.statistic, numbers(&want["f"])[0], 1e-6);
    assert_rel!(joint.error_df, numbers(&want["error_df"])[0], 1e-6);
    let p = rootling::math::distributions::fisher_f::sf(joint.statistic, joint.df, joint.error_df);
    assert_rel!(p, numbers(&want["p"])[0], 1e-5);
}

#[test]
fn peers_agree() {
    let ignore = |effects: &[&str]| ModelSpec { trays: TrayMode::Ignore, ..spec(effects, &[]) };
    let model = Model::fit(&crowder(), &ignore(&["seed", "extract"])).unwrap();
    let n = model.units.len();
    let x = [vec![1.0; n], is(&model, "seed", 1), is(&model, "extract", 1)];
    agree("crowder", &model, &x, &(0..n).collect::<Vec<_>>());
    let mut data = trays();
    let blocks: Vec<usize> = data.block.take().unwrap().codes.iter().map(|code| *code as usize).collect();
    let model = Model::fit(&data, &ignore(&["strength"])).unwrap();
    let x = [vec![1.0; blocks.len()], is(&model, "strength", 1), is(&model, "strength", 2)];
    agree("trays", &model, &x, &blocks);
}

#[test]
fn two_groups_are_those_of_welch() {
    // closed form: with every row its own cluster the variance of the difference of two means is s1^2 / n1 + s2^2 / n2, and without regard to
    // the variances found the degrees of freedom are Satterthwaite's for equal variances:
    // (1/n1 + 1/n2)^2 / (1 / (n1^2 (n1 - 1)) + 1 / (n2^2 (n2 - 1))).
    let (a, b) = ([3.0, 5.0, 10.0], [1.0, 2.0, 2.0, 7.0, 13.0]);
    let mean = |x: &[f64]| x.iter().sum::<f64>() / x.len() as f64;
    let spread = |x: &[f64]| x.iter().map(|y| (y - mean(x)).powi(2)).sum::<f64>() / (x.len() as f64 - 1.0);
    let residuals: Vec<f64> = a.iter().map(|y| y - mean(&a)).chain(b.iter().map(|y| y - mean(&b))).collect();
    let x = [vec![1.0; 8], (0..8).map(|i| f64::from(u8::from(i > 2))).collect()];
    let clusters: Vec<usize> = (0..8).collect();
    let fit = ClusteredFit { x: &x, weights: &[1.0; 8], residuals: &residuals, clusters: &clusters };
    let robust = ClusterRobust::new(&fit);
    assert_rel!(variance(&robust, &[0.0, 1.0]), spread(&a) / 3.0 + spread(&b) / 5.0, 1e-12);
    let want = (1.0 / 3.0 + 1.0 / 5.0_f64).powi(2) / (1.0 / (9.0 * 2.0) + 1.0 / (25.0 * 4.0));
    assert_rel!(robust.df(&[0.0, 1.0]).unwrap(), want, 1e-12);
    // a single contrast is tested by the square of its t
    let joint = robust.joint_test(&[vec![0.0, 1.0]], &[mean(&b) - mean(&a)]).unwrap();
    assert_rel!(joint.statistic, (mean(&b) - mean(&a)).powi(2) / variance(&robust, &[0.0, 1.0]), 1e-12);
    assert_rel!(joint.error_df, want, 1e-12);
}

#[test]
fn a_row_that_sets_its_own_estimate_leaves_no_variance() {
    // the third group has a single row
    let x = [vec![1.0; 5], vec![0.0, 0.0, 1.0, 1.0, 0.0], vec![0.0, 0.0, 0.0, 0.0, 1.0]];
    let fit =
        ClusteredFit { x: &x, weights: &[1.0; 5], residuals: &[-1.0, 1.0, 2.0, -2.0, 0.0], clusters: &[0, 1, 2, 3, 4] };
    let robust = ClusterRobust::new(&fit);
    assert_eq!(robust.df(&[0.0, 0.0, 1.0]), None);
    assert_eq!(robust.joint_test(&[vec![0.0, 0.0, 1.0]], &[1.0]), None);
    assert!(robust.df(&[0.0, 1.0, 0.0]).is_some());
}

#[test]
fn order_and_scale_change_nothing() {
    let x = [vec![1.0; 6], vec![0.3, -1.0, 2.0, 0.0, 1.5, -0.4]];
    let (weights, residuals) = ([1.0, 2.0, 0.5, 3.0, 1.0, 2.0], [0.4, -0.2, 0.1, 0.3, -0.5, 0.2]);
    let clusters = [0, 0, 1, 1, 2, 2];
    let of = |x: &[Vec<f64>], weights: &[f64], residuals: &[f64], clusters: &[usize]| {
        let robust = ClusterRobust::new(&ClusteredFit { x, weights, residuals, clusters });
        (variance(&robust, &[0.0, 1.0]), robust.df(&[0.0, 1.0]).unwrap())
    };
    let (v, dof) = of(&x, &weights, &residuals, &clusters);
    let back = |values: &[f64]| values.iter().rev().copied().collect::<Vec<f64>>();
    let reversed: Vec<Vec<f64>> = x.iter().map(|column| back(column)).collect();
    let (v2, dof2) = of(&reversed, &back(&weights), &back(&residuals), &[0, 0, 1, 1, 2, 2]);
    assert_rel!(v2, v, 1e-10);
    assert_rel!(dof2, dof, 1e-10);
    // ten times the weights: the same covariance
    let (v3, dof3) = of(&x, &weights.map(|w| 10.0 * w), &residuals, &clusters);
    assert_rel!(v3, v, 1e-10);
    assert_rel!(dof3, dof, 1e-10);
}

#[test]
fn eigenvalues_of_a_known_matrix() {
    // by hand: the path on three points, 2 -1 0; -1 2 -1; 0 -1 2, has the eigenvalues 2 - sqrt 2, 2, 2 + sqrt 2
    let a = [vec![2.0, -1.0, 0.0], vec![-1.0, 2.0, -1.0], vec![0.0, -1.0, 2.0]];
    let found = Eigen::new(&a);
    let mut values = found.values.clone();
    values.sort_by(f64::total_cmp);
    for (got, want) in values.iter().zip([2.0 - 2.0_f64.sqrt(), 2.0, 2.0 + 2.0_f64.sqrt()]) {
        assert_rel!(*got, want, 1e-14);
    }
    let root = found.inverse_root(1e-12);
    let back = rootling::math::dense::product(&rootling::math::dense::product(&root, &a), &root);
    for (i, row) in back.iter().enumerate() {
        for (j, entry) in row.iter().enumerate() {
            assert_abs_diff_eq!(*entry, f64::from(u8::from(i == j)), epsilon = 1e-13);
        }
    }
}

fn robust(effects: &[&str]) -> ModelSpec {
    ModelSpec { trays: TrayMode::Robust, ..spec(effects, &[]) }
}

fn peers(id: &str, key: &str) -> Vec<f64> {
    let all: Value = serde_json::from_str(include_str!("../reference/values/cluster_robust_peers.json")).unwrap();
    numbers(&all[id][key])
}

#[test]
fn models_carry_the_covariance() {
    let model = Model::fit(&crowder(), &robust(&["seed", "extract"])).unwrap();
    for ((coefficient, value), want) in
        model.coefficients.iter().zip(peers("crowder", "coef")).zip(peers("crowder", "se"))
    {
        assert_rel!(coefficient.value, value, 1e-7);
        assert_rel!(coefficient.se, want, 1e-7);
    }
    let dofs = peers("crowder", "df");
    let ratios = model.odds_ratios(0.95).unwrap().numbers.ratios;
    let tests = model.what_matters(None).unwrap();
    for (j, (ratio, test)) in ratios.iter().zip(&tests.numbers.effects).enumerate() {
        assert_rel!(ratio.error_df.unwrap(), dofs[j + 1], 1e-6);
        // one coefficient: the joint test is the square of its t
        assert_rel!(test.statistic.unwrap(), ratio.statistic.unwrap(), 1e-9);
        assert_rel!(test.p.unwrap(), ratio.p.unwrap(), 1e-8);
        assert_eq!((test.test.as_str(), test.df), ("robust F", 1.0));
        // by hand: b - t se
        let coefficient = &model.coefficients[j + 1];
        let t = rootling::math::distributions::student_t::quantile(0.975, dofs[j + 1]);
        assert_rel!(ratio.low.unwrap().ln(), coefficient.value - t * coefficient.se, 1e-5);
    }
    assert!(has_note(&tests.notes, "robust_errors"));
    assert!(tests.methods.contains("Covariances are robust to correlation inside one tray (21 clusters)"));
    assert!(model.criteria.is_none());
}

#[test]
fn whole_plots_are_the_clusters() {
    // the reference took the blocks of these trays as clusters
    let mut data = trays();
    data.whole_plot = data.block.take();
    let model = Model::fit(&data, &robust(&["strength"])).unwrap();
    let tests = model.what_matters(None).unwrap();
    let test = &tests.numbers.effects[0];
    assert_rel!(test.statistic.unwrap(), peers("trays", "f")[0], 1e-6);
    assert_rel!(test.error_df.unwrap(), peers("trays", "error_df")[0], 1e-6);
    assert_rel!(test.p.unwrap(), peers("trays", "p")[0], 1e-5);
    assert!(tests.methods.contains("inside one bench (6 clusters)"), "{}", tests.methods);
}

#[test]
fn rates_predictions_and_contrasts_use_it() {
    let model = Model::fit(&crowder(), &robust(&["seed", "extract"])).unwrap();
    let options = RateOptions { confidence: 0.9, ..RateOptions::within("extract") };
    for rate in model.adjusted_rates("seed", &options).unwrap().numbers.rates {
        let text = format!("extract,seed\n{},{}\n", rate.within.unwrap(), rate.by);
        let rows = NewRows::from_csv(text.as_bytes()).unwrap();
        let found = model.predict(&rows, &PredictOptions { confidence: 0.9, ..PredictOptions::default() }).unwrap();
        let row = &found.numbers.rows[0];
        assert_rel!(row.se.unwrap(), rate.se.unwrap(), 1e-12);
        assert_rel!(row.low.unwrap(), rate.low.unwrap(), 1e-12);
        // every rate has degrees of freedom of its own, fewer than the 18 that trays leave
        assert!(row.df.unwrap() < 18.0 && row.df.unwrap() > 4.0, "{:?}", row.df);
    }
    let answer = model.contrasts("extract", &ContrastOptions::default(), &Control::new()).unwrap();
    let test = &model.what_matters(None).unwrap().numbers.effects[1];
    // the same coefficient, on its own degrees of freedom: more than the fewest of the model
    let first = &answer.numbers.contrasts[0];
    assert_rel!(first.p.unwrap(), test.p.unwrap(), 1e-6);
    assert_rel!(first.df.unwrap(), test.error_df.unwrap(), 1e-6);
    assert!(first.df.unwrap() >= model.strata.tray.df.unwrap());
}

#[test]
fn against_is_the_joint_test() {
    let mut data = trays();
    data.whole_plot = data.block.take();
    let sizes: Vec<String> =
        (0..data.len()).map(|unit| if unit % 2 == 0 { "small" } else { "large" }.to_owned()).collect();
    data.treatments.push(factor("size", &sizes));
    let larger = Model::fit(&data, &robust(&["size", "strength"])).unwrap();
    let found = larger.against(&Model::fit(&data, &robust(&["size"])).unwrap()).unwrap().numbers;
    let test = &larger.what_matters(None).unwrap().numbers.effects[1];
    assert_rel!(found.statistic.unwrap(), test.statistic.unwrap(), 1e-7);
    assert_rel!(found.error_df.unwrap(), test.error_df.unwrap(), 1e-7);
    assert_eq!((found.test.as_str(), found.df), ("robust F", 2.0));
}

#[test]
fn single_trays_are_not_judged() {
    let strength = factor("strength", &["0", "0", "0", "2500", "2500", "2500", "5000"]);
    let data = units(UnitKind::Tray, vec![3, 5, 4, 12, 11, 9, 8], vec![20; 7], vec![strength]);
    let model = Model::fit(&data, &robust(&["strength"])).unwrap();
    let tests = model.what_matters(None).unwrap();
    assert_eq!((tests.numbers.effects[0].test.as_str(), tests.numbers.effects[0].p), ("not tested", None));
    assert!(has_note(&tests.notes, "single_clusters"));
    let checks = model.checks(&CheckOptions::default(), &Control::new()).unwrap();
    assert!(checks.numbers.trays.iter().all(|tray| tray.quantile_residual.is_finite()));
    let bootstrap = model.bootstrap_test("strength", &BootstrapOptions::default(), &Control::new());
    assert_eq!(
        bootstrap.unwrap_err().to_string(),
        "\"strength\" has no bootstrap test: a robust covariance is no law from which counts could be drawn; fit the model with \
         trays=\"beta-binomial\" or trays=\"random\""
    );
}

#[test]
fn robust_tests_keep_their_level() {
    // 1,000 trials without effect, six trays of 15 in each of three treatments, correlation 0.1: mean 50 at most, and 75 is 3.6 standard
    // deviations above
    let alarms = (0..1000).filter(|seed| {
        let mut random = stream(*seed, 7);
        let levels: Vec<&str> = (0..18).map(|tray| ["a", "b", "c"][tray % 3]).collect();
        let rooted: Vec<u64> = levels.iter().map(|_| rng::beta_binomial(&mut random, 15, 0.4, 0.1)).collect();
        let data = units(UnitKind::Tray, rooted, vec![15; 18], vec![factor("strength", &levels)]);
        let model = Model::fit(&data, &robust(&["strength"])).unwrap();
        model.what_matters(None).unwrap().numbers.effects[0].p.is_some_and(|p| p < 0.05)
    });
    let alarms = alarms.count();
    assert!((10..=75).contains(&alarms), "{alarms}");
}
