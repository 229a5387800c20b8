//! Sums over the levels of rows against the same design written out: two routes to one fit.

use approx::{abs_diff_eq, assert_abs_diff_eq};
use std::sync::Arc;

use rootling::control::Control;
use rootling::math::design::{Block, Codes, Columns};
use rootling::math::regression::{Link, Regression, Restriction, Solution};

const ROWS: usize = 150;

/// Whole numbers in no order: Knuth's linear congruential generator, its upper half.
struct Drawn(u64);

impl Drawn {
    fn below(&mut self, limit: u32) -> u32 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) as u32 % limit
    }
}

/// A block of `codes` codes, drawn for every row, whose first `none` codes have no column.
fn block(random: &mut Drawn, (codes, none): (usize, usize), width: &mut usize) -> Block {
    let drawn: Vec<u32> = (0..ROWS).map(|_| random.below(codes as u32)).collect();
    let columns = (0..codes).map(|code| (code >= none).then(|| *width + code - none)).collect();
    *width += codes - none;
    Block::new(Some(Arc::new(Codes::of(&drawn, codes))), columns, vec![])
}

/// An intercept, if wanted, and blocks.
fn design(intercept: bool, blocks: &[(usize, usize)]) -> Columns {
    let mut random = Drawn(7);
    let mut width = usize::from(intercept);
    let first = Block::new(None, vec![Some(0)], vec![]);
    let mut all: Vec<Block> = blocks.iter().map(|size| block(&mut random, *size, &mut width)).collect();
    if intercept {
        all.insert(0, first);
    }
    Columns::new(ROWS, width, all)
}

fn designs() -> Vec<Columns> {
    vec![
        design(true, &[(4, 1), (3, 1), (6, 1)]),
        // Some codes without a column, as combinations of which many did not occur.
        design(true, &[(3, 1), (12, 5)]),
        design(true, &[(5, 1)]),
        design(false, &[(5, 0)]),
        design(true, &[]),
    ]
}

fn solved(columns: &Columns, offset: &[f64], weights: &[f64], link: Link) -> Solution {
    let mut random = Drawn(8);
    let stuck: Vec<f64> = (0..ROWS).map(|_| f64::from(5 + random.below(30))).collect();
    let rooted: Vec<f64> = stuck.iter().map(|m| f64::from(random.below(*m as u32 + 1))).collect();
    let control = Control::new();
    let (rooted, stuck) = (rooted.as_slice(), stuck.as_slice());
    let asked = Regression { columns, rooted, stuck, offset, weights, link, penalised: false, control: &control };
    asked.solve(&vec![0.0; columns.width()], &Restriction::none(columns.width())).unwrap()
}

#[test]
fn counts_of_pairs_are_those_of_the_columns() {
    for coded in designs() {
        let dense = Columns::dense(&coded.to_dense(), ROWS);
        // Sums of zeros and ones are exact.
        assert_eq!(coded.products().rows(), dense.products().rows());
        let b: Vec<f64> = (0..coded.width()).map(|j| 0.3 * j as f64 - 1.0).collect();
        for (got, want) in coded.times(&b).iter().zip(dense.times(&b)) {
            assert!(abs_diff_eq!(*got, want, epsilon = 1e-14), "{got} {want}");
        }
    }
}

#[test]
fn fits_are_those_of_the_columns() {
    let some: Vec<f64> = (0..ROWS).map(|row| 0.5 + 0.01 * row as f64).collect();
    let none: &[f64] = &[];
    for coded in designs() {
        let dense = Columns::dense(&coded.to_dense(), ROWS);
        for (offset, weights) in [(none, none), (some.as_slice(), none), (none, some.as_slice())] {
            for link in [Link::Logit, Link::ComplementaryLogLog] {
                let (one, other) = (solved(&coded, offset, weights, link), solved(&dense, offset, weights, link));
                assert_eq!(one.iterations, other.iterations);
                // Both settle within 1e-10 standard errors.
                for (a, b) in one.coef.iter().zip(&other.coef) {
                    assert!(abs_diff_eq!(a, b, epsilon = 1e-11), "{a} {b}");
                }
                assert_rel!(one.kernel, other.kernel, 1e-13);
                let (one, other) = (one.information.unwrap(), other.information.unwrap());
                assert_rel!(one.condition(), other.condition(), 1e-10);
                assert_abs_diff_eq!(one.ln_determinant(), other.ln_determinant(), epsilon = 1e-10);
                for (a, b) in one.covariance().iter().flatten().zip(other.covariance().iter().flatten()) {
                    assert!(abs_diff_eq!(a, b, epsilon = 1e-12), "{a} {b}");
                }
            }
        }
    }
}
