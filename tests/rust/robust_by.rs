//! Robust covariance by clusters of the user's choice: values, wording and refusals.

use serde_json::Value;

use rootling::models::{Model, ModelSpec, TrayMode};
use rootling::trial::{Covariate, Units};

use crate::models::{factor, trays};

fn numbers(value: &Value) -> Vec<f64> {
    value.as_array().unwrap().iter().map(|x| x.as_f64().unwrap()).collect()
}

fn reference() -> Value {
    let all: Value = serde_json::from_str(include_str!("../reference/values/cluster_robust.json")).unwrap();
    all["model"].clone()
}

fn robust_by(effects: &[&str], column: &str) -> ModelSpec {
    ModelSpec { trays: TrayMode::Robust, robust_by: Some(column.to_owned()), ..ModelSpec::of(effects) }
}

/// Trays of three strengths in batches, the batch a covariate.
fn batches(want: &Value) -> Units {
    let whole = |key: &str| numbers(&want[key]).iter().map(|n| *n as u64).collect::<Vec<u64>>();
    let text = |key: &str| whole(key).iter().map(u64::to_string).collect::<Vec<String>>();
    let names: Vec<String> = (0..whole("stuck").len()).map(|tray| tray.to_string()).collect();
    Units {
        rooted: whole("rooted"),
        stuck: whole("stuck"),
        treatments: vec![factor("strength", &text("strength"))],
        tray: Some(factor("tray", &names)),
        block: None,
        whole_plot: None,
        covariates: vec![Covariate { name: "batch".into(), values: numbers(&want["batch"]) }],
        ..trays()
    }
}

#[test]
fn batches_are_the_clusters() {
    // numpy 2.4.6, dense matrices: tests/reference/make/cluster_robust.py, "model"
    let want = reference();
    let model = Model::fit(&batches(&want), &robust_by(&["strength"], "batch")).unwrap();
    let (values, errors, dofs) = (numbers(&want["coef"]), numbers(&want["se"]), numbers(&want["df"]));
    let given = model.coefficients(0.95).unwrap().numbers.coefficients;
    for (j, ((one, shown), value)) in model.coefficients.iter().zip(&given).zip(&values).enumerate() {
        assert_rel!(one.value, *value, 1e-10);
        assert_rel!(one.se, errors[j], 1e-8);
        // The intercept is not tested.
        let dof = if j > 0 { shown.error_df.unwrap() } else { dofs[0] };
        assert_rel!(dof, dofs[j], 1e-6);
    }
    let tests = model.what_matters(None).unwrap();
    let test = &tests.numbers.effects[0];
    assert_rel!(test.statistic.unwrap(), want["f"].as_f64().unwrap(), 1e-7);
    assert_rel!(test.error_df.unwrap(), want["f_dof"].as_f64().unwrap(), 1e-6);
    assert!(tests.methods.contains("inside one batch (8 clusters)"), "{}", tests.methods);
    // Read back it is the same: the clusters belong to what was asked.
    let text = serde_json::to_string(&model).unwrap();
    let again: Model = serde_json::from_str(&text).unwrap();
    assert_eq!(again.refit().unwrap(), model);
}

#[test]
fn a_block_that_is_the_clusters_is_no_effect() {
    // clubSandwich 0.5.8, R 4.2.2, as in robust.rs: the benches of these trays are the clusters, without effects of their own
    let model = Model::fit(&trays(), &robust_by(&["strength"], "bench")).unwrap();
    let mut plots = trays();
    plots.whole_plot = plots.block.take();
    let whole = Model::fit(&plots, &ModelSpec { trays: TrayMode::Robust, ..ModelSpec::of(&["strength"]) }).unwrap();
    assert_eq!(model.coefficients, whole.coefficients);
    assert_eq!(model.covariance, whole.covariance);
    let (one, other) = (model.what_matters(None).unwrap(), whole.what_matters(None).unwrap());
    assert_eq!(one.numbers.effects[0].p, other.numbers.effects[0].p);
}

#[test]
fn what_cannot_be_clusters_is_refused() {
    let want = reference();
    let refused = |units: &Units, spec: &ModelSpec| Model::fit(units, spec).unwrap_err().to_string();
    let units = batches(&want);
    let unknown = refused(&units, &robust_by(&["strength"], "batches"));
    assert!(unknown.contains("\"batches\"") && unknown.contains("batch"), "{unknown}");
    let auto = ModelSpec { trays: TrayMode::Auto, ..robust_by(&["strength"], "batch") };
    assert!(refused(&units, &auto).contains("needs trays=\"robust\""));
    assert!(refused(&units, &robust_by(&["strength"], "strength")).contains("is an effect of the model"));
    let mut single = units.clone();
    single.covariates[0].values.fill(3.0);
    assert!(refused(&single, &robust_by(&["strength"], "batch")).contains("has the single level \"3\""));
    // Bays that cross the batches would be cut in two.
    let bays: Vec<String> = (0..units.len()).map(|tray| (tray % 5).to_string()).collect();
    let crossed = Units { whole_plot: Some(factor("bay", &bays)), ..units.clone() };
    let text = refused(&crossed, &robust_by(&["strength"], "batch"));
    assert!(text.contains("\"bay\" \"0\" lies in several levels of \"batch\""), "{text}");
    // Bays inside batches may be joined to these.
    let inside: Vec<String> = units.covariates[0].values.iter().map(|batch| format!("{batch}")).collect();
    let nested = Units { whole_plot: Some(factor("bay", &inside)), ..units };
    assert!(Model::fit(&nested, &robust_by(&["strength"], "batch")).is_ok());
}
