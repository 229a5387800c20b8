//! Units above the tray: stock plants, bays, blocks and seasons, by a simulator of other laws than those fitted, beside the limits
//! that analysis of variance of tray rates gives. `units_above.md` holds the long run and its reading.

mod classical;
mod designs;
mod look;

use rootling::control::Control;
use rootling::simulate::replicates;

use crate::summary::percent;
use crate::{SEED, full};
use designs::Above;
use look::{Seen, one_trial};

/// What may raise false alarms.
const ALARMS: [&str; 11] = [
    "model, between",
    "model of both, between",
    "compare, between",
    "association, between",
    "model, within",
    "model of both, within",
    "model, interaction",
    "compare, within",
    "association, within",
    "classical, between",
    "classical, within",
];

/// Intervals with their widths.
const LIMITS: [[&str; 2]; 10] = [
    ["take_rates between", "width of take_rates between"],
    ["take_rates within", "width of take_rates within"],
    ["take_rates cells", "width of take_rates cells"],
    ["rates between", "width of rates between"],
    ["rates within", "width of rates within"],
    ["cells", "width of cells"],
    ["contrasts between", "width of contrasts between"],
    ["contrasts within", "width of contrasts within"],
    ["contrasts between, in each", "width of contrasts between, in each"],
    ["contrasts within, in each", "width of contrasts within, in each"],
];

/// One design and what was seen of it.
struct Row {
    above: Above,
    seen: Seen,
}

impl Row {
    fn mean(&self, name: &'static str, whose: usize) -> Option<f64> {
        let values = self.seen.0.get(&(name, whose))?;
        Some(values.iter().sum::<f64>() / values.len() as f64)
    }

    fn median(&self, name: &'static str, whose: usize) -> Option<f64> {
        let mut values = self.seen.0.get(&(name, whose))?.clone();
        values.sort_by(f64::total_cmp);
        values.get(values.len() / 2).copied()
    }

    /// Median width over that of the classical limits.
    fn wider(&self, [held, width]: [&'static str; 2]) -> Option<f64> {
        let beside = if held == "cells" || !held.starts_with("take_rates") { width } else { beside(width) };
        Some(self.median(width, 0)? / self.median(beside, 1)?)
    }
}

/// The classical limits that those of `take_rates` are held against.
fn beside(width: &'static str) -> &'static str {
    match width {
        "width of take_rates between" => "width of rates between",
        "width of take_rates within" => "width of rates within",
        _ => "width of cells",
    }
}

fn seen(designs: Vec<Above>, runs: u64) -> Vec<Row> {
    let row = |(at, above): (usize, Above)| {
        let one = |random: &mut _| Ok(one_trial(&above, random));
        let seen = replicates(runs, SEED + 13, at as u64 * runs, &Control::new(), one, Seen::plus).unwrap();
        Row { above, seen }
    };
    designs.into_iter().enumerate().map(row).collect()
}

/// Mean over designs and the farthest of them.
fn over(rows: &[&Row], of: impl Fn(&Row) -> Option<f64>, highest: bool) -> Option<(f64, f64)> {
    let values: Vec<f64> = rows.iter().filter_map(|row| of(row)).collect();
    let far = values.iter().copied().reduce(|a, b| if (a > b) == highest { a } else { b })?;
    Some((values.iter().sum::<f64>() / values.len() as f64, far))
}

fn pair(found: Option<(f64, f64)>) -> String {
    found.map_or_else(|| "-".to_owned(), |(mean, far)| format!("{} ({})", percent(Some(mean)), percent(Some(far))))
}

fn grouped(rows: &[Row]) -> Vec<(&'static str, f64)> {
    let mut groups: Vec<(&'static str, f64)> = Vec::new();
    for row in rows {
        let key = (row.above.layout, row.above.sd);
        if !groups.contains(&key) {
            groups.push(key);
        }
    }
    groups
}

fn print_alarms(rows: &[Row], keep: fn(&Above) -> bool, title: &str) {
    println!("\n### False alarms, {title}: mean over takes and laws (farthest design), percent\n");
    println!("| layout | SD | {} |\n|---|---|{}", ALARMS.join(" | "), "---|".repeat(ALARMS.len()));
    for (layout, sd) in grouped(rows) {
        let some: Vec<&Row> =
            rows.iter().filter(|row| (row.above.layout, row.above.sd) == (layout, sd) && keep(&row.above)).collect();
        let cells: Vec<String> = ALARMS
            .iter()
            .map(|name| {
                let whose = usize::from(name.starts_with("classical"));
                pair(over(&some, |row| row.mean(name, whose), true))
            })
            .collect();
        println!("| {layout} | {sd} | {} |", cells.join(" | "));
    }
}

fn print_limits(rows: &[Row], keep: fn(&Above) -> bool, title: &str) {
    println!(
        "\n### Coverage, {title}: mean over takes and laws (lowest design) / classical mean; median width over the classical\n"
    );
    let names = LIMITS.map(|[held, _]| held);
    println!("| layout | SD | {} |\n|---|---|{}", names.join(" | "), "---|".repeat(names.len()));
    for (layout, sd) in grouped(rows) {
        let some: Vec<&Row> =
            rows.iter().filter(|row| (row.above.layout, row.above.sd) == (layout, sd) && keep(&row.above)).collect();
        let cells: Vec<String> = LIMITS
            .iter()
            .map(|names| {
                let ours = over(&some, |row| row.mean(names[0], 0), false);
                let theirs = over(&some, |row| row.mean(names[0], 1), false).map(|one| one.0);
                let wider = over(&some, |row| row.wider(*names), true);
                match ours {
                    None => "-".to_owned(),
                    Some(_) => format!(
                        "{} / {}; {}",
                        pair(ours),
                        percent(theirs),
                        wider.map_or_else(|| "-".to_owned(), |(mean, _)| format!("{mean:.2}"))
                    ),
                }
            })
            .collect();
        println!("| {layout} | {sd} | {} |", cells.join(" | "));
    }
}

fn mid(above: &Above) -> bool {
    above.mid()
}

fn ends(above: &Above) -> bool {
    !above.mid()
}

#[test]
fn units_above_the_tray_hold() {
    let designs = if full().is_some() { designs::grid() } else { designs::few() };
    let rows = seen(designs, full().unwrap_or(40));
    print_alarms(&rows, mid, "takes of 10 to 90 %");
    print_limits(&rows, mid, "takes of 10 to 90 %");
    if full().is_some() {
        print_alarms(&rows, ends, "takes of 2 and 98 %");
        print_limits(&rows, ends, "takes of 2 and 98 %");
    }
}
