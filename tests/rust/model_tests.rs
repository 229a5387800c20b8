//! Nested models and bootstrap tests: second routes, levels by simulation, seeds, and models that cannot be compared.

use approx::abs_diff_eq;
use rootling::control::Control;

use rootling::math::rng::{self, stream};
use rootling::model_tests::{BootstrapOptions, BootstrapTest};
use rootling::models::{Link, Model, ModelSpec, TrayMode};
use rootling::trial::{Covariate, UnitKind};

use crate::models::{
    complete_separation, crowder, endometrial, factor, full_arm, has_note, plum, quasi, spec, trays, units,
};
use crate::predict::bays;
use crate::support::{check, entry};

const MODES: [TrayMode; 4] = [TrayMode::Dispersion, TrayMode::BetaBinomial, TrayMode::Random, TrayMode::Ignore];

fn fit(units: &rootling::trial::Units, effects: &[&str], trays: TrayMode) -> Model {
    Model::fit(units, &ModelSpec { trays, ..spec(effects, &[]) }).unwrap()
}

#[test]
fn one_effect_more_is_the_test_of_the_effect() {
    // A second route: the last effect of a model is tested against the model without it.
    for mode in MODES.into_iter().chain([TrayMode::Auto]) {
        let (larger, smaller) = (fit(&crowder(), &["seed", "extract"], mode), fit(&crowder(), &["seed"], mode));
        let found = larger.against(&smaller).unwrap();
        let test = &larger.what_matters(None).unwrap().numbers.effects[1];
        assert_rel!(found.numbers.statistic.unwrap(), test.statistic.unwrap(), 1e-6);
        assert_rel!(found.numbers.p.unwrap(), test.p.unwrap(), 1e-5);
        assert_eq!((found.numbers.df, found.numbers.error_df), (test.df, test.error_df));
        assert_eq!(found.numbers.test, test.test);
        assert_eq!(found.numbers.added, ["extract"]);
        assert_eq!(found.numbers.larger.aic.is_some(), !matches!(mode, TrayMode::Dispersion | TrayMode::Auto));
    }
}

#[test]
fn interactions_of_published_counts() {
    // expected.json plum_three_way (R 4.2.2): likelihood ratio of the interaction
    let larger = Model::fit(&plum(), &spec(&["planting", "length"], &[&["planting", "length"]])).unwrap();
    let smaller = Model::fit(&plum(), &spec(&["planting", "length"], &[])).unwrap();
    let found = larger.against(&smaller).unwrap();
    check("plum_three_way", "lr", found.numbers.statistic.unwrap());
    check("plum_three_way", "lr_p", found.numbers.p.unwrap());
    assert_eq!(found.numbers.added, ["planting x length"]);
    // expected.json plum_glm_logit_main: log-likelihood with binomial coefficients of the four counts
    check("plum_glm_logit_main", "loglik", found.numbers.smaller.loglik.unwrap());
    // by hand: 2 k - 2 loglik, three coefficients
    assert_rel!(
        found.numbers.smaller.aic.unwrap(),
        6.0 - 2.0 * entry("plum_glm_logit_main")["loglik"].as_f64().unwrap(),
        1e-9
    );
}

#[test]
fn criteria_do_not_depend_on_what_is_pooled() {
    // With trays ignored a model adds up trays alike in its effects; AIC must compare single trays all the same: the difference is
    // the likelihood ratio less twice the coefficients.
    let (larger, smaller) =
        (fit(&crowder(), &["seed", "extract"], TrayMode::Ignore), fit(&crowder(), &["seed"], TrayMode::Ignore));
    let found = larger.against(&smaller).unwrap().numbers;
    assert_rel!(found.smaller.aic.unwrap() - found.larger.aic.unwrap(), found.statistic.unwrap() - 2.0, 1e-9);
}

#[test]
fn a_line_is_inside_levels() {
    let strengths = ["0", "0", "0", "1000", "1000", "1000", "2000", "2000", "2000", "4000", "4000", "4000"];
    let mut data = units(
        UnitKind::Tray,
        vec![3, 5, 4, 9, 7, 8, 12, 13, 11, 6, 5, 8],
        vec![20; 12],
        vec![factor("strength", &strengths)],
    );
    let values = strengths.iter().map(|x| x.parse().unwrap()).collect();
    data.covariates = vec![Covariate { name: "amount".into(), values }];
    let (line, levels) =
        (fit(&data, &["amount"], TrayMode::Dispersion), fit(&data, &["strength"], TrayMode::Dispersion));
    let found = levels.against(&line).unwrap();
    assert_eq!((found.numbers.df, found.numbers.error_df), (2.0, Some(8.0)));
    // by hand: the change of the deviance over 2 and over the dispersion of the levels
    let want = (line.deviance - levels.deviance) / 2.0 / levels.strata.tray.dispersion;
    assert_rel!(found.numbers.statistic.unwrap(), want, 1e-9);
    assert!(found.words().contains("Strength adds to the model of amount (F = "), "{}", found.sentence);
}

#[test]
fn penalties_stay_those_of_the_larger_model() {
    // expected.json endometrial_firth (penalised likelihood ratio of NV), toy_full_arm_firth
    let larger = Model::fit(&endometrial(), &spec(&["NV", "PI", "EH"], &[])).unwrap();
    let smaller = Model::fit(&endometrial(), &ModelSpec { penalised: true, ..spec(&["PI", "EH"], &[]) }).unwrap();
    let found = larger.against(&smaller).unwrap();
    assert_rel!(found.numbers.statistic.unwrap(), entry("endometrial_firth")["plr_chi2"][1].as_f64().unwrap(), 1e-6);
    assert_eq!(found.numbers.larger.aic, None);
    let plain = Model::fit(&endometrial(), &spec(&["PI", "EH"], &[])).unwrap();
    assert_rel!(larger.against(&plain).unwrap().numbers.statistic.unwrap(), found.numbers.statistic.unwrap(), 1e-12);
}

#[test]
fn whole_plots_are_the_error_of_what_they_carry() {
    let data = bays(6);
    for mode in [TrayMode::Dispersion, TrayMode::Random, TrayMode::Auto] {
        let both = fit(&data, &["dark", "strength"], mode);
        let tests = both.what_matters(None).unwrap().numbers.effects;
        for (kept, test) in [("strength", &tests[0]), ("dark", &tests[1])] {
            let found = both.against(&fit(&data, &[kept], mode)).unwrap().numbers;
            assert_rel!(found.statistic.unwrap(), test.statistic.unwrap(), 1e-6);
            assert_eq!(found.error_df, test.error_df);
        }
    }
    let crossed = ModelSpec { trays: TrayMode::Dispersion, ..spec(&["dark", "strength"], &[&["dark", "strength"]]) };
    let large = Model::fit(&data, &crossed).unwrap();
    let refused = large.against(&fit(&data, &["strength"], TrayMode::Dispersion)).unwrap_err().to_string();
    assert_eq!(
        refused,
        "these models cannot be set against each other: some of the added effects were laid out on whole plots and some on trays, which \
         have different errors; add them one at a time"
    );
}

#[test]
fn models_that_cannot_be_compared() {
    let of = |effects: &[&str]| fit(&crowder(), effects, TrayMode::Dispersion);
    let large = of(&["seed", "extract"]);
    let probit = Model::fit(&crowder(), &quasi(ModelSpec { link: Link::Probit, ..spec(&["seed"], &[]) })).unwrap();
    let mut other = crowder();
    other.rooted[0] += 1;
    let penalised = Model::fit(&crowder(), &quasi(ModelSpec { penalised: true, ..spec(&["seed"], &[]) })).unwrap();
    let cases = [
        (
            &large,
            fit(&other, &["seed"], TrayMode::Dispersion),
            "they were fitted to different counts; fit both to one trial",
        ),
        (&large, probit, "one has the logit link, the other the probit link; fit both with one link"),
        (
            &large,
            fit(&crowder(), &["seed"], TrayMode::Random),
            "trays enter one as \"dispersion\" and the other as \"random\"; fit both with one trays=",
        ),
        (&large, of(&["extract", "seed"]), "they have the same effects; leave one out of the smaller model"),
        (&large, penalised, "the smaller one is penalised and the larger one is not; fit both with penalised=True"),
    ];
    for (large, small, words) in cases {
        let refused = large.against(&small).unwrap_err().to_string();
        assert_eq!(refused, format!("these models cannot be set against each other: {words}"));
    }
    let small = of(&["seed"]);
    let refused = small.against(&large).unwrap_err().to_string();
    assert!(refused.ends_with("the other model is the larger one; ask it, larger.against(smaller)"), "{refused}");
    let refused = of(&["extract"]).against(&small).unwrap_err().to_string();
    assert!(
        refused.ends_with("neither contains the other; give the larger one all effects of the smaller"),
        "{refused}"
    );
}

fn bootstrap(model: &Model, effect: &str, draws: u64, seed: u64) -> BootstrapTest {
    model.bootstrap_test(effect, &BootstrapOptions { draws, seed }, &Control::new()).unwrap().numbers
}

#[test]
fn bootstrap_agrees_with_the_reference_distribution() {
    // 21 plates, no effect near the end of its tail: both P values lie within four Monte Carlo errors and a tenth of each other
    for mode in MODES {
        let model = fit(&crowder(), &["seed", "extract"], mode);
        let found = bootstrap(&model, "seed", 499, 3);
        let approximate = found.approximate_p.unwrap();
        let room = 4.0 * found.monte_carlo_error + 0.1 * approximate;
        assert!(abs_diff_eq!(found.p, approximate, epsilon = room), "{mode:?}: {} against {approximate}", found.p);
        assert_eq!(found.p, (1 + found.exceeded) as f64 / 500.0);
        assert_eq!(found.failed, 0);
    }
}

#[test]
fn bootstrap_statistics_are_those_of_the_tests() {
    for mode in [TrayMode::BetaBinomial, TrayMode::Random, TrayMode::Ignore] {
        let model = fit(&crowder(), &["seed", "extract"], mode);
        let test = &model.what_matters(None).unwrap().numbers.effects[1];
        let found = bootstrap(&model, "extract", 99, 1);
        assert_rel!(
            found.statistic,
            test.statistic.unwrap() * if mode == TrayMode::Ignore { 1.0 } else { test.df },
            1e-6
        );
    }
    // expected.json crowder_quasibinomial is on the interaction; Pearson's dispersion is the one in use
    let asked = spec(&["seed", "extract"], &[&["seed", "extract"]]);
    let crossed = Model::fit(&crowder(), &quasi(asked.clone())).unwrap();
    let found = bootstrap(&crossed, "seed x extract", 99, 1);
    check("crowder_quasibinomial", "F_interaction", found.statistic);
    // On effective counts it is the score statistic of the effect test.
    let model = Model::fit(&crowder(), &asked).unwrap();
    let found = bootstrap(&model, "seed x extract", 99, 1);
    let test = &model.what_matters(None).unwrap().numbers.effects[2];
    assert_rel!(found.statistic, test.statistic.unwrap(), 1e-9);
}

#[test]
fn bootstrap_depends_on_its_seed_alone() {
    let model = fit(&crowder(), &["seed", "extract"], TrayMode::BetaBinomial);
    let one = rayon::ThreadPoolBuilder::new().num_threads(1).build().unwrap();
    let three = rayon::ThreadPoolBuilder::new().num_threads(3).build().unwrap();
    let found = one.install(|| bootstrap(&model, "seed", 199, 5));
    assert_eq!(found, three.install(|| bootstrap(&model, "seed", 199, 5)));
    assert_ne!(found.exceeded, bootstrap(&model, "seed", 199, 6).exceeded);
}

/// P value of a trial of three strengths without effect, three trays of eight each.
fn null_p(seed: u64) -> f64 {
    let mut random = stream(seed, 0);
    let levels = ["a", "a", "a", "b", "b", "b", "c", "c", "c"];
    let rooted: Vec<u64> = levels.iter().map(|_| rng::beta_binomial(&mut random, 8, 0.4, 0.15)).collect();
    let data = units(UnitKind::Tray, rooted, vec![8; 9], vec![factor("strength", &levels)]);
    bootstrap(&fit(&data, &["strength"], TrayMode::Dispersion), "strength", 99, seed).p
}

#[test]
fn bootstrap_keeps_its_level() {
    // 600 trials without effect at 10 %: mean 60, standard deviation 7.3; 85 is 3.4 of them above
    let alarms = (0..600).filter(|seed| null_p(*seed) <= 0.1).count();
    assert!((35..=85).contains(&alarms), "{alarms}");
}

#[test]
fn bootstrap_of_separated_and_pooled_counts() {
    let found = bootstrap(&fit(&full_arm(), &["strength"], TrayMode::Dispersion), "strength", 99, 1);
    assert!(found.p <= 1.0 && found.statistic.is_finite());
    let single = Model::fit(&complete_separation(), &spec(&["x"], &[])).unwrap();
    assert!(bootstrap(&single, "x", 99, 1).p < 0.1);
}

#[test]
fn effects_without_a_bootstrap() {
    let data = bays(4);
    let refused = |model: &Model, effect: &str, draws: u64| {
        model.bootstrap_test(effect, &BootstrapOptions { draws, seed: 1 }, &Control::new()).unwrap_err().to_string()
    };
    let quasi = fit(&data, &["dark", "strength"], TrayMode::Dispersion);
    assert_eq!(
        refused(&quasi, "dark", 99),
        "\"dark\" has no bootstrap test: a dispersion is no law from which bay could be drawn; fit the model with trays=\"random\""
    );
    assert_eq!(
        refused(&quasi, "strenght", 99),
        "effect of the model \"strenght\" is not known; did you mean \"strength\"? Known: dark, strength"
    );
    assert_eq!(refused(&quasi, "strength", 10), "draws 10 is outside 99 to 1000000");
    assert!(bootstrap(&quasi, "strength", 99, 1).p > 0.0);
    let mut weighted = crowder();
    weighted.covariates =
        vec![Covariate { name: "weight".into(), values: (0..21).map(|i| 1.0 + f64::from(i % 3)).collect() }];
    let spec = ModelSpec { weights: Some("weight".to_owned()), ..spec(&["seed"], &[]) };
    let weighted = Model::fit(&weighted, &spec).unwrap();
    assert_eq!(
        refused(&weighted, "seed", 99),
        "\"seed\" has no bootstrap test: prior weights say nothing of how counts could be drawn; fit the model without weights"
    );
    let random = fit(&data, &["dark", "strength"], TrayMode::Random);
    assert!(bootstrap(&random, "dark", 99, 1).p > 0.0);
    let beta = fit(&data, &["dark", "strength"], TrayMode::BetaBinomial);
    assert!(refused(&beta, "dark", 99).contains("nothing in this model tells it apart from bay"));
}

#[test]
fn a_stop_stops_the_draws() {
    let control = Control::new();
    control.stop();
    let model = fit(&crowder(), &["seed"], TrayMode::Random);
    let stopped = model.bootstrap_test("seed", &BootstrapOptions::default(), &control);
    assert_eq!(stopped.unwrap_err(), rootling::Error::Interrupted);
}

#[test]
fn what_bootstrap_answers_say() {
    let model = fit(&trays(), &["strength"], TrayMode::Dispersion);
    let answer = model.bootstrap_test("strength", &BootstrapOptions { draws: 199, seed: 2 }, &Control::new()).unwrap();
    assert!(answer.words().contains("Strength "), "{}", answer.sentence);
    assert!(answer.words().contains("of 199 trials drawn without it show as large an effect (bootstrap P = "));
    assert_eq!(answer.made_with.seed, Some(2));
    let near = model.bootstrap_test("strength", &BootstrapOptions { draws: 99, seed: 2 }, &Control::new()).unwrap();
    let close = (near.numbers.p - 0.05).abs() < 2.0 * near.numbers.monte_carlo_error;
    assert_eq!(has_note(&near.notes, "more_draws"), close);
}
