//! What every model of the same counts needs, worked out once and kept beside them.

use std::collections::HashMap;
use std::fmt;
use std::sync::{Arc, Mutex, OnceLock, PoisonError};

use super::joined::Joined;
use super::levels::Levels;
use super::values::{Numbers, picked};
use crate::error::{ModelError, Result};
use crate::math::special::ln_choose;
use crate::trial::columns::{Factor, Units};

/// Models of so many choices of factors find their units joined.
const MOST_JOINED: usize = 16;
/// Units above this are not kept twice: their fits take far longer than what would be spared.
const MOST_KEPT: usize = 1 << 16;

/// Counts that were checked, factors by the levels that occur, and sums that depend on counts alone. Units do not change, so all of it
/// holds as long as they live.
pub(crate) struct Prepared {
    units: Arc<Units>,
    counts: OnceLock<Arc<Counts>>,
    constants: OnceLock<Constants>,
    factors: Mutex<HashMap<String, Arc<Levels>>>,
    joined: Mutex<HashMap<Vec<String>, Arc<Joined>>>,
}

/// The units in which cuttings were set.
#[derive(Debug)]
pub(crate) struct Counts {
    /// As numbers in the trial's units.
    pub(crate) set: Vec<usize>,
    /// Cuttings rooted in them.
    pub(crate) rooted: Numbers,
    /// Cuttings stuck in them.
    pub(crate) stuck: Numbers,
}

/// Parts of the log-likelihood that no model changes.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Constants {
    /// Logarithms of the binomial coefficients.
    pub(crate) binomial: f64,
    /// `sum y ln(y / m) + (m - y) ln(1 - y / m)`.
    pub(crate) saturated: f64,
}

impl fmt::Debug for Prepared {
    fn fmt(&self, to: &mut fmt::Formatter<'_>) -> fmt::Result {
        to.debug_struct("Prepared").field("units", &self.units.len()).finish_non_exhaustive()
    }
}

impl Prepared {
    pub(crate) fn new(units: &Arc<Units>) -> Self {
        let (counts, constants) = (OnceLock::new(), OnceLock::new());
        let (factors, joined) = (Mutex::default(), Mutex::default());
        Self { units: Arc::clone(units), counts, constants, factors, joined }
    }

    pub(crate) fn units(&self) -> &Arc<Units> {
        &self.units
    }

    fn keeps(&self) -> bool {
        self.units.len() <= MOST_KEPT
    }

    /// The units with cuttings, once all counts and codes are seen to be possible.
    pub(crate) fn counts(&self) -> Result<Arc<Counts>> {
        if let Some(known) = self.counts.get() {
            return Ok(Arc::clone(known));
        }
        let units = &self.units;
        let set = set_units(units);
        check_units(units, &set)?;
        if set.is_empty() {
            return Err(ModelError::NoData.into());
        }
        let numbers = |counts: &[u64]| set.iter().filter_map(|unit| counts.get(*unit)).map(|n| *n as f64).collect();
        let (rooted, stuck) = (numbers(&units.rooted), numbers(&units.stuck));
        let counts = Arc::new(Counts { set, rooted, stuck });
        if self.keeps() {
            return Ok(Arc::clone(self.counts.get_or_init(|| counts)));
        }
        Ok(counts)
    }

    /// The constants of all units with cuttings.
    pub(crate) fn constants(&self, counts: impl Iterator<Item = (f64, f64)>) -> Constants {
        *self.constants.get_or_init(|| Constants::of(counts.map(|(y, m)| (y, m, 1.0))))
    }

    /// The levels of a factor that occur in the units with cuttings.
    pub(crate) fn levels(&self, factor: &Factor, set: &[usize]) -> Arc<Levels> {
        if !self.keeps() {
            return Arc::new(Levels::of(factor, set));
        }
        let mut known = self.factors.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(levels) = known.get(&factor.name) {
            return Arc::clone(levels);
        }
        let levels = Arc::new(Levels::of(factor, set));
        known.insert(factor.name.clone(), Arc::clone(&levels));
        levels
    }

    /// The units joined by factors whose levels were found here.
    pub(crate) fn joined(&self, names: Vec<String>, make: impl FnOnce() -> Joined) -> Arc<Joined> {
        if !self.keeps() {
            return Arc::new(make());
        }
        let mut known = self.joined.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(joined) = known.get(&names) {
            return Arc::clone(joined);
        }
        let joined = Arc::new(make());
        if known.len() < MOST_JOINED {
            known.insert(names, Arc::clone(&joined));
        }
        joined
    }
}

impl Constants {
    /// From rooted, stuck and how often each counts.
    pub(crate) fn of(counts: impl Iterator<Item = (f64, f64, f64)>) -> Self {
        let (mut binomial, mut saturated) = (0.0, 0.0);
        for (y, m, times) in counts {
            binomial += times * ln_choose(m, y);
            saturated += times * at_own_rate(y, m);
        }
        Self { binomial, saturated }
    }
}

/// `y ln(y / m) + (m - y) ln(1 - y / m)`.
pub(crate) fn at_own_rate(y: f64, m: f64) -> f64 {
    at_rate(y, m, y / m)
}

/// `y ln p + (m - y) ln(1 - p)`, where 0 times minus infinity is 0.
pub(crate) fn at_rate(y: f64, m: f64, rate: f64) -> f64 {
    let term = |n: f64, p: f64| if n > 0.0 { n * p.ln() } else { 0.0 };
    term(y, rate) + term(m - y, 1.0 - rate)
}

/// Units in which cuttings were set.
fn set_units(units: &Units) -> Vec<usize> {
    (0..units.len()).filter(|unit| units.stuck.get(*unit).is_some_and(|m| *m > 0)).collect()
}

/// Counts that can be, and one known level or value per unit in every column.
fn check_units(units: &Units, set: &[usize]) -> Result<()> {
    let n = units.len();
    let misaligned = |column: &str| ModelError::Misaligned { column: column.to_owned(), units: n };
    if units.stuck.len() != n {
        return Err(misaligned("stuck").into());
    }
    for unit in set {
        units.count(*unit).map_or(Ok(()), crate::Count::check)?;
    }
    let design = [&units.block, &units.whole_plot, &units.season, &units.stock_plant, &units.tray];
    for factor in units.treatments.iter().chain(design.into_iter().flatten()) {
        if factor.codes.len() != n || factor.codes.iter().any(|code| *code as usize >= factor.levels.len()) {
            return Err(misaligned(&factor.name).into());
        }
    }
    match units.covariates.iter().find(|covariate| covariate.values.len() != n) {
        Some(covariate) => Err(misaligned(&covariate.name).into()),
        None => Ok(()),
    }
}

/// The units a frame is made of, and where the levels of their factors are kept.
pub(crate) struct Members<'a> {
    pub(crate) units: &'a Units,
    pub(crate) rows: &'a [usize],
    /// None where the units are not all with cuttings.
    pub(crate) prepared: Option<&'a Prepared>,
}

impl Members<'_> {
    /// The levels of a factor that occur.
    pub(crate) fn levels(&self, factor: &Factor) -> Arc<Levels> {
        match self.prepared {
            Some(prepared) => prepared.levels(factor, self.rows),
            None => Arc::new(Levels::of(factor, self.rows)),
        }
    }

    /// The entries of the units.
    pub(crate) fn picked<T: Copy>(&self, values: &[T]) -> Vec<T> {
        picked(values, self.rows)
    }
}
