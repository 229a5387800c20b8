//! What the options of a trial say of the words for its levels.

use crate::report::Spoken;
use crate::trial::LoadOptions;
use crate::units::StrengthRecord;

impl LoadOptions {
    /// The words for the levels of a treatment: those of the declared strength where it is its column.
    #[must_use]
    pub(crate) fn spoken(&self, treatment: &str) -> Spoken {
        let plain = Spoken::plain(treatment);
        let declared = self.strength.clone().filter(|_| self.strength_treatment() == Some(treatment));
        let Some(StrengthRecord { substance, unit, method, .. }) = declared.map(StrengthRecord::from) else {
            return plain;
        };
        Spoken { unit: Some(unit), substance: Some(substance), method, ..plain }
    }
}
