//! Rates and differences: the defaults and their rivals on the same trials.

use rootling::Count;
use rootling::compare::{EffectiveStrata, Stratum, randomisation_test, stratified_t, welch_t};
use rootling::control::Control;
use rootling::counts::{DifferenceMethod, difference, newcombe_effective};
use rootling::math::rng;
use rootling::rates::{
    Arm, IntervalMethod, TraySpread, interval, interval_effective, tray_interval, tray_spread, tray_spread_within,
};
use rootling::simulate::DrawnTrial;

use crate::designs::Case;
use crate::summary::Figures;

pub(crate) const LEVEL: f64 = 0.95;

/// Intervals of one take rate; the first is the default.
pub(crate) const RATES: [&str; 4] = [
    "Wilson, effective cuttings (default)",
    "Clopper-Pearson, effective cuttings",
    "Wilson, no planning ICC",
    "Wilson, trays ignored",
];
/// Intervals of a difference; the first is the default, and its test is the same statistic.
pub(crate) const DIFFERENCES: [&str; 5] = [
    "score within blocks, effective cuttings (default)",
    "Newcombe, effective cuttings, blocks not used",
    "t on tray rates within blocks",
    "Welch's t on tray rates, blocks not used",
    "Miettinen-Nurminen, trays ignored",
];

/// One trial of `case`: figures in the order of the names above.
pub(crate) fn one_trial(case: &Case, random: &mut rng::ChaCha8Rng) -> Figures {
    let (null, moved) = (case.equal.draw(random), case.unequal.draw(random));
    let mut figures = Figures::default();
    if case.equal.blocks.is_none() {
        for (at, limits) in rates(&moved.arms).into_iter().enumerate() {
            figures.add("rate coverage", at, inside(limits, case.take()));
            figures.add("rate width", at, limits.1 - limits.0);
        }
    }
    let truth = moved.difference(0, 1);
    for (at, limits) in differences(&null).into_iter().enumerate() {
        figures.add("false alarm", at, 1.0 - inside(limits, 0.0));
    }
    for (at, limits) in differences(&moved).into_iter().enumerate() {
        figures.add("coverage", at, inside(limits, truth));
        figures.add("power", at, 1.0 - inside(limits, 0.0));
        figures.add("width", at, limits.1 - limits.0);
    }
    scales(&moved, case, &mut figures);
    if case.trays() <= 6 {
        figures.add("randomisation", 0, randomised(&null));
        figures.add("randomisation", 1, randomised(&moved));
    }
    figures
}

pub(crate) fn inside(limits: (f64, f64), value: f64) -> f64 {
    // Limits and truth may meet exactly.
    f64::from(u8::from(limits.0 <= value + 1e-12 && value <= limits.1 + 1e-12))
}

fn count(arm: &Arm) -> Count {
    Count { rooted: arm.rooted.iter().sum(), stuck: arm.stuck.iter().sum() }
}

fn rates(arms: &[Arm]) -> [(f64, f64); 4] {
    let (arm, spread) = (&arms[0], tray_spread(arms).unwrap());
    let effective = spread.effective_cuttings(arm);
    let exact =
        interval_effective(arm.rate() * effective, effective, IntervalMethod::ClopperPearson, spread.critical(LEVEL));
    let bare = TraySpread { icc_floor: 0.0, ..spread };
    let ignored = interval(count(arm), IntervalMethod::Wilson, LEVEL).unwrap();
    [
        tray_interval(arm, &spread, LEVEL).unwrap(),
        exact.unwrap(),
        tray_interval(arm, &bare, LEVEL).unwrap(),
        (ignored.low, ignored.high),
    ]
}

fn default_strata(trial: &DrawnTrial) -> (EffectiveStrata, TraySpread) {
    let spread = tray_spread_within(&trial.arms, &trial.blocks).unwrap();
    (EffectiveStrata::new(&trial.strata(0, 1), &spread), spread)
}

fn differences(trial: &DrawnTrial) -> [(f64, f64); 5] {
    let (first, second) = (&trial.arms[0], &trial.arms[1]);
    let (strata, spread) = default_strata(trial);
    let plain = tray_spread(&trial.arms).unwrap();
    let side = |arm: &Arm| (arm.rate(), plain.effective_cuttings(arm));
    let bare = second.rate() - first.rate();
    let t = stratified_t(&dealt(trial), LEVEL).map_or((bare, bare), |test| (test.low, test.high));
    let welch = welch_t(&first.tray_rates(), &second.tray_rates(), LEVEL);
    let ignored = difference(count(first), count(second), DifferenceMethod::MiettinenNurminen, LEVEL).unwrap();
    [
        strata.difference_limits(spread.critical(LEVEL)).unwrap(),
        newcombe_effective(side(first), side(second), plain.critical(LEVEL)).unwrap(),
        t,
        welch.map_or((bare, bare), |test| (test.low, test.high)),
        (ignored.low, ignored.high),
    ]
}

/// Ratio and odds ratio of the default, without blocks (with blocks they have no single true value).
fn scales(trial: &DrawnTrial, case: &Case, figures: &mut Figures) {
    if case.equal.blocks.is_some() {
        return;
    }
    let (strata, spread) = default_strata(trial);
    let critical = spread.critical(LEVEL);
    let (p, q) = (case.unequal.takes[1], case.unequal.takes[0]);
    figures.add("ratio coverage", 0, inside(strata.ratio_limits(critical).unwrap(), p / q));
    let odds = strata.odds_ratio().map_or((0.0, f64::INFINITY), |_| strata.odds_ratio_limits(critical).unwrap());
    figures.add("odds ratio coverage", 0, inside(odds, p / (1.0 - p) / (q / (1.0 - q))));
}

fn dealt(trial: &DrawnTrial) -> Vec<Stratum> {
    let stratum = |(first, second): (Arm, Arm)| {
        let (rates, others) = (first.tray_rates(), second.tray_rates());
        let second = (0..rates.len() + others.len()).map(|at| at >= rates.len()).collect();
        Stratum { rates: [rates, others].concat(), second }
    };
    trial.strata(0, 1).into_iter().map(stratum).collect()
}

fn randomised(trial: &DrawnTrial) -> f64 {
    let found = randomisation_test(&dealt(trial), 1, 999, &Control::new()).unwrap();
    f64::from(u8::from(found.p <= 1.0 - LEVEL + 1e-12))
}
