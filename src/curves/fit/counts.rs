//! The trays of one curve by strength, and what they weigh.

use super::beside::{Beside, Cell};
use super::data::Data;
use crate::curves::input::{CurveTrays, TrayCount};
use crate::math::rng;
use crate::models::mixed::TrayDensity;
use crate::rates::{Arm, TraySpread};

/// Trays at each strength, in rising order, with the design effect of each strength.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Counts {
    pub(crate) strengths: Vec<f64>,
    pub(crate) arms: Vec<Arm>,
    pub(super) effects: Vec<f64>,
    /// The block of each tray, from 0, one after the other; all 0 where none is taken out.
    pub(crate) blocks: Vec<Vec<usize>>,
    /// The codes of the blocks in the input, in rising order.
    pub(crate) codes: Vec<u32>,
    law: CurveTrays,
    shift: Option<f64>,
    icc: f64,
}

impl Counts {
    /// Trays by strength; `spread` is that of all curves together, none where cuttings are counted one by one.
    pub(crate) fn new(trays: &[TrayCount], spread: Option<&TraySpread>, shift: Option<f64>) -> Self {
        let mut strengths: Vec<f64> = trays.iter().map(|tray| tray.strength).collect();
        strengths.sort_unstable_by(f64::total_cmp);
        strengths.dedup();
        let mut codes: Vec<u32> = trays.iter().filter_map(|tray| tray.block).collect();
        codes.sort_unstable();
        codes.dedup();
        let own = |strength: f64| trays.iter().filter(move |tray| tray.strength.total_cmp(&strength).is_eq());
        let arm = |strength: &f64| {
            let (rooted, stuck) = own(*strength).map(|tray| (tray.rooted, tray.stuck)).unzip();
            Arm { rooted, stuck }
        };
        let arms: Vec<Arm> = strengths.iter().map(arm).collect();
        let block = |tray: &TrayCount| tray.block.and_then(|code| codes.binary_search(&code).ok()).unwrap_or(0);
        let blocks = strengths.iter().map(|strength| own(*strength).map(block).collect()).collect();
        let effects = arms.iter().map(|arm| spread.map_or(1.0, |spread| spread.design_effect(arm))).collect();
        let icc = spread.map_or(0.0, TraySpread::icc_used);
        Self { strengths, arms, effects, blocks, codes, law: CurveTrays::Auto, shift, icc }
    }

    /// The same trays as the option says: under a law of their own, or with one dispersion for all.
    pub(super) fn under(mut self, law: CurveTrays, spread: Option<&TraySpread>) -> Self {
        self.law = law;
        if let (CurveTrays::Dispersion, Some(spread)) = (law, spread) {
            let dispersion = spread.dispersion.unwrap_or(1.0).max(1.0);
            let size = self.cuttings() as f64 / self.units().max(1) as f64;
            self.effects.fill(dispersion);
            self.icc = ((dispersion - 1.0) / (size - 1.0).max(1.0)).clamp(0.0, 0.95);
        }
        self
    }

    /// The places of the trays, for the spread between them.
    pub(crate) fn places(&self, offset: u32) -> Vec<Vec<u32>> {
        self.blocks.iter().map(|arm| arm.iter().map(|block| offset + *block as u32).collect()).collect()
    }

    /// Blocks taken out, 1 where none is.
    pub(super) fn n_blocks(&self) -> usize {
        self.codes.len().max(1)
    }

    fn data(&self, totals: impl Iterator<Item = (f64, f64)>) -> Data {
        let levels = self.strengths.iter().zip(totals).zip(&self.effects);
        let counts: Vec<(f64, f64, f64)> = levels.map(|((d, (y, n)), effect)| (*d, y / effect, n / effect)).collect();
        Data::new(&counts, self.shift)
    }

    /// Effective counts per strength, with the blocks and the law of the trays.
    pub(crate) fn effective(&self) -> Data {
        let mut data = self.data(self.arms.iter().map(Arm::total));
        if !self.all_alike() {
            data.beside = self.beside(self.arms.iter().map(|arm| arm.rooted.clone()).collect()).map(Box::new);
        }
        data
    }

    /// What stands beside the shape when the trays have these counts.
    fn beside(&self, rooted: Vec<Vec<u64>>) -> Option<Beside> {
        let law = self.density();
        if law.is_none() && self.codes.len() < 2 {
            return None;
        }
        let rows = rooted.iter().zip(&self.arms).zip(&self.blocks).zip(&self.effects);
        let levels = rows.map(|(((rooted, arm), blocks), effect)| {
            let trays = rooted.iter().zip(&arm.stuck).zip(blocks);
            let trays: Vec<Cell> = trays
                .map(|((y, m), block)| Cell { block: *block, rooted: *y as f64, stuck: *m as f64 })
                .filter(|cell| cell.stuck > 0.0)
                .collect();
            if law.is_some() { trays } else { by_block(&trays, self.n_blocks(), *effect) }
        });
        let levels = levels.collect();
        Some(Beside::new(law, self.n_blocks(), levels, self.icc))
    }

    /// The law of the trays.
    fn density(&self) -> Option<TrayDensity> {
        let sizes = self.arms.iter().flat_map(|arm| arm.stuck.iter().map(|m| *m as f64));
        match self.law {
            // Rules for all counts that drawn trials can hold.
            CurveTrays::BetaBinomial => {
                let most = sizes.fold(0.0_f64, f64::max) as u64;
                Some(TrayDensity::beta((0..=most).map(|k| k as f64)))
            }
            CurveTrays::Random => Some(TrayDensity::Random),
            CurveTrays::Auto | CurveTrays::Dispersion | CurveTrays::Ignore => None,
        }
    }

    /// Trays drawn around these rates of the shape; `beside` are the coordinates beside it.
    pub(crate) fn drawn(&self, rates: &[f64], fitted: (&Data, &[f64]), random: &mut rng::ChaCha8Rng) -> Data {
        let (data, beside) = fitted;
        let Some(known) = &data.beside else {
            let mut totals = Vec::with_capacity(self.arms.len());
            for (arm, rate) in self.arms.iter().zip(rates) {
                let drawn: u64 =
                    arm.stuck.iter().map(|stuck| rng::beta_binomial(random, *stuck, *rate, self.icc)).sum();
                totals.push((drawn as f64, arm.total().1));
            }
            return self.data(totals.into_iter());
        };
        let mut rooted = Vec::with_capacity(self.arms.len());
        for ((arm, blocks), rate) in self.arms.iter().zip(&self.blocks).zip(rates) {
            let trays = arm.stuck.iter().zip(blocks);
            let own: Vec<u64> =
                trays.map(|(stuck, block)| known.draw((*block, *stuck), *rate, (beside, self.icc), random)).collect();
            rooted.push(own);
        }
        let totals = rooted.iter().zip(&self.arms).map(|(own, arm)| (own.iter().sum::<u64>() as f64, arm.total().1));
        let mut data = self.data(totals.collect::<Vec<_>>().into_iter());
        data.beside = self.beside(rooted).map(Box::new);
        data
    }

    /// Design effect of a tray of this many cuttings.
    pub(crate) fn effect_of(&self, cuttings: f64) -> f64 {
        1.0 + (cuttings - 1.0).max(0.0) * self.icc.max(0.0)
    }

    /// Trays in all.
    pub(crate) fn units(&self) -> u64 {
        self.arms.iter().map(|arm| arm.stuck.len() as u64).sum()
    }

    /// Cuttings in all.
    pub(crate) fn cuttings(&self) -> u64 {
        self.arms.iter().flat_map(|arm| &arm.stuck).sum()
    }

    /// True when all cuttings rooted, or none did.
    pub(crate) fn all_alike(&self) -> bool {
        let rooted: u64 = self.arms.iter().flat_map(|arm| &arm.rooted).sum();
        rooted == 0 || rooted == self.cuttings()
    }

    /// True when some tray has two cuttings, so that their correlation can be told.
    pub(super) fn has_pairs(&self) -> bool {
        self.arms.iter().flat_map(|arm| &arm.stuck).any(|m| *m > 1)
    }
}

/// Effective counts of each block.
fn by_block(trays: &[Cell], blocks: usize, effect: f64) -> Vec<Cell> {
    let mut all: Vec<Cell> = (0..blocks).map(|block| Cell { block, rooted: 0.0, stuck: 0.0 }).collect();
    for tray in trays {
        if let Some(cell) = all.get_mut(tray.block) {
            cell.rooted += tray.rooted / effect;
            cell.stuck += tray.stuck / effect;
        }
    }
    all.retain(|cell| cell.stuck > 0.0);
    all
}
