//! One-sided tests of a difference against a margin on either side.

use super::exact::Exact;
use super::score::Pair;
use crate::control::Control;
use crate::error::Result;
use crate::estimate::Count;
use crate::math::distributions::normal;

/// P values against a second rate lower, and higher, than the first by `margin` or more.
///
/// # Errors
/// A count error above 20,000 cuttings for the exact tests; interrupted when stopped.
pub(crate) fn margin_p_values(
    first: Count,
    second: Count,
    margin: f64,
    exact: bool,
    control: &Control,
) -> Result<[f64; 2]> {
    let pair = Pair::new(second, first);
    let p = |pair: Pair| -> Result<f64> {
        if exact {
            return Exact::new(pair, control)?.p(-margin);
        }
        let (off, variance) = pair.difference_score(-margin);
        Ok(if off == 0.0 { 0.5 } else { normal::sf(off / (variance * pair.variance_factor()).sqrt()) })
    };
    Ok([p(pair)?, p(pair.turned())?])
}
