//! Trays as effective cuttings, the default of models: the same answer by other routes.

use rootling::compare::EffectiveStrata;
use rootling::effects::RateOptions;
use rootling::math::rng;
use rootling::models::{Model, ModelSpec, TrayMode};
use rootling::rates::{Arm, tray_spread, tray_spread_within};
use rootling::simulate::{Blocks, DrawnTrial, TrayDesign, TraySizes};
use rootling::trial::Units;

use crate::models::has_note;

fn drawn(takes: &[f64], sizes: TraySizes, blocks: Option<Blocks>, seed: u64) -> DrawnTrial {
    let design = TrayDesign { takes: takes.to_vec(), trays: 6, cuttings: 20, sizes, icc: 0.1, blocks };
    design.draw(&mut rng::stream(seed, 0))
}

/// One tray design from counts: four trays of 20 each per level.
fn counted(arms: &[[u64; 4]]) -> Units {
    let trial = DrawnTrial {
        arms: arms.iter().map(|rooted| Arm { rooted: rooted.to_vec(), stuck: vec![20; 4] }).collect(),
        blocks: vec![vec![0; 4]; arms.len()],
        expected: vec![vec![0.5; 4]; arms.len()],
    };
    trial.units()
}

fn fitted(units: &Units) -> Model {
    Model::fit(units, &ModelSpec::of(&["strength"])).unwrap()
}

#[test]
fn the_correlation_is_that_of_the_take_rates() {
    // Two routes: the model's design and the arms of a comparison, without and with blocks.
    for (sizes, blocks) in [
        (TraySizes::Equal, None),
        (TraySizes::Uneven, None),
        (TraySizes::Equal, Some(Blocks { trays: 1, sd: 0.6 })),
        (TraySizes::Uneven, Some(Blocks { trays: 2, sd: 0.6 })),
    ] {
        let trial = drawn(&[0.3, 0.5, 0.6], sizes, blocks, 3);
        let model = fitted(&trial.units());
        let known = model.strata.correlation.unwrap();
        let spread = tray_spread_within(&trial.arms, &trial.blocks).unwrap();
        assert_eq!(model.trays, TrayMode::Effective);
        assert_rel!(known.estimate, spread.icc, 1e-10);
        assert_rel!(known.df, spread.df, 1e-12);
        assert_eq!(model.strata.tray.df, Some(spread.df));
        if blocks.is_none() {
            assert_rel!(known.floor, spread.icc_floor, 1e-10);
            assert_rel!(known.used(), spread.icc_used(), 1e-10);
        }
    }
}

#[test]
fn two_levels_are_tested_as_in_a_comparison() {
    // Two routes: the score test of the model and the stratified score of a comparison on effective cuttings.
    for (seed, blocks) in [(1, None), (2, Some(Blocks { trays: 1, sd: 0.6 })), (3, Some(Blocks { trays: 2, sd: 0.6 }))]
    {
        let trial = drawn(&[0.3, 0.5], TraySizes::Equal, blocks, seed);
        let model = fitted(&trial.units());
        let test = &model.what_matters(None).unwrap().numbers.effects[0];
        let mut spread = tray_spread_within(&trial.arms, &trial.blocks).unwrap();
        // The floors count events a little differently in blocks; what is compared here is the statistic.
        spread.icc_floor = model.strata.correlation.unwrap().floor;
        let compared = EffectiveStrata::new(&trial.strata(0, 1), &spread);
        assert_rel!(test.statistic.unwrap(), compared.statistic().powi(2), 1e-8);
        assert_rel!(test.p.unwrap(), compared.p(), 1e-8);
        assert_eq!(test.error_df, Some(compared.df()));
    }
}

#[test]
fn even_trays_by_hand() {
    // Trays without any spread: the planning correlation 0.05 x 2 / (2 + 64 events) alone counts. Score statistic of 32 of 80
    // against 48 of 80 on n = 80 / D cuttings each: 0.2^2 / (p q (2 / n) N / (N - 1)), p = q = 1/2, N = 2 n.
    let model = fitted(&counted(&[[8; 4], [12; 4]]));
    let effect = 1.0 + 19.0 * 0.1 / 66.0;
    let n = 80.0 / effect;
    let by_hand = 0.04 / (0.25 * 2.0 / n * 2.0 * n / (2.0 * n - 1.0));
    let test = &model.what_matters(None).unwrap().numbers.effects[0];
    assert_rel!(test.statistic.unwrap(), by_hand, 1e-10);
    // ln((48 / 32) / (32 / 48)) and, by the delta method, sqrt(D (1/32 + 1/48 + 1/32 + 1/48))
    assert_rel!(model.coefficients[1].value, 2.25_f64.ln(), 1e-10);
    assert_rel!(model.coefficients[1].se, (effect * 2.0 * (1.0 / 32.0 + 1.0 / 48.0)).sqrt(), 1e-9);
    assert!(has_note(&model.notes, "underdispersion"));
    // Rates show the counts as they are.
    let rates = model.adjusted_rates("strength", &RateOptions::default()).unwrap().numbers.rates;
    assert_eq!((rates[0].rooted, rates[0].stuck, rates[0].n_units), (32, 80, 4));
    assert_rel!(rates[0].value.unwrap(), 0.4, 1e-10);
}

#[test]
fn a_level_without_a_rooted_cutting() {
    let model = fitted(&counted(&[[0; 4], [3, 5, 2, 6]]));
    assert!(model.penalised && has_note(&model.notes, "separation"));
    let test = &model.what_matters(None).unwrap().numbers.effects[0];
    // Two routes: the comparison needs no estimate of what it tests either.
    let arms = [Arm { rooted: vec![0; 4], stuck: vec![20; 4] }, Arm { rooted: vec![3, 5, 2, 6], stuck: vec![20; 4] }];
    let spread = tray_spread(&arms).unwrap();
    let compared = EffectiveStrata::new(&[(arms[0].clone(), arms[1].clone())], &spread);
    assert_rel!(test.p.unwrap(), compared.p(), 1e-6);
    let ratio = &model.odds_ratios(0.95).unwrap().numbers.ratios[0];
    assert!(ratio.low.unwrap() > 1.0);
    // As many are expected to root as did: 16 of 160.
    let rates = model.adjusted_rates("strength", &RateOptions::default()).unwrap().numbers.rates;
    assert_rel!(rates[0].value.unwrap() + rates[1].value.unwrap(), 0.2, 1e-9);
    assert!(rates[0].value.unwrap() > 0.0 && rates[0].high.unwrap() < 0.2);
    // Asked for, the penalised likelihood is tested by its ratio.
    let asked = ModelSpec { penalised: true, ..ModelSpec::of(&["strength"]) };
    let asked = Model::fit(&model.units, &asked).unwrap();
    let ratio_test = &asked.what_matters(None).unwrap().numbers.effects[0];
    assert!(ratio_test.statistic.unwrap() > 0.0 && ratio_test.statistic != test.statistic);
}

#[test]
fn few_events_are_said() {
    let model = fitted(&counted(&[[1, 0, 0, 1], [1, 1, 1, 0]]));
    let known = model.strata.correlation.unwrap();
    // 2 + 3 events in takes below one half
    assert_rel!(known.floor, 0.05 * 2.0 / 7.0, 1e-9);
    assert!(known.few_events() && has_note(&model.notes, "few_events"));
    let spread_out = fitted(&counted(&[[3, 8, 5, 10], [12, 4, 9, 15]]));
    assert!(!has_note(&spread_out.notes, "few_events"));
    assert!(spread_out.strata.correlation.unwrap().estimate > 0.0);
}

#[test]
fn nothing_rooted_and_all_rooted_have_no_effect() {
    for rooted in [0, 20] {
        let model = fitted(&counted(&[[rooted; 4], [rooted; 4]]));
        let test = &model.what_matters(None).unwrap().numbers.effects[0];
        assert!(test.p.unwrap() > 0.99, "{test:?}");
    }
}

#[test]
fn whole_plots_judge_what_they_carry_on_effective_cuttings() {
    use rootling::simulate::SplitPlotDesign;
    let design = SplitPlotDesign {
        bays: 6,
        strengths: 2,
        trays: 2,
        cuttings: 20,
        icc: 0.05,
        bay_sd: 0.6,
        take: 0.5,
        dark_effect: 0.0,
        strength_effect: 0.8,
    };
    let units = design.draw(&mut rng::stream(11, 0));
    let model = Model::fit(&units, &ModelSpec::of(&["dark", "strength"])).unwrap();
    let tests = model.what_matters(None).unwrap().numbers.effects;
    let whole = model.strata.whole_plots.as_ref().unwrap();
    // 6 bays less 2 levels of dark; 24 trays less 6 bays less 1 step of strength.
    // The score of dark weighs strengths by p (1 - p), so a trace of trays comes in.
    assert_rel!(tests[0].error_df.unwrap(), 4.0, 1e-3);
    assert_rel!(tests[1].error_df.unwrap(), 17.0, 1e-3);
    assert!(whole.error.unwrap().dispersion >= 1.0 && model.strata.tray.dispersion == 1.0);
    assert_eq!(model.strata.correlation.unwrap().df, 17.0);
    // Two routes: the contrast of its two levels, and the bays by another role.
    let options = rootling::effects::ContrastOptions::default();
    let pair = model.contrasts("strength", &options, &rootling::control::Control::new()).unwrap().numbers;
    assert_rel!(tests[1].statistic.unwrap(), pair.contrasts[0].statistic.unwrap().powi(2), 1e-7);
    let mut blocked = units.clone();
    blocked.block = blocked.whole_plot.take();
    let other = Model::fit(&blocked, &ModelSpec::of(&["dark", "strength"])).unwrap().what_matters(None).unwrap();
    assert_eq!(other.numbers.effects, tests);
    // The record of the fit goes out and comes back with its correlation.
    let text = serde_json::to_string(&model).unwrap();
    let back: Model = serde_json::from_str(&text).unwrap();
    assert_eq!(back.strata.correlation, model.strata.correlation);
    assert_eq!(back.what_matters(None).unwrap().numbers.effects, tests);
}
