//! What options name that no column is: numbers of rows and codes of questions. An unknown one would change nothing, without a word.

use crate::error::{ChoiceError, Issue, Severity, shown};
use crate::trial::roles::LoadOptions;

/// The questions that `checked=` answers of a trial.
pub(super) const QUESTIONS: [&str; 12] = [
    "absent_levels",
    "dates_as_levels",
    "mean_row",
    "one_level",
    "percent_as_counts",
    "restarted_blocks",
    "restarted_stock_plants",
    "restarted_whole_plots",
    "sum_row",
    "thousands_or_decimals",
    "total_row",
    "unmeasured",
];

/// The first code of `checked=` that is none of the questions.
pub(crate) fn unknown_question(checked: &[String], questions: &[&str]) -> Option<ChoiceError> {
    let unknown = checked.iter().find(|code| !questions.contains(&code.as_str()))?;
    Some(ChoiceError::new("question in checked=", unknown, questions))
}

/// Numbers in `leave_out=` that no row of the table has, whose rows run from `first` to `last`.
pub(crate) fn unknown_rows(leave_out: &[u64], first: u64, last: u64) -> Option<Issue> {
    let unknown = leave_out.iter().filter(|number| !(first..=last).contains(number));
    let names: Vec<String> = unknown.map(u64::to_string).collect();
    if names.is_empty() || last < first {
        return None;
    }
    let (row, verb) = if names.len() == 1 { ("row", "is") } else { ("rows", "are") };
    let reason = format!("leave_out= names {row} {}, which {verb} not in the table", shown::names(&names));
    let hint = if first > 1 {
        format!("its rows are {first} to {last}, as a spreadsheet numbers them; correct the number")
    } else {
        format!("its rows are {first} to {last}; correct the number")
    };
    Some(Issue::of_input("unknown_row", reason, hint))
}

/// A declared order that names a level twice, or levels that do not occur.
pub(super) fn odd_order(options: &LoadOptions, (name, levels): (&str, &[String]), order: &[String]) -> Option<Issue> {
    let mut kept: Vec<&String> = Vec::new();
    let mut twice = None;
    for level in order {
        if kept.contains(&level) {
            twice = Some(level);
        } else if levels.contains(level) {
            kept.push(level);
        }
    }
    let known: Vec<String> = kept.iter().map(|level| format!("{level:?}")).collect();
    let paste = format!("level_order={{{name:?}: [{}]}}", known.join(", "));
    if let Some(level) = twice {
        let reason = format!("level {level:?} stands twice in level_order=");
        let issue = Issue::of_input("level_with_two_places", reason, "give each level one place");
        return Some(issue.with_value(level.as_str()).pasted(&paste));
    }
    let absent = order.iter().find(|level| !levels.contains(level) && !options.has_checked("absent_levels"))?;
    // A level without a place is told of by itself; both together would be one slip told twice.
    if levels.iter().any(|level| !order.contains(level)) {
        return None;
    }
    let reason = format!("level {absent:?} of level_order= does not occur");
    let hint = format!(
        "the levels are {}; leave it out, or say with checked=[\"absent_levels\"] that it was not tried",
        shown::names(levels)
    );
    let issue = Issue::of_input("absent_levels", reason, hint).with_value(absent.as_str()).pasted(&paste);
    Some(issue.graded(Severity::Question))
}

/// Letters of the longest level that can be asked for.
const LONGEST_LEVEL: usize = 1000;

/// A level that is too long to be asked for by its name.
pub(super) fn too_long(name: &str, levels: &[String]) -> Option<Issue> {
    let long = levels.iter().find(|level| level.chars().count() > LONGEST_LEVEL)?;
    let reason =
        format!("a level has {} letters, more than the {LONGEST_LEVEL} that can be asked for", long.chars().count());
    let issue = Issue::of_input("long_level", reason, "give it a shorter name").in_column(name);
    Some(issue.with_value(long.as_str()))
}
