//! All levels of a column side by side, in words.

use super::levels::by_level;
use super::numbers::{CompareYieldsOptions, LevelPair, LevelStep, LevelYield, YieldsByLevel};
use super::pair_told::range;
use super::shared;
use crate::answer::{Answer, MadeWith, Note, Sheet};
use crate::error::Result;
use crate::report::references::{BELL_MCCAFFREY_2002, DUNN_1961, KORN_GRAUBARD_1998, WILSON_1927};
use crate::report::{capital, fitted, join, percent, points, whole};
use crate::steps::held::Steps;
use crate::steps::yields::YieldOf;

impl Steps {
    /// All levels of a column side by side: yield and takes of each with limits, and at each step the gap to the best level.
    ///
    /// Levels with fewer than two batches are left out and named. A level is said to bring most only where the limits of every two levels, which
    /// hold together, leave the others behind it.
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
    /// // Four batches cannot show it.
    /// assert_eq!(found.may_be_best, ["1", "2"]);
    /// # Ok::<(), rootling::Error>(())
    /// ```
    ///
    /// # References
    /// Dunn 1961.
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
            notes: notes(&found, self.level_columns().len()).into_iter().chain(shared::told(self, column)).collect(),
            methods: "Takes and yields of each level are ratios over its batches, which are the units. Limits are Wilson's on effective plants with t, corrected for the share of each batch. Limits of the difference of every two levels hold together (Dunn 1961). The gap at a step is the best level's take less the level's own.".to_owned(),
            references: [WILSON_1927, KORN_GRAUBARD_1998, BELL_MCCAFFREY_2002, DUNN_1961].map(str::to_owned).to_vec(),
            table: table(&found),
            made_with,
            numbers: found,
        }))
    }
}

/// Gaps from which on they are told; smaller ones show as 0.0 points.
const TOLD: f64 = 0.0005;
/// Levels that a sentence names.
const NAMED: usize = 4;

fn sentence(found: &YieldsByLevel, end: &str) -> String {
    let start = found.start.replace('_', " ");
    let yield_of = |level: &String| found.levels.iter().find(|one| one.level == *level).map(|one| points(one.value));
    if found.may_be_best.len() == 1 {
        let next = found.levels.iter().filter(|one| one.level != found.best).max_by(|a, b| a.value.total_cmp(&b.value));
        let (Some(best), Some(next)) = (yield_of(&found.best), next) else { return String::new() };
        let lead = format!("{} {} brings most to {end}: {best} of 100 {start}", capital(&found.column), found.best);
        let less = found.pairs.iter().find_map(|pair| behind(pair, &found.best, &next.level));
        let tail = less.map(|(low, high)| format!("; the next, {}, {}", next.level, range(low, high)));
        return fitted(&lead, &tail.into_iter().collect::<Vec<_>>());
    }
    let names = found.levels.iter().map(|one| one.level.as_str());
    let less: Vec<&str> = names.filter(|level| !found.may_be_best.iter().any(|best| best == level)).collect();
    if less.is_empty() {
        let widest = found.pairs.iter().map(|pair| pair.high.max(-pair.low)).fold(0.0, f64::max);
        return format!(
            "No difference shown among {} of {}; differences of up to {} of 100 {start} cannot be ruled out.",
            whole(found.levels.len() as u64, "level", "levels"),
            found.column,
            points(widest)
        );
    }
    let may = if found.may_be_best.len() > NAMED {
        format!("{} of {}", found.may_be_best.len(), found.levels.len())
    } else {
        join(&found.may_be_best)
    };
    let lead = format!(
        "It is open which {} brings most to {end}: {may} may, {} brings {} of 100 {start} here",
        found.column,
        found.best,
        yield_of(&found.best).unwrap_or_default()
    );
    fitted(&lead, &[format!("; less with {}", join(&less))])
}

/// Limits of how much more or less a level brings than the best, where these are the two.
fn behind(pair: &LevelPair, best: &str, level: &str) -> Option<(f64, f64)> {
    if pair.first == best && pair.second == level {
        return Some((pair.low, pair.high));
    }
    (pair.second == best && pair.first == level).then_some((-pair.high, -pair.low))
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
    let of_pair = |one: &LevelPair| {
        format!(
            "{} {} against {}: {} of 100 {}; limits of all pairs hold together.",
            capital(&found.column),
            one.second,
            one.first,
            range(one.low, one.high),
            found.start.replace('_', " ")
        )
    };
    let mut lines: Vec<String> = found.levels.iter().map(of_level).collect();
    lines.extend(found.pairs.iter().filter(|one| one.differs()).map(of_pair));
    lines.extend(found.steps.iter().filter(|one| one.gap >= TOLD).map(of_gap));
    if !found.left_out.is_empty() {
        lines.push(format!("Left out, with fewer than two batches to the end: {}.", found.left_out.join(", ")));
    }
    lines
}

fn notes(found: &YieldsByLevel, columns: usize) -> Vec<Note> {
    let mut notes = vec![Note::new(
        "best_of_several",
        format!(
            "The best take of {} at a step is partly so by chance, so gaps and gains are on the large side.",
            whole(found.levels.len() as u64, "level", "levels")
        ),
    )];
    if columns > 1 {
        let text = "What the levels differ in besides is in their yields too; compare two by themselves to see what is the mix.";
        notes.push(Note::new("mix_not_parted", text));
    }
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
