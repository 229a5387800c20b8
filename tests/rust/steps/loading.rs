//! Counts of a chain as people write them.

use rootling::error::Error;
use rootling::steps::{Passed, Steps, StepsOptions, TakenAway, read_csv};
use rootling::trial::BadRows;

fn options() -> StepsOptions {
    StepsOptions::columns(&["grafted", "taken", "rooted"]).with_batch(&["batch"])
}

fn codes(text: &str, options: &StepsOptions) -> Vec<(String, Option<u64>, Option<String>)> {
    let Err(Error::Record(record)) = read_csv(text.as_bytes(), options) else { panic!("this should not load") };
    record.issues.into_iter().map(|issue| (issue.code, issue.row, issue.column)).collect()
}

fn read(text: &str, options: &StepsOptions) -> Steps {
    read_csv(text.as_bytes(), options).unwrap()
}

#[test]
fn all_problems_are_told_at_once() {
    let text = "batch,grafted,taken,rooted\n\
        b1,50,40,41\n\
        b2,50,,20\n\
        b3,0,0,0\n\
        b4,fifty,40,20\n\
        b5,50,80%,20\n\
        b6,,40,20\n\
        b7,50,40,20.5\n\
        b8,50,40,20\n\
        b8,50,40,20\n\
        b9,50,-4,\n";
    let told = |code: &str, row: u64, column: &str| (code.to_owned(), Some(row), Some(column.to_owned()));
    let wanted = [
        told("rises_along_chain", 2, "rooted"),
        told("step_missing", 3, "taken"),
        told("none_started", 4, "grafted"),
        told("no_number", 5, "grafted"),
        told("percent_for_count", 6, "taken"),
        told("step_missing", 7, "grafted"),
        told("not_whole", 8, "rooted"),
        told("batch_twice", 10, "batch"),
        told("negative_count", 11, "taken"),
    ];
    assert_eq!(codes(text, &options()), wanted);
    let lenient = StepsOptions { bad_rows: BadRows::SetAside, ..options() };
    let steps = read(text, &lenient);
    assert_eq!((steps.batches().len(), steps.batches()[0].name.as_str()), (1, "b8"));
    assert_eq!(steps.set_aside().len(), 9);
}

#[test]
fn plants_too_young_or_taken_away_are_no_losses() {
    let text = "batch,grafted,taken,sold,rooted,callus\nb1,50,40,10,30,45\nb2,50,42,0,,50\nb3,60,,,,\n";
    let away = vec![TakenAway { step: "taken".to_owned(), column: "sold".to_owned() }];
    let steps = read(text, &StepsOptions { taken_away: away.clone(), states: vec!["callus".to_owned()], ..options() });
    let passed = |reached, passed| Some(Passed { reached, passed });
    assert_eq!(steps.batches()[0].steps, [passed(50, 40), passed(30, 30)]);
    assert_eq!(steps.batches()[1].steps, [passed(50, 42), None]);
    assert_eq!(steps.batches()[2].steps, [None, None]);
    // Callus may stand above what took: it is no step.
    assert_eq!(steps.batches()[0].states, [Some(45)]);
    let codes: Vec<(&str, Option<u64>)> = steps.issues().iter().map(|issue| (issue.code.as_str(), issue.row)).collect();
    assert_eq!(codes, [("too_young", Some(3)), ("too_young", Some(4))]);
    assert!(steps.set_aside().is_empty());
    // Sold plants cannot come back.
    let more = StepsOptions { taken_away: away, ..options() };
    let text = "batch,grafted,taken,sold,rooted\nb1,50,40,10,31\nb2,50,40,41,0\n";
    assert_eq!(codes_of(text, &more), ["rises_along_chain", "rises_along_chain"]);
}

fn codes_of(text: &str, options: &StepsOptions) -> Vec<String> {
    codes(text, options).into_iter().map(|(code, _, _)| code).collect()
}

#[test]
fn columns_and_options_that_cannot_be() {
    let text = "batch,grafted,taken,rooted,callus,rootstock\nb1,50,40,30,51,K12\nb2,50,40,30,20,\nb3,50,40,30,1,k12\n";
    assert_eq!(codes_of(text, &StepsOptions::columns(&["grafted", "taken", "roted"])), ["unknown_column"]);
    let twice = StepsOptions { states: vec!["taken".to_owned()], ..options() };
    assert_eq!(codes_of(text, &twice), ["column_in_two_roles"]);
    let both = StepsOptions { states: vec!["callus".to_owned()], rootstock: Some("rootstock".to_owned()), ..options() };
    assert_eq!(codes_of(text, &both), ["state_above_started", "missing_level"]);
    let alike = "batch,grafted,taken,rooted,rootstock\nb1,50,40,30,K12\nb3,50,40,30,k12\n";
    let asked = StepsOptions { rootstock: Some("rootstock".to_owned()), ..options() };
    assert_eq!(codes_of(alike, &asked), ["similar_levels"]);
    assert!(read_csv(alike.as_bytes(), &StepsOptions { checked: vec!["similar_levels".to_owned()], ..asked }).is_ok());
    assert!(read_csv(alike.as_bytes(), &StepsOptions::columns(&["grafted"])).is_err());
    let away = vec![TakenAway { step: "rootd".to_owned(), column: "sold".to_owned() }];
    let error = read_csv(
        b"grafted,taken,sold\n1,1,0\n",
        &StepsOptions { taken_away: away, ..StepsOptions::columns(&["grafted", "taken"]) },
    );
    assert!(error.unwrap_err().to_string().contains("taken_away"));
}

#[test]
fn the_order_of_rows_does_not_matter() {
    let one = read("batch,grafted,taken,rooted\nb1,50,40,30\nb2,60,50,20\n", &options());
    let two = read("batch,grafted,taken,rooted\nb2,60,50,20\nb1,50,40,30\n", &options());
    assert_eq!(one.fingerprint(), two.fingerprint());
    let other = read("batch,grafted,taken,rooted\nb2,60,50,21\nb1,50,40,30\n", &options());
    assert_ne!(one.fingerprint(), other.fingerprint());
}

#[test]
fn plants_one_by_one_come_to_the_same_as_their_counts() {
    let mut text = "plant,batch,last,left,rootstock\n".to_owned();
    let told = [
        ("b1", 10, "grafted", ""),
        ("b1", 10, "taken", "sold"),
        ("b1", 30, "rooted", ""),
        ("b2", 8, "grafted", ""),
        ("b2", 42, "taken", "young"),
        ("b3", 6, "grafted", ""),
    ];
    let rows = told.iter().flat_map(|one| std::iter::repeat_n(one, one.1));
    for (at, (batch, _, last, left)) in rows.enumerate() {
        text.push_str(&format!("p{at},{batch},{last},{left},K12\n"));
    }
    let of_plants = StepsOptions {
        last_step: Some("last".to_owned()),
        plant: Some("plant".to_owned()),
        left: Some("left".to_owned()),
        rootstock: Some("rootstock".to_owned()),
        ..options()
    };
    let steps = read(&text, &of_plants);
    let passed = |reached, passed| Some(Passed { reached, passed });
    assert_eq!(steps.batches()[0].steps, [passed(50, 40), passed(30, 30)]);
    assert_eq!(steps.batches()[1].steps, [passed(50, 42), None]);
    assert_eq!(steps.batches()[0].started, 50);
    // A batch of which all failed is not too young.
    assert_eq!(steps.batches()[2].steps, [passed(6, 0), passed(0, 0)]);
    let wrong = "plant,batch,last,left,rootstock\np1,b1,rooted,,K12\np1,b2,rooted,,K12\np2,b1,roted,,K12\np3,b1,rooted,lost,K12\np4,,taken,,K12\np5,b1,taken,,K17\np6,b1,,,K12\n";
    let wanted =
        ["plant_twice", "unknown_step", "unknown_status", "missing_level", "batch_of_two_kinds", "missing_step"];
    assert_eq!(codes_of(wrong, &of_plants), wanted);
    assert!(read_csv(wrong.as_bytes(), &StepsOptions { batch: Vec::new(), ..of_plants }).is_err());
}
