//! All levels compared at once: how often some pair is wrongly told apart, and how often all intervals hold together.
//!
//! `together.md` beside this file is the output of
//! `ROOTLING_CALIBRATION=600 cargo test --release --test calibration together -- --nocapture` with its reading.

use rootling::compare::{AllOptions, PairComparison, all_levels};
use rootling::control::Control;
use rootling::effects::{Adjustment, adjusted_p};
use rootling::math::rng;
use rootling::simulate::{Blocks, DrawnTrial, TrayDesign, TraySizes};

use crate::summary::{Figures, percent};
use crate::{full, run};

/// Adjustments, the default first; the last shows what none does.
const ADJUSTED: [Adjustment; 6] = [
    Adjustment::Holm,
    Adjustment::Bonferroni,
    Adjustment::Hommel,
    Adjustment::SidakStepDown,
    Adjustment::BenjaminiHochberg,
    Adjustment::None,
];
/// Takes that differ, as far as there are strengths.
const APART: [f64; 8] = [0.1, 0.3, 0.5, 0.6, 0.5, 0.3, 0.8, 0.95];

/// A design with equal takes; the same trays are drawn with takes that differ.
type Design = TrayDesign;

fn designs() -> Vec<Design> {
    let (strengths, trays): (&[usize], &[usize]) =
        if full().is_some() { (&[3, 5, 8], &[4, 6, 8]) } else { (&[3, 8], &[4]) };
    let (iccs, takes): (&[f64], &[f64]) =
        if full().is_some() { (&[0.0, 0.05, 0.15], &[0.1, 0.5, 0.8]) } else { (&[0.05], &[0.1, 0.5]) };
    let mut all = Vec::new();
    for strengths in strengths {
        for trays in trays {
            for icc in iccs {
                for take in takes {
                    for blocks in [None, Some(Blocks { trays: 1, sd: 0.5 })] {
                        all.push(TrayDesign {
                            takes: vec![*take; *strengths],
                            trays: *trays,
                            cuttings: 20,
                            sizes: TraySizes::Equal,
                            icc: *icc,
                            blocks,
                        });
                    }
                }
            }
        }
    }
    all
}

/// All pairs, or all strengths against the first.
fn pairs(trial: &DrawnTrial, adjust: &str, against: Option<&str>) -> Vec<PairComparison> {
    let own = |text: &str| Some(text.to_owned());
    let options =
        AllOptions { against: against.and_then(own), together: adjust.parse().unwrap(), ..AllOptions::default() };
    all_levels(&trial.units(), "strength", &options, &Control::new()).unwrap().numbers.pairs
}

/// 1 when every interval holds the true difference.
fn all_hold(pairs: &[PairComparison], trial: &DrawnTrial) -> f64 {
    let held = |pair: &PairComparison| {
        let truth = trial.difference(pair.first.parse().unwrap(), pair.second.parse().unwrap());
        pair.low.is_none_or(|low| low <= truth) && pair.high.is_none_or(|high| truth <= high)
    };
    f64::from(u8::from(pairs.iter().all(held)))
}

fn one_trial(design: &Design, random: &mut rng::ChaCha8Rng) -> Figures {
    let takes = APART[..design.takes.len()].to_vec();
    let (equal, apart) = (design.draw(random), TrayDesign { takes, ..design.clone() }.draw(random));
    let mut figures = Figures::default();
    for (family, against) in [("pairs", None), ("control", Some("0"))] {
        let (false_claim, coverage) = match family {
            "pairs" => ("false claim, pairs", "coverage, pairs"),
            _ => ("false claim, control", "coverage, control"),
        };
        let found = pairs(&equal, "holm", against);
        let raw: Vec<f64> = found.iter().filter_map(|pair| pair.p).collect();
        for (at, adjust) in ADJUSTED.into_iter().enumerate() {
            let adjusted = adjusted_p(&raw, adjust, &Control::new()).unwrap();
            figures.add(false_claim, at, f64::from(u8::from(adjusted.iter().any(|p| *p <= 0.05))));
        }
        figures.add(coverage, 0, all_hold(&found, &equal));
        figures.add(coverage, 1, all_hold(&pairs(&apart, "holm", against), &apart));
        figures.add(coverage, 2, all_hold(&pairs(&apart, "none", against), &apart));
    }
    figures
}

#[test]
fn together_claims_and_intervals_hold() {
    let results = run(designs(), full().unwrap_or(80), one_trial);
    for family in ["pairs", "control"] {
        let (false_claim, coverage) = match family {
            "pairs" => ("false claim, pairs", "coverage, pairs"),
            _ => ("false claim, control", "coverage, control"),
        };
        println!(
            "\n### Some false claim: {family}\n\n| adjustment | mean | highest design | with 8 strengths |\n|---|---|---|---|"
        );
        for (at, adjust) in ADJUSTED.into_iter().enumerate() {
            let all = results.of(false_claim, at, |_| true).unwrap();
            let eight = results.of(false_claim, at, |design| design.takes.len() == 8).unwrap();
            let cells = [all.mean, all.high, eight.mean].map(|value| percent(Some(value)));
            println!("| {} | {} |", adjust.name(), cells.join(" | "));
        }
        println!(
            "\n### All intervals hold: {family}\n\n| takes | mean | lowest design | with 8 strengths |\n|---|---|---|---|"
        );
        for (at, name) in ["equal, holm", "different, holm", "different, not adjusted"].into_iter().enumerate() {
            let all = results.of(coverage, at, |_| true).unwrap();
            let eight = results.of(coverage, at, |design| design.takes.len() == 8).unwrap();
            let cells = [all.mean, all.low, eight.mean].map(|value| percent(Some(value)));
            println!("| {name} | {} |", cells.join(" | "));
        }
        // Few trials leave a standard error of 2.5 points in one design.
        let slack = 3.5 * (0.06 * 0.94 / results.runs as f64).sqrt();
        let alarm = results.of(false_claim, 0, |_| true).unwrap();
        assert!(alarm.mean <= 0.055 && alarm.high <= 0.06 + slack, "{family}: {alarm:?}");
        for at in [0, 1] {
            let held = results.of(coverage, at, |_| true).unwrap();
            assert!(held.mean >= 0.94 && held.low >= 0.91 - slack, "{family}: {held:?}");
        }
        let free = results.of(false_claim, 5, |design| design.takes.len() == 8).unwrap();
        assert!(free.mean > 0.10, "{family}: what no adjustment does, {free:?}");
    }
}
