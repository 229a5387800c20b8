//! Comparisons where the levels hold other treatments in different shares, or places cross the units unevenly: what is said is the
//! difference between trays alike in all else.

use approx::abs_diff_eq;
use rootling::compare::{CompareOptions, Comparison, strengths};
use rootling::control::Control;
use rootling::effects::ContrastOptions;
use rootling::math::{rng, special};
use rootling::models::{Model, ModelSpec};
use rootling::rates::{TakeRatesOptions, take_rates};
use rootling::simulate::replicates;
use rootling::trial::{Factor, Units};

use crate::set_ups::{column, trays_of_20};

/// One tray: rootstock, strength, plant, bench, cuttings rooted of 20.
pub(crate) type Tray = (u32, u32, u32, u32, u64);

/// A column whose levels are names, though they look like numbers.
fn factor(name: &str, codes: Vec<u32>) -> Factor {
    Factor { numbers: None, ..column(name, &codes) }
}

pub(crate) fn units(trays: &[Tray]) -> Units {
    let treatments = vec![
        factor("rootstock", trays.iter().map(|tray| tray.0).collect()),
        factor("strength", trays.iter().map(|tray| tray.1).collect()),
    ];
    Units {
        block: Some(factor("bench", trays.iter().map(|tray| tray.3).collect())),
        stock_plant: Some(factor("plant", trays.iter().map(|tray| tray.2).collect())),
        ..trays_of_20(trays.iter().map(|tray| tray.4).collect(), treatments)
    }
}

pub(crate) fn no_benches(mut units: Units) -> Units {
    units.block = None;
    units
}

fn compared(units: &Units, treatment: &str) -> Comparison {
    strengths(units, treatment, "0", "1", &CompareOptions::default(), &Control::new()).unwrap().numbers
}

/// Two rootstocks, six plants each with four trays; the first rootstock has three of them without hormone, the second one.
fn plants(rooted: impl Fn(u32, u32, u32, u32) -> u64) -> Vec<Tray> {
    let mut trays = Vec::new();
    for rootstock in 0..2 {
        for plant in 0..6 {
            for tray in 0..4 {
                let strength = u32::from(tray >= if rootstock == 0 { 3 } else { 1 });
                let plant = 6 * rootstock + plant;
                trays.push((rootstock, strength, plant, tray, rooted(rootstock, strength, plant, tray)));
            }
        }
    }
    trays
}

/// Rates that are an exact sum of rootstock, strength and plant, by hand: the difference as counted is 2 trees of 20 for the rootstock
/// and half of the 6 for the strength, the adjusted one the 2 alone.
#[test]
fn an_exact_sum_is_taken_apart() {
    let trays = plants(|rootstock, strength, plant, _| u64::from(6 + 2 * rootstock + 6 * strength + plant % 3));
    let found = compared(&no_benches(units(&trays)), "rootstock");
    assert_eq!(found.adjusted_for, ["strength"]);
    assert_rel!(found.value, 0.1, 1e-12);
    assert_rel!(found.second.value - found.first.value, 0.25, 1e-12);
    assert_eq!((found.unit.as_str(), found.first.n_units), ("plant", 6));
    assert!(found.randomisation.is_none() && found.tray_t.is_none() && found.same_mix);
    // Between plants, of which twelve less two rootstocks are free, and the planning floor of the trays.
    assert!(found.df.unwrap() > 9.0 && found.df.unwrap() < 30.0, "{:?}", found.df);
}

/// The same trial with equal shares is answered within plants as strata are, as before.
#[test]
fn equal_shares_need_no_adjustment() {
    let trays: Vec<Tray> = plants(|_, _, plant, tray| u64::from(5 + plant % 4 + 3 * tray))
        .into_iter()
        .map(|(rootstock, _, plant, tray, rooted)| (rootstock, tray % 2, plant, tray, rooted))
        .collect();
    let found = compared(&no_benches(units(&trays)), "rootstock");
    assert!(found.adjusted_for.is_empty() && found.randomisation.is_some());
}

/// Plants and benches cross, a tray in each meeting; the strengths lie within both, unevenly.
fn crossed(rooted: impl Fn(u32, u32, u32) -> u64) -> Vec<Tray> {
    let mut trays = Vec::new();
    for plant in 0..8_u32 {
        for bench in 0..4 {
            let strength = u32::from((plant * 5 + bench * 3 + plant * bench) % 7 > 2);
            trays.push((plant / 4, strength, plant, bench, rooted(plant, bench, strength)));
        }
    }
    trays
}

#[test]
fn plants_and_benches_are_both_taken_out() {
    let found =
        compared(&units(&crossed(|plant, bench, strength| u64::from(2 + plant + bench + 4 * strength))), "strength");
    assert_rel!(found.value, 0.2, 1e-12);
    assert_eq!(found.unit, "tray");
    assert!(found.adjusted_for.iter().any(|one| one == "plant"), "{:?}", found.adjusted_for);
    assert!(found.adjusted_for.iter().any(|one| one == "bench"), "{:?}", found.adjusted_for);
}

fn drawn(random: &mut rng::ChaCha8Rng, sd: f64, gain: f64) -> Vec<Tray> {
    let plant_effects: Vec<f64> = (0..12).map(|_| sd * rng::deviate(random)).collect();
    let shifts: Vec<f64> = (0..48).map(|_| 0.3 * rng::deviate(random)).collect();
    let seeds: Vec<f64> = (0..48 * 20).map(|_| rng::uniform(random)).collect();
    plants(|_, strength, plant, tray| {
        let at = (4 * plant + tray) as usize;
        let rate = special::expit(-0.6 + gain * f64::from(strength) + plant_effects[plant as usize] + shifts[at]);
        seeds.iter().skip(20 * at).take(20).filter(|draw| **draw < rate).count() as u64
    })
}

/// No difference between rootstocks, a large one between strengths that the rootstocks hold unevenly. Before the adjustment nearly
/// every such trial alarmed.
#[test]
fn shares_alone_raise_no_alarm() {
    const RUNS: u64 = 400;
    let one = |random: &mut rng::ChaCha8Rng| {
        let found = compared(&no_benches(units(&drawn(random, 0.4, 1.4))), "rootstock");
        let (low, high) = (found.low.unwrap(), found.high.unwrap());
        Ok([f64::from(u8::from(found.p.unwrap() <= 0.05)), f64::from(u8::from(low <= 0.0 && high >= 0.0))])
    };
    let plus = |sum: &mut [f64; 2], one: [f64; 2]| {
        sum[0] += one[0];
        sum[1] += one[1];
    };
    let found = replicates(RUNS, 7, 0, &Control::new(), one, plus).unwrap();
    let [alarms, held] = found.map(|sum| sum / RUNS as f64);
    // Three standard errors of 400 trials above 5 %.
    assert!(alarms <= 0.083, "{alarms}");
    assert!(held >= 0.917, "{held}");
}

/// Another route to the same question: the contrast of the model of both treatments, on the odds. Both judge by plants.
#[test]
fn comparison_and_contrast_agree() {
    let mut random = rng::stream(11, 0);
    for _ in 0..5 {
        let units = no_benches(units(&drawn(&mut random, 0.4, 1.4)));
        let plain = compared(&units, "rootstock");
        let model = Model::fit(&units, &ModelSpec::of(&["rootstock", "strength"])).unwrap();
        let asked = model.contrasts("rootstock", &ContrastOptions::default(), &Control::new()).unwrap().numbers;
        let other = &asked.contrasts[0];
        assert!(abs_diff_eq!(plain.value, other.value.unwrap(), epsilon = 0.03), "{} {:?}", plain.value, other.value);
        let (a, b) = (plain.p.unwrap(), other.p.unwrap());
        assert!(abs_diff_eq!(a.ln(), b.ln(), epsilon = 0.5), "{a} {b}");
    }
}

/// A level tried in the good season mostly looks good: 4 and 12 of its trays in the seasons, where the other has 12 and 4.
#[test]
fn levels_that_lie_unevenly_over_seasons_are_told() {
    let even = |level: u32, season: u32, at: u32| at < if level == season { 12 } else { 4 };
    let make = |share: &dyn Fn(u32, u32, u32) -> bool| {
        let all = (0..2).flat_map(|level| (0..2).flat_map(move |season| (0..12).map(move |at| (level, season, at))));
        let held: Vec<_> = all.filter(|(level, season, at)| share(*level, *season, *at)).collect();
        let trays: Vec<Tray> = held.iter().map(|one| (0, one.0, 0, 0, u64::from(5 + 6 * one.1))).collect();
        let mut units = no_benches(units(&trays));
        units.season = Some(factor("season", held.iter().map(|one| one.1).collect()));
        (units.stock_plant, units.treatments) = (None, units.treatments.into_iter().skip(1).collect());
        units
    };
    let codes = |units: &Units| -> Vec<String> {
        let told = take_rates(units, &["strength"], &TakeRatesOptions::default()).unwrap();
        told.notes.into_iter().filter(|note| note.code == "uneven_mix").map(|note| note.text).collect()
    };
    let told = codes(&make(&even));
    assert!(told.len() == 1 && told[0].contains("hold season in different shares"), "{told:?}");
    assert_eq!(codes(&make(&|_, _, at| at < 6)), Vec::<String>::new());
}
