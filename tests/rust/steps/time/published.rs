//! Published survival times and examples worked by hand.

use rootling::control::Control;
use rootling::steps::{
    CourseOptions, Ending, TimesOptions, VisitCell, VisitsOptions, incidence, incidence_variance, log_rank, rate_ratio,
    read_visits,
};

use super::{cells, remissions};
use crate::support::{check, check_list, entry, number};

/// The remissions of one arm, with those at risk, as the reference lists them.
fn arm(label: &str) -> (Vec<VisitCell>, Vec<f64>, Vec<f64>) {
    let listed = entry("gehan_km");
    let list = |key: &str| -> Vec<f64> { listed[key].as_array().unwrap().iter().map(number).collect() };
    let own: Vec<bool> = listed["treat"].as_array().unwrap().iter().map(|one| one == label).collect();
    let of =
        |key: &str| -> Vec<f64> { list(key).into_iter().zip(&own).filter(|one| *one.1).map(|one| one.0).collect() };
    let rows: Vec<[f64; 3]> = of("n_risk").into_iter().zip(of("n_event")).map(|(n, d)| [n, d, 0.0]).collect();
    (cells(&rows), of("surv"), of("se"))
}

#[test]
fn remissions_of_freireich() {
    // Freireich et al. 1963, Blood 21:699-716; product-limit values and Greenwood's errors by survfit (expected.json, gehan_km).
    for label in ["treat=6-MP", "treat=control"] {
        let (table, surviving, errors) = arm(label);
        let found = incidence(&table);
        let variances = incidence_variance(&table, Ending::Rooted);
        for (((now, variance), want), se) in found.iter().zip(variances).zip(surviving).zip(errors) {
            assert!((now.waiting - want).abs() < 1e-14, "{label}: {} {want}", now.waiting);
            assert!((1.0 - now.rooted - want).abs() < 1e-14);
            if !se.is_nan() {
                assert_rel!(variance.sqrt(), se, 1e-12);
            }
        }
    }
    // Printed in course notes: S(6) = 0.857, S(10) = 0.753, S(23) = 0.448 with 6-MP.
    let (table, _, _) = arm("treat=6-MP");
    let printed: Vec<String> = incidence(&table).iter().map(|now| format!("{:.3}", now.waiting)).collect();
    assert_eq!([0, 2, 6].map(|at: usize| printed[at].as_str()), ["0.857", "0.753", "0.448"]);
}

#[test]
fn remissions_from_rows_of_plants() {
    let visits = remissions();
    let options = CourseOptions { treatment: Some("drug".to_owned()), ..CourseOptions::default() };
    let found = visits.over_time(&options, &Control::new()).unwrap().numbers;
    // Levels by name: 6-MP, control. Medians 23 and 8 weeks (Freireich et al. 1963; Gehan 1965).
    assert_eq!(found.levels[0].level, "6-MP");
    let medians: Vec<Option<u64>> = found.levels.iter().map(|level| level.half.by).collect();
    assert_eq!(medians, [Some(23), Some(8)]);
    let at = |level: usize, day: u64| found.levels[level].visits.iter().find(|one| one.day == day).unwrap().value;
    for (day, want) in [(6, 0.857142857142857), (10, 0.752941176470588), (23, 0.448179271708683)] {
        assert_rel!(1.0 - at(0, day), want, 1e-13);
    }
    // Limits without trays are those of plants: Brookmeyer and Crowley's for 6-MP leave the upper end open.
    assert_eq!((found.levels[0].half.high, found.levels[0].n_units), (None, None));
    // The log-rank test: chi-square 16.79 on 1 df, 9 and 21 seen, 19.25 and 10.75 expected (expected.json, gehan_logrank).
    let compared = visits.compare_times("drug", &TimesOptions::default(), &Control::new()).unwrap();
    let pair = &compared.numbers.pairs[0];
    // scipy 1.16, chi2.sf(16.7929409892165, 1).
    assert_rel!(pair.pace.p, 4.168809e-05, 1e-6);
    assert_eq!(pair.assignments, None);
    assert_eq!((pair.n_first, pair.n_second), (21, 21));
}

#[test]
fn the_log_rank_of_the_remissions() {
    // Cells of both arms on all weeks on which somebody relapsed.
    let visits = remissions();
    let mut tables = [vec![VisitCell::default(); visits.days().len()], vec![VisitCell::default(); visits.days().len()]];
    for row in visits.rows() {
        let at = visits.days().iter().position(|day| *day == row.day).unwrap();
        tables[usize::from(row.levels[0] == "control")][at] =
            VisitCell { at_risk: row.at_risk, rooted: row.rooted, dead: row.dead };
    }
    let found = log_rank(&[tables], Ending::Rooted).unwrap();
    check("gehan_logrank", "logrank", found.statistic);
    check_list("gehan_logrank", "observed", &found.observed);
    check_list("gehan_logrank", "expected", &found.expected);
}

#[test]
fn deaths_are_not_lost_from_sight() {
    // By hand. Of 100, 20 root and 30 die; of the 50 that wait, 25 root. In truth 45 of 100 root; were the dead taken to wait on,
    // 1 - (80/100)(25/50) = 60 of 100.
    let table = cells(&[[100.0, 20.0, 30.0], [50.0, 25.0, 0.0]]);
    let end = incidence(&table)[1];
    assert_rel!(end.rooted, 0.45, 1e-15);
    assert_rel!(end.dead, 0.30, 1e-15);
    assert_rel!(end.waiting, 0.25, 1e-15);
    // Nobody left early: the variance is that of 45 of 100, and of 30 of 100.
    assert_rel!(incidence_variance(&table, Ending::Rooted)[1], 0.45 * 0.55 / 100.0, 1e-14);
    assert_rel!(incidence_variance(&table, Ending::Dead)[1], 0.30 * 0.70 / 100.0, 1e-14);
    let text = "tray,day,started,rooted,dead\na,14,100,20,30\na,28,100,45,30\n";
    let options = VisitsOptions::counts("tray", "day", "started", "rooted").with_dead("dead");
    let found =
        read_visits(text.as_bytes(), &options).unwrap().over_time(&CourseOptions::default(), &Control::new()).unwrap();
    let level = &found.numbers.levels[0];
    assert_rel!(level.visits[1].value, 0.45, 1e-15);
    assert_rel!(level.if_others_waited, 0.60, 1e-15);
    assert!(found.details.iter().any(|line| line.contains("it would say 60.0 of 100 rooted")), "{:?}", found.details);
}

#[test]
fn plants_that_leave_early_by_hand() {
    // 10 plants; 2 root and 1 dies at the first visit, 2 are taken away after it; of 5, 2 root and 1 dies.
    // Rooted 2/10 + (7/10)(2/5) = 0.48, dead 1/10 + (7/10)(1/5) = 0.24, waiting (7/10)(2/5) = 0.28.
    let table = cells(&[[10.0, 2.0, 1.0], [5.0, 2.0, 1.0]]);
    let end = incidence(&table)[1];
    for (got, want) in [(end.rooted, 0.48), (end.dead, 0.24), (end.waiting, 0.28)] {
        assert_rel!(got, want, 1e-14);
    }
    let text = "tray,day,started,rooted,dead,taken\na,14,10,2,1,2\na,21,10,4,2,2\nb,14,10,2,1,2\nb,21,10,4,2,2\n";
    let mut options = VisitsOptions::counts("tray", "day", "started", "rooted").with_dead("dead");
    options.sampled = Some("taken".to_owned());
    let visits = read_visits(text.as_bytes(), &options).unwrap();
    let level = visits.over_time(&CourseOptions::default(), &Control::new()).unwrap().numbers.levels[0].clone();
    assert_rel!(level.visits[1].value, 0.48, 1e-14);
    assert_rel!(level.visits[1].other, 0.24, 1e-14);
    assert_eq!((level.rooted, level.dead, level.started), (8, 4, 20));
}

#[test]
fn the_grouped_time_model_of_the_invented_visits() {
    // Plants followed to day 42 on visits at 14, 21, 28, 35, 42; a factor of visits and one of strength (expected.json,
    // visits_discrete_cloglog: glm with link cloglog).
    let mut text = "tray,strength,last,day,became\n".to_owned();
    for line in include_str!("../../../data/rooting_visits_invented.csv").lines().skip(1) {
        let parts: Vec<&str> = line.split(',').collect();
        let (left, right) = (parts[2], parts[3]);
        let (day, became) = if right.is_empty() { (left, "") } else { (right, "rooted") };
        text.push_str(&format!("{},{},{left},{day},{became}\n", parts[0], parts[1]));
    }
    let mut options = VisitsOptions::plants("last", "day", "became").with_treatments(&["strength"]);
    options.tray = Some("tray".to_owned());
    let visits = read_visits(text.as_bytes(), &options).unwrap();
    assert_eq!(visits.days(), [14, 21, 28, 35, 42]);
    let mut tables = [vec![VisitCell::default(); 5], vec![VisitCell::default(); 5]];
    let mut rows = 0.0;
    for row in visits.rows() {
        let at = visits.days().iter().position(|day| *day == row.day).unwrap();
        let cell = &mut tables[usize::from(row.levels[0] == "2500")][at];
        cell.at_risk += row.at_risk;
        cell.rooted += row.rooted;
        rows += row.at_risk;
    }
    assert_rel!(rows, number(&entry("visits_discrete_cloglog")["rows"]), 1e-15);
    let found = rate_ratio(&[tables], Ending::Rooted, &Control::new()).unwrap().unwrap();
    let listed = entry("visits_discrete_cloglog");
    let last = |key: &str| number(listed[key].as_array().unwrap().last().unwrap());
    assert_rel!(found.log, last("estimate"), 1e-6);
    assert_rel!(found.se, last("se"), 1e-5);
    // The answer has the same ratio, with limits that allow for trays.
    let compared = visits.compare_times("strength", &TimesOptions::default(), &Control::new()).unwrap();
    let pair = &compared.numbers.pairs[0];
    assert_rel!(pair.rate.value.unwrap().ln(), last("estimate"), 1e-6);
    let half_width = (pair.rate.high.unwrap() / pair.rate.low.unwrap()).ln() / 2.0;
    assert!(half_width >= 1.96 * last("se"), "{half_width}");
}
