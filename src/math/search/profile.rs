//! Limits of one coordinate from the profile of a likelihood.

use super::newton_steps::{Maximum, Objective, approach, maximise_refined};
use super::turned::Turned;
use crate::control::Control;
use crate::error::Result;

/// The profile of one coordinate: the likelihood maximised over the others.
#[derive(Debug)]
pub struct Profile<'a, F> {
    f: &'a mut F,
    top: f64,
    start: Vec<f64>,
    j: usize,
    others: Vec<usize>,
    estimate: f64,
    pace: f64,
    lifted: Vec<usize>,
    /// The maximum before the last.
    before: Option<Vec<f64>>,
    control: &'a Control,
}

/// What a lifted coordinate is raised to before every search.
pub(crate) const LIFT: f64 = 0.2;

/// Decrement at which the others count as maximised over: it moves a limit by a millionth of a standard error at most.
const ENOUGH: f64 = 1e-7;
/// The same where no step helps, because a likelihood that is an approximation is not quite what its derivatives say.
const NEARLY: f64 = 1e-5;
/// A step of less than this share of the pace is the last: the next would be about its square.
const CLOSE: f64 = 1e-4;
const MOST_STEPS: u32 = 100;

/// How far, in units of the pace, a limit is looked for before it is called infinite.
const FARTHEST: f64 = 400.0;

impl<'a, F: Objective> Profile<'a, F> {
    /// The profile of coordinate `j` around a maximum over the coordinates `free`; `pace` is about one standard error.
    #[must_use]
    pub fn new(f: &'a mut F, top: &Maximum, j: usize, free: &[usize], pace: f64, control: &'a Control) -> Self {
        let others = free.iter().copied().filter(|k| *k != j).collect();
        let estimate = top.at.get(j).copied().unwrap_or(f64::NAN);
        Self {
            f,
            top: top.local.value,
            start: top.at.clone(),
            j,
            others,
            estimate,
            pace,
            lifted: Vec::new(),
            before: None,
            control,
        }
    }

    /// Names coordinates in which the likelihood is even and 0 is stationary: SDs and their like. They are maximised over, also
    /// when they were 0 at the top, from a start away from 0, which a search could not leave.
    #[must_use]
    pub fn lifting(mut self, coordinates: &[usize]) -> Self {
        self.lifted = coordinates.iter().copied().filter(|k| *k != self.j).collect();
        let more = self.lifted.iter().filter(|k| !self.others.contains(k)).copied().collect::<Vec<_>>();
        self.others.extend(more);
        self
    }

    /// Twice the fall of the likelihood when the coordinate is held at `value`, and its derivative by the coordinate.
    ///
    /// # Errors
    /// When the constrained fit does not settle.
    pub fn fall(&mut self, value: f64) -> Result<(f64, f64)> {
        let mut start = self.towards(value);
        if let Some(entry) = start.get_mut(self.j) {
            *entry = value;
        }
        for k in &self.lifted {
            if let Some(entry) = start.get_mut(*k) {
                *entry = entry.abs().max(LIFT);
            }
        }
        let mut held = approach(self.f, &start, &self.others, ENOUGH, self.control)?;
        if !held.converged && held.decrement > NEARLY {
            // An approximate likelihood may be good enough where the last search was, and not here.
            self.f.refine(&held.at);
            held = approach(self.f, &held.at, &self.others, ENOUGH, self.control)?;
        }
        if !held.converged && held.decrement > NEARLY {
            held = maximise_refined(self.f, &held.at, &self.others, self.control)?;
        }
        let fall = 2.0 * (self.top - held.local.value);
        // What the others do to the likelihood is nothing at its maximum over them.
        let slope = -2.0 * held.local.gradient.get(self.j).copied().unwrap_or(0.0);
        self.before = Some(std::mem::replace(&mut self.start, held.at));
        Ok((fall.max(0.0), slope))
    }

    /// The others where the line through the last two maxima puts them.
    fn towards(&self, value: f64) -> Vec<f64> {
        let Some(before) = &self.before else { return self.start.clone() };
        let at = |point: &[f64]| point.get(self.j).copied().unwrap_or(0.0);
        let share = (value - at(&self.start)) / (at(&self.start) - at(before));
        if !share.is_finite() || share.abs() > 2.0 {
            return self.start.clone();
        }
        self.start.iter().zip(before).map(|(new, old)| new + share * (new - old)).collect()
    }

    /// Where the fall reaches `cutoff` between the estimate and `end`, looked for in steps from the estimate; `end` itself when
    /// the fall there is smaller. An infinite end gives an infinite limit when the fall stays below the cutoff for 400 paces.
    ///
    /// # Errors
    /// When a constrained fit does not settle.
    pub fn limit(&mut self, end: f64, cutoff: f64) -> Result<f64> {
        let home = self.start.clone();
        self.before = None;
        let limit = self.search(end, cutoff);
        self.start = home;
        limit
    }

    /// Newton steps on the root of the fall, which is nearly a line, inside the bracket found so far. An approximate likelihood is refined
    /// near the limit, and the search goes on from there.
    fn search(&mut self, end: f64, cutoff: f64) -> Result<f64> {
        let direction = if end < self.estimate { -1.0 } else { 1.0 };
        let (room, root) = ((end - self.estimate).abs(), cutoff.sqrt());
        let (mut near, mut far, mut refined) = (0.0, f64::INFINITY, false);
        let mut distance = (root.max(0.1) * self.pace).min(room);
        for _ in 0..MOST_STEPS {
            let (fall, slope) = self.fall(self.estimate + direction * distance)?;
            let short = fall.sqrt() - root;
            if short >= 0.0 {
                far = distance;
            } else if distance >= room {
                return Ok(end);
            } else if distance > FARTHEST * self.pace {
                return Ok(direction * f64::INFINITY);
            } else {
                near = distance;
            }
            let newton = distance - short * 2.0 * fall.sqrt() / (direction * slope);
            let next = if far.is_finite() {
                if newton > near && newton < far { newton } else { 0.5 * (near + far) }
            } else {
                let least = near + 0.01 * self.pace * f64::from(u8::from(!newton.is_finite()));
                (if newton > least { newton.min(3.0 * distance) } else { 1.6 * distance }).min(room)
            };
            let moved = (next - distance).abs();
            distance = next;
            if moved < CLOSE * self.pace {
                if refined {
                    return Ok(self.estimate + direction * distance);
                }
                refined = true;
                let at = self.start.clone();
                self.f.refine(&at);
                (near, far) = (0.0, f64::INFINITY);
            }
        }
        Ok(self.estimate + direction * distance)
    }
}

/// What the profile of a combination of coordinates tells.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Along {
    /// Lower limit.
    pub(crate) low: f64,
    /// Upper limit.
    pub(crate) high: f64,
    /// Twice the fall of the likelihood where the combination is 0.
    pub(crate) fall: f64,
}

impl Along {
    /// Of a function turned to the combination, with its maximum over the coordinates `free` and those to be lifted, in its own
    /// coordinates.
    ///
    /// # Errors
    /// When a constrained fit does not settle.
    pub(crate) fn of<F: Objective>(
        f: &mut Turned<F>,
        (top, free, lifted): (&Maximum, &[usize], &[usize]),
        (pace, cutoff): (f64, f64),
        control: &Control,
    ) -> Result<Self> {
        let (top, j) = (f.of(top), f.place());
        let pace = if pace.is_finite() { pace } else { 1.0 };
        let mut profile = Profile::new(f, &top, j, free, pace, control).lifting(lifted);
        let (low, high) = (profile.limit(f64::NEG_INFINITY, cutoff)?, profile.limit(f64::INFINITY, cutoff)?);
        Ok(Self { low, high, fall: fall_without(f, &top, (&[j], free, lifted), control)? })
    }
}

/// Twice the fall from `top` when the coordinates `held` are 0 and the rest of `free` and all of `lifted` (see
/// [`Profile::lifting`]) are maximised over.
///
/// # Errors
/// When the constrained fit does not settle.
pub fn fall_without<F: Objective>(
    f: &mut F,
    top: &Maximum,
    (held, free, lifted): (&[usize], &[usize], &[usize]),
    control: &Control,
) -> Result<f64> {
    let raise = |(k, x): (usize, &f64)| match (held.contains(&k), lifted.contains(&k)) {
        (true, _) => 0.0,
        (false, true) => x.abs().max(LIFT),
        (false, false) => *x,
    };
    let start: Vec<f64> = top.at.iter().enumerate().map(raise).collect();
    let rest: Vec<usize> =
        (0..start.len()).filter(|k| !held.contains(k) && (free.contains(k) || lifted.contains(k))).collect();
    let reached = maximise_refined(f, &start, &rest, control)?;
    Ok((2.0 * (top.local.value - reached.local.value)).max(0.0))
}
