//! What one trial shows, and what analysis of variance of its tray rates shows.

use std::collections::BTreeMap;

use rootling::compare::{CompareOptions, strengths};
use rootling::control::Control;
use rootling::effects::{ContrastOptions, RateOptions};
use rootling::math::rng;
use rootling::models::{Model, TrayMode};
use rootling::rates::{TakeRatesOptions, take_rates};
use rootling::tables::{AssociationOptions, association};
use rootling::trial::Units;

use super::classical::Classical;
use super::designs::Above;
use crate::effects::{asked, modelled};

const LEVEL: f64 = 0.95;

/// Values by figure and by whose they are: 0 ours, 1 classical.
#[derive(Default, Clone)]
pub(super) struct Seen(pub BTreeMap<(&'static str, usize), Vec<f64>>);

impl Seen {
    fn add(&mut self, name: &'static str, whose: usize, value: f64) {
        self.0.entry((name, whose)).or_default().push(value);
    }

    pub(super) fn plus(&mut self, other: Self) {
        for (key, values) in other.0 {
            self.0.entry(key).or_default().extend(values);
        }
    }

    fn limits(&mut self, [held, width]: [&'static str; 2], whose: usize, limits: (f64, f64), truth: f64) {
        self.add(held, whose, f64::from(u8::from(limits.0 <= truth + 1e-12 && truth <= limits.1 + 1e-12)));
        self.add(width, whose, limits.1 - limits.0);
    }
}

/// One trial without and one with effects.
pub(super) fn one_trial(above: &Above, random: &mut rng::ChaCha8Rng) -> Seen {
    let mut seen = Seen::default();
    let (null, moved) = (above.null.draw(random), above.moved.draw(random));
    alarms(above, &null, &mut seen);
    rates_of_takes(above, &moved, &mut seen);
    model_answers(above, &moved, &mut seen);
    seen
}

/// Averages of combinations: weights of every one.
struct Wanted<'a> {
    above: &'a Above,
    truth: Vec<f64>,
}

impl Wanted<'_> {
    fn of(above: &Above) -> Wanted<'_> {
        Wanted { above, truth: above.moved.truth() }
    }

    fn position(&self, name: Option<&str>) -> Option<usize> {
        self.above.moved.treatments.iter().position(|(known, _)| Some(known.as_str()) == name)
    }

    /// Alike over all combinations with those levels of the two treatments.
    fn weights(&self, first: Option<usize>, second: Option<usize>) -> Vec<f64> {
        let sizes: Vec<usize> = self.above.moved.treatments.iter().map(|(_, levels)| *levels as usize).collect();
        let (a, b) = (self.position(self.above.between), self.position(self.above.within));
        let level = |cell: usize, at: usize| cell / sizes[at + 1..].iter().product::<usize>() % sizes[at];
        let keeps = |cell: usize, at: Option<usize>, wanted: Option<usize>| match (at, wanted) {
            (Some(at), Some(wanted)) => level(cell, at) == wanted,
            _ => true,
        };
        let chosen: Vec<bool> =
            (0..self.truth.len()).map(|cell| keeps(cell, a, first) && keeps(cell, b, second)).collect();
        let count = chosen.iter().filter(|one| **one).count() as f64;
        chosen.into_iter().map(|one| if one { 1.0 / count } else { 0.0 }).collect()
    }

    fn value(&self, weights: &[f64]) -> f64 {
        weights.iter().zip(&self.truth).map(|(weight, take)| weight * take).sum()
    }
}

fn minus(a: &[f64], b: &[f64]) -> Vec<f64> {
    a.iter().zip(b).map(|(a, b)| a - b).collect()
}

fn classical(units: &Units) -> Classical {
    let recorded = [&units.season, &units.block, &units.whole_plot, &units.stock_plant];
    Classical::new(units, &recorded.into_iter().flatten().collect::<Vec<_>>())
}

fn alarm(p: Option<f64>) -> f64 {
    f64::from(u8::from(p.is_some_and(|p| p <= 1.0 - LEVEL)))
}

fn alarms(above: &Above, units: &Units, seen: &mut Seen) {
    const BETWEEN: [&str; 4] = ["model, between", "compare, between", "association, between", "classical, between"];
    const WITHIN: [&str; 4] = ["model, within", "compare, within", "association, within", "classical, within"];
    let (wanted, classical) = (Wanted { above, truth: above.null.truth() }, classical(units));
    let treatments: Vec<&str> = above.null.treatments.iter().map(|(name, _)| name.as_str()).collect();
    let additive = modelled(units, &asked(&treatments, &[], TrayMode::Auto));
    if let [_, _] = treatments[..] {
        let full = modelled(units, &asked(&treatments, &[&treatments], TrayMode::Auto));
        seen.add("model, interaction", 0, full[2]);
        for (treatment, [name, ..]) in
            [(above.between, ["model of both, between"]), (above.within, ["model of both, within"])]
        {
            if let Some(at) = treatment.and_then(|one| wanted.position(Some(one))) {
                seen.add(name, 0, full[at]);
            }
        }
    }
    for (treatment, names, first) in [(above.between, BETWEEN, true), (above.within, WITHIN, false)] {
        let Some(treatment) = treatment else { continue };
        seen.add(names[0], 0, additive[wanted.position(Some(treatment)).unwrap()]);
        let options = CompareOptions { randomisations: 199, ..CompareOptions::default() };
        let found = strengths(units, treatment, "0", "1", &options, &Control::new());
        seen.add(names[1], 0, alarm(found.ok().and_then(|found| found.numbers.p)));
        let options = AssociationOptions { randomisations: 199, ..AssociationOptions::default() };
        let found = association(units, treatment, &options, &Control::new());
        seen.add(names[2], 0, alarm(found.ok().and_then(|found| found.numbers.p)));
        let side =
            |level: usize| if first { wanted.weights(Some(level), None) } else { wanted.weights(None, Some(level)) };
        let judged = classical.judged(&minus(&side(1), &side(0)), LEVEL);
        seen.add(names[3], 1, alarm(judged.map(|found| found.p)));
    }
}

/// Rates by treatment and by both, with what is true of the mix of cuttings at hand.
fn rates_of_takes(above: &Above, units: &Units, seen: &mut Seen) {
    let wanted = Wanted::of(above);
    let cell =
        |unit: usize| units.treatments.iter().fold(0, |sum, one| sum * one.levels.len() + one.codes[unit] as usize);
    let asked = [
        (vec![above.between], ["take_rates between", "width of take_rates between"]),
        (vec![above.within], ["take_rates within", "width of take_rates within"]),
        (vec![above.between, above.within], ["take_rates cells", "width of take_rates cells"]),
    ];
    for (by, names) in asked {
        let Some(by) = by.into_iter().collect::<Option<Vec<&str>>>() else { continue };
        let Ok(found) = take_rates(units, &by, &TakeRatesOptions::default()) else { continue };
        for rate in &found.numbers.rates {
            let here = |unit: &usize| {
                by.iter().zip(&rate.levels).all(|(name, level)| units.factor(name).unwrap().label(*unit) == Some(level))
            };
            let (mut sum, mut stuck) = (0.0, 0.0);
            for unit in (0..units.len()).filter(here) {
                sum += units.stuck[unit] as f64 * wanted.truth[cell(unit)];
                stuck += units.stuck[unit] as f64;
            }
            seen.limits(names, 0, (rate.low, rate.high), sum / stuck);
        }
    }
}

fn model_answers(above: &Above, units: &Units, seen: &mut Seen) {
    let wanted = Wanted::of(above);
    let treatments: Vec<&str> = above.moved.treatments.iter().map(|(name, _)| name.as_str()).collect();
    let both: Vec<&[&str]> = if treatments.len() > 1 { vec![&treatments] } else { Vec::new() };
    let classical = classical(units);
    let fitted = Model::fit(units, &asked(&treatments, &both, TrayMode::Auto));
    let mut say =
        |names: [&'static str; 2], limits: Option<(Option<f64>, Option<f64>)>, weights: &[f64], floor: f64| {
            let truth = wanted.value(weights);
            if let Some((low, high)) = limits {
                seen.limits(names, 0, (low.unwrap_or(floor), high.unwrap_or(1.0)), truth);
                // Where there are no degrees of freedom, classical limits are everything.
                let held = classical
                    .judged(weights, LEVEL)
                    .map_or((floor, 1.0), |found| (found.low.max(floor), found.high.min(1.0)));
                seen.limits(names, 1, held, truth);
            }
        };
    let Ok(model) = fitted else { return };
    let sides = [
        (
            above.between,
            true,
            ["rates between", "width of rates between"],
            ["contrasts between", "width of contrasts between"],
        ),
        (
            above.within,
            false,
            ["rates within", "width of rates within"],
            ["contrasts within", "width of contrasts within"],
        ),
    ];
    let control = Control::new();
    let plain = || ContrastOptions { together: "none".parse().unwrap(), ..ContrastOptions::default() };
    for (treatment, first, rate_names, contrast_names) in sides {
        let Some(treatment) = treatment else { continue };
        let side =
            |level: usize| if first { wanted.weights(Some(level), None) } else { wanted.weights(None, Some(level)) };
        if let Ok(rates) = model.adjusted_rates(treatment, &RateOptions::default()) {
            for (level, rate) in rates.numbers.rates.iter().enumerate() {
                say(rate_names, Some((rate.low, rate.high)), &side(level), 0.0);
            }
        }
        if let Ok(found) = model.contrasts(treatment, &plain(), &control) {
            let one = &found.numbers.contrasts[0];
            say(contrast_names, Some((one.low, one.high)), &minus(&side(1), &side(0)), -1.0);
        }
    }
    let (Some(between), Some(within)) = (above.between, above.within) else { return };
    let one_of = |name: &Option<String>| name.as_ref().and_then(|name| name.parse::<usize>().ok());
    if let Ok(rates) = model.adjusted_rates(within, &RateOptions::within(between)) {
        for rate in &rates.numbers.rates {
            let weights = wanted.weights(one_of(&rate.within), rate.by.parse().ok());
            say(["cells", "width of cells"], Some((rate.low, rate.high)), &weights, 0.0);
        }
    }
    for (by, inside, names) in [
        (within, between, ["contrasts within, in each", "width of contrasts within, in each"]),
        (between, within, ["contrasts between, in each", "width of contrasts between, in each"]),
    ] {
        let options = ContrastOptions { within: Some(inside.to_owned()), ..plain() };
        let Ok(found) = model.contrasts(by, &options, &control) else { continue };
        for one in &found.numbers.contrasts {
            let at = one_of(&one.within);
            let side = |level: usize| {
                if by == within { wanted.weights(at, Some(level)) } else { wanted.weights(Some(level), at) }
            };
            say(names, Some((one.low, one.high)), &minus(&side(1), &side(0)), -1.0);
        }
    }
}
