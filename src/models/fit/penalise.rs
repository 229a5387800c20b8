//! A fit without a penalty, or with one where cells all rooted or none rooted let the likelihood rise without end.

use super::separation;
use crate::error::Result;
use crate::math::regression::Solution;
use crate::models::design::{Design, Fit};
use crate::models::enter::{Frame, ModelSpec, PerUnit};

pub(crate) fn fit_or_penalise(
    frame: &Frame,
    design: &Design,
    spec: &ModelSpec,
) -> Result<(Solution, bool, Vec<String>)> {
    let fit = |penalised| Fit { design, data: &frame.data, link: spec.link, penalised };
    let plain = fit(false).free();
    let separated = match &plain {
        Ok(solution) if solution.runaway.is_empty() && !spec.penalised => return Ok((plain?, false, Vec::new())),
        Ok(solution) => separation::cells(frame, &solution.runaway, spec.outcome),
        Err(_) if spec.penalised || at_an_edge(&frame.per_unit) => Vec::new(),
        Err(error) => return Err(error.clone()),
    };
    Ok((fit(true).free()?, true, separated))
}

fn at_an_edge(data: &PerUnit) -> bool {
    data.rooted.iter().zip(&data.stuck).any(|(y, m)| *y == 0.0 || y == m)
}
