//! What of a raw difference between two stretches is the mix, in words.

use serde::{Deserialize, Serialize};

use super::phrases::{batches as batch_words, trees};
use crate::answer::{Answer, MadeWith, Note, Sheet};
use crate::error::{Result, WatchError};
use crate::estimate::check_level;
use crate::report::references_watch::{DAS_GUPTA_1993, KITAGAWA_1955, MACKINNON_WHITE_1985};
use crate::report::{fitted, join, percent, points};
use crate::watch::crop::Batch;
use crate::watch::load::{month_of, shown_day};
use crate::watch::mixed::{MixChange, mixed};
use crate::watch::watched::Watch;

/// The two stretches: batches read before a day against those read from it on.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct MixOptions {
    /// First day of the later stretch, in days since 1970.
    pub from: i32,
    /// First day of the earlier stretch; None for the beginning.
    pub since: Option<i32>,
    /// Last day of the later stretch; None for the end.
    pub until: Option<i32>,
    /// Confidence of the limits.
    pub confidence: f64,
}

impl Default for MixOptions {
    fn default() -> Self {
        Self { from: 0, since: None, until: None, confidence: 0.95 }
    }
}

impl Watch {
    /// What of the difference between two stretches of readings is the mix of what was set, and what its rates.
    ///
    /// # Errors
    /// [`WatchError::NothingRead`] where a stretch has no batch, [`WatchError::NothingAlike`] where the two share nothing.
    pub fn mix(&self, options: &MixOptions) -> Result<Answer<MixChange>> {
        check_level(options.confidence)?;
        let within = |batch: &&Batch| {
            options.since.is_none_or(|since| batch.read >= since)
                && options.until.is_none_or(|until| batch.read <= until)
        };
        let (before, after): (Vec<&Batch>, Vec<&Batch>) =
            self.batches().iter().filter(within).partition(|batch| batch.read < options.from);
        for (empty, side) in [(before.is_empty(), "before"), (after.is_empty(), "from")] {
            if empty {
                return Err(WatchError::NothingRead { side, day: shown_day(options.from) }.into());
            }
        }
        let found = mixed(&before, &after, self.groupings(), options.confidence).ok_or(WatchError::NothingAlike)?;
        let mut made_with =
            MadeWith::new(&[("from", shown_day(options.from)), ("confidence", options.confidence.to_string())]);
        made_with.data_fingerprint = Some(self.fingerprint().to_owned());
        Ok(Answer {
            kind: "mix_change".to_owned(),
            table: table(&found),
            sentence: sentence(&found),
            details: details(&found, options.from, &self.kinds()),
            notes: notes(&found).into_iter().chain(months_note(&before, &after)).collect(),
            methods: "The difference of two raw rates was taken apart into parts that add up. They are what the rates of batches of the same kind add, what the mix adds, column by column, and what kinds add that only one stretch has. Each part is averaged over all orders of change. Set weeks are the units of the standard error, and residuals are freed of what kinds take up; how seasons differ is not in it.".to_owned(),
            references: [KITAGAWA_1955, DAS_GUPTA_1993, MACKINNON_WHITE_1985].map(str::to_owned).to_vec(),
            made_with,
            numbers: found,
        })
    }
}

impl Watch {
    /// What makes batches be of one kind.
    fn kinds(&self) -> String {
        let names: Vec<String> = self.groupings().iter().map(|one| one.name.replace('_', " ")).collect();
        if names.is_empty() {
            return "No column tells kinds of batches apart, so all are of the same kind.".to_owned();
        }
        format!(
            "Batches are of the same kind where {} {} the same.",
            join(&names),
            if names.len() == 1 { "is" } else { "are" }
        )
    }
}

fn way(value: f64) -> &'static str {
    if value < 0.0 { "fewer" } else { "more" }
}

fn sentence(found: &MixChange) -> String {
    let mix: f64 = found.mix.iter().map(|part| part.value).sum();
    let explained = mix + found.without_partner;
    let all = format!("{} {} trees per 100", trees(found.value), way(found.value));
    let shown = found.low.zip(found.high).is_some_and(|(low, high)| low > 0.0 || high < 0.0);
    if shown {
        let lead =
            format!("Of {all}, the same kinds of batches account for {} {}", trees(found.rates), way(found.rates));
        return fitted(&lead, &[format!(" and what was set for {} {}", trees(explained), way(explained))]);
    }
    let lead = format!("Of {all}, what was set accounts for {} {}", trees(explained), way(explained));
    let limits = match found.low.zip(found.high) {
        Some((low, high)) => {
            format!("; the same kinds of batches are not shown to differ ({} to {} points)", points(low), points(high))
        }
        None => "; too few weeks to judge the same kinds of batches".to_owned(),
    };
    fitted(&lead, &[limits])
}

fn details(found: &MixChange, from: i32, kinds: &str) -> Vec<String> {
    let (one, two) = found.n_batches;
    let mut lines = vec![format!(
        "{} of plants alive from {} on ({}), {} before ({}).",
        percent(found.after),
        shown_day(from),
        batch_words(two),
        percent(found.before),
        batch_words(one)
    )];
    lines.push(match found.low.zip(found.high) {
        Some((low, high)) => {
            format!("Rates of the same kinds: {} points ({} to {}).", points(found.rates), points(low), points(high))
        }
        None => format!("Rates of the same kinds: {} points; too few weeks for limits.", points(found.rates)),
    });
    lines.push("The limits are for these two stretches; how seasons differ is not in them.".to_owned());
    lines.push(kinds.to_owned());
    let parts: Vec<String> =
        found.mix.iter().map(|part| format!("{} {}", part.grouping.replace('_', " "), points(part.value))).collect();
    if !parts.is_empty() {
        lines.push(format!("How much of each kind was set (the mix), in points: {}.", parts.join(", ")));
    }
    lines.push(format!(
        "Kinds that only one of the two stretches has: {} points; all parts add up to {}.",
        points(found.without_partner),
        points(found.value)
    ));
    lines
}

fn notes(found: &MixChange) -> Vec<Note> {
    let mut notes = Vec::new();
    if found.overlap < 0.8 {
        let text = format!(
            "Only {} of plants are of kinds that both stretches have, so much of the difference belongs to neither rates nor mix.",
            percent(found.overlap)
        );
        notes.push(Note::new("little_overlap", text));
    }
    notes
}

/// Months that the two stretches have to share, as a part of their plants.
const SHARED: f64 = 0.75;

/// That the stretches lie in different months: the time of year is then told as the rates of like batches.
fn months_note(before: &[&Batch], after: &[&Batch]) -> Option<Note> {
    let shares = |batches: &[&Batch]| {
        let mut months = [0.0; 12];
        for batch in batches {
            if let Some(month) = months.get_mut(month_of(batch.set)) {
                *month += batch.started as f64;
            }
        }
        let all: f64 = months.iter().sum();
        months.map(|month| month / all.max(1.0))
    };
    let common: f64 = shares(before).iter().zip(shares(after)).map(|(one, other)| one.min(other)).sum();
    (common < SHARED).then(|| {
        let text = "The two stretches were set in different months, so what the same kinds add may be the time of year. Compare the same months: since= and until= choose them.";
        Note::new("different_months", text)
    })
}

fn table(found: &MixChange) -> Sheet {
    let mut names = vec!["rates of the same kinds".to_owned()];
    let mut values = vec![found.rates];
    for part in &found.mix {
        names.push(format!("mix of {}", part.grouping.replace('_', " ")));
        values.push(part.value);
    }
    names.extend(["kinds of one stretch only".to_owned(), "all".to_owned()]);
    values.extend([found.without_partner, found.value]);
    let rest = values.len() - 1;
    let open = |first: Option<f64>| std::iter::once(first).chain(std::iter::repeat_n(None, rest));
    let mut sheet = Sheet::default();
    sheet
        .text("part", names)
        .difference("value", values)
        .difference("low", open(found.low))
        .difference("high", open(found.high));
    sheet
}
