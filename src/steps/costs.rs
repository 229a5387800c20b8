//! Costs as they are given: for each started plant and for each plant that comes to a step.

use serde::{Deserialize, Serialize};

use crate::error::{ChoiceError, Result, StepsError};
use crate::report::{join, number, points};

/// What is spent on each plant that is started, or on each that comes to a step, whether it passes it or not.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct StepCost {
    /// The column of the step, or that of what was started.
    pub step: String,
    /// Cost of each plant.
    pub cost: f64,
}

/// Costs as a record of how an answer was made holds them; None where none are given.
pub(super) fn as_option(costs: &[StepCost]) -> Option<(&'static str, String)> {
    let each: Vec<String> = costs.iter().map(|one| format!("{} {}", one.step, one.cost)).collect();
    (!each.is_empty()).then(|| ("costs", each.join(", ")))
}

/// What costs come to for 100 plants at the start: each with the plants that it was multiplied with. `shares` are those of all started that come to
/// the columns.
pub(super) fn told(costs: &[StepCost], columns: &[String], shares: &[f64]) -> Option<String> {
    let start = columns.first()?;
    let one = |cost: &StepCost| {
        let at = columns.iter().position(|column| *column == cost.step)?;
        // The start and the first step have all that are started.
        let share = shares.get(at.saturating_sub(1)).copied().filter(|_| at > 1).unwrap_or(1.0);
        let name = cost.step.replace('_', " ");
        let spent = number(100.0 * share * cost.cost);
        Some(if at == 0 {
            format!("{spent} on {name} ({} each)", number(cost.cost))
        } else {
            format!(
                "{spent} on {name} ({} for each of {} that come to it, passed or not)",
                number(cost.cost),
                points(share)
            )
        })
    };
    let each: Option<Vec<String>> = costs.iter().map(one).collect();
    let each = each.filter(|each| !each.is_empty())?;
    Some(format!("Spent on 100 {}: {}.", start.replace('_', " "), join(&each)))
}

/// Costs by column; 0 where none is given. None where there are none at all.
pub(super) fn by_column(costs: &[StepCost], columns: &[String]) -> Result<Option<Vec<f64>>> {
    for one in costs {
        if !columns.contains(&one.step) {
            let names: Vec<&str> = columns.iter().map(String::as_str).collect();
            return Err(ChoiceError::new("step of costs=", &one.step, &names).into());
        }
        if !(one.cost >= 0.0 && one.cost.is_finite()) {
            return Err(StepsError::NoSuchStart { name: "cost", value: one.cost, wanted: "0 or more" }.into());
        }
    }
    let of = |column: &String| costs.iter().filter(|one| one.step == *column).map(|one| one.cost).sum();
    Ok((!costs.is_empty()).then(|| columns.iter().map(of).collect()))
}
