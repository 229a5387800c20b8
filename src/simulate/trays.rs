//! Trials of several treatments in trays, with or without blocks.

use crate::math::rng;
use crate::rates::Arm;
use crate::trial::{Factor, UnitKind, Units};

/// How many cuttings the trays hold.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TraySizes {
    /// All the same.
    Equal,
    /// Half, one and one and a half times as many in turn, the turn shifted from treatment to treatment.
    Uneven,
}

/// Blocks that hold every treatment.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Blocks {
    /// Trays of each treatment in a block.
    pub trays: usize,
    /// Standard deviation of block effects on the log odds.
    pub sd: f64,
}

/// A trial to draw: every treatment has the same number of trays, and cuttings of one tray are correlated.
///
/// ```
/// use rootling::simulate::{TrayDesign, TraySizes};
/// let design =
///     TrayDesign { takes: vec![0.3, 0.5], trays: 6, cuttings: 20, sizes: TraySizes::Equal, icc: 0.05, blocks: None };
/// let trial = design.draw(&mut rootling::math::rng::stream(1, 0));
/// assert_eq!(trial.arms.len(), 2);
/// assert_eq!(trial.arms.iter().map(|arm| arm.stuck.iter().sum::<u64>()).sum::<u64>(), 240);
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct TrayDesign {
    /// Take rate of each treatment, 0 to 1; with blocks, that of a block without effect.
    pub takes: Vec<f64>,
    /// Trays per treatment.
    pub trays: usize,
    /// Cuttings per tray (on average).
    pub cuttings: u64,
    /// Whether trays are of one size.
    pub sizes: TraySizes,
    /// Intraclass correlation within trays, 0 to 1, beta-binomial.
    pub icc: f64,
    /// Blocks, where there are any.
    pub blocks: Option<Blocks>,
}

/// A drawn trial, with what is true of it.
#[derive(Debug, Clone, PartialEq)]
pub struct DrawnTrial {
    /// Counts of each treatment.
    pub arms: Vec<Arm>,
    /// Block of every tray of every treatment; all 0 without blocks.
    pub blocks: Vec<Vec<u32>>,
    /// Expected take of every tray of every treatment, given its block.
    pub expected: Vec<Vec<f64>>,
}

impl TrayDesign {
    /// Cuttings stuck in a tray of a treatment, both counted from 0.
    #[must_use]
    pub fn stuck(&self, treatment: usize, tray: usize) -> u64 {
        let half = self.cuttings as f64 / 2.0;
        match (self.sizes, (tray + treatment) % 3) {
            (TraySizes::Uneven, 0) => half.round().max(1.0) as u64,
            (TraySizes::Uneven, 2) => (3.0 * half).round() as u64,
            _ => self.cuttings,
        }
    }

    /// Draws the trial.
    pub fn draw(&self, random: &mut rng::ChaCha8Rng) -> DrawnTrial {
        let block = |tray: usize| self.blocks.map_or(0, |blocks| tray / blocks.trays.max(1));
        let effects: Vec<f64> = match self.blocks {
            Some(blocks) => {
                (0..=block(self.trays.saturating_sub(1))).map(|_| blocks.sd * rng::deviate(random)).collect()
            }
            None => Vec::new(),
        };
        let mut trial = DrawnTrial { arms: Vec::new(), blocks: Vec::new(), expected: Vec::new() };
        for (treatment, take) in self.takes.iter().enumerate() {
            let mut arm = Arm::default();
            let mut expected = Vec::with_capacity(self.trays);
            for tray in 0..self.trays {
                let rate = effects.get(block(tray)).map_or(*take, |effect| shifted(*take, *effect));
                let stuck = self.stuck(treatment, tray);
                arm.stuck.push(stuck);
                arm.rooted.push(rng::beta_binomial(random, stuck, rate, self.icc));
                expected.push(rate);
            }
            trial.arms.push(arm);
            trial.expected.push(expected);
            trial.blocks.push((0..self.trays).map(|tray| block(tray) as u32).collect());
        }
        trial
    }
}

impl DrawnTrial {
    /// The arms of two treatments in each block.
    #[must_use]
    pub fn strata(&self, first: usize, second: usize) -> Vec<(Arm, Arm)> {
        let last = self.blocks.iter().flatten().max().map_or(0, |last| last + 1);
        let of = |treatment: usize, block: u32| -> Arm {
            let (Some(arm), Some(blocks)) = (self.arms.get(treatment), self.blocks.get(treatment)) else {
                return Arm::default();
            };
            let trays = arm.rooted.iter().zip(&arm.stuck).zip(blocks).filter(|(_, own)| **own == block);
            let (rooted, stuck) = trays.map(|((rooted, stuck), _)| (*rooted, *stuck)).unzip();
            Arm { rooted, stuck }
        };
        (0..last).map(|block| (of(first, block), of(second, block))).collect()
    }

    /// The true difference of two treatments over the blocks drawn, second minus first, each block weighted by
    /// `n1 n2 / (n1 + n2)` on its cuttings.
    #[must_use]
    pub fn difference(&self, first: usize, second: usize) -> f64 {
        let mut sums: std::collections::BTreeMap<u32, [(f64, f64); 2]> = std::collections::BTreeMap::new();
        for (side, treatment) in [first, second].into_iter().enumerate() {
            let (Some(arm), Some(blocks), Some(expected)) =
                (self.arms.get(treatment), self.blocks.get(treatment), self.expected.get(treatment))
            else {
                return f64::NAN;
            };
            for ((stuck, block), rate) in arm.stuck.iter().zip(blocks).zip(expected) {
                if let Some(sum) = sums.entry(*block).or_default().get_mut(side) {
                    sum.0 += *stuck as f64 * rate;
                    sum.1 += *stuck as f64;
                }
            }
        }
        let (above, below) = sums.values().fold((0.0, 0.0), |(above, below), [first, second]| {
            let weight = first.1 * second.1 / (first.1 + second.1);
            (above + weight * (second.0 / second.1 - first.0 / first.1), below + weight)
        });
        above / below
    }

    /// The trial as typed columns: the treatment `strength` with levels 0, 1, ..., trays, and `bench` when there are blocks.
    #[must_use]
    pub fn units(&self) -> Units {
        let flat = |pick: fn(&Arm) -> &Vec<u64>| self.arms.iter().flat_map(pick).copied().collect::<Vec<u64>>();
        let (rooted, stuck) = (flat(|arm| &arm.rooted), flat(|arm| &arm.stuck));
        let arms = self.arms.iter().enumerate();
        let codes = arms.flat_map(|(at, arm)| vec![at as u32; arm.stuck.len()]).collect();
        let blocks: Vec<u32> = self.blocks.iter().flatten().copied().collect();
        let several = blocks.iter().any(|block| *block > 0);
        Units {
            kind: UnitKind::Tray,
            treatments: vec![coded("strength", codes)],
            tray: Some(coded("tray", (0..stuck.len() as u32).collect())),
            block: several.then(|| coded("bench", blocks)),
            whole_plot: None,
            season: None,
            earlier: None,
            stock_plant: None,
            covariates: Vec::new(),
            rooted,
            stuck,
        }
    }
}

/// A factor whose levels are the numbers 0, 1, ... of its codes.
pub(crate) fn coded(name: &str, codes: Vec<u32>) -> Factor {
    let last = codes.iter().max().map_or(0, |last| last + 1);
    Factor { name: name.to_owned(), levels: (0..last).map(|level| level.to_string()).collect(), numbers: None, codes }
}

/// A take moved by an effect on the log odds.
pub(crate) fn shifted(take: f64, effect: f64) -> f64 {
    let grown = take * effect.exp();
    grown / (grown + 1.0 - take)
}
