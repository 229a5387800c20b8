//! Columns and options that cannot be.

use super::options::{QUESTIONS, StepsOptions};
use crate::error::{ChoiceError, Error, Issue, RecordError, Result, StepsError};
use crate::trial::{Texts, unknown_column, unknown_question, unknown_rows};

fn stop(issues: Vec<Issue>) -> Result<()> {
    if issues.is_empty() { Ok(()) } else { Err(RecordError { issues }.into()) }
}

/// Checks options and the columns that they name, of which each table has some.
pub(super) fn check(texts: &Texts, plants: Option<&Texts>, options: &StepsOptions) -> Result<()> {
    if options.steps.len() < 2 {
        return Err(StepsError::OneStep.into());
    }
    let of_plants = options.last_step.is_some();
    let taken_away = !options.taken_away.is_empty() && plants.is_none();
    if of_plants && (options.batch.is_empty() || taken_away) || plants.is_some() && !of_plants {
        return Err(StepsError::PlantsOfNoBatch.into());
    }
    let roles = options.roles();
    stop(columns(texts, plants, options, &roles))?;
    stop(two_roles(&roles))?;
    known_steps(options)?;
    if let Some(unknown) = unknown_question(&options.checked, &QUESTIONS) {
        return Err(unknown.into());
    }
    let ends = texts.numbers().first().zip(texts.numbers().last());
    stop(ends.and_then(|(first, last)| unknown_rows(&options.leave_out, *first, *last)).into_iter().collect())
}

/// Columns that are in none of the tables that could have them.
fn columns(
    texts: &Texts,
    plants: Option<&Texts>,
    options: &StepsOptions,
    roles: &[(&'static str, &str)],
) -> Vec<Issue> {
    let own: &[String] = texts.names();
    let Some(plants) = plants.map(Texts::names) else {
        let unknown = roles.iter().filter_map(|(role, name)| unknown_column(role, name, own));
        return unknown.map(|issue| whole_option(issue, roles, options)).collect();
    };
    let both: Vec<String> = own.iter().chain(plants).cloned().collect();
    let mut found = Vec::new();
    for (role, name) in roles {
        let tables: &[&[String]] = match *role {
            "batch" => &[own, plants],
            "last_step" | "plant" | "left" | "times" => &[plants],
            "treatments" | "dates" => &[&both],
            _ => &[own],
        };
        found.extend(tables.iter().filter_map(|names| unknown_column(role, name, names)));
    }
    // Steps behind those that were counted have no column; where one is nearly that of a column which nobody named, that is a slip.
    let named = |name: &String| options.steps.contains(name) || roles.iter().any(|(_, column)| *column == name);
    let free: Vec<String> = own.iter().filter(|name| !named(name)).cloned().collect();
    found.extend(options.steps.first().and_then(|first| unknown_column("steps", first, own)));
    let behind = options.steps.iter().skip(1).filter(|step| !own.contains(step));
    found.extend(behind.filter_map(|step| unknown_column("steps", step, &free)).filter(|issue| issue.paste.is_some()));
    let steps = options.steps.iter().map(|step| ("steps", step.as_str()));
    let roles: Vec<(&'static str, &str)> = roles.iter().copied().chain(steps).collect();
    found.into_iter().map(|issue| whole_option(issue, &roles, options)).collect()
}

/// The issue of an unknown column with the whole option to write, where that names several columns.
fn whole_option(issue: Issue, roles: &[(&'static str, &str)], options: &StepsOptions) -> Issue {
    let Some(given) = issue.column.clone().filter(|_| issue.paste.is_some()) else { return issue };
    let Some((role, _)) = roles.iter().find(|(_, name)| *name == given) else { return issue };
    // The nearest column is what the option would answer with.
    let near = issue.paste.as_deref().and_then(|paste| paste.split_once('=')).map(|(_, near)| near.to_owned());
    let Some(near) = near else { return issue };
    let named = |name: &str| if name == given { near.clone() } else { format!("{name:?}") };
    let list = |names: &[String]| names.iter().map(|name| named(name)).collect::<Vec<_>>().join(", ");
    let pairs = |pairs: Vec<(String, String)>| {
        pairs.into_iter().map(|(key, value)| format!("{key}: {value}")).collect::<Vec<_>>().join(", ")
    };
    let paste = match *role {
        "steps" => format!("steps=[{}]", list(&options.steps)),
        "batch" => format!("batch=[{}]", list(&options.batch)),
        "states" => format!("states=[{}]", list(&options.states)),
        "levels" => format!("levels=[{}]", list(&options.levels)),
        "taken_away" => {
            let each = options.taken_away.iter().map(|one| (format!("{:?}", one.step), named(&one.column)));
            format!("taken_away={{{}}}", pairs(each.collect()))
        }
        "dates" => {
            let each = options.dates.iter().map(|one| (format!("{:?}", one.step), named(&one.column)));
            format!("dates={{{}}}", pairs(each.collect()))
        }
        "treatments" => {
            let each = options.treatments.iter().map(|one| (named(&one.column), format!("{:?}", one.step)));
            format!("treatments={{{}}}", pairs(each.collect()))
        }
        _ => return issue,
    };
    Issue { paste: Some(paste), ..issue }
}

/// Steps that are named beside the chain have to be of it.
fn known_steps(options: &StepsOptions) -> Result<()> {
    let away = options.taken_away.iter().map(|one| ("step of taken_away=", &one.step, false));
    let dates = options.dates.iter().map(|one| ("step of dates=", &one.step, true));
    let given = options.treatments.iter().map(|one| ("step of treatments=", &one.step, false));
    for (what, step, last) in away.chain(dates).chain(given) {
        let of_plants = last && options.last_step.as_ref() == Some(step);
        if !of_plants && !options.steps.contains(step) {
            let names: Vec<&str> = options.steps.iter().map(String::as_str).collect();
            return Err(ChoiceError::new(what, step, &names).into());
        }
    }
    Ok(())
}

fn two_roles(roles: &[(&'static str, &str)]) -> Vec<Issue> {
    let twice = roles.iter().enumerate().filter_map(|(at, (role, name))| {
        let (first, _) = roles.iter().take(at).find(|(_, earlier)| earlier == name)?;
        // A season or a cultivar can make the name of a batch together with others.
        if *first == "batch" && !["steps", "states", "taken_away", "dates", "parent"].contains(role) {
            return None;
        }
        let reason = format!("named both as {first} and as {role}");
        Some(Issue::of_input("column_in_two_roles", reason, "give each column one part").in_column(name))
    });
    twice.collect()
}

/// What is wrong with a table, told of a record of batches.
pub(super) fn of_batches(error: Error) -> Error {
    let Error::Data(data) = error else { return error };
    let own = |issue: Issue| Issue {
        hint: issue.hint.replace("one row per tray or cutting", "one row per batch or tray"),
        ..issue
    };
    RecordError { issues: data.issues.into_iter().map(own).collect() }.into()
}
