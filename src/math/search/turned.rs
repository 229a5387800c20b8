//! A function in other coordinates, one of which is a combination of its own.

use super::newton_steps::{Local, Maximum, Objective};
use crate::math::dense::dot;

/// `f(b)` by coordinates in which `b_k` gives way to `v = d . b`: `b_k = (v - sum_{j != k} d_j b_j) / d_k`, with `k` the longest entry of
/// `d`. The others stay what they are, so a maximum is where it was and a profile of `v` is that of the combination.
#[derive(Debug)]
pub(crate) struct Turned<F> {
    inner: F,
    direction: Vec<f64>,
    place: usize,
    longest: f64,
}

impl<F: Objective> Turned<F> {
    /// None when no entry of the direction differs from 0.
    pub(crate) fn new(inner: F, direction: &[f64]) -> Option<Self> {
        let larger = |a: (usize, f64), b: (usize, f64)| if b.1.abs() > a.1.abs() { b } else { a };
        let (place, longest) = direction.iter().copied().enumerate().fold((0, 0.0), larger);
        let turned = Self { inner, direction: direction.to_vec(), place, longest };
        (longest != 0.0 && longest.is_finite()).then_some(turned)
    }

    /// Where the combination stands among the coordinates.
    pub(crate) fn place(&self) -> usize {
        self.place
    }

    /// A maximum of the function in these coordinates.
    pub(crate) fn of(&self, top: &Maximum) -> Maximum {
        let mut same = top.clone();
        if let Some(entry) = same.at.get_mut(self.place) {
            *entry = dot(&self.direction, &top.at);
        }
        same.local = self.turned(&top.local);
        same
    }

    /// The coordinates of the function; `constant` is 0 for steps as for points, since the turn has no constant.
    fn back(&self, at: &[f64]) -> Vec<f64> {
        let mut own = at.to_vec();
        let others = self.direction.iter().zip(at).enumerate().filter(|(j, _)| *j != self.place);
        let rest: f64 = others.map(|(_, (d, b))| d * b).sum();
        if let Some(entry) = own.get_mut(self.place) {
            *entry = (*entry - rest) / self.longest;
        }
        own
    }

    /// `J' g` and `J' H J`: by column `j` of `J`, `e_j - d_j / d_k e_k`, and `e_k / d_k` for the combination.
    fn turned(&self, local: &Local) -> Local {
        let share = |j: usize| self.direction.get(j).copied().unwrap_or(0.0) / self.longest;
        let turn = |values: &mut [f64]| {
            let own = values.get(self.place).copied().unwrap_or(0.0);
            for (j, value) in values.iter_mut().enumerate() {
                if j == self.place {
                    *value = own / self.longest;
                } else {
                    *value -= share(j) * own;
                }
            }
        };
        let mut gradient = local.gradient.clone();
        turn(&mut gradient);
        let mut hessian = local.hessian.clone();
        hessian.iter_mut().for_each(|row| turn(row));
        let own = hessian.get(self.place).cloned().unwrap_or_default();
        for (j, row) in hessian.iter_mut().enumerate() {
            for (entry, x) in row.iter_mut().zip(&own) {
                *entry = if j == self.place { x / self.longest } else { *entry - share(j) * x };
            }
        }
        Local { value: local.value, gradient, hessian }
    }
}

impl<F: Objective> Objective for Turned<F> {
    fn value(&mut self, at: &[f64]) -> f64 {
        let own = self.back(at);
        self.inner.value(&own)
    }

    fn local(&mut self, at: &[f64]) -> Local {
        let own = self.back(at);
        let local = self.inner.local(&own);
        self.turned(&local)
    }

    fn refine(&mut self, at: &[f64]) {
        let own = self.back(at);
        self.inner.refine(&own);
    }

    fn blur(&self) -> f64 {
        self.inner.blur()
    }

    fn is_lost(&self, at: &[f64]) -> bool {
        self.inner.is_lost(&self.back(at))
    }

    fn share(&self, at: &[f64], step: &[f64]) -> f64 {
        self.inner.share(&self.back(at), &self.back(step))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::{abs_diff_eq, assert_abs_diff_eq};

    /// `-(a - 1)^2 - (a + b)^4 - exp(c) + c - a c / 5`.
    struct Ridge;

    impl Objective for Ridge {
        fn value(&mut self, at: &[f64]) -> f64 {
            let [a, b, c] = [at[0], at[1], at[2]];
            -(a - 1.0).powi(2) - (a + b).powi(4) - c.exp() + c - 0.2 * a * c
        }

        fn local(&mut self, at: &[f64]) -> Local {
            let [a, b, c] = [at[0], at[1], at[2]];
            let (third, second) = (4.0 * (a + b).powi(3), 12.0 * (a + b).powi(2));
            Local {
                value: self.value(at),
                gradient: vec![-2.0 * (a - 1.0) - third - 0.2 * c, -third, 1.0 - c.exp() - 0.2 * a],
                hessian: vec![
                    vec![-2.0 - second, -second, -0.2],
                    vec![-second, -second, 0.0],
                    vec![-0.2, 0.0, -c.exp()],
                ],
            }
        }
    }

    #[test]
    fn derivatives_are_those_of_the_value_in_the_new_coordinates() {
        let mut turned = Turned::new(Ridge, &[0.5, -2.0, 1.0]).unwrap();
        assert_eq!(turned.place(), 1);
        let at = [0.3, 0.9, -0.4];
        let local = turned.local(&at);
        let h = 1e-5;
        for j in 0..3 {
            let moved = |by: f64| {
                let mut next = at;
                next[j] += by;
                next
            };
            let (up, down) = (turned.local(&moved(h)), turned.local(&moved(-h)));
            let slope = (up.value - down.value) / (2.0 * h);
            assert_abs_diff_eq!(slope, local.gradient[j], epsilon = 1e-8 * (1.0 + slope.abs()));
            for k in 0..3 {
                let second = (up.gradient[k] - down.gradient[k]) / (2.0 * h);
                assert!(abs_diff_eq!(second, local.hessian[k][j], epsilon = 1e-7 * (1.0 + second.abs())), "{j} {k}");
            }
        }
    }

    #[test]
    fn a_direction_of_nothing_is_none() {
        assert!(Turned::new(Ridge, &[0.0; 3]).is_none());
    }
}
