//! Contrasts of several strengths: does any of them claim a difference where there is none, and do all intervals hold together?

use rootling::control::Control;
use rootling::effects::ContrastOptions;
use rootling::math::rng;
use rootling::models::{Model, ModelSpec};
use rootling::simulate::{Blocks, TrayDesign, TraySizes};
use rootling::trial::Units;

use crate::summary::{Figures, Results, Summary};
use crate::{full, line, percent, run};

/// Strengths without a difference, and with takes that climb.
#[derive(Clone, Debug)]
struct Family {
    equal: TrayDesign,
    climbing: TrayDesign,
}

impl Family {
    fn new(strengths: usize, trays: usize, icc: f64, take: f64) -> Self {
        let sizes = TraySizes::Equal;
        let equal = TrayDesign { takes: vec![take; strengths], trays, cuttings: 20, sizes, icc, blocks: None };
        Self { climbing: TrayDesign { takes: climb(take, strengths), ..equal.clone() }, equal }
    }

    fn with(mut self, change: impl Fn(&mut TrayDesign)) -> Self {
        change(&mut self.equal);
        change(&mut self.climbing);
        self
    }

    /// Takes near 0 or 100 %.
    fn near_an_end(&self) -> bool {
        !(0.1..=0.9).contains(&self.equal.takes[0])
    }
}

/// Takes from 15 to 85 %; near an end, from the end to a third away from it.
fn climb(take: f64, strengths: usize) -> Vec<f64> {
    let (from, to) = match take {
        take if take < 0.1 => (take, 0.33),
        take if take > 0.9 => (0.67, take),
        _ => (0.15, 0.85),
    };
    (0..strengths).map(|at| from + (to - from) * at as f64 / (strengths - 1) as f64).collect()
}

/// One adjustment: name, against which level, and the name in the table.
const ASKED: [(&str, Option<&str>, &str); 5] = [
    ("joint", None, "all pairs, joint"),
    ("scheffe", None, "all pairs, Scheffe"),
    ("holm", None, "all pairs, Holm"),
    ("none", None, "all pairs, not adjusted"),
    ("joint", Some("0"), "with a control, joint"),
];

/// Whether any contrast is claimed, and whether all intervals hold the true differences, for every adjustment.
fn told(units: &Units, takes: &[f64]) -> Vec<(f64, f64)> {
    let Ok(model) = Model::fit(units, &ModelSpec::of(&["strength"])) else { return vec![(0.0, 0.0); ASKED.len()] };
    let one = |(adjust, against, _): (&str, Option<&str>, &str)| {
        let options = ContrastOptions {
            together: adjust.parse().unwrap(),
            against: against.map(str::to_owned),
            ..ContrastOptions::default()
        };
        let Ok(found) = model.contrasts("strength", &options, &Control::new()) else { return (0.0, 0.0) };
        let rows = &found.numbers.contrasts;
        let any = rows.iter().any(|row| row.p_adjusted.is_some_and(|p| p < 0.05));
        let size = takes.len();
        let pairs: Vec<(usize, usize)> = match against {
            Some(_) => (1..size).map(|at| (at, 0)).collect(),
            None => (0..size).flat_map(|i| (i + 1..size).map(move |j| (j, i))).collect(),
        };
        let held = rows.iter().zip(pairs).all(|(row, (second, first))| {
            let truth = takes[second] - takes[first];
            row.low.unwrap_or(-1.0) <= truth && truth <= row.high.unwrap_or(1.0)
        });
        (f64::from(u8::from(any)), f64::from(u8::from(held)))
    };
    ASKED.into_iter().map(one).collect()
}

fn one_trial(family: &Family, random: &mut rng::ChaCha8Rng) -> Figures {
    let (equal, climbing) = (family.equal.draw(random).units(), family.climbing.draw(random).units());
    let mut figures = Figures::default();
    let (equal, climbing) = (told(&equal, &family.equal.takes), told(&climbing, &family.climbing.takes));
    for (at, ((alarm, held), (_, climbing))) in equal.into_iter().zip(climbing).enumerate() {
        figures.add("false alarm", at, alarm);
        figures.add("coverage, equal", at, held);
        figures.add("coverage, climbing", at, climbing);
    }
    figures
}

fn grid() -> Vec<Family> {
    let many = full().is_some();
    let (strengths, correlations): (&[usize], &[f64]) =
        if many { (&[3, 5, 8], &[0.0, 0.05, 0.15]) } else { (&[3, 8], &[0.05]) };
    let mut all = Vec::new();
    for strengths in strengths {
        for trays in [4, 8] {
            all.extend(correlations.iter().map(|icc| Family::new(*strengths, trays, *icc, 0.5)));
        }
    }
    let ends: &[(usize, f64)] = if many { &[(3, 0.05), (8, 0.05), (3, 0.95), (8, 0.95)] } else { &[(5, 0.05)] };
    all.extend(ends.iter().map(|(strengths, take)| Family::new(*strengths, 4, 0.05, *take)));
    if many {
        let five = |trays| Family::new(5, trays, 0.05, 0.5);
        all.extend([4, 8].map(|trays| five(trays).with(|design| design.sizes = TraySizes::Uneven)));
        all.extend([4, 8].map(|trays| five(trays).with(|design| design.blocks = Some(Blocks { trays: 1, sd: 0.4 }))));
    }
    all
}

fn cells(results: &Results<Family>, figure: &'static str, at: usize) -> (Summary, Vec<String>) {
    let of = |keep: &dyn Fn(&Family) -> bool| results.of(figure, at, keep);
    let icc = |icc: f64| {
        percent(of(&|family| !family.near_an_end() && (family.equal.icc - icc).abs() < 1e-9).map(|one| one.mean))
    };
    let all = of(&|_| true).unwrap();
    let farthest = if figure == "false alarm" { all.high } else { all.low };
    let mut cells = vec![percent(Some(all.mean)), percent(Some(farthest))];
    if figure == "false alarm" {
        cells.extend([0.0, 0.05, 0.15].map(icc));
    }
    cells.push(percent(of(&Family::near_an_end).map(|one| one.mean)));
    (all, cells)
}

#[test]
fn families_of_contrasts_hold() {
    let results = run(grid(), full().unwrap_or(80), one_trial);
    println!(
        "\n### Families of contrasts: 3 to 8 strengths, 4 to 8 trays of 20\n\n| contrasts | any false claim, mean | highest design | ICC 0 | ICC 0.05 | ICC 0.15 | takes 5 or 95 % | all intervals hold, equal takes | lowest design | takes 5 or 95 % | climbing takes | lowest design | from 5 or to 95 % |\n|---|---|---|---|---|---|---|---|---|---|---|---|---|"
    );
    let slack = 3.5 * (0.05 * 0.95 / results.runs as f64).sqrt();
    for (at, (adjust, _, name)) in ASKED.into_iter().enumerate() {
        let (alarm, mut told) = cells(&results, "false alarm", at);
        let (equal, more) = cells(&results, "coverage, equal", at);
        told.extend(more);
        let (climbing, more) = cells(&results, "coverage, climbing", at);
        told.extend(more);
        line(name, &told);
        if adjust == "none" {
            assert!(alarm.mean > 0.08, "what comes of no adjustment: {alarm:?}");
        } else {
            assert!(alarm.mean <= 0.06 && alarm.high <= 0.06 + slack, "{name}: {alarm:?}");
            assert!(equal.mean >= 0.94 && climbing.mean >= 0.94, "{name}: {equal:?} {climbing:?}");
        }
    }
    for (figure, highest) in [("false alarm", true), ("coverage, equal", false), ("coverage, climbing", false)] {
        for (value, family) in results.worst(figure, 0, highest).into_iter().take(3) {
            let TrayDesign { takes, trays, icc, sizes, blocks, .. } = &family.equal;
            println!(
                "- farthest out, all pairs, {figure}: {} %: {} strengths, {trays} trays, ICC {icc}, take {}, {sizes:?}, {blocks:?}",
                percent(Some(value)),
                takes.len(),
                takes[0]
            );
        }
    }
}
