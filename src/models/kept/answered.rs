//! What was once worked out of a fit with something held: kept with the fit, which does not change.

use std::collections::HashMap;
use std::hash::Hash;
use std::sync::{Mutex, PoisonError};

use super::limits::ProfileLimits;
use super::statistic_kind::StatisticKind;
use crate::error::Result;

/// A term, within whole plots or not, and the kind of its statistic.
type Asked = (usize, bool, StatisticKind);

/// Limits of single coefficients and statistics of effects.
#[derive(Debug, Default)]
pub(crate) struct Answered {
    /// By coefficient and the bits of the level.
    limits: Mutex<HashMap<(usize, u64), Option<ProfileLimits>>>,
    /// By term, its own statistic or that within whole plots, and kind.
    statistics: Mutex<HashMap<Asked, (f64, usize)>>,
}

impl Answered {
    /// Limits and test of a coefficient at a level.
    ///
    /// # Errors
    /// What `make` fails with; nothing is kept then.
    pub(crate) fn limits(
        &self,
        coefficient: usize,
        level: f64,
        make: impl FnOnce() -> Result<Option<ProfileLimits>>,
    ) -> Result<Option<ProfileLimits>> {
        once(&self.limits, (coefficient, level.to_bits()), make)
    }

    /// Statistic and degrees of freedom of a term, within whole plots or not.
    ///
    /// # Errors
    /// What `make` fails with; nothing is kept then.
    pub(crate) fn statistic(
        &self,
        (term, within): (usize, bool),
        kind: StatisticKind,
        make: impl FnOnce() -> Result<(f64, usize)>,
    ) -> Result<(f64, usize)> {
        once(&self.statistics, (term, within, kind), make)
    }
}

/// The known answer, or a new one. Two who ask at once may both work it out.
fn once<K: Eq + Hash, V: Copy>(known: &Mutex<HashMap<K, V>>, key: K, make: impl FnOnce() -> Result<V>) -> Result<V> {
    let found = known.lock().unwrap_or_else(PoisonError::into_inner).get(&key).copied();
    if let Some(found) = found {
        return Ok(found);
    }
    let made = make()?;
    known.lock().unwrap_or_else(PoisonError::into_inner).insert(key, made);
    Ok(made)
}
