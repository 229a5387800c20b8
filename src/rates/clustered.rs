//! How trays differ beyond chance, pooled over treatments, and what that does to an interval.

use serde::{Deserialize, Serialize};

use crate::error::Result;
use crate::layers::{Earlier, Known, TRAY};
use crate::math::dense::{Qr, add_scaled};
use crate::math::design::{Key, distinct};
use crate::math::distributions::student_t;
use crate::math::search::RANK;
use crate::rates::interval::{IntervalMethod, interval_effective};
use crate::trial::Units;

/// The trays of one treatment: counts rooted and stuck, one entry per tray.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Arm {
    /// Cuttings rooted per tray.
    pub rooted: Vec<u64>,
    /// Cuttings stuck per tray, each above 0.
    pub stuck: Vec<u64>,
}

impl Arm {
    /// Rooted and stuck over all trays.
    #[must_use]
    pub fn total(&self) -> (f64, f64) {
        (self.rooted.iter().map(|x| *x as f64).sum(), self.stuck.iter().map(|x| *x as f64).sum())
    }

    /// The take rate over all trays.
    #[must_use]
    pub fn rate(&self) -> f64 {
        let (rooted, stuck) = self.total();
        rooted / stuck
    }

    /// The take rate of each tray.
    #[must_use]
    pub fn tray_rates(&self) -> Vec<f64> {
        self.rooted.iter().zip(&self.stuck).map(|(rooted, stuck)| *rooted as f64 / *stuck as f64).collect()
    }

    /// The mean tray size as a cutting sees it, `sum(m^2) / sum(m)`.
    #[must_use]
    pub fn mean_size(&self) -> f64 {
        let squares: f64 = self.stuck.iter().map(|m| (*m as f64).powi(2)).sum();
        squares / self.total().1
    }
}

/// The spread between trays of the same treatment.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct TraySpread {
    /// Intraclass correlation by analysis of variance, as computed; negative when trays are more alike than chance.
    pub icc: f64,
    /// Trays minus treatments (minus places, where places are taken out).
    pub df: f64,
    /// Pearson chi-square of trays within treatments over `df`; 1 is what chance gives, below 1 is underdispersion.
    /// `None` when every treatment is all rooted or none rooted.
    pub dispersion: Option<f64>,
    /// Degrees of freedom of `dispersion`: those of the treatments that are neither all rooted nor none.
    #[serde(default)]
    pub dispersion_df: f64,
    /// The least correlation that intervals use: [`PLANNING_ICC`] where nothing is known of it, fading with `events`.
    pub icc_floor: f64,
    /// Cuttings of the rarer outcome (rooted or not), summed over treatments: what the correlation is learnt from.
    pub events: f64,
}

pub use crate::layers::PLANNING_ICC;

/// Pools the intraclass correlation over treatments.
///
/// With `K` trays in `A` treatments, `N` cuttings: mean squares between trays `MSB` (df `K - A`) and within trays `MSW`
/// (df `N - K`), `m0 = (N - sum_a sum_i m_ai^2 / N_a) / (K - A)`, and `icc = (MSB - MSW) / (MSB + (m0 - 1) MSW)`.
/// `None` when no treatment has two trays. Where nothing varies at all the correlation is 0.
///
/// Where hardly any cutting rooted (or hardly any failed) the trays cannot show how they differ. The correlation used is
/// therefore at least `0.05 x 2 / (2 + events)`, which is 0.05 without an event and fades as events come in.
///
/// # References
/// Donner A, Klar N (2000), Design and Analysis of Cluster Randomization Trials, chapters 1 and 6.
///
/// ```
/// use rootling::rates::{Arm, tray_spread};
/// let arms = [Arm { rooted: vec![3, 9, 6], stuck: vec![20, 20, 20] }];
/// let spread = tray_spread(&arms).ok_or("one tray only")?;
/// assert!(spread.icc > 0.0 && spread.df == 2.0);
/// # Ok::<(), &str>(())
/// ```
#[must_use]
pub fn tray_spread(arms: &[Arm]) -> Option<TraySpread> {
    let nowhere: Vec<Vec<u32>> = arms.iter().map(|arm| vec![0; arm.stuck.len()]).collect();
    tray_spread_within(arms, &nowhere)
}

/// As [`tray_spread`], with what places (blocks, whole plots) add to all their trays taken out: the mean square between trays
/// is that left by the additive least-squares fit of treatments and places to the tray rates, weighted by tray sizes.
///
/// `places` holds one code per tray of each arm. With leverages `h` of that fit, `m0 = sum m (1 - h) / df` and
/// `df = sum (1 - h)`. `None` when no degree of freedom is left.
///
/// # References
/// Searle SR (1971), Linear Models, chapter 7 (unbalanced two-way classification without interaction); Donner A, Klar N (2000).
///
/// ```
/// use rootling::rates::{Arm, tray_spread_within};
/// let arms = [
///     Arm { rooted: vec![3, 9, 6], stuck: vec![20, 20, 20] },
///     Arm { rooted: vec![8, 14, 11], stuck: vec![20, 20, 20] },
/// ];
/// let benches = [vec![0, 1, 2], vec![0, 1, 2]];
/// let spread = tray_spread_within(&arms, &benches).ok_or("no degree of freedom left")?;
/// // The benches explain all of it: 6 trays - 2 treatments - 3 benches + 1.
/// assert!(spread.icc < 0.0 && spread.df == 2.0);
/// # Ok::<(), &str>(())
/// ```
#[must_use]
pub fn tray_spread_within(arms: &[Arm], places: &[Vec<u32>]) -> Option<TraySpread> {
    tray_spread_with(arms, places, None)
}

/// Units of a kind, and what earlier trials of the place tell of them.
#[derive(Debug, Clone, Copy)]
pub(crate) struct FromEarlier<'a> {
    earlier: &'a Earlier,
    unit: &'a str,
}

impl<'a> FromEarlier<'a> {
    /// What is known of the units that a treatment was given to: trays, or levels of a column that count as one each.
    pub(crate) fn of(units: &'a Units, unit: &'a str) -> Option<Self> {
        units.earlier.as_ref().map(|earlier| Self { earlier, unit })
    }

    fn shrunk(self, mean_square: f64, cuttings: f64, df: f64) -> Option<(f64, f64)> {
        let totals = self.unit != TRAY;
        let (unit, role) = (self.unit.to_owned(), String::new());
        let own = Known { unit, role, totals, mean_square, beneath: 1.0, cuttings, df };
        self.earlier.shrunk(&own).map(|found| (found.used, found.df))
    }
}

/// [`tray_spread`] of the trays of a trial, with what earlier trials lead to expect.
pub(crate) fn tray_spread_of(units: &Units, arms: &[Arm]) -> Option<TraySpread> {
    let nowhere: Vec<Vec<u32>> = arms.iter().map(|arm| vec![0; arm.stuck.len()]).collect();
    tray_spread_with(arms, &nowhere, FromEarlier::of(units, TRAY))
}

/// As [`tray_spread_within`], with what earlier trials lead to expect.
pub(crate) fn tray_spread_with(
    arms: &[Arm],
    places: &[Vec<u32>],
    earlier: Option<FromEarlier<'_>>,
) -> Option<TraySpread> {
    tray_spread_told(arms, places, earlier).map(|(spread, _)| spread)
}

/// What earlier trials do to a mean square: what it is multiplied by, and the degrees of freedom it gains.
pub(crate) type Told = (f64, f64);

/// The same, with what earlier trials did to the mean square between units.
pub(crate) fn tray_spread_told(
    arms: &[Arm],
    places: &[Vec<u32>],
    earlier: Option<FromEarlier<'_>>,
) -> Option<(TraySpread, Option<Told>)> {
    let trays = flat(arms, places);
    let fit = additive(&trays);
    let count = trays.len() as f64;
    let dof = count - fit.rank;
    if dof < 0.5 {
        return None;
    }
    let cuttings: f64 = trays.iter().map(|tray| tray.stuck).sum();
    let squares = |tray: &Tray, off: &f64| tray.stuck * off * off;
    let mut left: f64 = trays.iter().zip(&fit.off).map(|(tray, off)| squares(tray, off)).sum();
    // Rounding leaves a trace where every tray fits exactly.
    if left < 1e-12 * cuttings {
        left = 0.0;
    }
    let within: f64 = trays.iter().map(|tray| tray.stuck * tray.rate * (1.0 - tray.rate)).sum();
    let within = if cuttings > count { within / (cuttings - count) } else { 0.0 };
    let m0 = trays.iter().zip(&fit.leverage).map(|(tray, h)| tray.stuck * (1.0 - h)).sum::<f64>() / dof;
    let between = left / dof;
    let told = earlier.filter(|_| within > 0.0).and_then(|one| one.shrunk(between / within, m0, dof));
    let seen = between;
    let (between, df) = told.map_or((between, dof), |(square, df)| (square * within, df));
    let change = told.filter(|_| seen > 0.0).map(|(_, df)| (between / seen, df - dof));
    let denominator = between + (m0 - 1.0) * within;
    let icc = if denominator > 0.0 { (between - within) / denominator } else { 0.0 };
    let (mut pearson, mut pearson_dof) = (0.0, 0.0);
    let rates: Vec<f64> = arms.iter().map(Arm::rate).collect();
    for ((tray, off), h) in trays.iter().zip(&fit.off).zip(&fit.leverage) {
        if let Some(rate) = rates.get(tray.arm).filter(|rate| **rate > 0.0 && **rate < 1.0) {
            pearson += squares(tray, off) / (rate * (1.0 - rate));
            pearson_dof += 1.0 - h;
        }
    }
    let dispersion = (pearson_dof > 0.5).then(|| pearson / pearson_dof);
    let events: f64 = arms.iter().map(Arm::total).filter(|total| total.1 > 0.0).map(|(x, n)| x.min(n - x)).sum();
    let dof = if told.is_some() { df } else { dof.round() };
    let icc_floor = PLANNING_ICC * 2.0 / (2.0 + events);
    Some((TraySpread { icc, df: dof, dispersion, dispersion_df: pearson_dof, icc_floor, events }, change))
}

/// One tray in the additive fit.
struct Tray {
    arm: usize,
    place: u32,
    stuck: f64,
    rate: f64,
}

fn flat(arms: &[Arm], places: &[Vec<u32>]) -> Vec<Tray> {
    let mut trays = Vec::new();
    for (arm, (one, places)) in arms.iter().zip(places).enumerate() {
        for ((rate, stuck), place) in one.tray_rates().into_iter().zip(&one.stuck).zip(places) {
            trays.push(Tray { arm, place: *place, stuck: *stuck as f64, rate });
        }
    }
    trays
}

/// Residuals of tray rates and leverages.
struct AdditiveFit {
    off: Vec<f64>,
    leverage: Vec<f64>,
    rank: f64,
}

/// Weighted least squares of tray rates on treatments and places. The factor with more levels is swept out by centring, the
/// other enters as columns, so that many trays in many places stay cheap.
fn additive(trays: &[Tray]) -> AdditiveFit {
    let (arms, arm_levels) = coded(trays.iter().map(|tray| tray.arm as u32));
    let (places, place_levels) = coded(trays.iter().map(|tray| tray.place));
    let (swept, swept_levels, kept, kept_levels) = if place_levels > arm_levels {
        (places, place_levels, arms, arm_levels)
    } else {
        (arms, arm_levels, places, place_levels)
    };
    let mut weight = vec![0.0; swept_levels];
    // What each level kept has of each group swept, group by group.
    let mut shares = vec![0.0; if kept_levels < 2 { 0 } else { kept_levels * swept_levels }];
    let mut rates = vec![0.0; swept_levels];
    for ((tray, group), level) in trays.iter().zip(&swept).zip(&kept) {
        add(&mut weight, *group, tray.stuck);
        add(&mut rates, *group, tray.stuck * tray.rate);
        add(&mut shares, *level as usize * swept_levels + *group as usize, tray.stuck);
    }
    let total = |group: u32| weight.get(group as usize).copied().unwrap_or(1.0);
    let means = |sums: &[f64]| -> Vec<f64> { sums.iter().zip(&weight).map(|(sum, total)| sum / total).collect() };
    let mean = |means: &[f64], group: u32| means.get(group as usize).copied().unwrap_or_default();
    let roots: Vec<f64> = trays.iter().map(|tray| tray.stuck.sqrt()).collect();
    let column = |level: usize| -> Vec<f64> {
        let means = means(shares.get(level * swept_levels..(level + 1) * swept_levels).unwrap_or_default());
        let each = roots.iter().zip(&kept).zip(&swept);
        each.map(|((root, own), group)| root * (f64::from(u8::from(*own as usize == level)) - mean(&means, *group)))
            .collect()
    };
    let qr = Qr::of(if kept_levels < 2 { 0 } else { kept_levels }, column, RANK);
    let rates = means(&rates);
    let mut off: Vec<f64> = trays
        .iter()
        .zip(&roots)
        .zip(&swept)
        .map(|((tray, root), group)| root * (tray.rate - mean(&rates, *group)))
        .collect();
    let coefficients = qr.solve_upper(&qr.project(&off));
    for (level, coefficient) in qr.kept.iter().zip(coefficients) {
        add_scaled(&mut off, -coefficient, &column(*level));
    }
    off.iter_mut().zip(&roots).for_each(|(off, root)| *off /= root);
    let mut leverage = qr.hat(trays.len());
    for ((h, tray), group) in leverage.iter_mut().zip(trays).zip(&swept) {
        *h += tray.stuck / total(*group);
    }
    AdditiveFit { off, leverage, rank: (swept_levels + qr.rank()) as f64 }
}

fn add(sums: &mut [f64], at: impl TryInto<usize>, value: f64) {
    if let Some(sum) = at.try_into().ok().and_then(|at| sums.get_mut(at)) {
        *sum += value;
    }
}

/// Codes 0, 1, ... in the order of first sight, and how many there are.
fn coded(values: impl Iterator<Item = u32>) -> (Vec<u32>, usize) {
    let values: Vec<u32> = values.collect();
    let found = distinct(&[Key::of(&values)], values.len());
    (found.numbers, found.firsts.len())
}

impl TraySpread {
    /// The correlation used in intervals: never below 0, so that even trays never buy false precision, nor below the floor.
    #[must_use]
    pub fn icc_used(&self) -> f64 {
        self.icc.max(self.icc_floor).clamp(0.0, 1.0)
    }

    /// True when so few cuttings rooted (or failed to) that the planning correlation decides noticeably.
    #[must_use]
    pub fn few_events(&self) -> bool {
        self.icc < self.icc_floor && self.events < 10.0
    }

    /// Design effect `1 + (mean size - 1) icc` of an arm.
    #[must_use]
    pub fn design_effect(&self, arm: &Arm) -> f64 {
        1.0 + (arm.mean_size() - 1.0).max(0.0) * self.icc_used()
    }

    /// Cuttings that would say as much if each stood alone.
    #[must_use]
    pub fn effective_cuttings(&self, arm: &Arm) -> f64 {
        arm.total().1 / self.design_effect(arm)
    }

    /// The two-sided critical value of t with the trays' degrees of freedom.
    #[must_use]
    pub fn critical(&self, level: f64) -> f64 {
        student_t::quantile(f64::midpoint(1.0, level), self.df)
    }
}

/// Interval for the take rate of one treatment in trays: a Wilson interval on the effective number of cuttings, with the t
/// quantile on trays minus treatments. The choice and its coverage stand in `tests/calibration/table.md`.
///
/// # Errors
/// A count error when the arm is empty.
///
/// # References
/// Korn EL, Graubard BI (1998), Survey Methodology 24:193-201 (effective counts); Wilson EB (1927), JASA 22:209-212.
pub fn tray_interval(arm: &Arm, spread: &TraySpread, level: f64) -> Result<(f64, f64)> {
    let effective = spread.effective_cuttings(arm);
    interval_effective(arm.rate() * effective, effective, IntervalMethod::Wilson, spread.critical(level))
}
