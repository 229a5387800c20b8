//! A rate against a target, in words.

use serde::{Deserialize, Serialize};

use super::phrases::{DECIDES, baseline_notes, batches as batch_words, trees};
use crate::answer::{Answer, MadeWith, Sheet};
use crate::error::{CountError, Result, WatchError};
use crate::report::references::SATTERTHWAITE_1946;
use crate::report::{fitted, p_value, percent};
use crate::watch::against::{AgainstTarget, against};
use crate::watch::baseline::Baseline;
use crate::watch::crop::Batch;
use crate::watch::load::shown_day;
use crate::watch::watched::Watch;

/// Which batches are set against a target.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct TargetOptions {
    /// First day of reading; None for the day after the baseline.
    pub since: Option<i32>,
    /// Last day of reading; None for the end.
    pub until: Option<i32>,
}

impl Watch {
    /// Whether a rate differs from a target by more than batches, weeks and seasons make it anyway.
    ///
    /// # Errors
    /// A target not between 0 and 1; no batch read in the stretch.
    pub fn target(&self, target: f64, baseline: &Baseline, options: &TargetOptions) -> Result<Answer<AgainstTarget>> {
        baseline.check_crop(self.groupings(), self.reading_age())?;
        if !(target > 0.0 && target < 1.0) {
            return Err(CountError::Target { value: target }.into());
        }
        let since = options.since.unwrap_or(baseline.days.1 + 1);
        let within = |batch: &&Batch| batch.read >= since && options.until.is_none_or(|until| batch.read <= until);
        let batches: Vec<&Batch> = self.batches().iter().filter(within).collect();
        let found = against(&batches, self.groupings(), baseline, target)
            .ok_or_else(|| WatchError::NothingRead { side: "from", day: shown_day(since) })?;
        let mut made_with = MadeWith::new(&[("target", target.to_string()), ("since", shown_day(since))]);
        made_with.data_fingerprint = Some(self.fingerprint().to_owned());
        Ok(Answer {
            kind: "target_watched".to_owned(),
            table: table(&found),
            sentence: sentence(&found),
            details: details(&found),
            notes: baseline_notes(baseline),
            methods: format!(
                "The rate was set against {} by t. Its variance is what batches (correlation {:.3}), set weeks and, where known, seasons add. Degrees of freedom are Satterthwaite's.",
                percent(target),
                baseline.spreads.batch
            ),
            references: vec![SATTERTHWAITE_1946.to_owned()],
            made_with,
            numbers: found,
        })
    }
}

fn sentence(found: &AgainstTarget) -> String {
    let gap = trees(found.value - found.target);
    let side = if found.value < found.target { "below" } else { "above" };
    let rate = percent(found.value);
    if found.p > DECIDES {
        let lead =
            format!("Not shown to differ from {}: {rate} alive is {gap} trees per 100 {side}", percent(found.target));
        let heeded = if found.season_unknown { "batches and weeks" } else { "batches, weeks and seasons" };
        return fitted(&lead, &[format!(", no more than {heeded} make")]);
    }
    let lead = format!("{rate} alive is {gap} trees per 100 {side} {}", percent(found.target));
    let tail = if found.season_unknown {
        ", unless seasons differ by so much, which is unknown"
    } else {
        ", more than batches, weeks and seasons make"
    };
    fitted(&lead, &[tail.to_owned()])
}

fn details(found: &AgainstTarget) -> Vec<String> {
    let mut lines = vec![format!("{} of {} plants in {}.", found.alive, found.started, batch_words(found.n_batches))];
    let seasons = found.z_of_seasons.map_or_else(String::new, |z| format!(", {:.1} if seasons do too", z.abs()));
    lines.push(format!(
        "The gap in standard errors: {:.1} if only plants differed, {:.1} if batches do too, {:.1} if weeks do too{seasons}.",
        found.z_of_plants.abs(),
        found.z_of_batches.abs(),
        found.z_of_weeks.abs()
    ));
    lines.push(if found.season_unknown {
        format!("{} without seasons: how they differ is not known, and would make P larger.", p_value(found.p))
    } else {
        format!("{}, heeding how batches, weeks and seasons differ.", p_value(found.p))
    });
    lines
}

fn table(found: &AgainstTarget) -> Sheet {
    let mut sheet = Sheet::default();
    sheet.whole("batches", [found.n_batches]).whole("started", [found.started]).whole("alive", [found.alive]);
    sheet.rate("value", [found.value]).headed("rate");
    sheet.rate("target", [found.target]).difference("difference", [found.value - found.target]);
    sheet.p("p", [found.p]);
    sheet
}
