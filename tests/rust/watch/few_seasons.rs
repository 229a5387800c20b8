//! What few seasons can tell: a season that is poor as a whole, limits of like kinds, plants given away.

use rootling::control::Control;
use rootling::watch::{
    BaselineOptions, BatchSpread, Drop, MixOptions, SignalOptions, Watch, WatchOptions, WeeklyDesign, read_csv,
};

fn design(season: f64, drop: Option<Drop>) -> WeeklyDesign {
    WeeklyDesign {
        seasons: 4,
        batches: 6,
        places: vec![0.0, 0.1, -0.1],
        cultivars: vec![0.0, 0.4, -0.4],
        spread: BatchSpread::Logit(0.35),
        week: 0.1,
        week_in_place: 0.1,
        season,
        drop,
        ..WeeklyDesign::default()
    }
}

/// Three seasons make the baseline.
fn three_seasons() -> BaselineOptions {
    BaselineOptions { until: Some(16_440 + 7 * 156 + 62), ..BaselineOptions::default() }
}

fn sentence(design: &WeeklyDesign, replicate: u64) -> String {
    let watch = Watch::new(design.draw(71, replicate), design.groupings());
    let control = Control::new();
    let baseline = watch.baseline(&three_seasons(), &control).unwrap();
    let options = SignalOptions { draws: 199, ..SignalOptions::default() };
    watch.signals(&baseline, &options, &control).unwrap().sentence
}

#[test]
fn an_ordinary_season_is_no_loss() {
    let ordinary = design(0.25, None);
    let said: Vec<String> = (0..40).map(|replicate| sentence(&ordinary, replicate)).collect();
    let lost = said.iter().filter(|one| one.contains(" lost ")).count();
    assert!(lost <= 6, "{lost} of 40: {said:#?}");
    assert!(said.iter().any(|one| one.contains("no more than seasons differ")), "{said:#?}");
}

#[test]
fn a_large_drop_within_a_season_is_told_all_the_same() {
    let dropped = design(0.1, Some(Drop { week: 156 + 14, by: -0.9, place: None }));
    let said: Vec<String> = (0..6).map(|replicate| sentence(&dropped, replicate)).collect();
    assert!(said.iter().all(|one| one.contains(" has lost ")), "{said:#?}");
}

#[test]
fn limits_of_like_kinds_hold_what_is_true_and_little_more() {
    // Nine kinds, set weeks as units. Without a change the estimates' own spread is what the limits should be made of.
    let quiet = design(0.0, None);
    let (from, confidence) = (16_440 + 7 * 156 + 62, 0.95);
    let (mut held, mut reach, mut squares) = (0, 0.0, 0.0);
    let crops = 60;
    for replicate in 0..crops {
        let watch = Watch::new(quiet.draw(73, replicate), quiet.groupings());
        let found = watch.mix(&MixOptions { from, confidence, ..MixOptions::default() }).unwrap().numbers;
        let (low, high) = (found.low.unwrap(), found.high.unwrap());
        held += u32::from(low <= 0.0 && 0.0 <= high);
        reach += 0.5 * (high - low) / crops as f64;
        squares += found.rates.powi(2) / crops as f64;
    }
    let ratio = reach / (1.96 * squares.sqrt());
    assert!(held >= 52 && (0.75..1.4).contains(&ratio), "{held} of {crops}, {ratio:.2}");
}

fn options() -> WatchOptions {
    let columns = WatchOptions::columns("started", "alive", "set", "read").with_batch(&["batch"]);
    WatchOptions { today: Some("2026-11-30".into()), removed: Some("sold".into()), ..columns }
}

#[test]
fn plants_known_to_be_gone_stay_gone() {
    let text = "batch,set,read,started,alive,sold\nb1,2026-01-05,2026-02-02,20,15,5\nb1,2026-01-05,2026-03-02,20,12,\n";
    let watch = read_csv(text.as_bytes(), &WatchOptions { reading_age: Some(56), ..options() }).unwrap();
    assert_eq!((watch.batches()[0].started, watch.batches()[0].alive), (15, 12));
    // What cannot be is told as before.
    let rises = text.replace("12,\n", "16,\n");
    assert!(read_csv(rises.as_bytes(), &options()).is_err());
}

#[test]
fn splits_hold_no_more_than_they_were_given() {
    let head = "batch,set,read,started,alive,sold,parent\n";
    let with_parent = WatchOptions { parent: Some("parent".into()), ..options() };
    let read = |rows: &str| read_csv(format!("{head}{rows}").as_bytes(), &with_parent);
    let parent = "p,2026-01-05,2026-03-02,20,20,0,\n";
    let error = read(&format!("{parent}c,2026-01-05,2026-03-02,30,30,0,p\n")).unwrap_err().to_string();
    assert!(error.contains("began with 30 plants, and \"p\", from which it was split, with 20 (row 2)"), "{error}");
    let codes =
        |rows: &str| -> Vec<String> { read(rows).unwrap().notes().iter().map(|note| note.code.clone()).collect() };
    assert!(codes(&format!("{parent}c,2026-01-05,2026-03-02,8,8,0,p\n")).contains(&"split_counted_twice".to_owned()));
    let told = "p,2026-01-05,2026-03-02,20,12,8,\nc,2026-01-05,2026-03-02,8,8,0,p\n";
    assert!(!codes(told).contains(&"split_counted_twice".to_owned()));
    assert!(codes("c,2026-01-05,2026-03-02,8,8,0,zz\n").contains(&"unknown_parents".to_owned()));
}

#[test]
fn two_lots_of_one_name_are_not_called_readings_of_one() {
    let text = "batch,room,set,read,started,alive\nb,A,2026-01-05,2026-03-02,20,18\nb,B,2026-01-05,2026-03-02,20,12\n";
    let columns =
        WatchOptions::columns("started", "alive", "set", "read").with_batch(&["batch"]).with_places(&["room"]);
    let error = read_csv(text.as_bytes(), &WatchOptions { today: Some("2026-11-30".into()), ..columns }).unwrap_err();
    assert!(error.to_string().contains("give each lot a batch name of its own"), "{error}");
}
