//! Costs as they are given: for each started plant and for each plant that comes to a step.

use serde::{Deserialize, Serialize};

use crate::error::{ChoiceError, Result, StepsError};

/// What is spent on each plant that comes to a step, or on each that is started.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct StepCost {
    /// The column of the step, or that of what was started.
    pub step: String,
    /// Cost of each plant.
    pub cost: f64,
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
