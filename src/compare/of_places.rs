//! Places themselves side by side: a level is one bay or one season, so nothing tests two of them.

use super::numbers::Comparison;
use crate::report::{numbers, plural};

/// Are the levels compared places, one each?
pub(super) fn is_place(found: &Comparison) -> bool {
    found.unit == found.factor && found.withheld.is_some()
}

/// Why two of them are not tested against each other.
pub(crate) fn why(factor: &str) -> String {
    let (place, places) = (numbers::unit_name(factor), plural(factor));
    format!("each level of {factor} is one {place}, and nothing shows by how much two {places} differ by chance alone")
}

/// That there is no verdict on what was seen, and the verb that shows all of them.
pub(crate) fn verdict(factor: &str, seen: &str) -> String {
    let place = numbers::unit_name(factor);
    format!("No verdict{seen}; one {place} each allows no test, and take_rates({factor:?}) shows all with intervals.")
}
