//! What was once worked out of a fitted curve, kept for questions to come. It is no part of the curve: all are equal.

use std::collections::HashMap;
use std::sync::{Arc, Mutex, OnceLock, PoisonError};

use super::spans::{Limits, Spanned};
use crate::error::Result;

/// A confidence level, and strengths with their takes.
type Takes = (f64, Vec<(f64, Spanned)>);

/// Of one shape: fits with its place held elsewhere, and the best strengths that it allows, by the bits of how far it may fall.
#[derive(Debug, Clone, Default)]
pub(crate) struct OfMember {
    elsewhere: Arc<OnceLock<Vec<Vec<f64>>>>,
    tops: Arc<Mutex<HashMap<u64, Limits>>>,
}

/// Of a curve: strengths from the lowest to the highest tested with the takes there, and for which confidence level they were worked out.
#[derive(Debug, Clone, Default)]
pub(crate) struct OfCurve {
    takes: Arc<OnceLock<Takes>>,
}

impl PartialEq for OfMember {
    fn eq(&self, _: &Self) -> bool {
        true
    }
}

impl PartialEq for OfCurve {
    fn eq(&self, _: &Self) -> bool {
        true
    }
}

impl OfMember {
    /// Fits with the place held elsewhere.
    ///
    /// # Errors
    /// What `make` fails with; nothing is kept then.
    pub(super) fn elsewhere(&self, make: impl FnOnce() -> Result<Vec<Vec<f64>>>) -> Result<&[Vec<f64>]> {
        if let Some(known) = self.elsewhere.get() {
            return Ok(known);
        }
        let made = make()?;
        Ok(self.elsewhere.get_or_init(|| made))
    }

    /// The best strengths allowed within a fall of `most`.
    ///
    /// # Errors
    /// What `make` fails with; nothing is kept then.
    pub(crate) fn tops(&self, most: f64, make: impl FnOnce() -> Result<Limits>) -> Result<Limits> {
        let known = self.tops.lock().unwrap_or_else(PoisonError::into_inner).get(&most.to_bits()).copied();
        if let Some(known) = known {
            return Ok(known);
        }
        let made = make()?;
        self.tops.lock().unwrap_or_else(PoisonError::into_inner).insert(most.to_bits(), made);
        Ok(made)
    }
}

impl OfCurve {
    /// The takes over the tested range at a level; one level is kept.
    pub(crate) fn takes<T>(
        &self,
        level: f64,
        make: impl Fn() -> Vec<(f64, Spanned)>,
        read: impl FnOnce(&[(f64, Spanned)]) -> T,
    ) -> T {
        let (of, known) = self.takes.get_or_init(|| (level, make()));
        if of.to_bits() == level.to_bits() { read(known) } else { read(&make()) }
    }
}
