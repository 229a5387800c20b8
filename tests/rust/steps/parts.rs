//! Parts of a batch at several levels: each counts at its own from where it was split off, and the batch stays one unit.

use rootling::error::Error;
use rootling::steps::{
    CompareYieldsOptions, Passed, StartOptions, StepDate, StepTreatment, Steps, StepsOptions, StepsTable, YieldOf,
    YieldOptions, read_csv, read_with_plants,
};
use rootling::trial::BadRows;

const CHAIN: [&str; 3] = ["grafted", "taken", "rooted"];

fn options() -> StepsOptions {
    StepsOptions { parent: Some("parent".to_owned()), ..StepsOptions::columns(&CHAIN).with_batch(&["batch"]) }
}

fn in_rooms() -> StepsOptions {
    StepsOptions { room: Some("room".to_owned()), ..options() }
}

fn with_strength() -> StepsOptions {
    let treatments = vec![StepTreatment { column: "strength".to_owned(), step: "rooted".to_owned() }];
    StepsOptions { treatments, ..options() }
}

fn read(text: &str, options: &StepsOptions) -> Steps {
    read_csv(text.as_bytes(), options).unwrap()
}

fn codes(text: &str, options: &StepsOptions) -> Vec<(String, u64)> {
    let Err(Error::Record(record)) = read_csv(text.as_bytes(), options) else { panic!("this should not load") };
    let told = record.issues.into_iter().map(|issue| (issue.code, issue.row.unwrap_or_default()));
    told.filter(|(code, _)| code != "too_young").collect()
}

fn told(code: &str, row: u64) -> (String, u64) {
    (code.to_owned(), row)
}

const ROOMS: &str = "batch,parent,room,grafted,taken,rooted\n\
    b1,,A,60,50,\nb1a,b1,,,30,18\nb1b,b1,B,,20,9\nb2,,A,50,40,30\nb3,,B,40,30,20\nb4,,B,55,50,30\n";

#[test]
fn parts_in_other_rooms_count_there() {
    let steps = read(ROOMS, &in_rooms());
    let passed = |reached, passed| Some(Passed { reached, passed });
    let b1 = &steps.batches()[0];
    assert_eq!(b1.steps, [passed(60, 50), passed(50, 27)]);
    let parts: Vec<(&str, Vec<Option<Passed>>)> =
        b1.parts.iter().map(|part| (part.labels[0].as_str(), part.steps.clone())).collect();
    assert_eq!(parts, [("A", vec![passed(60, 50), passed(30, 18)]), ("B", vec![None, passed(20, 9)])]);
    let found = steps.compare("room", "A", "B", &CompareYieldsOptions::default()).unwrap();
    let numbers = &found.numbers;
    // By hand: in A 60 and 50 came to the first step, 30 and 40 to the second; in B 40 and 55, then 20, 30 and 50.
    assert_rel!(numbers.steps[0].take_first, 90.0 / 110.0, 1e-14);
    assert_rel!(numbers.steps[1].take_first, 48.0 / 70.0, 1e-14);
    assert_rel!(numbers.steps[0].take_second, 80.0 / 95.0, 1e-14);
    assert_rel!(numbers.steps[1].take_second, 59.0 / 100.0, 1e-14);
    assert_eq!((numbers.n_batches_first, numbers.n_batches_second), (2, 3));
    assert!(found.notes.iter().any(|note| note.code == "levels_within_batches"), "{:?}", found.notes);
    let all = steps.compare_all("room", &CompareYieldsOptions::default()).unwrap();
    assert_rel!(all.numbers.levels[1].value, 80.0 / 95.0 * 0.59, 1e-14);
    assert!(all.notes.iter().any(|note| note.code == "levels_within_batches"), "{:?}", all.notes);
    // The yield of the whole is that of batches.
    assert_rel!(steps.yields(&YieldOptions::default()).unwrap().numbers.steps[1].take, 107.0 / 170.0, 1e-14);
}

#[test]
fn levels_that_begin_at_the_split_are_followed_from_there() {
    let text = "batch,parent,room,grafted,taken,rooted\n\
        b1,,A,60,50,\nb1b,b1,B,,30,18\nb1c,b1,C,,20,9\nb2,,A,50,40,\nb2b,b2,B,,25,18\nb2c,b2,C,,15,5\nb3,,A,50,44,\nb3b,b3,B,,20,14\nb3c,b3,C,,24,11\n";
    let steps = read(text, &in_rooms());
    let asked = CompareYieldsOptions::default();
    let found = steps.compare("room", "B", "C", &asked).unwrap().numbers;
    assert_eq!((found.start.as_str(), found.steps.len()), ("taken", 1));
    assert_rel!(found.value, 25.0 / 59.0 - 50.0 / 75.0, 1e-12);
    // No plant stayed in A, so A has no yield up to the end.
    let error = steps.compare("room", "A", "B", &asked).unwrap_err().to_string();
    assert!(error.contains("\"A\" up to the last step"), "{error}");
    let all = steps.compare_all("room", &asked).unwrap().numbers;
    assert_eq!((all.start.as_str(), all.left_out.as_slice()), ("taken", &["A".to_owned()][..]));
}

#[test]
fn a_batch_split_between_treatments_is_one_block() {
    // Batches differ much, strengths by the same in each: as blocks they show it, as strangers they do not.
    let mut split = "batch,parent,strength,grafted,taken,rooted\n".to_owned();
    let mut apart = "batch,strength,grafted,taken,rooted\n".to_owned();
    for (at, rooted) in [10_u64, 20, 30, 15, 25, 12].into_iter().enumerate() {
        split.push_str(&format!(
            "b{at},,,110,100,\nb{at}l,b{at},2500,,50,{rooted}\nb{at}h,b{at},5000,,50,{}\n",
            rooted + 8
        ));
        apart.push_str(&format!("b{at}l,2500,55,50,{rooted}\nb{at}h,5000,55,50,{}\n", rooted + 8));
    }
    let asked = CompareYieldsOptions::default();
    let split = read(&split, &with_strength()).compare("strength", "2500", "5000", &asked).unwrap().numbers;
    let strangers = StepsOptions { parent: None, ..with_strength() };
    let apart = read(&apart, &strangers).compare("strength", "2500", "5000", &asked).unwrap().numbers;
    assert_rel!(split.value, 0.16, 1e-12);
    assert_rel!(apart.value, 0.16, 1e-12);
    assert!(split.low > 0.0 && apart.low < 0.0, "{} {}", split.low, apart.low);
    assert!(split.high - split.low < 0.7 * (apart.high - apart.low));
    // Never narrower than plants that stand alone make it.
    let alone: f64 = (112.0 / 300.0 * 188.0 / 300.0 + 160.0 / 300.0 * 140.0 / 300.0_f64) / 300.0;
    assert!(split.high - split.low >= 2.0 * 1.95 * alone.sqrt(), "{} {}", split.high - split.low, alone.sqrt());
    assert!(split.steps[0].part_low > apart.steps[0].part_low);
    // The other way round everything turns its sign.
    assert_eq!((split.start.as_str(), split.n_batches_first), ("taken", 6));
}

#[test]
fn levels_of_parts_that_cannot_be() {
    // Nothing tells the treatment of plants that stayed in the origin.
    let text = "batch,parent,strength,grafted,taken,rooted\nb1,,,60,50,20\nb1a,b1,2500,,20,12\nb2,,5000,50,40,30\n";
    assert_eq!(codes(text, &with_strength()), [told("missing_level", 2)]);
    // A batch that never came to the treatment needs none.
    let young = "batch,parent,strength,grafted,taken,rooted\nb1,,,60,50,\nb2,,5000,50,40,30\nb3,,2500,50,40,30\n";
    assert!(read_csv(young.as_bytes(), &with_strength()).is_ok());
    // Split off after the treatment was given.
    let late = StepsOptions {
        treatments: vec![StepTreatment { column: "strength".to_owned(), step: "taken".to_owned() }],
        ..with_strength()
    };
    let text = "batch,parent,strength,grafted,taken,rooted\nb1,,2500,60,50,\nb1a,b1,5000,,50,20\n";
    assert_eq!(codes(text, &late), [told("level_after_its_step", 3)]);
    assert!(read_csv(text.as_bytes(), &with_strength()).is_ok());
}

#[test]
fn a_parent_counted_on_beside_its_parts_is_told_with_its_rows() {
    let of = |rows: &str| format!("batch,parent,grafted,taken,rooted\n{rows}");
    let twice = of("b1,,60,50,27\nb1a,b1,,30,18\nb1b,b1,,20,9\nb2,,50,40,30\n");
    assert_eq!(codes(&twice, &options()), [told("counted_with_its_parts", 2)]);
    let Err(error) = read_csv(twice.as_bytes(), &options()) else { panic!("this should not load") };
    let words = error.to_string();
    assert!(words.contains("gave 50 of its 50 at \"taken\" to parts (rows 3 and 4)"), "{words}");
    // From the start on.
    let twice = of("b1,,60,50,27\nb1a,b1,35,30,18\nb1b,b1,25,20,9\n");
    assert_eq!(codes(&twice, &options()), [told("counted_with_its_parts", 2)]);
    // Some stayed.
    let twice = of("b1,,60,50,27\nb1a,b1,,30,18\n");
    assert_eq!(codes(&twice, &options()), [told("counted_with_its_parts", 2)]);
}

#[test]
fn a_part_is_not_older_than_its_origin() {
    let date = |step: &str, column: &str| StepDate { step: step.to_owned(), column: column.to_owned() };
    let dated = StepsOptions { dates: vec![date("grafted", "on"), date("rooted", "up")], ..options() };
    let text = "batch,parent,grafted,taken,rooted,on,up\nb1,,60,50,,2025-03-10,\nb1a,b1,,30,18,,2025-03-01\nb1b,b1,,20,9,,2025-06-01\n";
    assert_eq!(codes(text, &dated), [told("part_before_its_origin", 3)]);
}

#[test]
fn one_row_that_cannot_be_used_takes_its_descent_along() {
    let text = "batch,parent,grafted,taken,rooted\n\
        b1,,60,50,\nb1a,b1,,30,x\nb1b,b1,,20,9\nb2,,50,40,\nb2a,b2,,40,30\nb3,b9,50,40,30\nb4,,50,40,30\n";
    assert_eq!(codes(text, &options()), [told("no_number", 3), told("unknown_parent", 7)]);
    let lenient = StepsOptions { bad_rows: BadRows::SetAside, ..options() };
    let steps = read(text, &lenient);
    let names: Vec<&str> = steps.batches().iter().map(|batch| batch.name.as_str()).collect();
    assert_eq!(names, ["b2", "b4"]);
    assert_eq!(steps.batches()[0].steps[1], Some(Passed { reached: 40, passed: 30 }));
    let rows: Vec<Option<u64>> = steps.set_aside().iter().map(|issue| issue.row).collect();
    assert_eq!(rows, [Some(2), Some(3), Some(4), Some(7)]);
    // Every answer says so.
    let found = steps.yields(&YieldOptions::default()).unwrap();
    let note = found.notes.iter().find(|note| note.code == "rows_set_aside").unwrap();
    assert!(
        note.text.starts_with("4 of 7 rows were set aside, so nothing here counts what they hold: row 2 ("),
        "{}",
        note.text
    );
    let option = found.made_with.options.iter().find(|(name, _)| name == "set_aside").unwrap();
    assert_eq!(option.1, "4 rows: left_with_others 2, no_number 1, unknown_parent 1");
    let started = steps.to_start(20, &StartOptions::default()).unwrap();
    assert!(started.notes.iter().any(|note| note.code == "rows_set_aside"));
}

#[test]
fn sums_blanks_and_odd_years_are_asked_about() {
    let plain = StepsOptions { parent: None, ..options() };
    let head = "batch,grafted,taken,rooted\n";
    let total = format!("{head}b1,50,40,30\nb2,60,50,20\nTotal,110,90,50\n");
    assert_eq!(codes(&total, &plain), [told("total_row", 4)]);
    let said = StepsOptions { checked: vec!["total_row".to_owned()], ..plain.clone() };
    assert_eq!(read(&total, &said).batches().len(), 3);
    let left = StepsOptions { leave_out: vec![4], ..plain.clone() };
    assert_eq!(read(&total, &left).batches().len(), 2);
    let blank = format!("{head}b1,50,40,30\n,60,50,20\n");
    assert_eq!(codes(&blank, &plain), [told("missing_batch", 3)]);
    let room = StepsOptions { room: Some("room".to_owned()), ..plain.clone() };
    let mean = "batch,room,grafted,taken,rooted\nb1,A,50,40,30\nb2,A,60,50,20\nx,Mean,55,45,25\n";
    assert_eq!(codes(mean, &room), [told("total_row", 4)]);
    // Years that are slips.
    let dates = vec![StepDate { step: "grafted".to_owned(), column: "on".to_owned() }];
    let dated = StepsOptions { dates, ..plain.clone() };
    let text = "batch,grafted,taken,rooted,on\nb1,50,40,30,2925-03-01\nb2,60,50,20,1925-03-01\nb3,60,50,20,2025-03-01\nb4,60,50,20,2025-03-08\nb5,60,50,20,2142-03-08\n";
    assert_eq!(codes(text, &dated), [told("no_date", 2), told("odd_year", 3), told("future_date", 6)]);
    let sound = text.replace("2925", "2025").replace("2142", "2025");
    assert!(read_csv(sound.as_bytes(), &StepsOptions { checked: vec!["odd_year".to_owned()], ..dated }).is_ok());
    let season = StepsOptions { season: Some("season".to_owned()), ..plain };
    let text =
        "batch,season,grafted,taken,rooted\na,2023,50,40,30\nb,2024,50,40,30\nc,2142,50,40,30\nd,1924,50,40,30\n";
    assert_eq!(codes(text, &season), [told("odd_year", 4), told("odd_year", 5)]);
    // The one still to come is asked about, not the other.
    let two = "batch,season,grafted,taken,rooted\na,2024,50,40,30\nb,2205,50,40,30\n";
    assert_eq!(codes(two, &season), [told("odd_year", 3)]);
}

#[test]
fn plants_of_a_batch_may_have_several_treatments() {
    let of_plants = StepsOptions { last_step: Some("last".to_owned()), ..with_strength() };
    let mut text = "batch,parent,strength,last\n".to_owned();
    let rows = [
        ("", "grafted", 10),
        ("2500", "taken", 12),
        ("2500", "rooted", 8),
        ("5000", "taken", 6),
        ("5000", "rooted", 14),
    ];
    for batch in ["b1", "b2", "b3"] {
        for (strength, last, count) in rows {
            text.push_str(&format!("{batch},,{strength},{last}\n").repeat(count));
        }
    }
    let steps = read(&text, &of_plants);
    let passed = |reached, passed| Some(Passed { reached, passed });
    assert_eq!(steps.batches()[0].steps, [passed(50, 40), passed(40, 22)]);
    let asked = CompareYieldsOptions { whose: YieldOf::CurrentRates, ..CompareYieldsOptions::default() };
    let found = steps.compare("strength", "2500", "5000", &asked).unwrap().numbers;
    assert_eq!((found.n_batches_first, found.start.as_str()), (3, "taken"));
    assert_rel!(found.value, 0.3, 1e-12);
    // A plant that came to the treatment has one; rooms belong to a batch as a whole.
    let blank = "batch,parent,strength,last\nb1,,2500,rooted\nb1,,,taken\n";
    assert_eq!(codes(blank, &of_plants), [told("missing_level", 3)]);
    let rooms = StepsOptions { room: Some("room".to_owned()), treatments: Vec::new(), ..of_plants.clone() };
    let mixed = "batch,parent,room,last\nb1,,A,rooted\nb1,,B,taken\n";
    assert_eq!(codes(mixed, &rooms), [told("batch_of_two_kinds", 3)]);
    let moved = "batch,parent,room,last\nb1,,A,rooted\nb1b,b1,B,taken\n";
    assert_eq!(codes(moved, &rooms), [told("parts_of_two_kinds", 3)]);
    // Named with its step the same is clear.
    let from = vec![StepTreatment { column: "room".to_owned(), step: "rooted".to_owned() }];
    let from = StepsOptions { treatments: from, room: None, ..rooms };
    assert_eq!(read(moved, &from).batches()[0].parts.len(), 2);
    let twice =
        "batch,parent,strength,last\nb1a,b1,2500,rooted\nb1a,b2,2500,rooted\nx,y,2500,rooted\ny,x,2500,rooted\n";
    let wanted = [told("batch_of_two_origins", 3), told("parents_in_circle", 4), told("parents_in_circle", 5)];
    assert_eq!(codes(twice, &of_plants), wanted);
}

#[test]
fn names_that_are_nearly_right_are_told() {
    let plain = StepsOptions::columns(&["grafted", "takn", "rooted"]).with_batch(&["batch"]);
    let Err(Error::Record(record)) = read_csv(b"batch,grafted,taken,rooted\nb1,5,4,3\n", &plain) else {
        panic!("this should not load")
    };
    assert!(record.issues[0].hint.starts_with("did you mean \"taken\"?"), "{}", record.issues[0]);
    assert_eq!(record.issues[0].paste.as_deref(), Some("steps=[\"grafted\", \"taken\", \"rooted\"]"));
    let of_plants = StepsOptions { last_step: Some("last".to_owned()), ..plain };
    let Err(error) = read_csv(b"batch,last\nb1,taken\n", &of_plants) else { panic!("this should not load") };
    assert!(error.to_string().contains("did you mean \"takn\"? Write one of"), "{error}");
}

#[test]
fn a_step_that_was_not_counted_yet_is_named() {
    let plain = StepsOptions { parent: None, ..options() };
    let steps = read("batch,grafted,taken,rooted\nb1,50,40,\nb2,60,50,\n", &plain);
    for whose in [YieldOf::FollowedCohorts, YieldOf::CurrentRates] {
        let error = steps.yields(&YieldOptions { whose, ..YieldOptions::default() }).unwrap_err().to_string();
        assert!(error.starts_with("no batch was counted at \"rooted\" yet"), "{error}");
    }
    assert!(steps.to_start(5, &StartOptions::default()).unwrap_err().to_string().contains("leave it out of steps="));
}

#[test]
fn counts_and_plants_of_one_record() {
    let chain = ["grafted", "taken", "rooted", "saleable"];
    let treatments = vec![StepTreatment { column: "strength".to_owned(), step: "rooted".to_owned() }];
    let asked = StepsOptions {
        last_step: Some("last".to_owned()),
        left: Some("left".to_owned()),
        room: Some("room".to_owned()),
        treatments,
        ..StepsOptions::columns(&chain).with_batch(&["batch"])
    };
    let counts = "batch,room,grafted,taken\nb1,A,6,4\nb2,B,5,4\n";
    let plants = "batch,strength,last,left\n\
        b1,2500,taken,\nb1,2500,rooted,\nb1,5000,saleable,\nb1,5000,rooted,sold\n\
        b2,2500,saleable,\nb2,2500,taken,\nb2,5000,saleable,\nb2,5000,saleable,\n";
    let table = |text: &str, wanted: &[&str]| StepsTable::of_csv(text.as_bytes(), wanted, None).unwrap();
    let both = |counts: &str, plants: &str| {
        read_with_plants(&table(counts, &["batch", "grafted"]), &table(plants, &["batch", "last"]), &asked)
    };
    let steps = both(counts, plants).unwrap();
    let passed = |reached, passed| Some(Passed { reached, passed });
    let found: Vec<_> =
        steps.batches().iter().map(|batch| (batch.name.as_str(), batch.started, batch.steps.clone())).collect();
    // One plant of b1 was sold when it had rooted.
    assert_eq!(found[0], ("b1", 6, vec![passed(6, 4), passed(4, 3), passed(2, 1)]));
    assert_eq!(found[1], ("b2", 5, vec![passed(5, 4), passed(4, 3), passed(3, 3)]));
    let at = |level: &str| {
        let part = steps.batches()[0].parts.iter().find(|part| part.labels[1] == level).unwrap();
        part.steps.clone()
    };
    assert_eq!(at("2500"), [None, passed(2, 1), passed(1, 0)]);
    assert_eq!(at("5000"), [None, passed(2, 2), passed(1, 1)]);
    let compared = steps.compare("strength", "2500", "5000", &CompareYieldsOptions::default()).unwrap().numbers;
    assert_eq!((compared.start.as_str(), compared.n_batches_first), ("taken", 2));
    // Later counts have to agree, and so has the first.
    let more = "batch,room,grafted,taken,rooted\nb1,A,6,4,3\nb2,B,5,4,3\n";
    assert_eq!(both(more, plants).unwrap().batches()[0].steps, steps.batches()[0].steps);
    let told = |counts: &str, plants: &str| {
        let Err(Error::Record(record)) = both(counts, plants) else { panic!("this should not load") };
        let of = record.issues.into_iter().filter(|issue| issue.code != "too_young");
        of.map(|issue| (issue.code.clone(), issue.column.clone().unwrap_or_default(), issue.reason)).collect::<Vec<_>>()
    };
    let issue = |code: &str, column: &str, reason: &str| (code.to_owned(), column.to_owned(), reason.to_owned());
    assert_eq!(
        told(&more.replace("6,4,3", "6,4,2"), plants),
        [issue("plants_do_not_agree", "rooted", "batch \"b1\" has 2 here, and 3 of its plants in plants= came to it")]
    );
    assert_eq!(
        told(&counts.replace("6,4", "6,5"), plants),
        [issue("plants_do_not_agree", "taken", "batch \"b1\" has 5 here and 4 plants in plants=")]
    );
    let stranger = format!("{plants}b9,2500,taken,\n");
    assert_eq!(
        told(counts, &stranger),
        [issue("plants_of_no_batch", "batch", "in plants=, batch \"b9\" has no row of counts")]
    );
    assert_eq!(
        told(counts, &plants.replace("b1,2500,taken", "b1,2500,tkaen"))[0],
        issue("unknown_step", "last", "in plants=, \"tkaen\" is no step of the chain")
    );
    assert_eq!(told(&counts.replace("taken", "takn"), plants)[0].0, "unknown_column");
    // A batch without plants is one that is not so far yet.
    let young = format!("{counts}b3,A,9,8\n");
    assert_eq!(both(&young, plants).unwrap().batches()[2].steps, [passed(9, 8), None, None]);
    // All plants from the start on, with counts beside them.
    let all = plants.to_owned() + "b1,,grafted,\nb1,,grafted,\nb2,,grafted,\n";
    assert_eq!(both(more, &all).unwrap().batches()[0].steps, steps.batches()[0].steps);
}
