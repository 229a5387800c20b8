//! A trend over trays: the tray's rate is the observation.

use serde::{Deserialize, Serialize};

use crate::compare::{AdjustedSlope, TrayRateTest};
use crate::estimate::{TestName, TestResult};
use crate::math::dense::{Qr, dot};
use crate::math::distributions::{fisher_f, student_t};
use crate::rates::{Arm, TraySpread};

/// Share of a column's length below which it is a combination of the others.
const DEPENDENT: f64 = 1e-9;

/// One tray (or whole plot): its take rate, score, treatment and stratum.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ScoredTray {
    /// Rooted of stuck, 0 to 1.
    pub rate: f64,
    /// Score of its treatment level.
    pub score: f64,
    /// Treatment level.
    pub arm: u32,
    /// Block and other treatments.
    pub stratum: u32,
}

/// A straight line through tray rates, with the spread between trays of the same treatment.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TrayTrend {
    /// Rise of the rate per unit of score.
    pub slope: f64,
    /// Its standard error.
    pub se: f64,
    /// Slope over standard error.
    pub statistic: f64,
    /// Trays less strata and treatments.
    pub df: f64,
    /// Two-sided P.
    pub p: f64,
    /// F of what the straight line leaves of the differences between treatments.
    pub departure: Option<f64>,
    /// Its numerator degrees of freedom.
    pub departure_df: f64,
    /// Its denominator degrees of freedom.
    pub departure_error_df: f64,
    /// Its P.
    pub departure_p: Option<f64>,
    /// The slope as a combination of the rates, one weight per tray.
    pub weights: Vec<f64>,
}

impl TrayTrend {
    /// The same judged by another standard error with its degrees of freedom, and another F of what the line leaves.
    pub(super) fn judged(&self, (se, df): (f64, f64), departure: Option<TrayRateTest>) -> Self {
        let statistic = self.slope / se;
        Self {
            se,
            statistic,
            df,
            p: 2.0 * student_t::sf(statistic.abs(), df),
            departure: departure.map(|test| test.statistic),
            departure_df: departure.map_or(0.0, |test| test.df),
            departure_error_df: departure.map_or(df, |test| test.error_df),
            departure_p: departure.and_then(|test| test.p),
            ..self.clone()
        }
    }

    /// The slope with uneven treatments and places taken out, by its own error, and F of what a line leaves then.
    pub(super) fn adjusted(&self, by: &AdjustedSlope, departure: Option<TrayRateTest>) -> Self {
        let line = Self { slope: by.slope, ..self.clone() };
        line.judged((by.judged.variance.sqrt(), by.judged.df), departure)
    }

    /// F of what the line leaves of the differences between levels.
    pub(super) fn departure_test(&self) -> Option<TrayRateTest> {
        let (df, dof_denominator) = (self.departure_df, self.departure_error_df);
        self.departure.map(|statistic| TrayRateTest { statistic, df, error_df: dof_denominator, p: self.departure_p })
    }

    /// The same with the mean square of the error multiplied by a number and with more degrees of freedom.
    pub(super) fn with_error(&self, (times, more): (f64, f64)) -> Self {
        let departure = self.departure_test().map(|test| test.with_error((times, more)));
        self.judged((self.se * times.sqrt(), self.df + more), departure)
    }
}

fn indicators(codes: impl Iterator<Item = u32> + Clone) -> Vec<Vec<f64>> {
    let mut levels: Vec<u32> = codes.clone().collect();
    levels.sort_unstable();
    levels.dedup();
    levels.iter().map(|level| codes.clone().map(|code| f64::from(u8::from(code == *level))).collect()).collect()
}

/// Sum of squares left after the columns, and their rank.
/// The share of a sum of squares below which a part of it is what rounding leaves.
const ROUNDING: f64 = 1e-12;

fn left_over(columns: &[Vec<f64>], y: &[f64]) -> (f64, f64) {
    let qr = Qr::new(columns, DEPENDENT);
    let projected = qr.project(y);
    ((dot(y, y) - dot(&projected, &projected)).max(0.0), qr.rank() as f64)
}

/// t test of a linear trend of tray rates over the scores, within strata.
///
/// The slope is that of a straight line with a level of its own for each stratum; its error comes from the trays of the same
/// treatment (after strata), so a curve does not count as error. Under no effect of the treatment all trays have the same
/// spread, which is what the test needs. `None` without a second tray anywhere, or when trays of a treatment do not differ at
/// all.
///
/// # References
/// Snedecor & Cochran 1967, Statistical Methods, 6th edition, sections 12.8 and 13.9 (trend as a planned contrast).
#[must_use]
pub fn tray_trend(trays: &[ScoredTray]) -> Option<TrayTrend> {
    let middle = trays.iter().map(|tray| tray.rate).sum::<f64>() / trays.len().max(1) as f64;
    let y: Vec<f64> = trays.iter().map(|tray| tray.rate - middle).collect();
    let strata = indicators(trays.iter().map(|tray| tray.stratum));
    let mut with_arms = strata.clone();
    with_arms.extend(indicators(trays.iter().map(|tray| tray.arm)));
    let (error, rank) = left_over(&with_arms, &y);
    let (within_strata, strata_rank) = left_over(&strata, &y);
    let df = trays.len() as f64 - rank;
    // The score, free of strata.
    let scores: Vec<f64> = trays.iter().map(|tray| tray.score).collect();
    let level = Qr::new(&strata, DEPENDENT);
    let mut free = scores.clone();
    let fitted = level.solve_upper(&level.project(&scores));
    for (column, coefficient) in level.kept.iter().filter_map(|at| strata.get(*at)).zip(&fitted) {
        crate::math::dense::add_scaled(&mut free, -coefficient, column);
    }
    let length = dot(&free, &free);
    let scale = dot(&scores, &scores);
    if df < 1.0 || length <= DEPENDENT * scale {
        return None;
    }
    let slope = dot(&free, &y) / length;
    // What rounding leaves of the rates is no spread: sums of squares are differences of numbers as large as that of all rates.
    let noise = ROUNDING * dot(&y, &y);
    if error <= noise {
        return None;
    }
    let variance = error / df;
    let se = (variance / length).sqrt();
    let statistic = slope / se;
    let departure_dof = rank - strata_rank - 1.0;
    let departure = (departure_dof >= 1.0)
        .then_some(within_strata - error - slope * slope * length)
        .map(|left| if left <= noise { 0.0 } else { left / departure_dof / variance });
    Some(TrayTrend {
        slope,
        se,
        statistic,
        df,
        p: 2.0 * student_t::sf(statistic.abs(), df),
        departure,
        departure_df: departure_dof.max(0.0),
        departure_error_df: df,
        departure_p: departure.map(|f| fisher_f::sf(f, departure_dof, df)),
        weights: free.iter().map(|x| x / length).collect(),
    })
}

/// Cochran-Armitage statistic on effective cuttings: each arm's n is divided by its design effect; judged by F with 1 and
/// trays minus treatments degrees of freedom, since the correlation is itself estimated. `None` when all or none rooted.
///
/// # References
/// Donner & Klar 2000, chapter 6 (effective counts); Armitage 1955.
#[must_use]
pub fn adjusted_trend(arms: &[(f64, Arm)], spread: &TraySpread) -> Option<TestResult> {
    let weighted: Vec<(f64, f64, f64)> =
        arms.iter().map(|(score, arm)| (*score, spread.effective_cuttings(arm), arm.rate())).collect();
    let total: f64 = weighted.iter().map(|one| one.1).sum();
    let rate = weighted.iter().map(|(_, n, rate)| n * rate).sum::<f64>() / total;
    let mean = weighted.iter().map(|(score, n, _)| score * n).sum::<f64>() / total;
    let length: f64 = weighted.iter().map(|(score, n, _)| n * (score - mean).powi(2)).sum();
    if !(rate > 0.0 && rate < 1.0 && length > 0.0) {
        return None;
    }
    let off: f64 = weighted.iter().map(|(score, n, rate)| n * (score - mean) * rate).sum();
    let statistic = off * off / (rate * (1.0 - rate) * length);
    Some(TestResult {
        method: TestName::EffectiveCochranArmitage,
        statistic: Some(statistic),
        df: Some(1.0),
        error_df: Some(spread.df),
        p: fisher_f::sf(statistic, 1.0, spread.df),
    })
}
