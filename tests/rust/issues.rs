//! Every issue of a trial's data with its exact words; a new code without a line here fails.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use rootling::Error;
use rootling::error::Issue;
use rootling::trial::{BadRows, LoadOptions, read_csv};
use rootling::units::Strength;

/// Codes of issues that the source can give.
fn codes() -> BTreeSet<String> {
    let mut found = BTreeSet::new();
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("src/trial");
    let files = [folder.clone(), folder.join("sheet"), folder.join("responses")]
        .map(|folder| std::fs::read_dir(folder).unwrap());
    for path in files.into_iter().flatten().map(|file| file.unwrap().path()).filter(|path| path.is_file()) {
        let text = std::fs::read_to_string(path).unwrap();
        for start in ["of_input(", "issue("] {
            let calls = text.split(start).skip(1).filter_map(|rest| rest.trim_start().strip_prefix('"'));
            found.extend(calls.filter_map(|rest| rest.split_once('"')).map(|(code, _)| code.to_owned()));
        }
    }
    found
}

fn trays() -> LoadOptions {
    LoadOptions {
        rooted: "rooted".into(),
        stuck: Some("stuck".into()),
        treatments: vec!["strength".into()],
        tray: Some("tray".into()),
        ..LoadOptions::default()
    }
}

/// Three trays, the second of which is given.
pub(crate) fn with_row(row: &str) -> Vec<u8> {
    format!("strength,tray,rooted,stuck\n0,a,3,20\n{row}\n2500,c,12,20\n").into_bytes()
}

fn of_strength() -> LoadOptions {
    LoadOptions { strength: Some(Strength::new("IBA", "mg/L").unwrap()), ..trays() }
}

fn of_length() -> LoadOptions {
    LoadOptions { covariates: vec!["length".into()], ..trays() }
}

/// One row per cutting.
fn cuttings() -> LoadOptions {
    LoadOptions { stuck: None, tray: None, ..trays() }
}

/// The first issue of a text with that code, as the user reads it.
fn words(code: &str, text: &[u8], options: &LoadOptions) -> String {
    let issues: Vec<Issue> = match read_csv(text, options) {
        Err(Error::Data(error)) => error.issues,
        Err(other) => panic!("{code}: another kind of error: {other}"),
        Ok(trial) => trial.issues().to_vec(),
    };
    issues.iter().find(|issue| issue.code == code).map_or_else(|| panic!("{code}: {issues:#?}"), Issue::to_string)
}

/// An issue's code, a text that has it, how it is loaded, and the words.
pub(crate) type Case = (&'static str, Vec<u8>, LoadOptions, &'static str);

/// Codes that need more than a short text; tests elsewhere meet them, or nothing but a fault of a library can.
const ELSEWHERE: [&str; 13] = [
    // Days of chains and watched crops, which are read here for both.
    "mixed_dates",
    "day_or_month_first",
    "long_level",
    "unreadable_header",
    "more_rows",
    "unreadable",
    "unreadable_column",
    "unequal_columns",
    "earlier_without_trays",
    "earlier_tells_nothing",
    "earlier_is_this_trial",
    "earlier_twice",
    "earlier_other_names",
];

fn of_files() -> Vec<Case> {
    vec![
        (
            "empty_file",
            b" \n".to_vec(),
            trays(),
            "the file is empty; give a file with a header row and one row per tray or cutting",
        ),
        (
            "not_utf8",
            b"strength,tray,rooted,stuck\n0,b\xE4,1,2\n".to_vec(),
            trays(),
            "row 2: byte 0xE4 is not UTF-8 text; the file is probably Latin-1 (Windows-1252); save it as CSV with UTF-8 encoding, or load it with encoding=\"cp1252\"",
        ),
        (
            "not_text",
            b"a,b\n\0,1\n".to_vec(),
            trays(),
            "the file holds zero bytes, so it is not a text file; open it in the program that made it and save it as CSV with UTF-8 encoding",
        ),
        (
            "duplicate_header",
            b"strength,tray,rooted,rooted\n0,a,1,2\n".to_vec(),
            trays(),
            "row 1, column \"rooted\": the name \"rooted\" stands over two columns; give each column its own name",
        ),
        (
            "too_many_fields",
            with_row("2500,b,1,2,3"),
            trays(),
            "row 3: 5 fields where the header has 4; quote text that holds the separator; with decimal commas separate the columns by semicolons",
        ),
    ]
}

fn of_columns() -> Vec<Case> {
    let none = LoadOptions { bad_rows: BadRows::SetAside, ..trays() };
    vec![
        (
            "unknown_column",
            b"strength,tray,roted,stuck\n0,a,1,2\n".to_vec(),
            trays(),
            "column \"rooted\": there is no column \"rooted\", named as rooted; did you mean \"roted\"? The columns are strength, tray, roted, stuck",
        ),
        (
            "column_in_two_roles",
            with_row("2500,b,1,2"),
            LoadOptions { block: Some("tray".into()), ..trays() },
            "column \"tray\": named both as tray and as block; give each column one part",
        ),
        (
            "no_strength_column",
            with_row("2500,b,1,2"),
            LoadOptions { strength_column: Some("dose".into()), ..of_strength() },
            "a strength was declared, but \"dose\" is not among the treatments; name the strength column in treatments=, and say which it is with Strength(column=...)",
        ),
        (
            "option_for_no_column",
            with_row("2500,b,1,2"),
            LoadOptions { control: BTreeMap::from([("strenght".into(), "0".into())]), ..trays() },
            "column \"strenght\": control= names \"strenght\", which is none of the columns with levels it can be about; did you mean \"strength\"? These are strength",
        ),
        (
            "no_rows",
            b"strength,tray,rooted,stuck\n".to_vec(),
            trays(),
            "there are column names but no rows; give one row per tray or per cutting below the header",
        ),
        (
            "no_usable_rows",
            b"strength,tray,rooted,stuck\n0,a,5,2\n".to_vec(),
            none,
            "no row can be used; correct the problems listed",
        ),
    ]
}

fn of_counts() -> Vec<Case> {
    vec![
        (
            "blank_row",
            with_row(",,,"),
            trays(),
            "row 3: every named column is empty; nothing to do if the row is meant to be blank",
        ),
        (
            "none_stuck",
            with_row("2500,b,0,0"),
            trays(),
            "row 3, column \"stuck\": 0 cuttings stuck, so there is no rate; correct the count or remove the row; where a column says why a tray was lost, name it with lost=",
        ),
        (
            "rooted_above_stuck",
            with_row("2500,b,53,50"),
            trays(),
            "row 3, column \"rooted\": 53 rooted of 50 stuck; counts cannot exceed the number stuck; correct one of the two",
        ),
        (
            "missing_value",
            with_row("2500,b,,50"),
            trays(),
            "row 3, column \"rooted\": no value; enter the count or remove the row",
        ),
    ]
}

fn of_numbers() -> Vec<Case> {
    vec![
        (
            "bare_percent",
            with_row("2500,b,70 %,50"),
            trays(),
            "row 3, column \"rooted\": \"70 %\" is a percentage without its count; give whole numbers rooted and stuck; 3 of 4 and 75 of 100 are both 75 %",
        ),
        (
            "ambiguous_number",
            with_row("2500,b,\"1,234\",2000"),
            trays(),
            "row 3, column \"rooted\": \"1,234\" can be read as a thousand or as a decimal; write it without the comma, or say which it is with thousands=\",\" or decimal=\",\"",
        ),
        (
            "negative_count",
            with_row("2500,b,-3,50"),
            trays(),
            "row 3, column \"rooted\": -3 is negative; a count is 0 or more; correct the entry",
        ),
        (
            "fractional_count",
            with_row("2500,b,3.5,50"),
            trays(),
            "row 3, column \"rooted\": 3.5 is not a whole number; counts are whole cuttings; give counts, not rates or means",
        ),
        (
            "text_in_count",
            with_row("2500,b,many,50"),
            trays(),
            "row 3, column \"rooted\": \"many\" is not a count; enter a whole number and keep remarks in another column",
        ),
        (
            "count_too_large",
            with_row("2500,b,3,9007199254740993"),
            trays(),
            "row 3, column \"stuck\": 9007199254740993 is above 9007199254740992, the largest count held exactly; check the entry",
        ),
    ]
}

fn of_other_entries() -> Vec<Case> {
    vec![
        (
            "negative_strength",
            with_row("-1,b,3,20"),
            of_strength(),
            "row 3, column \"strength\": strength -1 is negative; a strength is 0 or more; correct the entry",
        ),
        (
            "text_in_strength",
            with_row("high,b,3,20"),
            of_strength(),
            "row 3, column \"strength\": \"high\" is not a strength; enter the number alone; the unit goes into Strength(unit=...)",
        ),
        (
            "not_a_number",
            b"strength,tray,length,rooted,stuck\n0,a,12,3,20\n2500,b,long,3,20\n".to_vec(),
            of_length(),
            "row 3, column \"length\": \"long\" is not a number, though the column is a covariate; enter a number or remove the row",
        ),
        (
            "not_yes_no",
            b"strength,rooted\n0,1\n2500,perhaps\n".to_vec(),
            cuttings(),
            "row 3, column \"rooted\": \"perhaps\" does not say whether the cutting rooted; use 1 or 0, true or false, yes or no",
        ),
        (
            "rooted_and_dead_above_stuck",
            b"strength,tray,rooted,dead,stuck\n0,a,3,1,20\n2500,b,12,9,20\n".to_vec(),
            LoadOptions { dead: Some("dead".into()), ..trays() },
            "row 3, column \"dead\": 12 rooted and 9 dead of 20 stuck; a cutting is rooted, alive without roots or dead; count each once",
        ),
        (
            "bare_percent_column",
            b"strength,rooted\n0,45\n2500,70\n".to_vec(),
            cuttings(),
            "row 2, column \"rooted\": numbers such as 45, but no column with the number stuck was named; name it with stuck=; a percentage alone cannot be analysed, since 3 of 4 and 75 of 100 are both 75 %",
        ),
    ]
}

fn of_trays_and_levels() -> Vec<Case> {
    let one_row_per_cutting = LoadOptions { stuck: None, covariates: vec!["length".into()], ..trays() };
    vec![
        (
            "tray_in_two_treatments",
            with_row("2500,a,3,20"),
            trays(),
            "row 2, column \"tray\": tray \"a\" appears under 2 treatments (0; 2500), in rows 2, 3; a tray has one treatment; correct the entry, or, if trays are numbered afresh in each treatment, say so with tray=[\"strength\", \"tray\"]",
        ),
        (
            "duplicate_tray",
            with_row("0,a,3,20"),
            trays(),
            "row 3, column \"tray\": tray \"a\" stands in rows 2, 3; keep one row per tray; a tray counted twice makes the trial look larger than it is; where each row is a tray of its own, tray=\"each-row\" says so",
        ),
        (
            "similar_levels",
            b"strength,tray,rooted,stuck\nk12,a,3,20\nK12 ,b,3,20\n0,c,3,20\n".to_vec(),
            trays(),
            "column \"strength\": \"K12 \" and \"k12\" differ only by case or spaces; write them alike if they are the same; if they really differ, load with distinct_levels=True",
        ),
        (
            "one_level",
            b"strength,tray,rooted,stuck\n0,a,3,20\n0,b,3,20\n".to_vec(),
            trays(),
            "column \"strength\": the treatment has the single level \"0\"; there is nothing to compare; leave it out of treatments= or check that all rows are here",
        ),
        (
            "unknown_control",
            with_row("2500,b,1,2"),
            LoadOptions { control: BTreeMap::from([("strength".into(), "250".into())]), ..trays() },
            "column \"strength\": the control \"250\" does not occur; did you mean \"2500\"? The levels are 0, 2500",
        ),
        (
            "level_without_place",
            with_row("2500,b,1,2"),
            LoadOptions { level_order: BTreeMap::from([("strength".into(), vec!["2500".into()])]), ..trays() },
            "column \"strength\": level \"0\" has no place in level_order=; list every level",
        ),
        (
            "covariate_varies",
            b"strength,tray,length,rooted\n0,a,12,1\n0,a,13,0\n2500,b,12,1\n".to_vec(),
            one_row_per_cutting,
            "column \"length\": the covariate differs between cuttings of one tray in 1 of 2 trays; give each tray one value, for example its mean",
        ),
    ]
}

/// Loads `options` with one more thing asked for.
pub(crate) fn asked(change: impl FnOnce(&mut LoadOptions)) -> LoadOptions {
    let mut options = trays();
    change(&mut options);
    options
}

fn of_sheets() -> Vec<Case> {
    let percent = |name: &str| asked(|one| one.rooted = name.into());
    vec![
        (
            "no_header",
            with_row("2500,b,1,2"),
            asked(|one| one.header_row = Some(9)),
            "there is no row of column names; give a sheet with a row of column names and one row per tray or cutting below it",
        ),
        (
            "wrong_header_row",
            b"Week 23,,,\nstrength,tray,rooted,stuck\n0,a,3,20\n2500,b,4,20\n".to_vec(),
            asked(|one| one.header_row = Some(1)),
            "row 1: the row named as the one of the column names holds Week 23; row 2 holds strength, tray, rooted, stuck: header_row=2",
        ),
        (
            "yes_no_with_stuck",
            b"strength,tray,rooted,stuck\n0,a,y,20\n2500,b,n,20\n".to_vec(),
            trays(),
            "column \"rooted\": entries such as \"y\" say yes or no, which is one row per cutting, and stuck= is given; leave stuck= out, as stuck=None does",
        ),
        (
            "quote_over_lines",
            b"strength,tray,rooted,stuck,remarks\n0,a,3,20,\"dry\n2500,b,4,20,good\n2500,c,5,20,wet\"\n".to_vec(),
            trays(),
            "row 2: a quotation mark opens here and is closed 2 lines later, so those lines would be one entry; remove the mark, or write the entry on one line",
        ),
        (
            "nothing_above",
            b"strength,tray,rooted,stuck\n,a,3,20\n2500,b,4,20\n".to_vec(),
            asked(|one| one.fill_down = vec!["strength".into()]),
            "row 2, column \"strength\": no value, and none above it to fill down; enter the first value; those below follow it",
        ),
        (
            "percent_without_stuck",
            with_row("2500,b,1,2"),
            asked(|one| {
                one.stuck = None;
                one.rooted_percent = Some("rooted".into());
            }),
            "column \"rooted\": percentages were named, but not how many cuttings each tray had; name the column with stuck=, or give the number that every tray had, for example stuck=20",
        ),
        (
            "percent_not_whole",
            b"strength,tray,percent,stuck\n0,a,15,20\n2500,b,47,20\n2500,c,60,20\n".to_vec(),
            asked(|one| {
                one.rooted = String::new();
                one.rooted_percent = Some("percent".into());
            }),
            "row 3, column \"percent\": 47 % of 20 cuttings is no whole number of cuttings; correct the percentage or the number stuck, or give the counts",
        ),
        (
            "percent_as_counts",
            b"strength,tray,percent,stuck\n0,a,15,20\n2500,b,45,20\n".to_vec(),
            percent("percent"),
            "column \"percent\": by its name the column holds percentages and not counts; percentages with the number stuck are read with rooted_percent=\"percent\"; if these are cuttings counted, say so with checked=[\"percent_as_counts\"]",
        ),
        (
            "total_row",
            with_row("Sum 0,,3,20"),
            trays(),
            "row 3, column \"strength\": \"Sum 0\" says \"sum\", so the row looks like a sum or an average and not like a tray; leave the row out; if it is a tray, say so with checked=[\"total_row\"]",
        ),
        (
            "sum_row",
            b"strength,tray,rooted,stuck\n0,a,3,20\n2500,b,12,20\n2500,c,15,40\n".to_vec(),
            trays(),
            "row 4, column \"rooted\": the counts are the sums of the rows above, so the row looks like a total and not like a tray; leave the row out; if it is a tray, say so with checked=[\"sum_row\"]",
        ),
        (
            "mean_row",
            b"strength,tray,rooted,stuck\n0,a,3,20\n0,b,5,20\n0,c,4,20\n1,d,5,20\n1,e,9,20\n1,f,7,20\n2,g,2,20\n2,h,8,20\n2,i,5,20\n".to_vec(),
            trays(),
            "row 4, column \"rooted\": the counts are the means of the rows above, so the row looks like an average and not like a tray; leave the row out; if it is a tray, say so with checked=[\"mean_row\"]",
        ),
        (
            "swapped_counts",
            b"strength,tray,rooted,stuck\n0,a,20,3\n0,b,20,5\n2500,c,20,14\n2500,d,20,20\n".to_vec(),
            trays(),
            "column \"rooted\": the counts are at or above those of \"stuck\" in every row, \"rooted\" is named as rooted; the two columns seem to be named the wrong way round: rooted=\"stuck\", stuck=\"rooted\"",
        ),
    ]
}

fn of_marks() -> Vec<Case> {
    let lost = asked(|one| one.lost = Some("remarks".into()));
    vec![
        (
            "left_out",
            with_row("2500,b,1,2"),
            asked(|one| one.leave_out = vec![3]),
            "row 3: left out as asked; nothing to do",
        ),
        (
            "lost_tray",
            b"strength,tray,rooted,stuck,remarks\n0,a,3,20,\n2500,b,,0,fell down\n2500,c,12,20,\n".to_vec(),
            lost,
            "row 3: the tray was lost (fell down); nothing to do",
        ),
        (
            "unread_tray",
            b"strength,tray,rooted,stuck,remarks\n0,a,3,20,\n2500,b,,20,not read\n2500,c,12,20,\n".to_vec(),
            asked(|one| one.lost = Some("remarks".into())),
            "row 3: nothing is counted here; a blank is unread and no 0; read it, or leave it",
        ),
        (
            "ditto_mark",
            with_row("ditto,b,4,20"),
            trays(),
            "row 3, column \"strength\": \"ditto\" seems to say \"as above\"; fill_down=[\"strength\"] gives these rows the entry above",
        ),
        (
            "thousands_or_decimals",
            with_row("1.000,b,4,20"),
            trays(),
            "column \"strength\": 1.000 can be read with thousands or with decimals; say which: thousands=\".\" or decimal=\".\"",
        ),
        (
            "dates_as_levels",
            with_row("2026-02-01,b,4,20"),
            trays(),
            "column \"strength\": \"2026-02-01\" is a date; spreadsheets make dates of entries such as 1-2 or 3/4; format the column as text and enter the levels again; if they are dates, say so with checked=[\"dates_as_levels\"]",
        ),
        (
            "tray_restarts",
            b"strength,tray,rooted,stuck\n0,1,3,20\n0,2,4,20\n2500,1,11,20\n2500,2,12,20\n".to_vec(),
            trays(),
            "column \"tray\": tray numbers start afresh: \"1\" stands under 2 treatments (0; 2500), in rows 2, 4; 2 tray numbers in all do so; if each treatment has trays of its own, say so with tray=[\"strength\", \"tray\"]",
        ),
    ]
}

#[test]
fn issues_of_a_trial_have_their_words_and_every_code_is_listed() {
    let cases = [
        of_files(),
        of_columns(),
        of_counts(),
        of_numbers(),
        of_other_entries(),
        of_trays_and_levels(),
        of_sheets(),
        of_marks(),
        crate::issues_of_options::of_options(),
        crate::issues_of_responses::of_responses(),
    ]
    .concat();
    for (code, text, options, expected) in &cases {
        assert_eq!(words(code, text, options), *expected);
    }
    let listed = cases.iter().map(|(code, ..)| *code).chain(ELSEWHERE).map(str::to_owned);
    assert_eq!(listed.collect::<BTreeSet<String>>(), codes(), "every issue code needs a line here");
}
