//! Where a change of the overall yield comes from, step by step.

use serde::{Deserialize, Serialize};

use super::split::{SplitMethod, split};
use crate::answer::{Answer, MadeWith, Note, Sheet};
use crate::error::{Result, StepsError};
use crate::report::references_steps::{ANG_2004, SHAPLEY_1953};
use crate::report::{fitted, join, percent, points};

/// A change of the overall yield, later minus earlier; the parts of the steps add up to it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct YieldChange {
    /// Overall yield earlier.
    pub before: f64,
    /// Overall yield later.
    pub after: f64,
    /// Later minus earlier.
    pub value: f64,
    /// How it was split.
    pub method: SplitMethod,
    /// Each step in the order of the chain.
    pub steps: Vec<StepPart>,
}

/// One step's part of a change.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct StepPart {
    /// The step.
    pub step: String,
    /// Its take earlier.
    pub before: f64,
    /// Its take later.
    pub after: f64,
    /// What it adds to the overall yield.
    pub value: f64,
}

/// Splits the change of an overall yield over its steps. Each step has a name and its take: of those that reached the step, the share
/// that passed it. The steps of both are the same; their order is that of the first.
///
/// The takes count as they stand: nothing is said of how sure a change is.
///
/// # Errors
/// [`StepsError`] without a step, for steps of one name, for a take that is no proportion and where the two have different steps.
///
/// # References
/// Ang 2004; where a take is 0, Shapley 1953.
///
/// ```
/// use rootling::steps::yield_change;
/// let of = |takes: [f64; 3]| ["nurse graft", "dark", "rooted"].map(str::to_owned).into_iter().zip(takes).collect::<Vec<_>>();
/// let found = yield_change(&of([0.8, 0.6, 0.9]), &of([0.8, 0.5, 0.88]))?;
/// assert_eq!(found.sentence, "8.0 fewer of 100 started reach the end: dark accounts for 7.1 fewer, rooted for 0.9 fewer.");
/// # Ok::<(), rootling::Error>(())
/// ```
pub fn yield_change(before: &[(String, f64)], after: &[(String, f64)]) -> Result<Answer<YieldChange>> {
    for takes in [before, after] {
        checked(takes)?;
    }
    let names = |takes: &[(String, f64)]| takes.iter().map(|(name, _)| name.clone()).collect::<Vec<_>>();
    let later: Vec<f64> = before
        .iter()
        .filter_map(|(name, _)| after.iter().find(|(other, _)| other == name).map(|(_, take)| *take))
        .collect();
    if later.len() != before.len() || after.len() != before.len() {
        return Err(StepsError::UnlikeSteps { first: names(before).join(", "), second: names(after).join(", ") }.into());
    }
    let earlier: Vec<f64> = before.iter().map(|(_, take)| *take).collect();
    let parts = split(&earlier, &later);
    let (one, two): (f64, f64) = (earlier.iter().product(), later.iter().product());
    let steps = before.iter().zip(&later).zip(&parts.parts);
    let steps = steps.map(|(((name, before), after), value)| StepPart {
        step: name.clone(),
        before: *before,
        after: *after,
        value: *value,
    });
    let found = YieldChange { before: one, after: two, value: two - one, method: parts.method, steps: steps.collect() };
    Ok(answer(found))
}

fn checked(takes: &[(String, f64)]) -> Result<()> {
    if takes.is_empty() {
        return Err(StepsError::NoSteps.into());
    }
    for (at, (name, take)) in takes.iter().enumerate() {
        if !(0.0..=1.0).contains(take) {
            return Err(StepsError::TakeOutOfRange { step: name.clone(), take: *take }.into());
        }
        if takes.iter().take(at).any(|(other, _)| other == name) {
            return Err(StepsError::StepTwice { step: name.clone() }.into());
        }
    }
    Ok(())
}

fn way(value: f64) -> &'static str {
    if value < 0.0 { "fewer" } else { "more" }
}

/// Changes that round to nothing.
const NOTHING: f64 = 0.0005;

fn sentence(found: &YieldChange) -> String {
    let mut ordered: Vec<&StepPart> = found.steps.iter().filter(|part| part.value.abs() >= NOTHING).collect();
    ordered.sort_by(|a, b| b.value.abs().total_cmp(&a.value.abs()));
    let said = |part: &StepPart| format!("{} {}", points(part.value.abs()), way(part.value));
    let whole = if found.value.abs() < NOTHING {
        format!("{} of 100 started reach the end, now as before", points(found.after))
    } else {
        format!("{} {} of 100 started reach the end", points(found.value.abs()), way(found.value))
    };
    let Some((first, others)) = ordered.split_first() else { return format!("{whole}.") };
    let lead = format!("{whole}: {} accounts for {}", first.step, said(first));
    let tails: Vec<String> = others.iter().map(|part| format!(", {} for {}", part.step, said(part))).collect();
    fitted(&lead, &tails)
}

fn details(found: &YieldChange) -> Vec<String> {
    let mut lines = vec![format!(
        "Overall yield: {} later against {} earlier ({} points).",
        percent(found.after),
        percent(found.before),
        points(found.value)
    )];
    let told = |part: &StepPart| {
        let (before, after) = (percent(part.before), percent(part.after));
        format!("{}: take {after} against {before}, {} points of the overall yield.", part.step, points(part.value))
    };
    lines.extend(found.steps.iter().map(told));
    lines.push("The parts of the steps add up to the whole change.".to_owned());
    lines
}

fn answer(found: YieldChange) -> Answer<YieldChange> {
    let rows = &found.steps;
    let mut table = Sheet::default();
    table.text("step", rows.iter().map(|part| part.step.clone()));
    table.rate("before", rows.iter().map(|part| part.before)).headed("take earlier");
    table.rate("after", rows.iter().map(|part| part.after)).headed("take later");
    table.difference("value", rows.iter().map(|part| part.value)).headed("part of the change");
    let (how, references) = match found.method {
        SplitMethod::LogarithmicMean => {
            ("in proportion to the logarithms of the ratios of the takes, by logarithmic means", vec![ANG_2004])
        }
        SplitMethod::AllOrders => {
            ("by the mean over all orders in which the takes can change, since a take was 0", vec![SHAPLEY_1953])
        }
    };
    let notes = vec![Note::new(
        "takes_as_given",
        "Takes count as they stand. How much batches and trays differ by chance is not in them, so a small change may be nothing.",
    )];
    let names: Vec<&str> = rows.iter().map(|part| part.step.as_str()).collect();
    Answer {
        kind: "yield_change".to_owned(),
        sentence: sentence(&found),
        details: details(&found),
        notes,
        methods: format!("The change of the overall yield was split over its steps ({}) {how}.", join(&names)),
        references: references.into_iter().map(str::to_owned).collect(),
        made_with: MadeWith::new(&[("steps", names.join(", "))]),
        table,
        numbers: found,
    }
}
