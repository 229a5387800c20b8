//! Planned trials: drawn and judged as real ones are, and held against published sizes and constants.

use rootling::compare::{AllOptions, CompareOptions, all_levels, strengths};
use rootling::control::Control;
use rootling::error::PlanError;
use rootling::models::{Model, ModelSpec};
use rootling::plan::{
    Boundary, LooksOptions, PlanOptions, PlannedTrial, Question, TrayLaw, draw_trial, looks, p_values, power,
    precision, smallest_difference, trays_needed,
};
use rootling::tables::{TrialTrendOptions, trial_trend};
use rootling::trial::{Factor, Units};

fn planned(takes: &[f64], trays: u64) -> PlanOptions {
    PlanOptions {
        trial: PlannedTrial { takes: takes.to_vec(), ..PlannedTrial::default() },
        trays: vec![trays],
        correlation: vec![0.05],
        draws: 200,
        ..PlanOptions::default()
    }
}

/// The leading P value of each drawn trial and the trial itself, loaded.
fn trials(options: &PlanOptions) -> Vec<(f64, Units)> {
    let found = p_values(options, &Control::new()).unwrap();
    let of = |(at, p): (usize, f64)| (p, draw_trial(options, at as u64).unwrap().units());
    found.into_iter().enumerate().map(of).collect()
}

#[test]
fn two_levels_are_judged_as_a_comparison_is() {
    for (block_trays, trays, law) in [
        (0, 4, TrayLaw::BetaBinomial),
        (0, 9, TrayLaw::LogitNormal),
        (1, 5, TrayLaw::BetaBinomial),
        (2, 8, TrayLaw::LogitNormal),
    ] {
        let mut options = planned(&[0.3, 0.6], trays);
        (options.trial.block_trays, options.trial.law) = (block_trays, law);
        for (p, units) in trials(&options) {
            let asked = CompareOptions { randomisations: 1, ..CompareOptions::default() };
            let found = strengths(&units, "strength", "0", "1", &asked, &Control::new()).unwrap().numbers;
            assert_rel!(p, found.p.unwrap_or(1.0), 1e-11);
        }
    }
}

#[test]
fn pairs_trends_and_models_are_judged_as_those_of_trials_are() {
    let mut options = planned(&[0.3, 0.5, 0.6], 4);
    options.question = Question::AgainstControl;
    for (p, units) in trials(&options).into_iter().take(60) {
        let asked = AllOptions { against: Some("0".into()), ..AllOptions::default() };
        let found = all_levels(&units, "strength", &asked, &Control::new()).unwrap().numbers;
        assert_rel!(p, found.pairs[0].p.unwrap(), 1e-11);
    }
    options.question = Question::Trend;
    options.scores = Some(vec![0.0, 1.0, 2.0]);
    for (p, mut units) in trials(&options) {
        units.treatments[0].numbers = Some(vec![0.0, 1.0, 2.0]);
        let found = trial_trend(&units, "strength", &TrialTrendOptions::default(), &Control::new()).unwrap().numbers;
        assert_rel!(p, found.p.unwrap(), 1e-10);
    }
    let mut options = planned(&[0.3, 0.5, 0.3, 0.8], 4);
    (options.question, options.trial.columns) = (Question::Interaction, 2);
    for (p, units) in trials(&options).into_iter().take(60) {
        let mut spec = ModelSpec::of(&["one", "other"]);
        spec.interactions = vec![vec!["one".into(), "other".into()]];
        let found = Model::fit(&crossed(units), &spec).unwrap().what_matters(None).unwrap().numbers;
        assert_rel!(p, found.effects.last().unwrap().p.unwrap(), 1e-9);
    }
}

/// The four combinations of a drawn trial as two treatments.
fn crossed(units: Units) -> Units {
    let codes = &units.treatments[0].codes;
    let of = |name: &str, pick: &dyn Fn(u32) -> u32| Factor {
        name: name.into(),
        levels: vec!["0".into(), "1".into()],
        numbers: None,
        codes: codes.iter().map(|code| pick(*code)).collect(),
    };
    let treatments = vec![of("one", &|code| code / 2), of("other", &|code| code % 2)];
    Units { treatments, ..units }
}

#[test]
fn bays_are_the_units_where_levels_are_given_to_bays() {
    let mut options = planned(&[0.3, 0.6], 3);
    options.trial.bays = 4;
    for (at, p) in p_values(&options, &Control::new()).unwrap().into_iter().enumerate() {
        let drawn = draw_trial(&options, at as u64).unwrap();
        assert!(drawn.arms.iter().all(|arm| arm.stuck == [60; 4]));
        let asked = CompareOptions { randomisations: 1, ..CompareOptions::default() };
        let found = strengths(&drawn.units(), "strength", "0", "1", &asked, &Control::new()).unwrap().numbers;
        assert_rel!(p, found.p.unwrap(), 1e-11);
    }
}

#[test]
fn cuttings_that_stand_alone_need_what_published_formulas_say() {
    // Fleiss JL (1981), Statistical Methods for Rates and Proportions, 2nd edition, formula 3.14 (from memory), without the
    // correction for continuity: 151.9 of each for 0.60 against 0.75 at 5 % two-sided with power 0.80.
    let mut options = planned(&[0.60, 0.75], 152);
    (options.cuttings, options.correlation, options.draws) = (vec![1], vec![0.0], 20_000);
    let found = power(&options, &Control::new()).unwrap().numbers.rows[0].power;
    assert!((found - 0.80).abs() < 0.012, "{found}");
}

#[test]
fn the_power_of_this_tool_is_what_its_trade_guide_states() {
    // 60 against 75 %, 20 cuttings, correlation 0.05, 3, 4, 6, 8 and 12 trays: found once by simulating loaded trials.
    for (trays, stated) in [(3, 0.11), (4, 0.20), (6, 0.36), (8, 0.48), (12, 0.68)] {
        let mut options = planned(&[0.60, 0.75], trays);
        options.draws = 10_000;
        let found = power(&options, &Control::new()).unwrap().numbers.rows[0].power;
        assert!((found - stated).abs() < 0.02, "{trays}: {found} where {stated} is stated");
    }
}

#[test]
fn both_laws_have_the_mean_and_correlation_asked_for() {
    for (law, take, correlation) in [
        (TrayLaw::BetaBinomial, 0.2, 0.1),
        (TrayLaw::LogitNormal, 0.2, 0.1),
        (TrayLaw::LogitNormal, 0.9, 0.3),
        (TrayLaw::LogitNormal, 0.5, 0.01),
    ] {
        let mut options = planned(&[take, take], 2_000);
        (options.trial.law, options.correlation) = (law, vec![correlation]);
        let arm = draw_trial(&options, 0).unwrap().arms.swap_remove(0);
        let rates = arm.tray_rates();
        let mean = rates.iter().sum::<f64>() / 2_000.0;
        let variance = rates.iter().map(|rate| (rate - mean).powi(2)).sum::<f64>() / 2_000.0;
        let wanted = take * (1.0 - take) / 20.0 * (1.0 + 19.0 * correlation);
        assert!((mean - take).abs() < 4.0 * (wanted / 2_000.0).sqrt(), "{law:?} {mean}");
        assert!((variance / wanted - 1.0).abs() < 0.15, "{law:?} {variance} {wanted}");
    }
}

#[test]
fn the_smallest_p_value_of_dealing_out_again_is_that_of_counting() {
    // Two levels of 3 and of 4 trays: 20 and 70 ways; three and six blocks of pairs: 8 and 64 ways.
    for (trays, block_trays, least) in [(3, 0, 0.1), (4, 0, 2.0 / 70.0), (3, 1, 0.25), (6, 1, 2.0 / 64.0)] {
        let mut options = planned(&[0.3, 0.8], trays);
        options.trial.block_trays = block_trays;
        let found = power(&options, &Control::new()).unwrap().numbers;
        assert_rel!(found.rows[0].smallest_p.unwrap(), least, 1e-14);
    }
    let mut options = planned(&[0.3, 0.8], 3);
    options.second_opinion = true;
    let found = power(&options, &Control::new()).unwrap();
    assert_eq!(found.numbers.rows[0].confirmed, Some(0.0));
    assert!(
        found.details.iter().any(|line| line.contains("can never give a P value below 0.1")),
        "{:?}",
        found.details
    );
}

#[test]
fn the_fewest_trays_are_the_fewest() {
    for correlation in [0.01, 0.15] {
        let mut options = planned(&[0.60, 0.80], 8);
        (options.correlation, options.draws) = (vec![correlation], 4_000);
        let row = trays_needed(&options, &Control::new()).unwrap().numbers.rows.swap_remove(0);
        assert!(row.reached && row.power >= 0.8);
        options.trays = (row.trays - 3..row.trays + 3).collect();
        let around = power(&options, &Control::new()).unwrap().numbers.rows;
        assert!(around.iter().take(2).all(|one| one.power < 0.8), "{around:?}");
        assert!(around.iter().skip(3).all(|one| one.power >= 0.8), "{around:?}");
    }
    let mut options = planned(&[0.60, 0.62], 8);
    (options.most_trays, options.draws) = (20, 500);
    let found = trays_needed(&options, &Control::new()).unwrap();
    assert!(
        !found.numbers.rows[0].reached && found.sentence.starts_with("Out of reach: even 20 trays"),
        "{}",
        found.sentence
    );
}

#[test]
fn costs_choose_cuttings_near_what_theory_says() {
    // Cochran (1977), section 10.6: sqrt(cost of a tray / cost of a cutting x (1 - correlation) / correlation) = sqrt(10 x 19) = 13.8.
    let mut options = planned(&[0.60, 0.75], 8);
    (options.cost_per_tray, options.cost_per_cutting, options.draws) = (Some(10.0), Some(1.0), 2_000);
    let found = trays_needed(&options, &Control::new()).unwrap().numbers.rows.swap_remove(0);
    assert!((8..=22).contains(&found.cuttings), "{found:?}");
    assert_rel!(found.cost.unwrap(), found.n_trays as f64 * 10.0 + found.n_cuttings as f64, 1e-14);
    // No other number of cuttings is cheaper by more than the draws can tell.
    for cuttings in [5, 40] {
        let mut other = planned(&[0.60, 0.75], 8);
        (other.cuttings, other.draws) = (vec![cuttings], 2_000);
        let row = trays_needed(&other, &Control::new()).unwrap().numbers.rows.swap_remove(0);
        let cost = row.n_trays as f64 * 10.0 + row.n_cuttings as f64;
        assert!(cost > 0.97 * found.cost.unwrap(), "{cuttings}: {cost}");
    }
}

#[test]
fn the_smallest_difference_is_shown_as_often_as_asked() {
    let mut options = planned(&[0.60], 8);
    options.draws = 4_000;
    let row = smallest_difference(&options, &Control::new()).unwrap().numbers.rows.swap_remove(0);
    let (rise, fall) = (row.rise.unwrap(), row.fall.unwrap());
    for other in [0.6 + rise, 0.6 - fall] {
        options.trial.takes = vec![0.6, other];
        let found = power(&options, &Control::new()).unwrap().numbers.rows[0].power;
        assert!((found - 0.8).abs() < 0.01, "{other}: {found}");
    }
    // Three trays cannot show any fall from 5 of 100.
    options.trial.takes = vec![0.05];
    options.trays = vec![3];
    let row = smallest_difference(&options, &Control::new()).unwrap().numbers.rows.swap_remove(0);
    assert!(row.fall.is_none() && row.rise.is_some());
}

#[test]
fn intervals_are_as_wide_as_those_of_drawn_trials() {
    let options = planned(&[0.5, 0.6], 6);
    let found = precision(&options, &Control::new()).unwrap().numbers.rows.swap_remove(0);
    let mut widths: Vec<f64> = (0..200)
        .map(|at| {
            let units = draw_trial(&options, at).unwrap().units();
            let asked = CompareOptions { randomisations: 1, ..CompareOptions::default() };
            let one = strengths(&units, "strength", "0", "1", &asked, &Control::new()).unwrap().numbers;
            0.5 * (one.high.unwrap() - one.low.unwrap())
        })
        .collect();
    widths.sort_by(f64::total_cmp);
    assert_rel!(found.half_width.unwrap(), widths[100], 1e-9);
    assert_rel!(found.half_width_90.unwrap(), widths[180], 1e-9);
}

#[test]
fn constants_of_looks_are_the_published_ones_where_trays_are_many() {
    // Jennison C, Turnbull BW (2000), Group Sequential Methods, tables 2.1 and 2.3 (from memory), 5 % two-sided.
    let published = [(2, 2.178, 1.977), (3, 2.289, 2.004), (5, 2.413, 2.040)];
    for (count, pocock, obrien) in published {
        for (boundary, constant) in [(Boundary::Pocock, pocock), (Boundary::ObrienFleming, obrien)] {
            let mut plan = planned(&[0.45, 0.55], 60);
            (plan.cuttings, plan.correlation, plan.draws) = (vec![50], vec![0.1], 5_000);
            let found = looks(&LooksOptions { plan, looks: count, boundary }, &Control::new()).unwrap().numbers;
            assert!((found.constant - constant).abs() < 0.04, "{boundary:?} {count}: {} {constant}", found.constant);
            let alarms = found.rows.last().unwrap().alarms;
            assert!((alarms - 0.05).abs() < 0.006, "{boundary:?} {count}: {alarms}");
        }
    }
}

#[test]
fn the_same_seed_gives_the_same_plan_whatever_else_is_tried() {
    let mut options = planned(&[0.60, 0.75], 8);
    let alone = power(&options, &Control::new()).unwrap().numbers.rows.swap_remove(0);
    options.trays = vec![4, 8];
    options.correlation = vec![0.01, 0.05];
    let rows = power(&options, &Control::new()).unwrap().numbers.rows;
    assert_eq!(rows[3], alone);
    options.seed = 2;
    assert_ne!(power(&options, &Control::new()).unwrap().numbers.rows[3].power, alone.power);
}

#[test]
fn a_plan_can_be_stopped() {
    let control = Control::new();
    control.stop();
    assert_eq!(power(&planned(&[0.6, 0.7], 8), &control).unwrap_err(), rootling::Error::Interrupted);
}

#[test]
fn what_cannot_be_planned_is_said() {
    let said = |change: &dyn Fn(&mut PlanOptions)| {
        let mut options = planned(&[0.6, 0.75], 8);
        change(&mut options);
        match power(&options, &Control::new()).unwrap_err() {
            rootling::Error::Plan(error) => error,
            error => panic!("{error}"),
        }
    };
    assert_eq!(said(&|one| one.correlation = vec![5.0]), PlanError::Correlation { value: 5.0 });
    assert_eq!(said(&|one| one.trial.takes = vec![0.6, 1.2]), PlanError::Take { value: 1.2 });
    assert_eq!(said(&|one| one.trial.takes = vec![0.6, 0.6]), PlanError::NothingToSee);
    assert_eq!(said(&|one| one.trial.bays = 1), PlanError::OneBay);
    assert_eq!(said(&|one| one.trial.block_trays = 3), PlanError::NotFilled { trays: 8, block: 3 });
    assert_eq!(said(&|one| one.draws = 10), PlanError::Draws { draws: 10 });
    assert!(matches!(said(&|one| one.question = Question::Equivalent), PlanError::Needs { name: "margin", .. }));
    assert!(matches!(said(&|one| one.trial.takes = vec![0.6]), PlanError::Levels { found: 1, .. }));
    assert_eq!(
        said(&|one| {
            one.question = Question::Interaction;
            one.trial.columns = 2;
            one.trial.takes = vec![0.2, 0.4, 0.2, 0.4];
        }),
        PlanError::NoInteraction
    );
    let beyond = said(&|one| (one.question, one.margin) = (Question::Equivalent, Some(0.1)));
    assert!(matches!(beyond, PlanError::BeyondMargin { .. }));
}
