//! Declarations of responses that cannot be, all together: units, scales, means, and a primary response that is none.

use crate::error::{ChoiceError, Issue};
use crate::trial::responses::{Response, ResponseKind};
use crate::trial::roles::LoadOptions;

/// The grades of the longest scale.
const MOST_GRADES: i64 = 20;

/// What is wrong with the responses as declared.
pub(in crate::trial) fn misnamed(options: &LoadOptions) -> Vec<Issue> {
    let mut issues: Vec<Issue> = options.responses.iter().filter_map(|one| undeclared(one, options)).collect();
    issues.extend(options.responses.first().filter(|_| options.wide.is_some()).map(|one| {
        let reason = "a sheet with one column per level has no place for responses";
        Issue::of_input("responses_in_wide", reason, "give one row per tray or per cutting").in_column(&one.column)
    }));
    if let Some(primary) = options.primary.as_deref().filter(|name| *name != "take") {
        let known: Vec<&str> =
            std::iter::once("take").chain(options.responses.iter().map(|one| one.column.as_str())).collect();
        if !known.contains(&primary) {
            let wrong = ChoiceError::new("response", primary, &known);
            let paste = format!("primary={:?}", wrong.nearest.as_deref().unwrap_or("take"));
            let reason = format!("primary= names {primary:?}, which is no response that was declared");
            let hint = format!("it can be {}", known.join(", "));
            issues.push(Issue::of_input("unknown_primary", reason, hint).pasted(&paste));
        }
    }
    issues
}

fn undeclared(one: &Response, options: &LoadOptions) -> Option<Issue> {
    let name = &one.column;
    let issue = |code: &str, reason: &str, hint: String| Some(Issue::of_input(code, reason, hint).in_column(name));
    let per_tray = options.stuck.is_some() || options.stuck_each.is_some() || options.rooted_percent.is_some();
    match (one.kind, one.unit, one.lowest.zip(one.highest)) {
        (ResponseKind::Length, unit, _) if unit.is_none_or(|unit| unit.kind() != one.kind) => {
            let hint = format!("write responses={{{name:?}: rl.responses.length(\"cm\")}} with its unit");
            return issue("response_without_unit", "a length is in mm, cm or m", hint);
        }
        (ResponseKind::Mass, unit, _) if unit.is_none_or(|unit| unit.kind() != one.kind) => {
            let hint = format!("write responses={{{name:?}: rl.responses.mass(\"g\")}} with its unit");
            return issue("response_without_unit", "a mass is in mg, g or kg", hint);
        }
        (ResponseKind::Grade, _, scale)
            if scale.is_none_or(|(low, high)| low < 0 || high <= low || high - low >= MOST_GRADES) =>
        {
            let hint = format!("write responses={{{name:?}: rl.responses.grade(0, 5)}} with its lowest and highest");
            return issue(
                "grade_without_scale",
                "a scale of grades runs from 0 or more upwards, 20 grades at most",
                hint,
            );
        }
        (ResponseKind::Grade, ..) if one.means_of.is_some() || per_tray => {
            let hint = "give one row per cutting, or rows of trays and grades with times=".to_owned();
            return issue("mean_of_grades", "grades have an order and no mean", hint);
        }
        _ => {}
    }
    match (&one.means_of, per_tray) {
        (None, true) => {
            let hint = "say which column holds how many cuttings each mean is of, means_of=\"rooted\" where all that rooted were measured, or give one row per cutting".to_owned();
            issue("means_without_number", "each row is a tray, so an entry is a mean of cuttings", hint)
        }
        (Some(_), false) => {
            let hint = "leave means_of= out, or name the number stuck with stuck=".to_owned();
            issue("means_of_cuttings", "each row is a cutting, so no entry is a mean", hint)
        }
        _ => None,
    }
}
