//! Two levels side by side, all levels, and what of a difference is the mix.

use rootling::counts::{Cells, parts};
use rootling::steps::{
    CompareYieldsOptions, LevelPair, SplitMethod, StepTreatment, Steps, StepsOptions, YieldOf, read_csv, split,
};

const CHAIN: [&str; 4] = ["grafted", "taken", "rooted", "saleable"];

fn steps(text: &str) -> Steps {
    let options = StepsOptions {
        season: Some("season".to_owned()),
        rootstock: Some("rootstock".to_owned()),
        ..StepsOptions::columns(&CHAIN).with_batch(&["batch"])
    };
    read_csv(text.as_bytes(), &options).unwrap()
}

const TWO: &str = "batch,season,rootstock,grafted,taken,rooted,saleable\n\
    a,2024,K12,50,46,40,36\nb,2024,K12,50,45,41,35\nc,2024,K17,50,40,22,20\nd,2024,K17,60,50,30,24\n\
    e,2025,K12,50,44,30,27\nf,2025,K12,50,47,33,30\ng,2025,K17,90,75,36,30\nh,2025,K17,90,70,30,28\ni,2025,K17,80,66,33,29\n";

#[test]
fn parts_of_steps_and_of_mix_add_up() {
    let found = steps(TWO).compare("season", "2024", "2025", &CompareYieldsOptions::default()).unwrap();
    let numbers = &found.numbers;
    // 115 of 210 and 144 of 360 come to the end.
    assert_rel!(numbers.yield_first, 115.0 / 210.0, 1e-14);
    assert_rel!(numbers.yield_second, 144.0 / 360.0, 1e-14);
    assert_rel!(numbers.value, 144.0 / 360.0 - 115.0 / 210.0, 1e-12);
    let before = [181.0 / 210.0, 133.0 / 181.0, 115.0 / 133.0];
    let after = [302.0 / 360.0, 162.0 / 302.0, 144.0 / 162.0];
    for (step, part) in numbers.steps.iter().zip(split(&before, &after).parts) {
        assert_rel!(step.part, part, 1e-12);
        assert!(step.part_low < part && part < step.part_high);
        assert!(step.low < step.value && step.value < step.high);
    }
    let sum: f64 = numbers.steps.iter().map(|step| step.part).sum();
    assert_rel!(sum, numbers.value, 1e-12);
    assert_eq!(numbers.method, SplitMethod::LogarithmicMean);
    // The same by the counts of cultivars alone.
    let cells = |k12: (f64, f64), k17: (f64, f64)| Cells::from([(vec![0], k12), (vec![1], k17)]);
    let by_hand = parts(&cells((100.0, 71.0), (110.0, 44.0)), &cells((100.0, 57.0), (260.0, 87.0)), 1).unwrap();
    assert_rel!(numbers.rates.unwrap(), by_hand.rates, 1e-12);
    assert_rel!(numbers.mix[0].value, by_hand.mix[0], 1e-12);
    assert_rel!(numbers.rates.unwrap() + numbers.mix[0].value, numbers.value, 1e-12);
    assert!(numbers.rates_low < numbers.rates && numbers.rates < numbers.rates_high);
    assert_eq!(numbers.overlap, Some(1.0));
    // Not shown, so no step has to answer for it; where it is, the step that adds most is named.
    assert!(!found.sentence.contains("accounts for"), "{}", found.sentence);
    let stocks = steps(TWO).compare("rootstock", "K12", "K17", &CompareYieldsOptions::default()).unwrap();
    assert!(stocks.sentence.ends_with("; rooted accounts for 22.0 fewer."), "{}", stocks.sentence);
    // The other way round everything turns its sign.
    let turned = steps(TWO).compare("season", "2025", "2024", &CompareYieldsOptions::default()).unwrap().numbers;
    assert_rel!(turned.value, -numbers.value, 1e-12);
    assert_rel!(turned.low, -numbers.high, 1e-10);
    assert_rel!(turned.steps[1].part_low, -numbers.steps[1].part_high, 1e-6);
    assert_rel!(turned.rates.unwrap(), -numbers.rates.unwrap(), 1e-12);
}

#[test]
fn a_take_of_nothing_is_split_over_all_orders() {
    let text = TWO
        .replace(",36,30\n", ",0,0\n")
        .replace("30,27\n", "0,0\n")
        .replace("33,30\n", "0,0\n")
        .replace("30,28\n", "0,0\n")
        .replace("33,29\n", "0,0\n");
    let options = CompareYieldsOptions { whose: YieldOf::CurrentRates, ..CompareYieldsOptions::default() };
    // Nothing reached the last step in 2025, so it has no take.
    assert!(steps(&text).compare("season", "2024", "2025", &options).is_err());
    let text = text.replace("75,0,0", "75,1,0");
    let found = steps(&text).compare("season", "2024", "2025", &options).unwrap().numbers;
    assert_eq!(found.method, SplitMethod::AllOrders);
    let sum: f64 = found.steps.iter().map(|step| step.part).sum();
    assert_rel!(sum, found.value, 1e-12);
}

#[test]
fn levels_side_by_side() {
    let found = steps(TWO).compare_all("rootstock", &CompareYieldsOptions::default()).unwrap();
    let numbers = &found.numbers;
    assert_eq!((numbers.best.as_str(), numbers.levels.len(), numbers.steps.len()), ("K12", 2, 6));
    let rooted = numbers.steps.iter().find(|one| one.level == "K17" && one.step == "rooted").unwrap();
    assert_rel!(rooted.take, 151.0 / 301.0, 1e-12);
    assert_rel!(rooted.gap, 144.0 / 182.0 - 151.0 / 301.0, 1e-12);
    // With the best take at this step the yield grows in proportion.
    assert_rel!(rooted.gain, 131.0 / 370.0 * (144.0 / 182.0 / (151.0 / 301.0) - 1.0), 1e-12);
    assert!(found.sentence.starts_with("Rootstock K12 brings most to saleable"), "{}", found.sentence);
    assert_eq!(numbers.may_be_best, ["K12"]);
    // Of two levels there is one pair, with the limits of the comparison itself.
    let pair = steps(TWO).compare("rootstock", "K12", "K17", &CompareYieldsOptions::default()).unwrap().numbers;
    let LevelPair { value, low, high, .. } = numbers.pairs[0];
    assert_rel!(value, pair.value, 1e-14);
    assert_rel!(low, pair.low, 1e-12);
    assert_rel!(high, pair.high, 1e-12);
}

#[test]
fn no_level_wins_among_equals() {
    let text = "batch,season,rootstock,grafted,taken,rooted,saleable\n\
        a,1,K12,50,45,40,30\nb,1,K12,50,44,38,27\nc,2,K12,50,46,39,29\nd,2,K12,50,45,41,31\n\
        e,1,K17,50,45,40,29\nf,1,K17,50,43,38,28\ng,2,K17,50,46,41,32\nh,2,K17,50,45,40,30\n\
        i,1,K30,50,44,39,28\nj,1,K30,50,45,40,30\nk,2,K30,50,45,38,27\nl,2,K30,50,44,40,31\n";
    let found = steps(text).compare_all("rootstock", &CompareYieldsOptions::default()).unwrap();
    assert!(
        found.sentence.starts_with("No difference shown among 3 levels of rootstock; differences of up to "),
        "{}",
        found.sentence
    );
    assert_eq!((found.numbers.pairs.len(), found.numbers.may_be_best.len()), (3, 3));
    // Limits that hold together: each pair at one third of 5 %.
    let third = CompareYieldsOptions { confidence: 1.0 - 0.05 / 3.0, ..CompareYieldsOptions::default() };
    let alone = steps(text).compare("rootstock", "K12", "K30", &third).unwrap().numbers;
    assert_rel!(found.numbers.pairs[1].low, alone.low, 1e-12);
    // One far behind: the others may be best.
    let behind = text.replace(",39,28\n", ",20,8\n").replace("k,2,K30,50,45,38,27", "k,2,K30,50,45,20,9");
    let behind = behind.replace("j,1,K30,50,45,40,30", "j,1,K30,50,45,21,9").replace("40,31\n", "20,10\n");
    let found = steps(&behind).compare_all("rootstock", &CompareYieldsOptions::default()).unwrap();
    assert_eq!(found.numbers.may_be_best, ["K12", "K17"]);
    assert_eq!(
        found.sentence,
        "It is open which rootstock brings most to saleable: K12 and K17 may, K17 brings 59.5 of 100 grafted here; less with K30."
    );
    // No step is blamed for a difference that is not shown.
    let two = steps(text).compare("rootstock", "K12", "K17", &CompareYieldsOptions::default()).unwrap();
    assert!(two.sentence.starts_with("No difference shown") && !two.sentence.contains("accounts"), "{}", two.sentence);
}

#[test]
fn a_treatment_is_followed_from_its_step() {
    let options = StepsOptions {
        treatments: vec![StepTreatment { column: "strength".to_owned(), step: "rooted".to_owned() }],
        ..StepsOptions::columns(&CHAIN).with_batch(&["batch"])
    };
    let text = "batch,strength,grafted,taken,rooted,saleable\na,2500,50,40,20,18\nb,2500,50,45,25,20\nc,5000,50,44,33,30\nd,5000,50,41,30,28\n";
    let found = read_csv(text.as_bytes(), &options).unwrap();
    let found = found.compare("strength", "2500", "5000", &CompareYieldsOptions::default()).unwrap();
    assert_eq!((found.numbers.start.as_str(), found.numbers.steps.len()), ("taken", 2));
    assert_rel!(found.numbers.value, 58.0 / 85.0 - 38.0 / 85.0, 1e-12);
    assert!(
        found.sentence.starts_with("Strength 5000 brings 23.5 more of 100 taken to saleable than 2500"),
        "{}",
        found.sentence
    );
}

#[test]
fn what_cannot_be_compared() {
    let asked = CompareYieldsOptions::default();
    let told = |column: &str, first: &str, second: &str| {
        steps(TWO).compare(column, first, second, &asked).unwrap_err().to_string()
    };
    assert!(told("seasn", "2024", "2025").contains("season"));
    assert!(told("season", "2024", "2026").contains("2025"));
    assert!(told("season", "2024", "2024").contains("is named twice"));
    let plain =
        read_csv(b"batch,grafted,taken\na,9,8\nb,9,8\n", &StepsOptions::columns(&["grafted", "taken"])).unwrap();
    assert!(plain.compare_all("season", &asked).unwrap_err().to_string().contains("no column of levels"));
    let one = TWO.lines().take(2).chain(TWO.lines().skip(5)).collect::<Vec<_>>().join("\n");
    assert!(
        steps(&one)
            .compare("season", "2024", "2025", &asked)
            .unwrap_err()
            .to_string()
            .contains("\"2024\" has too few batches")
    );
    assert!(steps(&one).compare_all("season", &asked).is_err());
}
