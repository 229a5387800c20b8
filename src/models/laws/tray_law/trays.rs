//! What a law is fitted to beside the design: one count per tray, and the groupings of trays that have effects.

use std::collections::HashMap;

use super::law::Law;
use super::layers::{Layer, in_words, layers};
use super::strata::{of_beta, of_random};
use crate::control::Control;
use crate::error::{ModelError, Result};
use crate::math::distributions::chi_squared;
use crate::models::enter::{Frame, ModelSpec, TrayMode};
use crate::models::errors::Strata;
use crate::models::laws::EqualIcc;
use crate::models::laws::mixed::{
    BetaBinomialFit, BetaBinomialSpec, Method, RandomInterceptFit, RandomInterceptSpec, RhoStatus, Rows,
};
use crate::trial::Units;

/// Counts and groupings of a law.
pub(crate) struct Trays<'a> {
    frame: &'a Frame,
    spec: &'a ModelSpec,
    penalised: bool,
    /// Groupings with random effects, in the order in which the model reports them after the trays.
    pub(crate) layers: Vec<Layer>,
    /// The column whose levels have correlations of their own.
    pub(crate) icc: Option<Layer>,
    /// The trays' own name is no column of theirs: how many they are.
    pub(crate) n_trays: u64,
}

/// Trays of one kind: counts, row of the design, correlation, how many there are.
#[derive(Debug, Clone, Default)]
struct Counts {
    rooted: Vec<f64>,
    stuck: Vec<f64>,
    row: Vec<usize>,
    rho: Vec<usize>,
    copies: Vec<f64>,
}

impl Counts {
    fn push(&mut self, (rooted, stuck, row, rho): (f64, f64, usize, usize)) {
        self.rooted.push(rooted);
        self.stuck.push(stuck);
        self.row.push(row);
        self.rho.push(rho);
        self.copies.push(1.0);
    }
}

impl<'a> Trays<'a> {
    /// Finds the groupings and the strata of a model.
    pub(crate) fn new(
        frame: &'a Frame,
        units: &Units,
        spec: &'a ModelSpec,
        penalised: bool,
        rank: usize,
    ) -> Result<(Self, Strata)> {
        let mut trays = Self::bare(frame, spec, penalised);
        if spec.trays == TrayMode::BetaBinomial {
            trays.icc = icc(frame, units, spec)?;
            return Ok((trays, of_beta(frame, units, rank)));
        }
        let (strata, kept) = of_random(frame, units, spec, rank, layers(frame, units, spec)?)?;
        trays.layers = kept;
        Ok((trays, strata))
    }

    /// The same for a fit whose strata are known.
    pub(crate) fn again(
        (units, spec): (&Units, &'a ModelSpec),
        (penalised, strata): (bool, &Strata),
        frame: &'a Frame,
    ) -> Result<Self> {
        let mut trays = Self::bare(frame, spec, penalised);
        trays.icc = icc(frame, units, spec)?;
        let known = strata.layers.iter().map(|layer| Layer::of(frame, units, &layer.name));
        trays.layers = known.collect::<Result<_>>()?;
        Ok(trays)
    }

    fn bare(frame: &'a Frame, spec: &'a ModelSpec, penalised: bool) -> Self {
        let n_trays = frame.per_unit.stuck.len() as u64;
        Self { frame, spec, penalised, layers: Vec::new(), icc: None, n_trays }
    }

    /// How the groupings lie in each other, in words.
    pub(crate) fn in_words(&self) -> Option<String> {
        (self.spec.trays == TrayMode::Random).then(|| in_words(&self.layers, self.n_trays as usize))
    }

    /// One entry per kind of tray; where trays lie in groupings every tray is one of its own.
    fn counts(&self) -> Counts {
        let per_unit = &self.frame.per_unit;
        let mut counts = Counts::default();
        let mut places: HashMap<(u64, u64, usize, usize), usize> = HashMap::new();
        let each = per_unit.rooted.iter().zip(&per_unit.stuck).zip(&per_unit.row).enumerate();
        for (unit, ((rooted, stuck), row)) in each {
            let rho = self.icc.as_ref().and_then(|icc| icc.codes.get(unit)).copied().unwrap_or(0);
            let place = if self.layers.is_empty() {
                *places.entry((*rooted as u64, *stuck as u64, *row, rho)).or_insert(counts.stuck.len())
            } else {
                counts.stuck.len()
            };
            match counts.copies.get_mut(place) {
                Some(copies) => *copies += 1.0,
                None => counts.push((*rooted, *stuck, *row, rho)),
            }
        }
        counts
    }

    /// Fits the law to some columns, one entry per row of the data.
    pub(crate) fn law(&self, x: &[Vec<f64>]) -> Result<Law> {
        self.law_by(x, self.icc.is_some())
    }

    fn law_by(&self, x: &[Vec<f64>], apart: bool) -> Result<Law> {
        let counts = self.counts();
        let at = |column: &[f64]| counts.row.iter().filter_map(|row| column.get(*row).copied()).collect::<Vec<f64>>();
        let x: Vec<Vec<f64>> = x.iter().map(|column| at(column)).collect();
        let offset = at(&self.frame.data.offset);
        let Counts { rooted, stuck, rho, copies, .. } = &counts;
        let rows = Rows { x: &x, rooted, stuck, offset: &offset, copies, link: self.spec.link };
        let (penalised, control) = (self.penalised, self.control());
        if self.spec.trays == TrayMode::BetaBinomial {
            let rho_of: &[usize] = if apart { rho } else { &[] };
            let spec = BetaBinomialSpec { rows, rho_of, penalised };
            return Ok(Law::Beta(Box::new(BetaBinomialFit::new(&spec, control)?)));
        }
        let trays: Vec<usize> = (0..stuck.len()).collect();
        let mut groupings: Vec<&[usize]> = vec![&trays];
        groupings.extend(self.layers.iter().map(|layer| layer.codes.as_slice()));
        let spec = RandomInterceptSpec { rows, groupings: &groupings, method: Method::Auto, penalised };
        Ok(Law::Random(Box::new(RandomInterceptFit::new(&spec, control)?)))
    }

    pub(crate) fn control(&self) -> &Control {
        &self.frame.control
    }

    /// The test that all levels have one correlation; none without levels, or where no more than one can be told.
    pub(crate) fn equal_icc(&self, law: &Law, x: &[Vec<f64>]) -> Result<Option<EqualIcc>> {
        let (Some(icc), Law::Beta(apart)) = (&self.icc, law) else { return Ok(None) };
        let known = apart.rho.iter().filter(|rho| rho.status != RhoStatus::NotEstimable).count();
        if known < 2 {
            return Ok(None);
        }
        let together = self.law_by(x, false)?;
        let top = |law: &Law| law.logliks().1.unwrap_or(law.logliks().0);
        let (statistic, df) = ((2.0 * (top(law) - top(&together))).max(0.0), (known - 1) as f64);
        let p = chi_squared::sf(statistic, df);
        Ok(Some(EqualIcc { by: icc.name.clone(), statistic, df, p }))
    }
}

/// The column of `correlation_by` as a grouping.
fn icc(frame: &Frame, units: &Units, spec: &ModelSpec) -> Result<Option<Layer>> {
    let Some(name) = &spec.correlation_by else { return Ok(None) };
    let layer = Layer::of(frame, units, name)?;
    if layer.levels < 2 {
        let level = layer.labels().into_iter().next().unwrap_or_default();
        return Err(ModelError::OneLevel { effect: name.clone(), level }.into());
    }
    if 2 * layer.levels > layer.codes.len() {
        return Err(
            ModelError::IccTooMany { column: name.clone(), levels: layer.levels, trays: layer.codes.len() }.into()
        );
    }
    Ok(Some(layer))
}
