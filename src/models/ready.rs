//! The fit that a model keeps: frame, design, solution and law, which every question reads.

use std::sync::{Arc, Mutex, OnceLock, PoisonError};

use super::answered::Answered;
use super::fitted::Model;
use super::robust;
use super::tray_law::{self, Law};
use crate::control::Control;
use crate::error::Result;
use crate::math::cluster_robust::ClusterRobust;
use crate::math::irls::{Link, Solution};
use crate::math::linalg::dot;
use crate::math::roots::brent;
use crate::models::design_matrix::Design;
use crate::models::frame::Frame;
use crate::models::layered::Layered;
use crate::models::likelihood::{Fit, singular};
use crate::models::spec::ModelSpec;
use crate::models::strata::Strata;
use crate::trial::Prepared;
use crate::trial::Value;
use crate::trial::{Data, Units};

/// What stands beside a model: a control that long work with it looks at, what was worked out of its units once, and its fit. It is no part
/// of the model: all are equal, and none is written out.
#[derive(Debug, Clone, Default)]
pub(crate) struct Beside {
    control: Arc<Control>,
    prepared: Option<Arc<Prepared>>,
    kept: Option<Arc<Kept>>,
}

impl PartialEq for Beside {
    fn eq(&self, _: &Self) -> bool {
        true
    }
}

impl Beside {
    pub(super) fn prepare(&mut self, prepared: &Arc<Prepared>) {
        self.prepared = Some(Arc::clone(prepared));
    }

    pub(super) fn watch(&mut self, control: &Arc<Control>) {
        self.control = Arc::clone(control);
    }
}

/// What a fit came to.
#[derive(Debug)]
pub(super) struct Solved {
    /// Its counts as they were fitted.
    pub(super) frame: Frame,
    pub(super) design: Design,
    pub(super) solution: Solution,
    /// Where trays follow a law of their own, which then holds the coefficients.
    pub(super) law: Option<Law>,
}

/// The fit of a model, and of which model: one whose open fields were changed has another fit.
#[derive(Debug)]
struct Kept {
    units: Arc<Units>,
    spec: ModelSpec,
    penalised: bool,
    strata: Strata,
    /// Until a question is asked.
    solved: Mutex<Option<Solved>>,
    ready: OnceLock<Ready>,
}

/// The fit of a model as questions read it. Copies share what is large.
#[derive(Debug, Clone)]
pub(crate) struct Ready {
    pub(crate) frame: Frame,
    pub(crate) design: Design,
    pub(crate) solution: Arc<Solution>,
    /// Of the coefficients, then of the SDs of random effects, if any.
    pub(crate) covariance: Arc<Vec<Vec<f64>>>,
    /// SDs of random effects above 0: rates are averaged over them.
    pub(crate) deviations: Vec<f64>,
    /// Mean offset, at which rates are given.
    pub(crate) offset: f64,
    /// What gives combinations of the coefficients their degrees of freedom, where the covariance is robust.
    pub(crate) robust: Option<Arc<ClusterRobust>>,
    /// The layers above the trays.
    pub(crate) layered: Option<Arc<Layered>>,
    /// Roots of the rows' weights in the information, where there are layers or places taken out.
    pub(crate) roots: Arc<Vec<f64>>,
    /// The law of the trays, where they have one.
    pub(crate) law: Option<Arc<Law>>,
    /// What was asked of it before.
    pub(crate) answered: Arc<Answered>,
}

impl Model {
    /// Keeps a fit for the questions to come.
    pub(super) fn keep(&mut self, solved: Solved) {
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
        if tray_law::is_used(self) {
            return tray_law::solved_again(self, frame);
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

impl Kept {
    fn is_of(&self, model: &Model) -> bool {
        Arc::ptr_eq(&self.units, &model.units)
            && self.penalised == model.penalised
            && self.spec == model.spec
            && self.strata == model.strata
    }
}

impl Ready {
    /// The same fit, further work with which ends when the control is stopped.
    fn watched(&self, control: &Arc<Control>) -> Self {
        let mut same = self.clone();
        same.frame.control = Arc::clone(control);
        same.design.control = Arc::clone(control);
        same
    }

    /// The columns of the design, one entry per unit.
    pub(crate) fn unit_columns(&self) -> Vec<Vec<f64>> {
        let rows = &self.frame.per_unit.row;
        let spread = |column: &Vec<f64>| rows.iter().filter_map(|row| column.get(*row).copied()).collect();
        self.design.x().iter().map(spread).collect()
    }

    /// Values of the variables of a row of the data.
    pub(crate) fn values_of(&self, row: usize) -> Vec<Value> {
        self.frame.data.values.get(row).unwrap_or_default()
    }

    /// The design row and linear predictor of a combination of values at an offset, or at the mean offset; none when it cannot be
    /// estimated.
    pub(crate) fn at_values(&self, values: &[Value], offset: Option<f64>) -> Option<(Vec<f64>, f64)> {
        let row = self.design.row(values)?;
        let eta = offset.unwrap_or(self.offset) + dot(&row, &self.solution.coef);
        Some((row, eta))
    }

    /// The offset of a row of the data; 0 without one.
    pub(crate) fn offset_of(&self, row: usize) -> f64 {
        self.frame.data.offset.get(row).copied().unwrap_or(0.0)
    }

    /// The prior weight of a row of the data; 1 without one.
    pub(crate) fn weight_of(&self, row: usize) -> f64 {
        self.frame.data.weights.get(row).copied().unwrap_or(1.0)
    }

    /// Standard deviation of all random effects together, on the link scale.
    pub(crate) fn total_deviation(&self) -> f64 {
        self.deviations.iter().map(|s| s * s).sum::<f64>().sqrt()
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
