//! Where the column names stand: a title, blank lines or remarks may stand above them.

use super::grid::Lines;
use crate::error::Issue;
use crate::error::shown;

/// Rows looked at from the top.
const LOOKED_AT: usize = 100;

/// The line that holds the names: the first that has all the wanted ones; else the one with most of them; else the first that
/// looks like names, with text in two cells or more and no number. Wanted names that are numbers, as levels of a wide sheet can be, stand
/// in rows of counts too: they count beside another name, or all together.
#[must_use]
pub(crate) fn find_header<S: AsRef<str>>(lines: &[Vec<S>], wanted: &[&str]) -> Option<usize> {
    let counted: Vec<usize> = lines.iter().take(LOOKED_AT).map(|line| hits(line, wanted)).collect();
    let most = counted.iter().copied().max().filter(|most| *most > 0);
    if let Some(most) = most {
        return counted.iter().position(|count| *count == most);
    }
    let filled = |line: &Vec<S>| line.iter().filter(|cell| !cell.as_ref().trim().is_empty()).count();
    let names = |line: &Vec<S>| filled(line) >= 2 && !line.iter().any(|cell| is_number(cell.as_ref()));
    let lines = || lines.iter().take(LOOKED_AT);
    lines().position(names).or_else(|| lines().position(|line| filled(line) > 0))
}

/// How many of the wanted names a line holds.
fn hits<S: AsRef<str>>(line: &[S], wanted: &[&str]) -> usize {
    let holds = |name: &&&str| line.iter().any(|cell| cell.as_ref().trim() == **name);
    let (numbers, names): (Vec<&&str>, Vec<&&str>) = wanted.iter().partition(|name| is_number(name));
    let named = names.into_iter().filter(holds).count();
    let all = numbers.len();
    let numbered = numbers.into_iter().filter(holds).count();
    if named > 0 || numbered == all { named + numbered } else { 0 }
}

fn is_number(text: &str) -> bool {
    text.trim().replace(',', ".").parse::<f64>().is_ok()
}

/// The line of names and where it is: that of `header_row`, if it holds any wanted name or no other line does.
///
/// # Errors
/// No such line, an empty one, or one that holds none of the names while another does.
pub(super) fn header_of(lines: &Lines, wanted: &[&str], header_row: Option<u64>) -> Result<usize, Vec<Issue>> {
    let found = find_header(&lines.cells, wanted);
    let best = found.and_then(|at| lines.numbers.get(at));
    let paste = format!("header_row={}", best.copied().unwrap_or(1));
    let at = match header_row {
        Some(row) => lines.numbers.iter().position(|number| *number == row),
        None => found,
    };
    let Some((at, line)) = at.and_then(|at| Some((at, lines.cells.get(at)?))) else {
        let hint = "give a sheet with a row of column names and one row per tray or cutting below it";
        return Err(vec![Issue::of_input("no_header", "there is no row of column names", hint).pasted(&paste)]);
    };
    let Some(row) = header_row.filter(|_| hits(line, wanted) == 0) else { return Ok(at) };
    let held = |line: &Vec<String>| -> Vec<String> {
        line.iter().map(|cell| cell.trim().to_owned()).filter(|cell| !cell.is_empty()).collect()
    };
    let own = held(line);
    let other = found.and_then(|at| lines.cells.get(at)).filter(|other| hits(other, wanted) > 0);
    if own.is_empty() || other.is_some() {
        let what = if own.is_empty() { "is empty".to_owned() } else { format!("holds {}", shown::names(&own)) };
        let reason = format!("the row named as the one of the column names {what}");
        let with = |hint: String| Issue::of_input("wrong_header_row", reason.clone(), hint).at_row(row);
        return Err(vec![match (other, best) {
            (Some(other), Some(best)) => {
                with(format!("row {best} holds {}: {paste}", shown::names(&held(other)))).pasted(&paste)
            }
            _ => with("count its row as the spreadsheet does, or leave header_row= out".to_owned()),
        }]);
    }
    Ok(at)
}
