//! Sums over very many rows that hold a cutting or a few each: cuttings grade by grade, so many at a time, in one order whatever the threads.
//!
//! With one slope for all cuts the gap between two predictors is the same for all rows, so what a grade owes to it is its cuttings times one
//! number, and the two shares that are left of a cutting take one exponential: `1 + exp(-cut) exp(-shift)` on either side of its grade.

use rayon::prelude::*;

use super::rows::GradeRows;
use super::sums::{Layout, Sums};

/// Rows from which on it is worth it, cuttings worked through in one go, and columns at most.
const MANY: usize = 2048;
const TOGETHER: usize = 4096;
const WIDEST: usize = 12;
/// Predictors farther out are left to the sums row by row, which lose nothing there.
const FAR: f64 = 150.0;
/// Products above this are taken to their logarithm.
const LARGE: f64 = 1e200;

/// Cuttings of one grade: columns row after row, offset and number of each entry.
#[derive(Debug, Clone, Default)]
struct OfGrade {
    x: Vec<f64>,
    offset: Vec<f64>,
    n: Vec<f64>,
    total: f64,
}

/// All cuttings by grade.
#[derive(Debug, Clone)]
pub(super) struct Many {
    width: usize,
    by_grade: Vec<OfGrade>,
}

/// Sums over cuttings of one grade.
struct Part {
    ln_likelihood: f64,
    /// Slopes and bends by the predictor above and below the grade.
    slope: [f64; 2],
    bend: [f64; 2],
    /// The same times columns.
    slopes: Vec<f64>,
    cross: [Vec<f64>; 2],
    /// Lower triangle of columns by columns.
    square: Vec<f64>,
}

impl Many {
    /// None where rows are few or wide, where most hold several grades, or where slopes differ by cut.
    pub(super) fn of(rows: &GradeRows, layout: Layout<'_>) -> Option<Self> {
        let width = rows.width();
        if rows.len() < MANY || width > WIDEST || !layout.partial.is_empty() {
            return None;
        }
        let held: usize = rows.iter().map(|(_, _, counts)| counts.iter().filter(|n| **n > 0.0).count()).sum();
        if held > 2 * rows.len() {
            return None;
        }
        // Cuttings of a grade are as many entries, or fewer where some are held together.
        let room = |total: &f64| {
            let entries = (*total as usize).min(rows.len());
            let list = |each: usize| Vec::with_capacity(each * entries);
            OfGrade { x: list(width), offset: list(1), n: list(1), total: 0.0 }
        };
        let mut by_grade: Vec<OfGrade> = rows.by_grade().iter().map(room).collect();
        let mut line = vec![0.0; width];
        for (x, offset, counts) in rows.iter() {
            line.fill(0.0);
            for (at, value) in x {
                line.get_mut(*at).into_iter().for_each(|slot| *slot = *value);
            }
            for (n, one) in counts.iter().zip(&mut by_grade).filter(|(n, _)| **n > 0.0) {
                one.x.extend_from_slice(&line);
                one.offset.push(offset);
                one.n.push(*n);
                one.total += n;
            }
        }
        Some(Self { width, by_grade })
    }

    /// The first of every so many cuttings of each grade.
    pub(super) fn each(&self, step: usize) -> Self {
        let thinned = |held: &OfGrade| {
            let mut some = OfGrade::default();
            for (at, (offset, n)) in held.offset.iter().zip(&held.n).enumerate().step_by(step) {
                some.x.extend_from_slice(held.x.get(at * self.width..(at + 1) * self.width).unwrap_or_default());
                some.offset.push(*offset);
                some.n.push(*n);
                some.total += n;
            }
            some
        };
        Self { width: self.width, by_grade: self.by_grade.iter().map(thinned).collect() }
    }

    /// The sums at one place; none where a predictor is far out, or predictors do not fall from cut to cut.
    pub(super) fn at(&self, layout: Layout<'_>, theta: &[f64]) -> Option<Sums> {
        let (cuts, slopes) = theta.split_at(layout.cuts.min(theta.len()));
        let falls = cuts.iter().zip(cuts.iter().skip(1)).all(|(a, b)| a > b);
        if !falls || theta.iter().any(|x| x.is_nan() || x.abs() >= FAR) {
            return None;
        }
        let mut jobs = Vec::new();
        for (grade, held) in self.by_grade.iter().enumerate() {
            jobs.extend((0..held.n.len()).step_by(TOGETHER).map(|from| (grade, from)));
        }
        let found: Vec<Option<Part>> = jobs.par_iter().map(|job| self.part(*job, cuts, slopes)).collect();
        let size = layout.size();
        let mut sums = Sums { ln_likelihood: 0.0, slopes: vec![0.0; size], information: vec![vec![0.0; size]; size] };
        for ((grade, _), part) in jobs.iter().zip(&found) {
            add_part(&mut sums, *grade, layout, part.as_ref()?);
        }
        self.add_gaps(&mut sums, cuts);
        super::sums::mirror(&mut sums.information);
        Some(sums)
    }

    /// What grades between two cuts owe to the gap of these.
    fn add_gaps(&self, sums: &mut Sums, cuts: &[f64]) {
        let pairs = cuts.iter().zip(cuts.iter().skip(1)).enumerate();
        for ((at, (above, below)), held) in pairs.zip(self.by_grade.iter().skip(1)) {
            let gap = below - above;
            let (ratio, open) = (gap.exp(), -gap.exp_m1());
            let (slope, bend) = (held.total * ratio / open, held.total * ratio / (open * open));
            sums.ln_likelihood += held.total * open.ln();
            for (place, by) in [(at, slope), (at + 1, -slope)] {
                sums.slopes.get_mut(place).into_iter().for_each(|sum| *sum += by);
            }
            for (row, column, by) in [(at, at, bend), (at + 1, at + 1, bend), (at + 1, at, -bend)] {
                super::sums::add(&mut sums.information, row, column, by);
            }
        }
    }

    fn part(&self, (grade, from): (usize, usize), cuts: &[f64], slopes: &[f64]) -> Option<Part> {
        let (held, width) = (self.by_grade.get(grade)?, self.width);
        // Above its grade's lower end, and below its upper; a lowest or highest grade has one of the two.
        let upper = grade.checked_sub(1).and_then(|at| cuts.get(at)).map_or(0.0, |cut| (-cut).exp());
        let lower = cuts.get(grade);
        let below = lower.map_or(0.0, |cut| (-cut).exp());
        let (ends, cut) = (f64::from(u8::from(lower.is_some())), lower.copied().unwrap_or(0.0));
        let mut part = Part {
            ln_likelihood: 0.0,
            slope: [0.0; 2],
            bend: [0.0; 2],
            slopes: vec![0.0; width],
            cross: [vec![0.0; width], vec![0.0; width]],
            square: vec![0.0; width * (width + 1) / 2],
        };
        let lines = held.x.chunks_exact(width.max(1)).skip(from).chain(std::iter::repeat(&[][..]));
        let entries = held.offset.iter().zip(&held.n).skip(from).take(TOGETHER);
        let (mut product, mut farthest) = (1.0_f64, 0.0_f64);
        for ((offset, n), x) in entries.zip(lines) {
            let shift: f64 = offset + x.iter().zip(slopes).map(|(x, b)| x * b).sum::<f64>();
            farthest = farthest.max(shift.abs());
            let t = (-shift).exp();
            let (u, v) = (upper * t, below * t);
            let both = (1.0 + u) * (1.0 + v);
            // F at both, then n (1 - F) above, n F below, and n F (1 - F) at each.
            let (above, beneath) = ((1.0 + v) / both, (1.0 + u) / both);
            let (up, down) = (n * u * above, ends * n * beneath);
            let (a, b) = (up * above, v * down * beneath);
            part.ln_likelihood -= ends * n * (cut + shift);
            if *n == 1.0 {
                product *= both;
                if product > LARGE {
                    part.ln_likelihood -= product.ln();
                    product = 1.0;
                }
            } else {
                part.ln_likelihood -= n * both.ln();
            }
            part.add(x, [up, -down], [a, b]);
        }
        part.ln_likelihood -= product.ln();
        (farthest < FAR).then_some(part)
    }

    /// The largest predictor, whatever its sign.
    pub(super) fn farthest(&self, layout: Layout<'_>, theta: &[f64]) -> f64 {
        let (cuts, slopes) = theta.split_at(layout.cuts.min(theta.len()));
        let reach = |held: &OfGrade| {
            let lines = held.x.chunks_exact(self.width.max(1)).chain(std::iter::repeat(&[][..]));
            let shifts = held.offset.iter().zip(lines);
            let shifts = shifts.map(|(offset, x)| offset + x.iter().zip(slopes).map(|(x, b)| x * b).sum::<f64>());
            shifts.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), shift| (low.min(shift), high.max(shift)))
        };
        let both = |a: (f64, f64), b: (f64, f64)| (a.0.min(b.0), a.1.max(b.1));
        let (low, high) = self.by_grade.par_iter().map(reach).reduce(|| (f64::INFINITY, f64::NEG_INFINITY), both);
        cuts.iter().fold(0.0, |far: f64, cut| far.max((cut + low).abs()).max((cut + high).abs()))
    }
}

impl Part {
    #[inline]
    fn add(&mut self, x: &[f64], [up, down]: [f64; 2], [a, b]: [f64; 2]) {
        let [first, second] = &mut self.slope;
        (*first, *second) = (*first + up, *second + down);
        let [first, second] = &mut self.bend;
        (*first, *second) = (*first + a, *second + b);
        let (slope, bend) = (up + down, a + b);
        let [above, below] = &mut self.cross;
        for (((x, sum), above), below) in x.iter().zip(&mut self.slopes).zip(above).zip(below) {
            *sum += slope * x;
            *above += a * x;
            *below += b * x;
        }
        let mut slots = self.square.iter_mut();
        for (at, first) in x.iter().enumerate() {
            let by = bend * first;
            x.iter().take(at + 1).zip(slots.by_ref()).for_each(|(second, slot)| *slot += by * second);
        }
    }
}

/// Adds what cuttings of a grade give to the cuts on either side of it and to the columns.
fn add_part(sums: &mut Sums, grade: usize, layout: Layout<'_>, part: &Part) {
    use super::sums::add;
    sums.ln_likelihood += part.ln_likelihood;
    let sides = [grade.checked_sub(1), (grade < layout.cuts).then_some(grade)];
    for ((side, cross), (slope, bend)) in sides.iter().zip(&part.cross).zip(part.slope.iter().zip(&part.bend)) {
        let Some(cut) = side else { continue };
        sums.slopes.get_mut(*cut).into_iter().for_each(|sum| *sum += slope);
        add(&mut sums.information, *cut, *cut, *bend);
        for (column, by) in cross.iter().enumerate() {
            add(&mut sums.information, layout.cuts + column, *cut, *by);
        }
    }
    let columns = sums.slopes.iter_mut().skip(layout.cuts);
    columns.zip(&part.slopes).for_each(|(sum, one)| *sum += one);
    let mut square = part.square.iter();
    for row in 0..layout.width {
        let entries = (0..=row).zip(square.by_ref());
        entries.for_each(|(column, by)| add(&mut sums.information, layout.cuts + row, layout.cuts + column, *by));
    }
}
