//! What a chain answers, in numbers and words.

use rootling::steps::{SeasonSpread, StartOptions, StepCost, Steps, StepsOptions, YieldOf, YieldOptions, read_csv};

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
    let alone = (numbers.value * (1.0 - numbers.value) / 310.0).sqrt();
    assert!(numbers.se >= alone && numbers.se < 1.01 * alone);
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
fn a_step_of_one_batch_has_no_limits() {
    let text =
        "batch,grafted,taken,rooted,second_graft,saleable\nb1,50,30,28,14,14\nb2,50,40,38,20,\nb3,50,34,32,16,\n";
    let options = YieldOptions { whose: YieldOf::CurrentRates, ..YieldOptions::default() };
    let told = steps(text).yields(&options).unwrap_err().to_string();
    assert!(told.starts_with("\"saleable\" was counted in one batch only"), "{told}");
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
    // Nothing lost, so no step costs most in any draw; and what is started is not promised without a doubt.
    assert!(found.numbers.steps.iter().all(|step| step.most_often == 0.0));
    assert!(found.details.iter().all(|line| !line.contains("costs most")));
    let found = steps(all).to_start(100, &StartOptions::default()).unwrap().numbers;
    assert!(found.started.unwrap() > 103 && found.se > 0.0, "{found:?}");
    let one = steps("batch,grafted,taken,rooted,second_graft,saleable\nb1,9,9,9,9,9\n");
    assert!(one.yields(&YieldOptions::default()).unwrap_err().to_string().contains("at least 2"));
    let none = "batch,grafted,taken,rooted,second_graft,saleable\nb1,9,0,0,0,0\nb2,8,0,0,0,0\n";
    let refused = steps(none).to_start(100, &StartOptions::default()).unwrap_err().to_string();
    assert!(refused.contains("no number of starts can be given"), "{refused}");
    let draws = YieldOptions { draws: 2_000_000, ..YieldOptions::default() };
    assert!(steps(all).yields(&draws).is_err());
}

#[test]
fn all_lost_at_a_step_is_an_answer() {
    let lost = "batch,grafted,taken,rooted,second_graft,saleable\nb1,50,40,0,0,0\nb2,50,36,0,0,0\nb3,60,44,0,0,0\nb4,40,30,0,0,0\n";
    let found = steps(lost).yields(&YieldOptions::default()).unwrap();
    let wanted =
        "Rooted costs most: all that come to it are lost, 75 of 100 started; five points there bring 4 more to rooted.";
    assert_eq!(found.sentence, wanted);
    let numbers = &found.numbers;
    assert_eq!(numbers.not_reached, ["second_graft", "saleable"]);
    assert_eq!(numbers.steps.len(), 2);
    // The yield to the end cannot be above that to the last step that plants came to.
    let cut = "batch,grafted,taken,rooted\nb1,50,40,0\nb2,50,36,0\nb3,60,44,0\nb4,40,30,0\n";
    let options = StepsOptions::columns(&["grafted", "taken", "rooted"]).with_batch(&["batch"]);
    let short = read_csv(cut.as_bytes(), &options).unwrap().yields(&YieldOptions::default()).unwrap().numbers;
    assert_eq!((numbers.value, numbers.low, numbers.high), (short.value, short.low, short.high));
    assert!(numbers.value == 0.0 && numbers.high > 0.0 && short.not_reached.is_empty());
    assert!(found.details.iter().any(|line| line.starts_with("No plant was left for second graft and saleable")));
}

#[test]
fn a_yield_of_all_is_told_as_taken() {
    let all = "batch,grafted,taken,rooted,second_graft,saleable\nb1,90,90,90,90,90\nb2,80,80,80,80,80\n";
    let found = steps(all).to_start(100, &StartOptions::default()).unwrap();
    assert_eq!(found.numbers.found, Some(1.0));
    let told = "In 2 followed batches all that were started came to saleable; of 100 it is taken that 99.7 will";
    assert!(found.details.iter().any(|line| line.starts_with(told)), "{:?}", found.details);
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
    assert!(back.details.iter().all(|line| !line.starts_with("If each plant stood alone")), "{:?}", back.details);
    assert!(back.numbers.wanted >= 200);
    let seasons = StartOptions { season_sd: Some(0.3), ..StartOptions::default() };
    let more = steps.to_start(200, &seasons).unwrap();
    assert!(more.numbers.started.unwrap() > started);
    assert!(more.notes.iter().all(|note| note.code != "these_seasons_only"));
    for (wanted, assurance) in [(0, 0.95), (200, 95.0), (200, 0.0), (u64::MAX, 0.95)] {
        assert!(steps.to_start(wanted, &StartOptions { assurance, ..StartOptions::default() }).is_err());
    }
    assert!(steps.sure_of(0, &StartOptions::default()).is_err());
}

fn seasons(text: &str) -> Steps {
    let options = StepsOptions { season: Some("season".to_owned()), ..StepsOptions::columns(&["grafted", "saleable"]) };
    read_csv(text.as_bytes(), &options.with_batch(&["batch"])).unwrap()
}

#[test]
fn three_seasons_tell_how_a_further_one_may_differ() {
    let two = "batch,season,grafted,saleable\na,2023,50,20\nb,2023,50,24\nc,2024,50,22\nd,2024,50,25\n";
    let found = seasons(two).to_start(100, &StartOptions::default()).unwrap();
    assert_eq!((found.numbers.seasons, found.numbers.n_seasons), (SeasonSpread::NotCounted, Some(2)));
    assert!(found.notes.iter().any(|note| note.text.contains("the two seasons of these batches only")));
    let three = format!("{two}e,2025,50,35\nf,2025,50,36\n");
    let found = seasons(&three).to_start(100, &StartOptions::default()).unwrap().numbers;
    assert_eq!((found.seasons, found.df), (SeasonSpread::Estimated, Some(2.0)));
    // The logits of (44.5 / 56.5), (47.5 / 53.5), (71.5 / 29.5): numpy.std with ddof 1, and their mean.
    assert!((found.season_sd - 0.617_305_453).abs() < 1e-8, "{}", found.season_sd);
    let given = StartOptions { season_sd: Some(0.0), ..StartOptions::default() };
    let given = seasons(&three).to_start(100, &given).unwrap().numbers;
    assert!(given.started.unwrap() < found.started.unwrap());
    assert_eq!(given.seasons, SeasonSpread::Given);
}

#[test]
fn what_a_tree_costs() {
    let cost = |step: &str, cost: f64| StepCost { step: step.to_owned(), cost };
    let asked = |costs: Vec<StepCost>| {
        steps(SEASON).yields(&YieldOptions { costs, draws: 0, ..YieldOptions::default() }).unwrap()
    };
    // All is spent at the start: the cost over the yield, and the limits turned over.
    let found = asked(vec![cost("grafted", 1.9)]).numbers;
    assert_rel!(found.cost.unwrap(), 1.9 / (137.0 / 310.0), 1e-12);
    assert_rel!(found.cost_low.unwrap(), 1.9 / found.high, 1e-12);
    assert_rel!(found.cost_high.unwrap(), 1.9 / found.low, 1e-12);
    // 310 grafted and 255 rooted plants that come to the second graft, over 137 trees.
    let found = asked(vec![cost("grafted", 1.9), cost("second_graft", 0.8)]);
    assert_rel!(found.numbers.cost.unwrap(), (310.0 * 1.9 + 255.0 * 0.8) / 137.0, 1e-12);
    assert!(found.numbers.cost_low < found.numbers.cost && found.numbers.cost < found.numbers.cost_high);
    assert!(
        found.details.iter().any(|line| line.starts_with("Each tree that comes to saleable costs 5.788 (")),
        "{:?}",
        found.details
    );
    assert!(
        found.details.iter().any(|line| line
            == "Spent on 100 grafted: 190 on grafted (1.9 each) and 65.81 on second graft (0.8 for each of 82.3 that come to it, passed or not)."),
        "{:?}",
        found.details
    );
    assert!(found.made_with.options.contains(&("costs".to_owned(), "grafted 1.9, second_graft 0.8".to_owned())));
    let none = "batch,grafted,taken,rooted,second_graft,saleable\nb1,9,8,7,3,0\nb2,8,7,5,2,0\n";
    let lost = YieldOptions { costs: vec![cost("grafted", 1.0)], draws: 0, ..YieldOptions::default() };
    let lost = steps(none).yields(&lost).unwrap();
    assert!(lost.details.iter().any(|line| line.starts_with("No tree came to saleable")), "{:?}", lost.details);
    let wrong = YieldOptions { costs: vec![cost("graftd", 1.0)], ..YieldOptions::default() };
    assert!(steps(SEASON).yields(&wrong).unwrap_err().to_string().contains("graftd"));
    let wrong = YieldOptions { costs: vec![cost("grafted", -1.0)], ..YieldOptions::default() };
    assert!(steps(SEASON).yields(&wrong).unwrap_err().to_string().contains("0 or more"));
    let options = StartOptions { costs: vec![cost("grafted", 1.9)], ..StartOptions::default() };
    let found = steps(SEASON).to_start(200, &options).unwrap().numbers;
    assert_rel!(found.cost.unwrap(), 1.9 * found.started.unwrap() as f64, 1e-12);
    assert_rel!(found.cost_per_tree.unwrap(), 1.9 / found.take, 1e-12);
}
