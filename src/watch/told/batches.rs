//! Batches one by one, in words.

use serde::{Deserialize, Serialize};

use super::phrases::{balance, baseline_notes, batches as batch_words, not_a_cause};
use crate::answer::{Answer, MadeWith, Note, Sheet};
use crate::error::{Result, WatchError};
use crate::report::fitted;
use crate::report::references::DUNN_SMYTH_1996;
use crate::report::references_watch::LUCAS_SACCUCCI_1990;
use crate::watch::baseline::Baseline;
use crate::watch::load::shown_day;
use crate::watch::singly::{BatchOptions, BatchSeen, singly};
use crate::watch::watched::Watch;

/// Batches beside what was expected of them.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct BatchNumbers {
    /// Batches in the order of their readings.
    pub batches: Vec<BatchSeen>,
    /// Of so many one may lie below its limit by chance.
    pub one_in: f64,
    /// Weight of each batch in the average.
    pub weight: f64,
}

impl Watch {
    /// Batches read since a baseline, one by one: expected, the fewest that are no signal, a running average, trees lost so far.
    ///
    /// # Errors
    /// Options out of their range; no batch read since the baseline.
    pub fn batch_chart(&self, baseline: &Baseline, options: &BatchOptions) -> Result<Answer<BatchNumbers>> {
        baseline.check_crop(self.groupings(), self.reading_age())?;
        if !(options.one_in >= 10.0 && options.one_in.is_finite()) {
            return Err(WatchError::OneIn { value: options.one_in }.into());
        }
        if !(options.weight > 0.0 && options.weight <= 1.0) {
            return Err(WatchError::Weight { value: options.weight }.into());
        }
        let (_, later) = baseline.parted(self.batches());
        if later.is_empty() {
            return Err(WatchError::NothingRead { side: "from", day: shown_day(baseline.days.1 + 1) }.into());
        }
        let seen = singly(&later, self.groupings(), baseline, options);
        let mut made_with =
            MadeWith::new(&[("one_in", options.one_in.to_string()), ("weight", options.weight.to_string())]);
        made_with.data_fingerprint = Some(self.fingerprint().to_owned());
        Ok(Answer {
            kind: "batch_chart".to_owned(),
            table: table(&seen),
            sentence: sentence(&seen, options),
            details: details(&seen),
            notes: notes(&seen, baseline),
            methods: format!(
                "Each batch was set against its beta-binomial law, with what weeks and places add integrated out. Lower limits leave one batch in {:.0} below by chance. Quantile residuals, the normal quantiles of batches in their own laws, make the exponentially weighted average. Each new batch has a weight of {} in it; its lower limit follows from its run length.",
                options.one_in, options.weight
            ),
            references: vec![DUNN_SMYTH_1996.to_owned(), LUCAS_SACCUCCI_1990.to_owned()],
            made_with,
            numbers: BatchNumbers { batches: seen, one_in: options.one_in, weight: options.weight },
        })
    }
}

/// Two decimals, and no sign before a nought.
fn hundredths(x: f64) -> String {
    format!("{:.2}", (100.0 * x).round() / 100.0 + 0.0)
}

fn below(seen: &[BatchSeen]) -> Vec<&BatchSeen> {
    seen.iter().filter(|one| one.below).collect()
}

fn sentence(seen: &[BatchSeen], options: &BatchOptions) -> String {
    let by_chance = seen.iter().filter(|one| one.lower_limit.is_some()).count() as f64 / options.one_in;
    let lead = match below(seen).as_slice() {
        [] if seen.len() == 1 => "The only batch does not lie below its lower limit".to_owned(),
        [] => format!("No batch among {} lies below its lower limit", seen.len()),
        [only] => format!("Batch {} lies below its lower limit: {} of {} alive", only.batch, only.alive, only.started),
        several => format!("{} lie below their lower limits", batch_words(several.len() as u64)),
    };
    fitted(&lead, &[format!("; chance alone puts about {by_chance:.1} there")])
}

/// Batches told one by one.
const TOLD: usize = 10;

fn details(seen: &[BatchSeen]) -> Vec<String> {
    let below = below(seen);
    let line = |one: &&BatchSeen| {
        let (limit, day) = (one.lower_limit.unwrap_or_default(), shown_day(one.read));
        format!("Batch {}, read {day}: {} of {} alive, lower limit {limit}.", one.batch, one.alive, one.started)
    };
    let mut details: Vec<String> = below.iter().take(TOLD).map(line).collect();
    if below.len() > TOLD {
        let more = below.len() - TOLD;
        let told =
            if more == 1 { "1 more is below its own.".to_owned() } else { format!("{more} more are below theirs.") };
        details.push(told);
    }
    if let Some(last) = seen.last() {
        details.push(balance(last.lost));
        let under: Vec<&BatchSeen> = seen.iter().filter(|one| one.average < one.average_limit).collect();
        let stands = if last.average < last.average_limit { "below its lower limit" } else { "above its lower limit" };
        let before = match under.as_slice() {
            [first, .., final_] => format!(
                "; it was below it at {} of {} batches, first on {} and last on {}",
                under.len(),
                seen.len(),
                shown_day(first.read),
                shown_day(final_.read)
            ),
            [only] => format!("; it was below it once, on {}", shown_day(only.read)),
            [] => String::new(),
        };
        details.push(format!(
            "The running average of how batches stand to what is expected (0 is as expected) is {}, {stands} of {}{before}.",
            hundredths(last.average),
            hundredths(last.average_limit)
        ));
    }
    details
        .push("The table shows batches below their limits and the last ones; the record holds all of them.".to_owned());
    details
}

fn notes(seen: &[BatchSeen], baseline: &Baseline) -> Vec<Note> {
    let mut notes = baseline_notes(baseline);
    if !below(seen).is_empty() {
        notes.push(not_a_cause());
    }
    let without = seen.iter().filter(|one| one.expected.is_some() && one.lower_limit.is_none()).count();
    if without > 0 {
        let text = if without == 1 {
            "1 batch is so small that even none alive would be no signal: it has no lower limit.".to_owned()
        } else {
            format!("{without} batches are so small that even none alive would be no signal: they have no lower limit.")
        };
        notes.push(Note::new("no_lower_limit", text));
    }
    notes
}

/// Batches at the end that the table holds, beside those below their limits.
const LAST: usize = 20;

fn table(all: &[BatchSeen]) -> Sheet {
    let late = all.len().saturating_sub(LAST);
    let held = all.iter().enumerate().filter(|(at, one)| one.below || *at >= late);
    let seen: Vec<&BatchSeen> = held.map(|(_, one)| one).collect();
    let mut sheet = Sheet::default();
    sheet.text("batch", seen.iter().map(|one| one.batch.clone()));
    sheet.text("read", seen.iter().map(|one| shown_day(one.read)));
    sheet.whole("started", seen.iter().map(|one| one.started)).whole("alive", seen.iter().map(|one| one.alive));
    sheet.count("expected", seen.iter().map(|one| one.expected)).headed("expected alive");
    sheet.whole("lower_limit", seen.iter().map(|one| one.lower_limit)).headed("lower limit");
    sheet.text("below", seen.iter().map(|one| if one.below { "below" } else { "" }));
    sheet.count("lost", seen.iter().map(|one| one.lost)).headed("trees lost so far");
    sheet
}
