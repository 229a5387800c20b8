//! Several levels and trends where the levels hold another treatment in different shares: the mix raises no alarm.

use approx::abs_diff_eq;
use rootling::control::Control;

use rootling::math::{rng, special};
use rootling::models::{Model, ModelSpec};
use rootling::simulate::replicates;
use rootling::tables::{Association, AssociationOptions, TrialTrend, TrialTrendOptions, association, trial_trend};
use rootling::trial::Units;

use crate::uneven_mix::{Tray, no_benches, units};

const TRAYS: u32 = 4;
const PLANTS: u32 = 4;

/// Three rootstocks of four plants with four trays each, of which one, two and three hold the second strength.
fn plants(rooted: impl Fn(u32, u32, u32, u32) -> u64) -> Vec<Tray> {
    let mut trays = Vec::new();
    for rootstock in 0..3 {
        for plant in 0..PLANTS {
            for tray in 0..TRAYS {
                let strength = u32::from(tray <= rootstock);
                let plant = PLANTS * rootstock + plant;
                trays.push((rootstock, strength, plant, tray, rooted(rootstock, strength, plant, tray)));
            }
        }
    }
    trays
}

fn asked(units: &Units) -> Association {
    association(units, "rootstock", &AssociationOptions::default(), &Control::new()).unwrap().numbers
}

fn line(units: &Units) -> TrialTrend {
    let scores = (0..3).map(|level| (level.to_string(), f64::from(level))).collect();
    let options = TrialTrendOptions { scores: Some(scores), ..TrialTrendOptions::default() };
    trial_trend(units, "rootstock", &options, &Control::new()).unwrap().numbers
}

fn trial(trays: &[Tray]) -> Units {
    no_benches(units(trays))
}

/// By hand: each rootstock adds 2 of 20 to the last, the strength 6; as counted the ends lie 0.4 + 0.5 x 0.3 apart.
#[test]
fn an_exact_line_is_taken_apart() {
    let trays = plants(|rootstock, strength, plant, _| u64::from(3 + 2 * rootstock + 6 * strength + plant % 4));
    let found = line(&trial(&trays));
    assert_eq!(found.adjusted_for, ["strength"]);
    assert_rel!(found.value, 0.2, 1e-12);
    assert_eq!(found.unit, "plant");
    // The line leaves nothing.
    let departure = found.departure.unwrap();
    assert_eq!(departure.df, Some(1.0));
    assert!(departure.statistic.unwrap() < 1e-20);
    assert_rel!(departure.p, 1.0, 1e-9);
    let told = asked(&trial(&trays));
    assert_eq!((told.method.name(), told.unit.as_str()), ("tray-rates", "plant"));
    assert_eq!(told.adjusted_for, ["strength"]);
    // Tests that leave the mix in stand there only when asked for.
    assert!(told.tests.iter().all(|one| one.counts == "cuttings" || one.test.method.name() == "tray-rates"));
}

fn drawn(random: &mut rng::ChaCha8Rng) -> Vec<Tray> {
    let plant_effects: Vec<f64> = (0..12).map(|_| 0.4 * rng::deviate(random)).collect();
    let shifts: Vec<f64> = (0..48).map(|_| 0.3 * rng::deviate(random)).collect();
    let seeds: Vec<f64> = (0..48 * 20).map(|_| rng::uniform(random)).collect();
    plants(|_, strength, plant, tray| {
        let at = (TRAYS * plant + tray) as usize;
        let rate = special::expit(-0.6 + 1.4 * f64::from(strength) + plant_effects[plant as usize] + shifts[at]);
        seeds.iter().skip(20 * at).take(20).filter(|draw| **draw < rate).count() as u64
    })
}

/// No difference between rootstocks, a large one between strengths that they hold unevenly.
#[test]
fn shares_alone_raise_no_alarm() {
    const RUNS: u64 = 400;
    let one = |random: &mut rng::ChaCha8Rng| {
        let trial = trial(&drawn(random));
        let alarm = |p: Option<f64>| f64::from(u8::from(p.unwrap() <= 0.05));
        let trend = line(&trial);
        let holds = trend.low.unwrap() <= 0.0 && trend.high.unwrap() >= 0.0;
        Ok([alarm(asked(&trial).p), alarm(trend.p), f64::from(u8::from(holds))])
    };
    let plus = |sum: &mut [f64; 3], one: [f64; 3]| sum.iter_mut().zip(one).for_each(|(sum, one)| *sum += one);
    let found = replicates(RUNS, 19, 0, &Control::new(), one, plus).unwrap();
    let [levels, trend, held] = found.map(|sum| sum / RUNS as f64);
    // Three standard errors of 400 trials above 5 %.
    assert!(levels <= 0.083 && trend <= 0.083, "{levels} {trend}");
    assert!(held >= 0.917, "{held}");
}

/// Another route to the same question: the test of the effect in the model of both treatments, on the odds.
#[test]
fn association_and_the_tests_of_the_effects_agree() {
    let mut random = rng::stream(23, 0);
    for _ in 0..5 {
        let trial = trial(&drawn(&mut random));
        let plain = asked(&trial);
        let model = Model::fit(&trial, &ModelSpec::of(&["rootstock", "strength"])).unwrap();
        let tests = model.what_matters(None).unwrap().numbers;
        let other = tests.effects.iter().find(|one| one.effect == "rootstock").unwrap().p.unwrap();
        let own = plain.p.unwrap();
        assert!(abs_diff_eq!(own.ln(), other.ln(), epsilon = 0.5), "{own} {other}");
    }
}
