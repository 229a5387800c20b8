//! A rate against a target, in words.

use serde::{Deserialize, Serialize};

use super::phrases::{DECIDES, baseline_notes, batches as batch_words, trees};
use crate::answer::{Answer, MadeWith, Sheet};
use crate::error::{CountError, Result, WatchError};
use crate::report::references::SATTERTHWAITE_1946;
use crate::report::{fitted, p_value, percent};
use crate::watch::against::{AgainstTarget, Aim, against, against_last_season};
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
    /// Whether a rate differs from a target, or from what last season gave, by more than batches, weeks and seasons make it anyway.
    ///
    /// # Errors
    /// A target not between 0 and 1; no batch read in the stretch, or none of an earlier season.
    ///
    /// ```
    /// use rootling::control::Control;
    /// use rootling::watch::{Aim, BaselineOptions, TargetOptions, Watch, WeeklyDesign};
    /// let design = WeeklyDesign { seasons: 3, ..WeeklyDesign::default() };
    /// let watch = Watch::new(design.draw(1, 0), design.groupings());
    /// let baseline = watch.baseline(&BaselineOptions::default(), &Control::new())?;
    /// let found = watch.target(0.88, &baseline, &TargetOptions::default())?.numbers;
    /// let last = watch.target(Aim::LastSeason, &baseline, &TargetOptions::default())?.numbers;
    /// assert!(found.last_season.is_none() && last.last_season.is_some());
    /// # Ok::<(), rootling::Error>(())
    /// ```
    pub fn target(
        &self,
        target: impl Into<Aim>,
        baseline: &Baseline,
        options: &TargetOptions,
    ) -> Result<Answer<AgainstTarget>> {
        baseline.check_crop(self.groupings(), self.reading_age())?;
        let since = options.since.unwrap_or(baseline.days.1 + 1);
        let within = |batch: &&Batch| batch.read >= since && options.until.is_none_or(|until| batch.read <= until);
        let batches: Vec<&Batch> = self.batches().iter().filter(within).collect();
        let nothing = |side: &'static str| WatchError::NothingRead { side, day: shown_day(since) };
        let aim = target.into();
        let found = match aim {
            Aim::Rate(target) if !(target > 0.0 && target < 1.0) => {
                return Err(CountError::Target { value: target }.into());
            }
            _ if batches.is_empty() => return Err(nothing("from").into()),
            Aim::Rate(target) => {
                against(&batches, self.groupings(), baseline, target).ok_or_else(|| nothing("from"))?
            }
            Aim::LastSeason => against_last_season(&batches, self.batches(), self.groupings(), baseline)
                .ok_or_else(|| nothing("before"))?,
        };
        let target = match aim {
            Aim::Rate(target) => target.to_string(),
            Aim::LastSeason => "last-season".to_owned(),
        };
        let mut made_with = MadeWith::new(&[("target", target), ("since", shown_day(since))]);
        made_with.data_fingerprint = Some(self.fingerprint().to_owned());
        let made_with = made_with.resting_on("batch_correlation", baseline.spreads.batch);
        Ok(Answer {
            kind: "target_watched".to_owned(),
            table: table(&found),
            sentence: sentence(&found),
            details: details(&found),
            notes: baseline_notes(baseline),
            methods: format!(
                "The rate was set against {} by t. Its variance is what batches (correlation {:.3}), set weeks and, where known, seasons add. Degrees of freedom are Satterthwaite's, those of seasons being their number less one.",
                aim_words(&found),
                baseline.spreads.batch
            ),
            references: vec![SATTERTHWAITE_1946.to_owned()],
            made_with,
            numbers: found,
        })
    }
}

/// What the rate is set against.
fn aim_words(found: &AgainstTarget) -> String {
    let target = percent(found.target);
    if found.last_season.is_some() { format!("last season's {target}") } else { target }
}

fn sentence(found: &AgainstTarget) -> String {
    let gap = trees(found.value - found.target);
    let side = if found.value < found.target { "below" } else { "above" };
    let rate = percent(found.value);
    if found.p > DECIDES {
        let lead = format!("Not shown to differ from {}: {rate} alive is {gap} trees per 100 {side}", aim_words(found));
        let heeded = if found.season_unknown { "batches and weeks" } else { "batches, weeks and seasons" };
        return fitted(&lead, &[format!(", no more than {heeded} make")]);
    }
    let lead = format!("{rate} alive is {gap} trees per 100 {side} {}", aim_words(found));
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
    if let Some(raw) = found.last_season {
        lines.push(format!(
            "Last season gave {} at this time of year; with this season's mix that is {}.",
            percent(raw),
            percent(found.target)
        ));
    }
    lines.push(if found.season_unknown {
        format!("{} without seasons: how they differ is not known, and would make P larger.", p_value(found.p))
    } else {
        format!(
            "{}, heeding how batches, weeks and seasons differ; how seasons differ is known from {} of them ({} degrees of freedom in all).",
            p_value(found.p),
            found.n_seasons,
            if found.df < 100.0 { format!("{:.0}", found.df) } else { "more than 100".to_owned() }
        )
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
