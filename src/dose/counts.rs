//! The trays of one curve by strength, and what they weigh.

use super::axis::Data;
use crate::math::rng;
use crate::rates::{Arm, TraySpread};

/// Trays at each strength, in rising order, with the design effect of each strength.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Counts {
    pub(super) strengths: Vec<f64>,
    pub(super) arms: Vec<Arm>,
    pub(super) effects: Vec<f64>,
    shift: Option<f64>,
    icc: f64,
}

impl Counts {
    /// Trays by strength; `spread` is that of all curves together, none where cuttings are counted one by one.
    pub(super) fn new(trays: &[(f64, u64, u64)], spread: Option<&TraySpread>, shift: Option<f64>) -> Self {
        let mut strengths: Vec<f64> = trays.iter().map(|tray| tray.0).collect();
        strengths.sort_unstable_by(f64::total_cmp);
        strengths.dedup();
        let arm = |strength: &f64| {
            let own = trays.iter().filter(|tray| tray.0 == *strength);
            let (rooted, stuck) = own.map(|tray| (tray.1, tray.2)).unzip();
            Arm { rooted, stuck }
        };
        let arms: Vec<Arm> = strengths.iter().map(arm).collect();
        let effects = arms.iter().map(|arm| spread.map_or(1.0, |spread| spread.design_effect(arm))).collect();
        Self { strengths, arms, effects, shift, icc: spread.map_or(0.0, TraySpread::icc_used) }
    }

    fn data(&self, totals: impl Iterator<Item = (f64, f64)>) -> Data {
        let levels = self.strengths.iter().zip(totals).zip(&self.effects);
        let counts: Vec<(f64, f64, f64)> = levels.map(|((d, (y, n)), effect)| (*d, y / effect, n / effect)).collect();
        Data::new(&counts, self.shift)
    }

    /// Effective counts per strength.
    pub(super) fn effective(&self) -> Data {
        self.data(self.arms.iter().map(Arm::total))
    }

    /// Effective counts of trays drawn around these rates.
    pub(super) fn drawn(&self, rates: &[f64], random: &mut rng::ChaCha8Rng) -> Data {
        let mut totals = Vec::with_capacity(self.arms.len());
        for (arm, rate) in self.arms.iter().zip(rates) {
            let drawn: u64 = arm.stuck.iter().map(|stuck| rng::beta_binomial(random, *stuck, *rate, self.icc)).sum();
            totals.push((drawn as f64, arm.total().1));
        }
        self.data(totals.into_iter())
    }

    /// Design effect of a tray of this many cuttings.
    pub(super) fn effect_of(&self, cuttings: f64) -> f64 {
        1.0 + (cuttings - 1.0).max(0.0) * self.icc.max(0.0)
    }

    /// Trays in all.
    pub(super) fn units(&self) -> u64 {
        self.arms.iter().map(|arm| arm.stuck.len() as u64).sum()
    }

    /// Cuttings in all.
    pub(super) fn cuttings(&self) -> u64 {
        self.arms.iter().flat_map(|arm| &arm.stuck).sum()
    }

    /// True when all cuttings rooted, or none did.
    pub(super) fn all_alike(&self) -> bool {
        let rooted: u64 = self.arms.iter().flat_map(|arm| &arm.rooted).sum();
        rooted == 0 || rooted == self.cuttings()
    }
}
