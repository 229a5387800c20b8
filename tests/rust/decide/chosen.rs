//! What is chosen, how it is said, and what turns it.

use std::collections::BTreeMap;

use rootling::decide::{ChooseOptions, Days, LevelChoice, SeasonsPooled, TrialToCome, TurnsOn, choose};
use rootling::prelude::*;

fn loaded(csv: &str, change: impl Fn(&mut LoadOptions)) -> Trial {
    let mut options = LoadOptions::counts("rooted", "stuck").with_treatments(&["strength"]).with_tray("tray");
    change(&mut options);
    read_csv(csv.as_bytes(), &options).unwrap()
}

/// Trays of 20 at each strength.
fn rows(levels: &[(u32, &[u64])]) -> String {
    let mut csv = String::from("strength,tray,rooted,stuck\n");
    let all = levels.iter().flat_map(|(level, rooted)| rooted.iter().map(move |rooted| (level, rooted)));
    for (tray, (level, rooted)) in all.enumerate() {
        csv += &format!("{level},{tray},{rooted},20\n");
    }
    csv
}

pub(super) fn trial() -> Trial {
    loaded(&rows(&[(2500, &[9, 11, 10, 12, 8, 10]), (5000, &[12, 13, 10, 14, 12, 11])]), |_| {})
}

pub(super) fn few() -> Trial {
    loaded(&rows(&[(2500, &[7, 10, 9]), (5000, &[12, 15, 14])]), |_| {})
}

fn three() -> Trial {
    let levels: [(u32, &[u64]); 3] = [(0, &[2, 3, 1, 4]), (2500, &[9, 11, 10, 12]), (5000, &[12, 13, 10, 14])];
    loaded(&rows(&levels), |_| {})
}

/// Six benches that differ much, with a tray of each strength.
pub(super) fn benches() -> Trial {
    let mut csv = String::from("strength,tray,bench,rooted,stuck\n");
    let counts = [(4, 7), (13, 16), (9, 12), (6, 7), (15, 17), (10, 14)];
    for (bench, (first, second)) in counts.into_iter().enumerate() {
        csv += &format!("2500,{0}a,{0},{first},20\n5000,{0}b,{0},{second},20\n", bench + 1);
    }
    loaded(&csv, |options| options.block = Some("bench".to_owned()))
}

/// Eight bays, each with two trays of its one strength.
pub(super) fn bays() -> Trial {
    let mut csv = String::from("strength,tray,bay,rooted,stuck\n");
    let counts = [(2500, 8, 9), (2500, 11, 12), (2500, 9, 7), (2500, 10, 12)];
    let others = [(5000, 13, 15), (5000, 11, 12), (5000, 14, 16), (5000, 12, 11)];
    for (bay, (level, one, other)) in counts.into_iter().chain(others).enumerate() {
        csv += &format!("{level},{0}a,{0},{one},20\n{level},{0}b,{0},{other},20\n", bay + 1);
    }
    loaded(&csv, |options| options.whole_plot = Some("bay".to_owned()))
}

pub(super) fn asked() -> ChooseOptions {
    ChooseOptions {
        per_tray: Some(1.0),
        of_level: BTreeMap::from([("5000".to_owned(), 0.02)]),
        saleable: 0.8,
        ..ChooseOptions::of(3.0, 20_000.0, 0.4)
    }
}

const NEXT: Option<TrialToCome> = Some(TrialToCome { trays: 8, cuttings: 20, cost: 500.0 });

fn found(trial: &Trial, options: &ChooseOptions) -> Answer<LevelChoice> {
    choose(trial, "strength", options, &Control::new()).unwrap()
}

#[test]
fn the_best_is_named_with_its_chance() {
    let told = found(&three(), &ChooseOptions { seasons: 3, season_sd: Some(0.3), next_trial: NEXT, ..asked() });
    let numbers = &told.numbers;
    assert_eq!((numbers.best.as_str(), numbers.runner_up.as_str()), ("5000", "2500"));
    assert!(numbers.low < numbers.value && numbers.value < numbers.high);
    assert_rel!(numbers.levels.iter().map(|level| level.chance_best).sum::<f64>(), 1.0, 1e-12);
    let best = &numbers.levels[2];
    assert_eq!((best.behind, best.behind_low, best.chance_best), (0.0, None, numbers.chance_best));
    assert_rel!(best.loss, numbers.perfect_knowledge, 1e-12);
    // What a level is expected to lose is what the best loses, and what it lies behind over three seasons.
    for level in &numbers.levels {
        assert_rel!(level.loss, best.loss + 3.0 * level.behind, 1e-9);
    }
    let next = numbers.next_trial.as_ref().unwrap();
    assert!(next.value > 0.0 && next.value < numbers.perfect_knowledge * 2.0 / 3.0, "{next:?}");
    assert_rel!(next.net, next.value - 500.0, 1e-12);
    assert_eq!(next.seasons_left, 2);
    assert!(told.sentence.split_whitespace().count() <= 30, "{}", told.sentence);
}

fn iba(levels: &[(u32, &[u64])]) -> Trial {
    loaded(&rows(levels), |options| options.strength = Some(Strength::new("IBA", "mg/L").unwrap()))
}

#[test]
fn sentences() {
    let clear: [(u32, &[u64]); 2] = [(2500, &[6, 7, 5, 8, 6, 7]), (5000, &[14, 15, 13, 16, 14, 15])];
    let near: [(u32, &[u64]); 2] = [(2500, &[9, 11, 10, 12, 8, 10]), (5000, &[12, 13, 10, 14, 12, 11])];
    let money = |options: ChooseOptions| ChooseOptions { money: Some("EUR".to_owned()), ..options };
    let three = ChooseOptions { seasons: 3, next_trial: NEXT, ..asked() };
    let starts = |trial: &Trial, options: ChooseOptions, start: &str, end: &str| {
        let told = found(trial, &options).sentence;
        assert!(told.starts_with(start) && told.ends_with(end), "{told}");
        assert!(told.split_whitespace().count() <= 30, "{told}");
    };
    let use_it = "Use 5000 mg/L IBA: ";
    starts(&iba(&clear), money(three.clone()), use_it, " costs 500: do not wait.");
    starts(&iba(&clear), asked(), use_it, "best in over 99 of 100.");
    starts(&iba(&clear), ChooseOptions { next_trial: NEXT, ..asked() }, use_it, "; another trial would come too late.");
    starts(&iba(&near), asked(), "Leaning to 5000 mg/L IBA: ", " of 100.");
    let cheap = ChooseOptions { next_trial: Some(TrialToCome { trays: 8, cuttings: 20, cost: 20.0 }), ..three };
    starts(&few(), cheap, "Try again first: a trial worth ", ").");
    let bare = loaded(&rows(&clear).replace("tray", "lot"), |options| options.tray = None);
    let of_trays = ChooseOptions { cuttings_per_tray: Some(20.0), ..asked() };
    starts(&bare, of_trays, "Only a hint, limits too narrow: strength 5000 brings ", "100.");
    let low = ChooseOptions { price: 0.2, ..asked() };
    starts(&iba(&clear), low, "No level pays: 5000 mg/L IBA loses least, ", "100.");
}

#[test]
fn a_choice_without_trays_or_apart_in_places_is_a_hint() {
    let bare = loaded(&rows(&[(2500, &[9, 11]), (5000, &[15, 16])]), |options| options.tray = None);
    let told = found(&bare, &ChooseOptions { cuttings_per_tray: Some(20.0), ..asked() });
    assert!(told.notes.iter().any(|note| note.code == "no_tray_information"));
    assert_eq!((told.numbers.unit.as_str(), told.numbers.df), ("cutting", None));
    // One bay of each strength: the difference may be one between bays.
    let csv = "strength,tray,bay,rooted,stuck\n2500,a,1,9,20\n2500,b,1,11,20\n5000,c,2,15,20\n5000,d,2,14,20\n";
    let told = found(&loaded(csv, |options| options.whole_plot = Some("bay".to_owned())), &asked());
    assert!(told.sentence.starts_with("Only a hint, levels not told apart: "), "{}", told.sentence);
    assert!(told.notes.iter().any(|note| note.code == "levels_not_apart") && told.numbers.withheld.is_some());
}

#[test]
fn seasons_widen_what_is_known() {
    let one = found(&trial(), &asked());
    assert!(one.notes.iter().any(|note| note.code == "seasons_like_this_one"));
    let moved = found(&trial(), &ChooseOptions { season_sd: Some(0.4), ..asked() });
    assert!(!moved.notes.iter().any(|note| note.code == "seasons_like_this_one"));
    let (one, moved) = (one.numbers, moved.numbers);
    assert!(moved.high - moved.low > 1.3 * (one.high - one.low));
    assert!(moved.chance_best < one.chance_best);
    // Means of more seasons move less, but for what the season of the trial leaves open.
    let many = found(&trial(), &ChooseOptions { season_sd: Some(0.4), seasons: 10, ..asked() }).numbers;
    assert!(many.high - many.low < moved.high - moved.low && many.high - many.low > one.high - one.low);
    assert_eq!(moved.sensitivity.iter().filter(|at| at.what == TurnsOn::SeasonSd).count(), 2);
}

#[test]
fn a_spread_of_seasons_pooled_becomes_one_of_log_odds() {
    let spread = |spread, n_seasons| SeasonsPooled {
        treatment: "strength".to_owned(),
        first: "2500".to_owned(),
        second: "5000".to_owned(),
        n_seasons,
        spread,
    };
    let options = ChooseOptions { pooled: Some(spread(Some(0.06), 5)), ..asked() };
    let sd = found(&trial(), &options).numbers.season_sd.unwrap();
    // 60 and 72 of 120: slopes p (1 - p) of (60.5, 72.5) / 121.
    let slope = |rooted: f64| rooted / 121.0 * (1.0 - rooted / 121.0);
    assert_rel!(sd, 0.06 / slope(60.5).hypot(slope(72.5)), 1e-12);
}

#[test]
fn the_choice_turns_where_gains_are_alike() {
    let options = ChooseOptions { of_level: BTreeMap::from([("5000".to_owned(), 0.15)]), ..asked() };
    let numbers = found(&trial(), &options).numbers;
    let level = |name: &str| numbers.levels.iter().find(|level| level.level == name).unwrap();
    let price = numbers.break_even.iter().find(|one| one.what == TurnsOn::Price).unwrap();
    let gain = |name: &str, price: f64| 0.8 * price * level(name).take_expected - level(name).cost;
    assert_rel!(gain("2500", price.at), gain("5000", price.at), 1e-10);
    assert!(!price.above && price.at < 3.0 && price.instead == "2500");
    for one in numbers.break_even.iter().filter(|one| one.what == TurnsOn::Cost) {
        let moved = one.at - level(one.level.as_ref().unwrap()).cost;
        assert_rel!(moved.abs() * 20_000.0, numbers.value, 1e-10);
    }
    // Just below that price the other level is chosen.
    let below = ChooseOptions { price: 0.99 * price.at, ..options };
    assert_eq!(found(&trial(), &below).numbers.best, "2500");
    let half = numbers.sensitivity.iter().find(|at| at.what == TurnsOn::Price).unwrap();
    assert_rel!(half.at, 1.5, 1e-12);
    assert_eq!(half.changes, price.at > 1.5);
}

#[test]
fn darkness_costs_by_the_day() {
    let csv = rows(&[(14, &[9, 11, 10, 12]), (28, &[12, 13, 10, 14])]).replace("strength", "dark_days");
    let options = LoadOptions::counts("rooted", "stuck").with_treatments(&["dark_days"]).with_tray("tray");
    let trial = read_csv(csv.as_bytes(), &options).unwrap();
    let asked = ChooseOptions { per_day: Some(0.1), ..ChooseOptions::of(3.0, 20_000.0, 0.4) };
    let numbers = choose(&trial, "dark_days", &asked, &Control::new()).unwrap().numbers;
    // A tray's day over 20 cuttings.
    assert_rel!(numbers.levels[0].cost, 0.4 + 14.0 * 0.1 / 20.0, 1e-12);
    assert_rel!(numbers.levels[1].cost, 0.4 + 28.0 * 0.1 / 20.0, 1e-12);
    let days = Some(Days::ByLevel(BTreeMap::from([("14".to_owned(), 10.0), ("28".to_owned(), 0.0)])));
    let given = ChooseOptions { days, cuttings_per_tray: Some(10.0), ..asked };
    let numbers = choose(&trial, "dark_days", &given, &Control::new()).unwrap().numbers;
    assert_rel!(numbers.levels[0].cost, 0.4 + 10.0 * 0.1 / 10.0, 1e-12);
    assert_rel!(numbers.levels[1].cost, 0.4, 1e-12);
}

#[test]
fn a_saleable_share_with_limits_widens_gains() {
    let plain = found(&trial(), &asked()).numbers;
    let open = found(&trial(), &ChooseOptions { saleable_limits: Some((0.6, 0.9)), ..asked() }).numbers;
    let (one, other) = (&plain.levels[1], &open.levels[1]);
    assert!(other.high - other.low > one.high - one.low);
    // The lead is of one sign whatever comes to sale, so its limits hardly move beside it.
    assert!((open.chance_best - plain.chance_best).abs() < 0.02);
}

#[test]
fn a_next_trial_is_worth_what_sums_say() {
    // tests/reference/make/next_trial.py, numpy 2 and scipy 1.17: Gauss sums over both takes and the spread, plain ones over both counts.
    for (trial, wanted) in [(trial(), 77.09), (few(), 104.4)] {
        let options = ChooseOptions { seasons: 2, next_trial: NEXT, draws: 100_000, ..asked() };
        let next = found(&trial, &options).numbers.next_trial.unwrap();
        let off = (next.value - wanted).abs();
        assert!(off < 3.5 * next.value_error && next.value_error < 0.05 * wanted, "{next:?} of {wanted}");
    }
}

#[test]
fn a_larger_trial_is_worth_more_and_none_more_than_knowing() {
    let worth = |trays: u64| {
        let next_trial = Some(TrialToCome { trays, cuttings: 20, cost: 500.0 });
        let options = ChooseOptions { seasons: 4, season_sd: Some(0.2), next_trial, draws: 20_000, ..asked() };
        found(&trial(), &options).numbers
    };
    let all: Vec<LevelChoice> = [2, 8, 100].map(worth).to_vec();
    let value = |at: usize| all[at].next_trial.as_ref().unwrap().value;
    assert!(value(0) < value(1) && value(1) < value(2), "{} {} {}", value(0), value(1), value(2));
    // Three of the four seasons are left after it, and its own season moves what it shows.
    assert!(value(2) < 0.75 * all[2].perfect_knowledge);
}

#[test]
fn the_same_seed_says_the_same() {
    let options = ChooseOptions { seasons: 3, season_sd: Some(0.3), next_trial: NEXT, ..asked() };
    assert_eq!(found(&three(), &options), found(&three(), &options));
    let other = found(&three(), &ChooseOptions { seed: 2, ..options.clone() }).numbers;
    let one = found(&three(), &options).numbers;
    assert!(
        one.low != other.low && (one.value - other.value).abs() < 0.02 * one.value,
        "{} {}",
        one.value,
        other.value
    );
}
