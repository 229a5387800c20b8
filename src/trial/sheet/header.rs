//! Where the column names stand: a title, blank lines or remarks may stand above them.

/// Rows looked at from the top.
const LOOKED_AT: usize = 100;

/// The line that holds the names: the first that has all the wanted ones; else the one with most of them; else the first that
/// looks like names, with text in two cells or more and no number.
#[must_use]
pub fn find_header<S: AsRef<str>>(lines: &[Vec<S>], wanted: &[&str]) -> Option<usize> {
    let hits =
        |line: &Vec<S>| wanted.iter().filter(|name| line.iter().any(|cell| cell.as_ref().trim() == **name)).count();
    let counted: Vec<usize> = lines.iter().take(LOOKED_AT).map(hits).collect();
    let most = counted.iter().copied().max().filter(|most| *most > 0);
    if let Some(most) = most {
        return counted.iter().position(|count| *count == most);
    }
    let filled = |line: &Vec<S>| line.iter().filter(|cell| !cell.as_ref().trim().is_empty()).count();
    let number = |cell: &S| cell.as_ref().trim().replace(',', ".").parse::<f64>().is_ok();
    let names = |line: &Vec<S>| filled(line) >= 2 && !line.iter().any(number);
    let lines = || lines.iter().take(LOOKED_AT);
    lines().position(names).or_else(|| lines().position(|line| filled(line) > 0))
}
