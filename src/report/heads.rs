//! What a reader sees above the columns of a table.

use crate::answer::{Column, Scale, Scales};

/// A column's name for reading.
///
/// ```
/// use rootling::report::heading;
/// assert_eq!(["p", "low", "design_effect"].map(heading), ["P value", "from", "design effect"]);
/// ```
#[must_use]
pub fn heading(name: &str) -> String {
    match name {
        "p" => "P value",
        "low" => "from",
        "high" => "to",
        "n_units" => "trays",
        "n_cuttings" => "cuttings",
        "p_adjusted" => "adjusted P",
        "take_low" => "take from",
        "take_high" => "take to",
        "adequate" => "enough",
        "adequate_low" => "enough from",
        "adequate_high" => "enough to",
        "why" => "why not",
        "error_df" => "error df",
        _ => return name.replace('_', " "),
    }
    .to_owned()
}

/// Column names without twins: columns of the trial come first, and give way to the result's own.
///
/// ```
/// use rootling::report::own_names;
/// assert_eq!(own_names(&["level", "value", "level"]), ["level (your column)", "value", "level"]);
/// ```
#[must_use]
pub fn own_names<S: AsRef<str>>(names: &[S]) -> Vec<String> {
    let mut made: Vec<String> = Vec::with_capacity(names.len());
    for (at, name) in names.iter().enumerate() {
        let mut name = name.as_ref().to_owned();
        let later: Vec<&str> = names.iter().skip(at + 1).map(AsRef::as_ref).collect();
        while later.contains(&name.as_str()) || made.contains(&name) {
            name.push_str(" (your column)");
        }
        made.push(name);
    }
    made
}

/// The heads of all columns; those of strengths say in what unit they are.
pub(super) fn heads(columns: &[Column]) -> Vec<String> {
    let names: Vec<&str> = columns.iter().map(|column| column.name.as_str()).collect();
    let with_unit = |(name, column): (&String, &Column)| match &column.unit {
        Some(unit) => format!("{} ({unit})", head(name, column)),
        None => head(name, column),
    };
    own_names(&names).iter().zip(columns).map(with_unit).collect()
}

/// The head that a column was given; the user's own name of a treatment; else what its name says.
fn head(name: &str, column: &Column) -> String {
    match (&column.head, &column.scale) {
        (Some(head), _) => head.clone(),
        (None, Some(Scales::One(Scale::Level))) => name.replace('_', " "),
        (None, _) => heading(name),
    }
}
