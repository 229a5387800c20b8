//! How questions come to the fit of a model: the one it keeps, or, for a model that was read from a record or changed by hand, a new one.

use std::sync::{Arc, Mutex, OnceLock, PoisonError};

use super::again::solved_again;
use crate::error::Result;
use crate::math::regression::{Link, Solution};
use crate::math::search::brent;
use crate::models::design::{Design, Fit, singular};
use crate::models::enter::Frame;
use crate::models::errors::Layered;
use crate::models::fit::robust;
use crate::models::kept::{Kept, Model, Ready, Solved, is_used};
use crate::trial::{Data, Prepared};

impl Model {
    /// Keeps a fit for the questions to come.
    pub(crate) fn keep(&mut self, solved: Solved) {
        let kept = Kept {
            units: Arc::clone(&self.units),
            spec: self.spec.clone(),
            penalised: self.penalised,
            strata: self.strata.clone(),
            solved: Mutex::new(Some(solved)),
            ready: OnceLock::new(),
        };
        self.beside.kept = Some(Arc::new(kept));
    }

    pub(crate) fn frame(&self) -> Result<Frame> {
        // What was kept is of the units it was made from, and of no others.
        let known = self.beside.prepared.as_ref().filter(|known| Arc::ptr_eq(known.units(), &self.units));
        let prepared = known.map_or_else(|| Arc::new(Prepared::new(&self.units)), Arc::clone);
        Frame::of(&prepared, &self.spec, &self.beside.control)
    }

    /// The fit, asked on behalf of whoever watches this model.
    pub(crate) fn ready(&self) -> Result<Ready> {
        let kept = self.beside.kept.as_ref().filter(|kept| kept.is_of(self));
        let Some(kept) = kept else { return self.read(self.solved_again()?) };
        if let Some(known) = kept.ready.get() {
            return Ok(known.watched(&self.beside.control));
        }
        let solved = kept.solved.lock().unwrap_or_else(PoisonError::into_inner).take();
        let made = self.read(solved.map_or_else(|| self.solved_again(), Ok)?)?;
        Ok(kept.ready.get_or_init(|| made).watched(&self.beside.control))
    }

    /// The fit anew, for a model that was read from a record or changed by hand.
    fn solved_again(&self) -> Result<Solved> {
        let frame = self.frame()?;
        if is_used(self) {
            return solved_again(self, frame);
        }
        let frame = self.strata.weighted(frame);
        let design = Design::full(&frame);
        let solution = self.fit_of(&frame, &design).free()?;
        Ok(Solved { frame, design, solution, law: None })
    }

    fn fit_of<'a>(&self, frame: &'a Frame, design: &'a Design) -> Fit<'a> {
        Fit { design, data: &frame.data, link: self.spec.link, penalised: self.penalised }
    }

    /// What questions read of a fit.
    fn read(&self, solved: Solved) -> Result<Ready> {
        let Solved { frame, design, mut solution, law } = solved;
        let offset = frame.mean_offset();
        if let Some(law) = law {
            let (covariance, deviations) = law.joint();
            let (solution, covariance) = (Arc::new(solution), Arc::new(covariance));
            let (robust, layered, roots, answered) = (None, None, Arc::default(), Arc::default());
            let law = Some(Arc::new(law));
            return Ok(Ready {
                frame,
                design,
                solution,
                covariance,
                deviations,
                offset,
                robust,
                layered,
                roots,
                law,
                answered,
            });
        }
        if self.penalised {
            balance(&mut solution, &frame.data, self.spec.link);
            solution.information = Some(self.fit_of(&frame, &design).information(&solution.coef)?);
        }
        let robust = robust::rebuilt(self, &frame, &design, &solution)?;
        let covariance = match &robust {
            Some(robust) => robust.covariance().to_vec(),
            None => solution.information.as_ref().ok_or_else(singular)?.covariance().to_vec(),
        };
        let above = self.strata.above.as_ref();
        let layered = above.map(|above| Layered::new(&above.layers, &frame.placing.layers, &frame));
        let placed = layered.is_some() || !frame.placing.taken.is_empty();
        let root = |(row, eta): (usize, &f64)| {
            let (m, prior) = (frame.data.stuck.get(row), frame.data.weights.get(row).copied().unwrap_or(1.0));
            (prior * m.copied().unwrap_or(0.0) * self.spec.link.at(*eta).weight()).sqrt()
        };
        let roots = if placed { solution.eta.iter().enumerate().map(root).collect() } else { Vec::new() };
        Ok(Ready {
            frame,
            design,
            solution: Arc::new(solution),
            covariance: Arc::new(covariance),
            deviations: Vec::new(),
            offset,
            robust: robust.map(Arc::new),
            layered: layered.map(Arc::new),
            roots: Arc::new(roots),
            law: None,
            answered: Arc::default(),
        })
    }
}

/// Moves the intercept of a penalised fit until as many cuttings are expected to root as did. The penalty draws all rates towards
/// one half, most where many coefficients share few cuttings; effects are well estimated, their level is not. Where all or none
/// rooted nothing is moved.
///
/// # References
/// Puhr et al. (2017), Statist. Med. 36:2302-2317 (FLIC).
fn balance(solution: &mut Solution, data: &Data, link: Link) {
    let weight = |row: usize| data.weights.get(row).copied().unwrap_or(1.0);
    let total = |counts: &[f64]| counts.iter().enumerate().map(|(row, n)| weight(row) * n).sum::<f64>();
    let (rooted, stuck) = (total(&data.rooted), total(&data.stuck));
    if rooted <= 0.0 || rooted >= stuck {
        return;
    }
    let share = |shift: f64| {
        let rates = solution.eta.iter().zip(&data.stuck).enumerate();
        rates.map(|(row, (eta, m))| weight(row) * m * link.at(eta + shift).mean).sum::<f64>() / rooted - 1.0
    };
    let Ok(shift) = brent(share, -20.0, 20.0, 1e-12) else { return };
    solution.eta.iter_mut().for_each(|eta| *eta += shift);
    if let Some(intercept) = solution.coef.first_mut() {
        *intercept += shift;
    }
}
