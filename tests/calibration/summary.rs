//! The simulation's table in Markdown.

use std::fmt::Write as _;

use crate::simulation::{DIFFERENCES, Design, RATES, TESTS, Tally, grid, run};

type Cell = (Design, Tally);

/// The whole document.
pub fn document(replicates: u64, seed: u64) -> String {
    let all = |uneven| -> Vec<Cell> {
        let designs = grid(uneven);
        let tallies = run(&designs, replicates, seed);
        designs.into_iter().zip(tallies).collect()
    };
    let (even, uneven) = (all(false), all(true));
    let usual: Vec<Cell> = even.iter().copied().filter(|(design, _)| design.trays >= 4).collect();
    let usual_uneven: Vec<Cell> = uneven.into_iter().filter(|(design, _)| design.trays >= 4).collect();
    let mut text = format!("{}\n\nSeed {seed}, {replicates} replicates per design, {} designs with even trays and as many with uneven trays.\n", include_str!("head.md").trim_end(), even.len());
    let mut section = |title: &str, names: &[&str], get: &Getter, wide: Option<&Getter>| {
        let _ = write!(text, "\n## {title}\n\n{}", candidates(names, &usual, &usual_uneven, get, wide));
        let _ = write!(text, "\n{}", breakdown(names, &even, get));
    };
    section("One take rate: coverage, %", &RATES, &|tally, at| tally.rate_held[at], Some(&|tally, at| tally.rate_width[at]));
    section("Difference, equal takes: coverage, %", &DIFFERENCES, &|tally, at| tally.equal_held[at], Some(&|tally, at| tally.difference_width[at]));
    section("Difference, unequal takes: coverage, %", &DIFFERENCES, &|tally, at| tally.unequal_held[at], Some(&|tally, at| tally.difference_width[at]));
    section("Tests, equal takes: false alarms at 5 %, %", &TESTS, &|tally, at| tally.alarms[at], None);
    section("Tests, unequal takes: power at 5 %, %", &TESTS, &|tally, at| tally.power[at], None);
    text
}

type Getter<'a> = dyn Fn(&Tally, usize) -> f64 + 'a;

fn mean(cells: &[Cell], keep: impl Fn(&Design) -> bool, get: &Getter, at: usize) -> f64 {
    let values: Vec<f64> = cells.iter().filter(|(design, _)| keep(design)).map(|(_, tally)| get(tally, at)).collect();
    values.iter().sum::<f64>() / values.len() as f64
}

/// One line per candidate over the designs with four trays or more.
fn candidates(names: &[&str], even: &[Cell], uneven: &[Cell], get: &Getter, wide: Option<&Getter>) -> String {
    let mut text = String::from("| 4 to 12 trays | mean | 2 treatments | 5 treatments | lowest design | highest design | uneven trays | mean width, points |\n|---|---|---|---|---|---|---|---|\n");
    for (at, name) in names.iter().enumerate() {
        let each = || even.iter().map(|(_, tally)| get(tally, at));
        let (low, high) = (each().fold(f64::INFINITY, f64::min), each().fold(f64::NEG_INFINITY, f64::max));
        let width = wide.map_or_else(|| "-".to_owned(), |wide| percent(mean(even, |_| true, wide, at)));
        let two = mean(even, |design| design.treatments == 2, get, at);
        let five = mean(even, |design| design.treatments == 5, get, at);
        let columns = [mean(even, |_| true, get, at), two, five, low, high, mean(uneven, |_| true, get, at)].map(percent).join(" | ");
        let _ = writeln!(text, "| {name} | {columns} | {width} |");
    }
    text
}

/// One line per candidate, by trays (all takes), then by correlation and by take (four trays or more).
fn breakdown(names: &[&str], cells: &[Cell], get: &Getter) -> String {
    let trays = [3, 4, 6, 8, 12];
    let correlations = [0.0, 0.01, 0.05, 0.1, 0.15];
    let takes = [0.02, 0.1, 0.5, 0.8, 0.98];
    let mut text = String::from("| by | ");
    let heads = trays.iter().map(|n| format!("{n} trays")).chain(correlations.iter().map(|icc| format!("ICC {icc}"))).chain(takes.iter().map(|take| format!("take {:.0} %", take * 100.0)));
    let heads: Vec<String> = heads.collect();
    let _ = writeln!(text, "{} |\n|---|{}", heads.join(" | "), "---|".repeat(heads.len()));
    for (at, name) in names.iter().enumerate() {
        let mut row: Vec<f64> = trays.iter().map(|n| mean(cells, |design| design.trays == *n, get, at)).collect();
        row.extend(correlations.iter().map(|icc| mean(cells, |design| design.icc == *icc && design.trays >= 4, get, at)));
        row.extend(takes.iter().map(|take| mean(cells, |design| design.take == *take && design.trays >= 4, get, at)));
        let _ = writeln!(text, "| {name} | {} |", row.into_iter().map(percent).collect::<Vec<_>>().join(" | "));
    }
    text
}

fn percent(share: f64) -> String {
    format!("{:.1}", share * 100.0)
}
