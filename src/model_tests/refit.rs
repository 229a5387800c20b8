//! Counts drawn from a model without an effect, and the statistic of the effect in any counts.

use crate::control::Control;
use crate::error::Result;
use crate::math::dense::{add_scaled, times};
use crate::math::regression::Solution;
use crate::math::rng::{self, ChaCha8Rng};
use crate::models::mixed::{BetaBinomialFit, BetaBinomialSpec, Method, RandomInterceptFit, RandomInterceptSpec, Rows};
use crate::models::{CountLaw, Design, Fit, Frame, Model, TrayCorrelation, TrayMode, Trays, is_used, score, weighted};
use crate::trial::Data;

/// The model of all effects that do not contain one, and that one last.
pub(super) struct Setup<'a> {
    model: &'a Model,
    frame: &'a Frame,
    design: Design,
    held: Vec<usize>,
    /// Columns of the design, one entry per unit.
    columns: Vec<Vec<f64>>,
    /// Groupings with random effects, the trays first.
    groupings: Vec<Vec<usize>>,
    /// Which correlation each tray has; empty for one.
    rho_of: Vec<usize>,
    /// Stopped together with the caller's.
    control: Control,
}

/// What counts without the effect are drawn from.
pub(super) enum Null {
    /// A law per unit.
    Apart(Vec<CountLaw>),
    /// Linear predictors, and the SD of each grouping.
    Random(Vec<f64>, Vec<f64>),
}

impl<'a> Setup<'a> {
    /// None when the effect adds no coefficient.
    pub(super) fn new(model: &'a Model, frame: &'a Frame, term: usize, control: &Control) -> Result<Option<Self>> {
        let mut order = frame.not_containing(term);
        order.push(term);
        let design = Design::new(frame, &order, &frame.data);
        let held = design.of_term(term);
        let rows = &frame.per_unit.row;
        let spread = |column: &Vec<f64>| rows.iter().filter_map(|row| column.get(*row).copied()).collect();
        let columns = design.x().iter().map(spread).collect();
        let (mut groupings, mut rho_of) = (Vec::new(), Vec::new());
        if is_used(model) {
            let trays = Trays::again((&model.units, &model.spec), (model.penalised, &model.strata), frame)?;
            groupings.push((0..rows.len()).collect());
            groupings.extend(trays.layers.into_iter().map(|layer| layer.codes));
            rho_of = trays.icc.map(|icc| icc.codes).unwrap_or_default();
        }
        let control = control.apart();
        Ok((!held.is_empty()).then_some(Self { model, frame, design, held, columns, groupings, rho_of, control }))
    }

    /// Coefficients of the effect.
    pub(super) fn df(&self) -> f64 {
        self.held.len() as f64
    }

    fn fit<'b>(&'b self, data: &'b Data) -> Fit<'b> {
        Fit { design: &self.design, data, link: self.model.spec.link, penalised: self.model.penalised }
    }

    fn rows<'b>(&'b self, x: &'b [Vec<f64>], rooted: &'b [f64]) -> Rows<'b> {
        let (stuck, offset) = (&self.frame.per_unit.stuck, &self.frame.per_unit.offset);
        Rows { x, rooted, stuck, offset, copies: &[], link: self.model.spec.link }
    }

    fn beta(&self, x: &[Vec<f64>], rooted: &[f64]) -> Result<BetaBinomialFit> {
        let spec =
            BetaBinomialSpec { rows: self.rows(x, rooted), rho_of: &self.rho_of, penalised: self.model.penalised };
        BetaBinomialFit::new(&spec, &self.control)
    }

    fn random(&self, x: &[Vec<f64>], rooted: &[f64]) -> Result<RandomInterceptFit> {
        let groupings: Vec<&[usize]> = self.groupings.iter().map(Vec::as_slice).collect();
        let spec = RandomInterceptSpec {
            rows: self.rows(x, rooted),
            groupings: &groupings,
            method: Method::Auto,
            penalised: self.model.penalised,
        };
        RandomInterceptFit::new(&spec, &self.control)
    }

    /// The statistic of the counts of the trial.
    pub(super) fn observed(&self) -> Result<f64> {
        self.statistic(&self.frame.per_unit.rooted)
    }

    /// Twice the fall of the log-likelihood without the effect; with a dispersion, over its degrees of freedom and over Pearson's
    /// dispersion of the same counts, not below 1.
    pub(super) fn statistic(&self, rooted: &[f64]) -> Result<f64> {
        match self.model.trays {
            TrayMode::BetaBinomial => self.beta(&self.columns, rooted)?.fall_without(&self.held, &self.control),
            TrayMode::Random => self.random(&self.columns, rooted)?.fall_without(&self.held, &self.control),
            TrayMode::Effective => self.score(rooted),
            _ => {
                let data = self.data(rooted);
                let fit = self.fit(&data);
                let full = fit.free()?;
                let fall = (2.0 * (full.objective - fit.without(&self.held)?.objective)).max(0.0);
                if self.model.trays != TrayMode::Dispersion {
                    return Ok(fall);
                }
                Ok(fall / self.df() / self.dispersion(&full, rooted).max(1.0))
            }
        }
    }

    /// The score statistic on effective counts with the correlation of the same counts, over its degrees of freedom.
    fn score(&self, rooted: &[f64]) -> Result<f64> {
        let mut frame = self.frame.clone();
        frame.per_unit.rooted = rooted.to_vec().into();
        let known = TrayCorrelation::of(&frame, &self.design);
        let frame = weighted(frame, known.used());
        let link = self.model.spec.link;
        let fit = Fit { design: &self.design, data: &frame.data, link, penalised: false };
        Ok(score(&fit, &self.held)? / self.df())
    }

    /// The data with other counts.
    fn data(&self, rooted: &[f64]) -> Data {
        let mut sums = vec![0.0; self.frame.data.rooted.len()];
        for (row, y) in self.frame.per_unit.row.iter().zip(rooted) {
            if let Some(sum) = sums.get_mut(*row) {
                *sum += y;
            }
        }
        Data { rooted: sums.into(), ..self.frame.data.clone() }
    }

    /// Pearson's statistic of single trays over its degrees of freedom.
    fn dispersion(&self, full: &Solution, rooted: &[f64]) -> f64 {
        let per_unit = &self.frame.per_unit;
        let left = per_unit.stuck.len().saturating_sub(self.design.rank());
        let part = |((y, m), row): ((&f64, &f64), &usize)| {
            let point = self.model.spec.link.at(full.eta.get(*row).copied().unwrap_or(0.0));
            let variance = m * point.mean * point.rest;
            if variance > 0.0 { (y * point.rest - (m - y) * point.mean).powi(2) / variance } else { 0.0 }
        };
        rooted.iter().zip(&per_unit.stuck).zip(&per_unit.row).map(part).sum::<f64>() / left.max(1) as f64
    }

    /// The fit without the effect.
    pub(super) fn null(&self) -> Result<Null> {
        let kept: Vec<Vec<f64>> =
            self.columns.iter().enumerate().filter(|(j, _)| !self.held.contains(j)).map(|(_, x)| x.clone()).collect();
        let PerUnit { rooted, stuck, row } = self.per_unit();
        let eta = |coef: &[f64]| {
            let mut eta = times(&kept, coef, stuck.len());
            add_scaled(&mut eta, 1.0, &self.frame.per_unit.offset);
            eta
        };
        Ok(match self.model.trays {
            TrayMode::BetaBinomial => {
                let fit = self.beta(&kept, rooted)?;
                let rho = |unit: usize| {
                    let g = self.rho_of.get(unit).copied().unwrap_or(0);
                    fit.rho.get(g).map_or(0.0, |rho| rho.value).min(0.9999)
                };
                let law = |(unit, eta): (usize, f64)| CountLaw::Beta {
                    mean: self.model.spec.link.at(eta).mean,
                    rho: rho(unit),
                };
                Null::Apart(eta(&fit.coef).into_iter().enumerate().map(law).collect())
            }
            TrayMode::Random => {
                let fit = self.random(&kept, rooted)?;
                Null::Random(eta(&fit.coef), fit.deviations.iter().map(|deviation| deviation.value).collect())
            }
            _ => {
                let without = self.fit(&self.frame.data).without(&self.held)?;
                let law = |(row, m): (&usize, &f64)| {
                    CountLaw::of(self.model, without.eta.get(*row).copied().unwrap_or(0.0), *m)
                };
                Null::Apart(row.iter().zip(stuck).map(law).collect())
            }
        })
    }

    fn per_unit(&self) -> PerUnit<'_> {
        let per_unit = &self.frame.per_unit;
        PerUnit { rooted: &per_unit.rooted, stuck: &per_unit.stuck, row: &per_unit.row }
    }

    /// Counts as they would be without the effect.
    pub(super) fn draw(&self, null: &Null, random: &mut ChaCha8Rng) -> Vec<f64> {
        let stuck = &self.frame.per_unit.stuck;
        match null {
            Null::Apart(laws) => laws.iter().zip(stuck).map(|(law, m)| law.draw(random, *m as u64) as f64).collect(),
            Null::Random(etas, deviations) => {
                let mut eta = etas.clone();
                for (codes, deviation) in self.groupings.iter().zip(deviations) {
                    let levels = codes.iter().max().map_or(0, |last| last + 1);
                    let effects: Vec<f64> = (0..levels).map(|_| deviation * rng::deviate(random)).collect();
                    for (eta, code) in eta.iter_mut().zip(codes) {
                        *eta += effects.get(*code).copied().unwrap_or(0.0);
                    }
                }
                let draw = |(eta, m): (&f64, &f64)| {
                    rng::binomial(random, *m as u64, self.model.spec.link.at(*eta).mean) as f64
                };
                eta.iter().zip(stuck).map(draw).collect()
            }
        }
    }
}

struct PerUnit<'a> {
    rooted: &'a [f64],
    stuck: &'a [f64],
    row: &'a [usize],
}
