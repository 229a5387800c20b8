//! Planned trials against trials drawn by other means: achieved power beside planned power.

use rootling::compare::{CompareOptions, EffectiveStrata, strengths};
use rootling::control::Control;
use rootling::math::rng::ChaCha8Rng;
use rootling::plan::{PlanOptions, PlannedTrial, Question, TrayLaw, power};
use rootling::rates::{Arm, tray_spread, tray_spread_within};
use rootling::simulate::{LayeredDesign, UnitRole, UnitSpread, replicates};
use rootling::tables::{TrialTrendOptions, trial_trend};
use rootling::trial::Units;

/// One scenario: the plan, the same trial by the other simulator, and its judge.
struct Scenario {
    name: &'static str,
    plan: PlanOptions,
    drawn: LayeredDesign,
    judge: fn(&Units) -> bool,
}

fn plan(takes: &[f64], (trays, cuttings): (u64, u64), correlation: f64) -> PlanOptions {
    PlanOptions {
        trial: PlannedTrial { takes: takes.to_vec(), ..PlannedTrial::default() },
        trays: vec![trays],
        cuttings: vec![cuttings],
        correlation: vec![correlation],
        ..PlanOptions::default()
    }
}

fn drawn(takes: &[f64], (trays, cuttings): (u64, u64), correlation: f64) -> LayeredDesign {
    let mut design = LayeredDesign::new(&[("strength", takes.len() as u32)], trays as u32, cuttings);
    design.takes = takes.to_vec();
    design.trays = if correlation > 0.0 { UnitSpread::Beta(correlation) } else { UnitSpread::Normal(0.0) };
    design
}

/// The arms of two levels of a drawn trial.
fn arms(units: &Units) -> Vec<Arm> {
    let treatment = &units.treatments[0];
    let mut found = vec![Arm::default(); treatment.levels.len()];
    for (at, code) in treatment.codes.iter().enumerate() {
        let arm = &mut found[*code as usize];
        arm.rooted.push(units.rooted[at]);
        arm.stuck.push(units.stuck[at]);
    }
    found
}

fn shown(units: &Units) -> bool {
    let arms = arms(units);
    let Some(spread) = tray_spread(&arms) else { return false };
    let found = EffectiveStrata::new(&[(arms[0].clone(), arms[1].clone())], &spread);
    found.p() <= 0.05 && found.difference() > 0.0
}

/// The same within blocks, by the tool's whole comparison.
fn shown_by_compare(units: &Units) -> bool {
    let asked = CompareOptions { randomisations: 1, ..CompareOptions::default() };
    let found = strengths(units, "strength", "0", "1", &asked, &Control::new()).unwrap().numbers;
    found.p.is_some_and(|p| p <= 0.05) && found.value > 0.0
}

fn not_worse(units: &Units) -> bool {
    let arms = arms(units);
    let Some(spread) = tray_spread_within(&arms, &[vec![0; arms[0].stuck.len()], vec![0; arms[1].stuck.len()]]) else {
        return false;
    };
    let found = EffectiveStrata::new(&[(arms[0].clone(), arms[1].clone())], &spread);
    found.difference_limits(spread.critical(0.95)).unwrap().0 > -0.15
}

fn rising(units: &Units) -> bool {
    let mut units = units.clone();
    units.treatments[0].numbers = Some(vec![0.0, 1.0, 2.0, 3.0]);
    let found = trial_trend(&units, "strength", &TrialTrendOptions::default(), &Control::new()).unwrap().numbers;
    found.p.is_some_and(|p| p <= 0.05) && found.value > 0.0
}

fn two(name: &'static str, takes: [f64; 2], size: (u64, u64), correlation: f64) -> Scenario {
    Scenario { name, plan: plan(&takes, size, correlation), drawn: drawn(&takes, size, correlation), judge: shown }
}

/// The standard deviation on the log odds and the shift of their centre that give normal log odds a take and a correlation.
fn normal(take: f64, correlation: f64) -> (f64, f64) {
    let moments = |centre: f64, sd: f64| {
        let (mut mean, mut square) = (0.0, 0.0);
        for step in -4_000..=4_000 {
            let z = f64::from(step) / 500.0;
            let weight = (-0.5 * z * z).exp() / (2.0 * std::f64::consts::PI).sqrt() / 500.0;
            let rate = 1.0 / (1.0 + (-centre - sd * z).exp());
            mean += weight * rate;
            square += weight * rate * rate;
        }
        (mean, square - mean * mean)
    };
    let (mut centre, mut sd) = ((take / (1.0 - take)).ln(), (correlation / (take * (1.0 - take))).sqrt());
    for _ in 0..60 {
        let (mean, variance) = moments(centre, sd);
        centre += (take - mean) / (take * (1.0 - take));
        sd *= (correlation * take * (1.0 - take) / variance).sqrt();
    }
    (1.0 / (1.0 + (-centre).exp()), sd)
}

fn scenarios() -> Vec<Scenario> {
    let mut all = vec![
        two("60 against 75, 8 x 20, 0.05", [0.60, 0.75], (8, 20), 0.05),
        two("60 against 75, 3 x 20, 0.05", [0.60, 0.75], (3, 20), 0.05),
        two("60 against 90, 4 x 20, 0.05", [0.60, 0.90], (4, 20), 0.05),
        two("50 against 80, 6 x 10, 0", [0.50, 0.80], (6, 10), 0.0),
        two("50 against 80, 6 x 10, 0.15", [0.50, 0.80], (6, 10), 0.15),
        two("2 against 20, 6 x 20, 0.05", [0.02, 0.20], (6, 20), 0.05),
        two("90 against 98, 12 x 20, 0.01", [0.90, 0.98], (12, 20), 0.01),
        two("40 against 50, 30 x 20, 0.05", [0.40, 0.50], (30, 20), 0.05),
        two("30 against 60, 4 x 40, 0.1", [0.30, 0.60], (4, 40), 0.10),
        two("30 against 60, 12 x 5, 0.05", [0.30, 0.60], (12, 5), 0.05),
        two("70 against 85, 10 x 15, 0.02", [0.70, 0.85], (10, 15), 0.02),
        two("20 against 45, 5 x 25, 0.3", [0.20, 0.45], (5, 25), 0.30),
        two("10 against 30, 8 x 12, 0.05", [0.10, 0.30], (8, 12), 0.05),
        two("55 against 65, 40 x 10, 0.01", [0.55, 0.65], (40, 10), 0.01),
    ];
    for (name, correlation, size) in [
        ("60 against 80, normal log odds, 6 x 20, 0.05", 0.05, (6, 20)),
        ("60 against 80, normal log odds, 10 x 20, 0.2", 0.2, (10, 20)),
    ] {
        let mut one = two(name, [0.60, 0.80], size, correlation);
        one.plan.trial.law = TrayLaw::LogitNormal;
        let (first, second) = (normal(0.60, correlation), normal(0.80, correlation));
        one.drawn.takes = vec![first.0, second.0];
        one.drawn.trays_of = vec![UnitSpread::Normal(first.1), UnitSpread::Normal(second.1)];
        all.push(one);
    }
    let mut lost = two("50 against 80, 8 x 20, 0.05, an eighth lost", [0.50, 0.80], (8, 20), 0.05);
    (lost.plan.trial.lost, lost.drawn.lost) = (0.125, 0.125);
    all.push(lost);
    let mut blocks = two("50 against 75, 6 blocks of pairs, 0.05", [0.50, 0.75], (6, 20), 0.05);
    (blocks.plan.trial.block_trays, blocks.plan.trial.block_sd) = (1, 0.5);
    blocks.drawn = blocks.drawn.with(UnitRole::Block, "bench", UnitSpread::Normal(0.5), |tray| tray.copy);
    blocks.judge = shown_by_compare;
    all.push(blocks);
    let mut bays = two("30 against 60, 4 bays of 3 x 20", [0.30, 0.60], (3, 20), 0.05);
    (bays.plan.trial.bays, bays.plan.trial.bay_sd) = (4, 0.3);
    bays.drawn =
        drawn(&[0.30, 0.60], (12, 20), 0.05)
            .with(UnitRole::WholePlot, "bay", UnitSpread::Normal(0.3), |tray| 4 * tray.level(0) + tray.copy / 3);
    bays.judge = shown_by_compare;
    all.push(bays);
    let mut margin = two("70 and 72, not worse by 15, 12 x 20, 0.02", [0.70, 0.72], (12, 20), 0.02);
    (margin.plan.question, margin.plan.margin, margin.judge) = (Question::NotWorse, Some(0.15), not_worse);
    all.push(margin);
    let takes = [0.30, 0.40, 0.45, 0.50];
    let mut trend = Scenario {
        name: "trend of four, 4 x 20, 0.05",
        plan: plan(&takes, (4, 20), 0.05),
        drawn: drawn(&takes, (4, 20), 0.05),
        judge: rising,
    };
    trend.plan.question = Question::Trend;
    all.push(trend);
    all
}

fn achieved(one: &Scenario, draws: u64) -> f64 {
    let draw = |random: &mut ChaCha8Rng| Ok(u64::from((one.judge)(&one.drawn.draw(random))));
    let seed = 20_261_130;
    let sum: u64 = replicates(draws, seed, 0, &Control::new(), draw, |sum: &mut u64, one| *sum += one).unwrap();
    sum as f64 / draws as f64
}

/// Achieved is planned, within one point and the error of both.
pub(crate) fn achieved_is_planned(draws: u64) {
    println!("\n### Planned and achieved power\n\n| trial | planned | achieved |\n|---|---|---|");
    for one in scenarios() {
        let planned = power(&PlanOptions { draws: draws.max(4_000), ..one.plan.clone() }, &Control::new()).unwrap();
        let planned = planned.numbers.rows[0].power;
        let found = achieved(&one, draws);
        println!("| {} | {:.1} | {:.1} |", one.name, 100.0 * planned, 100.0 * found);
        let error = (planned * (1.0 - planned)).sqrt() * (1.0 / draws as f64 + 1.0 / draws.max(4_000) as f64).sqrt();
        assert!((found - planned).abs() <= 0.01 + 3.0 * error, "{}: planned {planned}, achieved {found}", one.name);
    }
}

/// What unequal correlation does to a plan that knows one: it is said, not promised.
pub(crate) fn unequal_correlation(draws: u64) {
    println!(
        "\n### One level more alike than planned\n\n| trial | planned at the mean correlation | achieved |\n|---|---|---|"
    );
    for (first, second) in [(0.01, 0.09), (0.09, 0.01), (0.0, 0.2)] {
        let mean = f64::midpoint(first, second);
        let mut one = two("50 against 75, 8 x 20", [0.50, 0.75], (8, 20), mean);
        one.drawn.trays_of = vec![UnitSpread::Beta(first), UnitSpread::Beta(second)];
        if first == 0.0 {
            one.drawn.trays_of[0] = UnitSpread::Normal(0.0);
        }
        let planned = power(&PlanOptions { draws, ..one.plan.clone() }, &Control::new()).unwrap().numbers.rows[0].power;
        let found = achieved(&one, draws);
        println!("| {first} and {second} | {:.1} | {:.1} |", 100.0 * planned, 100.0 * found);
        let error = (planned * (1.0 - planned) * 2.0 / draws as f64).sqrt();
        assert!((found - planned).abs() <= 0.04 + 3.0 * error, "{first} {second}: planned {planned}, achieved {found}");
    }
}
