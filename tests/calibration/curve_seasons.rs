//! Heights of strength curves where darkness was given to whole bays of balanced seasons: do they differ where darkness does nothing?
//!
//! Seasons, bays and trays have normal effects on the log odds; trays are analysed by effective counts, bays by mean squares of tray rates.

use rootling::control::Control;
use rootling::curves::{CurveOptions, Shape, ShapeChoice, compare_curves, strength_curve};
use rootling::math::rng;
use rootling::math::special::expit;
use rootling::trial::{Factor, UnitKind, Units};

use crate::summary::{Figures, percent};
use crate::{full, line, run};

/// Bays of every season, half of them dark.
#[derive(Debug, Clone, Copy, PartialEq)]
struct SeasonsCase {
    seasons: u32,
    bays: u32,
    /// Standard deviation of a bay in a season.
    sd: f64,
    /// Bays that last over the seasons, with their standard deviation.
    lasting: Lasting,
    /// Log odds at each strength.
    eta: [f64; 4],
    /// A shape asked for, or "auto".
    shape: &'static str,
}

/// What bays of different seasons have in common.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Lasting {
    /// Nothing: darkness is dealt out anew.
    No,
    /// Bays last, all change their darkness every season.
    AllChange(f64),
    /// Bays last, one pair changes its darkness, in the last season.
    OnePair(f64),
}

const STRENGTHS: [f64; 4] = [0.0, 1000.0, 4000.0, 16_000.0];
/// A hump on `ln(1 + d / 1000)`: takes of 21, 47, 57 and 25 %.
const HUMP: [f64; 4] = [-1.3, -0.136, 0.298, -1.088];
/// Takes of 2 to 82 %, also a hump: here the mean of `p (1 - p)` is far from that of the mean take.
const STEEP: [f64; 4] = [-4.0, 0.0, 1.5, -1.5];
/// Standard deviations of seasons and trays.
const SEASON: f64 = 0.5;
const TRAY: f64 = 0.2;

fn drawn(case: &SeasonsCase, random: &mut rng::ChaCha8Rng) -> Units {
    let factor = |name: &str, levels: Vec<String>, codes: Vec<u32>| Factor {
        name: name.to_owned(),
        numbers: levels.iter().map(|level| level.parse().ok()).collect(),
        levels,
        codes,
    };
    let (mut rooted, mut codes) = (Vec::new(), [const { Vec::new() }; 5]);
    let sd = match case.lasting {
        Lasting::No => 0.0,
        Lasting::AllChange(sd) | Lasting::OnePair(sd) => sd,
    };
    let lasting: Vec<f64> = (0..case.bays).map(|_| sd * rng::deviate(random)).collect();
    for season in 0..case.seasons {
        let year = SEASON * rng::deviate(random);
        for bay in 0..case.bays {
            let shift = year + lasting[bay as usize] + case.sd * rng::deviate(random);
            let changed = match case.lasting {
                Lasting::OnePair(_) => u32::from(season + 1 == case.seasons && bay < 2),
                Lasting::No | Lasting::AllChange(_) => season,
            };
            for (at, eta) in case.eta.iter().enumerate() {
                let own = eta + shift + TRAY * rng::deviate(random);
                rooted.push(rng::binomial(random, 20, expit(own)));
                let here = [(bay + changed) % 2, at as u32, season * case.bays + bay, season, bay];
                codes.iter_mut().zip(here).for_each(|(list, code)| list.push(code));
            }
        }
    }
    let [dark, strength, of_season, season, bay] = codes;
    let names = |n: u32| (1..=n).map(|at| format!("b{at}")).collect::<Vec<String>>();
    Units {
        kind: UnitKind::Tray,
        stuck: vec![20; rooted.len()],
        rooted,
        treatments: vec![
            factor("dark_days", vec!["0".to_owned(), "21".to_owned()], dark),
            factor("strength", STRENGTHS.map(|d| d.to_string()).to_vec(), strength),
        ],
        tray: None,
        block: (case.lasting != Lasting::No).then(|| factor("bay", names(case.bays), bay)),
        whole_plot: Some(factor("bay of a season", names(case.seasons * case.bays), of_season)),
        season: Some(factor("season", names(case.seasons), season)),
        stock_plant: None,
        earlier: None,
        covariates: Vec::new(),
    }
}

fn one_trial(case: &SeasonsCase, random: &mut rng::ChaCha8Rng) -> Figures {
    let units = drawn(case, random);
    // The comparison fits its curves itself; a flat shape asked for here reads the trial and nothing else.
    let options = CurveOptions {
        within: vec!["dark_days".to_owned()],
        shape: ShapeChoice::One(Shape::Flat),
        ..CurveOptions::default()
    };
    let mut input = strength_curve(&units, None, &options, &Control::new()).unwrap().numbers.input;
    input.options.shape = case.shape.parse().unwrap();
    let compared = compare_curves(&input, &Control::new()).unwrap().numbers.compared;
    let mut figures = Figures::default();
    let height = compared.tests.iter().find(|test| test.method.name() == "same height").unwrap();
    figures.add("alarms", 0, f64::from(u8::from(height.p <= 0.05)));
    let held = compared.heights.iter().all(|one| one.low <= 1.0 && 1.0 <= one.high);
    figures.add("held", 0, f64::from(u8::from(held)));
    figures
}

fn cases() -> Vec<SeasonsCase> {
    let case = |(seasons, bays, sd, eta, shape)| SeasonsCase { seasons, bays, sd, lasting: Lasting::No, eta, shape };
    let same = |(seasons, bays, lasting)| SeasonsCase { lasting, ..case((seasons, bays, 0.3, HUMP, "hump")) };
    let lasting = [
        (2, 4, Lasting::AllChange(0.6)),
        (3, 6, Lasting::AllChange(0.6)),
        (3, 6, Lasting::AllChange(0.0)),
        (3, 6, Lasting::OnePair(0.6)),
    ]
    .map(same);
    let laid = [(2, 4, 0.4), (3, 4, 0.6), (2, 6, 0.3), (3, 6, 0.25), (3, 6, 0.6)];
    let usual = laid.map(|(seasons, bays, sd)| case((seasons, bays, sd, HUMP, "hump")));
    let others = [(3, 6, 0.4, STEEP, "hump"), (2, 4, 0.6, STEEP, "hump"), (3, 4, 0.4, HUMP, "auto")].map(case);
    usual.into_iter().chain(others).chain(lasting).collect()
}

/// See `curve_bays.md`.
#[test]
fn heights_over_balanced_seasons_hold() {
    let runs = full().map_or(40, |runs| 2 * runs);
    let results = run(cases(), runs, one_trial);
    println!("\n### Heights of curves over balanced seasons, {runs} trials of each design\n");
    println!(
        "| seasons x bays, SD of bays of a season, bays that last, log odds, shape | false alarms of height | limits of height hold |\n|---|---|---|"
    );
    let mean = |name, case: Option<&SeasonsCase>| {
        results.of(name, 0, |other| case.is_none_or(|case| other == case)).unwrap().mean
    };
    let cells = |case| ["alarms", "held"].map(|name| percent(Some(mean(name, case))));
    for (case, _) in &results.rows {
        let SeasonsCase { seasons, bays, sd, eta, shape, lasting } = case;
        line(&format!("{seasons} x {bays}, {sd}, {lasting:?}, {eta:?}, {shape}"), &cells(Some(case)));
    }
    line("mean", &cells(None));
    let slack = |trials: u64| 2.5 * (0.065 * 0.935 / trials as f64).sqrt();
    let all = mean("alarms", None);
    assert!(all <= 0.065 + slack(runs * results.rows.len() as u64), "alarms: {all}");
    for (case, _) in &results.rows {
        let own = mean("alarms", Some(case));
        assert!(own <= 0.08 + slack(runs), "{case:?}: {own}");
    }
}
