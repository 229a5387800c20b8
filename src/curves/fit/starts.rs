//! Where searches start: fixed grids over the coordinates that bend the curve, the rest by least squares.

use super::data::Data;
use crate::curves::shape::{Form, Shape};
use crate::math::special::logit;

/// Start points of a shape, for the searches that must not miss the highest of several tops.
pub(crate) fn starts(form: Form, data: &Data) -> Vec<Vec<f64>> {
    match form.shape {
        Shape::Flat => vec![vec![data.overall()]],
        Shape::Straight => vec![vec![logit(data.overall().clamp(0.01, 0.99)); 2]],
        Shape::Falling => falling(form, data),
        Shape::Hump => hump(data),
        Shape::RiseAndFall => rise_and_fall(data),
        Shape::BrainCousens => hormetic(form, data, [1.3, 2.0, 4.0, 9.0]),
        Shape::Cedergreen => hormetic(form, data, [0.2, 0.8, 3.0, 9.0]),
        _ => rising(form, data),
    }
}

/// Places between and around the strengths above 0, in ln d.
fn middles(data: &Data) -> Vec<f64> {
    let places: Vec<f64> = data.levels.iter().map(|level| level.place.z).filter(|z| z.is_finite()).collect();
    let gap = data.axis.z_gap.max(0.7);
    let mut found = vec![data.axis.z_low - gap, data.axis.z_high + gap, data.axis.z_high + 2.5 * gap];
    for (a, b) in places.iter().zip(places.iter().skip(1)) {
        found.extend([0.2, 0.5, 0.8].map(|share| a + share * (b - a)));
    }
    found.extend(places);
    found
}

/// From slow to the steepest that is looked at: where a step fits, the top lies at that end.
fn steepnesses(data: &Data) -> [f64; 5] {
    let steepest = 20.0 / data.axis.z_gap;
    [0.5, 1.5, 4.0_f64.min(steepest), 0.5 * steepest, steepest].map(f64::ln)
}

/// Least squares of the rates on a column, weighted by the counts: level and slope.
fn line(data: &Data, column: &[f64]) -> (f64, f64) {
    let (mut n, mut sx, mut sy, mut sxx, mut sxy) = (0.0, 0.0, 0.0, 0.0, 0.0);
    for (level, x) in data.levels.iter().zip(column) {
        (n, sx, sy) = (n + level.stuck, sx + level.stuck * x, sy + level.rooted);
        (sxx, sxy) = (sxx + level.stuck * x * x, sxy + level.rooted * x);
    }
    let spread = sxx - sx * sx / n;
    let slope = if spread > 1e-9 * n { (sxy - sx * sy / n) / spread } else { 0.0 };
    ((sy - slope * sx) / n, slope)
}

fn rising(form: Form, data: &Data) -> Vec<Vec<f64>> {
    let mut list = Vec::new();
    for middle in middles(data) {
        for steep in steepnesses(data) {
            let shares: Vec<f64> =
                data.levels.iter().map(|level| form.at(&[0.0, 1.0, middle, steep], level.place).mean).collect();
            let (floor, slope) = line(data, &shares);
            let floor = floor.clamp(0.01, 0.95);
            let gain = (slope / (1.0 - floor)).clamp(0.03, 0.99);
            let mut theta = vec![floor, gain, middle, steep];
            form.shape.held(&mut theta);
            list.push(theta);
        }
    }
    list
}

fn falling(form: Form, data: &Data) -> Vec<Vec<f64>> {
    let mut list = Vec::new();
    for middle in middles(data) {
        for steep in steepnesses(data) {
            list.push(vec![through(form, data, &[1.0, middle, steep]), middle, steep]);
        }
    }
    list
}

/// The factor that fits rates in proportion to a curve, by least squares.
fn through(form: Form, data: &Data, theta: &[f64]) -> f64 {
    let (mut above, mut below) = (0.0, 1e-12);
    for level in &data.levels {
        let share = form.at(theta, level.place).mean;
        above += level.rooted * share;
        below += level.stuck * share * share;
    }
    (above / below).clamp(0.01, 0.99)
}

fn peak(data: &Data) -> f64 {
    data.rates().into_iter().fold(0.0_f64, f64::max).clamp(0.05, 0.97)
}

const PLACES: [f64; 11] = [-0.5, -0.1, 0.05, 0.2, 0.35, 0.5, 0.65, 0.8, 0.95, 1.1, 1.5];

fn hump(data: &Data) -> Vec<Vec<f64>> {
    let top = logit(peak(data));
    PLACES.iter().flat_map(|at| [1.0, 6.0, 25.0].map(|bend| vec![top, bend, *at])).collect()
}

fn rise_and_fall(data: &Data) -> Vec<Vec<f64>> {
    let peak = peak(data);
    let parts = [(peak.sqrt(), peak.sqrt()), (0.995, peak), (peak, 0.995), (0.9995, 0.9995)];
    let mut list = Vec::new();
    for at in PLACES {
        for (up, down) in parts {
            for slope in [0.004_f64, 0.02, 0.3, 1.5, 6.0] {
                list.push(vec![logit(up), logit(down), slope.ln(), at]);
            }
        }
    }
    list
}

fn hormetic(form: Form, data: &Data, steep: [f64; 4]) -> Vec<Vec<f64>> {
    let mut list = Vec::new();
    for at in middles(data) {
        for gain in [0.5, 0.9, 1.0] {
            for steep in steep.map(f64::ln) {
                let top = through(form, data, &[1.0, gain, steep, at]);
                list.push(vec![top, gain, steep, at]);
            }
        }
    }
    list
}
