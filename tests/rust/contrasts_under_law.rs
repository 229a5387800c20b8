//! Contrasts where trays follow a law of their own: they go by its likelihood, as odds ratios and tests of effects do.

use rootling::effects::Scale;
use rootling::models::{Link, Model, ModelSpec, TrayMode};
use rootling::trial::{Factor, UnitKind, Units};

use crate::contrasts::{ask, on, options};
use crate::models::{factor, has_note, units};

const LAWS: [TrayMode; 2] = [TrayMode::BetaBinomial, TrayMode::Random];
const SCALES: [Scale; 3] = [Scale::Points, Scale::Ratio, Scale::Odds];

/// Two strengths with six trays of 20 cuttings each.
fn two_strengths() -> Units {
    let strength = factor("strength", &["0", "0", "0", "0", "0", "0", "5000", "5000", "5000", "5000", "5000", "5000"]);
    units(UnitKind::Tray, vec![3, 7, 4, 9, 2, 6, 8, 12, 5, 14, 10, 7], vec![20; 12], vec![strength])
}

/// The same trays, two on each of six benches.
fn on_benches() -> Units {
    let bench: Vec<&str> = ["A", "B", "C", "D", "E", "F"].into_iter().cycle().take(12).collect();
    Units { block: Some(factor("bench", &bench)), ..two_strengths() }
}

fn fitted(data: &Units, trays: TrayMode, link: Link) -> Model {
    Model::fit(data, &ModelSpec { trays, link, ..ModelSpec::of(&["strength"]) }).unwrap()
}

#[test]
fn two_levels_have_the_p_value_of_their_odds_ratio_and_effect() {
    for (data, trays) in [two_strengths(), on_benches()].iter().flat_map(|data| LAWS.map(|trays| (data, trays))) {
        let model = fitted(data, trays, Link::Logit);
        let ratios = model.odds_ratios(0.95).unwrap().numbers.ratios;
        let ratio = ratios.iter().find(|one| one.comparison == "strength 5000 against 0").unwrap();
        let effects = model.what_matters(None).unwrap().numbers.effects;
        let effect = effects.iter().find(|one| one.effect == "strength").unwrap();
        for scale in SCALES {
            let found = ask(&model, "strength", &on(scale));
            let row = &found.numbers.contrasts[0];
            assert_rel!(row.p.unwrap(), ratio.p.unwrap(), 1e-6);
            assert_rel!(row.p.unwrap(), effect.p.unwrap(), 1e-6);
            assert_rel!(row.p_adjusted.unwrap(), row.p.unwrap(), 1e-12);
            assert_rel!(row.statistic.unwrap().powi(2), ratio.statistic.unwrap(), 1e-6);
            assert_eq!(row.df, ratio.error_df);
            let none = if scale == Scale::Points { 0.0 } else { 1.0 };
            let outside = row.low.unwrap() > none || row.high.unwrap() < none;
            assert_eq!(outside, row.p.unwrap() < 0.05, "{row:?}");
            assert!(row.low.unwrap() < row.value.unwrap() && row.value.unwrap() < row.high.unwrap());
            assert!(!has_note(&found.notes, "judged_by_covariance"));
        }
    }
}

#[test]
fn other_links_have_the_p_value_of_the_effect() {
    for (link, trays) in
        [Link::Probit, Link::ComplementaryLogLog].into_iter().flat_map(|link| LAWS.map(|one| (link, one)))
    {
        let model = fitted(&two_strengths(), trays, link);
        let effect = model.what_matters(None).unwrap().numbers.effects[0].p.unwrap();
        assert_rel!(ask(&model, "strength", &options()).numbers.contrasts[0].p.unwrap(), effect, 1e-6);
    }
}

#[test]
fn a_beta_binomial_odds_ratio_has_the_limits_of_its_contrast() {
    // Mean rates are those of the coefficients, so both are one profile.
    let model = fitted(&two_strengths(), TrayMode::BetaBinomial, Link::Logit);
    let ratio = &model.odds_ratios(0.95).unwrap().numbers.ratios[0];
    let row = &ask(&model, "strength", &on(Scale::Odds)).numbers.contrasts[0];
    assert_rel!(row.low.unwrap(), ratio.low.unwrap(), 1e-6);
    assert_rel!(row.high.unwrap(), ratio.high.unwrap(), 1e-6);
}

#[test]
fn several_levels_have_the_p_values_of_their_odds_ratios() {
    let level = |tray: usize| ["0", "1000", "5000"][tray / 5];
    let strength = factor("strength", &(0..15).map(level).collect::<Vec<_>>());
    // Trays as chance has them, trays further apart, and a level where hardly anything rooted.
    let counts: [[u64; 15]; 3] = [
        [5, 6, 7, 6, 5, 9, 10, 8, 9, 11, 12, 13, 11, 12, 14],
        [2, 9, 5, 1, 12, 8, 3, 15, 9, 6, 18, 10, 7, 16, 13],
        [0, 1, 0, 0, 2, 4, 7, 1, 9, 3, 12, 5, 16, 9, 8],
    ];
    for (rooted, trays) in counts.iter().flat_map(|rooted| LAWS.map(|trays| (rooted, trays))) {
        let data = units(UnitKind::Tray, rooted.to_vec(), vec![20; 15], vec![Factor::clone(&strength)]);
        let model = fitted(&data, trays, Link::Logit);
        let found = ask(&model, "strength", &options());
        for ratio in &model.odds_ratios(0.95).unwrap().numbers.ratios {
            let row = found.numbers.contrasts.iter().find(|row| row.comparison == ratio.comparison).unwrap();
            assert_rel!(row.p.unwrap(), ratio.p.unwrap(), 1e-6);
            assert!(row.p_adjusted.unwrap() >= row.p.unwrap());
        }
    }
}

#[test]
fn what_has_no_fit_is_judged_by_the_covariance_and_says_so() {
    // All but five of 240 cuttings rooted: no fit of normal effects is found where one rate is nearly twice the other.
    let bench: Vec<&str> = ["A", "B", "C", "D", "E", "F"].into_iter().cycle().take(12).collect();
    let rooted = vec![20, 20, 20, 20, 17, 20, 20, 20, 18, 20, 20, 20];
    let data = Units { rooted, block: Some(factor("bench", &bench)), ..two_strengths() };
    let model = fitted(&data, TrayMode::Random, Link::Logit);
    let found = ask(&model, "strength", &on(Scale::Ratio));
    assert!(has_note(&found.notes, "judged_by_covariance"));
    let row = &found.numbers.contrasts[0];
    assert!(row.low.unwrap() < 1.0 && row.high.unwrap() > 1.0, "{row:?}");
    // Its P value is that of the likelihood all the same.
    let effects = model.what_matters(None).unwrap().numbers.effects;
    let effect = effects.iter().find(|one| one.effect == "strength").unwrap();
    assert_rel!(row.p.unwrap(), effect.p.unwrap(), 1e-5);
}
