//! What is expected, in words and as a table.

use serde::{Deserialize, Serialize};

use super::phrases::{baseline_notes, batches as batch_words, stretch};
use crate::answer::{Answer, MadeWith, Sheet};
use crate::control::Control;
use crate::error::Result;
use crate::report::percent;
use crate::report::references::FIRTH_1993;
use crate::report::references_watch::COX_REID_1987;
use crate::watch::baseline::Baseline;
use crate::watch::watched::{BaselineOptions, Watch};

/// A baseline as a result.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct BaselineNumbers {
    /// The baseline itself, to be given to later questions.
    pub baseline: Baseline,
    /// Alive of all started.
    pub value: f64,
}

impl Watch {
    /// What the crop is expected to do, with words and a table.
    ///
    /// # Errors
    /// As [`Watch::baseline`].
    pub fn expected(&self, options: &BaselineOptions, control: &Control) -> Result<Answer<BaselineNumbers>> {
        let baseline = self.baseline(options, control)?;
        let spreads = baseline.spreads;
        let sentence = format!(
            "{} of plants are usually alive, by {} read {}.",
            percent(baseline.usual()),
            batch_words(baseline.n_batches),
            stretch(&baseline)
        );
        let layer = spreads.week.hypot(spreads.week_in_place);
        let mut details = vec![
            format!("Two plants of a batch are alike with a correlation of {:.3}.", spreads.batch),
            format!(
                "Set weeks shift the rate by about {:.1} points either way, of which {:.1} within a place.",
                100.0 * layer * baseline.usual() * (1.0 - baseline.usual()),
                100.0 * spreads.week_in_place * baseline.usual() * (1.0 - baseline.usual())
            ),
        ];
        details.push(match baseline.season_spread {
            Some(spread) => format!(
                "Seasons differ by about {:.1} points.",
                100.0 * spread * baseline.usual() * (1.0 - baseline.usual())
            ),
            None => "How seasons differ is unknown with fewer than three of them.".to_owned(),
        });
        if !baseline.has_wave() {
            details.push("With fewer than two full years season of the year and trend cannot be told apart, so none is expected.".to_owned());
        }
        let mut made_with =
            MadeWith::new(&[("since", format!("{:?}", options.since)), ("until", format!("{:?}", options.until))]);
        made_with.data_fingerprint = Some(self.fingerprint().to_owned());
        let mut notes = baseline_notes(&baseline);
        notes.extend(self.notes().iter().cloned());
        Ok(Answer {
            kind: "baseline".to_owned(),
            table: table(&baseline),
            sentence,
            details,
            notes,
            methods: format!(
                "A baseline was fitted to {} batches: logit rates by levels{}, by penalised likelihood; batches beta-binomial, set weeks and their places normal on the logit scale, by the likelihood adjusted for the rates.",
                baseline.n_batches,
                if baseline.has_wave() { " and a yearly wave" } else { "" }
            ),
            references: vec![FIRTH_1993.to_owned(), COX_REID_1987.to_owned()],
            made_with,
            numbers: BaselineNumbers { value: baseline.usual(), baseline },
        })
    }
}

fn table(baseline: &Baseline) -> Sheet {
    let rates = baseline.level_rates();
    let mut sheet = Sheet::default();
    sheet.text("column", rates.iter().map(|one| one.grouping.clone()));
    sheet.level("level", rates.iter().map(|one| one.level.clone()));
    sheet.rate("value", rates.iter().map(|one| one.value)).headed("expected");
    sheet.rate("low", rates.iter().map(|one| one.low)).rate("high", rates.iter().map(|one| one.high));
    sheet
}
