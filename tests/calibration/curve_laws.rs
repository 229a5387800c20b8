//! Strength curves under laws of the trays, and with blocks taken out or left in the spread: what the same drawn trials say under each.

use rootling::curves::{BlocksUse, CurveBlocks, CurveOptions, CurveTrays, Located, TrayCount};
use rootling::math::rng;
use rootling::math::special::{expit, logit};

use crate::curves::{Truth, ask, tested};
use crate::summary::Figures;

/// A trial to draw: blocks hold one tray of each strength.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct LawCase {
    pub truth: Truth,
    pub strengths: Vec<f64>,
    pub trays: usize,
    /// SD of blocks on the log odds; none without blocks.
    pub blocks: Option<f64>,
}

/// How the same trial is looked at: trays, blocks.
pub(crate) const LOOKS: [(CurveTrays, BlocksUse); 5] = [
    (CurveTrays::Auto, BlocksUse::Spread),
    (CurveTrays::Auto, BlocksUse::Auto),
    (CurveTrays::Dispersion, BlocksUse::Auto),
    (CurveTrays::BetaBinomial, BlocksUse::Auto),
    (CurveTrays::Random, BlocksUse::Auto),
];

/// Designs: four humps, five to eight strengths; `sd` is that of the blocks.
pub(crate) fn cases(sizes: &[(usize, usize)], sd: Option<f64>) -> Vec<LawCase> {
    let humps = [
        Truth::Hump(500.0, 2000.0, 0.70, 0.15),
        Truth::Hump(1000.0, 2500.0, 0.65, 0.20),
        Truth::Plateau(900.0, 5500.0),
        Truth::Stimulus(0.2, 0.000_37, 3200.0, 2.5),
    ];
    let case = |truth: Truth| {
        sizes.iter().map(move |(count, trays)| LawCase {
            truth,
            strengths: tested(*count, 8000.0),
            trays: *trays,
            blocks: sd,
        })
    };
    humps.into_iter().flat_map(case).collect()
}

/// One trial under each look of `looks` (places in [`LOOKS`]): coverage, location, width on `ln(1 + d / 500)`.
pub(crate) fn one_trial(case: &LawCase, looks: &[usize], random: &mut rng::ChaCha8Rng) -> Figures {
    let shifts: Vec<f64> = (0..case.trays).map(|_| case.blocks.map_or(0.0, |sd| sd * rng::deviate(random))).collect();
    let mut trays = Vec::new();
    for strength in &case.strengths {
        for (block, shift) in shifts.iter().enumerate() {
            let take = expit(logit(case.truth.rate(*strength)) + shift);
            let rooted = rng::beta_binomial(random, 20, take, 0.05);
            let block = case.blocks.map(|_| block as u32);
            trays.push(TrayCount { strength: *strength, rooted, stuck: 20, block });
        }
    }
    let most = *case.strengths.last().unwrap();
    let top = case.truth.top(10.0 * most);
    // The take over the blocks of the trial.
    let over = |d: f64| {
        let eta = logit(case.truth.rate(d).clamp(1e-9, 1.0 - 1e-9));
        shifts.iter().map(|shift| expit(eta + shift)).sum::<f64>() / shifts.len() as f64
    };
    let at = |i: i32| most * (f64::from(i) / 2000.0).powi(2);
    let adequate = (0..=2000).map(at).find(|d| over(*d) >= 0.95 * over(top)).unwrap();
    let mut figures = Figures::default();
    for look in looks {
        let (law, blocks) = LOOKS[*look];
        let out = blocks == BlocksUse::Auto && case.blocks.is_some();
        let own = trays.iter().map(|tray| TrayCount { block: tray.block.filter(|_| out), ..*tray }).collect();
        let named = out.then(|| CurveBlocks {
            column: "bench".to_owned(),
            levels: (0..case.trays).map(|b| b.to_string()).collect(),
            places: "bench".to_owned(),
        });
        let best = ask(own, named, CurveOptions { trays: law, ..CurveOptions::default() }).best;
        let yes = |is: bool| f64::from(u8::from(is));
        let found = &best.strength;
        let held = (found.open_low || found.low <= top) && (found.open_high || found.high >= top);
        let fine = &best.adequate;
        let reached = (fine.open_low || fine.low <= adequate) && (fine.open_high || fine.high >= adequate);
        figures.add("best strength", *look, yes(held));
        figures.add("adequate strength", *look, yes(reached));
        figures.add("not located", *look, yes(best.located != Located::Inside));
        let x = |d: f64| (d / 500.0).ln_1p();
        figures.add("width", *look, x(found.high) - x(found.low));
        let take = over(found.value);
        figures.add("take", *look, yes(best.take_low <= take && take <= best.take_high));
        figures.add("take width", *look, best.take_high - best.take_low);
    }
    figures
}
