//! Strength curves where heat was given to whole bays and strengths were laid out within them: what curves of both levels hold.

use rootling::control::Control;
use rootling::curves::{CurveOptions, Located, compare_curves, strength_curve};
use rootling::math::rng;
use rootling::math::special::{expit, logit};
use rootling::trial::{Factor, UnitKind, Units};

use crate::curves::Truth;
use crate::summary::{Figures, percent};
use crate::{full, line, run};

/// Bays for each of two levels of heat that do nothing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct BaysCase {
    bays: u32,
    sd: f64,
    heat: Heat,
    /// True takes of the two levels.
    truths: [Truth; 2],
}

/// Where the two levels of heat stand.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Heat {
    /// Given to whole bays.
    Whole,
    /// Both in every bay.
    Every,
    /// Given to trays; there are no bays, and as many trays of each strength as there would be bays of a level.
    Trays,
}

const STRENGTHS: [f64; 5] = [0.0, 1000.0, 2000.0, 4000.0, 8000.0];
const TRUTH: Truth = Truth::Hump(1000.0, 2500.0, 0.65, 0.20);
/// Hardly a cutting roots without hormone.
const SELDOM: Truth = Truth::Hump(1000.0, 2500.0, 0.5, 0.01);
const FIGURES: [&str; 9] = [
    "take",
    "take at 0",
    "best strength",
    "not located",
    "false alarms of height",
    "false alarms of form",
    "best strengths said to differ",
    "width of take",
    "width at 0",
];

/// Bays have normal log odds, trays a beta law around their bay's: neither is fitted.
fn drawn(case: &BaysCase, random: &mut rng::ChaCha8Rng) -> Units {
    let factor = |name: &str, levels: Vec<String>, codes: Vec<u32>| Factor {
        name: name.to_owned(),
        numbers: levels.iter().map(|level| level.parse().ok()).collect(),
        levels,
        codes,
    };
    let (mut rooted, mut codes) = (Vec::new(), [Vec::new(), Vec::new(), Vec::new()]);
    for bay in 0..2 * case.bays {
        let shift = case.sd * rng::deviate(random);
        for (at, strength) in STRENGTHS.iter().enumerate() {
            for tray in 0..if case.heat == Heat::Trays { 1 } else { 2 } {
                let heat = if case.heat == Heat::Every { tray } else { bay % 2 };
                let take = case.truths[heat as usize].rate(*strength);
                rooted.push(rng::beta_binomial(random, 20, expit(logit(take) + shift), 0.03));
                for (list, code) in codes.iter_mut().zip([heat, at as u32, bay]) {
                    list.push(code);
                }
            }
        }
    }
    let [heat, strength, bay] = codes;
    let names = |n: u32| (0..n).map(|at| format!("b{at}")).collect::<Vec<String>>();
    Units {
        kind: UnitKind::Tray,
        stuck: vec![20; rooted.len()],
        rooted,
        treatments: vec![
            factor("heat", vec!["cool".to_owned(), "warm".to_owned()], heat),
            factor("strength", STRENGTHS.map(|d| d.to_string()).to_vec(), strength),
        ],
        tray: None,
        block: None,
        whole_plot: (case.heat != Heat::Trays).then(|| factor("bay", names(2 * case.bays), bay)),
        season: None,
        stock_plant: None,
        earlier: None,
        covariates: Vec::new(),
    }
}

/// The take over all bays that could be.
fn over_bays((truth, sd): (Truth, f64), strength: f64) -> f64 {
    let eta = logit(truth.rate(strength));
    let (mut sum, mut weight) = (0.0, 0.0);
    for step in -40..=40 {
        let z = f64::from(step) / 10.0;
        let density = (-0.5 * z * z).exp();
        sum += density * expit(eta + sd * z);
        weight += density;
    }
    sum / weight
}

fn one_trial(case: &BaysCase, random: &mut rng::ChaCha8Rng) -> Figures {
    let units = drawn(case, random);
    let options = CurveOptions { within: vec!["heat".to_owned()], ..CurveOptions::default() };
    let found = strength_curve(&units, None, &options, &Control::new()).unwrap().numbers;
    let yes = |is: bool| f64::from(u8::from(is));
    let mut figures = Figures::default();
    let top = case.truths[0].top(80_000.0);
    // One curve of each trial: the two share their spreads.
    let curve = &found.curves[0];
    let best = &curve.best;
    let take = over_bays((case.truths[0], case.sd), best.strength.value);
    figures.add("take", 0, yes(best.take_low <= take && take <= best.take_high));
    figures.add("width of take", 0, best.take_high - best.take_low);
    figures.add("width at 0", 0, curve.line.high[0] - curve.line.low[0]);
    let none = over_bays((case.truths[0], case.sd), 0.0);
    figures.add("take at 0", 0, yes(curve.line.low[0] <= none && none <= curve.line.high[0]));
    let (low, high) = (&best.strength.low, &best.strength.high);
    figures.add(
        "best strength",
        0,
        yes((best.strength.open_low || *low <= top) && (best.strength.open_high || *high >= top)),
    );
    figures.add("not located", 0, yes(best.located != Located::Inside));
    let compared = compare_curves(&found.input, &Control::new()).unwrap().numbers;
    for (figure, name) in [("false alarms of height", "same height"), ("false alarms of form", "same but for height")] {
        let test = compared.compared.tests.iter().find(|test| test.method.name() == name);
        figures.add(figure, 0, yes(test.is_some_and(|test| test.p <= 0.05)));
    }
    figures.add("best strengths said to differ", 0, yes(compared.bests.differ == Some(true)));
    figures
}

fn cases() -> Vec<BaysCase> {
    let case = |(bays, sd, heat)| BaysCase { bays, sd, heat, truths: [TRUTH; 2] };
    let whole = [(2, 0.4), (3, 0.8), (4, 0.4), (2, 0.0), (4, 0.0)].map(|(bays, sd)| (bays, sd, Heat::Whole));
    // Bays that hold both levels are taken out; takes hold over them all the same (`curve_places.md`).
    let every = [(2, 0.4), (2, 0.8), (3, 0.4), (4, 0.0)].map(|(bays, sd)| (bays, sd, Heat::Every));
    let usual = whole.into_iter().chain(every).chain([(4, 0.0, Heat::Trays)]).map(case);
    let seldom = [2, 4].map(|bays| BaysCase { bays, sd: 0.4, heat: Heat::Whole, truths: [SELDOM; 2] });
    usual.chain(seldom).collect()
}

/// Where heat stands, in words.
fn named(case: &BaysCase) -> String {
    let seldom = if case.truths[0] == SELDOM { ", 1 % root at 0" } else { "" };
    match case.heat {
        Heat::Whole => format!("{}, {}, whole bays{seldom}", case.bays, case.sd),
        Heat::Every => format!("{}, {}, in every of twice as many bays", case.bays, case.sd),
        Heat::Trays => format!("no bays, {} trays a strength", case.bays),
    }
}

/// See `curve_bays.md`.
#[test]
fn curves_over_bays_hold() {
    let runs = full().map_or(40, |runs| runs / 2);
    let results = run(cases(), runs, one_trial);
    println!(
        "\n### Strength curves over bays, {runs} trials of each design\n\n| bays a level, SD, heat | {} |",
        FIGURES.join(" | ")
    );
    println!("|---|{}", "---|".repeat(FIGURES.len()));
    let slack = |p: f64, trials: u64| 3.0 * (p * (1.0 - p) / trials as f64).sqrt();
    for (case, _) in &results.rows {
        let mean = |name| results.of(name, 0, |other: &BaysCase| other == case).unwrap().mean;
        line(&named(case), &FIGURES.map(|name| percent(Some(mean(name)))));
        for name in ["false alarms of height", "false alarms of form", "best strengths said to differ"] {
            assert!(mean(name) <= 0.065 + slack(0.065, runs), "{case:?}, {name}: {}", mean(name));
        }
    }
    let all = |name| results.of(name, 0, |_| true).unwrap().mean;
    line("mean", &FIGURES.map(|name| percent(Some(all(name)))));
    for name in ["take", "take at 0", "best strength"] {
        assert!(all(name) >= 0.92 - slack(0.08, runs * results.rows.len() as u64), "{name}: {}", all(name));
    }
}

fn one_power(case: &BaysCase, random: &mut rng::ChaCha8Rng) -> Figures {
    let options = CurveOptions { within: vec!["heat".to_owned()], ..CurveOptions::default() };
    let found = strength_curve(&drawn(case, random), None, &options, &Control::new()).unwrap().numbers;
    let compared = compare_curves(&found.input, &Control::new()).unwrap().numbers;
    let test = compared.compared.tests.iter().find(|test| test.method.name() == "same but for height");
    let mut figures = Figures::default();
    figures.add("form", 0, f64::from(u8::from(test.is_some_and(|test| test.p <= 0.05))));
    figures.add("strengths", 0, f64::from(u8::from(compared.bests.differ == Some(true))));
    figures
}

/// The form is chosen so that alike curves seldom alarm; forms that differ must still be found.
#[test]
fn curves_that_differ_in_form_are_found() {
    let hump = |top, take| Truth::Hump(1000.0, top, take, 0.20);
    let far = [hump(1000.0, 0.6), hump(4000.0, 0.6)];
    let near = [hump(1800.0, 0.65), hump(3200.0, 0.65)];
    let levels_off = [TRUTH, Truth::LevelsOff(0.2, 0.6, 1500.0)];
    let laid = [(4, 0.4, Heat::Whole), (4, 0.0, Heat::Trays)];
    let cases = [far, near, levels_off]
        .into_iter()
        .flat_map(|truths| laid.map(|(bays, sd, heat)| BaysCase { bays, sd, heat, truths }));
    let runs = full().map_or(20, |runs| runs / 4);
    let results = run(cases.collect(), runs, one_power);
    println!(
        "\n| bays a level, SD, heat; true takes | form shown to differ | best strengths said to differ |\n|---|---|---|"
    );
    for (case, _) in &results.rows {
        let mean = |name| results.of(name, 0, |other: &BaysCase| other == case).unwrap().mean;
        let cells = ["form", "strengths"].map(|name| percent(Some(mean(name))));
        line(&format!("{}; {:?}", named(case), case.truths), &cells);
        assert!(mean("form") >= 0.6, "{case:?}: {}", mean("form"));
    }
}
