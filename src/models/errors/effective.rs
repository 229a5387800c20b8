//! Trays as effective cuttings: how alike cuttings of one tray are, and counts divided by what that costs.

use serde::{Deserialize, Serialize};

use crate::layers::{Known, TRAY};
use crate::math::dense::{NormalMatrix, Qr, times};
use crate::math::design::{Entries, add_entries};
use crate::math::search::RANK;
use crate::math::sparse::MANY;
use crate::models::design::Design;
use crate::models::enter::{Frame, PerUnit};
use crate::rates::PLANNING_ICC;

/// The correlation of two cuttings of one tray, beyond what the effects of a model explain.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[cfg_attr(test, schemars(rename = "CorrelationUsed"))]
pub struct TrayCorrelation {
    /// Analysis of variance estimate, as computed; negative when trays are more alike than chance.
    pub estimate: f64,
    /// The least that is used: `0.05 x 2 / (2 + events)`.
    pub floor: f64,
    /// Expected cuttings of the rarer outcome: what the correlation is learnt from.
    pub events: f64,
    /// Trays minus what the effects take of them.
    pub df: f64,
}

impl TrayCorrelation {
    /// Analysis of variance of tray rates about the effects of `design`.
    ///
    /// Tray rates are fitted by the design's columns (and an offset as one more) on the proportion scale with tray sizes as
    /// weights. With `h` the leverages, `MSB = sum m (rate - fit)^2 / df`, `MSW` that of cuttings within trays, `m0 = sum m (1 - h) / df`:
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
        let (rooted, stuck) = frame.counts_per_row();
        let PerUnit { rooted: counted, stuck: set, row, .. } = &frame.per_unit;
        let trays = || counted.iter().zip(set).zip(row);
        let mut squares = vec![0.0; rows];
        for ((_, m), row) in trays() {
            if let Some(sum) = squares.get_mut(*row) {
                *sum += m * m;
            }
        }
        let Linear { fitted, leverages, rank } = Linear::of(frame, design, (&rooted, &stuck));
        let (mut off, mut inside, mut events) = (0.0, 0.0, 0.0);
        for ((y, m), row) in trays() {
            let fit = fitted.get(*row).copied().unwrap_or(0.0);
            off += m * (y / m - fit).powi(2);
            inside += y * (1.0 - y / m);
            let share = fit.clamp(0.0, 1.0);
            events += m * share.min(1.0 - share);
        }
        let (count, cuttings) = (set.len() as f64, set.iter().sum::<f64>());
        let df = count - rank as f64;
        let left: f64 = stuck.iter().zip(&squares).zip(&leverages).map(|((m, square), h)| m - h * square / m).sum();
        let floor = PLANNING_ICC * 2.0 / (2.0 + events);
        // Rounding leaves a trace where every tray fits exactly.
        let between = if off < 1e-12 * cuttings { 0.0 } else { off / df };
        let within = if cuttings > count { inside / (cuttings - count) } else { 0.0 };
        let size = left / df;
        let own = Known {
            unit: TRAY.to_owned(),
            role: TRAY.to_owned(),
            totals: false,
            mean_square: between / within,
            beneath: 1.0,
            cuttings: size,
            df,
        };
        let told = frame.earlier().filter(|_| within > 0.0 && df > 0.5).and_then(|earlier| earlier.shrunk(&own));
        let (between, df) = told.map_or((between, df), |found| (found.used * within, found.df));
        let whole = between + (size - 1.0) * within;
        let estimate = if df > 0.5 && whole > 0.0 { (between - within) / whole } else { 0.0 };
        Self { estimate, floor, events, df }
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

/// Rates fitted by the columns of a design (and an offset as one more) with tray sizes as weights.
struct Linear {
    fitted: Vec<f64>,
    leverages: Vec<f64>,
    rank: usize,
}

/// Sums of products serve while every column keeps this share of its length squared beside the others.
const SAFE_SHARE: f64 = 1e-6;

impl Linear {
    fn of(frame: &Frame, design: &Design, (rooted, stuck): (&[f64], &[f64])) -> Self {
        if let Some(found) = Self::of_many(frame, design, (rooted, stuck)) {
            return found;
        }
        let rows = stuck.len();
        let roots: Vec<f64> = stuck.iter().map(|m: &f64| m.sqrt()).collect();
        let mut columns = design.x();
        if !frame.data.offset.is_empty() {
            columns.push(frame.data.offset.to_vec());
        }
        let weigh = |column: &Vec<f64>| column.iter().zip(&roots).map(|(x, root)| x * root).collect::<Vec<f64>>();
        let qr = Qr::new(&columns.iter().map(weigh).collect::<Vec<_>>(), RANK);
        let target: Vec<f64> = rooted.iter().zip(&roots).map(|(y, root)| y / root).collect();
        let kept: Vec<Vec<f64>> = qr.kept.iter().filter_map(|at| columns.get(*at)).cloned().collect();
        let fitted = times(&kept, &qr.solve_upper(&qr.project(&target)), rows);
        Self { fitted, leverages: qr.hat(rows), rank: qr.rank() }
    }

    /// The same from sums of products, where columns are many and keep their digits.
    fn of_many(frame: &Frame, design: &Design, (rooted, stuck): (&[f64], &[f64])) -> Option<Self> {
        let rank = design.rank();
        if rank < MANY || !frame.data.offset.is_empty() {
            return None;
        }
        let mut rows = vec![Entries::new(); stuck.len()];
        rows.iter_mut().enumerate().for_each(|(row, entries)| design.matrix.entries(row, entries));
        let layout = NormalMatrix::layout(rank, rows.iter().map(Vec::as_slice));
        let mut sum = NormalMatrix::zero(rank, layout.as_ref());
        let mut target = vec![0.0; rank];
        for ((entries, m), y) in rows.iter().zip(stuck).zip(rooted) {
            sum.add_square(*m, entries);
            add_entries(&mut target, *y, entries);
        }
        let root = sum.root().filter(|root| root.smallest_share() > SAFE_SHARE)?;
        let coef = root.solve(&target);
        let spreads = root.spreads(rows.iter().map(Vec::as_slice));
        let leverages = spreads.into_iter().zip(stuck).map(|(spread, m)| m * spread).collect();
        Some(Self { fitted: design.matrix.times(&coef), leverages, rank })
    }
}

impl Frame {
    /// Cuttings rooted and stuck in each row of the data as they were counted, also where its counts are effective ones.
    pub(crate) fn counts_per_row(&self) -> (Vec<f64>, Vec<f64>) {
        self.summed(|_| 1.0)
    }

    /// Sums of the counts of each row's trays, those of a tray of `m` divided by `effect(m)`.
    fn summed(&self, effect: impl Fn(f64) -> f64) -> (Vec<f64>, Vec<f64>) {
        let rows = self.data.stuck.len();
        let (mut rooted, mut stuck) = (vec![0.0; rows], vec![0.0; rows]);
        let trays = &self.per_unit;
        for ((y, m), row) in trays.rooted.iter().zip(&trays.stuck).zip(&trays.row) {
            for (sums, x) in [(&mut rooted, y), (&mut stuck, m)] {
                if let Some(sum) = sums.get_mut(*row) {
                    *sum += x / effect(*m);
                }
            }
        }
        (rooted, stuck)
    }
}

/// The frame with the counts of every tray divided by its design effect `1 + (m - 1) icc`; counts per tray stay what they are.
///
/// # References
/// Williams (1982), Applied Statistics 31:144-148.
pub(crate) fn weighted(mut frame: Frame, icc: f64) -> Frame {
    let (rooted, stuck) = frame.summed(|m| 1.0 + (m - 1.0) * icc);
    (frame.data.rooted, frame.data.stuck) = (rooted.into(), stuck.into());
    frame.divided = true;
    frame
}
