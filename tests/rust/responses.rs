//! Responses of a trial: entries gathered by tray, what is told of them, and fingerprints.

use rootling::Error;
use rootling::error::ResponseError;
use rootling::trial::{BadRows, LoadOptions, Response, ResponseUnit, Trial, read_csv};

use crate::errors::check;

const ROWS: &str = "strength,tray,rooted,roots,longest\n\
    0,a,1,2,1.5\n0,a,1,2,2.5 cm\n0,a,0,0,\n0,b,1,3,\"3,5\"\n0,b,0,,\n\
    2500,c,1,7,6\n2500,c,1,5,4.5\n2500,d,1,4,3\n2500,d,1,17,9\n";

fn options() -> LoadOptions {
    LoadOptions {
        rooted: "rooted".into(),
        treatments: vec!["strength".into()],
        tray: Some("tray".into()),
        ..LoadOptions::default()
    }
}

fn with_responses() -> LoadOptions {
    let responses = vec![Response::count("roots"), Response::in_unit("longest", ResponseUnit::Centimetre)];
    LoadOptions { responses, ..options() }
}

fn load(text: &str, options: &LoadOptions) -> Trial {
    read_csv(text.as_bytes(), options).unwrap()
}

fn codes(trial: &Trial) -> Vec<&str> {
    trial.notes().iter().map(|note| note.code.as_str()).collect()
}

#[test]
fn errors_have_their_words() {
    let declared = |known: &[&str]| known.iter().map(|one| (*one).to_owned()).collect();
    check(
        "src/error/response.rs",
        &[
            (
                ResponseError::NotDeclared { name: "rots".into(), known: declared(&["roots", "longest"]) },
                "no response is called \"rots\"; those declared are roots, longest",
            ),
            (
                ResponseError::GradesHaveNoMean { name: "grade".into() },
                "\"grade\" holds grades, which have an order and no mean; ask for a mean of a count, a length or a mass",
            ),
            (
                ResponseError::NoTrays { name: "roots".into() },
                "no trays were recorded, so nothing tells how \"roots\" differs between trays; name their column with tray= when loading",
            ),
            (
                ResponseError::ManyCombinations { found: 8_000, most: 5_000 },
                "8000 combinations of levels are too many for a model of means, which takes 5000; leave out a treatment, or hold it at a level by filtering the table",
            ),
            (
                ResponseError::NothingMeasured { name: "roots".into(), rooted: false },
                "no cutting rooted, so \"roots\" has no mean; compare the takes",
            ),
            (
                ResponseError::NotDeclared { name: "roots".into(), known: Vec::new() },
                "no response is called \"roots\"; this trial was loaded without responses, so declare its column with responses= when loading",
            ),
        ],
    );
}

#[test]
fn entries_are_gathered_by_tray_in_their_declared_unit() {
    let trial = load(ROWS, &with_responses());
    let roots = trial.measured("roots").unwrap();
    assert_eq!(roots.of(0), (&[2.0][..], &[2][..]));
    assert_eq!((roots.number(1), roots.mean(1)), (1, Some(3.0)));
    assert_eq!(roots.of(3), (&[4.0, 17.0][..], &[1, 1][..]));
    // "2.5 cm" says the declared unit, "3,5" has a decimal comma.
    assert_eq!(trial.measured("longest").unwrap().values, [1.5, 2.5, 3.5, 4.5, 6.0, 3.0, 9.0]);
    assert_eq!(
        (trial.units().rooted.as_slice(), trial.units().stuck.as_slice()),
        (&[2, 1, 2, 2][..], &[3, 2, 2, 2][..])
    );
    assert!(matches!(trial.measured("grade"), Err(Error::Response(ResponseError::NotDeclared { .. }))));
}

#[test]
fn the_design_tells_of_responses_and_which_leads() {
    let trial = load(ROWS, &LoadOptions { primary: Some("roots".into()), ..with_responses() });
    let lines = &trial.design().lines;
    let told = [
        "roots: counts of 7 rooted cuttings, 2 to 17",
        "longest: lengths of 7 rooted cuttings, 1.5 to 9 cm",
        "the primary response is roots, named beforehand; secondary: take, longest",
    ];
    assert!(lines.ends_with(&told.map(str::to_owned)), "{lines:?}");
    assert_eq!(trial.primary(), Some("roots"));
    assert!(codes(&trial).contains(&"single_cuttings"), "{:?}", trial.notes());
    let plain = load(ROWS, &with_responses());
    assert!(plain.design().lines.iter().any(|line| line.starts_with("the primary response is take, since no other")));
}

#[test]
fn fingerprints_hold_responses_only_where_there_are_any() {
    let plain = load(ROWS, &options());
    let measured = load(ROWS, &with_responses());
    assert_ne!(plain.fingerprint(), measured.fingerprint());
    assert_eq!(plain.units(), measured.units());
    // The order of rows does not matter, a root more does.
    let (head, rows) = ROWS.split_once('\n').unwrap();
    let turned: Vec<&str> = rows.lines().rev().collect();
    let turned = load(&format!("{head}\n{}\n", turned.join("\n")), &with_responses());
    assert_eq!(turned.fingerprint(), measured.fingerprint());
    let other = load(&ROWS.replace("0,b,1,3,", "0,b,1,4,"), &with_responses());
    assert_ne!(other.fingerprint(), measured.fingerprint());
}

#[test]
fn an_entry_set_aside_leaves_its_cutting_in_the_take() {
    let text = ROWS.replace("2500,d,1,17,9", "2500,d,1,-1,9");
    let trial = load(&text, &LoadOptions { bad_rows: BadRows::SetAside, ..with_responses() });
    assert_eq!(trial.units().stuck.iter().sum::<u64>(), 9);
    assert_eq!(trial.measured("roots").unwrap().number(3), 1);
    assert_eq!(trial.measured("longest").unwrap().number(3), 2);
    let told: Vec<String> = trial.set_aside().iter().map(ToString::to_string).collect();
    assert_eq!(told, ["row 10, column \"roots\": -1 is negative; a count is 0 or more; correct the entry"]);
    // One that contradicts what rooted leaves with its row.
    let text = ROWS.replace("2500,d,1,17,9", "2500,d,0,17,");
    let trial = load(&text, &LoadOptions { bad_rows: BadRows::SetAside, ..with_responses() });
    assert_eq!(trial.units().stuck.iter().sum::<u64>(), 8);
}

#[test]
fn blanks_are_no_zeros_where_a_cutting_rooted() {
    let text = ROWS.replace("2500,d,1,17,9", "2500,d,1,,9");
    let Err(Error::Data(error)) = read_csv(text.as_bytes(), &with_responses()) else { panic!("a blank was taken") };
    assert_eq!(error.issues.first().map(|issue| issue.code.as_str()), Some("unmeasured"));
    let trial = load(&text, &LoadOptions { checked: vec!["unmeasured".into()], ..with_responses() });
    assert_eq!((trial.measured("roots").unwrap().number(3), trial.units().rooted[3]), (1, 2));
}

#[test]
fn grades_are_of_every_cutting_and_blanks_of_unrooted_ones_are_the_lowest() {
    let text = "strength,tray,rooted,grade\n0,a,0,\n0,a,1,2\n0,b,0,1\n2500,c,1,5\n2500,d,1,3\n";
    let grades = vec![Response::grade("grade", 0, 5)];
    let trial = load(text, &LoadOptions { responses: grades, ..options() });
    let grade = trial.measured("grade").unwrap();
    assert_eq!(grade.of(0), (&[0.0, 2.0][..], &[1, 1][..]));
    assert_eq!(grade.of(1), (&[1.0][..], &[1][..]));
    assert!(codes(&trial).contains(&"blank_is_zero"));
    let text = "strength,tray,rooted,grade\n0,a,1,3\n0,b,1,3\n2500,c,1,3\n2500,d,1,3\n";
    let one = load(text, &LoadOptions { responses: vec![Response::grade("grade", 1, 5)], ..options() });
    assert!(
        one.notes()
            .iter()
            .any(|note| note.text == "grade: every cutting has the grade 3, and one grade tells nothing apart.")
    );
}

#[test]
fn nothing_rooted_is_said() {
    let text = "strength,tray,rooted,roots\n0,a,0,0\n0,b,0,\n2500,c,0,0\n2500,d,0,0\n";
    let trial = load(text, &LoadOptions { responses: vec![Response::count("roots")], ..options() });
    let told = "roots: no cutting rooted, so there is nothing to compare.";
    assert!(trial.notes().iter().any(|note| note.text == told), "{:?}", trial.notes());
}

#[test]
fn means_of_trays_come_with_their_numbers() {
    let text =
        "strength,tray,rooted,stuck,roots,counted\n0,a,3,20,2.5,2\n0,b,0,20,,0\n2500,c,12,20,5,10\n2500,d,9,20,6,9\n";
    let means = LoadOptions {
        stuck: Some("stuck".into()),
        responses: vec![Response::count("roots").with_means_of("counted")],
        ..options()
    };
    let trial = load(text, &means);
    let roots = trial.measured("roots").unwrap();
    assert_eq!((roots.number(0), roots.mean(0), roots.number(1)), (2, Some(2.5), 0));
    assert!(codes(&trial).contains(&"spread_within_lost"));
    assert!(
        trial.design().lines.iter().any(|line| line == "roots: counts of 21 rooted cuttings as tray means, 2.5 to 6")
    );
}

#[test]
fn columns_of_rows_that_are_alike_stand_for_many_cuttings() {
    let text = "strength,tray,rooted,roots,n\n0,a,1,2,3\n0,a,0,0,7\n2500,b,1,4,2\n2500,b,1,5,2\n";
    let times = LoadOptions { times: Some("n".into()), responses: vec![Response::count("roots")], ..options() };
    let trial = load(text, &times);
    assert_eq!(trial.measured("roots").unwrap().of(0), (&[2.0][..], &[3][..]));
    assert_eq!(trial.units().stuck, [10, 4]);
}
