//! Units above the tray in a model: false alarms, coverage and width of rates and contrasts of split plots, against the classical
//! combination of two strata on tray rates. `layers.md` is the output of a full run with its reading.

use rootling::control::Control;
use rootling::effects::{ContrastOptions, RateOptions};
use rootling::math::distributions::student_t;
use rootling::math::rng;
use rootling::models::{Model, ModelSpec};
use rootling::simulate::replicates;
use rootling::trial::{Factor, UnitKind, Units};

use super::{SEED, full};

/// Two levels of `outer`, each given to `units` bays or plants of its own, `inner` levels in trays within.
#[derive(Debug, Clone, Copy)]
struct Design {
    units: u32,
    inner: u32,
    trays: u32,
    cuttings: u64,
    icc: f64,
    /// SD of units on the log odds; negative: a beta law of rates with that correlation.
    spread: f64,
    take: f64,
    /// Take at the second level of `outer`, the same where there is no effect.
    other: f64,
}

fn coded(name: &str, codes: Vec<u32>) -> Factor {
    let last = codes.iter().max().unwrap() + 1;
    Factor { name: name.into(), levels: (0..last).map(|level| level.to_string()).collect(), numbers: None, codes }
}

/// Mean rate over normal effects of SD `sd` on the log odds, in 401 steps.
fn mean(take: f64, sd: f64) -> f64 {
    let (mut sum, mut whole) = (0.0, 0.0);
    for step in -200..=200 {
        let z = f64::from(step) * 0.03;
        let weight = (-0.5 * z * z).exp();
        (sum, whole) = (sum + weight * moved(take, sd * z), whole + weight);
    }
    sum / whole
}

fn moved(take: f64, by: f64) -> f64 {
    let odds = take / (1.0 - take) * by.exp();
    odds / (1.0 + odds)
}

impl Design {
    fn take_of(&self, outer: u32) -> f64 {
        if outer == 0 { self.take } else { self.other }
    }

    fn truth(&self, outer: u32) -> f64 {
        if self.spread < 0.0 { self.take_of(outer) } else { mean(self.take_of(outer), self.spread) }
    }

    fn draw(&self, random: &mut rng::ChaCha8Rng) -> Units {
        let (mut outer, mut inner, mut bays, mut rooted) = (Vec::new(), Vec::new(), Vec::new(), Vec::new());
        for bay in 0..2 * self.units {
            let take = self.take_of(bay % 2);
            let rate = if self.spread < 0.0 {
                let n = 1.0 / -self.spread - 1.0;
                rng::beta(random, take * n, (1.0 - take) * n)
            } else {
                moved(take, self.spread * rng::deviate(random))
            };
            for level in 0..self.inner {
                for _ in 0..self.trays {
                    outer.push(bay % 2);
                    inner.push(level);
                    bays.push(bay);
                    rooted.push(rng::beta_binomial(random, self.cuttings, rate, self.icc));
                }
            }
        }
        Units {
            kind: UnitKind::Tray,
            stuck: vec![self.cuttings; rooted.len()],
            tray: Some(coded("tray", (0..rooted.len() as u32).collect())),
            treatments: vec![coded("outer", outer), coded("inner", inner)],
            block: None,
            whole_plot: None,
            season: None,
            earlier: None,
            stock_plant: Some(coded("plant", bays)),
            covariates: Vec::new(),
            rooted,
        }
    }
}

/// Mean squares of tray rates by hand: between units of one level, and within units beyond the cells of outer and inner.
struct Classical {
    between: f64,
    within: f64,
}

fn classical(design: &Design, units: &Units) -> Classical {
    let rate = |at: usize| units.rooted[at] as f64 / units.stuck[at] as f64;
    let (bay, inner) = (&units.stock_plant.as_ref().unwrap().codes, &units.treatments[1].codes);
    let n = units.len();
    let average = |fits: &dyn Fn(usize) -> bool| {
        let of: Vec<f64> = (0..n).filter(|at| fits(*at)).map(rate).collect();
        of.iter().sum::<f64>() / of.len() as f64
    };
    let per_bay = f64::from(design.inner * design.trays);
    let (mut between, mut within) = (0.0, 0.0);
    let bay_mean: Vec<f64> = (0..2 * design.units).map(|one| average(&|at| bay[at] == one)).collect();
    let outer_mean: Vec<f64> = (0..2).map(|one| average(&|at| bay[at] % 2 == one)).collect();
    for (one, mean) in bay_mean.iter().enumerate() {
        between += per_bay * (mean - outer_mean[one % 2]).powi(2);
    }
    let cell: Vec<f64> =
        (0..2 * design.inner).map(|cell| average(&|at| bay[at] % 2 == cell % 2 && inner[at] == cell / 2)).collect();
    for at in 0..n {
        let outer = bay[at] % 2;
        let fit = cell[(2 * inner[at] + outer) as usize] + bay_mean[bay[at] as usize] - outer_mean[outer as usize];
        within += (rate(at) - fit).powi(2);
    }
    let dof = n as f64 - f64::from(2 * design.units) - f64::from(2 * (design.inner - 1));
    Classical { between: between / f64::from(2 * design.units - 2), within: within / dof }
}

impl Classical {
    /// Half the width of the interval of a cell's rate: MS between + (k - 1) MS within, over k trays of a unit, Satterthwaite.
    fn cell(&self, design: &Design) -> f64 {
        let levels = f64::from(design.inner);
        let (a, b) = (self.between, (levels - 1.0) * self.within);
        let between_dof = f64::from(2 * design.units - 2);
        let n = f64::from(2 * design.units * design.inner * design.trays);
        let within_dof = n - f64::from(2 * design.units) - f64::from(2 * (design.inner - 1));
        let dof = (a + b).powi(2) / (a * a / between_dof + b * b / within_dof);
        let variance = (a + b) / (levels * f64::from(design.units * design.trays));
        student_t::quantile(0.975, dof) * variance.sqrt()
    }
}

/// What one trial gives: alarms of outer, inner and their interaction, coverage of a cell, of differences between and within units, widths.
#[derive(Debug, Clone, Default)]
struct Found {
    runs: f64,
    sums: [f64; 7],
    wide: Vec<f64>,
    narrow: Vec<f64>,
    failed: f64,
}

impl Found {
    fn plus(&mut self, other: Self) {
        self.runs += other.runs;
        self.failed += other.failed;
        self.sums.iter_mut().zip(other.sums).for_each(|(a, b)| *a += b);
        self.wide.extend(other.wide);
        self.narrow.extend(other.narrow);
    }

    fn share(&self, at: usize) -> f64 {
        self.sums[at] / (self.runs - self.failed)
    }
}

fn median(values: &[f64]) -> f64 {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    sorted[sorted.len() / 2]
}

fn one(design: &Design, random: &mut rng::ChaCha8Rng) -> Found {
    let units = design.draw(random);
    let mut found = Found { runs: 1.0, ..Found::default() };
    if analyse(design, &units, &mut found).is_none() {
        found.failed = 1.0;
    }
    found
}

fn analyse(design: &Design, units: &Units, found: &mut Found) -> Option<()> {
    let mut spec = ModelSpec::of(&["outer", "inner"]);
    spec.interactions = vec![vec!["outer".into(), "inner".into()]];
    let model = Model::fit(units, &spec).ok()?;
    let tests = model.what_matters(None).ok()?.numbers.effects;
    let alarm = |at: usize| f64::from(u8::from(tests[at].p.is_some_and(|p| p < 0.05)));
    let mut sums = [alarm(0), alarm(1), alarm(2), 0.0, 0.0, 0.0, 0.0];
    let cells = model.adjusted_rates("inner", &RateOptions::within("outer")).ok()?.numbers.rates;
    let (mut wide, mut narrow) = (Vec::new(), Vec::new());
    for cell in &cells {
        let truth = design.truth(cell.within.as_deref()?.parse().ok()?);
        let (low, high) = (cell.low?, cell.high?);
        sums[3] += f64::from(u8::from(low <= truth && truth <= high)) / cells.len() as f64;
        wide.push(high - low);
    }
    let none = Control::new();
    let options = |within: &str| ContrastOptions {
        within: Some(within.into()),
        together: "none".parse().unwrap(),
        ..Default::default()
    };
    let truth = design.truth(1) - design.truth(0);
    let between = model.contrasts("outer", &options("inner"), &none).ok()?.numbers.contrasts;
    for one in &between {
        let holds = one.low? <= truth && truth <= one.high?;
        sums[4] += f64::from(u8::from(holds)) / between.len() as f64;
    }
    let within = model.contrasts("inner", &options("outer"), &none).ok()?.numbers.contrasts;
    for one in &within {
        let holds = one.low? <= 0.0 && 0.0 <= one.high?;
        sums[5] += f64::from(u8::from(holds)) / within.len() as f64;
    }
    let by_hand = classical(design, units).cell(design);
    narrow.resize(wide.len(), 2.0 * by_hand);
    let centre = |cell: &rootling::effects::AdjustedRate| cell.value.unwrap_or(0.0);
    for cell in &cells {
        let truth = design.truth(cell.within.as_deref()?.parse().ok()?);
        sums[6] += f64::from(u8::from((centre(cell) - truth).abs() <= by_hand)) / cells.len() as f64;
    }
    (found.sums, found.wide, found.narrow) = (sums, wide, narrow);
    Some(())
}

fn designs(quick: bool) -> Vec<Design> {
    let base = Design { units: 4, inner: 2, trays: 2, cuttings: 25, icc: 0.02, spread: 0.5, take: 0.5, other: 0.5 };
    let mut all = vec![base, Design { units: 2, spread: 0.4, take: 0.72, other: 0.72, ..base }];
    if quick {
        return all;
    }
    for units in [2, 3, 4, 6] {
        for spread in [0.0, 0.4, 0.8, -0.05] {
            for (take, other) in [(0.1, 0.1), (0.3, 0.3), (0.5, 0.5), (0.3, 0.6), (0.7, 0.9)] {
                for (inner, trays) in [(2, 2), (4, 1)] {
                    all.push(Design { units, inner, trays, spread, take, other, ..base });
                }
            }
        }
    }
    all
}

#[test]
fn units_above_the_tray() {
    let runs = full().unwrap_or(150);
    println!(
        "| units | inner x trays | spread | takes | alarms outer, inner, both | cell covers | width / classical (covers) | between | within | failed |"
    );
    println!("|---|---|---|---|---|---|---|---|---|---|");
    let mut whole = Vec::new();
    for (at, design) in designs(full().is_none()).into_iter().enumerate() {
        let first = at as u64 * runs;
        let found =
            replicates(runs, SEED, first, &Control::new(), |random| Ok(one(&design, random)), Found::plus).unwrap();
        let percent = |at: usize| format!("{:.1}", 100.0 * found.share(at));
        let ratio = median(&found.wide) / median(&found.narrow);
        println!(
            "| {} | {} x {} | {} | {}, {} | {}, {}, {} | {} | {:.2} ({}) | {} | {} | {} |",
            design.units,
            design.inner,
            design.trays,
            design.spread,
            design.take,
            design.other,
            percent(0),
            percent(1),
            percent(2),
            percent(3),
            ratio,
            percent(6),
            percent(4),
            percent(5),
            found.failed
        );
        whole.push((design, found.share(0), found.share(3), ratio));
    }
    for (design, alarms, covers, ratio) in whole.iter().filter(|(design, ..)| design.spread > 0.0) {
        let slack = 3.5 * (0.05 * 0.95 / runs as f64).sqrt();
        assert!(design.take != design.other || *alarms <= 0.065 + slack, "alarms {alarms}: {design:?}");
        assert!(*covers >= 0.92 - slack, "coverage {covers}: {design:?}");
        assert!(*ratio <= 1.35, "width {ratio}: {design:?}");
    }
}
