//! Do the rates of a model hold over further blocks and seasons, as `take_rates` do? `over_places.md` holds the long run.

use rootling::control::Control;
use rootling::effects::RateOptions;
use rootling::models::{Model, TrayMode};
use rootling::prediction::PredictOptions;
use rootling::rates::{TakeRatesOptions, take_rates};
use rootling::simulate::{LayeredDesign, UnitRole, UnitSpread, replicates};
use rootling::trial::NewRows;

use crate::effects::asked;
use crate::intervals::inside;
use crate::summary::{Figures, percent};
use crate::{SEED, full};

/// Layouts of one strength (two levels): seasons, blocks of each, trays of each strength in each.
const LAYOUTS: [(u32, u32, u32); 6] = [(1, 3, 2), (1, 4, 1), (1, 6, 1), (2, 3, 2), (3, 3, 1), (3, 4, 2)];

fn design(at: usize, spread: UnitSpread, trays: UnitSpread, take: f64) -> LayeredDesign {
    let (seasons, blocks, each) = LAYOUTS[at];
    let mut design = LayeredDesign::new(&[("strength", 2)], seasons * blocks * each, 20);
    if seasons > 1 {
        design = design.with(UnitRole::Season, "season", spread, |tray| tray.copy / (blocks * each));
    }
    design = design.with(UnitRole::Block, "block", spread, |tray| tray.copy / each);
    let odds = take / (1.0 - take) * if take > 0.5 { 0.45 } else { 2.2 };
    LayeredDesign { takes: vec![take, odds / (1.0 + odds)], trays, ..design }
}

fn one_trial(design: &LayeredDesign, random: &mut rootling::math::rng::ChaCha8Rng) -> Figures {
    let (units, further) = (design.draw(random), design.draw(random));
    let truth = design.truth();
    let mut figures = Figures::default();
    let model = Model::fit(&units, &asked(&["strength"], &[], TrayMode::Auto)).unwrap();
    let rates = model.adjusted_rates("strength", &RateOptions::default()).unwrap().numbers.rates;
    let plain = take_rates(&units, &["strength"], &TakeRatesOptions::default()).unwrap().numbers.rates;
    let rows = NewRows::from_csv(b"strength\n0\n1\n").unwrap();
    let options = PredictOptions { new_tray: Some(20), ..PredictOptions::default() };
    let predicted = model.predict(&rows, &options).unwrap().numbers.rows;
    for (level, truth) in truth.iter().enumerate() {
        let limits = [
            (rates[level].low.unwrap_or(0.0), rates[level].high.unwrap_or(1.0)),
            (plain[level].low, plain[level].high),
            (predicted[level].low.unwrap_or(0.0), predicted[level].high.unwrap_or(1.0)),
        ];
        for (at, limits) in limits.into_iter().enumerate() {
            figures.add("held", at, inside(limits, *truth));
            figures.add("width", at, limits.1 - limits.0);
        }
        // A tray of another place: those of a second draw stand in places of their own.
        let tray = further.treatments[0].codes.iter().position(|code| *code as usize == level).unwrap();
        let range = (predicted[level].tray_low.unwrap() as f64, predicted[level].tray_high.unwrap() as f64);
        figures.add("new tray", 0, inside(range, further.rooted[tray] as f64));
    }
    figures
}

#[test]
fn rates_of_models_hold_over_places() {
    let runs = full().unwrap_or(60);
    println!(
        "| seasons x blocks x trays | SD | take | adjusted | take_rates | predict | width over take_rates | new tray |\n|---|---|---|---|---|---|---|---|"
    );
    let (mut sum, mut lines) = ([0.0; 3], 0.0);
    for (at, (seasons, blocks, each)) in LAYOUTS.iter().enumerate() {
        for (sd, take, beta) in
            [(0.0, 0.5, false), (0.4, 0.5, true), (0.4, 0.15, false), (0.8, 0.85, true), (0.8, 0.3, false)]
        {
            let spread = if beta && sd > 0.0 { UnitSpread::beta_like(sd, take) } else { UnitSpread::Normal(sd) };
            let trays = if beta { UnitSpread::Beta(0.05) } else { UnitSpread::Normal(0.4) };
            let design = design(at, spread, trays, take);
            let one = |random: &mut _| Ok(one_trial(&design, random));
            let found = replicates(runs, SEED + 41, lines as u64 * runs, &Control::new(), one, Figures::plus).unwrap();
            let mean = |name: &'static str, at: usize| found.mean(name, at, 2.0 * runs as f64);
            let held: Vec<f64> = (0..3).map(|at| mean("held", at)).collect();
            println!(
                "| {seasons} x {blocks} x {each} | {sd} {} | {take} | {} | {} | {} | {:.2} | {} |",
                if beta { "beta" } else { "normal" },
                percent(Some(held[0])),
                percent(Some(held[1])),
                percent(Some(held[2])),
                mean("width", 0) / mean("width", 1),
                percent(Some(mean("new tray", 0)))
            );
            lines += 1.0;
            sum.iter_mut().zip(&held).for_each(|(sum, held)| *sum += held);
            assert!(held[0] > 0.88 && (held[0] - held[1]).abs() < 0.06, "{at} {sd} {take}: {held:?}");
        }
    }
    let means = sum.map(|sum| sum / lines);
    println!("means {means:?}");
    assert!(means[0] > 0.94 && means[2] > 0.94, "{means:?}");
}
