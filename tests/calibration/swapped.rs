//! Darkness that changes its bay from season to season, under light that stays there or none: no bay of a season holds both lengths, so what bays
//! add is judged with what bays of a season add. `swapped.md` holds the long run and its reading.

use rootling::compare::{CompareOptions, strengths};
use rootling::control::Control;
use rootling::models::TrayMode;
use rootling::simulate::{LayeredDesign, UnitRole, UnitSpread, replicates};
use rootling::tables::{AssociationOptions, TrialTrendOptions, association, trial_trend};

use crate::effects::{asked, modelled};
use crate::summary::{Figures, percent};
use crate::{SEED, full};

const NAMES: [&str; 5] = ["comparison", "its interval covers", "association", "trend", "model"];

/// Bays of each light and length, seasons, trays of each bay and season.
const LAYOUTS: [(u32, u32, u32); 3] = [(2, 2, 3), (2, 3, 2), (3, 4, 1)];

/// How bays that last differ, bays of one season, and whether by beta laws.
const LAWS: [(f64, f64, bool); 4] = [(0.0, 0.0, false), (0.6, 0.3, false), (0.3, 0.6, true), (0.8, 0.0, false)];

/// Which bays change their darkness: all in every season, all in the last one, a single pair in the last one.
#[derive(Clone, Copy, Debug)]
enum Changing {
    EverySeason,
    InTheEnd,
    OnePair,
}

/// `bays` of each length of darkness, and of each light where there are two.
fn design(
    (bays, seasons, trays): (u32, u32, u32),
    (lights, changing): (u32, Changing),
    (lasting, passing, beta): (f64, f64, bool),
    take: f64,
) -> LayeredDesign {
    let law = |sd: f64| match sd {
        sd if beta && sd > 0.0 => UnitSpread::beta_like(sd, take),
        sd => UnitSpread::Normal(sd),
    };
    let season = move |copy: u32| copy / (bays * trays);
    let bay = move |light: u32, dark: u32, copy: u32| {
        let (own, season) = (copy / trays % bays, season(copy));
        let end = season + 1 == seasons;
        let changes = match changing {
            Changing::EverySeason => season % 2 == 1,
            Changing::InTheEnd => end,
            Changing::OnePair => end && own == 0,
        };
        (2 * light + (dark + u32::from(changes)) % 2) * bays + own
    };
    let treatments: &[(&str, u32)] = if lights > 1 { &[("dark", 2), ("light", 2)] } else { &[("dark", 2)] };
    let at = move |tray: &rootling::simulate::TraySlot| {
        bay(if lights > 1 { tray.level(1) } else { 0 }, tray.level(0), tray.copy)
    };
    let design = LayeredDesign::new(treatments, bays * seasons * trays, 20)
        .with(UnitRole::Season, "season", UnitSpread::Normal(0.5), move |tray| season(tray.copy))
        .with(UnitRole::Block, "bay", law(lasting), move |tray| at(tray))
        .with(UnitRole::WholePlot, "bay within season", law(passing), move |tray| {
            season(tray.copy) * 4 * bays + at(tray)
        });
    LayeredDesign { takes: vec![take; 2 * lights as usize], trays: UnitSpread::Normal(0.3), ..design }
}

fn alarm(p: Option<f64>) -> f64 {
    f64::from(u8::from(p.is_some_and(|p| p <= 0.05)))
}

fn one_trial(design: &LayeredDesign, lights: u32, random: &mut rootling::math::rng::ChaCha8Rng) -> Figures {
    let units = design.draw(random);
    let (mut figures, control) = (Figures::default(), Control::new());
    let pair = strengths(&units, "dark", "0", "1", &CompareOptions::default(), &control).unwrap().numbers;
    let (beside, effects) =
        if lights > 1 { (vec!["light", "season"], vec!["dark", "light"]) } else { (vec!["season"], vec!["dark"]) };
    assert_eq!(pair.adjusted_for, beside);
    let covers = pair.low.zip(pair.high).is_some_and(|(low, high)| low <= 0.0 && high >= 0.0);
    figures.add(NAMES[0], 0, alarm(pair.p));
    figures.add(NAMES[1], 0, f64::from(u8::from(covers)));
    let options = AssociationOptions { method: Some("tray-rates".parse().unwrap()), ..AssociationOptions::default() };
    figures.add(NAMES[2], 0, alarm(association(&units, "dark", &options, &control).unwrap().numbers.p));
    let scores = Some([("0".to_owned(), 0.0), ("1".to_owned(), 1.0)].into());
    let options = TrialTrendOptions { scores, ..TrialTrendOptions::default() };
    figures.add(NAMES[3], 0, alarm(trial_trend(&units, "dark", &options, &control).unwrap().numbers.p));
    let model = modelled(&units, &asked(&effects, &[], TrayMode::Auto));
    figures.add(NAMES[4], 0, model.into_iter().next().unwrap_or_default());
    figures
}

#[test]
fn darkness_that_changes_its_bay_keeps_its_alarms() {
    let runs = full().unwrap_or(40);
    println!(
        "| bays, seasons, trays | darkness changes | SD of bays, of bays in a season | take | {} |",
        NAMES.join(" | ")
    );
    println!("|{}", "---|".repeat(NAMES.len() + 4));
    let under_light = LAYOUTS.iter().map(|layout| (*layout, 2, Changing::EverySeason));
    let alone = [Changing::EverySeason, Changing::InTheEnd, Changing::OnePair]
        .into_iter()
        .flat_map(|changing| [(2, 2, 3), (3, 3, 3)].map(|layout| (layout, 1, changing)));
    let (mut sum, mut lines) = ([0.0; 5], 0.0);
    for ((bays, seasons, trays), lights, changing) in under_light.chain(alone) {
        for (law, take) in LAWS.iter().zip([0.5, 0.4, 0.2, 0.6]) {
            let design = design((bays, seasons, trays), (lights, changing), *law, take);
            let one = |random: &mut _| Ok(one_trial(&design, lights, random));
            let found = replicates(runs, SEED + 71, lines as u64 * runs, &Control::new(), one, Figures::plus).unwrap();
            let values = NAMES.map(|name| found.mean(name, 0, runs as f64));
            let cells: Vec<String> = values.iter().map(|value| percent(Some(*value))).collect();
            println!(
                "| {}, {seasons}, {trays} | {changing:?} | {}, {} | {take} | {} |",
                2 * lights * bays,
                law.0,
                law.1,
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
    for at in [0, 2, 3, 4] {
        assert!(means[at] <= 0.065 + slack, "{}: {means:?}", NAMES[at]);
    }
    assert!(means[1] >= 0.93 - slack, "{means:?}");
}
