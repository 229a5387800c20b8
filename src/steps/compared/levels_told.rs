//! All levels of a column side by side, in words.

use super::levels::by_level;
use super::numbers::{CompareYieldsOptions, LevelStep, LevelYield, YieldsByLevel};
use super::shared;
use crate::answer::{Answer, MadeWith, Note, Sheet};
use crate::error::Result;
use crate::report::references::{BELL_MCCAFFREY_2002, KORN_GRAUBARD_1998, WILSON_1927};
use crate::report::{capital, fitted, percent, points, whole};
use crate::steps::held::Steps;
use crate::steps::yields::YieldOf;

impl Steps {
    /// All levels of a column side by side: yield and takes of each with limits, and at each step the gap to the best level.
    ///
    /// Levels with fewer than two batches are left out and named.
    ///
    /// # Errors
    /// [`StepsError`](crate::error::StepsError) for fewer than two levels of two batches; a choice error for a column that is not there.
    ///
    /// ```
    /// use rootling::steps::{CompareYieldsOptions, StepsOptions, read_csv};
    /// let text = b"batch,room,grafted,taken,saleable\na,1,50,45,20\nb,1,50,44,26\nc,2,60,50,38\nd,2,50,42,35\n";
    /// let options = StepsOptions { room: Some("room".to_owned()), ..StepsOptions::columns(&["grafted", "taken", "saleable"]).with_batch(&["batch"]) };
    /// let found = read_csv(text, &options)?.compare_all("room", &CompareYieldsOptions::default())?.numbers;
    /// assert_eq!((found.best.as_str(), found.steps[0].best.as_str(), found.steps[2].best.as_str()), ("2", "1", "2"));
    /// # Ok::<(), rootling::Error>(())
    /// ```
    pub fn compare_all(&self, column: &str, options: &CompareYieldsOptions) -> Result<Answer<YieldsByLevel>> {
        let found = by_level(self, column, options)?;
        let mut made_with = MadeWith::new(&[
            ("column", column.to_owned()),
            ("whose", options.whose.name().to_owned()),
            ("confidence", options.confidence.to_string()),
        ]);
        made_with.data_fingerprint = Some(self.fingerprint().to_owned());
        let end = self.columns().last().map(|last| last.replace('_', " ")).unwrap_or_default();
        Ok(self.told(Answer {
            kind: "yields_by_level".to_owned(),
            sentence: sentence(&found, &end),
            details: details(&found, &end),
            notes: notes(&found).into_iter().chain(shared::told(self, column)).collect(),
            methods: "Takes and yields of each level are ratios over its batches, which are the units. Limits are Wilson's on effective plants with t, corrected for the share of each batch. The gap at a step is the best level's take less the level's own.".to_owned(),
            references: [WILSON_1927, KORN_GRAUBARD_1998, BELL_MCCAFFREY_2002].map(str::to_owned).to_vec(),
            table: table(&found),
            made_with,
            numbers: found,
        }))
    }
}

fn sentence(found: &YieldsByLevel, end: &str) -> String {
    let Some(best) = found.levels.iter().find(|one| one.level == found.best) else { return String::new() };
    let lead = format!(
        "{} {} brings most to {end}: {} of 100 {} ({} to {})",
        capital(&found.column),
        best.level,
        points(best.value),
        found.start.replace('_', " "),
        points(best.low),
        points(best.high)
    );
    let widest = found.steps.iter().reduce(|most, one| if one.gain > most.gain { one } else { most });
    let tail = widest.filter(|one| one.gain >= 0.0005).map(|one| {
        format!("; widest gap: {} at {}, {} more to gain", one.level, one.step.replace('_', " "), points(one.gain))
    });
    fitted(&lead, &tail.into_iter().collect::<Vec<_>>())
}

fn details(found: &YieldsByLevel, end: &str) -> Vec<String> {
    let of_level = |one: &LevelYield| {
        format!(
            "{} {}: {} of 100 come to {end} ({} to {}), from {} plants in {}.",
            capital(&found.column),
            one.level,
            points(one.value),
            points(one.low),
            points(one.high),
            one.n_started,
            whole(one.n_batches, "batch", "batches")
        )
    };
    let of_gap = |one: &LevelStep| {
        format!(
            "{} at {}: take {}, {} points below {} {}; with that take {} more of 100 would come to {end}.",
            capital(&format!("{} {}", found.column, one.level)),
            one.step.replace('_', " "),
            percent(one.take),
            points(one.gap),
            found.column,
            one.best,
            points(one.gain)
        )
    };
    let mut lines: Vec<String> = found.levels.iter().map(of_level).collect();
    lines.extend(found.steps.iter().filter(|one| one.gap > 0.0).map(of_gap));
    if !found.left_out.is_empty() {
        lines.push(format!("Left out, with fewer than two batches to the end: {}.", found.left_out.join(", ")));
    }
    lines
}

fn notes(found: &YieldsByLevel) -> Vec<Note> {
    let mut notes = vec![Note::new(
        "best_of_several",
        format!(
            "The best of {} is partly so by chance, so gaps are on the large side. Compare two by themselves before you act.",
            whole(found.levels.len() as u64, "level", "levels")
        ),
    )];
    if found.whose == YieldOf::CurrentRates {
        notes.push(Note::new("current_rates", "At current rates no plant has met all of these steps."));
    }
    if found.levels.iter().any(|one| one.n_batches < 6) {
        let text = "Some levels have fewer than six batches: how batches differ is poorly known, so limits are wide.";
        notes.push(Note::new("few_batches", text));
    }
    notes
}

fn table(found: &YieldsByLevel) -> Sheet {
    let mut table = Sheet::default();
    let names = || found.levels.iter();
    let steps = || found.steps.iter();
    table.text("level", names().map(|one| one.level.clone()).chain(steps().map(|one| one.level.clone())));
    table.text("step", names().map(|_| "all steps".to_owned()).chain(steps().map(|one| one.step.clone())));
    table.rate("value", names().map(|one| one.value).chain(steps().map(|one| one.take))).headed("take");
    table.rate("low", names().map(|one| one.low).chain(steps().map(|one| one.low)));
    table.rate("high", names().map(|one| one.high).chain(steps().map(|one| one.high)));
    let best = names().map(|one| one.value).fold(0.0, f64::max);
    let gaps = names().map(|one| best - one.value).chain(steps().map(|one| one.gap));
    table.size("gap", gaps.collect::<Vec<_>>()).headed("gap to the best");
    let gains = names().map(|one| best - one.value).chain(steps().map(|one| one.gain));
    table.size("gain", gains.collect::<Vec<_>>()).headed("gain at the end with the best take");
    table
}
