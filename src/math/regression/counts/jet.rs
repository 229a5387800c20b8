//! A number with its first and second derivatives by three coordinates: the count part, the zero part, and the logarithm of the spread.

use std::ops::{Add, Mul, Neg, Sub};

/// Coordinates.
pub(super) const SIZE: usize = 3;

/// Value, gradient and Hessian.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Jet {
    pub(super) value: f64,
    pub(super) gradient: [f64; SIZE],
    pub(super) hessian: [[f64; SIZE]; SIZE],
}

impl Jet {
    pub(super) fn constant(value: f64) -> Self {
        Self { value, gradient: [0.0; SIZE], hessian: [[0.0; SIZE]; SIZE] }
    }

    /// A coordinate.
    pub(super) fn coordinate(value: f64, at: usize) -> Self {
        Self { value, gradient: std::array::from_fn(|i| f64::from(u8::from(i == at))), hessian: [[0.0; SIZE]; SIZE] }
    }

    /// A function of it, by its value and its first and second derivatives there.
    pub(super) fn through(self, value: f64, first: f64, second: f64) -> Self {
        let [g0, g1, g2] = self.gradient;
        let g = [g0, g1, g2];
        let outer = |a: f64| g.map(|b| a * b);
        let square = g.map(outer);
        let mut hessian = self.hessian;
        for (row, square) in hessian.iter_mut().zip(&square) {
            row.iter_mut().zip(square).for_each(|(h, s)| *h = first * *h + second * s);
        }
        Self { value, gradient: g.map(|g| first * g), hessian }
    }

    pub(super) fn exp(self) -> Self {
        let e = self.value.exp();
        self.through(e, e, e)
    }

    /// `ln(1 + e^x)`.
    pub(super) fn softplus(self) -> Self {
        let x = self.value;
        let value = if x > 0.0 { x + (-x).exp().ln_1p() } else { x.exp().ln_1p() };
        let rate = if x >= 0.0 { 1.0 / (1.0 + (-x).exp()) } else { x.exp() / (1.0 + x.exp()) };
        let other = if x >= 0.0 { (-x).exp() / (1.0 + (-x).exp()) } else { 1.0 / (1.0 + x.exp()) };
        self.through(value, rate, rate * other)
    }

    /// `ln(1 - e^x)` of a negative number.
    pub(super) fn ln_one_less_exp(self) -> Self {
        let rest = -self.value.exp_m1();
        let e = self.value.exp();
        self.through(rest.ln(), -e / rest, -e / (rest * rest))
    }

    /// `ln(e^x + e^y)`.
    pub(super) fn ln_sum_exp(self, other: Self) -> Self {
        // e^x + e^y = e^y (1 + e^(x - y)).
        let (low, high) = if self.value < other.value { (self, other) } else { (other, self) };
        high + (low - high).softplus()
    }

    pub(super) fn scaled(self, by: f64) -> Self {
        Self {
            value: by * self.value,
            gradient: self.gradient.map(|g| by * g),
            hessian: self.hessian.map(|row| row.map(|h| by * h)),
        }
    }
}

impl Add for Jet {
    type Output = Self;

    fn add(mut self, other: Self) -> Self {
        self.value += other.value;
        self.gradient.iter_mut().zip(&other.gradient).for_each(|(a, b)| *a += b);
        for (row, other) in self.hessian.iter_mut().zip(&other.hessian) {
            row.iter_mut().zip(other).for_each(|(a, b)| *a += b);
        }
        self
    }
}

impl Neg for Jet {
    type Output = Self;

    fn neg(self) -> Self {
        self.scaled(-1.0)
    }
}

impl Sub for Jet {
    type Output = Self;

    fn sub(self, other: Self) -> Self {
        self + -other
    }
}

impl Mul for Jet {
    type Output = Self;

    fn mul(self, other: Self) -> Self {
        let mut product = self.scaled(other.value) + other.scaled(self.value);
        product.value = self.value * other.value;
        for ((row, a), b) in product.hessian.iter_mut().zip(&self.gradient).zip(&other.gradient) {
            for ((h, c), d) in row.iter_mut().zip(&other.gradient).zip(&self.gradient) {
                *h += a * c + b * d;
            }
        }
        product
    }
}
