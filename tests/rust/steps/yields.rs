//! What a chain answers, in numbers and words.

use rootling::steps::{StartOptions, Steps, StepsOptions, YieldOf, YieldOptions, read_csv};

fn steps(text: &str) -> Steps {
    let options = StepsOptions::columns(&["grafted", "taken", "rooted", "second_graft", "saleable"]);
    read_csv(text.as_bytes(), &options.with_batch(&["batch"])).unwrap()
}

const SEASON: &str = "batch,grafted,taken,rooted,second_graft,saleable\n\
    b1,50,45,40,22,20\nb2,50,46,41,26,25\nb3,60,54,50,30,27\nb4,40,37,33,18,17\nb5,50,44,41,24,22\nb6,60,55,50,28,26\nb7,50,47,43,,\n";

#[test]
fn the_costliest_step_leads() {
    let found = steps(SEASON).yields(&YieldOptions::default()).unwrap();
    let numbers = &found.numbers;
    assert_eq!((numbers.n_batches, numbers.n_young, numbers.n_started), (6, 1, 310));
    assert!((numbers.value - 137.0 / 310.0).abs() < 1e-14);
    assert_eq!(
        found.sentence,
        "Second graft costs most: 35 of 100 started; five points there bring 4 more to saleable."
    );
    assert_eq!(numbers.steps[2].most_often, 1.0);
    assert_eq!((numbers.steps[2].reached, numbers.steps[2].passed), (255, 148));
    // What is left after the last step is the overall yield.
    assert!((numbers.steps[3].left - numbers.value).abs() < 1e-14);
    // These batches differ less than chance makes them: the error stays that of plants that stand alone.
    assert!((numbers.se - (numbers.value * (1.0 - numbers.value) / 310.0).sqrt()).abs() < 1e-14);
    assert!(numbers.se_without_one.unwrap() < numbers.se);
    let notes: Vec<&str> = found.notes.iter().map(|note| note.code.as_str()).collect();
    assert_eq!(notes, ["these_seasons_only"]);
    assert_eq!(found.details.last().unwrap(), "1 batch is too young for a step and not counted as lost.");
    assert_eq!(found.table.columns[0].values.len(), 4);
    assert_eq!(found.made_with.seed, Some(1));
}

#[test]
fn current_rates_count_young_batches_where_they_can() {
    let options = YieldOptions { whose: YieldOf::CurrentRates, ..YieldOptions::default() };
    let found = steps(SEASON).yields(&options).unwrap();
    assert_eq!((found.numbers.n_batches, found.numbers.n_young), (7, 0));
    assert_eq!((found.numbers.steps[0].reached, found.numbers.steps[3].reached), (360, 148));
    let product: f64 = found.numbers.steps.iter().map(|step| step.take).product();
    assert!((found.numbers.value - product).abs() < 1e-14);
    assert!(found.notes.iter().any(|note| note.code == "current_rates"));
}

#[test]
fn two_steps_that_cost_alike_are_not_told_apart() {
    let text = "batch,grafted,taken,rooted,second_graft,saleable\nb1,50,30,28,14,14\nb2,50,40,38,20,19\nb3,50,34,32,16,16\nb4,50,30,27,18,18\n";
    let found = steps(text).yields(&YieldOptions::default()).unwrap();
    assert!(found.sentence.starts_with("Leaning to "), "{}", found.sentence);
    assert!(found.notes.iter().any(|note| note.code == "few_batches"));
}

#[test]
fn ends_and_refusals() {
    let all = "batch,grafted,taken,rooted,second_graft,saleable\nb1,9,9,9,9,9\nb2,8,8,8,8,8\n";
    let found = steps(all).yields(&YieldOptions::default()).unwrap();
    assert_eq!(found.sentence, "No tree was lost at any of 4 steps.");
    assert!(found.numbers.low < 1.0 && found.numbers.high == 1.0);
    let one = steps("batch,grafted,taken,rooted,second_graft,saleable\nb1,9,9,9,9,9\n");
    assert!(one.yields(&YieldOptions::default()).unwrap_err().to_string().contains("at least 2"));
    let none = "batch,grafted,taken,rooted,second_graft,saleable\nb1,9,0,0,0,0\nb2,8,0,0,0,0\n";
    assert!(steps(none).yields(&YieldOptions::default()).unwrap_err().to_string().contains("no plant reached step 2"));
    let draws = YieldOptions { draws: 2_000_000, ..YieldOptions::default() };
    assert!(steps(all).yields(&draws).is_err());
}

#[test]
fn starts_are_more_than_the_yield_asks_for() {
    let steps = steps(SEASON);
    let found = steps.to_start(200, &StartOptions::default()).unwrap();
    let numbers = &found.numbers;
    // 200 / (137 / 310).
    assert_eq!(numbers.by_yield, 453);
    assert!((0.4..0.6).contains(&numbers.by_yield_chance));
    let started = numbers.started.unwrap();
    assert!(started >= numbers.alone.unwrap() && numbers.chance.unwrap() >= 0.95);
    assert!(
        found
            .sentence
            .starts_with(&format!("Start {started} for 200 saleable with 95 % assurance; 453, by the yield alone"))
    );
    let back = steps.sure_of(started, &StartOptions::default()).unwrap();
    assert!(back.numbers.wanted >= 200);
    let seasons = StartOptions { season_sd: 0.3, ..StartOptions::default() };
    let more = steps.to_start(200, &seasons).unwrap();
    assert!(more.numbers.started.unwrap() > started);
    assert!(more.notes.iter().all(|note| note.code != "these_seasons_only"));
    for (wanted, assurance) in [(0, 0.95), (200, 95.0), (200, 0.0), (u64::MAX, 0.95)] {
        assert!(steps.to_start(wanted, &StartOptions { assurance, ..StartOptions::default() }).is_err());
    }
    assert!(steps.sure_of(0, &StartOptions::default()).is_err());
}
