//! Visits as people write them.

use rootling::error::{Error, Issue};
use rootling::steps::{Visits, VisitsOptions, read_visits};
use rootling::trial::BadRows;

fn options() -> VisitsOptions {
    VisitsOptions { sampled: Some("taken".to_owned()), ..VisitsOptions::counts("tray", "day", "started", "rooted") }
        .with_dead("dead")
        .with_treatments(&["dip"])
}

fn issues(text: &str, options: &VisitsOptions) -> Vec<Issue> {
    let Err(Error::Data(data)) = read_visits(text.as_bytes(), options) else { panic!("this should not load") };
    data.issues
}

fn codes(text: &str, options: &VisitsOptions) -> Vec<(String, Option<u64>, Option<String>)> {
    issues(text, options).into_iter().map(|issue| (issue.code, issue.row, issue.column)).collect()
}

fn read(text: &str, options: &VisitsOptions) -> Visits {
    read_visits(text.as_bytes(), options).unwrap()
}

#[test]
fn all_problems_are_told_at_once() {
    let text = "tray,day,started,rooted,dead,taken,dip\n\
        a,14,20,5,0,0,no\n\
        a,21,20,3,0,0,no\n\
        a,28,20,9,0,0,yes\n\
        a,28,20,9,14,0,no\n\
        b,week 3,20,4,0,0,no\n\
        b,-7,20,4,0,0,no\n\
        b,14,20,four,0,0,no\n\
        b,14,20,20 %,0,0,no\n\
        b,14,0,0,0,0,no\n\
        b,14,20,4,0,0,\n\
        b,14,20,4,0,0,no\n\
        b,14,20,4,0,0,no\n\
        b,21,25,4,0,0,no\n\
        b,0,20,1,0,0,no\n\
        b,28,20,2.5,,0,no\n";
    let told = |code: &str, row: u64, column: &str| (code.to_owned(), Some(row), Some(column.to_owned()));
    let wanted = [
        told("falls_over_time", 3, "rooted"),
        told("tray_of_two_kinds", 4, "dip"),
        told("above_started", 5, "dead"),
        told("no_day", 6, "day"),
        told("no_day", 7, "day"),
        told("no_number", 8, "rooted"),
        told("percent_for_count", 9, "rooted"),
        told("none_started", 10, "started"),
        told("missing_level", 11, "dip"),
        told("visited_twice", 13, "day"),
        told("started_differs", 14, "started"),
        told("before_setting", 15, "day"),
        told("not_whole", 16, "rooted"),
        told("missing_count", 16, "dead"),
    ];
    assert_eq!(codes(text, &options()), wanted);
    let falls = &issues(text, &options())[0];
    assert_eq!((falls.value.as_deref(), falls.paste.as_deref()), (Some("3"), Some("leave_out=[3]")));
    assert_eq!(
        falls.to_string(),
        "row 3, column \"rooted\": tray \"a\" falls from 5 rooted on day 14 (row 2) to 3 on day 21; counts are so far, so they never fall; correct one of the two, or leave this row out: leave_out=[3]"
    );
    // Without the rows that cannot be used a single visit is left.
    let lenient = VisitsOptions { bad_rows: BadRows::SetAside, ..options() };
    assert_eq!(codes(text, &lenient).last().unwrap().0, "one_visit");
}

#[test]
fn sound_visits_are_held() {
    let text = "tray,day,started,rooted,dead,taken,dip\n\
        a,28,20,9,2,1,no\na,0,20,0,0,0,no\na,14,20,5,1,0,no\nb,14,20,8,0,0,yes\nb,28,20,12,1,0,yes\n";
    let visits = read(text, &options());
    assert_eq!(visits.days(), [14, 28]);
    assert_eq!(visits.trays()[0].started, 20);
    let rows: Vec<(String, u64, f64, f64, f64)> =
        visits.rows().into_iter().map(|row| (row.tray, row.day, row.at_risk, row.rooted, row.dead)).collect();
    assert_eq!(
        rows,
        [
            ("a".to_owned(), 14, 20.0, 5.0, 1.0),
            ("a".to_owned(), 28, 14.0, 4.0, 1.0),
            ("b".to_owned(), 14, 20.0, 8.0, 0.0),
            ("b".to_owned(), 28, 12.0, 4.0, 1.0),
        ]
    );
    // The order of rows does not matter.
    let mut lines: Vec<&str> = text.lines().collect();
    lines[1..].reverse();
    assert_eq!(read(&lines.join("\n"), &options()).fingerprint(), visits.fingerprint());
}

#[test]
fn records_without_times_are_refused() {
    let counts = VisitsOptions::counts("tray", "day", "started", "rooted");
    let code = |text: &str, options: &VisitsOptions| issues(text, options)[0].code.clone();
    assert_eq!(code("tray,day,started,rooted\na,42,20,5\nb,42,20,9\n", &counts), "one_visit");
    assert_eq!(code("tray,day,started,rooted\na,14,20,0\na,42,20,0\n", &counts), "nothing_happened");
    assert_eq!(code("tray,day,started,rooted\n,,,\n", &counts), "no_usable_rows");
    assert_eq!(code("tray,day,started,roted\na,14,20,0\na,42,20,0\n", &counts), "unknown_column");
    let twice = VisitsOptions { dead: Some("rooted".to_owned()), ..counts.clone() };
    assert_eq!(code("tray,day,started,rooted\na,14,20,0\na,42,20,0\n", &twice), "column_in_two_roles");
    let neither = VisitsOptions { started: None, ..counts.clone() };
    let told = read_visits(b"tray,day,rooted\na,14,20\n", &neither).unwrap_err().to_string();
    assert!(told.contains("one row per tray and visit"), "{told}");
    let alike = "tray,day,started,rooted,dip\na,14,20,1,Yes\na,28,20,3,Yes\nb,14,20,2,yes\nb,28,20,3,yes\n";
    let asked = counts.clone().with_treatments(&["dip"]);
    assert_eq!(code(alike, &asked), "similar_levels");
    assert!(
        read_visits(alike.as_bytes(), &VisitsOptions { checked: vec!["similar_levels".to_owned()], ..asked }).is_ok()
    );
    // All rooted at the first visit, seen at two: that is a record.
    assert!(read_visits(b"tray,day,started,rooted\na,14,20,20\na,28,20,20\n", &counts).is_ok());
}

#[test]
fn plants_one_by_one_come_to_the_same_as_their_counts() {
    let mut text = "plant,tray,last,day,became,dip\n".to_owned();
    let told = [
        ("a", 5, "0", "14", "rooted", "no"),
        ("a", 1, "0", "14", "dead", "no"),
        ("a", 4, "14", "28", "Rooted", "no"),
        ("a", 10, "28", "28", "", "no"),
        ("b", 8, "0", "14", "rooted", "yes"),
        ("b", 12, "", "28", "young", "yes"),
    ];
    let rows = told.iter().flat_map(|one| std::iter::repeat_n(one, one.1));
    for (at, (tray, _, last, day, became, dip)) in rows.enumerate() {
        text.push_str(&format!("{at},{tray},{last},{day},{became},{dip}\n"));
    }
    let of_plants = VisitsOptions {
        tray: Some("tray".to_owned()),
        plant: Some("plant".to_owned()),
        ..VisitsOptions::plants("last", "day", "became").with_treatments(&["dip"])
    };
    let counts = "tray,day,started,rooted,dead,taken,dip\n\
        a,14,20,5,1,0,no\na,28,20,9,1,0,no\nb,14,20,8,0,0,yes\nb,28,20,8,0,0,yes\n";
    let (plants, counts) = (read(&text, &of_plants), read(counts, &options()));
    assert_eq!(plants.rows(), counts.rows());
    let wrong = "plant,tray,last,day,became,dip\n1,a,14,14,rooted,no\n2,a,0,14,rotten,no\n3,a,,14,dead,no\n\
        4,a,0,14,dead,yes\n4,b,0,14,dead,yes\n4,b,0,14,dead,yes\n5,a,0,14,dead,no\n";
    let told: Vec<(String, Option<u64>)> = codes(wrong, &of_plants).into_iter().map(|one| (one.0, one.1)).collect();
    let wanted = [
        ("day_before_last_without", 2),
        ("unknown_ending", 3),
        ("missing_day", 4),
        ("plant_twice", 7),
        ("tray_of_two_kinds", 8),
    ];
    assert_eq!(told, wanted.map(|(code, row)| (code.to_owned(), Some(row))));
}
