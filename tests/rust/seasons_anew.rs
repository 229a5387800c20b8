//! Places that recur over seasons are places of their own in each, in every verb; an effect that one place carries is not tested.

use std::sync::Arc;

use rootling::compare::CompareOptions;
use rootling::control::Control;
use rootling::effects::{ContrastOptions, RateOptions};
use rootling::models::ModelSpec;
use rootling::tables::{AssociationOptions, TrialTrendOptions, association, trial_trend};
use rootling::trial::{LoadOptions, Trial, read_csv};

fn load(text: &str, treatments: &[&str], place: impl Fn(&mut LoadOptions)) -> Trial {
    let mut options = LoadOptions {
        rooted: "rooted".into(),
        stuck: Some("stuck".into()),
        treatments: treatments.iter().map(|&name| name.into()).collect(),
        tray: Some("tray".into()),
        season: Some("season".into()),
        ..LoadOptions::default()
    };
    place(&mut options);
    read_csv(text.as_bytes(), &options).unwrap()
}

fn compared(trial: &Trial, treatment: &str, levels: (&str, &str)) -> (Option<f64>, Option<f64>, String) {
    let found = trial.compare(treatment, levels, &CompareOptions::default(), &Control::new()).unwrap();
    (found.numbers.p, found.numbers.df, found.numbers.unit)
}

fn tested(trial: &Trial, effects: &[&str]) -> Vec<(Option<f64>, Option<f64>)> {
    let model = trial.model(&ModelSpec::of(effects), &Arc::new(Control::new())).unwrap();
    model.what_matters(None).unwrap().numbers.effects.iter().map(|one| (one.p, one.error_df)).collect()
}

/// Four bays in two seasons, whose darkness changes places; two strengths of three trays in each.
fn swapped() -> String {
    const ROOTED: [u32; 48] = [
        2, 7, 5, 5, 7, 7, 10, 4, 4, 9, 6, 10, 4, 8, 8, 8, 8, 7, 5, 5, 5, 8, 6, 6, 9, 6, 6, 10, 6, 9, 7, 7, 9, 13, 16,
        12, 6, 5, 5, 6, 8, 8, 3, 2, 2, 7, 2, 3,
    ];
    let mut text = "season,bay,dark_days,strength,tray,rooted,stuck\n".to_owned();
    for (at, rooted) in ROOTED.iter().enumerate() {
        let (season, bay) = (2024 + at / 24, at / 6 % 4);
        let dark = if (bay < 2) == (season == 2024) { 21 } else { 0 };
        text.push_str(&format!("{season},B{bay},{dark},{},t{at},{rooted},18\n", at % 6 / 3 * 2000));
    }
    text
}

/// R 4.2.2 on tray rates with Kenward and Roger's approximation. Bays that last: lmer(rate ~ season + `dark_days` + strength + (1 | bay) +
/// (1 | season:bay)), darkness F 16.351 on 1 and 2 degrees of freedom, P 0.0561. Other bays in each season, as said by two columns: lmer(rate ~
/// season + `dark_days` + strength + (1 | season:bay)), darkness F 2.5221 on 1 and 5 degrees of freedom, P 0.17313; strength 39 degrees of
/// freedom, P 0.00017, in both.
#[test]
fn bays_whose_darkness_changes_places_last_unless_they_are_said_to_be_others() {
    let plots = |options: &mut LoadOptions| options.whole_plot = Some("bay".into());
    let trial = load(&swapped(), &["dark_days", "strength"], plots);
    assert_eq!(trial.units().whole_plot.as_ref().unwrap().levels.len(), 8);
    assert_eq!(trial.units().block.as_ref().unwrap().levels.len(), 4);
    let lines = &trial.design().lines;
    assert!(lines.iter().any(|line| line.contains("say so with whole_plot=[\"season\", \"bay\"]")), "{lines:?}");
    let (p, df, unit) = compared(&trial, "dark_days", ("0", "21"));
    let effects = tested(&trial, &["dark_days", "strength"]);
    for (p, df) in [(p, df), effects[0]] {
        assert!((p.unwrap() / 0.0561).ln().abs() < 0.2, "{p:?}");
        assert!((df.unwrap() / 2.0).ln().abs() < 0.2, "{df:?}");
    }
    assert_eq!(unit, "bay within season");
    assert_rel!(effects[1].1.unwrap(), 39.0, 1e-9);
    // Named as blocks they are the same bays.
    let blocks = load(&swapped(), &["dark_days", "strength"], |options| options.block = Some("bay".into()));
    assert_eq!(compared(&blocks, "dark_days", ("0", "21")).0.unwrap().to_bits(), p.unwrap().to_bits());
    let said = |options: &mut LoadOptions| {
        options.labels_within = [("whole_plot".to_owned(), vec!["season".to_owned(), "bay".to_owned()])].into();
    };
    let named = load(&swapped(), &["dark_days", "strength"], said);
    let (p, df, unit) = compared(&named, "dark_days", ("0", "21"));
    let effects = tested(&named, &["dark_days", "strength"]);
    for (p, df) in [(p, df), effects[0]] {
        assert!((p.unwrap() / 0.17313).ln().abs() < 0.05, "{p:?}");
        assert_rel!(df.unwrap(), 5.0, 0.01);
    }
    assert_eq!(unit, "bay within season");
}

/// R 4.2.2, lmer(rate ~ season + light + `dark_days` + (1 | bay) + (1 | bay:season)) with Kenward and Roger's approximation:
/// light F 3.970 on 5.9 degrees of freedom, P 0.094; darkness F 14.30 on 14.7 degrees of freedom, P 0.0019. The counts are drawn: eight bays in
/// three seasons, light stays in a bay, darkness changes places, three trays in each bay of a season.
#[test]
fn what_stays_in_a_bay_is_judged_by_bays_and_what_changes_by_bays_of_a_season() {
    let trial = load(include_str!("../data/lasting_bays_invented.csv"), &["light", "dark_days"], |options| {
        options.whole_plot = Some("bay".into());
    });
    let units = trial.units();
    assert_eq!(units.block.as_ref().unwrap().levels.len(), 8);
    assert_eq!(units.whole_plot.as_ref().unwrap().levels.len(), 24);
    let (p, df, unit) = compared(&trial, "light", ("bright", "dim"));
    // Darkness is compared by a fit of all trays, so none of them is said to be left out.
    let told = trial.compare("dark_days", ("0", "21"), &CompareOptions::default(), &Control::new()).unwrap();
    assert!(!told.details.iter().any(|line| line.contains("carry it")), "{:?}", told.details);
    let effects = tested(&trial, &["light", "dark_days"]);
    for (p, df) in [(p, df), effects[0]] {
        assert!((p.unwrap() / 0.094).ln().abs() < 0.15, "{p:?}");
        assert!((df.unwrap() / 5.9).ln().abs() < 0.1, "{df:?}");
    }
    assert_eq!(unit, "bay");
    let (p, df) = effects[1];
    assert!((p.unwrap() / 0.0019).ln().abs() < 0.5, "{p:?}");
    assert!((df.unwrap() / 14.7).ln().abs() < 0.2, "{df:?}");
}

/// R 4.2.2, lmer(rate ~ season + light + `dark_days` + (1 | bay) + (1 | bay:season)) on tray rates with Kenward and Roger's approximation: darkness
/// F 15.07 on 1 and 14.7 degrees of freedom, P 0.001529; without light F 15.42 on 14.2, P 0.001483. No bay of a season holds both.
#[test]
fn darkness_that_changes_its_bay_is_compared_whether_light_is_named_or_not() {
    for treatments in [&["light", "dark_days"][..], &["dark_days"]] {
        let trial = load(include_str!("../data/lasting_bays_invented.csv"), treatments, |options| {
            options.whole_plot = Some("bay".into());
        });
        let (p, df, unit) = compared(&trial, "dark_days", ("0", "21"));
        let told =
            association(trial.units(), "dark_days", &AssociationOptions::default(), &Control::new()).unwrap().numbers;
        let trend =
            trial_trend(trial.units(), "dark_days", &TrialTrendOptions::default(), &Control::new()).unwrap().numbers;
        let model = tested(&trial, treatments).pop().unwrap();
        let each = [
            (p, df),
            (Some(told.tests[0].test.p), told.tests[0].test.error_df.or(told.tests[0].test.df)),
            (trend.p, trend.tests[0].test.error_df.or(trend.tests[0].test.df)),
            model,
        ];
        for (p, df) in each {
            // The score's variance is that of the mean rate, R's that of the tray rates.
            assert!((p.unwrap() / 0.0015).ln().abs() < 0.65, "{p:?}");
            assert!((df.unwrap() / 14.4).ln().abs() < 0.35, "{df:?}");
        }
        assert_eq!(unit, "bay within season");
    }
}

/// One season of them: four bays of either darkness, two under each light. R 4.2.2, lm(rate ~ light + `dark_days`) on the mean rates of the
/// bays of each season: darkness P 0.0429, 0.0973 and 0.1617 on 5 degrees of freedom. The comparison has the spread of all seasons:
/// lmer(rate ~ season / (light + `dark_days`) + (1 | bay) + (1 | season:bay)) on tray rates with Kenward and Roger's approximation: P 0.1021, 0.0237
/// and 0.1256 on 13.
#[test]
fn one_season_of_darkness_that_changes_its_bay_is_compared() {
    let trial = load(include_str!("../data/lasting_bays_invented.csv"), &["light", "dark_days"], |options| {
        options.whole_plot = Some("bay".into());
    });
    let within = AssociationOptions { within: Some("season".into()), ..AssociationOptions::default() };
    let told = association(trial.units(), "dark_days", &within, &Control::new()).unwrap().numbers;
    let rates: Vec<f64> = told
        .tests
        .iter()
        .map(|one| &one.test)
        .filter(|one| one.method.name() == "tray-rates")
        .map(|one| one.p)
        .collect();
    for (p, want) in rates.iter().zip([0.0429, 0.0973, 0.1617]) {
        assert!((p / want).ln().abs() < 0.15, "{rates:?}");
    }
    for (season, want) in [("1", 0.1021), ("2", 0.0237), ("3", 0.1256)] {
        let at = [("season".to_owned(), season.to_owned())].into();
        let options = CompareOptions { at, ..CompareOptions::default() };
        let found = trial.compare("dark_days", ("0", "21"), &options, &Control::new()).unwrap().numbers;
        assert_eq!((found.unit.as_str(), found.first.n_units, found.second.n_units), ("bay within season", 4, 4));
        // More careful: what bays add to the difference is added to the spread of the bays of one season.
        assert!(found.p.is_some_and(|p| (p / want).ln().abs() < 0.65), "{:?} {want}", found.p);
    }
    assert_eq!(rates.len(), 3);
}

/// Two bays that change their darkness once: seasons, bays and darkness take up all there is.
#[test]
fn two_bays_that_change_places_once_leave_nothing_to_judge_by() {
    let text = "season,bay,light,dark_days,tray,rooted,stuck\n1,A,dim,0,1,4,20\n1,A,dim,0,2,6,20\n1,B,bright,21,3,9,20\n1,B,bright,21,4,12,20\n2,A,dim,21,5,11,20\n2,A,dim,21,6,9,20\n2,B,bright,0,7,5,20\n2,B,bright,0,8,3,20\n";
    let trial = load(text, &["light", "dark_days"], |options| options.whole_plot = Some("bay".into()));
    let (p, ..) = compared(&trial, "dark_days", ("0", "21"));
    assert_eq!(p, None);
}

/// Benches A to D in two seasons, three strengths of one tray each: 24 trays, less 8 benches of a season and 2 contrasts leave 14.
#[test]
fn benches_of_two_seasons_are_compared_within_each() {
    let mut text = "season,bench,strength,tray,rooted,stuck\n".to_owned();
    for at in 0..24_usize {
        let bench = ["A", "B", "C", "D"][at / 3 % 4];
        text.push_str(&format!(
            "{},{bench},{},t{at},{},20\n",
            2024 + at / 12,
            at % 3 * 1000,
            4 + (5 * at + at * at / 4) % 13
        ));
    }
    let trial = load(&text, &["strength"], |options| options.block = Some("bench".into()));
    // Rates are to hold over benches as well, which last.
    assert_eq!(trial.units().block.as_ref().unwrap().levels.len(), 4);
    assert_eq!(trial.units().whole_plot.as_ref().unwrap().levels.len(), 8);
    let told = association(trial.units(), "strength", &AssociationOptions::default(), &Control::new()).unwrap();
    let tests = tested(&trial, &["strength"]);
    assert_rel!(tests[0].1.unwrap(), 14.0, 1e-9);
    assert_rel!(told.numbers.tests[0].test.error_df.unwrap(), 14.0, 1e-9);
}

#[test]
fn benches_that_keep_a_treatment_over_the_seasons_stay_what_they_are() {
    let mut text = "season,bench,rootstock,tray,rooted,stuck\n".to_owned();
    for at in 0..24_usize {
        let bench = at / 3 % 4;
        let rootstock = ["K12", "K17"][bench % 2];
        text.push_str(&format!(
            "{},{bench},{rootstock},t{at},{},20\n",
            2024 + at / 12,
            4 + (5 * at + at * at / 4) % 13
        ));
    }
    let trial = load(&text, &["rootstock"], |options| options.block = Some("bench".into()));
    // Four benches carry the rootstocks, however many seasons repeat them.
    assert_eq!(trial.units().block.as_ref().unwrap().levels.len(), 4);
    assert!(compared(&trial, "rootstock", ("K12", "K17")).1.unwrap() < 3.0);
}

/// Weeks of three seasons, a period that changes within the last one only.
#[test]
fn an_effect_that_one_season_carries_is_tested_nowhere() {
    let mut text = "season,week,period,tray,rooted,stuck\n".to_owned();
    for at in 0..72_usize {
        let (season, week) = (2023 + at / 24, at / 3 % 8);
        let period = if season < 2025 || week < 4 { "before" } else { "after" };
        text.push_str(&format!("{season},{season}w{week},{period},t{at},{},20\n", 5 + (7 * at + at * at / 5) % 12));
    }
    let trial = load(&text, &["period"], |options| options.block = Some("week".into()));
    assert_eq!(compared(&trial, "period", ("before", "after")).0, None);
    let model = trial.model(&ModelSpec::of(&["period"]), &Arc::new(Control::new())).unwrap();
    let tests = model.what_matters(None).unwrap();
    assert_eq!(tests.numbers.effects[0].p, None);
    let note = model.notes.iter().find(|note| note.code == "met_in_one_place").unwrap();
    assert!(note.text.contains("one of 3 levels of season only, 2025"), "{}", note.text);
    let told = model.contrasts("period", &ContrastOptions::default(), &Control::new()).unwrap();
    assert!(told.numbers.contrasts.iter().all(|one| one.p.is_none() && one.low.is_none()));
    let said = [vec![told.sentence.clone()], told.details.clone()].concat().join(" ");
    assert!(said.contains("period and season cannot be told apart"), "{said}");
    let rates = model.adjusted_rates("period", &RateOptions::default()).unwrap().numbers.rates;
    assert!(rates.iter().all(|one| one.value.is_some() && one.low.is_none()));
}
