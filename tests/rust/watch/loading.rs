//! A record of batches, read and checked.

use rootling::Error;
use rootling::error::Issue;
use rootling::watch::{Watch, WatchOptions, day_of, read_csv, shown_day, shown_week};

fn options() -> WatchOptions {
    let columns = WatchOptions::columns("started", "alive", "set", "read");
    let columns = columns.with_batch(&["batch"]).with_cultivars(&["stock"]).with_places(&["room"]);
    WatchOptions { today: Some("2026-11-30".into()), ..columns }
}

fn rows(lines: &[&str]) -> String {
    format!("batch,stock,room,set,read,started,alive\n{}\n", lines.join("\n"))
}

fn load(lines: &[&str]) -> rootling::Result<Watch> {
    read_csv(rows(lines).as_bytes(), &options())
}

fn issues(lines: &[&str]) -> Vec<Issue> {
    match load(lines) {
        Err(Error::Record(record)) => record.issues,
        other => panic!("{other:?}"),
    }
}

fn codes(lines: &[&str]) -> Vec<String> {
    issues(lines).into_iter().map(|issue| issue.code).collect()
}

const GOOD: &str = "b1,K12,A,2026-01-05,2026-03-02,15,13";

#[test]
fn days_and_weeks_are_those_of_the_calendar() {
    assert_eq!(day_of("1970-01-01"), Some(0));
    assert_eq!(day_of("2026-11-30"), Some(20_787));
    assert_eq!(shown_day(20_787), "2026-11-30");
    // ISO 8601: 1 January 2027 lies in week 53 of 2026.
    assert_eq!(shown_week(day_of("2027-01-01").unwrap()), "week 53 of 2026");
    for wrong in ["", "2026-02-30", "30.11.2026", "46356", "today"] {
        assert_eq!(day_of(wrong), None, "{wrong}");
    }
}

#[test]
fn the_reading_at_the_usual_age_counts() {
    let watch = load(&[
        "b1,K12,A,2026-01-05,2026-02-02,15,15",
        "b1,K12,A,2026-01-05,2026-03-02,15,13",
        "b2,K12,B,2026-01-06,2026-03-03,15,12",
        "b3,K17,B,2026-08-03,2026-08-20,15,15",
    ])
    .unwrap();
    assert_eq!(watch.reading_age(), Some(56));
    let seen: Vec<(&str, u64)> = watch.batches().iter().map(|batch| (batch.name.as_str(), batch.alive)).collect();
    assert_eq!(seen, [("b1", 13), ("b2", 12)]);
    let aside = watch.set_aside();
    assert_eq!(aside.len(), 1);
    assert_eq!((aside[0].code.as_str(), aside[0].row), ("not_due", Some(5)));
}

#[test]
fn every_problem_is_told_at_once_with_its_row() {
    let found = issues(&[
        "b1,K12,A,2026-01-05,2026-03-02,15,16",
        "b2,K12,A,2026-01-05,2025-03-02,15,13",
        "b3,K12,A,2026-01-05,2027-03-02,15,13",
        "b4,K12,A,2026-01-05,2026-03-02,15,87 %",
        "b5,K12,A,46027,2026-03-02,15,13",
        "b6,K12,,2026-01-05,2026-03-02,15,13",
        "b7,K12,A,2026-01-05,2026-03-02,0,0",
        "b8,K12,A,2026-01-05,2026-03-02,15,twelve",
        "b9,K12,A,2026-01-05,2026-03-02,15,0.87",
        "b10,K12,A,2026-01-05,2026-03-02,15,-1",
    ]);
    let told: Vec<(u64, &str)> = found.iter().map(|issue| (issue.row.unwrap(), issue.code.as_str())).collect();
    let want = [
        (2, "alive_above_started"),
        (3, "read_before_set"),
        (4, "future_date"),
        (5, "percent_for_count"),
        (6, "no_date"),
        (7, "missing_level"),
        (8, "none_started"),
        (9, "no_number"),
        (10, "not_whole"),
        (11, "negative_count"),
    ];
    assert_eq!(told, want);
}

#[test]
fn readings_of_a_batch_have_to_agree() {
    let pair = |line: &str| codes(&[GOOD, line]);
    assert_eq!(pair("b1,K12,A,2026-01-06,2026-04-02,15,13"), ["batch_set_twice"]);
    assert_eq!(pair("b1,K12,A,2026-01-05,2026-03-02,15,13"), ["read_twice"]);
    assert_eq!(pair("b1,K12,B,2026-01-05,2026-04-02,15,13"), ["batch_in_two_places"]);
    assert_eq!(pair("b1,K12,A,2026-01-05,2026-04-02,16,13"), ["started_differs"]);
    assert_eq!(pair("b1,K12,A,2026-01-05,2026-04-02,15,14"), ["alive_rises"]);
    assert_eq!(pair("B-1,K12,A,2026-01-05,2026-04-02,15,14"), ["similar_batches"]);
}

#[test]
fn a_gap_is_never_nought() {
    let watch = load(&[GOOD, "b2,K12,A,2026-01-05,2026-03-02,15,"]).unwrap();
    assert_eq!(watch.batches().len(), 1);
    assert_eq!(watch.set_aside()[0].code, "not_read");
}

#[test]
fn the_order_of_day_and_month_is_shown_or_asked_for() {
    let shown = load(&["b1,K12,A,05.01.2026,31.03.2026,15,13"]).unwrap();
    assert_eq!(shown_day(shown.batches()[0].set), "2026-01-05");
    assert_eq!(codes(&["b1,K12,A,05/01/2026,04/03/2026,15,13"]), ["day_or_month_first"]);
    assert_eq!(
        codes(&["b1,K12,A,05/01/2026,31/03/2026,15,13", "b2,K12,A,01/20/2026,04/03/2026,15,13"])[0],
        "mixed_dates"
    );
    let said = WatchOptions { day_first: Some(false), ..options() };
    let month = read_csv(rows(&["b1,K12,A,01/05/2026,03/04/2026,15,13"]).as_bytes(), &said).unwrap();
    assert_eq!(shown_day(month.batches()[0].set), "2026-01-05");
}

#[test]
fn plants_taken_away_alive_are_no_deaths() {
    let text = "batch,set,read,started,alive,sold,status\nb1,2026-01-05,2026-03-02,15,10,4,read\nb2,2026-01-05,2026-03-02,15,10,,sampled\n";
    let columns = WatchOptions::columns("started", "alive", "set", "read").with_batch(&["batch"]);
    let options = WatchOptions { removed: Some("sold".into()), status: Some("status".into()), ..columns };
    let watch = read_csv(text.as_bytes(), &options).unwrap();
    assert_eq!((watch.batches()[0].started, watch.batches()[0].alive), (11, 10));
    assert_eq!(watch.set_aside()[0].code, "sampled");
    let unknown = text.replace("sampled", "gone");
    assert!(read_csv(unknown.as_bytes(), &options).unwrap_err().to_string().contains("gone"));
}

#[test]
fn a_grafter_for_each_room_is_said() {
    let lines = [
        "b1,K12,A,2026-01-05,2026-03-02,15,13",
        "b2,K17,B,2026-01-05,2026-03-02,15,13",
        "b3,K17,B,2026-01-12,2026-03-09,15,12",
    ];
    let watch = load(&lines).unwrap();
    assert_eq!(watch.notes().iter().map(|note| note.code.as_str()).collect::<Vec<_>>(), ["confounded"]);
}

#[test]
fn wrong_columns_are_named() {
    let wrong = WatchOptions { alive: "living".into(), ..options() };
    let error = read_csv(rows(&[GOOD]).as_bytes(), &wrong).unwrap_err().to_string();
    assert!(error.contains("living") && error.contains("alive"), "{error}");
    let twice = WatchOptions { alive: "started".into(), ..options() };
    assert!(read_csv(rows(&[GOOD]).as_bytes(), &twice).unwrap_err().to_string().contains("both as started"));
    let month = WatchOptions { season_begins: Some(13), ..options() };
    assert!(read_csv(rows(&[GOOD]).as_bytes(), &month).is_err());
}

#[test]
fn split_batches_say_what_their_parent_may_cost() {
    let lines = ["c1,K12,A,2026-01-05,2026-03-02,10,9,p", "c2,K12,B,2026-01-05,2026-03-02,10,8,p"];
    let text = format!("batch,stock,room,set,read,started,alive,parent\n{}\n", lines.join("\n"));
    let with_parent = WatchOptions { parent: Some("parent".to_owned()), ..options() };
    let watch = read_csv(text.as_bytes(), &with_parent).unwrap();
    let note = watch.notes().iter().find(|note| note.code == "split_batches").unwrap();
    // 20 (1 + 19 x 0.05) = 39 over 2 x 10 (1 + 9 x 0.05) = 29: a root of 1.16.
    assert!(note.text.contains("16 % larger"), "{}", note.text);
}
