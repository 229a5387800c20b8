//! What is estimated beside the coordinates of a shape: shifts of blocks, and the spread of a law of the trays.
//!
//! Shifts are on the log odds and add up to 0: the shape is that of an average block. A spread is that of
//! [`TrayDensity`]: under a random effect the shape is that of a typical tray. What a curve shows are takes over all blocks, each counted
//! once, and over all trays ([`Beside::seen`]).

use crate::curves::shape::EDGE;
use crate::math::rng;
use crate::math::search::{Point, Region};
use crate::math::special::{expit, ln_choose, logit};
use crate::models::mixed::{MarginalRate, TrayDensity, TrayTerms, marginal_rate};

/// Largest shift of a block, log odds.
const MOST_SHIFT: f64 = 12.0;

/// Largest standard deviation between trays, log odds; for the beta-binomial it is a correlation of 0.985.
const MOST_SPREAD: f64 = 8.0;

/// A count of one strength in one block: a tray, or all its trays as effective counts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Cell {
    pub(super) block: usize,
    pub(super) rooted: f64,
    pub(super) stuck: f64,
}

/// The counts of one curve with what is estimated beside its shape.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Beside {
    /// The law of trays; none for effective counts.
    law: Option<TrayDensity>,
    /// Blocks taken out, less one.
    shifts: usize,
    /// Counts of each strength.
    levels: Vec<Vec<Cell>>,
    /// Sizes of trays, and how many have them.
    sizes: Vec<(f64, f64)>,
    start: Vec<f64>,
}

impl Beside {
    /// `blocks` are 1 where none is taken out; `icc` is where the search for a spread begins.
    pub(super) fn new(law: Option<TrayDensity>, blocks: usize, levels: Vec<Vec<Cell>>, icc: f64) -> Self {
        let shifts = blocks.saturating_sub(1);
        let block = |b: usize| {
            let own = levels.iter().flatten().filter(|cell| cell.block == b);
            let (y, n) = own.fold((0.5, 1.0), |(y, n), cell| (y + cell.rooted, n + cell.stuck));
            logit(y / n)
        };
        let all: Vec<f64> = (0..blocks).map(block).collect();
        let mean = all.iter().sum::<f64>() / blocks.max(1) as f64;
        let mut start: Vec<f64> = all.iter().take(shifts).map(|one| one - mean).collect();
        let icc = icc.clamp(0.02, 0.5);
        start.extend(law.as_ref().map(|law| {
            // Around one half a random effect of variance v has a correlation near v / 4.
            if law.is_random() { (5.0 * icc).sqrt() } else { (icc / (1.0 - icc)).sqrt() }
        }));
        let mut sizes: Vec<(f64, f64)> = Vec::new();
        for cell in levels.iter().flatten() {
            match sizes.iter_mut().find(|one| one.0.total_cmp(&cell.stuck).is_eq()) {
                Some(known) => known.1 += 1.0,
                None => sizes.push((cell.stuck, 1.0)),
            }
        }
        Self { law, shifts, levels, sizes, start }
    }

    /// Number of coordinates: shifts, then the spread.
    pub(crate) fn size(&self) -> usize {
        self.shifts + usize::from(self.law.is_some())
    }

    pub(crate) fn shifts(&self) -> usize {
        self.shifts
    }

    /// Where searches begin.
    pub(crate) fn start(&self) -> &[f64] {
        &self.start
    }

    /// True for a law of the trays, whose log-likelihood is that of the counts themselves.
    pub(crate) fn has_law(&self) -> bool {
        self.law.is_some()
    }

    /// True where the take over all blocks and trays is not the shape itself.
    pub(crate) fn averages(&self) -> bool {
        self.shifts > 0 || self.is_random()
    }

    pub(crate) fn is_random(&self) -> bool {
        self.law.as_ref().is_some_and(TrayDensity::is_random)
    }

    /// Appends the box of the coordinates.
    pub(crate) fn extend(&self, region: &mut Region) {
        for _ in 0..self.shifts {
            region.free.push(region.low.len());
            region.low.push(-MOST_SHIFT);
            region.high.push(MOST_SHIFT);
        }
        if self.law.is_some() {
            region.free.push(region.low.len());
            region.low.push(0.0);
            region.high.push(MOST_SPREAD);
        }
    }

    /// Where the spread is among coordinates whose first beside the shape is `first`.
    pub(super) fn spread_at(&self, first: usize) -> Option<usize> {
        self.law.as_ref().map(|_| first + self.shifts)
    }

    /// Log of the binomial coefficients of all counts.
    pub(crate) fn constant(&self) -> f64 {
        self.levels.iter().flatten().map(|cell| ln_choose(cell.stuck, cell.rooted)).sum()
    }

    /// The shift of a block; the last is what is left to 0.
    pub(crate) fn shift(&self, at: &[f64], block: usize) -> f64 {
        let shifts = at.get(..self.shifts).unwrap_or_default();
        shifts.get(block).copied().unwrap_or_else(|| -shifts.iter().sum::<f64>())
    }

    fn spread(&self, at: &[f64]) -> f64 {
        at.get(self.shifts).copied().unwrap_or(0.0)
    }

    /// The correlation within trays of the beta-binomial law, or the standard deviation between trays.
    pub(crate) fn spread_shown(&self, at: &[f64]) -> Option<f64> {
        let s = self.spread(at);
        self.law.as_ref().map(|law| if law.is_random() { s } else { s * s / (1.0 + s * s) })
    }

    /// Adds value, gradient and second derivatives of all counts of a curve. `rate` tells the rate of each strength with its slopes; `at`
    /// are all coordinates, those beside the shape from `first` on.
    pub(super) fn add(&self, rate: impl Fn(usize) -> Rate, (at, first): (&[f64], usize), into: &mut Point) {
        let own = at.get(first..).unwrap_or_default();
        let blocks: Vec<(f64, f64)> = (0..=self.shifts)
            .map(|block| self.shift(own, block))
            .map(|shift| (shift, if self.law.is_none() { shift.exp() } else { 1.0 }))
            .collect();
        let mut sums =
            Sums { first, shifts: self.shifts, spread: self.spread_at(first), each: vec![[0.0; 3]; 2 * blocks.len()] };
        let s = self.spread(own);
        for (level, cells) in self.levels.iter().enumerate() {
            let rate = rate(level);
            let p = rate.mean.clamp(EDGE, 1.0 - EDGE);
            let (middle, odds) = (logit(p), p / (1.0 - p));
            sums.begin();
            for cell in cells {
                let Some((shift, factor)) = blocks.get(cell.block) else { continue };
                let (one, weight) = match &self.law {
                    None => on_counts(cell, middle + shift, odds * factor),
                    Some(law) => under(law, cell, middle + shift, s),
                };
                sums.add(cell.block, &one, weight, into);
            }
            sums.end(&rate, 1.0 / (p * (1.0 - p)), into);
        }
        sums.close(into);
        if let (Some(law), Some(j)) = (&self.law, self.spread_at(first)) {
            for (m, trays) in &self.sizes {
                let whole = law.whole(*m, s);
                into.value -= trays * whole.value;
                add_to(&mut into.gradient, j, -trays * whole.s);
                into.add(j, j, -trays * whole.ss);
            }
        }
    }

    /// The take over all blocks and trays where a typical tray of the average block has the rate `mean`, with slopes by that rate's log
    /// odds, and appended to `slopes` those by the coordinates beside the shape.
    pub(crate) fn seen(&self, mean: f64, own: &[f64], slopes: &mut Vec<f64>) -> (f64, f64) {
        let (middle, s, blocks) = (logit(mean.clamp(EDGE, 1.0 - EDGE)), self.spread(own), self.shifts + 1);
        let share = 1.0 / blocks as f64;
        let each: Vec<MarginalRate> =
            (0..blocks).map(|block| self.over_trays(middle + self.shift(own, block), s)).collect();
        let sum = |of: fn(&MarginalRate) -> f64| share * each.iter().map(of).sum::<f64>();
        let last = each.last().map_or(0.0, |one| one.by_eta);
        slopes.extend(each.iter().take(self.shifts).map(|one| share * (one.by_eta - last)));
        slopes.extend(self.law.as_ref().map(|_| sum(|one| one.by_deviation)));
        (sum(|one| one.rate), sum(|one| one.by_eta))
    }

    /// The take alone.
    pub(super) fn seen_mean(&self, mean: f64, own: &[f64]) -> f64 {
        if !self.averages() {
            return mean;
        }
        let (middle, s, blocks) = (logit(mean.clamp(EDGE, 1.0 - EDGE)), self.spread(own), self.shifts + 1);
        let each = (0..blocks).map(|block| self.over_trays(middle + self.shift(own, block), s).rate);
        each.sum::<f64>() / blocks as f64
    }

    /// By how much a unit on the log odds moves the takes, on average over the cuttings, where an average block has `rates`.
    pub(super) fn mean_slope(&self, rates: &[f64], own: &[f64]) -> f64 {
        let (mut sum, mut cuttings) = (0.0, 0.0);
        for (cells, rate) in self.levels.iter().zip(rates) {
            for cell in cells {
                let eta = logit(*rate) + self.shift(own, cell.block);
                sum += cell.stuck * self.over_trays(eta, self.spread(own)).by_eta;
                cuttings += cell.stuck;
            }
        }
        sum / cuttings
    }

    fn over_trays(&self, eta: f64, s: f64) -> MarginalRate {
        if self.is_random() {
            return marginal_rate(crate::math::regression::Link::Logit, eta, s);
        }
        let p = expit(eta);
        MarginalRate { rate: p, by_eta: p * (1.0 - p), by_deviation: 0.0 }
    }

    /// One tray drawn in a block where a typical tray of the average block has the rate `mean`; `icc` is the correlation of effective
    /// counts.
    pub(crate) fn draw(
        &self,
        (block, stuck): (usize, u64),
        mean: f64,
        (own, icc): (&[f64], f64),
        random: &mut rng::ChaCha8Rng,
    ) -> u64 {
        let eta = logit(mean.clamp(EDGE, 1.0 - EDGE)) + self.shift(own, block);
        let s = self.spread(own);
        match &self.law {
            None => rng::beta_binomial(random, stuck, expit(eta), icc),
            Some(law) if law.is_random() => {
                let eta = eta + s * rng::deviate(random);
                rng::binomial(random, stuck, expit(eta))
            }
            Some(_) => rng::beta_binomial(random, stuck, expit(eta), s * s / (1.0 + s * s)),
        }
    }
}

/// The rate of one strength with its slopes by the coordinates in `map`; `used` of them.
#[derive(Debug, Clone, Copy)]
pub(super) struct Rate {
    pub(super) mean: f64,
    pub(super) slopes: [f64; 5],
    pub(super) map: [usize; 5],
    pub(super) used: usize,
}

impl Rate {
    fn slopes(&self) -> impl Iterator<Item = (usize, f64)> {
        self.map.into_iter().zip(self.slopes).take(self.used)
    }
}

/// An effective count at its log odds and odds, and its expected information.
fn on_counts(cell: &Cell, eta: f64, odds: f64) -> (TrayTerms, f64) {
    let rest = 1.0 / (1.0 + odds);
    let p = odds * rest;
    let value = cell.rooted * eta + cell.stuck * rest.ln();
    let one = TrayTerms { value, e: cell.rooted - cell.stuck * p, ..TrayTerms::default() };
    (one, cell.stuck * p * rest)
}

/// A tray under its law, with an information that is never below a part of what the law's variance promises, so that steps go uphill.
fn under(law: &TrayDensity, cell: &Cell, eta: f64, s: f64) -> (TrayTerms, f64) {
    let one = law.at(eta, (cell.rooted, cell.stuck), s);
    let p = expit(eta);
    let spread = p * (1.0 - p);
    let promised = if law.is_random() {
        1.0 / (1.0 / (cell.stuck * spread) + s * s)
    } else {
        cell.stuck * spread * (1.0 + s * s) / (1.0 + cell.stuck * s * s)
    };
    (one, (-one.ee).max(0.25 * promised))
}

/// Sums over the counts: of one strength and, block by block, of all.
struct Sums {
    first: usize,
    shifts: usize,
    spread: Option<usize>,
    /// Pull, information and its product with the spread: of all strengths for each block, then of the strength at hand.
    each: Vec<[f64; 3]>,
}

impl Sums {
    fn begin(&mut self) {
        let blocks = self.shifts + 1;
        self.each.iter_mut().skip(blocks).for_each(|sum| *sum = [0.0; 3]);
    }

    fn add(&mut self, block: usize, one: &TrayTerms, weight: f64, into: &mut Point) {
        into.value += one.value;
        let here = self.shifts + 1 + block;
        if let Some(sum) = self.each.get_mut(here) {
            *sum = [sum[0] + one.e, sum[1] + weight, sum[2] + one.es];
        }
        if let Some(j) = self.spread {
            add_to(&mut into.gradient, j, one.s);
            into.add(j, j, one.ss);
        }
    }

    /// Adds one strength's counts to the coordinates of its rate, and to its blocks.
    fn end(&mut self, rate: &Rate, by_p: f64, into: &mut Point) {
        let blocks = self.shifts + 1;
        let (all, here) = self.each.split_at_mut(blocks);
        let mut total = [0.0; 3];
        for (sum, one) in all.iter_mut().zip(here.iter()) {
            for ((sum, total), x) in sum.iter_mut().zip(&mut total).zip(one) {
                *sum += x;
                *total += x;
            }
        }
        let last = here.last().map_or(0.0, |one| one[1]);
        for (j, slope) in rate.slopes() {
            let slope = by_p * slope;
            add_to(&mut into.gradient, j, total[0] * slope);
            for (k, other) in rate.slopes() {
                into.add(j, k, -total[1] * slope * by_p * other);
            }
            if let Some(k) = self.spread {
                into.add_both(j, k, total[2] * slope);
            }
            for (b, one) in here.iter().take(self.shifts).enumerate() {
                into.add_both(j, self.first + b, -(one[1] - last) * slope);
            }
        }
    }

    /// Adds the sums over all strengths to the shifts.
    fn close(self, into: &mut Point) {
        let Some([pull, weight, cross]) = self.each.get(self.shifts).copied() else { return };
        for (b, [e, w, es]) in self.each.iter().take(self.shifts).enumerate() {
            let j = self.first + b;
            add_to(&mut into.gradient, j, e - pull);
            into.add(j, j, -w);
            for k in 0..self.shifts {
                into.add(j, self.first + k, -weight);
            }
            if let Some(k) = self.spread {
                into.add_both(j, k, es - cross);
            }
        }
    }
}

fn add_to(values: &mut [f64], at: usize, by: f64) {
    if let Some(entry) = values.get_mut(at) {
        *entry += by;
    }
}
