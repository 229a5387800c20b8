//! What earlier trials tell of how trays differ, as correlations that are equally likely.

use crate::error::{PlanError, Result};
use crate::layers::{Earlier, Known, TRAY};
use crate::math::distributions::chi_squared;

/// Equally likely parts of the law.
const PARTS: usize = 20;

/// Correlations of two cuttings of a tray that earlier trials leave equally likely.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Correlations {
    parts: Vec<f64>,
    middle: f64,
}

impl Correlations {
    /// Those of trays with so many cuttings.
    ///
    /// Earlier trials give the law of a further true mean square between trays over that within, `s d / chi-square(d)`
    /// ([`Earlier::shrunk`]); a mean square `F` of trays with `m` cuttings is a correlation of `(F - 1) / (F + m - 1)`, and one below 1
    /// counts as no correlation.
    ///
    /// # Errors
    /// [`PlanError::NothingKnown`] where they tell nothing of trays.
    pub(super) fn of(earlier: &Earlier, cuttings: u64) -> Result<Self> {
        let m = cuttings as f64;
        let own = Known {
            unit: TRAY.to_owned(),
            role: String::new(),
            totals: false,
            mean_square: 1.0,
            beneath: 1.0,
            cuttings: m,
            df: 1.0,
        };
        let law = earlier.shrunk(&own).ok_or(PlanError::NothingKnown)?;
        let at = |share: f64| {
            // A high mean square goes with a low chi-square.
            let square = law.expected * law.earlier_df / chi_squared::quantile(1.0 - share, law.earlier_df);
            ((square - 1.0) / (square + m - 1.0)).clamp(0.0, 0.999)
        };
        let parts = (0..PARTS).map(|part| at((part as f64 + 0.5) / PARTS as f64)).collect();
        Ok(Self { parts, middle: at(0.5) })
    }

    pub(super) fn parts(&self) -> &[f64] {
        &self.parts
    }

    /// As likely exceeded as not.
    pub(super) fn middle(&self) -> f64 {
        self.middle
    }
}
