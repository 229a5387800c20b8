//! A cell that holds a number of plants.

/// Words for a cell in which nothing is written.
const MISSING: [&str; 6] = ["na", "n/a", "nan", "null", "none", "-"];

/// The largest batch.
const MOST: f64 = 1e6;

/// Why a cell is no number of plants: code, what is wrong, what to do.
pub(crate) type Unread = (&'static str, String, &'static str);

/// What is written in a cell; None where it is blank or says so.
pub(crate) fn filled(cell: &str) -> Option<&str> {
    let cell = cell.trim();
    let missing = cell.is_empty() || MISSING.iter().any(|word| cell.eq_ignore_ascii_case(word));
    (!missing).then_some(cell)
}

/// The number of plants in a cell.
pub(crate) fn plants(cell: &str) -> Result<u64, Unread> {
    if cell.is_empty() {
        return Err(("missing_count", "no number is written here".to_owned(), "write the number of plants"));
    }
    if cell.contains('%') {
        let hint = "write the number of plants alive, not a percentage";
        return Err(("percent_for_count", format!("{cell:?} is a percentage"), hint));
    }
    let value = cell.parse::<f64>().ok().filter(|value| value.is_finite());
    match value {
        Some(value) if value < 0.0 => {
            Err(("negative_count", format!("{cell} is below 0"), "a number of plants is 0 or more"))
        }
        Some(value) if value.fract() != 0.0 => {
            let hint = "write whole numbers of plants, not shares or percentages";
            Err(("not_whole", format!("{cell} is no whole number of plants"), hint))
        }
        Some(value) if value <= MOST => Ok(value as u64),
        Some(_) => Err(("too_many", format!("{cell} plants in one batch"), "correct the number")),
        None => Err(("no_number", format!("{cell:?} is no number"), "write a whole number of plants")),
    }
}
