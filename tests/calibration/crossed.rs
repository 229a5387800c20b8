//! Three levels of a treatment given to units that others cross: lengths of darkness in bays, rootstocks in plants, each plant in every bay.
//! `crossed.md` holds the long run and its reading.

use std::collections::BTreeMap;

use rootling::control::Control;
use rootling::models::TrayMode;
use rootling::simulate::{LayeredDesign, UnitRole, UnitSpread, replicates};
use rootling::tables::{AssociationOptions, TrialTrendOptions, association, trial_trend};
use rootling::trial::Units;

use crate::effects::{asked, modelled};
use crate::summary::{Figures, percent};
use crate::{SEED, full};

/// What may raise false alarms.
const NAMES: [&str; 9] = [
    "association, length",
    "association, rootstock",
    "trend, rootstock",
    "departure, rootstock",
    "model, length",
    "model, rootstock",
    "model, interaction",
    "association of rootstock by plants alone",
    "trend of rootstock by plants alone",
];

/// Lengths, bays of each, rootstocks, plants of each, share of trays lost.
const LAYOUTS: [(u32, u32, u32, u32, f64); 4] =
    [(3, 2, 3, 3, 0.0), (2, 3, 3, 3, 0.0), (2, 3, 2, 3, 0.0), (2, 3, 3, 4, 0.4)];

fn design(at: usize, (bays, plants): (UnitSpread, UnitSpread), trays: UnitSpread, take: f64) -> LayeredDesign {
    let (lengths, bays_each, rootstocks, plants_each, lost) = LAYOUTS[at];
    let design = LayeredDesign::new(&[("length", lengths), ("rootstock", rootstocks)], bays_each * plants_each, 20);
    let design = design
        .with(UnitRole::WholePlot, "bay", bays, |tray| tray.level(0) * bays_each + tray.copy / plants_each)
        .with(UnitRole::StockPlant, "plant", plants, |tray| tray.level(1) * plants_each + tray.copy % plants_each);
    LayeredDesign { takes: vec![take; (lengths * rootstocks) as usize], trays, lost, ..design }
}

fn alarm(p: Option<f64>) -> f64 {
    f64::from(u8::from(p.is_some_and(|p| p <= 0.05)))
}

fn of_rootstock(units: &Units) -> [f64; 3] {
    let options = AssociationOptions {
        method: Some("tray-rates".parse().unwrap()),
        randomisations: 9,
        ..AssociationOptions::default()
    };
    let found = association(units, "rootstock", &options, &Control::new()).unwrap().numbers;
    let levels = units.treatments[1].levels.len();
    let scores: BTreeMap<String, f64> = (0..levels).map(|level| (level.to_string(), level as f64)).collect();
    let options = TrialTrendOptions { scores: Some(scores), ..TrialTrendOptions::default() };
    let trend = trial_trend(units, "rootstock", &options, &Control::new()).unwrap().numbers;
    [alarm(found.p), alarm(trend.p), alarm(trend.departure.map(|test| test.p))]
}

fn one_trial(design: &LayeredDesign, random: &mut rootling::math::rng::ChaCha8Rng) -> Figures {
    let units = design.draw(random);
    let mut figures = Figures::default();
    let options = AssociationOptions {
        method: Some("tray-rates".parse().unwrap()),
        randomisations: 9,
        ..AssociationOptions::default()
    };
    let length = association(&units, "length", &options, &Control::new()).unwrap().numbers;
    figures.add(NAMES[0], 0, alarm(length.p));
    let [both, trend, departure] = of_rootstock(&units);
    figures.add(NAMES[1], 0, both);
    figures.add(NAMES[2], 0, trend);
    figures.add(NAMES[3], 0, departure);
    let model = modelled(&units, &asked(&["length", "rootstock"], &[&["length", "rootstock"]], TrayMode::Auto));
    for (name, value) in NAMES[4..7].iter().zip(model) {
        figures.add(name, 0, value);
    }
    let alone = Units { whole_plot: None, ..units };
    let [both, trend, _] = of_rootstock(&alone);
    figures.add(NAMES[7], 0, both);
    figures.add(NAMES[8], 0, trend);
    figures
}

#[test]
fn treatments_whose_units_are_crossed_keep_their_alarms() {
    let runs = full().unwrap_or(40);
    println!(
        "| lengths x bays, rootstocks x plants, lost | SD of bays, plants | take | {} |\n|{}",
        NAMES.join(" | "),
        "---|".repeat(12)
    );
    let (mut sum, mut lines) = ([0.0; 9], 0.0);
    for (at, (lengths, bays, rootstocks, plants, lost)) in LAYOUTS.iter().enumerate() {
        for (sds, take, beta) in
            [((0.0, 0.0), 0.5, false), ((0.4, 0.4), 0.5, true), ((0.8, 0.3), 0.3, false), ((0.6, 0.6), 0.1, true)]
        {
            let law = |sd: f64| if beta && sd > 0.0 { UnitSpread::beta_like(sd, take) } else { UnitSpread::Normal(sd) };
            let trays = if beta { UnitSpread::Beta(0.05) } else { UnitSpread::Normal(0.4) };
            let design = design(at, (law(sds.0), law(sds.1)), trays, take);
            let one = |random: &mut _| Ok(one_trial(&design, random));
            let found = replicates(runs, SEED + 43, lines as u64 * runs, &Control::new(), one, Figures::plus).unwrap();
            let values = NAMES.map(|name| found.mean(name, 0, runs as f64));
            let cells: Vec<String> = values.iter().map(|value| percent(Some(*value))).collect();
            println!(
                "| {lengths} x {bays}, {rootstocks} x {plants}, {lost} | {}, {} | {take} | {} |",
                sds.0,
                sds.1,
                cells.join(" | ")
            );
            lines += 1.0;
            sum.iter_mut().zip(values).for_each(|(sum, value)| *sum += value);
        }
    }
    let means = sum.map(|sum| sum / lines);
    println!("means {:?}", means.map(|mean| percent(Some(mean))));
    // Two standard errors of a mean over all lines.
    let slack = 2.0 * (0.05 * 0.95 / (lines * runs as f64)).sqrt();
    assert!(means[..7].iter().all(|mean| *mean <= 0.065 + slack), "{means:?}");
}
