//! Contrasts where the estimates have a covariance and no likelihood of counts: robust covariances, and laws of the trays where no fit is found.
//!
//! The parameters within a distance `c` of the estimates, measured by their covariance, are a ball `centre + L u`, `|u| <= c`, with
//! `L L'` the covariance. A contrast's limits at a critical value `c` are its smallest and largest value on that ball: they exist always,
//! also where the covariance is singular, and stay inside what rates can be. The signed root at 0 is the `c` at which a limit reaches 0.
//! This is the profile of the quadratic form of the estimates, `min { |u| : contrast = v }`, read the other way round.
//!
//! On a sphere the contrast is climbed along great circles, conjugate directions first (Absil, Mahony and Sepulchre 2008, section 8.3).

use super::goal::Goal;
use crate::math::dense::{add_scaled, dot};

/// The ball's centre and the root of the covariance.
#[derive(Debug, Clone)]
pub(super) struct Ball {
    centre: Vec<f64>,
    /// Columns of `L`.
    root: Vec<Vec<f64>>,
}

/// A point of the sphere where the contrast is largest (or smallest).
#[derive(Debug, Clone)]
pub(super) struct Extreme {
    pub(super) value: f64,
    pub(super) parameters: Vec<f64>,
    /// How fast the value grows with the radius.
    slope: f64,
    place: Vec<f64>,
}

/// Directions whose share of a variance is below this are none.
const RANK: f64 = 1e-12;
/// Radii on the way from the centre to the sphere, so that the climb follows one ridge.
const RINGS: usize = 6;
const CLIMBS: usize = 300;
/// The share of the slopes that may be left along the sphere at its top.
const LEVEL: f64 = 1e-9;
const HALVINGS: usize = 40;
/// A contrast that is not 0 within so many standard errors is never 0.
const FARTHEST: f64 = 1e4;

impl Ball {
    /// The ball of a covariance, which may be singular.
    pub(super) fn new(centre: &[f64], covariance: &[Vec<f64>]) -> Self {
        let scale: Vec<f64> =
            covariance.iter().enumerate().map(|(i, row)| row.get(i).map_or(0.0, |x| x.max(0.0).sqrt())).collect();
        let mut left: Vec<Vec<f64>> = covariance
            .iter()
            .zip(&scale)
            .map(|(row, a)| row.iter().zip(&scale).map(|(x, b)| if a * b > 0.0 { x / (a * b) } else { 0.0 }).collect())
            .collect();
        let mut root = Vec::new();
        // Cholesky's factor, the largest diagonal first, until nothing is left.
        for _ in 0..centre.len() {
            let largest = left.iter().enumerate().filter_map(|(i, row)| Some((i, *row.get(i)?)));
            let Some((pivot, size)) = largest.max_by(|a, b| a.1.total_cmp(&b.1)).filter(|(_, size)| *size > RANK)
            else {
                break;
            };
            let column: Vec<f64> =
                left.iter().map(|row| row.get(pivot).copied().unwrap_or(0.0) / size.sqrt()).collect();
            for (row, x) in left.iter_mut().zip(&column) {
                add_scaled(row, -x, &column);
            }
            root.push(column.iter().zip(&scale).map(|(x, scale)| x * scale).collect());
        }
        Self { centre: centre.to_vec(), root }
    }

    fn parameters(&self, place: &[f64]) -> Vec<f64> {
        let mut out = self.centre.clone();
        self.root.iter().zip(place).for_each(|(column, u)| add_scaled(&mut out, *u, column));
        out
    }

    /// The contrast at a place, and its slopes by the place.
    fn at(&self, goal: &Goal<'_>, place: &[f64], sign: f64) -> (f64, Vec<f64>) {
        let here = goal.at(&self.parameters(place));
        (sign * here.rate, self.root.iter().map(|column| sign * dot(column, &here.gradient)).collect())
    }

    /// True when the covariance gives the contrast any spread.
    pub(super) fn spreads(&self, goal: &Goal<'_>) -> bool {
        let here = goal.at(&self.centre);
        let slopes = || self.root.iter().map(|column| dot(column, &here.gradient));
        slopes().map(|x| x * x).sum::<f64>().sqrt() > 1e-9 * here.gradient.iter().map(|x| x.abs()).fold(0.0, f64::max)
    }

    /// The largest (`sign` 1) or smallest (-1) value within a radius.
    pub(super) fn extreme(&self, goal: &Goal<'_>, radius: f64, sign: f64) -> Extreme {
        let (_, slopes) = self.at(goal, &vec![0.0; self.root.len()], sign);
        let mut found = self.climbed(goal, slopes, radius / RINGS as f64, sign);
        for ring in 2..=RINGS {
            found = self.climbed(goal, found.place, radius * ring as f64 / RINGS as f64, sign);
        }
        found
    }

    /// The top of a sphere, from the direction of a start.
    fn climbed(&self, goal: &Goal<'_>, start: Vec<f64>, radius: f64, sign: f64) -> Extreme {
        let mut unit = scaled(start);
        let at = |unit: &[f64]| self.at(goal, &unit.iter().map(|x| radius * x).collect::<Vec<f64>>(), sign);
        let (mut value, mut slopes) = at(&unit);
        let mut before: Option<(Vec<f64>, Vec<f64>)> = None;
        for _ in 0..CLIMBS {
            let up = tangent(&slopes, &unit);
            // At the top the value changes with the square of what is left.
            if norm(&up) < LEVEL * norm(&slopes) {
                break;
            }
            // Made tangent once more: the slopes left are short beside what was taken from them.
            let ahead = scaled(tangent(&scaled(conjugate(&up, before.as_ref(), &unit)), &unit));
            let turned = |angle: f64| -> (Vec<f64>, Vec<f64>) {
                let (s, c) = angle.sin_cos();
                let to = unit.iter().zip(&ahead).map(|(u, a)| c * u + s * a).collect();
                (to, unit.iter().zip(&ahead).map(|(u, a)| c * a - s * u).collect())
            };
            let slope = |angle: f64| {
                let (to, along) = turned(angle);
                radius * dot(&at(&to).1, &along)
            };
            let first = radius * dot(&slopes, &ahead);
            let (to, _) = turned(top(slope, first, dot(&up, &ahead).atan2(dot(&slopes, &unit).max(0.0))));
            let (higher, there) = at(&to);
            if higher <= value {
                break;
            }
            let gained = higher - value;
            before = Some((up, ahead));
            (unit, value, slopes) = (scaled(to), higher, there);
            if gained < 1e-15 * (1.0 + value.abs()) {
                break;
            }
        }
        let place: Vec<f64> = unit.iter().map(|x| radius * x).collect();
        Extreme { value: sign * value, parameters: self.parameters(&place), slope: dot(&slopes, &unit), place }
    }

    /// The radius at which the contrast can be 0, and the parameters there; none where it never is.
    pub(super) fn distance(&self, goal: &Goal<'_>, estimate: f64) -> Option<(f64, Vec<f64>)> {
        if estimate == 0.0 {
            return Some((0.0, self.centre.clone()));
        }
        // Towards 0 is the smallest value of a positive contrast.
        let sign = -estimate.signum();
        let (_, slopes) = self.at(goal, &vec![0.0; self.root.len()], sign);
        let (mut near, mut far) = (0.0, FARTHEST);
        let mut radius = (estimate.abs() / norm(&slopes)).min(0.5 * FARTHEST);
        let mut place = slopes;
        for _ in 0..60 {
            let found = if near == 0.0 {
                self.extreme(goal, radius, sign)
            } else {
                self.climbed(goal, place.clone(), radius, sign)
            };
            // Above 0 where the sphere lies beyond.
            let beyond = sign * found.value;
            if beyond.abs() < 1e-13 * (1.0 + estimate.abs()) {
                return Some((radius, found.parameters));
            }
            if beyond > 0.0 {
                far = radius;
            } else {
                near = radius;
            }
            if far - near < 1e-12 * far {
                return Some((radius, found.parameters)).filter(|_| far < FARTHEST);
            }
            let next = radius - beyond / found.slope;
            let middle = if far < FARTHEST { 0.5 * (near + far) } else { 2.0 * radius };
            let inside = next.is_finite() && next > near && next < far && next < 4.0 * radius;
            place = found.place;
            radius = if inside { next } else { middle };
            if radius >= FARTHEST {
                return None;
            }
        }
        None
    }
}

fn norm(x: &[f64]) -> f64 {
    dot(x, x).sqrt()
}

/// A vector at length 1; 0 stays.
fn scaled(mut x: Vec<f64>) -> Vec<f64> {
    let length = norm(&x);
    if length > 0.0 {
        x.iter_mut().for_each(|x| *x /= length);
    }
    x
}

/// The part of a direction that runs along the sphere.
fn tangent(slopes: &[f64], unit: &[f64]) -> Vec<f64> {
    let mut out = slopes.to_vec();
    add_scaled(&mut out, -dot(slopes, unit), unit);
    out
}

/// The next direction to climb in: the slope and, where that still climbs, a share of the last direction (Polak and Ribiere 1969).
fn conjugate(up: &[f64], before: Option<&(Vec<f64>, Vec<f64>)>, unit: &[f64]) -> Vec<f64> {
    let Some((last, ahead)) = before else { return up.to_vec() };
    let change: f64 = up.iter().zip(last).map(|(a, b)| a * (a - b)).sum();
    let share = (change / dot(last, last)).max(0.0) * norm(last);
    let mut out = up.to_vec();
    add_scaled(&mut out, share, &tangent(ahead, unit));
    if dot(&out, up) > 1e-3 * norm(&out) * norm(up) { out } else { up.to_vec() }
}

/// The first angle at which a slope that starts above 0 meets 0, near a guess.
fn top(slope: impl Fn(f64) -> f64, first: f64, guess: f64) -> f64 {
    let (mut low, mut high) = ((0.0, first), (guess.clamp(1e-9, 1.5), f64::NAN));
    loop {
        high.1 = slope(high.0);
        if high.1 <= 0.0 {
            break;
        }
        if high.0 >= std::f64::consts::PI {
            return high.0;
        }
        low = high;
        high.0 = (2.0 * high.0).min(std::f64::consts::PI);
    }
    // Regula falsi; the end that stays is halved (Dowell and Jarratt 1971).
    for _ in 0..HALVINGS {
        let angle = (low.0 * high.1 - high.0 * low.1) / (high.1 - low.1);
        let here = slope(angle);
        if here.abs() < 1e-10 * first || high.0 - low.0 < 1e-13 {
            return angle;
        }
        if here > 0.0 {
            low = (angle, here);
            high.1 *= 0.5;
        } else {
            high = (angle, here);
            low.1 *= 0.5;
        }
    }
    low.0
}
