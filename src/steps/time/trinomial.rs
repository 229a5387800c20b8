//! The likelihood of plants that root, die or wait between two visits, with rates of both endings in proportion in between.

use crate::control::checkpoint;
use crate::math::dense::Cholesky;
use crate::math::search::{Local, Objective};

/// Plants of one kind between two visits: of each ending the columns its rate has terms in (None where it has none), and counts.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Counts {
    pub(super) terms: [Option<[Option<usize>; 3]>; 2],
    pub(super) ended: [f64; 2],
    pub(super) waiting: f64,
}

/// All of them; the coefficients are those of logarithms of rates.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Trinomials {
    pub(super) rows: Vec<Counts>,
    pub(super) size: usize,
}

/// Logarithms of rates of a fit that runs away are beyond this.
const LOST: f64 = 40.0;

/// `ln((1 - exp(-x)) / x)` with its first two derivatives.
fn shortened(x: f64) -> (f64, f64, f64) {
    if x < 0.05 {
        let square = x * x;
        (
            -0.5 * x + square / 24.0 - square * square / 2880.0,
            -0.5 + x / 12.0 - x * square / 720.0 + x * square * square / 30240.0,
            1.0 / 12.0 - square / 240.0 + square * square / 6048.0,
        )
    } else {
        let gone = -(-x).exp_m1();
        let left = 1.0 / x.exp_m1();
        ((gone / x).ln(), left - 1.0 / x, 1.0 / (x * x) - left * (1.0 + left))
    }
}

impl Counts {
    /// The rate of each ending, summed over the time between the visits.
    fn rates(&self, at: &[f64]) -> [f64; 2] {
        self.terms.map(|terms| terms.map_or(0.0, |terms| self::sum(&terms, at).exp()))
    }

    /// Plants that came to an ending that has a rate.
    fn ended(&self) -> [f64; 2] {
        [0, 1].map(|ending| {
            let there = self.terms.get(ending).is_some_and(Option::is_some);
            if there { self.ended.get(ending).copied().unwrap_or_default() } else { 0.0 }
        })
    }

    fn value(&self, at: &[f64]) -> f64 {
        let (rates, ended) = (self.rates(at), self.ended());
        let (all, some): (f64, f64) = (rates.iter().sum(), ended.iter().sum());
        let logs = self.terms.iter().zip(ended).filter(|(_, count)| *count > 0.0);
        let logs: f64 = logs.map(|(terms, count)| count * terms.map_or(0.0, |terms| sum(&terms, at))).sum();
        logs + some * shortened(all).0 - self.waiting * all
    }

    /// The columns with the first derivative by the logarithms of both rates, and the second ones: seen, or expected.
    fn slopes(&self, at: &[f64], expected: bool) -> ([f64; 2], [[f64; 2]; 2]) {
        let ([root, die], [rooted, dead]) = (self.rates(at), self.ended());
        let (all, mut some) = (root + die, rooted + dead);
        let (_, first, second) = shortened(all);
        let mut time = self.waiting - some * first;
        let slopes = [rooted - root * time, dead - die * time];
        if expected {
            let gone = -(-all).exp_m1();
            let at_risk = self.waiting + some;
            some = at_risk * gone;
            time = at_risk * gone / all;
        }
        let bent = some * second;
        let both = root * die * bent;
        (slopes, [[root * root * bent - root * time, both], [both, die * die * bent - die * time]])
    }
}

/// The sum of the terms of one rate.
fn sum(terms: &[Option<usize>; 3], at: &[f64]) -> f64 {
    terms.iter().flatten().filter_map(|place| at.get(*place)).sum()
}

impl Trinomials {
    /// First derivatives and second ones.
    fn derivatives(&self, at: &[f64], expected: bool) -> (Vec<f64>, Vec<Vec<f64>>) {
        let (mut gradient, mut bent) = (vec![0.0; self.size], vec![vec![0.0; self.size]; self.size]);
        for row in &self.rows {
            let (slopes, second) = row.slopes(at, expected);
            for ((terms, slope), second) in row.terms.iter().zip(slopes).zip(second) {
                for place in terms.iter().flatten().flatten() {
                    gradient.get_mut(*place).into_iter().for_each(|entry| *entry += slope);
                    let Some(line) = bent.get_mut(*place) else { continue };
                    for (others, second) in row.terms.iter().zip(second) {
                        for other in others.iter().flatten().flatten() {
                            line.get_mut(*other).into_iter().for_each(|entry| *entry += second);
                        }
                    }
                }
            }
        }
        (gradient, bent)
    }

    /// The standard error of a coefficient by the expected information; None where it has none.
    pub(super) fn standard_error(&self, at: &[f64], place: usize) -> Option<f64> {
        let (_, bent) = self.derivatives(at, true);
        let information: Vec<Vec<f64>> = bent.iter().map(|line| line.iter().map(|entry| -entry).collect()).collect();
        let mut one = vec![0.0; self.size];
        *one.get_mut(place)? = 1.0;
        let variance = *Cholesky::new(&information)?.solve(&one).get(place)?;
        (variance > 0.0 && variance.is_finite()).then(|| variance.sqrt())
    }
}

impl Objective for Trinomials {
    fn value(&mut self, at: &[f64]) -> f64 {
        checkpoint();
        self.rows.iter().map(|row| row.value(at)).sum()
    }

    fn local(&mut self, at: &[f64]) -> Local {
        let value = self.value(at);
        let (gradient, hessian) = self.derivatives(at, false);
        Local { value, gradient, hessian }
    }

    fn is_lost(&self, at: &[f64]) -> bool {
        at.iter().any(|one| one.abs() > LOST)
    }
}
