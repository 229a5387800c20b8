//! The same numbers by another route: closed forms, enumeration, saturated fits, missed visits by hand.

use rootling::control::Control;
use rootling::steps::{
    CourseOptions, Ending, History, TimesOptions, VisitCell, VisitColumns, Visits, VisitsOptions, incidence,
    incidence_variance, log_rank, rate_ratio, read_visits,
};

use serde_json::Value;

use super::{cells, tray, visits};

/// `ln(-ln(1 - h))`.
fn cloglog(h: f64) -> f64 {
    (-(-h).ln_1p()).ln()
}

#[test]
fn a_single_visit_has_a_closed_form() {
    // One cell of two binomials is saturated: the ratio is that of -ln(1 - h), the error by the delta method.
    let strata = [[cells(&[[60.0, 21.0, 0.0]]), cells(&[[50.0, 30.0, 0.0]])]];
    let found = rate_ratio(&strata, Ending::Rooted, &Control::new()).unwrap().unwrap();
    assert_rel!(found.log, cloglog(0.6) - cloglog(0.35), 1e-9);
    let part = |h: f64, n: f64| h / (n * (1.0 - h) * (1.0 - h).ln().powi(2));
    assert_rel!(found.se, (part(0.35, 60.0) + part(0.6, 50.0)).sqrt(), 1e-7);
    // With deaths two trinomials are: of -ln(waiting) the part that rooted; its error by the delta method again.
    let strata = [[cells(&[[60.0, 21.0, 4.0]]), cells(&[[50.0, 30.0, 2.0]])]];
    for (ending, own) in [(Ending::Rooted, [21.0, 30.0]), (Ending::Dead, [4.0, 2.0])] {
        let found = rate_ratio(&strata, ending, &Control::new()).unwrap().unwrap();
        let log = |n: f64, ended: f64, own: f64| (-(1.0 - ended / n).ln() * own / ended).ln();
        assert_rel!(found.log, log(50.0, 32.0, own[1]) - log(60.0, 25.0, own[0]), 1e-9);
        let part = |n: f64, ended: f64, own: f64| {
            let (h, p) = (ended / n, own / n);
            let both = -1.0 / ((1.0 - h) * (1.0 - h).ln()) - 1.0 / h;
            let (a, b) = (both + 1.0 / p, both);
            (a * a * p + b * b * (h - p) - (a * p + b * (h - p)).powi(2)) / n
        };
        assert_rel!(found.se, (part(60.0, 25.0, own[0]) + part(50.0, 32.0, own[1])).sqrt(), 1e-7);
    }
}

/// What becomes of `at_risk` plants between two visits while both rates stay as they are, summed over that time.
fn expected(at_risk: f64, [rooting, dying]: [f64; 2]) -> [f64; 3] {
    let (all, gone) = (rooting + dying, -(-(rooting + dying)).exp_m1());
    [at_risk, at_risk * gone * rooting / all, at_risk * gone * dying / all]
}

#[test]
fn deaths_between_wide_visits_do_not_slow_rooting() {
    // Two wide visits, plants as steady rates give them: rooting alike, dying 1 to 5. The ratios are those rates; binomials of each ending
    // alone would say that the level that dies more roots at 0.59 times the rate.
    let group = |dying: f64| {
        let first = expected(1000.0, [0.6, 0.3 * dying]);
        let second = expected(first[0] - first[1] - first[2], [1.1, 0.2 * dying]);
        cells(&[first, second])
    };
    let strata = [[group(1.0), group(5.0)]];
    let ratio = |ending: Ending| rate_ratio(&strata, ending, &Control::new()).unwrap().unwrap().log.exp();
    assert_rel!(ratio(Ending::Rooted), 1.0, 1e-8);
    assert_rel!(ratio(Ending::Dead), 5.0, 1e-8);
    // A ratio of rooting and one of dying in two strata that differ by themselves.
    let group = |base: f64, [root, die]: [f64; 2]| {
        let first = expected(500.0, [0.4 * base * root, 0.1 * base * base * die]);
        let second = expected(first[0] - first[1] - first[2], [0.9 * base * root, 0.3 * base * base * die]);
        cells(&[first, second])
    };
    let strata = [1.0, 1.6].map(|base| [group(base, [1.0, 1.0]), group(base, [2.5, 0.4])]);
    let ratio = |ending: Ending| rate_ratio(&strata, ending, &Control::new()).unwrap().unwrap().log.exp();
    assert_rel!(ratio(Ending::Rooted), 2.5, 1e-8);
    assert_rel!(ratio(Ending::Dead), 0.4, 1e-8);
}

#[test]
fn ratios_without_an_end_are_none() {
    let ratio = |one: &[[f64; 3]], two: &[[f64; 3]], ending: Ending| {
        rate_ratio(&[[cells(one), cells(two)]], ending, &Control::new()).unwrap().map(|found| found.log)
    };
    let some = [[20.0, 4.0, 2.0], [14.0, 5.0, 1.0]];
    // No deaths in one group: rooting has a ratio still, of the plants as they are.
    let none = [[20.0, 6.0, 0.0], [14.0, 4.0, 0.0]];
    assert_eq!(ratio(&some, &none, Ending::Dead), None);
    assert!(ratio(&some, &none, Ending::Rooted).is_some_and(f64::is_finite));
    // All of one group at once.
    assert_eq!(ratio(&some, &[[20.0, 20.0, 0.0], [0.0, 0.0, 0.0]], Ending::Rooted), None);
    assert_eq!(ratio(&some, &[[20.0, 0.0, 20.0], [0.0, 0.0, 0.0]], Ending::Rooted), None);
    assert_eq!(ratio(&[], &[], Ending::Rooted), None);
}

#[test]
fn fits_of_both_causes_give_the_incidence() {
    // One visit is saturated: rates of one group times the ratios are those of the other, and give its shares; visit after visit its incidence.
    let table = cells(&[[40.0, 6.0, 3.0], [31.0, 10.0, 2.0], [15.0, 7.0, 1.0]]);
    let other = cells(&[[50.0, 5.0, 3.0], [42.0, 6.0, 5.0], [31.0, 9.0, 2.0]]);
    let (mut rooted, mut dead, mut waiting) = (0.0, 0.0, 1.0);
    for at in 0..3 {
        let rates = [Ending::Rooted, Ending::Dead].map(|ending| {
            let alone = [[vec![other[at]], vec![table[at]]]];
            let found = rate_ratio(&alone, ending, &Control::new()).unwrap().unwrap();
            let ended = other[at].rooted + other[at].dead;
            -(1.0 - ended / other[at].at_risk).ln() * other[at].of(ending) / ended * found.log.exp()
        });
        let [_, root, die] = expected(1.0, rates);
        rooted += waiting * root;
        dead += waiting * die;
        waiting *= 1.0 - root - die;
    }
    let end = incidence(&table)[2];
    assert_rel!(end.rooted, rooted, 1e-8);
    assert_rel!(end.dead, dead, 1e-8);
    assert_rel!(end.waiting, waiting, 1e-8);
    // By hand: 6 of 40, then 10 of the 31 that wait, then 7 of 15 of the 19 that still did.
    assert_rel!(
        end.rooted,
        6.0 / 40.0 + 31.0 / 40.0 * (10.0 / 31.0) + 31.0 / 40.0 * (19.0 / 31.0) * (7.0 / 15.0),
        1e-12
    );
}

#[test]
fn one_ending_has_greenwoods_variance() {
    // Without deaths: S^2 sum d / (n (n - d)), by hand for 20 (3), 15 (4), 9 (2).
    let table = cells(&[[20.0, 3.0, 0.0], [15.0, 4.0, 0.0], [9.0, 2.0, 0.0]]);
    let surviving: f64 = (17.0 / 20.0) * (11.0 / 15.0) * (7.0 / 9.0);
    let sum: f64 = 3.0 / (20.0 * 17.0) + 4.0 / (15.0 * 11.0) + 2.0 / (9.0 * 7.0);
    assert_rel!(incidence(&table)[2].waiting, surviving, 1e-14);
    assert_rel!(incidence_variance(&table, Ending::Rooted)[2], surviving * surviving * sum, 1e-12);
}

#[test]
fn the_variance_is_that_of_its_slopes() {
    // Delta method by numbers: each visit is a trinomial of its own, with the derivative of the incidence in its two shares.
    let table = cells(&[[30.0, 4.0, 2.0], [20.0, 5.0, 3.0], [10.0, 4.0, 1.0]]);
    let shares: Vec<[f64; 2]> = table.iter().map(|one| [one.rooted / one.at_risk, one.dead / one.at_risk]).collect();
    let value = |shares: &[[f64; 2]]| {
        let (mut rooted, mut waiting) = (0.0, 1.0);
        for [root, die] in shares {
            rooted += waiting * root;
            waiting *= 1.0 - root - die;
        }
        rooted
    };
    let mut variance = 0.0;
    for (at, cell) in table.iter().enumerate() {
        let slope = |which: usize| {
            let (mut up, mut down) = (shares.clone(), shares.clone());
            up[at][which] += 1e-6;
            down[at][which] -= 1e-6;
            (value(&up) - value(&down)) / 2e-6
        };
        let (r, d) = (shares[at][0], shares[at][1]);
        let (a, b) = (slope(0), slope(1));
        variance += (a * a * r * (1.0 - r) + b * b * d * (1.0 - d) - 2.0 * a * b * r * d) / cell.at_risk;
    }
    assert_rel!(incidence_variance(&table, Ending::Rooted)[2], variance, 1e-8);
}

#[test]
fn scores_of_trays_add_up_to_the_log_rank() {
    // P of dealing anew, by going through all 20 ways to deal 6 trays with the log-rank difference of the pooled counts.
    let ends: [&[(u64, u64)]; 6] = [
        &[(1, 1), (4, 0), (3, 2)],
        &[(2, 0), (2, 1), (5, 0)],
        &[(0, 2), (3, 1), (2, 2)],
        &[(4, 0), (6, 1), (3, 0)],
        &[(3, 1), (5, 0), (4, 1)],
        &[(1, 0), (7, 2), (2, 0)],
    ];
    let level = |at: usize| if at < 3 { "0" } else { "1" };
    let trays = ends.iter().enumerate().map(|(at, ends)| tray(&at.to_string(), level(at), 20, ends)).collect();
    let found = visits(trays).compare_times("dip", &TimesOptions::default(), &Control::new()).unwrap();
    let pair = &found.numbers.pairs[0];
    let table = |chosen: &[usize]| -> Vec<VisitCell> {
        let mut waiting = vec![20.0; chosen.len()];
        (0..3)
            .map(|visit| {
                let at_risk = waiting.iter().sum();
                let (mut rooted, mut dead) = (0.0, 0.0);
                for (left, tray) in waiting.iter_mut().zip(chosen) {
                    let (root, die) = ends[*tray][visit];
                    rooted += root as f64;
                    dead += die as f64;
                    *left -= (root + die) as f64;
                }
                VisitCell { at_risk, rooted, dead }
            })
            .collect()
    };
    let distance = |second: &[usize]| {
        let first: Vec<usize> = (0..6).filter(|at| !second.contains(at)).collect();
        let found = log_rank(&[[table(&first), table(second)]], Ending::Rooted).unwrap();
        (found.observed[1] - found.expected[1]).abs()
    };
    let seen = distance(&[3, 4, 5]);
    let (mut far, mut all) = (0, 0);
    for a in 0..6 {
        for b in a + 1..6 {
            for c in b + 1..6 {
                all += 1;
                far += usize::from(distance(&[a, b, c]) >= seen - 1e-9);
            }
        }
    }
    assert_eq!(all, 20);
    assert_rel!(pair.pace.p, far as f64 / 20.0, 1e-12);
    // Of the shares at the end, where all were followed: the difference of plants rooted.
    let rooted = |tray: usize| ends[tray].iter().map(|end| end.0).sum::<u64>() as i64;
    let gap = |second: &[usize]| {
        (0..6).map(|tray| if second.contains(&tray) { rooted(tray) } else { -rooted(tray) }).sum::<i64>().abs()
    };
    let ways = (0..6).flat_map(|a| (a + 1..6).flat_map(move |b| (b + 1..6).map(move |c| [a, b, c])));
    let wide = ways.filter(|second| gap(second) >= gap(&[3, 4, 5])).count();
    assert_rel!(pair.p, wide as f64 / 20.0, 1e-12);
    assert_eq!(pair.assignments, Some(20.0));
}

#[test]
fn missed_visits_are_shared_out_as_the_others_say() {
    // By hand: tray a is read on days 14 and 28: 10 of 40 root, then 15. Tray b is read on day 28 alone: 12 of 20. Of all 60, 37 root;
    // they lie as 10 to 15, which maximises the likelihood.
    let text = "tray,day,started,rooted\na,14,40,10\na,28,40,25\nb,28,20,12\n";
    let visits = read_visits(text.as_bytes(), &VisitsOptions::counts("tray", "day", "started", "rooted")).unwrap();
    assert!(visits.notes().iter().any(|note| note.code == "visits_missed"));
    let level = visits.over_time(&CourseOptions::default(), &Control::new()).unwrap().numbers.levels[0].clone();
    assert_rel!(level.visits[0].value, 0.4 * 37.0 / 60.0, 1e-8);
    assert_rel!(level.visits[1].value, 37.0 / 60.0, 1e-12);
    // Trays read on days that lie close together can count as read on one.
    let text = "tray,day,started,rooted\na,14,40,10\na,28,40,25\nb,13,20,3\nb,27,20,12\n";
    let mut options = VisitsOptions::counts("tray", "day", "started", "rooted");
    options.same_visit = 1;
    let joined = read_visits(text.as_bytes(), &options).unwrap();
    assert_eq!(joined.days(), [14, 28]);
    assert!(joined.notes().iter().any(|note| note.code == "visits_joined"));
}

#[test]
fn spans_that_overlap_meet_in_the_middle() {
    // Half of the plants rooted between days 0 and 14, the others between 7 and 21: the likelihood is largest where all rooted between 7
    // and 14.
    let spans = [(0, 2), (1, 3)].map(|(after, by)| History { after, by, ending: Ending::Rooted, count: 10.0 });
    let mut one = tray("a", "no", 20, &[]);
    one.histories = spans.to_vec();
    let columns = VisitColumns {
        treatments: vec!["dip".to_owned()],
        levels: vec![vec!["no".to_owned()]],
        trays: true,
        deaths: false,
    };
    let made = Visits::new(vec![7, 14, 21], vec![one], columns, vec![], vec![]);
    let level = made.over_time(&CourseOptions::default(), &Control::new()).unwrap().numbers.levels[0].clone();
    assert!(level.visits[0].value < 1e-8 && (level.visits[1].value - 1.0).abs() < 1e-8, "{:?}", level.visits);
}

#[test]
fn generated_plants_by_general_libraries() {
    // values/times.json: statsmodels and scipy, tests/reference/make/times.py.
    let all: Value = serde_json::from_str(include_str!("../../../reference/values/times.json")).unwrap();
    let number = |value: &Value| value.as_f64().unwrap();
    for case in all["cases"].as_array().unwrap() {
        let table = |value: &Value| -> Vec<VisitCell> {
            let row = |row: &Value| [0, 1, 2].map(|at| number(&row[at]));
            cells(&value.as_array().unwrap().iter().map(row).collect::<Vec<_>>())
        };
        let strata: Vec<[Vec<VisitCell>; 2]> =
            case["strata"].as_array().unwrap().iter().map(|one| [table(&one[0]), table(&one[1])]).collect();
        let sum = |of: &mut dyn Iterator<Item = &Vec<VisitCell>>| -> Vec<VisitCell> {
            let mut whole = vec![VisitCell::default(); strata[0][0].len()];
            for part in of {
                for (all, one) in whole.iter_mut().zip(part) {
                    all.at_risk += one.at_risk;
                    all.rooted += one.rooted;
                    all.dead += one.dead;
                }
            }
            whole
        };
        let whole = sum(&mut strata.iter().flatten());
        let variances = [Ending::Rooted, Ending::Dead].map(|ending| incidence_variance(&whole, ending));
        for (at, now) in incidence(&whole).iter().enumerate() {
            let want = &case["shares"][at];
            assert!((now.rooted - number(&want[0])).abs() < 1e-13 && (now.dead - number(&want[1])).abs() < 1e-13);
            for (which, variance) in variances.iter().enumerate() {
                if let Some(se) = want[2 + which].as_f64() {
                    assert!((variance[at].sqrt() - se).abs() < 1e-9, "{at}: {} {se}", variance[at].sqrt());
                }
            }
        }
        let pooled = [0, 1].map(|side: usize| sum(&mut strata.iter().map(|one| &one[side])));
        for (key, strata) in [("log_rank", &vec![pooled]), ("log_rank_in_strata", &strata)] {
            let found = log_rank(strata, Ending::Rooted).unwrap();
            assert_rel!(found.statistic, number(&case[key][0]), 1e-10);
            assert_rel!(found.p, number(&case[key][1]), 1e-9);
        }
        for (key, ending) in [("rooting", Ending::Rooted), ("dying", Ending::Dead)] {
            let found = rate_ratio(&strata, ending, &Control::new()).unwrap();
            assert_eq!(found.is_some(), case[key].is_array(), "{key}");
            if let Some(found) = found {
                assert!((found.log - number(&case[key][0])).abs() < 1e-7, "{} {}", found.log, case[key]);
                assert_rel!(found.se, number(&case[key][1]), 1e-6);
            }
        }
    }
}
