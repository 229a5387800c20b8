//! Grades in trays: do tests and limits of cumulative odds ratios hold, by scores on effective cuttings and by what was tried beside them?
//!
//! `grades.md` beside this file is the output of `ROOTLING_CALIBRATION=300 cargo test --release --test calibration grades -- --nocapture` with its
//! reading.

use rayon::prelude::*;
use rootling::math::distributions::student_t;
use rootling::math::regression::{ClusterRobust, ClusteredFit, Cumulative, GradeRows};
use rootling::math::rng;
use rootling::math::special::{expit, logit};
use rootling::responses::grade::{JudgedGrades, effective_grades};

/// What trays differ by; neither is the law that is fitted.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Law {
    /// Shares of the grades from a Dirichlet law about those of the level.
    Dirichlet,
    /// Two kinds of trays: four in five a little worse, one in five much better.
    TwoKinds,
}

/// Shares of six grades.
const BASES: [(&str, [f64; 6]); 5] = [
    ("even", [0.25, 0.1, 0.15, 0.2, 0.2, 0.1]),
    ("low", [0.7, 0.1, 0.1, 0.05, 0.03, 0.02]),
    ("high", [0.02, 0.02, 0.06, 0.1, 0.2, 0.6]),
    ("two grades held", [0.5, 0.0, 0.5, 0.0, 0.0, 0.0]),
    ("hardly any", [0.94, 0.02, 0.02, 0.02, 0.0, 0.0]),
];

#[derive(Clone, Copy, Debug)]
struct Design {
    /// Trays of both levels.
    trays: (usize, usize),
    cuttings: u64,
    correlation: f64,
    base: usize,
    law: Law,
    uneven: bool,
    /// Log odds ratio of the second level.
    shift: f64,
}

/// Figures of one design: shares of trials.
const FIGURES: [&str; 7] = [
    "score: alarm",
    "score: holds",
    "CR2: alarm",
    "CR2: holds",
    "cuttings: alarm",
    "one ratio fails",
    "open at an end",
];

/// Shares after a shift of their log odds.
fn shifted(shares: &[f64], by: f64) -> Vec<f64> {
    let mut left = 1.0;
    let mut above = vec![1.0];
    for share in &shares[..shares.len() - 1] {
        left -= share;
        let inside = left > 1e-12 && left < 1.0 - 1e-12;
        above.push(if inside { expit(logit(left) + by) } else { f64::from(u8::from(left > 0.5)) });
    }
    above.push(0.0);
    above.windows(2).map(|pair| (pair[0] - pair[1]).max(0.0)).collect()
}

fn multinomial(random: &mut rng::ChaCha8Rng, cuttings: u64, shares: &[f64]) -> Vec<f64> {
    let (mut left, mut rest) = (cuttings, 1.0);
    let mut counts = Vec::with_capacity(shares.len());
    for (grade, share) in shares.iter().enumerate() {
        let n = match rest {
            _ if grade + 1 == shares.len() => left,
            rest if rest <= 1e-12 => 0,
            rest => rng::binomial(random, left, (share / rest).clamp(0.0, 1.0)),
        };
        counts.push(n as f64);
        left -= n;
        rest -= share;
    }
    counts
}

/// How far the two kinds of trays lie apart, on the scale of the log odds.
fn apart(correlation: f64) -> f64 {
    (correlation / (1.0 - correlation)).sqrt() * 1.814
}

fn tray(random: &mut rng::ChaCha8Rng, cuttings: u64, shares: &[f64], design: &Design) -> Vec<f64> {
    if design.correlation == 0.0 {
        return multinomial(random, cuttings, shares);
    }
    if design.law == Law::TwoKinds {
        let by = apart(design.correlation) * if rng::uniform(random) < 0.2 { 2.0 } else { -0.5 };
        return multinomial(random, cuttings, &shifted(shares, by));
    }
    let size = (1.0 - design.correlation) / design.correlation;
    let (mut rest, mut stick) = (1.0, 1.0);
    let mut own = Vec::with_capacity(shares.len());
    for (grade, share) in shares.iter().enumerate() {
        let part = match *share {
            _ if grade + 1 == shares.len() || rest - share <= 1e-12 => 1.0,
            share if share <= 0.0 => 0.0,
            share => rng::beta(random, size * share, size * (rest - share)),
        };
        own.push(stick * part);
        stick *= 1.0 - part;
        rest -= share;
    }
    multinomial(random, cuttings, &own)
}

fn drawn(design: &Design, random: &mut rng::ChaCha8Rng) -> GradeRows {
    let (mut x, mut counts) = (Vec::new(), Vec::new());
    for (level, trays) in [design.trays.0, design.trays.1].into_iter().enumerate() {
        let shares = shifted(&BASES[design.base].1, design.shift * level as f64);
        for at in 0..trays {
            let m = design.cuttings;
            let cuttings = if design.uneven { [m.div_ceil(2), m, m * 3 / 2][at % 3] } else { m };
            x.push(if level == 1 { vec![(0, 1.0)] } else { Vec::new() });
            counts.extend(tray(random, cuttings, &shares, design));
        }
    }
    GradeRows::new(1, 6, x, counts).unwrap().held().0
}

/// The log odds ratio that large trials would show: of two kinds of trays the best single one for their mean shares.
fn truth(design: &Design) -> f64 {
    if design.shift == 0.0 || design.law == Law::Dirichlet || design.correlation == 0.0 {
        return design.shift;
    }
    let by = apart(design.correlation);
    let mean = |shift: f64| -> Vec<f64> {
        let level = shifted(&BASES[design.base].1, shift);
        let (worse, better) = (shifted(&level, -0.5 * by), shifted(&level, 2.0 * by));
        worse.iter().zip(&better).map(|(a, b)| 0.8 * a + 0.2 * b).collect()
    };
    let counts = [mean(0.0), mean(design.shift)].concat();
    let rows = GradeRows::new(1, 6, vec![vec![], vec![(0, 1.0)]], counts).unwrap().held().0;
    Cumulative { rows: &rows, partial: &[] }.fit().unwrap().slopes[0]
}

/// Bell and `McCaffrey`'s covariance of trays linearised about the fit of single cuttings: slope, standard error, Satterthwaite's degrees of freedom.
fn robust(trays: &GradeRows) -> Option<(f64, f64, f64)> {
    let single = effective_grades(trays, 0.0).unwrap();
    let model = Cumulative { rows: &single, partial: &[] };
    let fit = model.fit().or_else(|_| model.fit_steadied()).ok()?;
    let (mut weights, mut residuals, mut level) = (Vec::new(), Vec::new(), Vec::new());
    for (x, _, counts) in trays.iter() {
        let second = f64::from(u8::from(!x.is_empty()));
        let above = [vec![1.0], fit.at_least(&[second], &[]), vec![0.0]].concat();
        let slope = |pair: &[f64]| 1.0 - pair[0] - pair[1];
        let score: f64 = counts.iter().zip(above.windows(2)).map(|(n, pair)| n * slope(pair)).sum();
        let bend: f64 = above.windows(2).map(|pair| (pair[0] - pair[1]) * slope(pair).powi(2)).sum();
        let weight = counts.iter().sum::<f64>() * bend;
        weights.push(weight);
        residuals.push(score / weight);
        level.push(second);
    }
    let clusters: Vec<usize> = (0..weights.len()).collect();
    let x = [vec![1.0; weights.len()], level];
    let found =
        ClusterRobust::new(&ClusteredFit { x: &x, weights: &weights, residuals: &residuals, clusters: &clusters });
    Some((fit.slopes[0], found.covariance()[1][1].sqrt(), found.df(&[0.0, 1.0])?))
}

fn one_trial(design: &Design, truth: f64, random: &mut rng::ChaCha8Rng) -> [f64; 7] {
    let trays = drawn(design, random);
    let yes = |is: bool| f64::from(u8::from(is));
    if trays.grades() < 2 {
        return [0.0, 1.0, 0.0, 1.0, 0.0, 0.0, 0.0];
    }
    let judged = JudgedGrades::of(&trays, false).unwrap();
    let odds = judged.log_odds(&[1.0], 0.95).unwrap();
    let holds = odds.low.is_none_or(|low| low <= truth) && odds.high.is_none_or(|high| high >= truth);
    let (mut alarm, mut within) = (false, true);
    if let Some((value, se, df)) = robust(&trays) {
        let critical = student_t::quantile(0.975, df.max(0.5));
        alarm = (value / se).abs() > critical;
        within = (value - truth).abs() <= critical * se;
    }
    let single = JudgedGrades::of(&trays, true).unwrap().test(&[0]).unwrap().p < 0.05;
    let unlike = judged.one_slope(&[0]).is_some_and(|found| found.p < 0.05);
    let open = odds.low.is_none() || odds.high.is_none();
    [yes(odds.p < 0.05), yes(holds), yes(alarm), yes(within), yes(single), yes(unlike), yes(open)]
}

fn designs(full: bool) -> Vec<Design> {
    let trays: &[(usize, usize)] = if full { &[(3, 3), (4, 4), (6, 6), (12, 12), (3, 7)] } else { &[(4, 4), (3, 7)] };
    let sizes: &[u64] = if full { &[5, 10, 20, 40] } else { &[5, 40] };
    let mut all = Vec::new();
    for trays in trays {
        for cuttings in sizes {
            for correlation in [0.0, 0.05, 0.15] {
                for base in 0..BASES.len() {
                    for law in [Law::Dirichlet, Law::TwoKinds] {
                        for uneven in [false, true] {
                            if (correlation == 0.0 && law == Law::TwoKinds) || (uneven && *cuttings == 10) {
                                continue;
                            }
                            for shift in [0.0, 1.0] {
                                let (trays, cuttings) = (*trays, *cuttings);
                                all.push(Design { trays, cuttings, correlation, base, law, uneven, shift });
                            }
                        }
                    }
                }
            }
        }
    }
    all
}

fn figures(design: &Design, at: u64, runs: u64) -> [f64; 7] {
    let truth = truth(design);
    let mut sum = [0.0; 7];
    for run in 0..runs {
        let mut random = rng::stream(super::SEED, at * 100_000 + run);
        let found = one_trial(design, truth, &mut random);
        sum.iter_mut().zip(found).for_each(|(sum, one)| *sum += one / runs as f64);
    }
    sum
}

fn mean(rows: &[(Design, [f64; 7])], figure: usize, keep: impl Fn(&Design) -> bool) -> f64 {
    let found: Vec<f64> = rows.iter().filter(|(design, _)| keep(design)).map(|(_, one)| one[figure]).collect();
    found.iter().sum::<f64>() / found.len() as f64
}

/// The farthest of a figure; of the full run the twelve farthest are run again with ten times the trials, with a start of their own.
fn farthest(rows: &[(Design, [f64; 7])], (figure, highest): (usize, bool), shift: f64, again: Option<u64>) -> f64 {
    let sign = if highest { -1.0 } else { 1.0 };
    let mut found: Vec<&(Design, [f64; 7])> = rows.iter().filter(|(design, _)| design.shift == shift).collect();
    found.sort_by(|a, b| (sign * a.1[figure]).total_cmp(&(sign * b.1[figure])));
    let first = found[0].1[figure];
    let Some(runs) = again else { return first };
    let mut second: Vec<(f64, Design)> = found
        .par_iter()
        .take(12)
        .enumerate()
        .map(|(at, (design, _))| (figures(design, 1_000_000 + at as u64, 10 * runs)[figure], *design))
        .collect();
    second.sort_by(|a, b| (sign * a.0).total_cmp(&(sign * b.0)));
    for (value, design) in second.iter().take(3) {
        println!("- farthest out, {}: {:.1} % {design:?}", FIGURES[figure], 100.0 * value);
    }
    second[0].0
}

pub(crate) fn odds_ratios_hold(full: Option<u64>) {
    let runs = full.unwrap_or(120);
    let rows: Vec<(Design, [f64; 7])> = designs(full.is_some())
        .into_par_iter()
        .enumerate()
        .map(|(at, design)| (design, figures(&design, at as u64, runs)))
        .collect();
    println!("\n### Grades: cumulative odds ratios of two levels\n\n| correlation | ratio | {} |", FIGURES.join(" | "));
    println!("|---|---|{}", "---|".repeat(FIGURES.len()));
    for correlation in [0.0, 0.05, 0.15] {
        for (shift, ratio) in [(0.0, "1"), (1.0, "2.7")] {
            let keep = |design: &Design| design.correlation == correlation && design.shift == shift;
            let cells: Vec<String> =
                (0..FIGURES.len()).map(|at| format!("{:.1}", 100.0 * mean(&rows, at, keep))).collect();
            println!("| {correlation} | {ratio} | {} |", cells.join(" | "));
        }
    }
    println!();
    let slack = if full.is_some() { 0.005 } else { 3.5 * (0.06 * 0.94 / runs as f64).sqrt() };
    let alarm = farthest(&rows, (0, true), 0.0, full);
    let null = farthest(&rows, (1, false), 0.0, full);
    let held = farthest(&rows, (1, false), 1.0, full);
    let unlike = farthest(&rows, (5, true), 0.0, full);
    assert!(mean(&rows, 0, |design| design.shift == 0.0) <= 0.05 && alarm <= 0.065 + slack, "alarm {alarm}");
    assert!(mean(&rows, 1, |_| true) >= 0.95 && null.min(held) >= 0.92 - slack, "holds {null} {held}");
    assert!(unlike <= 0.065 + slack, "one ratio {unlike}");
    assert!(mean(&rows, 4, |design| design.shift == 0.0 && design.correlation > 0.1) > 0.15, "cuttings alone");
}
