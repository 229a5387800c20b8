//! Invented trials for tests: every law of the trays, with blocks and without, strengths that root all or none.

use super::fits::Fits;
use crate::control::Control;
use crate::curves::fit::Curve;
use crate::curves::input::{CurveBlocks, CurveGroup, CurveInput, CurveOptions, CurveTrays, TrayCount};
use crate::math::rng::{binomial, deviate, stream};
use crate::math::special::{expit, logit};

const STRENGTHS: [f64; 5] = [0.0, 1000.0, 2000.0, 4000.0, 8000.0];

/// Takes that fall clearly at the highest strength. Where they hardly do, a rise times a fall may drop as steeply as its box allows just before it: a ridge
/// of the likelihood that is thinner than searches from fixed starts are sure to find.
const TAKES: [[f64; 5]; 4] =
    [[0.2, 0.45, 0.7, 0.6, 0.3], [0.0, 0.4, 0.7, 0.5, 0.0], [0.3, 0.6, 1.0, 0.7, 0.2], [0.15, 0.38, 0.55, 0.72, 0.62]];

/// A trial of 2 or 3 blocks with two trays of each strength, drawn by its number.
pub(crate) fn trial(number: u64, law: CurveTrays, blocks: u32) -> CurveInput {
    let mut draw = stream(29, number);
    let takes = TAKES[number as usize % TAKES.len()];
    let mut trays = Vec::new();
    for block in 0..blocks.max(2) {
        let shift = 0.4 * deviate(&mut draw);
        for (strength, take) in STRENGTHS.into_iter().zip(takes) {
            for _ in 0..2 {
                let eta = logit(take.clamp(1e-9, 1.0 - 1e-9)) + shift + 0.4 * deviate(&mut draw);
                let rooted = binomial(&mut draw, 24, expit(eta));
                trays.push(TrayCount { strength, rooted, stuck: 24, block: (blocks > 0).then_some(block) });
            }
        }
    }
    let named = || (1..=blocks).map(|block| format!("B{block}")).collect();
    CurveInput {
        strength: None,
        unit: "mg/L".to_owned(),
        counted: true,
        pooled: false,
        unit_of: "tray".to_owned(),
        called: String::new(),
        blocks: (blocks > 0).then(|| CurveBlocks {
            column: "bench".to_owned(),
            levels: named(),
            places: "bench".to_owned(),
        }),
        bays: None,
        places: None,
        groups: vec![CurveGroup { levels: Vec::new(), trays }],
        damage: Vec::new(),
        notes: Vec::new(),
        options: CurveOptions { trays: law, ..CurveOptions::default() },
    }
}

/// Curves of several trials under every law.
pub(crate) fn curves(count: u64) -> impl Iterator<Item = (String, Curve)> {
    let laws = [CurveTrays::Auto, CurveTrays::BetaBinomial, CurveTrays::Random];
    let all = laws.into_iter().flat_map(|law| [0, 2].map(|blocks| (law, blocks)));
    all.flat_map(move |(law, blocks)| (0..count).map(move |number| (number, law, blocks))).map(
        |(number, law, blocks)| {
            let found = Fits::new(trial(number, law, blocks), &Control::new()).unwrap();
            let name = format!("{} in {blocks} blocks, trial {number}", law.name());
            (name, found.each().next().unwrap().1.clone())
        },
    )
}
