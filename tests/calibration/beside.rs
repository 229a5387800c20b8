//! A column that varies between the trays of a trial beside its treatments, as whoever stuck a tray does: dealt out by chance, so that many
//! combinations hold a single tray. `beside.md` holds the long run and its reading.

use rootling::compare::{CompareOptions, Comparison, strengths};
use rootling::control::Control;
use rootling::math::rng;
use rootling::models::TrayMode;
use rootling::simulate::{LayeredDesign, UnitLayer, UnitRole, UnitSpread, replicates};
use rootling::tables::{AssociationOptions, TrialTrendOptions, association, trial_trend};
use rootling::trial::{Factor, Units};

use crate::effects::{asked, modelled};
use crate::summary::{Figures, percent};
use crate::{SEED, full};

const NAMES: [&str; 9] = [
    "comparison",
    "its interval covers",
    "association",
    "trend",
    "model",
    "sees 20 points",
    "sees them without the column",
    "no test",
    "times as wide as without the column",
];

/// Where trays stand.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Places {
    Nowhere,
    /// Blocks with a tray of every combination each.
    Blocks,
    /// Bays of one length of darkness, two of each in two seasons.
    Bays,
}

/// Who stuck the tray: so many of them, dealt out, whose trays differ by effects of that standard deviation.
fn design(places: Places, (workers, sd): (u32, f64), (trays, tray_sd): (u32, f64), at: u64) -> LayeredDesign {
    let plain = LayeredDesign::new(&[("strength", 3), ("dark", 2)], trays, 20);
    let placed = match places {
        Places::Nowhere => plain,
        Places::Blocks => plain.with(UnitRole::Block, "block", UnitSpread::Normal(0.4), |tray| tray.copy),
        Places::Bays => plain
            .with(UnitRole::Season, "season", UnitSpread::Normal(0.4), move |tray| tray.copy / (trays / 2))
            .with(UnitRole::WholePlot, "bay", UnitSpread::Normal(0.3), move |tray| {
                (tray.copy / (trays / 2) * 2 + tray.level(1)) * 2 + tray.copy % 2
            }),
    };
    let mut random = rng::stream(SEED + 91, at);
    let codes = placed.slots.iter().map(|_| rng::below(&mut random, workers)).collect();
    let mut design = LayeredDesign { trays: UnitSpread::Normal(tray_sd), ..placed };
    design.layers.push(UnitLayer { name: "worker".to_owned(), role: None, spread: UnitSpread::Normal(sd), codes });
    design
}

/// The trial with the column recorded as a treatment.
fn recorded(design: &LayeredDesign, units: &Units) -> Units {
    let codes = design.layers.last().unwrap().codes.clone();
    let most = codes.iter().max().copied().unwrap_or(0);
    let levels = (0..=most).map(|code| code.to_string()).collect();
    let mut units = units.clone();
    units.treatments.push(Factor { name: "worker".to_owned(), levels, numbers: None, codes });
    units
}

fn yes(found: bool) -> f64 {
    f64::from(u8::from(found))
}

fn one_trial(design: &LayeredDesign, base: f64, random: &mut rng::ChaCha8Rng) -> Figures {
    let (mut figures, control) = (Figures::default(), Control::new());
    let alike = LayeredDesign { takes: vec![base; 6], ..design.clone() };
    let apart = LayeredDesign { takes: vec![base, base, base + 0.2, base + 0.2, base, base], ..design.clone() };
    let compared = |units: &Units| -> Comparison {
        strengths(units, "strength", "0", "1", &CompareOptions::default(), &control).unwrap().numbers
    };
    let alarm = |p: Option<f64>| yes(p.is_some_and(|p| p <= 0.05));
    let bare = alike.draw(random);
    let units = recorded(design, &bare);
    let pair = compared(&units);
    figures.add(NAMES[0], 0, alarm(pair.p));
    let ends = pair.low.zip(pair.high);
    figures.add(NAMES[1], 0, yes(ends.is_none_or(|(low, high)| low <= 0.0 && high >= 0.0)));
    let options = AssociationOptions { method: Some("tray-rates".parse().unwrap()), ..AssociationOptions::default() };
    figures.add(NAMES[2], 0, alarm(association(&units, "strength", &options, &control).unwrap().numbers.p));
    let scores = Some([("0".to_owned(), 0.0), ("1".to_owned(), 1.0), ("2".to_owned(), 2.0)].into());
    let options = TrialTrendOptions { scores, ..TrialTrendOptions::default() };
    figures.add(NAMES[3], 0, alarm(trial_trend(&units, "strength", &options, &control).unwrap().numbers.p));
    let places: Vec<&str> = ["season", "block"].into_iter().filter(|name| units.factor(name).is_some()).collect();
    let effects = [["strength", "dark", "worker"].as_slice(), &places].concat();
    figures.add(NAMES[4], 0, modelled(&units, &asked(&effects, &[], TrayMode::Auto)).first().copied().unwrap_or(0.0));
    let bare_pair = compared(&bare);
    let width = |one: &Comparison| one.low.zip(one.high).map_or(f64::NAN, |(low, high)| high - low);
    let times = width(&pair) / width(&bare_pair);
    figures.add(NAMES[7], 0, yes(!times.is_finite()));
    figures.add(NAMES[8], 0, if times.is_finite() { times } else { 0.0 });
    let bare = apart.draw(random);
    figures.add(NAMES[5], 0, alarm(compared(&recorded(design, &bare)).p));
    figures.add(NAMES[6], 0, alarm(compared(&bare).p));
    figures
}

#[test]
fn a_column_beside_the_treatments_costs_little() {
    let runs = full().unwrap_or(10);
    println!("| places | trays of each | tray SD | workers, SD | take | {} |", NAMES.join(" | "));
    println!("|{}", "---|".repeat(NAMES.len() + 5));
    let (mut sum, mut lines) = ([0.0; 9], 0_u64);
    for places in [Places::Nowhere, Places::Blocks, Places::Bays] {
        for (trays, tray_sd) in [(4, 0.3), (6, 0.0), (6, 0.5)] {
            for (workers, sd, take) in [(2, 0.0, 0.5), (3, 0.4, 0.3), (6, 0.0, 0.7), (12, 0.4, 0.5)] {
                let design = design(places, (workers, sd), (trays, tray_sd), lines);
                let one = |random: &mut _| Ok(one_trial(&design, take, random));
                let found = replicates(runs, SEED + 92, lines * runs, &Control::new(), one, Figures::plus).unwrap();
                let values = NAMES.map(|name| found.mean(name, 0, runs as f64));
                let cells: Vec<String> = values[..8].iter().map(|value| percent(Some(*value))).collect();
                let times = values[8] / (1.0 - values[7]);
                println!(
                    "| {places:?} | {trays} | {tray_sd} | {workers}, {sd} | {take} | {} | {times:.2} |",
                    cells.join(" | ")
                );
                lines += 1;
                sum.iter_mut().zip(values).for_each(|(sum, value)| *sum += value);
            }
        }
    }
    let means = sum.map(|sum| sum / lines as f64);
    println!("means {:?} {:.2}", means.map(|mean| percent(Some(mean))), means[8]);
    let slack = 2.0 * (0.05 * 0.95 / (lines * runs) as f64).sqrt();
    for at in [0, 2, 3, 4] {
        assert!(means[at] <= 0.065 + slack, "{}: {means:?}", NAMES[at]);
    }
    assert!(means[1] >= 0.935 - slack, "{means:?}");
    // What a column that tells nothing may cost.
    assert!(means[5] >= means[6] - 0.1, "{means:?}");
}
