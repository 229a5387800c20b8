//! What visits are asked, with trays: symmetry, floors, ends, words.

use rootling::Count;
use rootling::control::Control;
use rootling::error::Error;
use rootling::math::distributions::student_t;
use rootling::rates::{IntervalMethod, interval};
use rootling::steps::{CourseOptions, TimeEvent, TimesOptions, VisitTray};

use super::{remissions, tray, visits};

fn trial() -> Vec<VisitTray> {
    vec![
        tray("a", "no", 20, &[(1, 1), (3, 0), (3, 2), (2, 0)]),
        tray("b", "no", 20, &[(2, 0), (2, 1), (4, 0), (1, 1)]),
        tray("c", "no", 20, &[(0, 1), (2, 1), (2, 1), (3, 0)]),
        tray("d", "no", 20, &[(1, 0), (3, 1), (1, 1), (2, 2)]),
        tray("e", "yes", 20, &[(5, 0), (6, 1), (3, 0), (2, 0)]),
        tray("f", "yes", 20, &[(4, 1), (7, 0), (4, 1), (1, 0)]),
        tray("g", "yes", 20, &[(3, 0), (7, 1), (2, 0), (3, 1)]),
        tray("h", "yes", 20, &[(6, 0), (5, 0), (4, 1), (2, 0)]),
    ]
}

#[test]
fn the_decision_comes_first() {
    let found = visits(trial()).compare_times("dip", &TimesOptions::default(), &Control::new()).unwrap();
    let pair = &found.numbers.pairs[0];
    // 8 trays in two fours: 2 of 70 ways.
    assert_rel!(pair.p, 2.0 / 70.0, 1e-12);
    assert_eq!(pair.day, 35);
    assert_rel!(pair.share_first, 32.0 / 80.0, 1e-12);
    assert_rel!(pair.share_second, 64.0 / 80.0, 1e-12);
    assert!(
        found.sentence.starts_with("Use dip = yes: 40 more of 100 rooted by day 35 than no ("),
        "{}",
        found.sentence
    );
    assert!(found.sentence.split_whitespace().count() <= 30, "{}", found.sentence);
    assert!(pair.rate.value.unwrap() > 2.0 && pair.rate.low.unwrap() > 1.0);
    assert!(found.details.iter().any(|line| line.starts_with("Over all 70 ways to deal the 8 trays anew: P = 0.029")));
    let dead = TimesOptions { event: TimeEvent::Dead, ..TimesOptions::default() };
    let dead = visits(trial()).compare_times("dip", &dead, &Control::new()).unwrap();
    assert!(dead.sentence.contains("remain possible"), "{}", dead.sentence);
}

#[test]
fn levels_turned_round_mirror_the_answer() {
    let pair = |first: &str, second: &str| {
        let options =
            TimesOptions { first: Some(first.to_owned()), second: Some(second.to_owned()), ..TimesOptions::default() };
        visits(trial()).compare_times("dip", &options, &Control::new()).unwrap().numbers.pairs[0].clone()
    };
    let (one, two) = (pair("no", "yes"), pair("yes", "no"));
    assert_rel!(one.value, -two.value, 1e-12);
    assert_rel!(one.low.unwrap(), -two.high.unwrap(), 1e-9);
    assert_rel!(one.rate.value.unwrap(), 1.0 / two.rate.value.unwrap(), 1e-8);
    assert_rel!(one.rate.low.unwrap(), 1.0 / two.rate.high.unwrap(), 1e-7);
    assert_rel!(one.p, two.p, 1e-12);
    assert_rel!(one.rate.p.unwrap(), two.rate.p.unwrap(), 1e-6);
}

#[test]
fn limits_are_never_narrower_than_those_of_plants() {
    // Trays that are exactly alike: leaving out any of them changes nothing, and plants still vary.
    let alike = |trays: usize| -> Vec<VisitTray> {
        (0..trays).map(|at| tray(&at.to_string(), "no", 20, &[(4, 1), (6, 1)])).collect()
    };
    let found = visits(alike(8)).over_time(&CourseOptions::default(), &Control::new()).unwrap().numbers;
    let end = found.levels[0].visits[1];
    let plants = interval(Count::new(80, 160).unwrap(), IntervalMethod::Wilson, 0.95).unwrap();
    assert!(end.low.unwrap() <= plants.low && end.high.unwrap() >= plants.high, "{end:?}");
    // Trays that differ widen them.
    let mut apart = alike(8);
    for (at, one) in apart.iter_mut().enumerate() {
        *one = tray(&at.to_string(), "no", 20, if at % 2 == 0 { &[(8, 1), (8, 1)] } else { &[(0, 1), (4, 1)] });
    }
    let wide = visits(apart).over_time(&CourseOptions::default(), &Control::new()).unwrap().numbers.levels[0].visits[1];
    assert!(wide.high.unwrap() - wide.low.unwrap() > 1.5 * (end.high.unwrap() - end.low.unwrap()));
}

#[test]
fn half_lies_between_two_visits() {
    let found = visits(trial())
        .over_time(&CourseOptions { treatment: Some("dip".to_owned()), ..CourseOptions::default() }, &Control::new());
    let found = found.unwrap();
    let (no, yes) = (&found.numbers.levels[0], &found.numbers.levels[1]);
    assert_eq!((no.half.after, no.half.by), (None, None));
    assert_eq!((yes.half.after, yes.half.by), (Some(14), Some(21)));
    assert!(yes.half.low.unwrap() <= 14 && yes.half.high.unwrap() >= 21);
    assert!(
        found.sentence.starts_with("Dip = yes: half rooted between day 14 and day 21 (limits day"),
        "{}",
        found.sentence
    );
    assert!(found.sentence.contains("dip = no: less than half rooted by day 35"), "{}", found.sentence);
    for value in no.visits.iter().chain(&yes.visits) {
        assert!((value.value + value.other + value.waiting - 1.0).abs() < 1e-12);
    }
}

#[test]
fn ends_of_the_scale_are_answered() {
    let none = |name: &str, level: &str| tray(name, level, 20, &[(0, 2), (0, 1)]);
    let some = |name: &str, level: &str| tray(name, level, 20, &[(3, 1), (5, 0)]);
    let all = |name: &str, level: &str| tray(name, level, 20, &[(12, 0), (8, 0)]);
    let course = CourseOptions { treatment: Some("dip".to_owned()), ..CourseOptions::default() };
    for (first, second) in [(none as fn(&str, &str) -> VisitTray, some as fn(&str, &str) -> VisitTray), (some, all)] {
        let made = visits(vec![first("a", "no"), first("b", "no"), second("c", "yes"), second("d", "yes")]);
        let found = made.over_time(&course, &Control::new()).unwrap();
        assert!(found.numbers.levels.iter().flat_map(|level| &level.visits).all(|one| one.low.is_some()), "{found:?}");
        let compared = made.compare_times("dip", &TimesOptions::default(), &Control::new()).unwrap();
        assert!(compared.sentence.starts_with("Too few trays to tell"), "{}", compared.sentence);
        assert!(compared.notes.iter().any(|note| note.code == "p_out_of_reach"));
        assert!(compared.notes.iter().any(|note| note.code == "few_trays"));
    }
    let nobody = visits(vec![none("a", "no"), none("b", "no"), none("c", "yes"), none("d", "yes")]);
    let error = nobody.compare_times("dip", &TimesOptions::default(), &Control::new()).unwrap_err();
    assert!(error.to_string().contains("was seen rooted"), "{error}");
    let found = nobody.over_time(&CourseOptions::default(), &Control::new()).unwrap();
    assert_eq!(found.sentence, "Less than half are rooted by day 21: 0 of 100.");
    // One tray of a level: nothing is known of how trays differ.
    let single = visits(vec![some("a", "no"), all("b", "yes"), all("c", "yes")]);
    let found = single.over_time(&course, &Control::new()).unwrap();
    assert!(found.numbers.levels[0].visits.iter().all(|one| one.low.is_none()));
    assert!(found.notes.iter().any(|note| note.code == "one_tray"));
    assert!(single.compare_times("dip", &TimesOptions::default(), &Control::new()).is_ok());
}

#[test]
fn what_cannot_be_asked() {
    let made = visits(trial());
    let ask = |options: TimesOptions| made.compare_times("dip", &options, &Control::new()).unwrap_err().to_string();
    let plain = TimesOptions::default;
    assert!(ask(TimesOptions { against: Some("maybe".to_owned()), ..plain() }).contains("level of dip"));
    assert!(ask(TimesOptions { first: Some("no".to_owned()), ..plain() }).contains("one level of a pair"));
    let same = TimesOptions { first: Some("no".to_owned()), second: Some("no".to_owned()), ..plain() };
    assert!(ask(same).contains("named twice"));
    assert!(ask(TimesOptions { day: Some(30), ..plain() }).contains("these are 14, 21, 28, 35"));
    assert!(ask(TimesOptions { draws: 0, ..plain() }).contains("draws"));
    assert!(ask(TimesOptions { confidence: 95.0, ..plain() }).contains("confidence"));
    assert!(made.compare_times("dips", &plain(), &Control::new()).unwrap_err().to_string().contains("did you mean"));
    assert!(made.over_time(&CourseOptions { confidence: 0.0, ..CourseOptions::default() }, &Control::new()).is_err());
    let one = visits(trial().into_iter().take(4).collect());
    assert!(one.compare_times("dip", &plain(), &Control::new()).unwrap_err().to_string().contains("one level only"));
    let control = Control::new();
    control.stop();
    assert_eq!(made.compare_times("dip", &plain(), &control).unwrap_err(), Error::Interrupted);
    assert!(
        remissions()
            .over_time(&CourseOptions::default(), &Control::new())
            .unwrap()
            .notes
            .iter()
            .any(|note| note.code == "no_tray_information")
    );
}

#[test]
fn blocks_hold_trays_together() {
    // Four blocks with a tray of each level: 16 ways to deal within blocks.
    let mut trays = trial();
    for (at, one) in trays.iter_mut().enumerate() {
        one.block = format!("bench {}", at % 4);
    }
    let found = visits(trays.clone()).compare_times("dip", &TimesOptions::default(), &Control::new()).unwrap();
    let pair = &found.numbers.pairs[0];
    assert_eq!((pair.assignments, pair.n_strata), (Some(16.0), 4));
    assert_rel!(pair.p, 2.0 / 16.0, 1e-12);
    // A tray without a partner is left out, and said to be.
    trays[0].block = "bench 9".to_owned();
    let found = visits(trays).compare_times("dip", &TimesOptions::default(), &Control::new()).unwrap();
    assert_eq!(found.numbers.pairs[0].n_left_out, 2);
    assert!(found.notes.iter().any(|note| note.code == "trays_left_out"));
}

/// Wilson's limits of a share on so many plants.
fn wilson(share: f64, plants: f64, z: f64) -> (f64, f64) {
    let shrunk = 1.0 + z * z / plants;
    let middle = (share + z * z / (2.0 * plants)) / shrunk;
    let half = z / shrunk * (share * (1.0 - share) / plants + z * z / (4.0 * plants * plants)).sqrt();
    (middle - half, middle + half)
}

#[test]
fn trays_are_left_out_within_their_blocks() {
    // Two blocks with three trays of each level, 20 plants a tray, rooted by the last day: by hand the variance of the mean rate of a level
    // is the sum over blocks of (3/6)^2 s^2 / 3, whatever the blocks differ; Welch's degrees of freedom over the four groups of three.
    let rooted: [[[u64; 3]; 2]; 2] = [[[4, 12, 9], [9, 18, 13]], [[1, 8, 3], [4, 13, 10]]];
    let mut trays = Vec::new();
    let (mut parts, mut shares) = (Vec::new(), [0.0; 2]);
    for (block, levels) in rooted.iter().enumerate() {
        for (level, counts) in levels.iter().enumerate() {
            let rates = counts.map(|count| count as f64 / 20.0);
            let mean = rates.iter().sum::<f64>() / 3.0;
            shares[level] += mean / 2.0;
            let square: f64 = rates.iter().map(|rate| (rate - mean).powi(2)).sum::<f64>() / 2.0;
            parts.push((level, 0.25 * square / 3.0));
            for (at, count) in counts.iter().enumerate() {
                let mut one = tray(
                    &format!("{block}{level}{at}"),
                    ["no", "yes"][level],
                    20,
                    &[(count / 2, 0), (count - count / 2, 0)],
                );
                one.block = format!("bench {block}");
                trays.push(one);
            }
        }
    }
    let variance = |level: usize| parts.iter().filter(|part| part.0 == level).map(|part| part.1).sum::<f64>();
    let df = parts.iter().map(|part| part.1).sum::<f64>().powi(2)
        / parts.iter().map(|part| part.1.powi(2) / 2.0).sum::<f64>();
    let t = student_t::quantile(0.975, df);
    let limits = |level: usize| {
        let share = shares[level];
        wilson(share, share * (1.0 - share) / variance(level), t)
    };
    let (one, two) = (limits(0), limits(1));
    let gap = shares[1] - shares[0];
    let low = gap - ((shares[1] - two.0).powi(2) + (one.1 - shares[0]).powi(2)).sqrt();
    let high = gap + ((two.1 - shares[1]).powi(2) + (shares[0] - one.0).powi(2)).sqrt();
    let found = visits(trays).compare_times("dip", &TimesOptions::default(), &Control::new()).unwrap();
    let pair = &found.numbers.pairs[0];
    assert_rel!(pair.value, gap, 1e-12);
    assert_rel!(pair.low.unwrap(), low, 1e-9);
    assert_rel!(pair.high.unwrap(), high, 1e-9);
    // 20 ways to deal in each block.
    assert_eq!(pair.assignments, Some(400.0));
}
