//! Gauss rules: for the normal weight, and for sums over consecutive integers.

use std::f64::consts::PI;

/// Nodes and weights: `integral of f = sum weights f(nodes)`.
#[derive(Debug, Clone, PartialEq)]
pub struct Rule {
    /// Where the function is evaluated, ascending.
    pub nodes: Vec<f64>,
    /// Its weight there; the weights add up to the whole measure.
    pub weights: Vec<f64>,
}

/// Gauss-Hermite rule for the standard normal density: `integral of f(z) phi(z) dz`, exact for polynomials of degree
/// `2 n - 1`.
///
/// The nodes are the eigenvalues of the tridiagonal matrix of the recurrence `z p_k = p_{k+1} + k p_{k-1}`, the weights
/// the Christoffel numbers at them. `n` from 1 to about 300.
///
/// # References
/// Golub and Welsch (1969), Mathematics of Computation 23:221-230.
///
/// ```
/// let rule = rootling::math::special::gauss_hermite(5);
/// // E z^4 = 3
/// let fourth: f64 = rule.nodes.iter().zip(&rule.weights).map(|(z, w)| w * z.powi(4)).sum();
/// approx::assert_relative_eq!(fourth, 3.0, epsilon = 0.0, max_relative = 3.3e-14);
/// ```
#[must_use]
pub fn gauss_hermite(n: usize) -> Rule {
    let squares: Vec<f64> = (1..n).map(|k| k as f64).collect();
    symmetric_rule(n, &squares, 1.0)
}

/// Gauss rule for the sum over `0, 1, .. count - 1`, exact for polynomials of degree `2 n - 1`; `n <= count`.
///
/// # References
/// The recurrence of the polynomials orthogonal on equidistant points: Chebyshev (1864); Abramowitz and Stegun (1964), 22.17.
///
/// ```
/// let rule = rootling::math::special::gauss_sum(100, 4);
/// // 0^3 + 1^3 + .. + 99^3 = (99 * 100 / 2)^2
/// let cubes: f64 = rule.nodes.iter().zip(&rule.weights).map(|(j, w)| w * j.powi(3)).sum();
/// approx::assert_relative_eq!(cubes, 24_502_500.0, epsilon = 0.0, max_relative = 1e-13);
/// ```
#[must_use]
pub fn gauss_sum(count: usize, n: usize) -> Rule {
    let n = n.min(count);
    let size = count as f64;
    let square = |k: f64| k * k * (size * size - k * k) / (4.0 * (4.0 * k * k - 1.0));
    let squares: Vec<f64> = (1..n).map(|k| square(k as f64)).collect();
    let mut rule = symmetric_rule(n, &squares, size);
    for node in &mut rule.nodes {
        *node += 0.5 * (size - 1.0);
    }
    rule
}

/// The rule of a weight symmetric around 0 whose monic orthogonal polynomials obey `x p_k = p_{k+1} + b_k p_{k-1}`, from
/// `squares = b_1, b_2, ..` and the total weight.
fn symmetric_rule(n: usize, squares: &[f64], total: f64) -> Rule {
    let beside: Vec<f64> = squares.iter().map(|b| b.sqrt()).collect();
    // Roots come in pairs; only those above 0 are looked for.
    let upper: Vec<f64> = (0..n / 2).map(|rank| eigenvalue(squares, &beside, n, n - 1 - rank)).collect();
    let mut nodes: Vec<f64> = upper.iter().map(|x| -x).collect();
    if n % 2 == 1 {
        nodes.push(0.0);
    }
    nodes.extend(upper.iter().rev());
    let weights: Vec<f64> = nodes.iter().map(|x| christoffel(*x, &beside)).collect();
    let sum: f64 = weights.iter().sum();
    Rule { nodes, weights: weights.iter().map(|w| w * total / sum).collect() }
}

/// The eigenvalue of that rank (from 0, ascending) of the tridiagonal matrix with zero diagonal: bisection by sign counts, then
/// Newton steps on the orthonormal polynomial.
fn eigenvalue(squares: &[f64], beside: &[f64], n: usize, rank: usize) -> f64 {
    let largest = beside.iter().fold(0.0_f64, |a, b| a.max(*b));
    let (mut low, mut high) = (0.0, 2.0 * largest);
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if below(squares, n, middle) <= rank {
            low = middle;
        } else {
            high = middle;
        }
        if high - low < 1e-10 * high {
            break;
        }
    }
    let mut x = 0.5 * (low + high);
    for _ in 0..4 {
        let step = newton_ratio(x, beside);
        let next = x - step;
        if !(next > low && next < high) || step == 0.0 {
            break;
        }
        x = next;
    }
    x
}

/// How many eigenvalues are below `x`.
fn below(squares: &[f64], n: usize, x: f64) -> usize {
    let mut pivot = -x;
    let mut count = usize::from(n > 0 && pivot < 0.0);
    for b in squares {
        let divisor = if pivot == 0.0 { 1e-300 } else { pivot };
        pivot = -x - b / divisor;
        count += usize::from(pivot < 0.0);
    }
    count
}

/// `p_n(x) / p_n'(x)`, with the running values rescaled so that nothing overflows.
fn newton_ratio(x: f64, beside: &[f64]) -> f64 {
    let (mut before, mut now) = ([0.0, 0.0], [1.0, 0.0]);
    let mut last = 0.0;
    for b in beside.iter().chain(std::iter::once(&1.0)) {
        let next = [(x * now[0] - last * before[0]) / b, (now[0] + x * now[1] - last * before[1]) / b];
        (before, now, last) = (now, next, *b);
        let size = now[0].abs().max(now[1].abs());
        if size > 1e100 {
            before = before.map(|v| v / size);
            now = now.map(|v| v / size);
        }
    }
    if now[1] == 0.0 { 0.0 } else { now[0] / now[1] }
}

/// `1 / sum p_k(x)^2` over the orthonormal polynomials of degree below `n`.
fn christoffel(x: f64, beside: &[f64]) -> f64 {
    let (mut before, mut now, mut last, mut sum, mut shrunk) = (0.0, 1.0, 0.0, 1.0, 0.0_f64);
    for b in beside {
        (before, now) = (now, (x * now - last * before) / b);
        last = *b;
        sum += now * now;
        if sum > 1e100 {
            before *= 1e-50;
            now *= 1e-50;
            sum *= 1e-100;
            shrunk += 1.0;
        }
    }
    (-sum.ln() - shrunk * 100.0 * std::f64::consts::LN_10).exp()
}

/// `E f(Z)` of a standard normal `Z` by equal steps of at most `step`: error falls faster than any power of the step while
/// `f` is analytic in a strip of half-width well above it.
///
/// # References
/// Trefethen and Weideman (2014), SIAM Review 56:385-458.
///
/// ```
/// let second = rootling::math::special::normal_mean(|z| [z * z], 0.4);
/// approx::assert_relative_eq!(second[0], 1.0, epsilon = 0.0, max_relative = 1e-14);
/// ```
pub fn normal_mean<const N: usize>(f: impl Fn(f64) -> [f64; N], step: f64) -> [f64; N] {
    const FARTHEST: f64 = 9.0;
    let half = (FARTHEST / step.clamp(1e-3, 0.5)).ceil();
    let h = FARTHEST / half;
    let mut sum = [0.0; N];
    let steps = half as i32;
    for k in -steps..=steps {
        let z = f64::from(k) * h;
        let weight = h * (-0.5 * z * z).exp() / (2.0 * PI).sqrt();
        for (sum, value) in sum.iter_mut().zip(f(z)) {
            *sum += weight * value;
        }
    }
    sum
}
