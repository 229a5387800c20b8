//! Whether a difference holds up when the trays are dealt out anew within the very set that the plan was drawn from.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::asked::Asked;
use super::benches::{Benches, Dealer};
use super::made::check;
use super::numbers::Layout;
use super::phrases::shown;
use crate::answer::{Answer, MadeWith, Note, Sheet};
use crate::control::Control;
use crate::error::{ChoiceError, LayoutError, Result};
use crate::math::rng::stream;
use crate::report::references_layout::{BAILEY_1987, FISHER_1935};
use crate::report::{fitted, p_value, percent};

/// Layouts of the set take streams from here on.
const FIRST_STREAM: u64 = 1 << 32;
/// Most other layouts.
const MOST_DRAWS: u64 = 1_000_000;
/// Parts of the figure.
const PARTS: usize = 41;
/// Differences nearer than this are alike.
const ALIKE: f64 = 1e-12;
/// A test has to be able to come to this.
const REACH: f64 = 0.05;

/// What is asked.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct AnewOptions {
    /// The treatment.
    pub treatment: String,
    /// Its two levels; the difference is second minus first.
    pub levels: (String, String),
    /// Other layouts of the set to be drawn.
    pub draws: u64,
    /// Seed of these.
    pub seed: u64,
}

/// A difference among those of other layouts of the same set.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct DealtAnew {
    /// The treatment.
    pub treatment: String,
    /// The first level.
    pub first: String,
    /// The second level.
    pub second: String,
    /// Difference of mean rates of trays, second minus first.
    pub value: f64,
    /// Share of layouts whose difference is as large either way, this one among them.
    pub p: f64,
    /// Standard error of that from the number of draws.
    pub p_error: f64,
    /// Smallest P value that there can be.
    pub smallest_p: f64,
    /// Other layouts drawn.
    pub draws: u64,
    /// Trays read.
    pub n_units: u64,
    /// Trays of the plan that were not read.
    pub n_unread: u64,
    /// Differences of the other layouts in parts of equal width.
    pub counts: Vec<u64>,
    /// The parts run from minus this to plus this.
    pub reach: f64,
}

/// Deals the trays out anew within the set of their plan and asks how often two levels then differ as much; `rates` are of trays by code.
///
/// Each layout of the set is as likely as the others, so the share is a valid P value whatever places, rows and columns do, also under
/// restrictions. It takes for granted that a tray would have rooted alike with either level.
///
/// # Errors
/// [`LayoutError::NoPlan`] for a plan that was changed or rates of other trays; a treatment or a level that the plan does not have.
///
/// # References
/// Fisher 1935; Bailey 1987.
pub fn dealt_anew(
    layout: &Layout,
    rates: &BTreeMap<String, f64>,
    options: &AnewOptions,
    control: &Control,
) -> Result<Answer<DealtAnew>> {
    check(layout)?;
    if !(19..=MOST_DRAWS).contains(&options.draws) {
        let (value, hint) = (options.draws, "999 tell a P value of 0.001".to_owned());
        return Err(LayoutError::Outside { option: "draws", value, least: 19, most: MOST_DRAWS, hint }.into());
    }
    let asked = Asked::new(&layout.options)?;
    let (at, levels) = levels_of(&asked, options)?;
    let known: Vec<Option<f64>> = layout.trays.iter().map(|tray| rates.get(&tray.tray).copied()).collect();
    let read = known.iter().flatten().count();
    if read != rates.len() || read == 0 {
        return Err(LayoutError::NoPlan { what: "the trial holds trays that it does not have".to_owned() }.into());
    }
    let own: Vec<Option<usize>> = layout.trays.iter().map(|tray| level_at(&asked, at, tray.levels.get(at)?)).collect();
    let value = difference(&own, &known, levels);
    let Some(value) = value else {
        let what = format!("no tray with {:?} or with {:?} was read", options.levels.0, options.levels.1);
        return Err(LayoutError::NoPlan { what }.into());
    };
    let others = drawn(&asked, (at, levels), &known, options, control)?;
    Ok(told(layout, options, found(layout, options, (value, read), &others)))
}

/// The differences of other layouts of the set.
fn drawn(
    asked: &Asked<'_>,
    (at, levels): (usize, (usize, usize)),
    known: &[Option<f64>],
    options: &AnewOptions,
    control: &Control,
) -> Result<Vec<f64>> {
    let dealer = Dealer::new(asked)?;
    control.expect(options.draws);
    let mut others = Vec::with_capacity(options.draws as usize);
    for draw in 0..options.draws {
        control.step()?;
        let dealt = dealer.deal(&mut stream(options.seed, FIRST_STREAM + draw))?;
        others.extend(difference(&levels_dealt(asked, at, &dealt), known, levels));
        control.finish(1);
    }
    Ok(others)
}

fn found(layout: &Layout, options: &AnewOptions, (value, read): (f64, usize), others: &[f64]) -> DealtAnew {
    let as_large = others.iter().filter(|other| other.abs() >= value.abs() - ALIKE).count() as f64;
    let all = others.len() as f64 + 1.0;
    let p = (as_large + 1.0) / all;
    let reach = others.iter().fold(value.abs(), |most, other| most.max(other.abs())).max(ALIKE);
    let mut counts = vec![0_u64; PARTS];
    for other in others {
        let part = (f64::midpoint(other / reach, 1.0) * PARTS as f64) as usize;
        if let Some(slot) = counts.get_mut(part.min(PARTS - 1)) {
            *slot += 1;
        }
    }
    DealtAnew {
        treatment: options.treatment.clone(),
        first: options.levels.0.clone(),
        second: options.levels.1.clone(),
        value,
        p,
        p_error: (p * (1.0 - p) / all).sqrt(),
        // Of two levels among several more layouts differ than the set tells of all.
        smallest_p: layout.set.smallest_p.filter(|_| layout.n_combinations == 2).unwrap_or(0.0).max(1.0 / all),
        draws: others.len() as u64,
        n_units: read as u64,
        n_unread: layout.n_units - read as u64,
        counts,
        reach,
    }
}

/// The place of the treatment and of its two levels.
fn levels_of(asked: &Asked<'_>, options: &AnewOptions) -> Result<(usize, (usize, usize))> {
    let names: Vec<&str> = asked.options.treatments.iter().map(|one| one.name.as_str()).collect();
    let Some(at) = names.iter().position(|name| *name == options.treatment) else {
        return Err(ChoiceError::new("treatment", &options.treatment, &names).into());
    };
    let known = asked.levels.get(at).cloned().unwrap_or_default();
    let place = |level: &str| {
        let what = format!("level of {}", options.treatment);
        known.iter().position(|one| *one == level).ok_or_else(|| ChoiceError::new(&what, level, &known))
    };
    Ok((at, (place(&options.levels.0)?, place(&options.levels.1)?)))
}

fn level_at(asked: &Asked<'_>, at: usize, level: &str) -> Option<usize> {
    asked.levels.get(at)?.iter().position(|one| *one == level)
}

/// The level of the treatment in each tray, in the order of the plan.
fn levels_dealt(asked: &Asked<'_>, at: usize, dealt: &Benches) -> Vec<Option<usize>> {
    let level = |combination: &usize| asked.combinations.get(*combination)?.get(at).copied();
    dealt.benches.iter().flat_map(|bench| &bench.trays).map(level).collect()
}

/// Difference of mean rates, second minus first; None where a level has no tray that was read.
fn difference(levels: &[Option<usize>], rates: &[Option<f64>], (first, second): (usize, usize)) -> Option<f64> {
    let mean = |wanted: usize| {
        let own = levels.iter().zip(rates).filter(|(level, _)| **level == Some(wanted));
        let (n, sum) = own.filter_map(|(_, rate)| *rate).fold((0_u32, 0.0), |(n, sum), rate| (n + 1, sum + rate));
        (n > 0).then(|| sum / f64::from(n))
    };
    Some(mean(second)? - mean(first)?)
}

fn told(layout: &Layout, options: &AnewOptions, found: DealtAnew) -> Answer<DealtAnew> {
    let mut made_with = MadeWith::new(&[("draws", options.draws.to_string()), ("plan", layout.fingerprint.clone())]);
    made_with.seed = Some(options.seed);
    made_with.data_fingerprint = Some(layout.fingerprint.clone());
    let layouts = shown(found.draws as f64);
    let details = vec![
        format!(
            "{} of {} layouts of the plan's set differ by as much either way, this one among them.",
            shown((found.p * (found.draws as f64 + 1.0)).round()),
            shown(found.draws as f64 + 1.0)
        ),
        format!("Trays: {} read, {} not read.", found.n_units, found.n_unread),
        "The interval of trial.compare says which differences cannot be ruled out.".to_owned(),
    ];
    let mut notes = Vec::new();
    if found.smallest_p > REACH {
        let text = format!("The set of this plan can give no P value below {}.", percent(found.smallest_p));
        notes.push(Note::new("few_layouts", text));
    }
    Answer {
        kind: "dealt_anew".to_owned(),
        table: table(&found),
        sentence: sentence(&found),
        details,
        notes,
        methods: format!(
            "The difference of mean tray rates was compared with those of {layouts} other layouts drawn from the set of the plan ({}); the P value is two-sided and counts the layout itself.",
            layout.set.within
        ),
        references: [FISHER_1935, BAILEY_1987].map(str::to_owned).to_vec(),
        made_with,
        numbers: found,
    }
}

fn sentence(found: &DealtAnew) -> String {
    let side = if found.value < 0.0 { "fewer" } else { "more" };
    let gap = format!("{:.0} {side} trees per 100", (100.0 * found.value).abs());
    let levels = format!("at {} {} than at {}", found.treatment.replace('_', " "), found.second, found.first);
    let lead = if found.p <= REACH { "Holds up" } else { "Does not hold up" };
    fitted(&format!("{lead}: {gap} {levels}"), &[format!(", {} among layouts of the plan", p_value(found.p))])
}

fn table(found: &DealtAnew) -> Sheet {
    let mut sheet = Sheet::default();
    sheet.level("first", [found.first.clone()]).level("second", [found.second.clone()]);
    sheet.difference("value", [found.value]).headed("difference");
    sheet.p("p", [found.p]).p("smallest_p", [found.smallest_p]).whole("draws", [found.draws]);
    sheet
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::layout::{LayoutKind, LayoutOptions, TreatmentLevels, layout};

    fn plan(kind: LayoutKind, levels: usize, change: impl FnOnce(&mut LayoutOptions)) -> Layout {
        let treatment = TreatmentLevels { name: "k".into(), levels: (0..levels).map(|at| at.to_string()).collect() };
        let mut options = LayoutOptions::new(kind, vec![treatment]);
        options.seed = 3;
        change(&mut options);
        layout(&options).unwrap().numbers
    }

    fn asked(draws: u64) -> AnewOptions {
        AnewOptions { treatment: "k".into(), levels: ("0".into(), "1".into()), draws, seed: 1 }
    }

    /// Rates by position, the level's own part added.
    fn rates(plan: &Layout, effect: f64) -> BTreeMap<String, f64> {
        let rate = |at: usize, level: &str| 0.3 + 0.01 * (at * at % 7) as f64 + if level == "1" { effect } else { 0.0 };
        plan.trays.iter().enumerate().map(|(at, tray)| (tray.tray.clone(), rate(at, &tray.levels[0]))).collect()
    }

    #[test]
    fn in_blocks_of_two_the_p_value_is_that_of_listing() {
        let found = plan(LayoutKind::Blocks, 2, |one| one.blocks = (0..6).map(|at| at.to_string()).collect());
        let own = rates(&found, 0.02);
        let answer = dealt_anew(&found, &own, &asked(19_999), &Control::new()).unwrap().numbers;
        let gaps: Vec<f64> = found
            .trays
            .chunks(2)
            .map(|two| {
                let gap = own[&two[1].tray] - own[&two[0].tray];
                if two[1].levels[0] == "1" { gap } else { -gap }
            })
            .collect();
        let all = (0..64_u32).map(|signs| {
            let sum = gaps.iter().enumerate().map(|(at, gap)| if (signs >> at) & 1 == 1 { *gap } else { -gap });
            sum.sum::<f64>() / 6.0
        });
        let exact = all.filter(|gap| gap.abs() >= answer.value.abs() - 1e-12).count() as f64 / 64.0;
        assert!((answer.value - gaps.iter().sum::<f64>() / 6.0).abs() < 1e-12);
        assert!((answer.p - exact).abs() < 4.0 * answer.p_error.max(0.001), "{} {exact}", answer.p);
        assert_eq!(answer.smallest_p, 2.0 / 64.0);
    }

    #[test]
    fn every_layout_of_a_plan_has_its_shape() {
        for (kind, levels) in
            [(LayoutKind::IncompleteBlocks, 11), (LayoutKind::Augmented, 11), (LayoutKind::LatinSquare, 5)]
        {
            let found = plan(kind, levels, |one| match kind {
                LayoutKind::IncompleteBlocks => (one.per_block, one.trays) = (Some(4), Some(3)),
                LayoutKind::Augmented => {
                    one.blocks = vec!["a".into(), "b".into(), "c".into()];
                    one.controls = vec!["c".into()];
                }
                _ => {}
            });
            for seed in 0..20 {
                let mut options = found.options.clone();
                options.seed = seed;
                let other = layout(&options).unwrap().numbers;
                let place = |one: &Layout| {
                    one.trays.iter().map(|tray| (tray.bench.clone(), tray.row, tray.column)).collect::<Vec<_>>()
                };
                assert_eq!(place(&other), place(&found), "{kind:?}");
            }
            assert!(dealt_anew(&found, &rates(&found, 0.3), &asked(99), &Control::new()).is_ok());
        }
    }

    #[test]
    fn rates_of_other_trays_are_refused() {
        let found = plan(LayoutKind::CompletelyRandomised, 2, |one| one.trays = Some(5));
        let mut own = rates(&found, 0.0);
        own.insert("Z999Z".to_owned(), 0.4);
        let refused = dealt_anew(&found, &own, &asked(99), &Control::new()).unwrap_err().to_string();
        assert!(refused.contains("trays that it does not have"), "{refused}");
    }
}
