//! The largest of |t| statistics that fall into groups without correlation between them, as contrasts within the levels of another
//! factor do: given the common scale the groups are independent, and one integral over it is left.

use crate::math::distributions::chi_mixture::ChiMixture;
use crate::math::distributions::dunnett::{Dunnett, Sides, loadings};
use crate::math::distributions::{student_t, studentized_range};
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
        let mut mixture = ChiMixture::new(self.df, start, self.count + 1.0, beyond);
        let mut tail = |t: &f64| if *t > 0.0 { mixture.value(t.ln()).min(1.0) } else { 1.0 };
        let tails = t.iter().map(&mut tail).collect();
        // With a known scale there is no lattice to share, and the search asks for the tail itself.
        (tails, mixture.solve(p, start.ln(), false).map_or(f64::NAN, f64::exp))
    }
}

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
