//! Loading and checking: each kind of bad input with its exact message, and what the design says.

use rootling::Error;
use rootling::error::{Issue, Severity};
use rootling::trial::{BadRows, LoadOptions, Trial, UnitKind, read_csv};

fn tray_options() -> LoadOptions {
    LoadOptions {
        rooted: "rooted".into(),
        stuck: Some("stuck".into()),
        treatments: vec!["strength".into()],
        tray: Some("tray".into()),
        ..LoadOptions::default()
    }
}

fn cutting_options() -> LoadOptions {
    LoadOptions { stuck: None, ..tray_options() }
}

fn load(text: &str, options: &LoadOptions) -> Result<Trial, Error> {
    read_csv(text.as_bytes(), options)
}

fn issues(text: &str, options: &LoadOptions) -> Vec<Issue> {
    match load(text, options) {
        Err(Error::Data(error)) => error.issues,
        Err(other) => panic!("another kind of error: {other}"),
        Ok(_) => panic!("no error for {text:?}"),
    }
}

/// The single issue of a text, as the user reads it.
fn message(text: &str, options: &LoadOptions) -> String {
    let found = issues(text, options);
    assert_eq!(found.len(), 1, "{found:#?}");
    found[0].to_string()
}

/// A tray file with one row replaced.
fn with_row(row: &str) -> String {
    format!("strength,tray,rooted,stuck\n0,a,3,20\n{row}\n2500,c,12,20\n")
}

#[test]
fn clean_trays_load() {
    let trial = load(&with_row("2500,b,14,20"), &tray_options()).unwrap();
    assert_eq!(trial.units().kind, UnitKind::Tray);
    assert_eq!(trial.units().rooted, [3, 14, 12]);
    assert_eq!(trial.units().treatments[0].levels, ["0", "2500"]);
    assert!(trial.issues().is_empty());
}

#[test]
fn bad_counts_have_their_messages() {
    let cases = [
        (
            "2500,b,53,50",
            "row 3, column \"rooted\": 53 rooted of 50 stuck; counts cannot exceed the number stuck; correct one of the two",
        ),
        ("2500,b,-3,50", "row 3, column \"rooted\": -3 is negative; a count is 0 or more; correct the entry"),
        (
            "2500,b,3.5,50",
            "row 3, column \"rooted\": 3.5 is not a whole number; counts are whole cuttings; give counts, not rates or means",
        ),
        ("2500,b,,50", "row 3, column \"rooted\": no value; enter the count or remove the row"),
        ("2500,b,NA,50", "row 3, column \"rooted\": no value; enter the count or remove the row"),
        (
            "2500,b,many,50",
            "row 3, column \"rooted\": \"many\" is not a count; enter a whole number and keep remarks in another column",
        ),
        (
            "2500,b,70 %,50",
            "row 3, column \"rooted\": \"70 %\" is a percentage without its count; give whole numbers rooted and stuck; 3 of 4 and 75 of 100 are both 75 %",
        ),
        (
            "2500,b,\"1,234\",2000",
            "row 3, column \"rooted\": \"1,234\" can be read as a thousand or as a decimal; write it without the comma, or say which it is with thousands=\",\" or decimal=\",\"",
        ),
        (
            "2500,b,0,0",
            "row 3, column \"stuck\": 0 cuttings stuck, so there is no rate; correct the count or remove the row; where a column says why a tray was lost, name it with lost=",
        ),
        (
            "2500,b,3,9007199254740993",
            "row 3, column \"stuck\": 9007199254740993 is above 9007199254740992, the largest count held exactly; check the entry",
        ),
        (
            "2500,,3,20",
            "row 3, column \"tray\": no value, though the column is named as tray; enter it or remove the row",
        ),
        (
            ",b,3,20",
            "row 3, column \"strength\": no value, though the column is named as treatments; enter it or remove the row",
        ),
    ];
    for (row, expected) in cases {
        assert_eq!(message(&with_row(row), &tray_options()), expected);
    }
}

#[test]
fn all_problems_come_together() {
    let text = "strength,tray,rooted,stuck\n0,a,53,50\n0,b,-1,20\n2500,c,x,20\n2500,d,,0\n2500,e,5,20\n0,f,2,20\n";
    let found = issues(text, &tray_options());
    let codes: Vec<(&str, Option<u64>)> = found.iter().map(|issue| (issue.code.as_str(), issue.row)).collect();
    let expected = [
        ("rooted_above_stuck", Some(2)),
        ("negative_count", Some(3)),
        ("text_in_count", Some(4)),
        ("missing_value", Some(5)),
    ];
    assert_eq!(codes, expected);
}

#[test]
fn rows_can_be_set_aside() {
    let options = LoadOptions { bad_rows: BadRows::SetAside, ..tray_options() };
    let trial = load(&with_row("2500,b,53,50"), &options).unwrap();
    assert_eq!(trial.units().rooted, [3, 12]);
    let aside = trial.set_aside();
    assert_eq!(aside.len(), 1);
    assert_eq!((aside[0].row, aside[0].value.as_deref()), (Some(3), Some("53")));
}

#[test]
fn trays_twice_or_under_two_treatments() {
    assert_eq!(
        message("strength,tray,rooted,stuck\n0,a,3,20\n2500,b,5,20\n2500,b,5,20\n", &tray_options()),
        "row 4, column \"tray\": tray \"b\" stands in rows 3, 4; keep one row per tray; a tray counted twice makes the trial look larger than it is; where each row is a tray of its own, tray=\"each-row\" says so"
    );
    let found = issues("strength,tray,rooted,stuck\n0,a,3,20\n2500,a,5,20\n0,c,3,20\n2500,d,5,20\n", &tray_options());
    assert_eq!(found.len(), 2);
    assert_eq!(
        found[0].to_string(),
        "row 2, column \"tray\": tray \"a\" appears under 2 treatments (0; 2500), in rows 2, 3; a tray has one treatment; correct the entry, or, if trays are numbered afresh in each treatment, say so with tray=[\"strength\", \"tray\"]"
    );
}

#[test]
fn trays_numbered_within_benches_are_told_apart() {
    let text = "strength,bench,tray,rooted,stuck\n0,n,1,3,20\n2500,n,2,5,20\n0,s,1,3,20\n2500,s,2,5,20\n";
    let options = LoadOptions { block: Some("bench".into()), ..tray_options() };
    assert_eq!(load(text, &options).unwrap().units().len(), 4);
}

#[test]
fn look_alike_levels_are_asked_about() {
    let text = "strength,rootstock,tray,rooted,stuck\n0,K12,a,3,20\n0,k12 ,b,5,20\n2500,K17,c,5,20\n2500,K12,d,5,20\n";
    let mut options = tray_options();
    options.treatments.push("rootstock".into());
    assert_eq!(
        message(text, &options),
        "column \"rootstock\": \"K12\" and \"k12 \" differ only by case or spaces; write them alike if they are the same; if they really differ, load with distinct_levels=True"
    );
    options.distinct_levels = true;
    assert_eq!(load(text, &options).unwrap().units().treatments[1].levels, ["K12", "K17", "k12 "]);
    let lenient = LoadOptions { distinct_levels: false, bad_rows: BadRows::SetAside, ..options };
    let trial = load(text, &lenient).unwrap();
    assert_eq!(trial.issues()[0].severity, Severity::Question);
    assert_eq!(trial.units().len(), 4);
}

#[test]
fn a_single_level_is_asked_about() {
    assert_eq!(
        message("strength,tray,rooted,stuck\n0,a,3,20\n0,b,3,20\n", &tray_options()),
        "column \"strength\": the treatment has the single level \"0\"; there is nothing to compare; leave it out of treatments= or check that all rows are here"
    );
}

#[test]
fn names_are_checked_first() {
    let options = LoadOptions { rooted: "roted".into(), ..tray_options() };
    assert_eq!(
        message(&with_row("2500,b,5,20"), &options),
        "column \"roted\": there is no column \"roted\", named as rooted; did you mean \"rooted\"? The columns are strength, tray, rooted, stuck"
    );
    let options = LoadOptions { tray: Some("strength".into()), ..tray_options() };
    assert_eq!(
        message(&with_row("2500,b,5,20"), &options),
        "column \"strength\": named both as treatments and as tray; give each column one part"
    );
}

#[test]
fn whole_files_that_cannot_be_read() {
    assert_eq!(
        message("", &tray_options()),
        "the file is empty; give a file with a header row and one row per tray or cutting"
    );
    assert_eq!(
        message("strength,tray,rooted,stuck\n", &tray_options()),
        "there are column names but no rows; give one row per tray or per cutting below the header"
    );
    assert_eq!(
        message("strength,tray,rooted,rooted\n0,a,1,2\n", &tray_options()),
        "row 1, column \"rooted\": the name \"rooted\" stands over two columns; give each column its own name"
    );
    assert_eq!(
        message("strength,tray,rooted,stuck\n0,a,1,2,5\n", &tray_options()),
        "row 2: 5 fields where the header has 4; quote text that holds the separator; with decimal commas separate the columns by semicolons"
    );
    let error = read_csv(b"strength,tray,rooted,stuck\n0,caf\xE9,1,2\n", &tray_options()).unwrap_err();
    assert_eq!(
        error.to_string(),
        "1 problem in the trial data:\n  row 2: byte 0xE9 is not UTF-8 text; the file is probably Latin-1 (Windows-1252); save it as CSV with UTF-8 encoding, or load it with encoding=\"cp1252\""
    );
}

#[test]
fn separators_marks_and_decimal_commas() {
    for text in [
        "\u{feff}strength,tray,rooted,stuck\n0.5,a,3,20\n2500,b,14,20\n",
        "strength;tray;rooted;stuck\r\n0,5;a;3;20\r\n2500;b;14;20\r\n",
        "strength\ttray\trooted\tstuck\n0,5\ta\t3\t20\n2500\tb\t14\t20\n",
        "strength,tray,rooted,stuck\n\"0,5\",a,3,20\n2500,b,14,20",
    ] {
        let trial = load(text, &tray_options()).unwrap();
        assert_eq!(trial.units().treatments[0].numbers, Some(vec![0.5, 2500.0]), "{text:?}");
        assert_eq!(trial.units().rooted, [3, 14]);
    }
}

#[test]
fn one_row_per_cutting() {
    for (yes, no) in [("1", "0"), ("true", "false"), ("Yes", "no"), ("TRUE", "FALSE")] {
        let text = format!("strength,tray,rooted\n0,a,{no}\n0,a,{yes}\n2500,b,{yes}\n2500,b,{yes}\n");
        let trial = load(&text, &cutting_options()).unwrap();
        assert_eq!((&trial.units().rooted[..], &trial.units().stuck[..]), (&[1, 2][..], &[2, 2][..]));
    }
    assert_eq!(
        message("strength,tray,rooted\n0,a,1\n0,a,maybe\n2500,b,0\n", &cutting_options()),
        "row 3, column \"rooted\": \"maybe\" does not say whether the cutting rooted; use 1 or 0, true or false, yes or no"
    );
    assert_eq!(
        message("strength,tray,rooted\n0,a,65\n0,b,70\n2500,c,80\n", &cutting_options()),
        "row 2, column \"rooted\": numbers such as 65, but no column with the number stuck was named; name it with stuck=; a percentage alone cannot be analysed, since 3 of 4 and 75 of 100 are both 75 %"
    );
}

#[test]
fn one_dark_room_per_length_is_confounded() {
    let text = "dark_days,bay,tray,rooted,stuck\n20,b1,1,3,20\n20,b1,2,4,20\n40,b2,3,9,20\n40,b2,4,8,20\n";
    let options =
        LoadOptions { treatments: vec!["dark_days".into()], whole_plot: Some("bay".into()), ..tray_options() };
    let trial = load(text, &options).unwrap();
    assert_eq!(trial.design().confounded[0].treatment, "dark_days");
    assert_eq!(trial.design().confounded[0].with, "bay");
    assert!(trial.notes().iter().any(|note| note.code == "confounded"));
}

#[test]
fn the_order_of_rows_changes_nothing() {
    let forward = load("strength,tray,rooted,stuck\n0,a,3,20\n2500,b,14,20\n0,c,4,20\n", &tray_options()).unwrap();
    let backward = load("strength,tray,rooted,stuck\n0,c,4,20\n2500,b,14,20\n0,a,3,20\n", &tray_options()).unwrap();
    assert_eq!(forward.units(), backward.units());
    assert_eq!(forward.fingerprint(), backward.fingerprint());
}

#[test]
fn the_published_plum_counts_have_no_trays() {
    // Hoblyn & Palmer 1934; Bartlett 1935: 240 cuttings per cell, alive 156, 107, 84, 31. No plots were recorded.
    let text = "planting,length,alive,set\nat once,long,156,240\nat once,short,107,240\nspring,long,84,240\nspring,short,31,240\n";
    let options = LoadOptions {
        rooted: "alive".into(),
        stuck: Some("set".into()),
        treatments: vec!["planting".into(), "length".into()],
        ..LoadOptions::default()
    };
    let trial = load(text, &options).unwrap();
    assert_eq!(trial.units().kind, UnitKind::Pooled);
    assert_eq!(trial.units().rooted, [156, 107, 84, 31]);
    assert!(trial.design().sentence.starts_with("No trays were recorded"));
    assert!(trial.notes().iter().any(|note| note.code == "no_tray_information"));
}
