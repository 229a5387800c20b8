//! Treatments whose units other places or plants cross: these add to the error and do not show in the spread between units.

use std::collections::BTreeMap;

use crate::compare::TrayRateTest;
use crate::math::dense::{Qr, dot};
use crate::math::distributions::fisher_f;
use crate::rates::OverPlaces;
use crate::trial::{Factor, Layout, Units};

/// Share of a column's length below which it is a combination of the others.
const DEPENDENT: f64 = 1e-9;
/// Shares nearer to 1 are 1 but for rounding.
const SAME: f64 = 1e-9;

/// What judges a treatment: its unit, and what crosses it.
#[derive(Debug, Clone)]
pub(super) struct Crossed {
    /// The unit, and places or plants that cross it.
    pub(super) judged_by: Vec<String>,
    /// The layers of error; none where nothing crosses the units, or nothing is left to judge by.
    over: Option<OverPlaces>,
}

/// Units of a treatment in their strata.
pub(super) struct Lying<'a> {
    pub(super) units: &'a Units,
    /// Trays of each unit.
    pub(super) groups: &'a [Vec<usize>],
    /// Columns that make the strata.
    pub(super) by: &'a [&'a Factor],
    pub(super) treatment: &'a Factor,
}

impl Crossed {
    pub(super) fn of(units: &Units, layout: &Layout<'_>) -> Self {
        let crossing = layout.crossed(units);
        let names = crossing.iter().map(|one| one.name.clone());
        let judged_by = std::iter::once(layout.unit.clone()).chain(names).collect();
        let over = if crossing.is_empty() { None } else { OverPlaces::new(units, &[]) };
        Self { judged_by, over }
    }

    /// True where something crosses the units.
    pub(super) fn is_crossed(&self) -> bool {
        self.judged_by.len() > 1
    }

    fn crossing(&self) -> Vec<&str> {
        self.judged_by.iter().skip(1).map(String::as_str).collect()
    }

    /// F of the differences between levels within strata, or of what the columns `held` (one entry per unit) leave of them, as far as it takes
    /// in what crosses the units: never larger, with the degrees of freedom of what it draws on. None where that cannot be told.
    ///
    /// The share of the quadratic form that is left beside the crossing levels multiplies F: where every unit meets every level of what
    /// crosses it, nothing is taken away, and F is exact as it stands.
    pub(super) fn widened(&self, lying: &Lying<'_>, plain: TrayRateTest, held: &[Vec<f64>]) -> Option<TrayRateTest> {
        let over = self.over.as_ref()?;
        let mut columns = lying.indicators();
        columns.extend(held.iter().cloned());
        let first = Qr::new(&columns, DEPENDENT).rank();
        let level = |lead: &usize| lying.treatment.codes.get(*lead).copied().unwrap_or_default();
        columns.extend(indicators(&lying.leads().iter().map(level).collect::<Vec<_>>()));
        let qr = Qr::new(&columns, DEPENDENT);
        let directions = qr.basis().get(first..).filter(|found| !found.is_empty())?;
        let (rates, common) = (lying.rates(), lying.common_rates());
        let u: Vec<f64> = directions.iter().map(|one| dot(one, &rates)).collect();
        let combinations: Vec<Vec<f64>> = directions.iter().map(|one| lying.on_counts(one)).collect();
        let with = over.joint((&u, &combinations), &common, &[])?;
        let without = over.joint((&u, &combinations), &common, &self.crossing())?;
        let share = if without.statistic > 0.0 { with.statistic / without.statistic } else { 1.0 };
        if share > 1.0 - SAME {
            return Some(plain);
        }
        let (statistic, dof_denominator) = (plain.statistic * share, plain.error_df.min(with.df));
        let p = plain.p.map(|_| fisher_f::sf(statistic, plain.df, dof_denominator));
        Some(TrayRateTest { statistic, error_df: dof_denominator, p, ..plain })
    }

    /// What the standard error of a combination of the units' rates is multiplied by for what crosses them, with its degrees of freedom.
    pub(super) fn wider(&self, lying: &Lying<'_>, direction: &[f64]) -> Option<(f64, f64)> {
        let over = self.over.as_ref()?;
        let (own, rates) = (lying.on_counts(direction), lying.common_rates());
        let with = over.judged(&own, &rates, &[]);
        let times = with.variance / over.judged(&own, &rates, &self.crossing()).variance;
        if !times.is_finite() {
            return None;
        }
        Some(if times < 1.0 + SAME { (1.0, f64::INFINITY) } else { (times.sqrt(), with.df) })
    }
}

impl Lying<'_> {
    fn leads(&self) -> Vec<usize> {
        self.groups.iter().filter_map(|group| group.first().copied()).collect()
    }

    /// Strata of the units, coded.
    fn strata(&self) -> Vec<u32> {
        let mut known: BTreeMap<Vec<u32>, u32> = BTreeMap::new();
        let key =
            |lead: &usize| -> Vec<u32> { self.by.iter().filter_map(|one| one.codes.get(*lead).copied()).collect() };
        let leads = self.leads();
        let codes = leads.iter().map(|lead| {
            let next = known.len() as u32;
            *known.entry(key(lead)).or_insert(next)
        });
        codes.collect()
    }

    fn indicators(&self) -> Vec<Vec<f64>> {
        indicators(&self.strata())
    }

    fn counts(&self) -> Vec<(f64, f64)> {
        let sum = |group: &Vec<usize>| {
            let counts = group.iter().filter_map(|unit| self.units.count(*unit));
            counts.fold((0.0, 0.0), |sum, one| (sum.0 + one.rooted as f64, sum.1 + one.stuck as f64))
        };
        self.groups.iter().map(sum).collect()
    }

    fn rates(&self) -> Vec<f64> {
        self.counts().into_iter().map(|(rooted, stuck)| if stuck > 0.0 { rooted / stuck } else { 0.0 }).collect()
    }

    /// For every unit of the trial the rate of its stratum over all levels, as if the treatment did nothing.
    fn common_rates(&self) -> Vec<f64> {
        let strata = self.strata();
        let mut sums: BTreeMap<u32, (f64, f64)> = BTreeMap::new();
        for (stratum, (rooted, stuck)) in strata.iter().zip(self.counts()) {
            let sum = sums.entry(*stratum).or_default();
            *sum = (sum.0 + rooted, sum.1 + stuck);
        }
        let mut out = vec![0.0; self.units.len()];
        for (group, stratum) in self.groups.iter().zip(&strata) {
            let rate = sums.get(stratum).map_or(0.0, |(rooted, stuck)| rooted / stuck);
            for unit in group {
                out.get_mut(*unit).into_iter().for_each(|slot| *slot = rate);
            }
        }
        out
    }

    /// A combination of the rates of the groups as one of the counts of the trial's units.
    fn on_counts(&self, direction: &[f64]) -> Vec<f64> {
        let mut out = vec![0.0; self.units.len()];
        for ((group, weight), (_, stuck)) in self.groups.iter().zip(direction).zip(self.counts()) {
            for unit in group.iter().filter(|_| stuck > 0.0) {
                out.get_mut(*unit).into_iter().for_each(|slot| *slot = weight / stuck);
            }
        }
        out
    }
}

fn indicators(codes: &[u32]) -> Vec<Vec<f64>> {
    let mut levels = codes.to_vec();
    levels.sort_unstable();
    levels.dedup();
    levels.iter().map(|level| codes.iter().map(|code| f64::from(u8::from(code == level))).collect()).collect()
}
