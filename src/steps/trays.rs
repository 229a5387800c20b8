//! Counts of trays as one rate with limits: on effective plants where there are trays, by Wilson's interval where there are none.

use crate::error::Result;
use crate::math::distributions::normal;
use crate::rates::{Arm, tray_interval, tray_spread, wilson};

/// A rate, and what is known of it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Rate {
    pub(super) value: f64,
    /// None where trays were recorded and only one has such plants.
    pub(super) known: Option<Known>,
}

/// How well a rate is known.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Known {
    pub(super) low: f64,
    pub(super) high: f64,
    /// Plants that would say as much if each stood alone.
    pub(super) effective: f64,
    /// The two-sided critical value in use.
    pub(super) critical: f64,
}

impl Rate {
    pub(super) fn limits(&self) -> Option<(f64, f64)> {
        self.known.map(|known| (known.low, known.high))
    }
}

/// The rate of `counts` (so many of so many, an entry a tray); None where there is nothing to have a rate.
///
/// # Errors
/// As those of intervals.
pub(super) fn rate(counts: &[(u64, u64)], confidence: f64) -> Result<Option<Rate>> {
    let held = || counts.iter().filter(|(_, of)| *of > 0);
    let arm = Arm { rooted: held().map(|one| one.0).collect(), stuck: held().map(|one| one.1).collect() };
    let (some, of) = arm.total();
    if of <= 0.0 {
        return Ok(None);
    }
    let value = some / of;
    if counts.len() == 1 {
        let critical = normal::isf(0.5 * (1.0 - confidence));
        let (low, high) = wilson(some, of, critical);
        return Ok(Some(Rate { value, known: Some(Known { low, high, effective: of, critical }) }));
    }
    let Some(spread) = tray_spread(std::slice::from_ref(&arm)) else { return Ok(Some(Rate { value, known: None })) };
    let (low, high) = tray_interval(&arm, &spread, confidence)?;
    let (effective, critical) = (spread.effective_cuttings(&arm), spread.critical(confidence));
    Ok(Some(Rate { value, known: Some(Known { low, high, effective, critical }) }))
}
