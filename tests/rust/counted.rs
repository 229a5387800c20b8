//! Cuttings counted before they are loaded: the same trial as from a row for each, and what is wrong is told of all rows behind a line.

use rootling::trial::{BadRows, Column, Frame, LoadOptions, Source, from_frame};

fn options() -> LoadOptions {
    LoadOptions {
        rooted: "rooted".into(),
        tray: Some("tray".into()),
        treatments: vec!["strength".into()],
        ..LoadOptions::default()
    }
}

/// Lines of (strength, tray, rooted, how many cuttings).
const LINES: [(i64, &str, &str, usize); 7] = [
    (0, "a", "no", 17),
    (0, "a", "yes", 3),
    (0, "b", "no", 15),
    (0, "b", "yes", 5),
    (2500, "c", "yes", 14),
    (2500, "c", "no", 6),
    (2500, "d", "yes", 20),
];

fn frame(lines: &[(i64, &str, &str, usize)]) -> Frame {
    let columns = vec![
        Column::whole("strength", lines.iter().map(|one| Some(one.0))),
        Column::texts("tray", lines.iter().map(|one| Some(one.1))),
        Column::texts("rooted", lines.iter().map(|one| Some(one.2))),
        Column::whole("n", lines.iter().map(|one| Some(one.3 as i64))),
    ];
    Frame::new(columns).unwrap()
}

fn one_by_one(lines: &[(i64, &str, &str, usize)]) -> Frame {
    let each: Vec<_> = lines.iter().flat_map(|one| vec![(one.0, one.1, one.2, 1); one.3]).collect();
    frame(&each)
}

fn counted() -> LoadOptions {
    LoadOptions { times: Some("n".into()), ..options() }
}

#[test]
fn counted_lines_are_the_trial_of_their_rows() {
    let rows = from_frame(one_by_one(&LINES), Source::Frame, &options()).unwrap();
    let mut lines = LINES.to_vec();
    lines.reverse();
    for source in [Source::Frame, Source::Engine] {
        let trial = from_frame(frame(&lines), source, &counted()).unwrap();
        assert_eq!(trial.units(), rows.units());
        assert_eq!(trial.fingerprint(), rows.fingerprint());
    }
}

#[test]
fn yes_and_no_beside_each_other_are_the_trial_of_their_rows() {
    let rows = from_frame(one_by_one(&LINES), Source::Frame, &options()).unwrap();
    let tallied = |rooted: [i64; 4]| {
        let columns = vec![
            Column::whole("strength", [0, 0, 2500, 2500].map(Some)),
            Column::texts("tray", ["a", "b", "c", "d"].map(Some)),
            Column::whole("rooted", rooted.map(Some)),
            Column::whole("n", [20; 4].map(Some)),
        ];
        let options = LoadOptions { tallied: true, ..counted() };
        from_frame(Frame::new(columns).unwrap(), Source::Frame, &options)
    };
    let trial = tallied([3, 5, 14, 20]).unwrap();
    assert_eq!(trial.units(), rows.units());
    assert_eq!(trial.fingerprint(), rows.fingerprint());
    let found = tallied([3, 5, 21, 20]).unwrap_err().to_string();
    assert!(found.contains("row 3") && found.contains("21 rooted of 20 that the row stands for"), "{found}");
}

#[test]
fn rows_behind_a_line_are_counted_where_they_are_set_aside() {
    let mut lines = LINES.to_vec();
    lines.push((2500, "d", "?", 40));
    let lenient = |options: LoadOptions| LoadOptions { bad_rows: BadRows::SetAside, ..options };
    let rows = from_frame(one_by_one(&lines), Source::Frame, &lenient(options())).unwrap();
    let trial = from_frame(frame(&lines), Source::Frame, &lenient(counted())).unwrap();
    assert_eq!(trial.fingerprint(), rows.fingerprint());
    let told = |trial: &rootling::trial::Trial| trial.notes().iter().map(|note| note.text.clone()).collect::<Vec<_>>();
    assert_eq!(told(&trial), told(&rows));
    assert!(told(&trial).iter().any(|text| text.starts_with("40 of 120 rows")), "{:?}", told(&trial));
}

#[test]
fn rows_are_named_by_their_numbers_or_counted() {
    let mut lines = LINES.to_vec();
    lines.push((2500, "a", "no", 4));
    let numbers = vec![1, 18, 21, 36, 41, 55, 61, 81];
    let told = |source, row_numbers| {
        let options = LoadOptions { row_numbers, ..counted() };
        from_frame(frame(&lines), source, &options).unwrap_err().to_string()
    };
    let by_number = told(Source::Frame, numbers);
    assert!(by_number.contains("(0; 2500), in rows 1, 18, 81 and 21 more"), "{by_number}");
    let how_many = told(Source::Engine, Vec::new());
    assert!(how_many.contains("(0; 2500), in 24 rows"), "{how_many}");
}
