//! The binomial model against reference fits, its invariances and hostile input.

mod entering;
mod generated;
mod hard_cases;
mod penalised;
mod profile_limits;

use approx::abs_diff_eq;
use std::collections::BTreeMap;

use rootling::models::{Link, Model, ModelSpec, TrayMode};
use rootling::trial::{Covariate, Factor, UnitKind, Units};

use crate::support::{check, check_list, entry};

/// A table of text read from tests/data.
pub(crate) struct Table {
    pub head: Vec<String>,
    pub rows: Vec<Vec<String>>,
}

impl Table {
    pub(crate) fn read(name: &str) -> Self {
        let path = format!("{}/tests/data/{name}", env!("CARGO_MANIFEST_DIR"));
        let text = std::fs::read_to_string(path).unwrap();
        let mut lines = text.lines().map(|line| line.split(',').map(str::to_owned).collect::<Vec<_>>());
        Self { head: lines.next().unwrap(), rows: lines.collect() }
    }

    pub(crate) fn text(&self, name: &str) -> Vec<String> {
        let at = self.head.iter().position(|head| head == name).unwrap();
        self.rows.iter().map(|row| row[at].clone()).collect()
    }

    pub(crate) fn number(&self, name: &str) -> Vec<f64> {
        self.text(name).iter().map(|x| x.parse().unwrap()).collect()
    }

    pub(crate) fn whole(&self, name: &str) -> Vec<u64> {
        self.number(name).iter().map(|x| *x as u64).collect()
    }
}

pub(crate) fn factor<S: AsRef<str>>(name: &str, values: &[S]) -> Factor {
    let mut levels: Vec<String> = values.iter().map(|v| v.as_ref().to_owned()).collect();
    levels.sort_by(|a, b| match (a.parse::<f64>(), b.parse::<f64>()) {
        (Ok(a), Ok(b)) => a.total_cmp(&b),
        _ => a.cmp(b),
    });
    levels.dedup();
    let code = |v: &S| levels.iter().position(|level| level == v.as_ref()).unwrap() as u32;
    Factor { name: name.to_owned(), codes: values.iter().map(code).collect(), numbers: None, levels }
}

pub(crate) fn units(kind: UnitKind, rooted: Vec<u64>, stuck: Vec<u64>, treatments: Vec<Factor>) -> Units {
    Units {
        kind,
        rooted,
        stuck,
        treatments,
        tray: None,
        block: None,
        whole_plot: None,
        season: None,
        earlier: None,
        stock_plant: None,
        covariates: vec![],
    }
}

pub(crate) fn plum() -> Units {
    let treatments = vec![
        factor("planting", &["at_once", "at_once", "spring", "spring"]),
        factor("length", &["long", "short", "long", "short"]),
    ];
    units(UnitKind::Pooled, vec![156, 107, 84, 31], vec![240; 4], treatments)
}

pub(crate) fn crowder() -> Units {
    let table = Table::read("crowder_seeds.csv");
    let treatments = vec![factor("seed", &table.text("seed")), factor("extract", &table.text("extract"))];
    units(UnitKind::Tray, table.whole("germinated"), table.whole("n"), treatments)
}

pub(crate) fn trays() -> Units {
    let table = Table::read("trays_invented.csv");
    let mut units = units(
        UnitKind::Tray,
        table.whole("rooted"),
        table.whole("set"),
        vec![factor("strength", &table.text("strength_mg_l"))],
    );
    units.block = Some(factor("bench", &table.text("block")));
    units
}

pub(crate) fn endometrial() -> Units {
    let table = Table::read("heinze_schemper_2002.csv");
    let n = table.rows.len();
    let mut units = units(UnitKind::Pooled, table.whole("HG"), vec![1; n], vec![]);
    units.covariates =
        ["NV", "PI", "EH"].map(|name| Covariate { name: name.into(), values: table.number(name) }).into();
    units
}

pub(crate) fn full_arm() -> Units {
    let table = Table::read("toy_full_arm.csv");
    let strength = factor("strength", &table.text("strength"));
    units(UnitKind::Tray, table.whole("rooted"), table.whole("n"), vec![strength])
}

pub(crate) fn complete_separation() -> Units {
    let table = Table::read("toy_complete_separation.csv");
    let mut units = units(UnitKind::Pooled, table.whole("y"), vec![1; table.rows.len()], vec![]);
    units.covariates = vec![Covariate { name: "x".into(), values: table.number("x") }];
    units
}

pub(crate) fn spec(effects: &[&str], interactions: &[&[&str]]) -> ModelSpec {
    let join = |parts: &&[&str]| parts.iter().map(|part| (*part).to_owned()).collect();
    ModelSpec { interactions: interactions.iter().map(join).collect(), ..ModelSpec::of(effects) }
}

/// The same with trays as a dispersion.
pub(crate) fn quasi(spec: ModelSpec) -> ModelSpec {
    ModelSpec { trays: TrayMode::Dispersion, ..spec }
}

pub(crate) fn estimates(model: &Model) -> Vec<f64> {
    model.coefficients.iter().map(|coefficient| coefficient.value).collect()
}

pub(crate) fn errors(model: &Model) -> Vec<f64> {
    model.coefficients.iter().map(|coefficient| coefficient.se).collect()
}

pub(crate) fn has_note(notes: &[rootling::Note], code: &str) -> bool {
    notes.iter().any(|note| note.code == code)
}

/// Coefficients, errors, log-likelihood and deviance of a maximum likelihood entry.
fn check_fit(id: &str, model: &Model) {
    check_list(id, "estimate", &estimates(model));
    check_list(id, "se", &errors(model));
    if entry(id).get("loglik").is_some() {
        check(id, "loglik", model.loglik);
    }
    check(id, "deviance", model.deviance);
    if entry(id).get("pearson_x2").is_some() {
        check(id, "pearson_x2", model.pearson);
    }
}

fn near(a: &[f64], b: &[f64], rel: f64) {
    assert_eq!(a.len(), b.len());
    for (a, b) in a.iter().zip(b) {
        assert!(abs_diff_eq!(a, b, epsilon = rel * b.abs().max(1e-3)), "{a} against {b}");
    }
}

#[test]
fn plum_fits() {
    // expected.json plum_glm_logit_main, plum_glm_logit_interaction (R 4.2.2)
    let main = Model::fit(&plum(), &spec(&["planting", "length"], &[])).unwrap();
    for (key, got) in [("loglik", main.loglik), ("deviance", main.deviance), ("pearson_x2", main.pearson)] {
        check("plum_glm_logit_main", key, got);
    }
    check_list("plum_glm_logit_main", "estimate", &estimates(&main));
    check("plum_glm_logit_main", "deviance_without_effects", main.deviance_without_effects);
    // mpmath 1.3, 40 digits: Newton's method to the end, then the inverse information there. The entry's own se are 2e-6 off,
    // as they come from the weights one step before the end.
    let exact = [0.121669104439402738, 0.146462400231397975, 0.145479995505816413];
    near(&errors(&main), &exact, 1e-12);
    assert_eq!(main.error_df, 1);
    assert!(has_note(&main.notes, "no_tray_information"));
    let both = Model::fit(&plum(), &spec(&["planting", "length"], &[&["planting", "length"]])).unwrap();
    check_fit("plum_glm_logit_interaction", &both);
    assert_eq!(both.coefficients[3].name, "planting spring x length short");
}

#[test]
fn plum_profile_limits() {
    // expected.json plum_profile_ci_main (MASS 7.3.58.2)
    let model = Model::fit(&plum(), &spec(&["planting", "length"], &[])).unwrap();
    let limits: Vec<_> = model.coefficients.iter().map(|c| model.profile(&c.name, 0.95).unwrap().unwrap()).collect();
    check_list("plum_profile_ci_main", "lower", &limits.iter().map(|l| l.low).collect::<Vec<_>>());
    check_list("plum_profile_ci_main", "upper", &limits.iter().map(|l| l.high).collect::<Vec<_>>());
}

/// The Crowder entries take `O_aegyptiaca_75` and bean as references.
fn crowder_spec() -> ModelSpec {
    let mut spec = quasi(spec(&["seed", "extract"], &[&["seed", "extract"]]));
    spec.reference.insert("seed".into(), "O_aegyptiaca_75".into());
    spec
}

#[test]
fn crowder_fits() {
    // expected.json crowder_glm, crowder_quasibinomial (R 4.2.2)
    let model = Model::fit(&crowder(), &crowder_spec()).unwrap();
    check_fit("crowder_glm", &model);
    check("crowder_glm", "df", model.error_df as f64);
    check("crowder_glm", "dispersion_pearson", model.strata.tray.dispersion);
    check("crowder_quasibinomial", "dispersion", model.strata.tray.dispersion);
    let root = model.strata.tray.dispersion.sqrt();
    check_list("crowder_quasibinomial", "se", &errors(&model).iter().map(|se| se * root).collect::<Vec<_>>());
    let mut main = crowder_spec();
    main.interactions.clear();
    check("crowder_glm", "main_effects_deviance", Model::fit(&crowder(), &main).unwrap().deviance);
}

#[test]
fn beetles_under_three_links() {
    // expected.json bliss_logit, bliss_probit, bliss_cloglog (R 4.2.2)
    let table = Table::read("bliss_beetles.csv");
    let mut data = units(UnitKind::Tray, table.whole("killed"), table.whole("n"), vec![]);
    data.covariates = vec![Covariate { name: "log10_dose".into(), values: table.number("log10_dose") }];
    for (link, id) in
        [(Link::Logit, "bliss_logit"), (Link::Probit, "bliss_probit"), (Link::ComplementaryLogLog, "bliss_cloglog")]
    {
        let spec = ModelSpec { link, trays: TrayMode::Ignore, ..spec(&["log10_dose"], &[]) };
        let model = Model::fit(&data, &spec).unwrap();
        check_fit(id, &model);
        check_list(id, "vcov", &model.covariance.iter().copied().collect::<Vec<f64>>());
        assert!(model.separated.is_empty());
    }
}

#[test]
fn birth_weights() {
    // expected.json birthwt_full, birthwt_hl5, birthwt_hl3 (R 4.2.2)
    let table = Table::read("hosmer_lemeshow_1989.csv");
    let n = table.rows.len();
    let mut data = units(UnitKind::Pooled, table.whole("low"), vec![1; n], vec![factor("race", &table.text("race"))]);
    let names = ["age", "lwt", "smoke", "ptl", "ht", "ui", "ftv"];
    data.covariates = names.map(|name| Covariate { name: name.into(), values: table.number(name) }).into();
    for (id, effects) in [
        ("birthwt_full", vec!["age", "lwt", "race", "smoke", "ptl", "ht", "ui", "ftv"]),
        ("birthwt_hl5", vec!["age", "lwt", "race", "ftv"]),
        ("birthwt_hl3", vec!["lwt", "race"]),
    ] {
        check_fit(id, &Model::fit(&data, &spec(&effects, &[])).unwrap());
    }
}

#[test]
fn trays_in_blocks() {
    // expected.json trays_quasi (R 4.2.2)
    let model = Model::fit(&trays(), &quasi(spec(&["strength"], &[]))).unwrap();
    check_fit("trays_quasi", &model);
    check("trays_quasi", "dispersion", model.strata.tray.dispersion);
    let root = model.strata.tray.dispersion.sqrt();
    check_list("trays_quasi", "quasi_se", &errors(&model).iter().map(|se| se * root).collect::<Vec<_>>());
    assert!(has_note(&model.notes, "block_kept"));
}

#[test]
fn underdispersed_trays_are_held_at_the_binomial() {
    // expected.json trays_zero_variance (R 4.2.2)
    let table = Table::read("trays_zero_variance_invented.csv");
    let strength = factor("strength", &table.text("strength_mg_l"));
    let data = units(UnitKind::Tray, table.whole("rooted"), table.whole("set"), vec![strength]);
    let model = Model::fit(&data, &spec(&["strength"], &[])).unwrap();
    check_list("trays_zero_variance", "estimate", &estimates(&model));
    check("trays_zero_variance", "dispersion", model.strata.raw_dispersion.unwrap());
    assert_eq!(model.strata.tray.dispersion, 1.0);
    assert!(has_note(&model.notes, "underdispersion"));
}

fn check_firth(id: &str, model: &Model, profile: bool) {
    assert!(model.penalised && has_note(&model.notes, "separation"), "{id}");
    check_list(id, "estimate", &estimates(model));
    check_list(id, "se", &errors(model));
    if profile {
        let limits: Vec<_> =
            model.coefficients.iter().map(|c| model.profile(&c.name, 0.95).unwrap().unwrap()).collect();
        check_list(id, "profile_lower", &limits.iter().map(|l| l.low).collect::<Vec<_>>());
        check_list(id, "profile_upper", &limits.iter().map(|l| l.high).collect::<Vec<_>>());
        check_list(id, "plr_p", &limits.iter().map(|l| l.p).collect::<Vec<_>>());
    }
}

#[test]
fn endometrial_is_penalised() {
    // expected.json endometrial_firth (profile and tests with the full-design penalty)
    let model = Model::fit(&endometrial(), &spec(&["NV", "PI", "EH"], &[])).unwrap();
    check_firth("endometrial_firth", &model, true);
    check("endometrial_firth", "penalised_loglik", model.penalised_loglik.unwrap());
    check("endometrial_firth", "loglik", model.loglik);
    assert!(model.separated.iter().all(|cell| cell.contains("NV 1") && cell.contains("all rooted")));
}

#[test]
fn a_full_arm_is_penalised() {
    // expected.json toy_full_arm_firth
    let ignore = ModelSpec { trays: TrayMode::Ignore, ..spec(&["strength"], &[]) };
    let model = Model::fit(&full_arm(), &ignore).unwrap();
    check_firth("toy_full_arm_firth", &model, true);
    assert_eq!(model.separated, ["strength 5000 (all rooted)"]);
    let spread = Model::fit(&full_arm(), &quasi(spec(&["strength"], &[]))).unwrap();
    check_firth("toy_full_arm_firth", &spread, false);
    assert!(spread.strata.tray.df.is_some() && spread.strata.tray.dispersion >= 1.0);
}

#[test]
fn complete_separation_is_penalised() {
    // expected.json toy_complete_separation_firth
    let model = Model::fit(&complete_separation(), &spec(&["x"], &[])).unwrap();
    check_firth("toy_complete_separation_firth", &model, true);
    check("toy_complete_separation_firth", "penalised_loglik", model.penalised_loglik.unwrap());
}

#[test]
fn shoots_with_three_full_cells() {
    // expected.json marin_rooted_firth
    let table = Table::read("marin_1993.csv");
    let rooted = table.number("roots").into_iter().zip(table.whole("shoots"));
    let rooted: Vec<u64> = rooted.map(|(roots, shoots)| if roots > 0.0 { shoots } else { 0 }).collect();
    let treatments = vec![factor("photoperiod", &table.text("photoperiod_h")), factor("bap", &table.text("bap_um"))];
    let data = units(UnitKind::Pooled, rooted, table.whole("shoots"), treatments);
    let model = Model::fit(&data, &spec(&["photoperiod", "bap"], &[&["photoperiod", "bap"]])).unwrap();
    check_firth("marin_rooted_firth", &model, false);
    assert_eq!(model.separated.len(), 3);
}

#[test]
fn penalised_tends_to_maximum_likelihood() {
    let grow = |factor: u64| {
        let mut data = plum();
        data.rooted.iter_mut().chain(data.stuck.iter_mut()).for_each(|n| *n *= factor);
        data
    };
    let mut penalised = spec(&["planting", "length"], &[]);
    penalised.penalised = true;
    let plain = Model::fit(&plum(), &spec(&["planting", "length"], &[])).unwrap();
    let small = Model::fit(&plum(), &penalised).unwrap();
    let large = Model::fit(&grow(1_000_000), &penalised).unwrap();
    near(&estimates(&large), &estimates(&plain), 1e-7);
    assert!((estimates(&small)[1] - estimates(&plain)[1]).abs() > 1e-4);
    assert!(large.penalised && large.convergence.converged);
}

#[test]
fn row_order_and_grouping_change_nothing() {
    let model = Model::fit(&crowder(), &crowder_spec()).unwrap();
    let reversed = |factor: &Factor| Factor { codes: factor.codes.iter().rev().copied().collect(), ..factor.clone() };
    let data = crowder();
    let turned = units(
        data.kind,
        data.rooted.iter().rev().copied().collect(),
        data.stuck.iter().rev().copied().collect(),
        data.treatments.iter().map(reversed).collect(),
    );
    let other = Model::fit(&turned, &crowder_spec()).unwrap();
    near(&estimates(&other), &estimates(&model), 1e-10);
    near(&[other.strata.tray.dispersion], &[model.strata.tray.dispersion], 1e-10);
    let ignored = ModelSpec { trays: TrayMode::Ignore, ..crowder_spec() };
    let grouped = Model::fit(&data, &ignored).unwrap();
    near(&estimates(&grouped), &estimates(&model), 1e-10);
    near(&errors(&grouped), &errors(&model), 1e-10);
    assert!(has_note(&grouped.notes, "trays_ignored"));
    assert_eq!(grouped.error_df, 0);
}

#[test]
fn another_reference_gives_the_same_fit() {
    let model = Model::fit(&trays(), &spec(&["strength"], &[])).unwrap();
    let reference = BTreeMap::from([("strength".to_owned(), "5000".to_owned())]);
    let other = Model::fit(&trays(), &ModelSpec { reference, ..spec(&["strength"], &[]) }).unwrap();
    near(&[other.deviance, other.pearson, other.loglik], &[model.deviance, model.pearson, model.loglik], 1e-10);
    let (a, b) = (model.coefficient("strength 5000").unwrap(), other.coefficient("strength 0").unwrap());
    near(&[a.value, a.se], &[-b.value, b.se], 1e-10);
}

#[test]
fn scale_of_a_covariate_changes_nothing() {
    let scaled = |scale: f64| {
        let mut data = endometrial();
        data.covariates[1].values.iter_mut().for_each(|x| *x *= scale);
        Model::fit(&data, &spec(&["NV", "PI", "EH"], &[])).unwrap()
    };
    let (plain, huge) = (scaled(1.0), scaled(1e9));
    near(&[huge.coefficients[2].value * 1e9, huge.loglik], &[plain.coefficients[2].value, plain.loglik], 1e-8);
    near(&[huge.coefficients[2].se * 1e9], &[plain.coefficients[2].se], 1e-8);
}

#[test]
fn all_or_none_rooted_has_finite_answers() {
    for rooted in [0, 20] {
        let strength = factor("strength", &["0", "0", "2500", "2500"]);
        let data = units(UnitKind::Tray, vec![rooted; 4], vec![20; 4], vec![strength]);
        let model = Model::fit(&data, &spec(&["strength"], &[])).unwrap();
        assert!(model.penalised && has_note(&model.notes, "separation"));
        assert!(model.coefficients[1].value.abs() < 1e-8);
        assert!(errors(&model).iter().all(|se| se.is_finite()));
        assert_eq!(model.separated.len(), 2);
    }
}

#[test]
fn confounded_columns_are_named() {
    let strength = factor("strength", &["0", "0", "2500", "2500"]);
    let dip = factor("dip", &["cold", "cold", "warm", "warm"]);
    let data = units(UnitKind::Tray, vec![3, 5, 12, 11], vec![20; 4], vec![strength, dip]);
    let model = Model::fit(&data, &spec(&["strength", "dip"], &[])).unwrap();
    assert_eq!(model.inseparable[0].name, "dip warm");
    assert_eq!(model.inseparable[0].with, ["strength 2500"]);
    assert!(has_note(&model.notes, "inseparable"));
    let mut data = units(UnitKind::Pooled, vec![1, 0, 1, 1, 0, 1], vec![2; 6], vec![]);
    let x = vec![1.0, 2.0, 3.0, 4.0, 5.0, 7.0];
    data.covariates = vec![
        Covariate { name: "cm".into(), values: x.clone() },
        Covariate { name: "mm".into(), values: x.iter().map(|x| 10.0 * x + 5.0).collect() },
    ];
    let model = Model::fit(&data, &spec(&["cm", "mm"], &[])).unwrap();
    assert_eq!((model.inseparable[0].name.as_str(), model.inseparable[0].with[0].as_str()), ("mm", "cm"));
}

#[test]
fn empty_combinations_are_named() {
    let strength = factor("strength", &["0", "0", "2500", "2500", "0", "0"]);
    let rootstock = factor("rootstock", &["K12", "K12", "K12", "K12", "K17", "K17"]);
    let data = units(UnitKind::Tray, vec![3, 5, 12, 11, 6, 8], vec![20; 6], vec![strength, rootstock]);
    let model = Model::fit(&data, &spec(&["strength", "rootstock"], &[&["strength", "rootstock"]])).unwrap();
    let note = model.notes.iter().find(|note| note.code == "empty_combinations").unwrap();
    assert!(note.text.contains("strength 2500 with rootstock K17"), "{}", note.text);
    assert!(!has_note(&model.notes, "inseparable"));
}

#[test]
fn what_cannot_enter_is_refused() {
    let fails = |data: &Units, spec: &ModelSpec| Model::fit(data, spec).unwrap_err().to_string();
    let one = units(UnitKind::Tray, vec![3, 5], vec![20; 2], vec![factor("strength", &["0", "0"])]);
    assert!(fails(&one, &spec(&["strength"], &[])).contains("single level"));
    assert!(fails(&one, &spec(&["strenght"], &[])).contains("did you mean \"strength\""));
    assert!(fails(&one, &spec(&[], &[])).contains("no effects"));
    assert!(fails(&plum(), &spec(&["planting", "planting"], &[])).contains("twice"));
    assert!(fails(&plum(), &spec(&["planting"], &[&["planting", "length"]])).contains("not among the effects"));
    let mut nan = complete_separation();
    nan.covariates[0].values[2] = f64::NAN;
    assert!(fails(&nan, &spec(&["x"], &[])).contains("not finite"));
    assert!(
        fails(&units(UnitKind::Tray, vec![], vec![], vec![factor::<&str>("strength", &[])]), &spec(&["strength"], &[]))
            .contains("no cuttings")
    );
    let mut short = plum();
    short.treatments[0].codes.pop();
    assert!(fails(&short, &spec(&["planting"], &[])).contains("load the trial again"));
    let mut above = plum();
    above.rooted[0] = 241;
    assert!(fails(&above, &spec(&["planting"], &[])).contains("241 rooted of 240"));
    assert!(fails(&plum(), &ModelSpec { confidence: 1.0, ..spec(&["planting"], &[]) }).contains("confidence"));
}

#[test]
fn a_model_goes_to_json_and_back() {
    let model = Model::fit(&full_arm(), &spec(&["strength"], &[])).unwrap();
    let text = serde_json::to_string(&model).unwrap();
    let back: Model = serde_json::from_str(&text).unwrap();
    near(&estimates(&back), &estimates(&model), 1e-14);
    assert_eq!(back.refit().unwrap(), model);
}

#[test]
fn steep_but_unseparated_data_stay_unpenalised() {
    // Rates of nearly 0 and nearly 1 at the ends, but counts in the middle that no line splits.
    let mut data = units(UnitKind::Tray, vec![0, 0, 9, 11, 20, 20], vec![20; 6], vec![]);
    data.covariates = vec![Covariate { name: "x".into(), values: vec![-900.0, -800.0, -1.0, 1.0, 800.0, 900.0] }];
    let model = Model::fit(&data, &ModelSpec { trays: TrayMode::Ignore, ..spec(&["x"], &[]) }).unwrap();
    assert!(!model.penalised, "{:?}", model.separated);
    // by hand: logit(9/20) = -logit(11/20) = -slope, and the ends add less than 1e-30
    near(&[model.coefficients[1].value], &[(11.0_f64 / 9.0).ln()], 1e-10);
}
