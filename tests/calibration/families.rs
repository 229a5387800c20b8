//! Contrasts of several strengths: does any of them claim a difference where there is none, and do all intervals hold together?

use rootling::control::Control;
use rootling::effects::{ContrastOptions, contrasts};
use rootling::math::rng;
use rootling::models::{Model, ModelSpec};
use rootling::simulate::{TrayDesign, TraySizes};
use rootling::trial::Units;

use crate::summary::Figures;
use crate::{full, line, percent, run};

/// Strengths without a difference, and with takes that climb.
#[derive(Clone, Debug)]
struct Family {
    equal: TrayDesign,
    climbing: TrayDesign,
}

impl Family {
    fn new(strengths: usize, trays: usize, icc: f64, take: f64, sizes: TraySizes) -> Self {
        let equal = TrayDesign { takes: vec![take; strengths], trays, cuttings: 20, sizes, icc, blocks: None };
        let last = (strengths - 1) as f64;
        let takes = (0..strengths).map(|at| 0.15 + 0.7 * at as f64 / last).collect();
        Self { climbing: TrayDesign { takes, ..equal.clone() }, equal }
    }
}

/// One adjustment: name, against which level, and the name in the table.
const ASKED: [(&str, Option<&str>, &str); 5] = [
    ("joint", None, "all pairs, joint"),
    ("scheffe", None, "all pairs, Scheffe"),
    ("holm", None, "all pairs, Holm"),
    ("none", None, "all pairs, not adjusted"),
    ("joint", Some("0"), "with a control, joint"),
];

/// Whether any contrast is claimed, and whether all intervals hold the true differences.
fn told(units: &Units, takes: &[f64], (adjust, against, _): (&str, Option<&str>, &str)) -> (f64, f64) {
    let Ok(model) = Model::fit(units, &ModelSpec::of(&["strength"])) else { return (0.0, 0.0) };
    let options = ContrastOptions {
        adjust: adjust.to_owned(),
        against: against.map(str::to_owned),
        ..ContrastOptions::default()
    };
    let Ok(found) = contrasts(&model, "strength", &options, &Control::new()) else { return (0.0, 0.0) };
    let rows = &found.figures.contrasts;
    let any = rows.iter().any(|row| row.adjusted_p.is_some_and(|p| p < 0.05));
    let size = takes.len();
    let pairs: Vec<(usize, usize)> = match against {
        Some(_) => (1..size).map(|at| (at, 0)).collect(),
        None => (0..size).flat_map(|i| (i + 1..size).map(move |j| (j, i))).collect(),
    };
    let held = rows.iter().zip(pairs).all(|(row, (second, first))| {
        let truth = takes[second] - takes[first];
        row.conf_low.unwrap_or(-1.0) <= truth && truth <= row.conf_high.unwrap_or(1.0)
    });
    (f64::from(u8::from(any)), f64::from(u8::from(held)))
}

fn one_trial(family: &Family, random: &mut rng::ChaCha8Rng) -> Figures {
    let (equal, climbing) = (family.equal.draw(random).units(), family.climbing.draw(random).units());
    let mut figures = Figures::default();
    for (at, asked) in ASKED.into_iter().enumerate() {
        let (alarm, held) = told(&equal, &family.equal.takes, asked);
        figures.add("false alarm", at, alarm);
        figures.add("coverage, equal", at, held);
        figures.add("coverage, climbing", at, told(&climbing, &family.climbing.takes, asked).1);
    }
    figures
}

fn grid() -> Vec<Family> {
    let mut all = Vec::new();
    let (strengths, trays): (&[usize], &[usize]) =
        if full().is_some() { (&[3, 5, 8], &[4, 8]) } else { (&[3, 8], &[4, 8]) };
    for strengths in strengths {
        for trays in trays {
            for icc in if full().is_some() { &[0.0, 0.05, 0.15][..] } else { &[0.0, 0.15] } {
                let takes: &[f64] = if full().is_some() { &[0.2, 0.5, 0.8] } else { &[0.5] };
                all.extend(takes.iter().map(|take| Family::new(*strengths, *trays, *icc, *take, TraySizes::Equal)));
            }
        }
    }
    if full().is_some() {
        all.extend([4, 8].map(|trays| Family::new(5, trays, 0.05, 0.5, TraySizes::Uneven)));
    }
    all
}

#[test]
fn families_of_contrasts_hold() {
    let results = run(grid(), full().map_or(100, |runs| runs / 2), one_trial);
    println!(
        "\n### Families of contrasts: 3 to 8 strengths, 4 to 8 trays of 20\n\n| contrasts | any false claim, mean | highest design | ICC 0 | ICC 0.05 | ICC 0.15 | all intervals hold, equal takes | lowest design | climbing takes | lowest design |\n|---|---|---|---|---|---|---|---|---|---|"
    );
    let slack = 3.5 * (0.05 * 0.95 / results.runs as f64).sqrt();
    for (at, (adjust, _, name)) in ASKED.into_iter().enumerate() {
        let of = |figure, icc: Option<f64>| {
            results.of(figure, at, |family: &Family| icc.is_none_or(|icc| (family.equal.icc - icc).abs() < 1e-9))
        };
        let (alarm, equal, climbing) = (
            of("false alarm", None).unwrap(),
            of("coverage, equal", None).unwrap(),
            of("coverage, climbing", None).unwrap(),
        );
        let mut cells = vec![percent(Some(alarm.mean)), percent(Some(alarm.high))];
        cells.extend([0.0, 0.05, 0.15].map(|icc| percent(of("false alarm", Some(icc)).map(|one| one.mean))));
        for found in [equal, climbing] {
            cells.extend([percent(Some(found.mean)), percent(Some(found.low))]);
        }
        line(name, &cells);
        if adjust == "none" {
            assert!(alarm.mean > 0.08, "what comes of no adjustment: {alarm:?}");
        } else {
            assert!(alarm.mean <= 0.06 && alarm.high <= 0.06 + slack, "{name}: {alarm:?}");
            assert!(equal.mean >= 0.94 && climbing.mean >= 0.94, "{name}: {equal:?} {climbing:?}");
        }
    }
}
