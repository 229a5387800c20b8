//! The largest of |t| statistics that fall into groups without correlation between them, as contrasts within the levels of another
//! factor do: given the common scale the groups are independent, and one integral over it is left.

use crate::math::distributions::chi_mixture::ChiMixture;
use crate::math::distributions::dunnett::{Dunnett, Sides, loadings};
use crate::math::distributions::{student_t, studentized_range};
use std::collections::HashMap;
use std::f64::consts::SQRT_2;

/// Correlations below this count as none: P values move by less than their fifth digit.
const NONE: f64 = 1e-6;

/// The tail of one group for a known scale.
#[derive(Debug, Clone, PartialEq)]
enum Group {
    /// Comparisons whose correlations are products.
    Products(Dunnett),
    /// All pairwise differences of so many equal means.
    Range(usize),
}

impl Group {
    fn tail(&self, w: f64) -> f64 {
        match self {
            Self::Products(dunnett) => dunnett.sf(w),
            Self::Range(groups) => studentized_range::sf(w * SQRT_2, *groups, f64::INFINITY),
        }
    }
}

/// The distribution of the largest |t| over all groups.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Slices {
    groups: Vec<Group>,
    count: f64,
    df: f64,
}

impl Slices {
    /// None when a group has correlations of another kind. `pairs` tells how many equal means have these as all their differences.
    pub(crate) fn new(correlation: &[Vec<f64>], df: f64, pairs: impl Fn(&[Vec<f64>]) -> Option<usize>) -> Option<Self> {
        let group = |members: Vec<usize>| {
            let pick = |row: &Vec<f64>| members.iter().filter_map(|j| row.get(*j)).copied().collect::<Vec<f64>>();
            let own: Vec<Vec<f64>> = members.iter().filter_map(|i| correlation.get(*i)).map(pick).collect();
            let products = loadings(&own, 1e-9).map(|l| Group::Products(Dunnett::new(&l, f64::INFINITY, Sides::Two)));
            products.or_else(|| pairs(&own).map(Group::Range))
        };
        let groups: Vec<Group> = connected(correlation).into_iter().map(group).collect::<Option<_>>()?;
        Some(Self { groups, count: correlation.len() as f64, df })
    }

    /// P(largest > t) of every t, and the t at which it is `p`.
    pub(crate) fn tails(&self, t: &[f64], p: f64) -> (Vec<f64>, f64) {
        let start = -student_t::quantile(0.5 * p / self.count, self.df);
        let beyond = |w: f64| self.groups.iter().fold(0.0, |union, group| union + group.tail(w) * (1.0 - union));
        let mixture_near = |near: f64| ChiMixture::new(self.df, near, self.count + 1.0, beyond);
        let mut mixture = mixture_near(start);
        // A lattice resolves what lies near its centre and above 1: smaller values share one with their neighbours.
        let mut below: HashMap<i32, _> = HashMap::new();
        let mut tail = |t: &f64| {
            if *t < NOTHING {
                return 1.0;
            }
            let place = (t.ln() / APART).round();
            let near = if place < 0.0 {
                below.entry(place as i32).or_insert_with(|| mixture_near((place * APART).exp()))
            } else {
                &mut mixture
            };
            near.value(t.ln()).min(1.0)
        };
        let tails = t.iter().map(&mut tail).collect();
        // With a known scale there is no lattice to share, and the search asks for the tail itself.
        (tails, mixture.solve(p, start.ln(), false).map_or(f64::NAN, f64::exp))
    }
}

/// Every largest statistic is above this.
const NOTHING: f64 = 1e-12;
/// Values that share a lattice lie at most half so far from its centre, in logs.
const APART: f64 = 0.5;

/// Groups of statistics joined by correlations, each in order.
fn connected(correlation: &[Vec<f64>]) -> Vec<Vec<usize>> {
    let mut groups: Vec<Vec<usize>> = Vec::new();
    let mut open: Vec<usize> = (0..correlation.len()).collect();
    while let Some(first) = open.first().copied() {
        let mut group = vec![first];
        open.retain(|one| *one != first);
        let mut next = 0;
        while let Some(row) = group.get(next).and_then(|one| correlation.get(*one)) {
            let joined: Vec<usize> =
                open.iter().copied().filter(|j| row.get(*j).is_some_and(|r| r.abs() > NONE)).collect();
            open.retain(|one| !joined.contains(one));
            group.extend(joined);
            next += 1;
        }
        group.sort_unstable();
        groups.push(group);
    }
    groups
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::relative_eq;

    /// All pairs of so many equal means, beside the studentised range with a lattice of its own for every value.
    #[test]
    fn small_statistics_keep_their_tails() {
        for groups in [3_usize, 5] {
            let pairs: Vec<(usize, usize)> = (0..groups).flat_map(|i| (i + 1..groups).map(move |j| (i, j))).collect();
            let share = |a: usize, b: (usize, usize)| f64::from(u8::from(a == b.0)) - f64::from(u8::from(a == b.1));
            let of = |a: &(usize, usize), b: &(usize, usize)| 0.5 * (share(a.0, *b) - share(a.1, *b));
            let correlation: Vec<Vec<f64>> = pairs.iter().map(|a| pairs.iter().map(|b| of(a, b)).collect()).collect();
            for df in [2.0, 3.5, 6.0, 7.9, 8.0, 30.0] {
                let slices = Slices::new(&correlation, df, |_| Some(groups)).unwrap();
                let t = [0.0, 1e-300, 1e-16, 1e-9, 1e-4, 0.01, 0.1, 0.3, 0.5, 0.7, 0.9, 1.0, 1.3, 2.0, 4.0, 12.0];
                let (tails, _) = slices.tails(&t, 0.05);
                for (t, tail) in t.iter().zip(tails) {
                    let want = studentized_range::sf(t * SQRT_2, groups, df);
                    assert!(
                        relative_eq!(tail, want, epsilon = 0.0, max_relative = 1e-9),
                        "{groups} {df} {t}: {tail} {want}"
                    );
                }
            }
        }
    }
}
