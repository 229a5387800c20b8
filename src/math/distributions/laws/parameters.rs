//! What may enter as a parameter.

use crate::error::{NumericError, Result};

/// Counts are held exactly up to here.
const LARGEST: u64 = 1 << 53;

/// A distribution with its article, and the name of one parameter.
pub(super) type Named = (&'static str, &'static str);

/// The value, if it is what is wanted.
pub(super) fn held((distribution, name): Named, value: f64, holds: bool, wanted: &'static str) -> Result<f64> {
    if holds { Ok(value) } else { Err(NumericError::Parameter { distribution, name, value, wanted }.into()) }
}

/// A finite number above 0.
pub(super) fn positive(named: Named, value: f64) -> Result<f64> {
    held(named, value, value > 0.0 && value.is_finite(), "a number above 0")
}

/// A number above 0, or infinity.
pub(super) fn above_zero(named: Named, value: f64) -> Result<f64> {
    held(named, value, value > 0.0, "a number above 0, or infinity")
}

/// A probability, ends included.
pub(super) fn probability(named: Named, value: f64) -> Result<f64> {
    held(named, value, (0.0..=1.0).contains(&value), "a number from 0 to 1")
}

/// A count that is held exactly.
pub(super) fn count(named: Named, value: u64) -> Result<u64> {
    held(named, value as f64, value <= LARGEST, "a count of at most 9007199254740992").map(|_| value)
}
