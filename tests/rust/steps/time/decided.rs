//! What is decided of levels compared over time: the end leads, the pace comes second; deaths, ends and gaps.

use rootling::control::Control;
use rootling::error::Error;
use rootling::steps::{
    CourseOptions, Ending, History, TimeEvent, TimesCompared, TimesOptions, VisitColumns, VisitTray, Visits,
};

use super::{tray, visits};

/// Trays of 20 of a level; rooted and dead at each visit, one more or less rooted from tray to tray.
fn trays(count: u64, level: &str, ends: &[(u64, u64)]) -> Vec<VisitTray> {
    let one = |at: u64| {
        let mut ends = ends.to_vec();
        let first = &mut ends[(at % 2) as usize];
        if at < 2 {
            first.0 += 1;
        } else {
            first.0 = first.0.saturating_sub(1);
        }
        tray(&format!("{level} {at}"), level, 20, &ends)
    };
    (0..count).map(one).collect()
}

fn four(level: &str, ends: &[(u64, u64)]) -> Vec<VisitTray> {
    trays(4, level, ends)
}

fn compared(first: &[(u64, u64)], second: &[(u64, u64)], event: TimeEvent) -> (String, TimesCompared, Vec<String>) {
    compared_by(4, (first, second), event)
}

/// Rooted and dead at each visit.
type Visited<'a> = &'a [(u64, u64)];

fn compared_by(
    count: u64,
    (first, second): (Visited<'_>, Visited<'_>),
    event: TimeEvent,
) -> (String, TimesCompared, Vec<String>) {
    let made = visits([trays(count, "no", first), trays(count, "yes", second)].concat());
    let options = TimesOptions { event, ..TimesOptions::default() };
    let found = made.compare_times("dip", &options, &Control::new()).unwrap();
    assert!(found.sentence.split_whitespace().count() <= 30, "{}", found.sentence);
    (found.sentence, found.numbers, found.details)
}

#[test]
fn a_dip_that_kills_is_not_used() {
    // Of those still waiting 3 in 20 root between visits at either level; many more die with the dip.
    let (no, yes) = ([(3, 0), (3, 0), (3, 1), (2, 0)], [(3, 5), (2, 4), (1, 2), (1, 1)]);
    let (sentence, found, details) = compared(&no, &yes, TimeEvent::Rooted);
    assert!(sentence.starts_with("Do not use dip = yes: 20 fewer of 100 rooted by day 35 than no ("), "{sentence}");
    assert!(sentence.contains("), since more die"), "{sentence}");
    let pair = &found.pairs[0];
    assert!(pair.p < 0.05 && pair.pace.p > 0.05 && pair.other.low.unwrap() > 0.0, "{pair:?}");
    assert!(pair.rate.low.unwrap() < 1.0 && pair.rate.high.unwrap() > 1.0, "{pair:?}");
    assert!(details[0].contains("rooted") && details[1].starts_with("Over all 70 ways"), "{details:?}");
    assert!(details[2].contains("are dead"), "{details:?}");
    // Asked of deaths it is an answer about deaths, and no advice.
    let (sentence, found, _) = compared(&no, &yes, TimeEvent::Dead);
    assert!(sentence.starts_with("Fewer die with dip = no: 55 fewer of 100 by day 35 than with yes ("), "{sentence}");
    assert!(!sentence.contains("Use") && found.pairs[0].other.value < 0.0, "{sentence}");
    // The other way round the level that kills less is used.
    let (sentence, ..) = compared(&yes, &no, TimeEvent::Rooted);
    assert!(sentence.starts_with("Use dip = yes: 20 more of 100 rooted by day 35 than no ("), "{sentence}");
    assert!(sentence.ends_with(", since fewer die."), "{sentence}");
}

#[test]
fn the_pace_comes_second() {
    // All root in the end, with the dip sooner. The pace is allowed half of 5 %, which four trays of each cannot show.
    let ends: [[(u64, u64); 4]; 2] = [[(2, 0), (5, 0), (7, 0), (4, 0)], [(8, 0), (7, 0), (2, 0), (1, 0)]];
    let (sentence, ..) = compared(&ends[0], &ends[1], TimeEvent::Rooted);
    assert!(sentence.starts_with("No difference in rooting shown between "), "{sentence}");
    let (sentence, found, _) = compared_by(6, (&ends[0], &ends[1]), TimeEvent::Rooted);
    assert!(sentence.starts_with("Dip = yes roots sooner than no, at "), "{sentence}");
    assert!(sentence.contains("by day 35") && sentence.ends_with("of 100 rooted remain possible."), "{sentence}");
    assert!(found.pairs[0].p > 0.05 && found.pairs[0].pace.p < 0.05);
    // Sooner and more.
    let ends: [[(u64, u64); 4]; 2] = [[(1, 0), (2, 0), (2, 0), (1, 0)], [(6, 0), (5, 0), (4, 0), (1, 0)]];
    let (sentence, ..) = compared_by(6, (&ends[0], &ends[1]), TimeEvent::Rooted);
    assert!(sentence.starts_with("Use dip = yes: 50 more of 100 rooted by day 35 than no ("), "{sentence}");
    assert!(sentence.contains(", at ") && sentence.ends_with(" times the rate."), "{sentence}");
    // Neither.
    let same = [(3, 1), (4, 0), (3, 1), (1, 0)];
    let (sentence, ..) = compared(&same, &same, TimeEvent::Rooted);
    assert!(sentence.starts_with("No difference in rooting shown between "), "{sentence}");
    assert!(sentence.contains("fewer to") && sentence.ends_with("of 100 rooted remain possible."), "{sentence}");
    let (sentence, ..) = compared(&same, &same, TimeEvent::Dead);
    assert!(sentence.starts_with("No difference in deaths shown between "), "{sentence}");
}

#[test]
fn what_roots_before_does_not_die() {
    // Alike in dying while they wait; with the dip most have rooted before.
    let (sentence, found, _) =
        compared(&[(1, 2), (1, 2), (1, 2), (1, 2)], &[(12, 2), (3, 0), (1, 0), (1, 0)], TimeEvent::Dead);
    assert!(sentence.starts_with("Fewer die with dip = yes: 30 fewer of 100 by day 35"), "{sentence}");
    assert!(sentence.ends_with(", since more root before."), "{sentence}");
    assert!(found.pairs[0].value < 0.0 && found.pairs[0].other.value > 0.0);
}

#[test]
fn what_cannot_be_told_is_said() {
    let ask = |trays: Vec<VisitTray>, event: TimeEvent| {
        let options = TimesOptions { event, ..TimesOptions::default() };
        visits(trays).compare_times("dip", &options, &Control::new()).map(|found| found.sentence)
    };
    let some = [(3, 1), (5, 0)];
    // One tray of each level.
    let single = ask(vec![tray("a", "no", 20, &some), tray("b", "yes", 20, &[(9, 1), (6, 0)])], TimeEvent::Rooted);
    let single = single.unwrap();
    assert!(single.starts_with("Too few trays to tell dip = yes from no: a level in a single tray"), "{single}");
    assert!(single.ends_with("; start four trays or more of each."), "{single}");
    // All rooted at the first visit, at both levels.
    let all = |level: &str| -> Vec<VisitTray> {
        (0..4).map(|at| tray(&format!("{level} {at}"), level, 20, &[(20, 0), (0, 0)])).collect()
    };
    let answer = visits([all("no"), all("yes")].concat())
        .compare_times("dip", &TimesOptions::default(), &Control::new())
        .unwrap();
    let told = answer.notes.iter().find(|note| note.code == "p_out_of_reach").unwrap();
    assert!(told.text.contains("earlier visits are needed, not more trays"), "{}", told.text);
    let both = answer.sentence;
    assert!(both.starts_with("All rooted by the first visit") && both.contains("visit earlier"), "{both}");
    // All dead at one level.
    let dead: Vec<VisitTray> = (0..6).map(|at| tray(&format!("d{at}"), "yes", 20, &[(0, 12), (0, 8)])).collect();
    let one = ask([four("no", &[(5, 0), (6, 0)]), dead[..4].to_vec()].concat(), TimeEvent::Rooted).unwrap();
    assert!(one.starts_with("Do not use dip = yes: 55 fewer of 100 rooted by day 21 than no ("), "{one}");
    // All dead at both.
    let also: Vec<VisitTray> = (0..6).map(|at| tray(&format!("e{at}"), "no", 20, &[(0, 3), (0, 17)])).collect();
    let none = ask([also.clone(), dead.clone()].concat(), TimeEvent::Rooted).unwrap_err().to_string();
    assert!(none.ends_with("or ask event=\"dead\""), "{none}");
    let sooner = ask([also, dead].concat(), TimeEvent::Dead).unwrap();
    assert!(sooner.starts_with("Dip = no dies later than yes"), "{sooner}");
    // A level that was never seen again after setting.
    let mut unseen = tray("f", "yes", 20, &[]);
    unseen.histories = vec![History { after: 0, by: 0, ending: Ending::Waiting, count: 20.0 }];
    let error = ask([four("no", &some), vec![unseen]].concat(), TimeEvent::Rooted).unwrap_err().to_string();
    assert!(error.starts_with("no plant of \"yes\" was seen again at a visit after setting"), "{error}");
}

#[test]
fn without_trays_it_is_a_hint() {
    let columns = VisitColumns {
        treatments: vec!["dip".to_owned()],
        levels: vec![vec!["no".to_owned(), "yes".to_owned()]],
        trays: false,
        deaths: true,
    };
    let trays = vec![tray("no", "no", 80, &[(10, 2), (15, 1)]), tray("yes", "yes", 80, &[(30, 2), (25, 1)])];
    let made = Visits::new(vec![14, 28], trays, columns, vec![], vec![]);
    let found = made.compare_times("dip", &TimesOptions::default(), &Control::new()).unwrap();
    assert!(found.sentence.starts_with("Without trays only a hint: dip = yes, 38 more of 100"), "{}", found.sentence);
    // All were followed: the score of 25 of 80 against 55 of 80, by hand.
    let (gap, common): (f64, f64) = (30.0 / 80.0, 80.0 / 160.0);
    let z = gap / (common * (1.0 - common) * 2.0 / 80.0).sqrt();
    let p = 2.0 * rootling::math::distributions::normal::sf(z);
    assert_rel!(found.numbers.pairs[0].p, p, 1e-12);
}

/// Plants that stand alone, seen on visits 1 to 4 or (of a kind) on visits 2 and 4 only.
fn alone(gaps: bool) -> Visits {
    let mut histories = Vec::new();
    for (by, rooted, dead) in [(1, 20, 4), (2, 26, 4), (3, 16, 2), (4, 10, 2)] {
        for (ending, count) in [(Ending::Rooted, rooted), (Ending::Dead, dead)] {
            let half = f64::from(count) / 2.0;
            histories.push(History { after: by - 1, by, ending, count: half });
            let (after, by) = if gaps { (2 * ((by - 1) / 2), 2 * by.div_ceil(2)) } else { (by - 1, by) };
            histories.push(History { after, by, ending, count: half });
        }
    }
    histories.push(History { after: 4, by: 4, ending: Ending::Waiting, count: 16.0 });
    let columns = VisitColumns { treatments: vec![], levels: vec![], trays: false, deaths: true };
    let plants = VisitTray { name: String::new(), levels: vec![], block: String::new(), started: 100, histories };
    Visits::new(vec![7, 14, 21, 28], vec![plants], columns, vec![], vec![])
}

#[test]
fn gaps_of_plants_without_trays_widen_limits() {
    let ask = |gaps: bool| alone(gaps).over_time(&CourseOptions::default(), &Control::new()).unwrap().numbers;
    let (seen, missed) = (ask(false).levels[0].clone(), ask(true).levels[0].clone());
    let width = |at: usize, level: &rootling::steps::LevelCourse| {
        level.visits[at].high.unwrap() - level.visits[at].low.unwrap()
    };
    // Half of the plants do not say whether they rooted by day 7.
    assert!(width(0, &missed) > 1.1 * width(0, &seen), "{} {}", width(0, &missed), width(0, &seen));
    // By day 14 all were seen.
    assert!((missed.visits[1].value - seen.visits[1].value).abs() < 1e-9);
}

#[test]
fn shares_over_time_are_stopped_and_followed() {
    let made = visits([four("no", &[(3, 1), (5, 0)]), four("yes", &[(9, 1), (6, 0)])].concat());
    let control = Control::new();
    control.stop();
    let course = CourseOptions { treatment: Some("dip".to_owned()), ..CourseOptions::default() };
    assert_eq!(made.over_time(&course, &control).unwrap_err(), Error::Interrupted);
    let control = Control::new();
    made.over_time(&course, &control).unwrap();
    assert_eq!(control.progress(), (8, 8));
}
