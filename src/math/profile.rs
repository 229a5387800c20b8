//! Limits of one coordinate from the profile of a likelihood.

use super::optimize::{Maximum, Objective, maximise_refined};
use super::roots;
use crate::control::Control;
use crate::error::{Error, Result};

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
    control: &'a Control,
}

/// What a lifted coordinate is raised to before every search.
const LIFT: f64 = 0.2;

/// How far, in units of the pace, a limit is looked for before it is called infinite.
const FARTHEST: f64 = 400.0;

impl<'a, F: Objective> Profile<'a, F> {
    /// The profile of coordinate `j` around a maximum over the coordinates `free`; `pace` is about one standard error.
    #[must_use]
    pub fn new(f: &'a mut F, top: &Maximum, j: usize, free: &[usize], pace: f64, control: &'a Control) -> Self {
        let others = free.iter().copied().filter(|k| *k != j).collect();
        let estimate = top.at.get(j).copied().unwrap_or(f64::NAN);
        Self { f, top: top.local.value, start: top.at.clone(), j, others, estimate, pace, lifted: Vec::new(), control }
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

    /// Twice the fall of the likelihood when the coordinate is held at `value`.
    ///
    /// # Errors
    /// When the constrained fit does not settle.
    pub fn fall(&mut self, value: f64) -> Result<f64> {
        let mut start = self.start.clone();
        if let Some(entry) = start.get_mut(self.j) {
            *entry = value;
        }
        for k in &self.lifted {
            if let Some(entry) = start.get_mut(*k) {
                *entry = entry.abs().max(LIFT);
            }
        }
        let held = maximise_refined(self.f, &start, &self.others, self.control)?;
        let fall = 2.0 * (self.top - held.local.value);
        self.start = held.at;
        Ok(fall.max(0.0))
    }

    /// Where the fall reaches `cutoff` between the estimate and `end`, looked for in steps from the estimate; `end` itself when
    /// the fall there is smaller. An infinite end gives an infinite limit when the fall stays below the cutoff for 400 paces.
    ///
    /// # Errors
    /// When a constrained fit does not settle.
    pub fn limit(&mut self, end: f64, cutoff: f64) -> Result<f64> {
        let home = self.start.clone();
        let limit = self.search(end, cutoff);
        self.start = home;
        limit
    }

    fn search(&mut self, end: f64, cutoff: f64) -> Result<f64> {
        let direction = if end < self.estimate { -1.0 } else { 1.0 };
        let (room, root) = ((end - self.estimate).abs(), cutoff.sqrt());
        let (mut near, mut far) = (0.0, root.max(0.1) * self.pace);
        loop {
            let at_end = far >= room;
            let value = if at_end { end } else { self.estimate + direction * far };
            if self.fall(value)? >= cutoff {
                far = far.min(room);
                break;
            }
            if at_end || far > FARTHEST * self.pace {
                return Ok(if at_end { end } else { direction * f64::INFINITY });
            }
            (near, far) = (far, 1.6 * far);
        }
        let (estimate, width, mut trouble) = (self.estimate, 1e-9 * self.pace, None);
        let distance = roots::brent(
            |distance| match self.fall(estimate + direction * distance) {
                Ok(fall) => fall.sqrt() - root,
                Err(error) => {
                    trouble = Some(error);
                    f64::NAN
                }
            },
            near,
            far,
            width,
        );
        match (distance, trouble) {
            (_, Some(error)) => Err(error),
            (Ok(distance), None) => Ok(estimate + direction * distance),
            (Err(Error::Numeric(_)), None) => Ok(estimate + direction * far),
            (Err(error), None) => Err(error),
        }
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
