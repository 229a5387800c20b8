//! Time to roots: published values, the same numbers by other routes, what is asked and decided, and what people write.

mod asked;
mod decided;
mod loading;
mod published;
mod routes;

use rootling::steps::{Ending, History, VisitCell, VisitColumns, VisitTray, Visits, VisitsOptions, read_visits};

/// Plants at risk, rooted and dead, visit by visit.
fn cells(rows: &[[f64; 3]]) -> Vec<VisitCell> {
    rows.iter().map(|[at_risk, rooted, dead]| VisitCell { at_risk: *at_risk, rooted: *rooted, dead: *dead }).collect()
}

/// A tray of a level with so many rooted and dead at each visit; the others wait on.
fn tray(name: &str, level: &str, started: u64, ends: &[(u64, u64)]) -> VisitTray {
    let mut histories = Vec::new();
    let mut waiting = started;
    for (at, (rooted, dead)) in ends.iter().enumerate() {
        for (ending, count) in [(Ending::Rooted, *rooted), (Ending::Dead, *dead)] {
            if count > 0 {
                histories.push(History { after: at, by: at + 1, ending, count: count as f64 });
            }
        }
        waiting -= rooted + dead;
    }
    if waiting > 0 {
        let by = ends.len();
        histories.push(History { after: by, by, ending: Ending::Waiting, count: waiting as f64 });
    }
    VisitTray { name: name.to_owned(), levels: vec![level.to_owned()], block: String::new(), started, histories }
}

/// Visits on days 14, 21, 28, ... to such trays.
fn visits(trays: Vec<VisitTray>) -> Visits {
    let most = trays.iter().flat_map(|tray| &tray.histories).map(|one| one.by).max().unwrap();
    let mut levels: Vec<String> = trays.iter().map(|tray| tray.levels[0].clone()).collect();
    levels.sort();
    levels.dedup();
    let columns = VisitColumns { treatments: vec!["dip".to_owned()], levels: vec![levels], trays: true, deaths: true };
    Visits::new((0..most as u64).map(|at| 14 + 7 * at).collect(), trays, columns, vec![], vec![])
}

/// Freireich's remissions: each patient a plant, a relapse for rooting; a week is seen from the end of the one before.
fn remissions() -> Visits {
    let mut text = "last,day,became,drug\n".to_owned();
    for line in include_str!("../../../data/gehan_1965.csv").lines().skip(1) {
        let parts: Vec<&str> = line.split(',').collect();
        let week: u64 = parts[1].parse().unwrap();
        let became = if parts[2] == "1" { "rooted" } else { "" };
        text.push_str(&format!("{},{week},{became},{}\n", week - 1, parts[3]));
    }
    read_visits(text.as_bytes(), &VisitsOptions::plants("last", "day", "became").with_treatments(&["drug"])).unwrap()
}
