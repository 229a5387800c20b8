//! Trays as effective cuttings: how alike cuttings of one tray are, and counts divided by what that costs.

use serde::{Deserialize, Serialize};

use crate::math::linalg::{Qr, times};
use crate::models::design_matrix::Design;
use crate::models::terms::{Frame, Tally};
use crate::rates::PLANNING_ICC;

/// The correlation of two cuttings of one tray, beyond what the effects of a model explain.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct TrayCorrelation {
    /// Analysis of variance estimate, as computed; negative when trays are more alike than chance.
    pub estimate: f64,
    /// The least that is used: `0.05 x 2 / (2 + events)`.
    pub floor: f64,
    /// Expected cuttings of the rarer outcome: what the correlation is learnt from.
    pub events: f64,
    /// Trays minus what the effects take of them.
    pub dof: f64,
}

impl TrayCorrelation {
    /// Analysis of variance of tray rates about the effects of `design`.
    ///
    /// Tray rates are fitted by the design's columns on the proportion scale with tray sizes as weights. With `h` the leverages,
    /// `MSB = sum m (rate - fit)^2 / dof`, `MSW` that of cuttings within trays, `m0 = sum m (1 - h) / dof`:
    /// `(MSB - MSW) / (MSB + (m0 - 1) MSW)`. Without blocks this is [`crate::rates::tray_spread`].
    ///
    /// The fit is linear on purpose. Fitted rates of a logit model follow single trays where hardly any cutting rooted, their
    /// residuals then hide the spread, and tests raise up to 24 % false alarms (`tests/calibration/models.md`). Where strong effects
    /// add up on another scale, a linear fit leaves some of them in the spread, which errs on the cautious side.
    ///
    /// # References
    /// Donner and Klar (2000), chapters 1 and 6; Searle (1971), Linear Models, chapter 7.
    pub(crate) fn of(frame: &Frame, design: &Design) -> Self {
        let rows = frame.data.stuck.len();
        let (mut stuck, mut rooted, mut squares) = (vec![0.0; rows], vec![0.0; rows], vec![0.0; rows]);
        let trays = frame.counts(true);
        for Tally { rooted: y, stuck: m, row, times } in &trays {
            for (sums, x) in [(&mut stuck, *m), (&mut rooted, *y), (&mut squares, m * m)] {
                if let Some(sum) = sums.get_mut(*row) {
                    *sum += times * x;
                }
            }
        }
        let roots: Vec<f64> = stuck.iter().map(|m: &f64| m.sqrt()).collect();
        let weigh = |column: &Vec<f64>| column.iter().zip(&roots).map(|(x, root)| x * root).collect::<Vec<f64>>();
        let qr = Qr::new(&design.x.iter().map(weigh).collect::<Vec<_>>(), 0.0);
        let target: Vec<f64> = rooted.iter().zip(&roots).map(|(y, root)| y / root).collect();
        let fitted = times(&design.x, &qr.solve_upper(&qr.project(&target)), rows);
        let leverages = qr.hat(rows);
        let (mut off, mut inside, mut events) = (0.0, 0.0, 0.0);
        for Tally { rooted: y, stuck: m, row, times } in &trays {
            let fit = fitted.get(*row).copied().unwrap_or(0.0);
            off += times * m * (y / m - fit).powi(2);
            inside += times * y * (1.0 - y / m);
            let share = fit.clamp(0.0, 1.0);
            events += times * m * share.min(1.0 - share);
        }
        let (count, cuttings) = (trays.iter().map(|tray| tray.times).sum::<f64>(), stuck.iter().sum::<f64>());
        let dof = count - qr.rank() as f64;
        let kept: f64 = stuck.iter().zip(&squares).zip(&leverages).map(|((m, square), h)| m - h * square / m).sum();
        let floor = PLANNING_ICC * 2.0 / (2.0 + events);
        // Rounding leaves a trace where every tray fits exactly.
        let between = if off < 1e-12 * cuttings { 0.0 } else { off / dof };
        let within = if cuttings > count { inside / (cuttings - count) } else { 0.0 };
        let whole = between + (kept / dof - 1.0) * within;
        let estimate = if whole > 0.0 { (between - within) / whole } else { 0.0 };
        Self { estimate, floor, events, dof }
    }

    /// The correlation used: never below 0 nor below the floor, so that even trays never buy false precision.
    #[must_use]
    pub fn used(&self) -> f64 {
        self.estimate.max(self.floor).clamp(0.0, 1.0)
    }

    /// True when so few cuttings rooted (or failed to) that the planning correlation decides noticeably.
    #[must_use]
    pub fn few_events(&self) -> bool {
        self.estimate < self.floor && self.events < 10.0
    }
}

/// The frame with the counts of every tray divided by its design effect `1 + (m - 1) icc`; counts per tray stay what they are.
///
/// # References
/// Williams (1982), Applied Statistics 31:144-148.
pub(crate) fn weighted(mut frame: Frame, icc: f64) -> Frame {
    let (rooted, stuck) = (&mut frame.data.rooted, &mut frame.data.stuck);
    rooted.iter_mut().chain(stuck.iter_mut()).for_each(|count| *count = 0.0);
    let trays = frame.per_unit.rooted.iter().zip(&frame.per_unit.stuck).zip(&frame.per_unit.row);
    for ((y, m), row) in trays {
        let effect = 1.0 + (m - 1.0) * icc;
        for (sums, x) in [(&mut *rooted, y), (&mut *stuck, m)] {
            if let Some(sum) = sums.get_mut(*row) {
                *sum += x / effect;
            }
        }
    }
    frame
}
