//! Trials and records pooled: what is said, of which seasons, and what stays out.

use rootling::prelude::*;
use rootling::seasons::{Measured, PoolOptions, Pooled, Season, average_as_one, pool};

/// A trial of two strengths, each in as many trays of 20 as counts are given.
pub(super) fn trial(first: &[u64], second: &[u64]) -> Trial {
    let mut csv = String::from("strength,tray,season,rooted,stuck\n");
    for (tray, rooted) in first.iter().chain(second).enumerate() {
        let strength = if tray < first.len() { 2500 } else { 5000 };
        csv += &format!("{strength},{tray},{},{rooted},20\n", 2000 + first.iter().sum::<u64>());
    }
    let mut options = LoadOptions::counts("rooted", "stuck").with_treatments(&["strength"]).with_tray("tray");
    options.season = Some("season".to_owned());
    options.strength = None;
    read_csv(csv.as_bytes(), &options).unwrap()
}

pub(super) fn years() -> Vec<Trial> {
    vec![
        trial(&[6, 8, 9, 7], &[15, 17, 14, 15]),
        trial(&[7, 7, 9, 10], &[13, 14, 13, 14]),
        trial(&[9, 8, 6, 8], &[12, 14, 15, 13]),
        trial(&[5, 9, 8, 7], &[9, 12, 10, 11]),
        trial(&[8, 10, 9, 11], &[14, 16, 18, 15]),
        trial(&[4, 6, 7, 5], &[10, 12, 9, 13]),
    ]
}

pub(super) fn asked() -> PoolOptions {
    PoolOptions { draws: 2000, ..PoolOptions::of("strength", ("2500", "5000")) }
}

fn pooled(trials: &[Trial]) -> Answer<Pooled> {
    let seasons: Vec<Season> = trials.iter().map(Season::of_trial).collect();
    pool(&seasons, &asked(), &Control::new()).unwrap()
}

#[test]
fn five_and_more_seasons_speak_of_a_new_one() {
    let found = pooled(&years());
    let numbers = &found.numbers;
    assert_eq!((numbers.n_seasons, numbers.provisional, numbers.these_alone), (6, false, false));
    assert_eq!(numbers.seasons[0].season, "2030");
    assert!(found.sentence.starts_with("Use strength 5000: over 6 seasons"), "{}", found.sentence);
    assert!(found.sentence.split_whitespace().count() <= 30);
    let (low, high) = (numbers.new_low.unwrap(), numbers.new_high.unwrap());
    assert!(low <= numbers.low && numbers.high <= high);
    assert_rel!(numbers.seasons.iter().map(|one| one.weight).sum::<f64>(), 1.0, 1e-12);
    assert!(numbers.seasons.iter().all(|one| one.without.is_some() && one.p_adjusted.is_some()));
    assert_eq!(found.table.columns[0].values.len(), 8);
    assert_eq!(found.made_with.seed, Some(1));
}

#[test]
fn limits_are_never_narrower_than_without_seasons() {
    for count in 3..=6 {
        let found = pooled(&years()[..count]).numbers;
        let measured: Vec<Measured> = found
            .seasons
            .iter()
            .map(|one| Measured { value: one.value, variance: one.se * one.se, df: one.df })
            .collect();
        let as_one = average_as_one(&measured, 0.95);
        assert!(found.high - found.low >= (as_one.high - as_one.low) * (1.0 - 1e-12));
        assert_eq!(found.provisional, count < 5);
    }
}

#[test]
fn two_seasons_make_no_claim_about_another() {
    let found = pooled(&years()[..2]);
    let numbers = &found.numbers;
    assert!(numbers.these_alone && numbers.new_low.is_none() && numbers.spread.is_none());
    assert!(found.sentence.starts_with("Over these 2 seasons strength 5000 brought"), "{}", found.sentence);
    assert!(found.sentence.ends_with("two seasons tell nothing of a new one."));
    assert_eq!(found.notes[0].code, "two_seasons");
    assert_eq!(found.made_with.seed, None);
    assert_eq!(found.table.columns[0].values.len(), 3);
}

#[test]
fn records_pool_as_their_trials_do() {
    let trials = years();
    let compare = |trial: &Trial| {
        let options = CompareOptions::default();
        let found = trial.compare("strength", ("2500", "5000"), &options, &Control::new()).unwrap();
        // As a record that was kept; its numbers may change in the last digit.
        let text = serde_json::to_string(&found).unwrap();
        serde_json::from_str::<Answer<rootling::compare::Comparison>>(&text).unwrap()
    };
    let records: Vec<_> = trials.iter().map(compare).collect();
    let names = ["a", "b", "c", "d", "e", "f"];
    let of_records: Vec<Season> =
        records.iter().zip(names).map(|(one, name)| Season::of_comparison(one).named(name)).collect();
    let of_trials: Vec<Season> =
        trials.iter().zip(names).map(|(one, name)| Season::of_trial(one).named(name)).collect();
    let plain = PoolOptions { treatment: None, levels: None, ..asked() };
    let one = pool(&of_records, &plain, &Control::new()).unwrap();
    let other = pool(&of_trials, &asked(), &Control::new()).unwrap();
    for (got, want) in one.numbers.seasons.iter().zip(&other.numbers.seasons) {
        assert_eq!((&got.season, &got.data_fingerprint), (&want.season, &want.data_fingerprint));
        assert_rel!(got.weight, want.weight, 1e-9);
        assert_rel!(got.p.unwrap(), want.p.unwrap(), 1e-9);
    }
    assert_rel!(one.numbers.low, other.numbers.low, 1e-9);
    assert_rel!(one.numbers.new_high.unwrap(), other.numbers.new_high.unwrap(), 1e-9);
    assert_eq!(one.made_with.data_fingerprint, other.made_with.data_fingerprint);
}

#[test]
fn the_order_of_levels_turns_all_of_it() {
    let trials = years();
    let seasons: Vec<Season> = trials.iter().map(Season::of_trial).collect();
    let turned = PoolOptions { levels: Some(("5000".to_owned(), "2500".to_owned())), ..asked() };
    let (one, other) =
        (pool(&seasons, &asked(), &Control::new()).unwrap(), pool(&seasons, &turned, &Control::new()).unwrap());
    assert_rel!(one.numbers.value, -other.numbers.value, 1e-9);
    assert_rel!(one.numbers.low, -other.numbers.high, 1e-9);
    assert_rel!(one.numbers.changes.p, other.numbers.changes.p, 1e-9);
    assert!(other.sentence.starts_with("Use strength 5000: "), "{}", other.sentence);
}

#[test]
fn a_season_without_limits_is_listed() {
    let mut trials = years();
    trials.truncate(3);
    trials.push(trial(&[9], &[13]));
    let found = pooled(&trials);
    assert_eq!((found.numbers.n_seasons, found.numbers.left_out.len()), (3, 1));
    assert_eq!(found.numbers.left_out[0].season, "2009");
    assert!(found.notes.iter().any(|note| note.code == "season_left_out"));
    assert!(found.details.iter().any(|line| line.starts_with("Season 2009 does not enter")));
}

#[test]
fn what_is_left_out_alone_may_carry_the_claim() {
    let found = pooled(&years());
    let line = found.details.iter().find(|line| line.starts_with("With one season left out")).unwrap();
    assert!(line.ends_with("whether a difference is shown hangs on none of them."), "{line}");
}

#[test]
fn seasons_that_agree_too_well_are_not_taken_at_their_word() {
    let second = [15, 14, 16, 15];
    let trials: Vec<Trial> = (0..6).map(|at| trial(&[8 + at % 2, 10, 9 + at, 13 - at - at % 2], &second)).collect();
    let seasons: Vec<Season> = trials
        .iter()
        .zip(["a", "b", "c", "d", "e", "f"])
        .map(|(one, name)| Season::of_trial(one).named(name))
        .collect();
    let found = pool(&seasons, &asked(), &Control::new()).unwrap();
    assert_eq!(found.numbers.spread_high, Some(0.0));
    assert!(found.sentence.starts_with("Leaning to strength 5000"), "{}", found.sentence);
    assert!(found.notes.iter().any(|note| note.code == "seasons_too_alike"));
}
