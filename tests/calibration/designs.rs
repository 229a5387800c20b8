//! The designs that are simulated.

use rootling::simulate::{Blocks, SplitPlotDesign, TrayDesign, TraySizes};

use crate::effects::Factorial;

/// A design without differences, and the same with them.
#[derive(Clone)]
pub(crate) struct Case {
    pub equal: TrayDesign,
    /// The same with the second treatment's take moved (and a third to fifth spread out).
    pub unequal: TrayDesign,
}

impl std::fmt::Debug for Case {
    fn fmt(&self, to: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let TrayDesign { takes, trays, cuttings, icc, .. } = &self.equal;
        write!(to, "{} treatments, {trays} trays x {cuttings}, ICC {icc}, take {}", takes.len(), takes[0])
    }
}

impl Case {
    fn new(
        treatments: usize,
        trays: usize,
        cuttings: u64,
        icc: f64,
        take: f64,
        sizes: TraySizes,
        blocks: Option<Blocks>,
    ) -> Self {
        let equal = TrayDesign { takes: vec![take; treatments], trays, cuttings, sizes, icc, blocks };
        let takes = [take, moved(take), 0.3, 0.5, 0.7];
        let unequal = TrayDesign { takes: takes[..treatments].to_vec(), ..equal.clone() };
        Self { equal, unequal }
    }

    pub(crate) fn trays(&self) -> usize {
        self.equal.trays
    }

    pub(crate) fn take(&self) -> f64 {
        self.equal.takes[0]
    }
}

/// The take of the second treatment where takes differ.
fn moved(take: f64) -> f64 {
    match take {
        take if take > 0.9 => 0.85,
        take if take > 0.7 => 0.95,
        take => take + 0.2,
    }
}

const TREATMENTS: [usize; 2] = [2, 5];
const TRAYS: [usize; 5] = [3, 4, 6, 8, 12];
const CUTTINGS: [u64; 4] = [5, 10, 20, 40];
const ICC: [f64; 5] = [0.0, 0.01, 0.05, 0.10, 0.15];
const TAKE: [f64; 5] = [0.02, 0.1, 0.5, 0.8, 0.98];

/// Every combination; `blocks` of `None` leaves them out.
pub(crate) fn grid(sizes: TraySizes, blocks: Option<Blocks>) -> Vec<Case> {
    let mut all = Vec::new();
    for treatments in TREATMENTS {
        for trays in TRAYS.into_iter().filter(|trays| blocks.is_none_or(|blocks| trays % blocks.trays == 0)) {
            for cuttings in CUTTINGS {
                for icc in ICC {
                    all.extend(TAKE.map(|take| Case::new(treatments, trays, cuttings, icc, take, sizes, blocks)));
                }
            }
        }
    }
    all
}

/// Few designs that hold the corners of the grid: the fast check.
pub(crate) fn corners(sizes: TraySizes, blocks: Option<Blocks>) -> Vec<Case> {
    let mut all = Vec::new();
    for (treatments, trays) in [(2, 4), (2, 8), (5, 6)] {
        for cuttings in [5, 40] {
            for icc in [0.0, 0.15] {
                all.extend(
                    [0.02, 0.1, 0.5, 0.98].map(|take| Case::new(treatments, trays, cuttings, icc, take, sizes, blocks)),
                );
            }
        }
    }
    all
}

/// Two crossed treatments with neither, the second, or both having an effect.
pub(crate) fn factorials(full: bool) -> Vec<Factorial> {
    let mut all = Vec::new();
    let (trays, cuttings): (&[usize], &[u64]) = if full { (&[3, 4, 6, 8], &[5, 10, 20, 40]) } else { (&[4], &[5, 40]) };
    for (levels, blocks) in [((2, 3), None), ((2, 2), Some(Blocks { trays: 1, sd: 0.6 })), ((3, 3), None)] {
        for (trays, cuttings) in trays.iter().flat_map(|trays| cuttings.iter().map(move |cuttings| (*trays, *cuttings)))
        {
            for icc in [0.0, 0.05, 0.15] {
                for take in [0.02, 0.1, 0.5] {
                    for effects in [(0.0, 0.0), (0.0, 1.2), (1.0, 1.2)] {
                        let (takes, sizes) = (vec![take], TraySizes::Equal);
                        let design = TrayDesign { takes, trays, cuttings, sizes, icc, blocks };
                        all.push(Factorial::new(levels, effects, design));
                    }
                }
            }
        }
    }
    all
}

/// Split-plot trials without effects.
pub(crate) fn split_plots(full: bool) -> Vec<SplitPlotDesign> {
    let mut all = Vec::new();
    let (bays, cuttings): (&[u32], &[u64]) = if full { (&[3, 4, 6, 8], &[10, 20, 40]) } else { (&[4, 8], &[20]) };
    for bays in bays {
        for cuttings in cuttings {
            for icc in [0.0, 0.05, 0.15] {
                for bay_sd in [0.0, 0.3, 0.6] {
                    for take in [0.02, 0.1, 0.5, 0.8, 0.98] {
                        let (dark_effect, strength_effect) = (0.0, 0.0);
                        all.push(SplitPlotDesign {
                            bays: *bays,
                            strengths: 2,
                            trays: 2,
                            cuttings: *cuttings,
                            icc,
                            bay_sd,
                            take,
                            dark_effect,
                            strength_effect,
                        });
                    }
                }
            }
        }
    }
    all
}
