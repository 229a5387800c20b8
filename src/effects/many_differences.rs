//! All differences between the settings of an effect: pairs of levels, pairs of pairs, with their standard errors from
//! products worked out once.

use crate::effects::averaging::{Blend, quantile};
use crate::effects::contrasts::Judge;
use crate::math::dense::{combined, dot};
use crate::math::design::{Entries, along, entries_of};
use crate::models::{Ready, Stratum};

/// Weights on averaged rates, by their place.
pub(super) type Parts = Vec<(f64, usize)>;

/// Rates of which the products of all pairs are kept.
const KEPT: usize = 2048;

/// Differences between the settings of all variables: of rates for one, of such differences for two, and so on. The
/// place of a combination of settings counts the settings of the first variable fastest.
pub(super) struct Differences {
    sizes: Vec<usize>,
    pairs: Vec<Vec<(usize, usize)>>,
}

impl Differences {
    /// For the numbers of settings of the variables.
    pub(super) fn new(sizes: &[usize]) -> Self {
        let all = |size: &usize| (0..*size).flat_map(|a| (a + 1..*size).map(move |b| (a, b))).collect();
        Self { sizes: sizes.to_vec(), pairs: sizes.iter().map(all).collect() }
    }

    /// How many there are.
    pub(super) fn len(&self) -> usize {
        self.pairs.iter().map(Vec::len).product()
    }

    /// Combinations of settings.
    pub(super) fn places(&self) -> usize {
        self.sizes.iter().product()
    }

    /// One of them; the pairs of the last variable change fastest.
    pub(super) fn parts(&self, at: usize) -> Parts {
        let (mut left, mut stride) = (at, self.places());
        let mut parts: Parts = vec![(1.0, 0)];
        for (size, pairs) in self.sizes.iter().zip(&self.pairs).rev() {
            stride /= size.max(&1);
            let (a, b) = pairs.get(left % pairs.len().max(1)).copied().unwrap_or((0, 0));
            left /= pairs.len().max(1);
            let moved = |by: usize, sign: f64| parts.iter().map(move |(w, place)| (sign * w, place + by * stride));
            parts = moved(a, 1.0).chain(moved(b, -1.0)).collect();
        }
        parts
    }
}

/// Products of all pairs of some vectors.
struct Products {
    count: usize,
    values: Vec<f64>,
}

impl Products {
    fn new(count: usize, product: impl Fn(usize, usize) -> f64) -> Self {
        let values = (0..count).flat_map(|i| (0..=i).map(move |j| (i, j))).map(|(i, j)| product(i, j)).collect();
        Self { count, values }
    }

    fn square(&self, parts: &Parts) -> f64 {
        let at = |i: usize, j: usize| {
            let (low, high) = (i.min(j), i.max(j));
            if high < self.count { self.values.get(high * (high + 1) / 2 + low).copied().unwrap_or(0.0) } else { 0.0 }
        };
        parts.iter().map(|(w, i)| w * parts.iter().map(|(v, j)| v * at(*i, *j)).sum::<f64>()).sum()
    }
}

/// Averaged rates with what gives combinations of them their standard errors.
pub(super) struct Spreads<'a> {
    ready: &'a Ready,
    rates: Vec<f64>,
    slopes: Vec<Entries>,
    /// Of the slopes through the covariance, then of the sums by level of each layer; none where there are too many, or
    /// where the covariance gives each combination degrees of freedom of its own.
    products: Option<(Products, Vec<Products>)>,
}

impl<'a> Spreads<'a> {
    pub(super) fn new(judge: &Judge<'a>, blends: &[Blend]) -> Self {
        let ready = judge.ready();
        let (rates, slopes): (Vec<f64>, Vec<Entries>) = blends
            .iter()
            .map(|blend| {
                let one = judge.rate(blend);
                (one.rate, entries_of(&one.gradient))
            })
            .unzip();
        let mut all = Self { ready, rates, slopes, products: None };
        if ready.robust.is_none() && all.rates.len() <= KEPT {
            all.products = Some(all.multiplied());
        }
        all
    }

    fn whole(&self, slopes: &[(usize, f64)]) -> Vec<f64> {
        let mut out = vec![0.0; self.ready.covariance.len()];
        for (at, x) in slopes {
            if let Some(slot) = out.get_mut(*at) {
                *slot += x;
            }
        }
        out
    }

    fn multiplied(&self) -> (Products, Vec<Products>) {
        let pulled: Vec<Vec<f64>> =
            self.slopes.iter().map(|slopes| combined(&self.ready.covariance, &self.whole(slopes))).collect();
        let product = |i: usize, j: usize| match (pulled.get(i), self.slopes.get(j)) {
            (Some(pulled), Some(slopes)) => along(slopes, pulled),
            _ => 0.0,
        };
        let plain = Products::new(pulled.len(), product);
        let sums: Vec<Vec<Vec<f64>>> = pulled.iter().map(|pulled| self.ready.sums_by_layer(pulled)).collect();
        let layers = sums.first().map_or(0, Vec::len);
        let of_layer = |layer: usize| {
            let part = |i: usize| sums.get(i).and_then(|sums| sums.get(layer)).map_or(&[][..], Vec::as_slice);
            Products::new(sums.len(), |i, j| dot(part(i), part(j)))
        };
        (plain, (0..layers).map(of_layer).collect())
    }

    /// The difference.
    pub(super) fn value(&self, parts: &Parts) -> f64 {
        parts.iter().filter_map(|(w, place)| Some(w * self.rates.get(*place)?)).sum()
    }

    /// Its slopes by the coefficients.
    fn gradient(&self, parts: &Parts) -> Vec<f64> {
        let mut all = Entries::new();
        for (w, place) in parts {
            all.extend(self.slopes.get(*place).into_iter().flatten().map(|(at, x)| (*at, w * x)));
        }
        self.whole(&all)
    }

    /// What it is judged against.
    pub(super) fn error(&self, parts: &Parts, error: Stratum) -> Stratum {
        if self.ready.robust.is_none() {
            return error;
        }
        self.ready.error_of(&self.gradient(parts), error).unwrap_or(error)
    }

    /// The size of the difference and of its limit beyond, by the standard error. `known` keeps the last quantile.
    pub(super) fn reach(&self, parts: &Parts, error: Stratum, level: f64, known: &mut Option<(Stratum, f64)>) -> f64 {
        let spread = match &self.products {
            Some((plain, layers)) => {
                let squares: Vec<f64> = layers.iter().map(|products| products.square(parts)).collect();
                Some(self.ready.spread_of(plain.square(parts).max(0.0), &squares, error))
            }
            None => self.ready.spread(&self.gradient(parts), self.error(parts, error)),
        };
        let Some(spread) = spread else { return self.value(parts).abs() };
        let factor = match known {
            Some((stratum, factor)) if *stratum == spread.error => *factor,
            _ => {
                let factor = quantile(spread.error, level);
                *known = Some((spread.error, factor));
                factor
            }
        };
        (self.value(parts).abs() + factor * spread.se).min(utmost(parts))
    }
}

/// The largest such difference that rates can have: 1 for a difference of rates, 2 for a difference of two.
fn utmost(parts: &Parts) -> f64 {
    let all = |sign: f64| parts.iter().map(|(weight, _)| (sign * weight).max(0.0)).sum::<f64>();
    all(1.0).max(all(-1.0))
}
