//! Latin squares, each as likely as the others.
//!
//! Rows, columns and signs of one square exchanged do not reach every square from order 4 on. Up to order 6 a reduced square (first row
//! and column in order) is drawn among all of them, and then columns and the later rows are dealt; above that the moves of Jacobson
//! and Matthews wander among all squares.

use rand_chacha::ChaCha8Rng;

use crate::math::rng::{below, deal};

/// The largest order of which all reduced squares are listed: 9,408 of order 6.
const LISTED: usize = 6;

/// Numbers of Latin squares of orders 1 to 11 (`McKay` and Wanless 2005, table 1, from memory); larger ones are not known.
const SQUARES: [f64; 11] = [
    1.0,
    2.0,
    12.0,
    576.0,
    161_280.0,
    812_851_200.0,
    61_479_419_904_000.0,
    108_776_032_459_082_956_800.0,
    5_524_751_496_156_892_842_531_225_600.0,
    9_982_437_658_213_039_871_725_064_756_920_320_000.0,
    776_966_836_171_770_144_107_444_346_734_230_682_311_065_600_000.0,
];

/// How many Latin squares there are, where that is known.
pub(super) fn number(order: usize) -> Option<f64> {
    SQUARES.get(order.checked_sub(1)?).copied()
}

/// A square in rows, uniform among all of its order (above order 6 as nearly as the moves bring it).
pub(super) fn drawn(rng: &mut ChaCha8Rng, order: usize) -> Vec<Vec<usize>> {
    if order <= LISTED {
        let all = reduced(order);
        let pick = below(rng, all.len() as u32) as usize;
        let mut square: Vec<Vec<usize>> = all.into_iter().nth(pick).unwrap_or_default();
        // A uniform reduced square, columns dealt, rows below the first dealt: each square of all arises in one way.
        deal_columns(rng, &mut square, order);
        if let Some((_, later)) = square.split_first_mut() {
            let n = later.len();
            deal(rng, later, n);
        }
        return square;
    }
    let mut moving = Moving::cyclic(order);
    // The chain forgets its start well within order^3 squares; deals of rows, columns and signs take what is left of it.
    for _ in 0..order * order * order {
        moving.next_square(rng);
    }
    let mut square = moving.square();
    deal_columns(rng, &mut square, order);
    deal(rng, &mut square, order);
    let mut signs: Vec<usize> = (0..order).collect();
    deal(rng, &mut signs, order);
    for sign in square.iter_mut().flatten() {
        *sign = signs.get(*sign).copied().unwrap_or_default();
    }
    square
}

fn deal_columns(rng: &mut ChaCha8Rng, square: &mut Vec<Vec<usize>>, order: usize) {
    let mut columns: Vec<usize> = (0..order).collect();
    deal(rng, &mut columns, order);
    for row in square {
        *row = columns.iter().filter_map(|column| row.get(*column).copied()).collect();
    }
}

/// All squares whose first row and first column are in order.
pub(super) fn reduced(order: usize) -> Vec<Vec<Vec<usize>>> {
    let mut found = Vec::new();
    let mut rows: Vec<Vec<usize>> = vec![(0..order).collect()];
    fill(order, &mut rows, &mut Vec::new(), &mut found);
    found
}

/// Goes on with the row begun, sign by sign.
fn fill(order: usize, rows: &mut Vec<Vec<usize>>, begun: &mut Vec<usize>, found: &mut Vec<Vec<Vec<usize>>>) {
    if rows.len() == order {
        found.push(rows.clone());
        return;
    }
    if begun.len() == order {
        rows.push(std::mem::take(begun));
        fill(order, rows, &mut Vec::new(), found);
        *begun = rows.pop().unwrap_or_default();
        return;
    }
    let column = begun.len();
    let choices = if column == 0 { rows.len()..rows.len() + 1 } else { 0..order };
    for sign in choices {
        let above = rows.iter().any(|row| row.get(column) == Some(&sign));
        if !above && !begun.contains(&sign) {
            begun.push(sign);
            fill(order, rows, begun, found);
            begun.pop();
        }
    }
}

/// A square as a cube of 0 and 1 (row, column, sign), of which one cell may be -1 on the way.
struct Moving {
    order: usize,
    cube: Vec<i8>,
    improper: Option<[usize; 3]>,
}

impl Moving {
    fn cyclic(order: usize) -> Self {
        let mut made = Self { order, cube: vec![0; order * order * order], improper: None };
        for row in 0..order {
            for column in 0..order {
                made.add([row, column, (row + column) % order], 1);
            }
        }
        made
    }

    fn at(&self, [row, column, sign]: [usize; 3]) -> usize {
        (row * self.order + column) * self.order + sign
    }

    fn get(&self, cell: [usize; 3]) -> i8 {
        self.cube.get(self.at(cell)).copied().unwrap_or_default()
    }

    fn add(&mut self, cell: [usize; 3], what: i8) {
        let at = self.at(cell);
        if let Some(slot) = self.cube.get_mut(at) {
            *slot += what;
        }
    }

    /// Where along this axis there is a 1.
    fn ones(&self, cell: [usize; 3], axis: usize) -> Vec<usize> {
        let with = |value: usize| {
            let mut other = cell;
            if let Some(slot) = other.get_mut(axis) {
                *slot = value;
            }
            other
        };
        (0..self.order).filter(|value| self.get(with(*value)) == 1).collect()
    }

    /// One move: along each axis through a cell of 0 (or the cell of -1) a 1 is picked, and the cube between them is turned over.
    fn step(&mut self, rng: &mut ChaCha8Rng) {
        let start = self.improper.unwrap_or_else(|| self.empty_cell(rng));
        let mut other = start;
        for (axis, slot) in other.iter_mut().enumerate() {
            let ones = self.ones(start, axis);
            let pick = below(rng, ones.len() as u32) as usize;
            *slot = ones.get(pick).copied().unwrap_or_default();
        }
        let ([a, b, c], [x, y, z]) = (start, other);
        for (cell, what) in [
            ([a, b, c], 1),
            ([a, y, z], 1),
            ([x, b, z], 1),
            ([x, y, c], 1),
            ([x, b, c], -1),
            ([a, y, c], -1),
            ([a, b, z], -1),
            ([x, y, z], -1),
        ] {
            self.add(cell, what);
        }
        self.improper = Some(other).filter(|cell| self.get(*cell) < 0);
    }

    /// Moves until there is a square again. Squares are counted and not moves, since only so is each as likely as the others.
    fn next_square(&mut self, rng: &mut ChaCha8Rng) {
        self.step(rng);
        while self.improper.is_some() {
            self.step(rng);
        }
    }

    fn empty_cell(&self, rng: &mut ChaCha8Rng) -> [usize; 3] {
        let n = self.order as u32;
        loop {
            let cell = [(); 3].map(|()| below(rng, n) as usize);
            if self.get(cell) == 0 {
                return cell;
            }
        }
    }

    fn square(&self) -> Vec<Vec<usize>> {
        let sign = |row, column| self.ones([row, column, 0], 2).first().copied().unwrap_or_default();
        (0..self.order).map(|row| (0..self.order).map(|column| sign(row, column)).collect()).collect()
    }
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeMap;

    use super::*;
    use crate::math::distributions::chi_squared;
    use crate::math::rng::stream;

    fn is_latin(square: &[Vec<usize>]) -> bool {
        let order = square.len();
        let whole = |line: Vec<usize>| {
            let mut line = line;
            line.sort_unstable();
            line == (0..order).collect::<Vec<_>>()
        };
        square.iter().all(|row| whole(row.clone()))
            && (0..order).all(|column| whole(square.iter().map(|row| row[column]).collect()))
    }

    /// Reduced squares of orders 1 to 6: 1, 1, 1, 4, 56, 9408 (Fisher and Yates 1934, Proc. Camb. Phil. Soc. 30:492-507, from memory).
    #[test]
    fn reduced_squares_are_all_there() {
        assert_eq!([1, 2, 3, 4, 5, 6].map(|order| reduced(order).len()), [1, 1, 1, 4, 56, 9408]);
        let factorial = |n: usize| (1..=n).product::<usize>();
        for order in 1..=6_usize {
            let all = reduced(order).len() * factorial(order) * factorial(order - 1);
            assert_eq!(number(order), Some(all as f64));
        }
        // The counts that the tables give: 576 of order 4, 161,280 of order 5.
        assert_eq!((number(4), number(5)), (Some(576.0), Some(161_280.0)));
    }

    #[test]
    fn all_576_squares_of_order_4_are_alike_likely() {
        let mut seen: BTreeMap<Vec<Vec<usize>>, u64> = BTreeMap::new();
        let draws = 57_600_u64;
        for at in 0..draws {
            *seen.entry(drawn(&mut stream(3, at), 4)).or_default() += 1;
        }
        assert_eq!(seen.len(), 576);
        let expected = draws as f64 / 576.0;
        let x2: f64 = seen.values().map(|n| (*n as f64 - expected).powi(2) / expected).sum();
        let p = chi_squared::sf(x2, 575.0);
        assert!(p > 0.001, "chi-square {x2}, P {p}");
    }

    /// The moves alone, without the deals behind them, reach all 576 squares of order 4 alike; one square's deals reach 432 or 144 of them.
    #[test]
    fn the_moves_are_uniform_by_themselves() {
        let mut rng = stream(5, 0);
        let mut moving = Moving::cyclic(4);
        let mut seen: BTreeMap<Vec<Vec<usize>>, u64> = BTreeMap::new();
        let draws = 57_600_u64;
        let mut made = 0;
        while made < draws {
            for _ in 0..24 {
                moving.next_square(&mut rng);
            }
            *seen.entry(moving.square()).or_default() += 1;
            made += 1;
        }
        assert_eq!(seen.len(), 576);
        let expected = draws as f64 / 576.0;
        let x2: f64 = seen.values().map(|n| (*n as f64 - expected).powi(2) / expected).sum();
        let p = chi_squared::sf(x2, 575.0);
        assert!(p > 0.001, "chi-square {x2}, P {p}");
    }

    #[test]
    fn squares_of_every_order_are_latin() {
        for order in 1..=12 {
            let square = drawn(&mut stream(9, order as u64), order);
            assert!(is_latin(&square), "{square:?}");
            assert_eq!(square, drawn(&mut stream(9, order as u64), order));
        }
    }
}
