//! Trials at the edge of what a model can say, and very large ones.

use approx::abs_diff_eq;
use std::sync::Arc;

use rootling::control::Control;
use rootling::math::search::Verdict;
use rootling::models::{Link, Model, ModelSpec, TrayMode};
use rootling::trial::{Covariate, UnitKind, Units};

use super::{errors, estimates, factor, has_note, near, spec, units};

const LINKS: [Link; 4] = [Link::Logit, Link::Probit, Link::ComplementaryLogLog, Link::LogLog];

fn two(rooted: Vec<u64>, stuck: Vec<u64>) -> Units {
    let levels: Vec<&str> = (0..rooted.len()).map(|at| if at < rooted.len() / 2 { "0" } else { "2500" }).collect();
    units(UnitKind::Tray, rooted, stuck, vec![factor("strength", &levels)])
}

#[test]
fn all_rooted_and_none_rooted() {
    for rooted in [20, 0] {
        for link in LINKS {
            for trays in [TrayMode::Dispersion, TrayMode::Ignore] {
                let asked = ModelSpec { link, trays, ..spec(&["strength"], &[]) };
                let model = Model::fit(&two(vec![rooted; 6], vec![20; 6]), &asked).unwrap();
                assert!(model.penalised && has_note(&model.notes, "separation"));
                assert_eq!(model.convergence.verdict, Verdict::Caution);
                assert!(model.coefficients[1].value.abs() < 1e-8 && errors(&model).iter().all(|se| se.is_finite()));
                let limits = model.profile("strength 2500", 0.95).unwrap().unwrap();
                assert!(limits.p > 0.99 && limits.low < 0.0 && limits.high > 0.0);
            }
        }
    }
}

#[test]
fn one_tray_per_treatment() {
    let data = units(UnitKind::Tray, vec![4, 9, 12], vec![20; 3], vec![factor("strength", &["0", "2500", "5000"])]);
    for trays in [TrayMode::Auto, TrayMode::Random, TrayMode::BetaBinomial] {
        let model = Model::fit(&data, &ModelSpec { trays, ..spec(&["strength"], &[]) }).unwrap();
        assert_eq!((model.trays, model.error_df), (TrayMode::Ignore, 0));
        let note = model.notes.iter().find(|note| note.code == "no_tray_information").unwrap();
        assert!(note.text.contains("leave no degrees of freedom"));
        // by hand: logit 4/20, logit 9/20 - logit 4/20, logit 12/20 - logit 4/20
        near(&estimates(&model), &[0.25_f64.ln(), (9.0 / 11.0 * 4.0_f64).ln(), 6.0_f64.ln()], 1e-10);
    }
}

#[test]
fn more_coefficients_than_trays() {
    let strength = factor("strength", &["0", "2500", "5000", "0", "2500"]);
    let rootstock = factor("rootstock", &["K12", "K12", "K12", "K17", "K17"]);
    let mut data = units(UnitKind::Tray, vec![4, 9, 12, 6, 11], vec![20; 5], vec![strength, rootstock]);
    data.covariates = vec![Covariate { name: "length".into(), values: vec![12.0, 15.0, 11.0, 14.0, 9.0] }];
    let mut asked = spec(&["strength", "rootstock", "length"], &[&["strength", "rootstock"]]);
    asked.polynomials.insert("length".into(), 3);
    let model = Model::fit(&data, &asked).unwrap();
    assert_eq!((model.convergence.rank, model.error_df), (5, 0));
    assert_eq!(model.convergence.verdict, Verdict::Caution);
    assert!(has_note(&model.notes, "inseparable") && has_note(&model.notes, "empty_combinations"));
    let inseparable: Vec<&str> = model.inseparable.iter().map(|alias| alias.name.as_str()).collect();
    assert_eq!(
        inseparable,
        ["length squared", "length cubed", "strength 2500 x rootstock K17", "strength 5000 x rootstock K17"]
    );
    assert!(model.inseparable[0].with.contains(&"rootstock K17".to_owned()));
    // A saturated fit meets every count.
    assert!(model.deviance < 1e-9);
}

#[test]
fn collinear_scaled_and_constant_covariates() {
    let x: Vec<f64> = vec![1.0, 2.0, 4.0, 7.0, 3.0, 9.0];
    let mut data = two(vec![3, 5, 4, 12, 11, 15], vec![20; 6]);
    let covariate = |name: &str, values: Vec<f64>| Covariate { name: name.into(), values };
    let map = |f: fn(f64) -> f64| x.iter().map(|x| f(*x)).collect::<Vec<f64>>();
    data.covariates = vec![
        covariate("cm", x.clone()),
        covariate("mm", map(|x| 10.0 * x + 5.0)),
        covariate("huge", map(|x| 1e9 * x)),
        covariate("far", map(|x| 1e9 + x)),
        covariate("tiny", map(|x| 1e-12 * x)),
        covariate("same", vec![3.0; 6]),
    ];
    let fit = |names: &[&str]| Model::fit(&data, &spec(names, &[]));
    let plain = fit(&["strength", "cm"]).unwrap();
    for (name, scale) in [("huge", 1e9), ("tiny", 1e-12), ("far", 1.0)] {
        let model = fit(&["strength", name]).unwrap();
        assert_rel!(estimates(&model)[2] * scale, estimates(&plain)[2], 1e-6);
        assert_rel!(errors(&model)[2] * scale, errors(&plain)[2], 1e-6);
        assert!(abs_diff_eq!(model.loglik, plain.loglik, epsilon = 1e-9), "{name}");
        let (a, b) = (model.profile(name, 0.95).unwrap().unwrap(), plain.profile("cm", 0.95).unwrap().unwrap());
        assert_rel!(a.low * scale, b.low, 1e-6);
        assert_rel!(a.p, b.p, 1e-6);
    }
    let both = fit(&["cm", "mm"]).unwrap();
    assert_eq!(
        (both.inseparable[0].name.as_str(), both.inseparable[0].with.as_slice()),
        ("mm", &["cm".to_owned()][..])
    );
    assert_eq!(both.convergence.verdict, Verdict::Caution);
    let only = fit(&["same"]).unwrap_err().to_string();
    assert!(only.contains("\"same\" has the single level \"3\""), "{only}");
    for bad in [f64::NAN, f64::INFINITY] {
        data.covariates[0].values[2] = bad;
        let message = Model::fit(&data, &spec(&["cm"], &[])).unwrap_err().to_string();
        assert!(message.contains("\"cm\" is not finite") && message.contains("unit 3"), "{message}");
    }
}

#[test]
fn trays_of_one_cutting() {
    let rooted: Vec<u64> = [1, 0, 0, 1, 0, 0, 0, 0, 1, 1, 0, 1, 1, 1, 0, 1].to_vec();
    let model = Model::fit(&two(rooted.clone(), vec![1; 16]), &spec(&["strength"], &[])).unwrap();
    assert!(has_note(&model.notes, "one_cutting_per_tray"));
    // by hand: 2 of 8 against 6 of 8
    near(&estimates(&model), &[(1.0_f64 / 3.0).ln(), 9.0_f64.ln()], 1e-10);
    for trays in [TrayMode::Random, TrayMode::BetaBinomial] {
        let law =
            Model::fit(&two(rooted.clone(), vec![1; 16]), &ModelSpec { trays, ..spec(&["strength"], &[]) }).unwrap();
        assert!(law.spread[0].high.is_none() && has_note(&law.notes, "one_cutting_per_tray"));
    }
}

/// Invented: one row per cutting, a covariate that is different in each, and factors of 4 and 3 levels.
fn many(n: usize) -> Units {
    let mut state = 12_345_u64;
    let mut draw = |limit: u64| {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (state >> 33) % limit
    };
    let (mut a, mut b, mut x, mut rooted) = (vec![], vec![], vec![], vec![]);
    for _ in 0..n {
        let (first, second, number) = (draw(4), draw(3), draw(1 << 30) as f64 / f64::from(1 << 30));
        let rate = 200 + 100 * first + 80 * second + (200.0 * number) as u64;
        rooted.push(u64::from(draw(1000) < rate));
        a.push(first.to_string());
        b.push(second.to_string());
        x.push(number);
    }
    let mut data = units(UnitKind::Pooled, rooted, vec![1; n], vec![factor("a", &a), factor("b", &b)]);
    data.covariates = vec![Covariate { name: "x".into(), values: x }];
    data
}

#[test]
fn many_rows_do_not_depend_on_threads() {
    let (data, asked) = (many(60_000), spec(&["a", "b", "x"], &[&["a", "x"]]));
    let fit = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        pool.install(|| Model::fit(&data, &asked).unwrap())
    };
    let one = fit(1);
    assert!(one.convergence.converged && !one.penalised);
    for threads in [2, 5] {
        let other = fit(threads);
        // Every digit.
        assert_eq!((&one.coefficients, &one.covariance), (&other.coefficients, &other.covariance));
        assert_eq!((one.loglik, one.pearson), (other.loglik, other.pearson));
    }
    // The score of a logit fit is 0: as many rooted as expected in all and at each level.
    let residual = one.convergence.gradient_max;
    assert!(residual < 1e-7, "{residual}");
    // In another order of the units the sums are made in other parts.
    let mut turned = data.clone();
    turned.rooted.reverse();
    turned.covariates[0].values.reverse();
    turned.treatments.iter_mut().for_each(|factor| factor.codes.reverse());
    near(&estimates(&Model::fit(&turned, &asked).unwrap()), &estimates(&one), 1e-10);
}

#[test]
fn dependent_columns_of_many_rows_are_found() {
    let mut data = many(60_000);
    let x = data.covariates[0].values.clone();
    // A multiple of x in all rows; and one that is off in a single row, which makes it a column of its own.
    data.covariates.push(Covariate { name: "twice".into(), values: x.iter().map(|x| 2.0 * x + 1.0).collect() });
    let mut nearly: Vec<f64> = x.iter().map(|x| 2.0 * x + 1.0).collect();
    nearly[31_415] += 0.5;
    data.covariates.push(Covariate { name: "nearly".into(), values: nearly });
    let model = Model::fit(&data, &spec(&["a", "x", "twice", "nearly"], &[])).unwrap();
    assert_eq!(model.inseparable.len(), 1);
    assert_eq!(
        (model.inseparable[0].name.as_str(), model.inseparable[0].with.as_slice()),
        ("twice", &["x".to_owned()][..])
    );
    assert!(model.convergence.converged && model.coefficients.iter().any(|c| c.name == "nearly"));
}

#[test]
fn a_stopped_control_ends_a_fit() {
    let control = Arc::new(Control::new());
    control.stop();
    let stopped = Model::fit_until(&Arc::new(many(2_000)), &spec(&["a", "x"], &[]), &control);
    assert_eq!(stopped.unwrap_err(), rootling::Error::Interrupted);
}

#[test]
fn too_many_coefficients_are_refused() {
    let names: Vec<String> = (0..1_200).map(|at| format!("T{at:04}")).collect();
    let mut data = units(UnitKind::Tray, vec![3; 1_200], vec![20; 1_200], vec![factor("bed", &names)]);
    let message = Model::fit(&data, &spec(&["bed"], &[])).unwrap_err().to_string();
    assert!(message.contains("1200 coefficients"), "{message}");
    // Its levels as numbers are one coefficient.
    data.treatments[0].numbers = Some((0..1_200).map(f64::from).collect());
    let number = ModelSpec { numeric: vec!["bed".into()], ..spec(&["bed"], &[]) };
    assert_eq!(Model::fit(&data, &number).unwrap().coefficients.len(), 2);
}

#[test]
fn blocks_of_columns_are_the_columns_written_out() {
    use rootling::math::design::Columns;
    use rootling::math::regression::{Regression, Restriction};
    use rootling::models::{Design, Fit, Frame};
    for (index, kind) in [(36, "interaction"), (46, "interaction"), (55, "polynomial"), (59, "many"), (158, "weights")]
    {
        let (data, repeat) = super::generated::case(index, kind);
        let asked = super::generated::asked(kind, repeat, Link::ComplementaryLogLog);
        let frame = Frame::new(&data, &asked).unwrap();
        let design = Design::full(&frame);
        let written = Columns::dense(&design.x(), frame.data.stuck.len());
        // The same rows by values, one by one.
        for (row, values) in frame.data.values.iter().enumerate() {
            let want = design.row(&values).unwrap();
            let got: Vec<f64> = design.x().iter().map(|column| column[row]).collect();
            assert_eq!(got, want, "{kind}");
        }
        for penalised in [false, true] {
            let fit = Fit { design: &design, data: &frame.data, link: asked.link, penalised };
            let (a, control) = (fit.free().unwrap(), Control::new());
            let free = Restriction::none(design.rank());
            let regression = Regression {
                columns: &written,
                rooted: &frame.data.rooted,
                stuck: &frame.data.stuck,
                offset: &frame.data.offset,
                weights: &frame.data.weights,
                link: asked.link,
                penalised,
                control: &control,
            };
            let b = regression.solve(&vec![0.0; design.rank()], &free).unwrap();
            near(&a.coef, &b.coef, 1e-9);
            assert_rel!(a.objective, b.objective, 1e-12);
            let information = regression.information(&b.coef).unwrap().unwrap();
            let leverages = (fit.leverages(&a.coef).unwrap(), regression.leverages(&b.coef, &information));
            near(&leverages.0, &leverages.1, 1e-9);
            // Leverages add up to the number of coefficients.
            assert_rel!(leverages.0.iter().sum::<f64>(), design.rank() as f64, 1e-9);
        }
    }
}
