//! From the trays over strength and darkness to the best strengths, their shift and the top of the surface.

use ndarray::Array2;

use super::input::{SurfaceInput, SurfaceTray};
use super::numbers::{BestAt, ResponseSurface, SurfaceGrid, SurfaceTop};
use super::quadratic::{Cell, Fitted, Term};
use crate::control::Control;
use crate::curves::find::{as_strengths, hull};
use crate::curves::fit::{Counts, Limits};
use crate::curves::input::TrayCount;
use crate::curves::shape::{Axis, On};
use crate::error::Result;
use crate::estimate::{TestName, TestResult};
use crate::math::distributions::{chi_squared, fisher_f, normal, student_t};
use crate::math::regression::isotonic;
use crate::rates::{Arm, PLANNING_ICC, TraySpread, tray_spread};

/// Strengths and days at which the surface is drawn and its top is looked for.
const GRID: usize = 32;

fn sorted(values: impl Iterator<Item = f64>) -> Vec<f64> {
    let mut all: Vec<f64> = values.collect();
    all.sort_unstable_by(f64::total_cmp);
    all.dedup();
    all
}

fn tail(method: TestName, ratio: f64, df: f64, below: Option<f64>) -> TestResult {
    let p = below.map_or_else(|| chi_squared::sf(ratio, df), |below| fisher_f::sf(ratio / df, df, below));
    TestResult {
        method,
        statistic: Some(if below.is_some() { ratio / df } else { ratio }),
        df: Some(df),
        error_df: below,
        p,
    }
}

fn critical(level: f64, df: Option<f64>) -> f64 {
    let p = f64::midpoint(1.0, level);
    df.map_or_else(|| normal::quantile(p), |df| student_t::quantile(p, df))
}

/// Combinations of strength and darkness with their effective counts, and the spread that made them effective.
struct Made {
    axis: Axis,
    days: Vec<f64>,
    counts: Vec<(f64, Counts)>,
    spread: Option<TraySpread>,
}

fn made(input: &SurfaceInput) -> Made {
    let days = sorted(input.trays.iter().map(|tray| tray.darkness));
    let strengths = sorted(input.trays.iter().map(|tray| tray.strength));
    let shift = input.options.curve.zero_scale;
    let own = |day: &f64| -> Vec<TrayCount> {
        let here = input.trays.iter().filter(|tray| tray.darkness.total_cmp(day).is_eq());
        here.map(|tray| TrayCount { strength: tray.strength, rooted: tray.rooted, stuck: tray.stuck, block: None })
            .collect()
    };
    let plain: Vec<Counts> = days.iter().map(|day| Counts::new(&own(day), None, shift)).collect();
    let arms: Vec<Arm> = plain.iter().flat_map(|counts| counts.arms.clone()).collect();
    let spread = if input.counted { tray_spread(&arms) } else { None };
    let known = TraySpread {
        icc: PLANNING_ICC,
        df: f64::INFINITY,
        dispersion: None,
        dispersion_df: 0.0,
        icc_floor: PLANNING_ICC,
        events: 0.0,
    };
    let used = spread.or(input.counted.then_some(known));
    let counts = days.iter().map(|day| (*day, Counts::new(&own(day), used.as_ref(), shift))).collect();
    Made { axis: Axis::new(&strengths, shift), days, counts, spread }
}

impl Made {
    fn w(&self, day: f64) -> f64 {
        let (low, high) = (self.days.first().copied().unwrap_or(0.0), self.days.last().copied().unwrap_or(1.0));
        (day - low) / (high - low)
    }

    fn day(&self, w: f64) -> f64 {
        let (low, high) = (self.days.first().copied().unwrap_or(0.0), self.days.last().copied().unwrap_or(1.0));
        low + w * (high - low)
    }

    fn cells(&self, on: On) -> Vec<Cell> {
        let mut cells = Vec::new();
        for (day, counts) in &self.counts {
            for level in counts.effective().levels {
                let x = self.axis.place(level.strength).on(on);
                cells.push(Cell { x, w: self.w(*day), rooted: level.rooted, stuck: level.stuck });
            }
        }
        cells
    }
}

fn terms(days: usize) -> Vec<Term> {
    let mut terms = vec![Term::X, Term::Xx, Term::W, Term::Xw];
    if days > 2 {
        terms.push(Term::Ww);
    }
    terms
}

/// How much more rooms of one darkness differ than effective counts let expect, and its degrees of freedom: sums over rooms against
/// their expectation.
fn between_bays(input: &SurfaceInput, made: &Made, on: On, fitted: &Fitted<'_>) -> Option<(f64, f64)> {
    let bays: std::collections::BTreeSet<u32> = input.trays.iter().filter_map(|tray| tray.bay).collect();
    let mut sum = 0.0;
    for bay in &bays {
        let own = || input.trays.iter().filter(|tray| tray.bay == Some(*bay));
        let (mut off, mut variance) = (0.0, 0.0);
        for tray in own() {
            let [p, ..] = fitted.take(made.axis.place(tray.strength).on(on), made.w(tray.darkness), 0.0);
            let effect = made.counts.first().map_or(1.0, |(_, counts)| counts.effect_of(tray.stuck as f64));
            off += tray.rooted as f64 - tray.stuck as f64 * p;
            variance += tray.stuck as f64 * p * (1.0 - p) * effect;
        }
        sum += if variance > 0.0 { off * off / variance } else { 0.0 };
    }
    let df = bays.len() as f64 - made.days.len() as f64;
    (df > 0.0).then(|| (sum / df, df))
}

/// Every darkness in at least two rooms?
fn repeated(trays: &[SurfaceTray], days: &[f64]) -> bool {
    days.iter().all(|day| {
        let own = trays.iter().filter(|tray| tray.darkness.total_cmp(day).is_eq());
        own.filter_map(|tray| tray.bay).collect::<std::collections::BTreeSet<u32>>().len() > 1
    })
}

/// The surface on one axis of strengths, and how far its likelihood (twice its logarithm) lies behind the best.
struct Tried<'a> {
    on: On,
    fitted: Fitted<'a>,
    behind: f64,
}

/// The axes, best first; nobody knows `d0`.
fn tried<'a>(cells: &'a [(On, Vec<Cell>)], terms: &[Term], control: &Control) -> Result<Vec<Tried<'a>>> {
    let mut all = Vec::with_capacity(cells.len());
    for (on, cells) in cells {
        all.push(Tried { on: *on, fitted: Fitted::new(cells, terms.to_vec(), control)?, behind: 0.0 });
    }
    let best = all.iter().map(|one| one.fitted.fit.loglik).fold(f64::NEG_INFINITY, f64::max);
    for one in &mut all {
        one.behind = 2.0 * (best - one.fitted.fit.loglik);
    }
    all.sort_by(|a, b| a.behind.total_cmp(&b.behind));
    Ok(all)
}

/// Twice the log-likelihood that the best of the larger models gains over the best of the smaller.
fn gained(larger: &[Tried<'_>], smaller: &[Tried<'_>]) -> f64 {
    let best = |all: &[Tried<'_>]| all.first().map_or(f64::NAN, |one| one.fitted.fit.loglik);
    (2.0 * (best(larger) - best(smaller))).max(0.0)
}

pub(super) fn surface(input: &SurfaceInput, control: &Control) -> Result<ResponseSurface> {
    let made = made(input);
    let cells: Vec<(On, Vec<Cell>)> = made.axis.tried(false).into_iter().map(|on| (on, made.cells(on))).collect();
    let full = terms(made.days.len());
    let without = |gone: &[Term]| -> Vec<Term> { full.iter().copied().filter(|term| !gone.contains(term)).collect() };
    let all = tried(&cells, &full, control)?;
    let Some(Tried { on, fitted, .. }) = all.first() else {
        return Err(crate::error::NumericError::NotConverged { routine: "the fit of a surface", iterations: 0 }.into());
    };
    let df = made.spread.map(|spread| spread.df);
    let bays = input.bays.as_ref().and_then(|_| between_bays(input, &made, *on, fitted));
    let withheld = withheld(input, &made);
    let (dispersion, dof_dark) = bays.map_or((1.0, df), |(found, below)| (found.max(1.0), Some(below)));
    let level = input.options.curve.confidence;
    let parallel = tried(&cells, &without(&[Term::Xw]), control)?;
    let mut tests = vec![tail(TestName::OneBestStrength, gained(&all, &parallel), 1.0, df)];
    if withheld.is_none() {
        let same = tried(&cells, &without(&[Term::Xw, Term::W, Term::Ww]), control)?;
        let ratio = gained(&parallel, &same) / dispersion;
        tests.push(tail(TestName::Darkness, ratio, (made.days.len() - 1).min(2) as f64, dof_dark));
    }
    let misfit = misfit(fitted);
    tests.extend(misfit.map(|(ratio, below)| tail(TestName::LackOfFit, ratio, below, df)));
    // A surface that misses the combinations by more than their counts explain is as unsure as it misses them.
    let missed = misfit.map_or(1.0, |(ratio, below)| (ratio / below).max(1.0));
    // A take at a darkness shares what its rooms have in common; where it is highest along the strengths does not.
    let (critical, of_takes) = (
        critical(level, df) * missed.sqrt(),
        (critical(level, dof_dark) * dispersion.sqrt()).max(critical(level, df) * missed.sqrt()),
    );
    let mut best = Vec::with_capacity(made.days.len());
    // The best strength at each darkness, and the rows of the region of the top.
    control.expect((made.days.len() + if made.days.len() > 2 { GRID + 1 } else { 0 }) as u64);
    for day in &made.days {
        control.step()?;
        best.push(best_at(&made, &all, (*day, critical, of_takes), control)?);
        control.finish(1);
    }
    let top = if made.days.len() > 2 {
        top(&made, &all, (level, dispersion.max(missed), dof_dark, withheld.is_none()), control)?
    } else {
        None
    };
    let places = fitted.best_at(0.0).zip(fitted.best_at(1.0));
    Ok(ResponseSurface {
        shift: made.axis.scale(*on).shift,
        best,
        tests,
        shift_factor: places.map(|(a, b)| ((b - a) * made.axis.scale(*on).span).exp()),
        top,
        withheld,
        grid: grid(&made, *on, fitted),
        df,
        df_bays: bays.map(|(_, df)| df),
        n_units: input.trays.len() as u64,
        n_cuttings: input.trays.iter().map(|tray| tray.stuck).sum(),
        unsettled: !fitted.fit.converged,
        input: input.clone(),
    })
}

fn withheld(input: &SurfaceInput, made: &Made) -> Option<String> {
    let bays = input.bays.as_ref()?;
    (!repeated(&input.trays, &made.days)).then(|| {
        format!("a darkness stood in one {bays} only, so what it does cannot be told from what that {bays} does")
    })
}

/// Twice the log-likelihood lost against a rate of its own for every combination, and its degrees of freedom.
fn misfit(fitted: &Fitted<'_>) -> Option<(f64, f64)> {
    let cells = fitted.cells;
    let df = cells.len() as f64 - fitted.terms.len() as f64 - 1.0;
    let counts = |of: fn(&Cell) -> f64| cells.iter().map(of).collect::<Vec<f64>>();
    let rates = counts(|cell| cell.rooted / cell.stuck);
    let free = isotonic::loglik(&counts(|cell| cell.rooted), &counts(|cell| cell.stuck), &rates);
    (df > 0.0).then(|| ((2.0 * (free - fitted.fit.loglik)).max(0.0), df))
}

/// The best strength on the likeliest axis, with limits that hold what any axis allows.
fn best_at(
    made: &Made,
    all: &[Tried<'_>],
    (day, critical, of_takes): (f64, f64, f64),
    control: &Control,
) -> Result<BestAt> {
    let w = made.w(day);
    let mut each: Vec<Limits> = Vec::new();
    let (mut value, mut take) = (made.axis.low, [f64::NAN; 3]);
    for (at, Tried { on, fitted, behind }) in all.iter().enumerate() {
        let left = critical * critical - behind;
        if left < 0.0 {
            continue;
        }
        let strength = |x: f64| made.axis.strength_on(*on, x);
        let (low, high) = fitted.best_limits(w, left.sqrt(), control)?;
        each.push((low.map(strength), high.map(strength)));
        if at == 0 {
            let [at_low, at_high] = [0.0, 1.0].map(|x| fitted.take(x, w, 0.0)[0]);
            let place = fitted.best_at(w).unwrap_or(f64::from(u8::from(at_high > at_low))).clamp(0.0, 1.0);
            (value, take) = (strength(place), fitted.take(place, w, of_takes));
        }
    }
    let limits = as_strengths(value, hull(&each), &made.axis);
    let located = !limits.open_low && !limits.open_high;
    Ok(BestAt { darkness: day, strength: limits, located, take })
}

/// The top with its region: twice the fall over the dispersion, judged by F with 2 degrees of freedom; a place is in it when one axis
/// allows it.
fn top(
    made: &Made,
    all: &[Tried<'_>],
    (level, dispersion, df, claim): (f64, f64, Option<f64>, bool),
    control: &Control,
) -> Result<Option<SurfaceTop>> {
    let Some(Tried { on, fitted, .. }) = all.first() else { return Ok(None) };
    let Some((x, w)) = fitted.top() else { return Ok(None) };
    let inside = (x.clamp(0.0, 1.0), w.clamp(0.0, 1.0));
    let most = dispersion
        * df.map_or_else(|| chi_squared::quantile(level, 2.0), |df| 2.0 * fisher_f::quantile(level, 2.0, df));
    let at = |i: usize| i as f64 / GRID as f64;
    let mut region = Vec::new();
    for row in 0..=GRID {
        control.step()?;
        for column in 0..=GRID {
            let place = made.axis.place(made.axis.strength_on(*on, at(column)));
            let mut held = false;
            for one in all.iter().filter(|one| claim && one.behind <= most) {
                let fall = one.fitted.fall_of_top((place.on(one.on), at(row)), control)?;
                held = held || fall + one.behind <= most;
            }
            if held {
                region.push((row, column));
            }
        }
        control.finish(1);
    }
    let edge = |(row, column): &(usize, usize)| [*row, *column].iter().any(|at| *at == 0 || *at == GRID);
    let located = claim && !region.is_empty() && !region.iter().any(edge);
    Ok(Some(SurfaceTop {
        strength: made.axis.strength_on(*on, inside.0),
        darkness: made.day(inside.1),
        take: fitted.take(inside.0, inside.1, 0.0)[0],
        region,
        located,
    }))
}

fn grid(made: &Made, on: On, fitted: &Fitted<'_>) -> SurfaceGrid {
    let place = |i: usize| i as f64 / GRID as f64;
    let at: Vec<f64> = (0..=GRID).map(place).collect();
    SurfaceGrid {
        strength: at.iter().map(|x| made.axis.strength_on(on, *x)).collect(),
        darkness: at.iter().map(|w| made.day(*w)).collect(),
        take: Array2::from_shape_fn((at.len(), at.len()), |(w, x)| fitted.take(place(x), place(w), 0.0)[0]),
    }
}
