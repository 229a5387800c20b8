//! The strength for a take where log odds (or another link) are straight in an axis: delta and Fieller limits.

use crate::curves::fit::{Data, Fitted, Judge};
use crate::curves::shape::{Form, Shape, median};
use crate::math::regression::Link;
use crate::math::special::logit;

/// Limits that may be open.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Open {
    pub(super) low: f64,
    pub(super) high: f64,
    /// `t^2 var(slope) / slope^2`; from 1 on the limits are open.
    pub(super) g: f64,
}

/// The straight line behind a fit: intercept, slope, their covariance, and whether its axis is `t` (else `ln d`).
struct Line {
    intercept: f64,
    slope: f64,
    covariance: [f64; 3],
    on_t: bool,
    wanted: f64,
}

fn line(fitted: &Fitted, data: &Data, take: f64) -> Option<Line> {
    // Takes that are averages over blocks or trays have no straight line of their own.
    if data.beside.as_ref().is_some_and(|beside| beside.averages()) || !fitted.at_end.is_empty() {
        return None;
    }
    let Form { shape, link, .. } = fitted.form;
    let (first, intercept, slope, by) = match (shape, fitted.own()) {
        (Shape::Straight, [low, high]) => (0, *low, high - low, [[1.0, 0.0], [-1.0, 1.0]]),
        (Shape::RisingFromNoneToAll, [_, _, middle, ln_steep]) => {
            let steep = ln_steep.exp();
            (2, median(link) - steep * middle, steep, [[-steep, -steep * middle], [0.0, steep]])
        }
        _ => return None,
    };
    // Covariance of intercept and slope from that of the two coordinates.
    let of = |j: usize, k: usize| {
        let entry = |a: usize, b: usize| fitted.covariance.get(first + a).and_then(|row| row.get(first + b)).copied();
        let pairs = [(0, 0), (0, 1), (1, 0), (1, 1)];
        let part = |(a, b): (usize, usize)| Some(by.get(j)?.get(a)? * by.get(k)?.get(b)? * entry(a, b)?);
        pairs.into_iter().map(part).sum::<Option<f64>>()
    };
    let on_t = shape == Shape::Straight;
    let wanted = quantile(if on_t { Link::Logit } else { link }, take);
    Some(Line { intercept, slope, covariance: [of(0, 0)?, of(0, 1)?, of(1, 1)?], on_t, wanted })
}

/// The linear predictor of a take.
pub(super) fn quantile(link: Link, take: f64) -> f64 {
    match link {
        Link::Logit => logit(take),
        Link::Probit => crate::math::distributions::normal::quantile(take),
        Link::ComplementaryLogLog => (-(-take).ln_1p()).ln(),
        Link::LogLog => -(-take.ln()).ln(),
    }
}

fn strength(line: &Line, data: &Data, place: f64) -> f64 {
    match (line.on_t, place) {
        (_, place) if place == f64::INFINITY => f64::INFINITY,
        (_, place) if place == f64::NEG_INFINITY => 0.0,
        (true, place) => data.axis.strength(place),
        (false, place) => place.exp(),
    }
}

/// Fieller's limits of the strength for a take, with the judge's quantile; `None` for shapes that are not straight.
///
/// # References
/// Fieller EC (1954), J. R. Stat. Soc. B 16:175-185; Finney DJ (1971), Probit Analysis, chapter 4.
pub(super) fn fieller(fitted: &Fitted, data: &Data, judge: &Judge, take: f64, level: f64) -> Option<Open> {
    let line = line(fitted, data, take)?;
    let square = judge.critical(level).powi(2);
    let [v11, v12, v22] = line.covariance;
    let off = line.intercept - line.wanted;
    let (a, b, c) = (line.slope * line.slope - square * v22, off * line.slope - square * v12, off * off - square * v11);
    let g = square * v22 / (line.slope * line.slope);
    let root = b * b - a * c;
    let (low, high) = if a > 0.0 {
        let root = root.max(0.0).sqrt();
        ((-b - root) / a, (-b + root) / a)
    } else {
        (f64::NEG_INFINITY, f64::INFINITY)
    };
    Some(Open { low: strength(&line, data, low), high: strength(&line, data, high), g })
}
