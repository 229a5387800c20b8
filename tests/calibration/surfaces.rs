//! The surface over strength and darkness: does the best strength at each darkness hold, in rooms and without, for one rootstock of two?

use std::collections::BTreeMap;

use rootling::control::Control;
use rootling::curves::{CurveOptions, SurfaceOptions, response_surface};
use rootling::math::rng;
use rootling::math::special::{expit, logit};
use rootling::trial::{LoadOptions, read_csv};

use crate::curves::Truth;
use crate::summary::{Figures, percent};
use crate::{full, line, run};

/// Where the trays of a darkness stand.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Layout {
    /// Trays anywhere.
    Free,
    /// Each darkness in this many rooms of its own, which differ (SD of their log odds 0.4).
    Rooms(usize),
    /// Trays anywhere, two rootstocks, one asked for.
    TwoRootstocks,
}

#[derive(Debug, Clone, PartialEq)]
struct SurfaceCase {
    layout: Layout,
    /// The curve at the middle darkness.
    truth: Truth,
    /// By what factor strengths count more after 14 more days of darkness.
    factor: f64,
    days: Vec<f64>,
    /// Trays for each strength and darkness.
    trays: usize,
}

impl SurfaceCase {
    /// Darkness also adds to the log odds, most at 28 days.
    fn rate(&self, strength: f64, day: f64, off: f64) -> f64 {
        let steps = (day - 28.0) / 14.0;
        let take = self.truth.rate(strength * self.factor.powf(steps));
        expit(logit(take) - 0.3 * steps * steps + off)
    }

    fn top(&self, day: f64) -> f64 {
        self.truth.top(HIGHEST) / self.factor.powf((day - 28.0) / 14.0)
    }
}

const STRENGTHS: [f64; 6] = [0.0, 500.0, 1000.0, 2000.0, 4000.0, HIGHEST];
const HIGHEST: f64 = 8000.0;
const CUTTINGS: u64 = 20;
const ICC: f64 = 0.05;

fn cases() -> Vec<SurfaceCase> {
    let quadratic = Truth::Hump(700.0, 2200.0, 0.70, 0.15);
    let other = Truth::Stimulus(0.2, 0.000_37, 3200.0, 2.5);
    let (three, two) = (vec![14.0, 28.0, 42.0], vec![14.0, 28.0]);
    let mut cases = Vec::new();
    for (truth, factor) in [(quadratic, 1.0), (quadratic, 1.35), (other, 1.0), (other, 1.35)] {
        for (layout, days, trays) in [
            (Layout::Free, &three, 2),
            (Layout::Free, &two, 4),
            (Layout::Rooms(3), &three, 3),
            (Layout::Rooms(1), &three, 3),
            (Layout::Rooms(2), &two, 4),
            (Layout::TwoRootstocks, &three, 2),
        ] {
            cases.push(SurfaceCase { layout, truth, factor, days: days.clone(), trays });
        }
    }
    cases
}

fn one_trial(case: &SurfaceCase, random: &mut rng::ChaCha8Rng) -> Figures {
    let mut text = "strength,dark_days,rootstock,room,tray,rooted,stuck\n".to_owned();
    let rootstocks: &[(&str, f64)] =
        if case.layout == Layout::TwoRootstocks { &[("K12", 1.0), ("K17", 0.5)] } else { &[("K12", 1.0)] };
    let rooms = if let Layout::Rooms(rooms) = case.layout { rooms } else { 1 };
    for day in &case.days {
        let spread = if matches!(case.layout, Layout::Rooms(_)) { 0.4 } else { 0.0 };
        let off: Vec<f64> = (0..rooms).map(|_| spread * rng::deviate(random)).collect();
        for (rootstock, weaker) in rootstocks {
            for strength in STRENGTHS {
                for tray in 0..case.trays {
                    let room = tray % rooms;
                    let take = case.rate(strength * weaker, *day, off[room]);
                    let rooted = rng::beta_binomial(random, CUTTINGS, take, ICC);
                    text.push_str(&format!(
                        "{strength},{day},{rootstock},{day}/{room},{rootstock}-{day}-{strength}-{tray},{rooted},{CUTTINGS}\n"
                    ));
                }
            }
        }
    }
    let mut treatments = vec!["strength".to_owned(), "dark_days".to_owned()];
    let mut at = BTreeMap::new();
    if case.layout == Layout::TwoRootstocks {
        treatments.push("rootstock".to_owned());
        at.insert("rootstock".to_owned(), "K12".to_owned());
    }
    let options = LoadOptions {
        rooted: "rooted".into(),
        stuck: Some("stuck".into()),
        treatments,
        tray: Some("tray".into()),
        whole_plot: matches!(case.layout, Layout::Rooms(_)).then(|| "room".into()),
        ..LoadOptions::default()
    };
    let trial = read_csv(text.as_bytes(), &options).unwrap();
    let asked = SurfaceOptions { curve: CurveOptions { at, ..CurveOptions::default() }, ..SurfaceOptions::default() };
    let found = response_surface(trial.units(), None, &asked, &Control::new()).unwrap().numbers;
    let yes = |is: bool| f64::from(u8::from(is));
    let mut figures = Figures::default();
    for best in &found.best {
        let (top, limits) = (case.top(best.darkness), &best.strength);
        let held = (limits.open_low || limits.low <= top) && (limits.open_high || limits.high >= top);
        let share = 1.0 / found.best.len() as f64;
        figures.add("held", 0, share * yes(held));
        figures.add("located", 0, share * yes(best.located));
        let take = case.rate(limits.value, best.darkness, 0.0);
        figures.add("lost", 0, share * (case.rate(top, best.darkness, 0.0) - take));
        if case.layout != Layout::Rooms(1) {
            // The take of one room says nothing of others, and the answer says so.
            figures.add("take", 0, share * yes(best.take[1] <= take && take <= best.take[2]));
        }
    }
    let parallel = found.tests.iter().find(|test| test.method.name() == "one best strength at every darkness").unwrap();
    figures.add("shift", 0, yes(parallel.p <= 0.05));
    figures
}

#[test]
fn best_strengths_of_surfaces_hold() {
    let runs = full().map_or(8, |runs| runs / 4);
    let results = run(cases(), runs, one_trial);
    println!(
        "\n### Response surface\n\n| true curve | strengths count | layout | levels of darkness | trays | best strength held | located | take held | shift found | trees lost per 100 |\n|---|---|---|---|---|---|---|---|---|---|"
    );
    for (case, _) in &results.rows {
        let of = |name| percent(results.of(name, 0, |other| other == case).map(|one| one.mean));
        let start = [
            format!("x {} in 14 days", case.factor),
            format!("{:?}", case.layout),
            case.days.len().to_string(),
            case.trays.to_string(),
        ];
        let cells: Vec<String> =
            start.into_iter().chain(["held", "located", "take", "shift", "lost"].map(of)).collect();
        line(&format!("{:?}", case.truth), &cells);
    }
    let slack = 3.0 * (0.07 * 0.93 / (runs * 8) as f64).sqrt();
    for layout in [Layout::Free, Layout::Rooms(3), Layout::Rooms(1), Layout::Rooms(2), Layout::TwoRootstocks] {
        let held = results.of("held", 0, |case| case.layout == layout).unwrap();
        println!("{layout:?}: held {}, lowest design {}", percent(Some(held.mean)), percent(Some(held.low)));
        assert!(held.mean >= 0.92 - slack, "{layout:?}: {held:?}");
    }
    let even = results.of("shift", 0, |case| case.factor == 1.0).unwrap();
    assert!(even.mean <= 0.06 + slack, "false alarms of a shift: {even:?}");
}
