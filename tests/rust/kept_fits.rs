//! A model is fitted once: every question reads the fit that it keeps, and answers as a model fitted anew would.

use std::sync::Arc;

use rootling::control::Control;
use rootling::effects::{ContrastOptions, LetterOptions, RateOptions};
use rootling::models::{Model, ModelSpec, StatisticKind, TrayMode};
use rootling::trial::Units;

use crate::set_ups::{column, trays_of_20};

/// Two strengths by three rootstocks, four trays each, some rooted wholly.
fn units(all: bool) -> Units {
    let rooted = [5, 7, 4, 9, 12, 11, 15, 10, 8, 6, 9, 7, 14, 16, 13, 17, 3, 5, 2, 6, 9, 12, 10, 8];
    let rooted = rooted.iter().enumerate().map(|(at, y)| if all && at < 4 { 20 } else { *y }).collect();
    let strength: Vec<u32> = (0..24).map(|tray| if tray / 4 % 2 == 0 { 1000 } else { 2500 }).collect();
    let rootstock: Vec<u32> = (0..24).map(|tray| tray / 8).collect();
    trays_of_20(rooted, vec![column("strength", &strength), column("rootstock", &rootstock)])
}

fn asked(model: &Model, control: &Arc<Control>) -> Vec<String> {
    let watched = model.watched(control);
    let (rates, pairs, groups) = (RateOptions::default(), ContrastOptions::default(), LetterOptions::default());
    let mut told = vec![
        format!("{:?}", watched.what_matters(None).unwrap().numbers),
        format!("{:?}", watched.adjusted_rates("strength", &rates).unwrap().numbers),
        format!("{:?}", watched.adjusted_rates("rootstock", &rates).unwrap().numbers),
        format!("{:?}", watched.contrasts("rootstock", &pairs, control).unwrap().numbers),
        format!("{:?}", watched.letters("rootstock", &groups, control).unwrap().numbers),
        format!("{:?}", watched.coefficients(0.95).unwrap().numbers),
    ];
    if model.trays != TrayMode::Robust {
        told.push(format!("{:?}", watched.odds_ratios(0.95).unwrap().numbers));
    }
    told
}

#[test]
fn questions_read_the_fit_that_a_model_keeps() {
    let ways = [TrayMode::Effective, TrayMode::Dispersion, TrayMode::BetaBinomial, TrayMode::Random, TrayMode::Robust];
    for (trays, all) in ways.into_iter().flat_map(|trays| [(trays, false), (trays, true)]) {
        let (units, spec) = (Arc::new(units(all)), ModelSpec { trays, ..ModelSpec::of(&["strength", "rootstock"]) });
        let fitting = Arc::new(Control::new());
        let model = Model::fit_until(&units, &spec, &fitting).unwrap();
        let asking = Arc::new(Control::new());
        let first = asked(&model, &asking);
        // A robust test of an effect refits the design with the effect's columns last, one fit for each; so does a penalised likelihood ratio,
        // since the penalty depends on how the columns are written.
        let refits = trays == TrayMode::Robust || (trays == TrayMode::Dispersion && model.penalised);
        let needed = if refits { 2 } else { 0 };
        assert!(asking.fits() <= needed, "{trays:?}: {} fits of the whole design after the first", asking.fits());
        assert!(asked(&model, &asking) == first, "{trays:?} asked twice");
        // A model of other counts than those it was fitted to keeps nothing; these are equal, and so is all it answers.
        let mut bare = model.clone();
        bare.units = Arc::new(units.as_ref().clone());
        let again = Arc::new(Control::new());
        assert!(asked(&bare, &again) == first, "{trays:?} fitted anew");
        assert!(again.fits() > 0);
    }
}

#[test]
fn a_model_changed_by_hand_is_fitted_anew() {
    let spec = ModelSpec::of(&["strength", "rootstock"]);
    let mut model = Model::fit(&units(false), &spec).unwrap();
    let rate = |model: &Model| {
        let found = model.adjusted_rates("strength", &RateOptions::default()).unwrap();
        found.numbers.rates[0].value.unwrap()
    };
    let before = rate(&model);
    model.units = Arc::new(units(true));
    assert!((rate(&model) - before).abs() > 0.05);
}

#[test]
fn statistics_of_effects_are_those_of_a_question_asked_first() {
    let spec = ModelSpec { trays: TrayMode::Ignore, ..ModelSpec::of(&["strength", "rootstock"]) };
    let model = Model::fit(&units(false), &spec).unwrap();
    let ratio = model.effect_statistic("strength", StatisticKind::LikelihoodRatio).unwrap();
    let told = model.what_matters(None).unwrap();
    assert_rel!(told.numbers.effects[0].statistic.unwrap(), ratio.statistic, 1e-12);
}
