//! What every answer of a trial carries: on which outcome's counts it is, what they leave out of sight, and of which data.

use super::columns::Units;
use super::held::Trial;
use super::outcomes::Outcome;
use crate::answer::Answer;
use crate::error::Result;

impl Trial {
    /// The answer with the fingerprint of the data.
    pub(crate) fn signed<T>(&self, mut answer: Answer<T>) -> Answer<T> {
        answer.made_with.data_fingerprint = Some(self.fingerprint().to_owned());
        let strength = self.options().strength_treatment().map(|column| self.options().spoken(column));
        answer.made_with.strength = strength.and_then(|spoken| spoken.declared());
        answer.made_with.given_to = self.units().given_to();
        match self.reached() {
            Some(reached) => reached.named(answer),
            None => answer,
        }
    }

    /// An answer on the counts of an outcome, which `work` is told so that it speaks of it. Where deaths are recorded the answer says what
    /// it leaves out of sight, and how the other outcomes stand.
    ///
    /// # Errors
    /// Where the outcome needs deaths that are not recorded; what `work` fails with.
    pub(crate) fn on_outcome<T>(
        &self,
        outcome: Outcome,
        work: impl Fn(&Units, Outcome) -> Result<Answer<T>>,
    ) -> Result<Answer<T>> {
        let mut answer = work(&*self.shared_units_of(outcome)?, outcome)?;
        answer.notes.splice(0..0, self.deaths_note(outcome));
        if outcome.is_part() {
            answer.sentence = outcome.headed(&answer.sentence);
        }
        answer.made_with = answer.made_with.about(outcome);
        if self.dead().is_some() {
            for other in Outcome::OF_DEATHS.into_iter().filter(|one| *one != outcome) {
                // An outcome that these counts cannot show, as where nothing survived, is left out.
                if let Ok(beside) = self.units_of(other).and_then(|units| work(&units, other)) {
                    answer.details.push(other.named(&beside.sentence));
                }
            }
        }
        Ok(self.signed(answer))
    }
}
