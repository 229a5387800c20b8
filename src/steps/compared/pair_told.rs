//! Two levels side by side, in words.

use super::numbers::{CompareYieldsOptions, StepDifference, YieldComparison};
use super::pair::pair;
use super::shared;
use crate::answer::{Answer, MadeWith, Note, Sheet};
use crate::error::Result;
use crate::report::references::{BELL_MCCAFFREY_2002, DUNN_1961, KORN_GRAUBARD_1998, SATTERTHWAITE_1946, WILSON_1927};
use crate::report::references_curves::ZOU_DONNER_2008;
use crate::report::references_steps::{ANG_2004, SHAPLEY_1953};
use crate::report::references_watch::{DAS_GUPTA_1993, KITAGAWA_1955};
use crate::report::{capital, fitted, join, percent, points, whole};
use crate::steps::held::Steps;
use crate::steps::split::SplitMethod;
use crate::steps::yields::YieldOf;

impl Steps {
    /// Two levels of a column (seasons, rooms, grafters, cultivars, treatments) side by side: the difference of the yield and of each step
    /// with limits, the yield's difference split over steps, and into the mix of other levels and the yields of like batches. Differences
    /// are second minus first. A treatment of a later step is followed from that step to the end.
    ///
    /// Batches are the units. Limits of a difference are made of those of both rates; parts of steps move with all takes.
    ///
    /// # Errors
    /// [`StepsError`](crate::error::StepsError) for fewer than two batches of a level; a choice error for a column or a level that is not there.
    ///
    /// # References
    /// Zou and Donner 2008; Ang 2004; Kitagawa 1955; Das Gupta 1993.
    ///
    /// ```
    /// use rootling::steps::{CompareYieldsOptions, StepsOptions, read_csv};
    /// let text = b"batch,season,grafted,saleable\na,2024,50,20\nb,2024,50,26\nc,2024,60,28\nd,2025,50,35\ne,2025,50,31\nf,2025,60,40\n";
    /// let options = StepsOptions { season: Some("season".to_owned()), ..StepsOptions::columns(&["grafted", "saleable"]).with_batch(&["batch"]) };
    /// let found = read_csv(text, &options)?.compare("season", "2024", "2025", &CompareYieldsOptions::default())?.numbers;
    /// assert!((found.value - 32.0 / 160.0).abs() < 1e-12 && found.low > 0.0);
    /// # Ok::<(), rootling::Error>(())
    /// ```
    pub fn compare(
        &self,
        column: &str,
        first: &str,
        second: &str,
        options: &CompareYieldsOptions,
    ) -> Result<Answer<YieldComparison>> {
        let found = pair(self, column, (first, second), options)?;
        let mut made_with = MadeWith::new(&[
            ("column", column.to_owned()),
            ("whose", options.whose.name().to_owned()),
            ("confidence", options.confidence.to_string()),
        ]);
        made_with.data_fingerprint = Some(self.fingerprint().to_owned());
        let end = self.columns().last().map(|last| last.replace('_', " ")).unwrap_or_default();
        Ok(self.told(Answer {
            kind: "yield_comparison".to_owned(),
            sentence: sentence(&found, &end),
            details: details(&found, &end),
            notes: notes(&found).into_iter().chain(shared::told(self, column)).collect(),
            methods: methods(&found),
            references: references(&found),
            table: table(&found),
            made_with,
            numbers: found,
        }))
    }
}

pub(super) fn way(value: f64) -> &'static str {
    if value < 0.0 { "fewer" } else { "more" }
}

fn said(value: f64) -> String {
    format!("{} {}", points(value.abs()), way(value))
}

pub(super) fn range(low: f64, high: f64) -> String {
    if low < 0.0 && high > 0.0 {
        return format!("between {} fewer and {} more", points(-low), points(high));
    }
    let (near, far) = if high <= 0.0 { (-high, -low) } else { (low, high) };
    format!("{} to {} {}", points(near), points(far), way(low + high))
}

/// What a hundred plants at the start are called.
fn hundred(found: &YieldComparison) -> String {
    format!("of 100 {}", found.start.replace('_', " "))
}

/// The step that accounts for most of the difference.
fn leading(found: &YieldComparison) -> Option<&StepDifference> {
    let most = found.steps.iter().reduce(|most, one| if one.part.abs() > most.part.abs() { one } else { most });
    most.filter(|one| found.steps.len() > 1 && one.part.abs() >= 0.0005)
}

fn sentence(found: &YieldComparison, end: &str) -> String {
    let second = format!("{} {}", found.column, found.second);
    if found.low > 0.0 || found.high < 0.0 {
        let lead = format!(
            "{} brings {} {} to {end} than {} ({})",
            capital(&second),
            said(found.value),
            hundred(found),
            found.first,
            range(found.low, found.high)
        );
        let step = leading(found)
            .map(|one| format!("; {} accounts for {}", one.step.replace('_', " "), said(one.part)))
            .into_iter()
            .collect::<Vec<_>>();
        return fitted(&lead, &step);
    }
    // No step is made answerable for a difference that is not shown; one whose own take is shown to differ is named.
    let lead = format!(
        "No difference shown at the end: {second} against {} lies {} {}",
        found.first,
        range(found.low, found.high),
        hundred(found)
    );
    let apart = found.steps.iter().filter(|one| one.differs && found.steps.len() > 1);
    let most = apart.max_by(|a, b| a.value.abs().total_cmp(&b.value.abs()));
    let tail = most.map(|one| {
        let side = if one.value < 0.0 { "lower" } else { "higher" };
        format!("; the take of {} is {} points {side}", one.step.replace('_', " "), points(one.value.abs()))
    });
    fitted(&lead, &tail.into_iter().collect::<Vec<_>>())
}

fn details(found: &YieldComparison, end: &str) -> Vec<String> {
    let mut lines = vec![format!(
        "Of 100 {} {} come to {end} in {} {} ({}), {} in {} ({}); the difference is {}.",
        found.start.replace('_', " "),
        points(found.yield_second),
        found.column,
        found.second,
        whole(found.n_batches_second, "batch", "batches"),
        points(found.yield_first),
        found.first,
        if found.same_batches { "the same".to_owned() } else { whole(found.n_batches_first, "batch", "batches") },
        range(found.low, found.high)
    )];
    let line = |one: &StepDifference| {
        format!(
            "{}: take {} against {}, a difference of {} points ({} to {}){}; it accounts for {} ({} to {} points) of the difference at the end.",
            capital(&one.step.replace('_', " ")),
            percent(one.take_second),
            percent(one.take_first),
            points(one.value),
            points(one.low),
            points(one.high),
            if one.differs { ", shown also when all steps are judged together" } else { "" },
            said(one.part),
            points(one.part_low),
            points(one.part_high)
        )
    };
    lines.extend(found.steps.iter().map(line));
    if let Some((rates, overlap)) = found.rates.zip(found.overlap) {
        let limits = found.rates_low.zip(found.rates_high);
        let limits = limits.map_or_else(
            || ", without limits, since some mix has one batch only".to_owned(),
            |(low, high)| format!(" ({} to {} points)", points(low), points(high)),
        );
        lines.push(format!("Yields of like batches account for {}{limits}.", said(rates)));
        lines
            .extend(found.mix.iter().map(|one| format!("The mix of {} accounts for {}.", one.column, said(one.value))));
        if let Some(alone) = found.without_partner.filter(|alone| alone.abs() >= 0.0005) {
            lines.push(format!(
                "Batches whose like only one of the two has account for {}; {} of plants are in batches that both have.",
                said(alone),
                percent(overlap)
            ));
        }
    }
    lines
}

fn notes(found: &YieldComparison) -> Vec<Note> {
    let mut notes = vec![Note::new(
        "not_dealt_out",
        format!(
            "Unless {} was dealt out to batches by lot, what else differed between them is in the difference too.",
            found.column
        ),
    )];
    if found.whose == YieldOf::CurrentRates {
        notes.push(Note::new("current_rates", "At current rates no plant has met all of these steps."));
    }
    if found.n_batches_first.min(found.n_batches_second) < 6 {
        let few = whole(found.n_batches_first.min(found.n_batches_second), "batch", "batches");
        notes.push(Note::new(
            "few_batches",
            format!("One of the two has {few} only: how batches differ is poorly known, so limits are wide."),
        ));
    }
    notes
}

fn methods(found: &YieldComparison) -> String {
    let how = match found.method {
        SplitMethod::LogarithmicMean => "by logarithmic means",
        SplitMethod::AllOrders => "by the mean over all orders in which takes can change, since a take was 0",
    };
    let columns: Vec<&str> = found.mix.iter().map(|one| one.column.as_str()).collect();
    let mix = if columns.is_empty() {
        String::new()
    } else {
        format!(
            " The mix of {} was parted from the yields of like batches (Kitagawa, Das Gupta), averaged over all orders of change.",
            join(&columns)
        )
    };
    let blocks = if found.same_batches {
        " Each batch has plants of both, so batches are blocks: what the two sides of a batch share falls out of the difference."
    } else {
        ""
    };
    format!(
        "Takes and yields of {} {} and {} were compared with batches as units.{blocks} Limits of a difference combine the Wilson limits on effective plants of both, with t and Satterthwaite's degrees of freedom. Whether the takes of a step differ was judged for all steps together (Dunn 1961). The difference of the yields was split over steps {how}; parts have limits by linearisation with t.{mix}",
        found.column, found.first, found.second
    )
}

fn references(found: &YieldComparison) -> Vec<String> {
    let mut cited =
        vec![ZOU_DONNER_2008, WILSON_1927, KORN_GRAUBARD_1998, BELL_MCCAFFREY_2002, SATTERTHWAITE_1946, DUNN_1961];
    cited.push(match found.method {
        SplitMethod::LogarithmicMean => ANG_2004,
        SplitMethod::AllOrders => SHAPLEY_1953,
    });
    if found.rates.is_some() {
        cited.extend([KITAGAWA_1955, DAS_GUPTA_1993]);
    }
    cited.into_iter().map(str::to_owned).collect()
}

fn table(found: &YieldComparison) -> Sheet {
    let rows = &found.steps;
    let column = |of: fn(&StepDifference) -> f64, last: f64| rows.iter().map(of).chain([last]).collect::<Vec<_>>();
    let mut table = Sheet::default();
    table.text("step", rows.iter().map(|one| one.step.clone()).chain(["all steps".to_owned()]));
    table.rate("take_first", column(|one| one.take_first, found.yield_first)).headed(format!("take, {}", found.first));
    table
        .rate("take_second", column(|one| one.take_second, found.yield_second))
        .headed(format!("take, {}", found.second));
    table.difference("value", column(|one| one.value, found.value));
    table.difference("low", column(|one| one.low, found.low));
    table.difference("high", column(|one| one.high, found.high));
    table.difference("part", column(|one| one.part, found.value)).headed("part of the difference at the end");
    table
}
