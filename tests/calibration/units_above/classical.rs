//! Limits and tests by analysis of variance of tray rates: the error strata of a textbook, combined with Satterthwaite's degrees of
//! freedom. Written from ordinary least squares alone, so that it shares nothing with what it stands beside.

use rootling::math::distributions::student_t;
use rootling::trial::{Factor, Units};

/// Mean squares of the layers and of trays, and how they add up to a variance.
pub(super) struct Classical {
    rates: Vec<f64>,
    /// Combination of treatments of every tray.
    cell: Vec<usize>,
    /// Trays of every combination.
    sizes: Vec<f64>,
    /// Level of every tray, layer by layer.
    layers: Vec<Vec<usize>>,
    mean_squares: Vec<f64>,
    dofs: Vec<f64>,
    /// Expected mean squares: row by row what each layer's variance and, last, that of trays is multiplied by.
    expected: Vec<Vec<f64>>,
}

/// A value with limits and P value.
#[derive(Debug, Clone, Copy)]
pub(super) struct Limits {
    pub low: f64,
    pub high: f64,
    pub p: f64,
}

impl Classical {
    /// Layers are taken out in the order given, those that lie within a later one last (Henderson 1953, method 3).
    pub(super) fn new(units: &Units, layers: &[&Factor]) -> Self {
        let n = units.len();
        let rates: Vec<f64> = (0..n).map(|at| units.rooted[at] as f64 / units.stuck[at] as f64).collect();
        let place =
            |at: usize| units.treatments.iter().fold(0, |sum, one| sum * one.levels.len() + one.codes[at] as usize);
        let cell: Vec<usize> = (0..n).map(place).collect();
        let count = units.treatments.iter().map(|one| one.levels.len()).product();
        let mut sizes = vec![0.0; count];
        cell.iter().for_each(|at| sizes[*at] += 1.0);
        let codes: Vec<Vec<usize>> =
            layers.iter().map(|one| one.codes.iter().map(|code| *code as usize).collect()).collect();
        let mut found = Self {
            rates,
            cell,
            sizes,
            layers: codes,
            mean_squares: Vec::new(),
            dofs: Vec::new(),
            expected: Vec::new(),
        };
        for at in 0..found.layers.len() {
            let others: Vec<usize> = (0..found.layers.len())
                .filter(|other| *other != at && !lies_within(&found.layers[*other], &found.layers[at]))
                .collect();
            let before = found.basis(&others);
            let after = found.basis(&[others, vec![at]].concat());
            found.square(&before, &after);
        }
        let all: Vec<usize> = (0..found.layers.len()).collect();
        let (whole, everything) = (found.basis(&all), unit_vectors(n));
        found.square(&whole, &everything);
        found
    }

    /// An orthonormal basis of combinations and layers.
    fn basis(&self, layers: &[usize]) -> Vec<Vec<f64>> {
        let groups = std::iter::once(&self.cell).chain(layers.iter().map(|at| &self.layers[*at]));
        let mut basis: Vec<Vec<f64>> = Vec::new();
        for codes in groups {
            for level in 0..=codes.iter().copied().max().unwrap_or(0) {
                let mut column: Vec<f64> = codes.iter().map(|code| f64::from(u8::from(*code == level))).collect();
                let length = norm(&column);
                // Twice, so that rounding leaves nothing.
                for _ in 0..2 {
                    for q in &basis {
                        let share = dot(q, &column);
                        column.iter_mut().zip(q).for_each(|(x, q)| *x -= share * q);
                    }
                }
                let left = norm(&column);
                if length > 0.0 && left > 1e-8 * length {
                    basis.push(column.iter().map(|x| x / left).collect());
                }
            }
        }
        basis
    }

    /// The mean square between two spaces, and its expectation.
    fn square(&mut self, before: &[Vec<f64>], after: &[Vec<f64>]) {
        let dof = after.len() as f64 - before.len() as f64;
        let held = |basis: &[Vec<f64>], y: &[f64]| basis.iter().map(|q| dot(q, y).powi(2)).sum::<f64>();
        let gained = |y: &[f64]| held(after, y) - held(before, y);
        let share = |sum: f64| if dof > 0.5 { sum / dof } else { 0.0 };
        self.mean_squares.push(share(gained(&self.rates)).max(0.0));
        self.dofs.push(dof);
        let of_layer = |codes: &Vec<usize>| -> f64 {
            let levels = 0..=codes.iter().copied().max().unwrap_or(0);
            levels
                .map(|level| codes.iter().map(|code| f64::from(u8::from(*code == level))).collect::<Vec<f64>>())
                .map(|column| gained(&column))
                .sum()
        };
        let row = self.layers.iter().map(|codes| share(of_layer(codes))).chain([1.0]).collect();
        self.expected.push(row);
    }

    /// A sum of the combinations' means with weights, judged by the mean squares it draws on. None where a layer it draws on has no degree
    /// of freedom or a combination has no tray.
    pub(super) fn judged(&self, weights: &[f64], level: f64) -> Option<Limits> {
        if weights.iter().zip(&self.sizes).any(|(weight, size)| *weight != 0.0 && *size < 0.5) {
            return None;
        }
        let coefficient: Vec<f64> = self.cell.iter().map(|at| weights[*at] / self.sizes[*at]).collect();
        let value = dot(&coefficient, &self.rates);
        let squares = |codes: &Vec<usize>| -> f64 {
            let mut sums = vec![0.0; codes.iter().copied().max().unwrap_or(0) + 1];
            codes.iter().zip(&coefficient).for_each(|(code, c)| sums[*code] += c);
            dot(&sums, &sums)
        };
        let mut left: Vec<f64> = self.layers.iter().map(squares).chain([dot(&coefficient, &coefficient)]).collect();
        let scale = left[left.len() - 1];
        let mut shares = vec![0.0; left.len()];
        for at in coarsest_first(&self.expected) {
            if left[at].abs() < 1e-10 * scale {
                continue;
            }
            if self.dofs[at] < 0.5 || self.expected[at][at] < 1e-10 {
                return None;
            }
            shares[at] = left[at] / self.expected[at][at];
            for (other, by) in self.expected[at].iter().enumerate() {
                left[other] -= shares[at] * by;
            }
        }
        let parts: Vec<f64> = shares.iter().zip(&self.mean_squares).map(|(share, square)| share * square).collect();
        let variance = parts.iter().sum::<f64>().max(1e-12);
        let spread: f64 =
            parts.iter().zip(&self.dofs).filter(|(part, _)| **part != 0.0).map(|(part, dof)| part * part / dof).sum();
        let dof = if spread > 0.0 { variance * variance / spread } else { f64::INFINITY }.max(0.5);
        let half = student_t::quantile(0.5 + 0.5 * level, dof) * variance.sqrt();
        Some(Limits {
            low: value - half,
            high: value + half,
            p: 2.0 * student_t::sf(value.abs() / variance.sqrt(), dof),
        })
    }
}

/// Layers in an order in which each stands before those that add to its mean square; trays last.
fn coarsest_first(expected: &[Vec<f64>]) -> Vec<usize> {
    let mut order: Vec<usize> = (0..expected.len()).collect();
    order.sort_by_key(|at| std::cmp::Reverse(expected[*at].iter().filter(|by| **by > 1e-10).count()));
    order
}

fn lies_within(inner: &[usize], outer: &[usize]) -> bool {
    let mut home = std::collections::BTreeMap::new();
    inner.iter().zip(outer).all(|(inner, outer)| *home.entry(inner).or_insert(outer) == outer)
}

fn unit_vectors(n: usize) -> Vec<Vec<f64>> {
    (0..n).map(|at| (0..n).map(|other| f64::from(u8::from(at == other))).collect()).collect()
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

fn norm(a: &[f64]) -> f64 {
    dot(a, a).sqrt()
}

/// A split plot whose analysis can be followed by hand: two lengths, two bays each, two strengths, two trays of 10 cuttings.
#[test]
fn the_strata_of_a_split_plot_are_those_of_the_textbook() {
    let factor = |name: &str, codes: Vec<u32>| Factor {
        name: name.to_owned(),
        levels: (0..=*codes.iter().max().unwrap()).map(|level| level.to_string()).collect(),
        numbers: None,
        codes,
    };
    let rooted = vec![3, 5, 6, 8, 1, 3, 6, 6, 5, 7, 9, 9, 4, 4, 5, 9];
    let units = Units {
        kind: rootling::trial::UnitKind::Tray,
        stuck: vec![10; 16],
        rooted,
        treatments: vec![
            factor("length", [vec![0; 8], vec![1; 8]].concat()),
            factor("strength", [0, 0, 1, 1].repeat(4)),
        ],
        tray: None,
        block: None,
        whole_plot: Some(factor("bay", (0..16).map(|at| at / 4).collect())),
        season: None,
        earlier: None,
        stock_plant: None,
        covariates: Vec::new(),
    };
    let found = Classical::new(&units, &[units.whole_plot.as_ref().unwrap()]);
    // Bay means 5.5, 4, 7.5, 5.5 of 10: sums of squares between bays of a length 4 (0.75^2 2 + 1^2 2) / 100 = 0.125, over 2.
    assert!((found.mean_squares[0] - 0.0625).abs() < 1e-12 && found.dofs == [2.0, 10.0]);
    // Between lengths: bays' mean square alone; within bays: trays' alone.
    let limits = |weights: &[f64]| found.judged(weights, 0.95).unwrap();
    let between = limits(&[-0.5, -0.5, 0.5, 0.5]);
    assert!(
        (between.high - between.low - 2.0 * student_t::quantile(0.975, 2.0) * (2.0_f64 * 0.0625 / 8.0).sqrt()).abs()
            < 1e-12
    );
    let within = limits(&[-1.0, 1.0, 0.0, 0.0]);
    let error = found.mean_squares[1];
    assert!(
        (within.high - within.low - 2.0 * student_t::quantile(0.975, 10.0) * (2.0 * error / 4.0).sqrt()).abs() < 1e-12
    );
    // A cell: (MS bays + (strengths - 1) MS trays) / (bays x strengths x trays).
    let cell = limits(&[1.0, 0.0, 0.0, 0.0]);
    let variance: f64 = (0.0625 + error) / 8.0;
    let dof = (0.0625 + error).powi(2) / (0.0625_f64.powi(2) / 2.0 + error.powi(2) / 10.0);
    assert!((cell.high - cell.low - 2.0 * student_t::quantile(0.975, dof) * variance.sqrt()).abs() < 1e-10);
}
