//! Counts of a chain as people write them.

use rootling::error::Error;
use rootling::steps::{Passed, StepDate, StepTreatment, Steps, StepsOptions, TakenAway, read_csv};
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
    // Plants that are alike may share a row.
    let counted: String =
        told.iter().map(|(batch, count, last, left)| format!("{batch},{last},{left},{count}\n")).collect();
    let shared = StepsOptions { plant: None, rootstock: None, times: Some("times".to_owned()), ..of_plants.clone() };
    let shared = read(&format!("batch,last,left,times\n{counted}"), &shared);
    assert!(shared.batches().iter().zip(steps.batches()).all(|(one, two)| one.steps == two.steps));
    let wrong = "plant,batch,last,left,rootstock\np1,b1,rooted,,K12\np1,b2,rooted,,K12\np2,b1,roted,,K12\np3,b1,rooted,lost,K12\np4,,taken,,K12\np5,b1,taken,,K17\np6,b1,,,K12\n";
    let wanted =
        ["plant_twice", "unknown_step", "unknown_status", "missing_level", "batch_of_two_kinds", "missing_step"];
    assert_eq!(codes_of(wrong, &of_plants), wanted);
    assert!(read_csv(wrong.as_bytes(), &StepsOptions { batch: Vec::new(), ..of_plants }).is_err());
}

fn with_parent() -> StepsOptions {
    StepsOptions { parent: Some("parent".to_owned()), ..options() }
}

#[test]
fn parts_of_a_batch_are_one_batch() {
    let passed = |reached, passed| Some(Passed { reached, passed });
    // Split in two; split off while the rest stays; two merged.
    let text = "batch,parent,grafted,taken,rooted\n\
        b1,,50,45,\nb1a,b1,,25,20\nb1b,b1,,20,15\n\
        b2,,50,44,20\nb2a,b2,,14,12\n\
        b3,,40,30,\nb4,,40,35,\nm,b3 + b4,,65,50\n";
    let steps = read(text, &with_parent());
    let names: Vec<&str> = steps.batches().iter().map(|batch| batch.name.as_str()).collect();
    assert_eq!(names, ["b1", "b2", "b3 + b4"]);
    let counts: Vec<_> = steps.batches().iter().map(|batch| (batch.started, batch.steps.clone())).collect();
    assert_eq!(counts[0], (50, vec![passed(50, 45), passed(45, 35)]));
    assert_eq!(counts[1], (50, vec![passed(50, 44), passed(44, 32)]));
    assert_eq!(counts[2], (80, vec![passed(80, 65), passed(65, 50)]));
    assert!(steps.issues().is_empty());
    // A part that is too young lost nothing.
    let steps = read("batch,parent,grafted,taken,rooted\nb1,,50,45,\nb1a,b1,,25,20\nb1b,b1,,20,\n", &with_parent());
    assert_eq!(steps.batches()[0].steps, [passed(50, 45), passed(25, 20)]);
}

#[test]
fn plants_of_parts_that_do_not_add_up() {
    let of = |rows: &str| codes_of(&format!("batch,parent,grafted,taken,rooted\n{rows}"), &with_parent());
    assert_eq!(of("b1,,50,45,\nb1a,b1,,25,20\nb1b,b1,,19,15\n"), ["parts_do_not_add_up"]);
    assert_eq!(of("b1,,50,45,30\nb1a,b1,,46,20\n"), ["parts_do_not_add_up"]);
    assert_eq!(of("b3,,40,30,\nb4,,40,35,\nm,b3 + b4,,60,50\n"), ["parts_do_not_add_up"]);
    assert_eq!(of("b1,,50,,\nb1a,b1,,25,20\n"), ["part_of_uncounted"]);
    assert_eq!(of("b1,,50,45,\nb1a,b9,,25,20\n"), ["too_young", "unknown_parent"]);
    assert_eq!(of("b1,b2,50,45,\nb2,b1,50,45,30\n"), ["parents_in_circle", "parents_in_circle"]);
    let kinds = StepsOptions { rootstock: Some("rootstock".to_owned()), ..with_parent() };
    let merged = "batch,parent,rootstock,grafted,taken,rooted\nb3,,K12,40,30,\nb4,,K17,40,35,\nm,b3 + b4,,,65,50\n";
    assert_eq!(codes_of(merged, &kinds), ["batch_of_two_kinds"]);
}

#[test]
fn days_are_read_and_stand_in_order() {
    let date = |step: &str, column: &str| StepDate { step: step.to_owned(), column: column.to_owned() };
    let dates = vec![date("grafted", "on"), date("rooted", "up")];
    let dated = StepsOptions { dates, ..options() };
    let head = "batch,grafted,taken,rooted,on,up\n";
    let steps = read(&format!("{head}b1,50,40,30,2026-02-03,2026-04-05\nb2,50,40,30,,\n"), &dated);
    // numpy.datetime64("2026-02-03").astype(int), and of 2026-04-05.
    assert_eq!(steps.batches()[0].dates, [Some(20_487), None, Some(20_548)]);
    let of = |rows: &str| codes_of(&format!("{head}{rows}"), &dated);
    assert_eq!(of("b1,50,40,30,2026-04-05,2026-02-03\n"), ["dates_out_of_order"]);
    assert_eq!(of("b1,50,40,30,soon,2026-02-03\n"), ["no_date"]);
    assert_eq!(of("b1,50,40,30,3/4/2026,5/6/2026\n"), ["day_or_month_first"]);
    let first = StepsOptions { day_first: Some(true), ..dated.clone() };
    assert!(read_csv(format!("{head}b1,50,40,30,3/4/2026,5/6/2026\n").as_bytes(), &first).is_ok());
    let unknown = StepsOptions { dates: vec![date("budded", "on")], ..options() };
    assert!(read_csv(head.as_bytes(), &unknown).unwrap_err().to_string().contains("dates="));
    // Plants: a day beyond the last step cannot be.
    let plants = StepsOptions {
        last_step: Some("last".to_owned()),
        dates: vec![date("taken", "out"), date("rooted", "up")],
        ..options()
    };
    let text = "batch,last,out,up\nb1,taken,2026-03-01,2026-04-05\nb1,rooted,2026-03-01,2026-04-05\nb1,rooted,2026-05-01,2026-04-05\n";
    assert_eq!(codes_of(text, &plants), ["date_beyond_last_step", "dates_out_of_order"]);
}

#[test]
fn treatments_begin_at_their_step() {
    let given = vec![StepTreatment { column: "strength".to_owned(), step: "rooted".to_owned() }];
    let asked = StepsOptions { treatments: given, room: Some("room".to_owned()), ..options() };
    let text = "batch,grafted,taken,rooted,strength,room\nb1,50,40,30,2500,1\nb2,60,50,20,5000,1\n";
    let steps = read(text, &asked);
    let levels: Vec<(&str, usize)> = steps.level_columns().iter().map(|one| (one.column.as_str(), one.from)).collect();
    assert_eq!(levels, [("room", 0), ("strength", 1)]);
    let wrong = vec![StepTreatment { column: "strength".to_owned(), step: "budded".to_owned() }];
    let wrong = StepsOptions { treatments: wrong, ..options() };
    assert!(read_csv(text.as_bytes(), &wrong).unwrap_err().to_string().contains("treatments="));
}
