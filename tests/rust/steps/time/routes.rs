//! The same numbers by another route: closed forms, enumeration, saturated fits, missed visits by hand.

use rootling::control::Control;
use rootling::steps::{
    CourseOptions, Ending, TimesOptions, VisitCell, VisitsOptions, incidence, incidence_variance, log_rank, rate_ratio,
    read_visits,
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
    let strata = [[cells(&[[60.0, 21.0, 4.0]]), cells(&[[50.0, 30.0, 2.0]])]];
    let found = rate_ratio(&strata, Ending::Rooted, &Control::new()).unwrap().unwrap();
    assert_rel!(found.log, cloglog(0.6) - cloglog(0.35), 1e-9);
    let part = |h: f64, n: f64| h / (n * (1.0 - h) * (1.0 - h).ln().powi(2));
    assert_rel!(found.se, (part(0.35, 60.0) + part(0.6, 50.0)).sqrt(), 1e-7);
}

#[test]
fn fits_of_both_causes_give_the_incidence() {
    // The conditional binomials of both causes, saturated: their shares at each visit, put together, are the incidence.
    let table = cells(&[[40.0, 6.0, 3.0], [31.0, 10.0, 2.0], [15.0, 7.0, 1.0]]);
    let other = cells(&[[50.0, 5.0, 3.0], [42.0, 6.0, 5.0], [31.0, 9.0, 2.0]]);
    let (mut rooted, mut dead, mut waiting) = (0.0, 0.0, 1.0);
    for at in 0..3 {
        let share = |ending: Ending| {
            let alone = [[vec![other[at]], vec![table[at]]]];
            let found = rate_ratio(&alone, ending, &Control::new()).unwrap().unwrap();
            let base = other[at].of(ending) / other[at].at_risk;
            -(-(found.log + cloglog(base)).exp()).exp_m1()
        };
        let (root, die) = (share(Ending::Rooted), share(Ending::Dead));
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
    assert_rel!(pair.p, far as f64 / 20.0, 1e-12);
    assert_eq!(pair.assignments, Some(20.0));
}

#[test]
fn missed_visits_are_shared_out_as_the_others_say() {
    // By hand: tray a is read on days 14 and 28: 10 of 40 root, then 15. Tray b is read on day 28 alone: 12 of 20. Of all 60, 37 root;
    // they lie as 10 to 15, which maximises the likelihood.
    let text = "tray,day,started,rooted\na,14,40,10\na,28,40,25\nb,28,20,12\n";
    let visits = read_visits(text.as_bytes(), &VisitsOptions::counts("tray", "day", "started", "rooted")).unwrap();
    assert!(visits.notes().iter().any(|note| note.code == "visits_missed"));
    let level = visits.over_time(&CourseOptions::default()).unwrap().numbers.levels[0].clone();
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
        let found = rate_ratio(&strata, Ending::Rooted, &Control::new()).unwrap().unwrap();
        assert!((found.log - number(&case["log_ratio"])).abs() < 1e-7, "{} {}", found.log, case["log_ratio"]);
        assert_rel!(found.se, number(&case["log_ratio_se"]), 1e-6);
    }
}
