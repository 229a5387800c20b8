//! Points of many beta distributions at one tail probability.
//!
//! With u = 1 / (a - 1/2), v = 1 / (b - 1/2), s = u + v and r = (u - v) / s, the point x with P(X <= x) = p has
//! `x / (1 - x) = (v / u) e^w`, `w = s r A(s, r^2) - z sqrt(s) B(s, r^2)`, z the upper normal point of p. Exchanging a and b
//! mirrors the distribution, so A and B are even in r; towards s = 0 they tend to the terms of a Cornish-Fisher series and
//! stay smooth. Both are held as polynomials through exact points; what they leave out is checked against exact points
//! between.

use super::{beta, normal};
use crate::math::search::{TailAt, solve_tail};
use crate::math::special::{Saddle, Share, beta_tails};

/// Nodes in s; those of A and B stand side by side.
const ROWS: usize = 10;
const BOTH: usize = 2 * ROWS;
/// Nodes in r^2.
const COLUMNS: usize = 7;
/// Largest s of the table: both shapes above 10.
const MOST: f64 = 0.1;
/// Largest s z^2, so that far tails use a smaller table.
const REACH: f64 = 2.5;
/// Tails nearer to one half than this normal point are not tabulated.
const LEAST_POINT: f64 = 0.1;
/// Least tail that is tabulated.
const LEAST_TAIL: f64 = 1e-30;
/// Deviation in w, about that of x relative to x, above which the table is not used.
const TOLERANCE: f64 = 2e-14;

/// Lower and upper points of beta distributions at one tail probability.
#[derive(Debug, Clone)]
pub(crate) struct BetaPoints {
    tail: f64,
    table: Option<Table>,
}

/// Coefficients by power of r^2, within them by power of s, on -1 to 1 each.
#[derive(Debug, Clone)]
struct Table {
    z: f64,
    most: f64,
    columns: [[f64; BOTH]; COLUMNS],
}

impl BetaPoints {
    /// Each point is solved for by itself.
    pub(crate) fn each(tail: f64) -> Self {
        Self { tail, table: None }
    }

    /// Points of large shapes come from a table, which costs as much as some hundred points; for long lists.
    pub(crate) fn tabulated(tail: f64) -> Self {
        Self { tail, table: Table::new(tail) }
    }

    /// The tail probability.
    pub(crate) fn tail(&self) -> f64 {
        self.tail
    }

    /// x with P(X <= x) = tail.
    #[inline]
    pub(crate) fn lower(&self, a: f64, b: f64) -> f64 {
        self.tabled(a, b).map_or_else(|| beta::quantile(self.tail, a, b), |(x, _)| x)
    }

    /// x with P(X > x) = tail.
    #[inline]
    pub(crate) fn upper(&self, a: f64, b: f64) -> f64 {
        self.tabled(b, a).map_or_else(|| beta::isf(self.tail, a, b), |(_, y)| y)
    }

    /// The lower point and its complement.
    #[inline]
    fn tabled(&self, a: f64, b: f64) -> Option<(f64, f64)> {
        let table = self.table.as_ref()?;
        let (u, v) = (1.0 / (a - 0.5), 1.0 / (b - 0.5));
        // Shapes of one half and less give a negative or infinite u or v.
        if !(u > 0.0 && v > 0.0 && u + v <= table.most) {
            return None;
        }
        let odds = v * table.shift(u, v).exp();
        let sum = odds + u;
        Some((odds / sum, u / sum))
    }
}

impl Table {
    /// `None` where a table would not be exact enough.
    fn new(tail: f64) -> Option<Self> {
        let z = normal::isf(tail);
        if !(tail >= LEAST_TAIL && z >= LEAST_POINT) {
            return None;
        }
        let most = MOST.min(REACH / (z * z));
        let mut at_nodes = [[0.0; BOTH]; COLUMNS];
        for (column, square) in at_nodes.iter_mut().zip(nodes::<COLUMNS>()) {
            let r = (0.5 * (1.0 + square)).sqrt();
            let (first, second) = column.split_at_mut(ROWS);
            for ((odd, even), place) in first.iter_mut().zip(second).zip(nodes::<ROWS>()) {
                let s = 0.5 * most * (1.0 + place);
                let (u, v) = (0.5 * s * (1.0 + r), 0.5 * s * (1.0 - r));
                let (one, other) = (exact_shift(tail, z, u, v), exact_shift(tail, z, v, u));
                *odd = (one - other) / (2.0 * s * r);
                *even = -(one + other) / (2.0 * z * s.sqrt());
            }
        }
        let table = Self { z, most, columns: polynomials(&at_nodes) };
        let worst = table.between_nodes().map(|(u, v)| (table.shift(u, v) - exact_shift(tail, z, u, v)).abs());
        (worst.fold(0.0, f64::max) <= TOLERANCE).then_some(table)
    }

    /// w by the table.
    #[inline]
    fn shift(&self, u: f64, v: f64) -> f64 {
        let s = u + v;
        let r = (u - v) / s;
        let (x, y) = (2.0 / self.most * s - 1.0, 2.0 * r * r - 1.0);
        let mut rows = [0.0; BOTH];
        for column in self.columns.iter().rev() {
            for (row, coefficient) in rows.iter_mut().zip(column) {
                *row = *row * y + coefficient;
            }
        }
        let (odd, even) = rows.split_at(ROWS);
        let start = (0.0, 0.0);
        let (odd, even) = odd.iter().zip(even).rev().fold(start, |sum, one| (sum.0 * x + one.0, sum.1 * x + one.1));
        s * r * odd - self.z * s.sqrt() * even
    }

    /// Places as far from the nodes as can be.
    fn between_nodes(&self) -> impl Iterator<Item = (f64, f64)> {
        let most = self.most;
        [0.03, 0.2, 0.55, 0.93, 1.0].into_iter().flat_map(move |part| {
            [-0.999, -0.8, -0.33, 0.1, 0.6, 0.95]
                .map(|r| (0.5 * part * most * (1.0 + r), 0.5 * part * most * (1.0 - r)))
        })
    }
}

/// w of the exact point, by the inverse series.
fn exact_shift(tail: f64, z: f64, u: f64, v: f64) -> f64 {
    let (a, b) = (1.0 / u + 0.5, 1.0 / v + 0.5);
    let shape = Saddle::new(a, b);
    solve_tail(-z * (u + v).sqrt(), tail.ln(), 1.0, |w| {
        let at = Share::of_parts(v * w.exp(), 0.0, u, 0.0);
        let tails = beta_tails(&shape, at);
        TailAt {
            ln_tail: tails.lower.ln(),
            hazard: tails.kernel / tails.lower,
            slope: a * at.y - b * at.x,
            bend: -(a + b) * at.x * at.y,
        }
    })
}

/// Zeros of the Chebyshev polynomial of degree N.
fn nodes<const N: usize>() -> [f64; N] {
    std::array::from_fn(|at| (std::f64::consts::PI * (at as f64 + 0.5) / N as f64).cos())
}

/// Powers of the polynomial through values at the nodes.
fn through<const N: usize>(values: [f64; N]) -> [f64; N] {
    let chebyshev: [f64; N] = std::array::from_fn(|order| {
        let angle = |at: usize| std::f64::consts::PI * order as f64 * (at as f64 + 0.5) / N as f64;
        let sum: f64 = values.iter().enumerate().map(|(at, value)| value * angle(at).cos()).sum();
        sum * if order == 0 { 1.0 } else { 2.0 } / N as f64
    });
    // T(k + 1) = 2 x T(k) - T(k - 1), as powers.
    let (mut before, mut now) = ([0.0; N], [0.0; N]);
    if let Some(constant) = now.first_mut() {
        *constant = 1.0;
    }
    let mut powers = [0.0; N];
    for (order, coefficient) in chebyshev.iter().enumerate() {
        for (power, part) in powers.iter_mut().zip(&now) {
            *power += coefficient * part;
        }
        let double = if order == 0 { 1.0 } else { 2.0 };
        let raised = std::iter::once(&0.0).chain(&now).zip(&before).map(|(now, before)| double * now - before);
        let mut next = [0.0; N];
        next.iter_mut().zip(raised).for_each(|(to, from)| *to = from);
        (before, now) = (now, next);
    }
    powers
}

/// Both polynomials in s and r^2 from their values at all nodes.
fn polynomials(at_nodes: &[[f64; BOTH]; COLUMNS]) -> [[f64; BOTH]; COLUMNS] {
    let mut by_row = *at_nodes;
    for column in &mut by_row {
        let (odd, even) = column.split_at_mut(ROWS);
        for part in [odd, even] {
            let mut values = [0.0; ROWS];
            values.copy_from_slice(part);
            part.copy_from_slice(&through(values));
        }
    }
    let mut made = [[0.0; BOTH]; COLUMNS];
    for place in 0..BOTH {
        let values = by_row.map(|column| column.get(place).copied().unwrap_or(0.0));
        for (column, power) in made.iter_mut().zip(through(values)) {
            if let Some(to) = column.get_mut(place) {
                *to = power;
            }
        }
    }
    made
}
