//! Models whose trays follow a law: beta-binomial and random effects, from the units to the tests and rates.

use approx::{abs_diff_eq, assert_abs_diff_eq};
use rootling::effects::RateOptions;
use rootling::math::distributions::fisher_f;
use rootling::models::{Link, Model, ModelSpec, TrayMode};
use rootling::trial::Units;

use crate::models::{crowder, factor};
use crate::support::{check, check_list};

fn spec(trays: TrayMode) -> ModelSpec {
    let mut spec = ModelSpec::of(&["seed", "extract"]);
    spec.interactions = vec![vec!["seed".to_owned(), "extract".to_owned()]];
    spec.reference.insert("seed".to_owned(), "O_aegyptiaca_75".to_owned());
    spec.trays = trays;
    spec
}

fn fitted(trays: TrayMode) -> Model {
    Model::fit(&crowder(), &spec(trays)).unwrap()
}

/// Plates in seven bays of three; the seed is laid out on bays when `on_bays`.
fn in_bays(on_bays: bool) -> Units {
    let mut units = crowder();
    let bay: Vec<String> = (0..21).map(|i| format!("{}", i / 3)).collect();
    if on_bays {
        let seed: Vec<&str> =
            (0..21).map(|i| if (i / 3) % 2 == 0 { "O_aegyptiaca_75" } else { "O_aegyptiaca_73" }).collect();
        units.treatments[0] = factor("seed", &seed);
    }
    units.whole_plot = Some(factor("bay", &bay));
    units
}

#[test]
fn references_through_the_model() {
    // expected.json crowder_betabinomial_fine, crowder_glmm_ml (scipy 1.17.1)
    for (trays, id) in [(TrayMode::BetaBinomial, "crowder_betabinomial_fine"), (TrayMode::Random, "crowder_glmm_ml")] {
        let model = fitted(trays);
        assert_eq!(model.trays, trays);
        check_list(id, "estimate", &model.coefficients.iter().map(|c| c.value).collect::<Vec<_>>());
        check_list(id, "se", &model.coefficients.iter().map(|c| c.se).collect::<Vec<_>>());
        check(id, "loglik", model.loglik);
        let key = if trays == TrayMode::Random { "sigma" } else { "rho" };
        check(id, key, model.spread[0].value);
        assert!(model.convergence.converged && model.convergence.iterations > 0);
    }
}

#[test]
fn tests_are_likelihood_ratios_on_the_trays_degrees_of_freedom() {
    for trays in [TrayMode::BetaBinomial, TrayMode::Random] {
        let model = fitted(trays);
        let tests = model.what_matters(None).unwrap();
        let interaction = &tests.numbers.effects[2];
        let mut small = spec(trays);
        small.interactions.clear();
        let fall = 2.0 * (model.loglik - Model::fit(&crowder(), &small).unwrap().loglik);
        assert_rel!(interaction.statistic.unwrap(), fall, 1e-6);
        // 21 plates, 4 coefficients
        assert_eq!(interaction.error_df, Some(17.0));
        assert_rel!(interaction.p.unwrap(), fisher_f::sf(fall, 1.0, 17.0), 1e-6);
        assert!(interaction.not_ruled_out.unwrap() > interaction.largest_difference.unwrap());
        // The same by the profile of its coefficient, whose limits hold 1 exactly when P is above 0.05.
        let ratios = model.odds_ratios(0.95).unwrap();
        let ratio = ratios.numbers.ratios.last().unwrap();
        assert_rel!(ratio.p.unwrap(), interaction.p.unwrap(), 1e-6);
        assert_eq!(ratio.low.unwrap() < 1.0 && ratio.high.unwrap() > 1.0, ratio.p.unwrap() > 0.05);
        assert!(tests.methods.contains(if trays == TrayMode::Random { "random effects" } else { "beta distribution" }));
    }
}

#[test]
fn rates_of_random_trays_are_those_over_all_trays() {
    let (random, beta) = (fitted(TrayMode::Random), fitted(TrayMode::BetaBinomial));
    let rate = |model: &Model| model.adjusted_rates("extract", &RateOptions::within("seed")).unwrap().numbers.rates;
    let (a, b) = (rate(&random), rate(&beta));
    for (a, b) in a.iter().zip(&b) {
        // Both are population rates and near each other; the rate of a typical tray lies further from one half.
        assert_abs_diff_eq!(a.value.unwrap(), b.value.unwrap(), epsilon = 0.01);
        assert_abs_diff_eq!(a.se.unwrap(), b.se.unwrap(), epsilon = 0.005);
        assert!(a.low < a.value && a.value < a.high);
    }
    let own = rootling::models::mixed::marginal_rate(Link::Logit, random.coefficients[0].value, random.spread[0].value);
    assert!(a.iter().any(|rate| abs_diff_eq!(rate.value.unwrap(), own.rate, epsilon = 1e-9)));
}

#[test]
fn whole_plots_join_the_random_effects() {
    // Both effects vary within bays: the bays are a second layer.
    let model = Model::fit(&in_bays(false), &spec(TrayMode::Random)).unwrap();
    assert_eq!(model.spread.iter().map(|s| s.of.as_str()).collect::<Vec<_>>(), ["tray", "bay"]);
    // The seed is laid out on bays: tested on their degrees of freedom, 7 bays less 2 seeds, less 1 because the extract does not
    // change within the bays of the one seed.
    let model = Model::fit(&in_bays(true), &spec(TrayMode::Random)).unwrap();
    let tests = model.what_matters(None).unwrap().numbers.effects;
    assert_eq!(tests[0].error_df, Some(4.0));
    // 21 plates, 4 coefficients, 4 between bays
    assert_eq!(tests[1].error_df, Some(13.0));
    // The beta-binomial knows trays only and gives no test there.
    let model = Model::fit(&in_bays(true), &spec(TrayMode::BetaBinomial)).unwrap();
    let tests = model.what_matters(None).unwrap().numbers.effects;
    assert_eq!((tests[0].p, tests[0].test.as_str()), (None, "not tested"));
    assert!(model.notes.iter().any(|note| note.code == "not_for_whole_plots"));
}

#[test]
fn separated_and_pooled_data() {
    let mut units = crowder();
    let all: Vec<bool> = units.treatments[1].codes.iter().map(|code| *code == 1).collect();
    for (i, _) in all.iter().enumerate().filter(|(_, all)| **all) {
        units.rooted[i] = units.stuck[i];
    }
    for trays in [TrayMode::BetaBinomial, TrayMode::Random] {
        let mut wanted = ModelSpec::of(&["extract"]);
        wanted.trays = trays;
        let model = Model::fit(&units, &wanted).unwrap();
        assert!(model.penalised && model.penalised_loglik.is_some());
        assert!(model.notes.iter().any(|note| note.code == "separation"));
        let test = &model.what_matters(None).unwrap().numbers.effects[0];
        assert!(test.p.unwrap() < 1e-4);
        let ratio = &model.odds_ratios(0.95).unwrap().numbers.ratios[0];
        assert!(ratio.low.unwrap() > 1.0 && ratio.odds_ratio.is_finite());
        let mut pooled = crowder();
        pooled.kind = rootling::trial::UnitKind::Pooled;
        let model = Model::fit(&pooled, &wanted).unwrap();
        assert_eq!(model.trays, TrayMode::Ignore);
        assert!(model.notes.iter().any(|note| note.code == "no_tray_information"));
    }
}

#[test]
fn read_back_it_is_the_same() {
    for trays in [TrayMode::BetaBinomial, TrayMode::Random] {
        let model = fitted(trays);
        let text = serde_json::to_string(&model).unwrap();
        let back: Model = serde_json::from_str(&text).unwrap();
        assert_eq!((back.spread.len(), &back.spec, back.trays), (1, &model.spec, trays));
        assert_rel!(back.spread[0].value, model.spread[0].value, 1e-14);
        assert_abs_diff_eq!(back.refit().unwrap().loglik, model.loglik, epsilon = 1e-9);
    }
    assert!(serde_json::to_string(&fitted(TrayMode::BetaBinomial)).unwrap().contains("\"beta-binomial\""));
}
