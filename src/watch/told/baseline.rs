//! What is expected, in words and as a table.

use serde::{Deserialize, Serialize};

use super::phrases::{baseline_notes, batches as batch_words, place, stretch};
use crate::answer::{Answer, MadeWith, Sheet};
use crate::control::Control;
use crate::error::Result;
use crate::report::references::FIRTH_1993;
use crate::report::references_watch::COX_REID_1987;
use crate::report::{p_value, percent};
use crate::watch::after::{Question, Search};
use crate::watch::baseline::Baseline;
use crate::watch::crop::Batch;
use crate::watch::load::{shown_day, shown_week};
use crate::watch::watched::{BaselineOptions, Watch};

/// A baseline as a result.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
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
        let mut baseline = self.baseline(options, control)?;
        baseline.striking = self.drop_within(&baseline, options, control)?;
        let spreads = baseline.spreads;
        let sentence = format!(
            "{} of plants are usually alive, by {} read {}.",
            percent(baseline.usual()),
            batch_words(baseline.n_batches),
            stretch(&baseline)
        );
        let usual = baseline.usual();
        let points = |shift: f64| 100.0 * shift * usual * (1.0 - usual);
        let mut details = vec![
            format!(
                "Plants of one batch tend to live or die together: a correlation of {:.3}, where 0 is not at all and 1 always.",
                spreads.batch
            ),
            format!(
                "Set weeks move the rate by about {:.1} points either way: {:.1} in one place alone, {:.1} in all places together.",
                points(spreads.week.hypot(spreads.week_in_place)),
                points(spreads.week_in_place),
                points(spreads.week)
            ),
        ];
        // Where it is unknown, a note says so.
        details.extend(
            baseline.season_spread.map(|spread| format!("Seasons differ by about {:.1} points.", points(spread))),
        );
        if !baseline.has_wave() {
            details.push("With fewer than two full years the time of year and a trend cannot be told apart, so neither is expected.".to_owned());
        }
        let mut made_with =
            MadeWith::new(&[("since", shown_day(baseline.days.0)), ("until", shown_day(baseline.days.1))]);
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
                "A baseline was fitted to {} batches: logit rates by levels{}, by penalised likelihood. Batches were taken as beta-binomial, set weeks and their places as normal on the logit scale. How these differ was estimated by the likelihood adjusted for the rates.",
                baseline.n_batches,
                if baseline.has_wave() { " and a yearly wave" } else { "" }
            ),
            references: vec![FIRTH_1993.to_owned(), COX_REID_1987.to_owned()],
            made_with,
            numbers: BaselineNumbers { value: baseline.usual(), baseline },
        })
    }
}

/// Draws that look for a drop within a baseline, and the P value from which on one is spoken of.
const DRAWS: u64 = 199;
const STRIKING: f64 = 0.01;

impl Watch {
    /// Where and since when a baseline itself seems to hold a drop.
    fn drop_within(&self, baseline: &Baseline, options: &BaselineOptions, control: &Control) -> Result<Option<String>> {
        let batches: Vec<&Batch> = self.batches().iter().filter(|batch| self.is_within(options, batch)).collect();
        let search = Search { draws: DRAWS, inner_draws: 0, seed: 1, confidence: 0.9 };
        let question = Question { batches, groupings: self.groupings(), baseline, search };
        let found = question.best(control)?.filter(|found| found.p <= STRIKING);
        Ok(found.map(|found| {
            let named = found.place.as_ref().map(|(grouping, level)| (grouping.as_str(), level.as_str()));
            format!("in {} from {} on ({})", place(named), shown_week(found.monday), p_value(found.p))
        }))
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
