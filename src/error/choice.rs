//! Names that are not known, with the nearest that are.

use super::shown;

/// An unknown option, column or level.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{} {:?} is not known{}", shown::marked(.what), shown::name(.given), hint(.nearest.as_deref(), .known))]
pub struct ChoiceError {
    /// What kind of name it is: "interval method", "column", "level of strength".
    pub what: String,
    /// What was given.
    pub given: String,
    /// The nearest known name, if one is near.
    pub nearest: Option<String>,
    /// All known names.
    pub known: Vec<String>,
}

fn hint(nearest: Option<&str>, known: &[String]) -> String {
    let list = shown::names(known);
    match nearest {
        Some(name) => format!("; did you mean {:?}? Known: {list}", shown::name(name)),
        None if known.is_empty() => String::new(),
        None => format!("; known: {list}"),
    }
}

impl ChoiceError {
    /// Builds the error and finds the nearest known name.
    ///
    /// ```
    /// use rootling::error::ChoiceError;
    /// let known = ["bonferroni", "holm", "none"];
    /// assert_eq!(ChoiceError::new("adjustment", "bonf", &known).nearest.as_deref(), Some("bonferroni"));
    /// assert_eq!(ChoiceError::new("adjustment", "nome", &known).nearest, None);
    /// assert_eq!(ChoiceError::new("level of rootstock", "K17", &["K12", "K30"]).nearest, None);
    /// ```
    #[must_use]
    pub fn new<S: AsRef<str>>(what: &str, given: &str, known: &[S]) -> Self {
        let known: Vec<String> = known.iter().map(|name| name.as_ref().to_owned()).collect();
        Self { what: what.to_owned(), given: given.to_owned(), nearest: nearest(given, &known), known }
    }
}

/// The known name nearest to `given`: the one that begins with it, or one within an edit distance (letters changed, case ignored) of a
/// third of its length plus one while some letter stays. Codes that differ in their digits are no slips of each other. "none" is never suggested: it switches something off, and nobody types half of it.
#[must_use]
pub(crate) fn nearest(given: &str, known: &[String]) -> Option<String> {
    // A name of which every letter would have to change suggests nothing; an empty one has no letter to go by.
    let given = given.trim();
    let limit = (given.chars().count() / 3 + 1).min(given.chars().count().saturating_sub(1));
    let near = known
        .iter()
        .filter(|name| !name.eq_ignore_ascii_case("none"))
        .map(|name| (edit_distance(&given.to_lowercase(), &name.to_lowercase()), name))
        .filter(|(distance, name)| *distance <= limit && !given.is_empty() && !is_another_code(given, name))
        .min_by_key(|(distance, _)| *distance)
        .map(|(_, name)| name.clone());
    the_one_that_begins_with(given, known).or(near)
}

fn the_one_that_begins_with(given: &str, known: &[String]) -> Option<String> {
    if given.chars().count() < BEGINNING {
        return None;
    }
    let mut begun = known.iter().filter(|name| name.to_lowercase().starts_with(&given.to_lowercase()));
    begun.next().filter(|_| begun.next().is_none()).cloned()
}

/// True for two codes of letters and digits that differ in their digits, as K12 and K17 do: neither is a slip of the other.
fn is_another_code(given: &str, known: &str) -> bool {
    let part = |text: &str, digits: bool| -> String {
        let wanted = |letter: &char| letter.is_alphanumeric() && letter.is_ascii_digit() == digits;
        text.to_lowercase().chars().filter(wanted).collect()
    };
    let (letters, digits) = (part(given, false), part(given, true));
    let coded = !letters.is_empty() && !digits.is_empty() && letters == part(known, false);
    coded && !part(known, true).is_empty() && digits != part(known, true)
}

/// Letters that a beginning of a name must have.
const BEGINNING: usize = 3;

fn edit_distance(a: &str, b: &str) -> usize {
    let b: Vec<char> = b.chars().collect();
    let mut row: Vec<usize> = (0..=b.len()).collect();
    for (i, x) in a.chars().enumerate() {
        let mut diagonal = i;
        let mut left = i + 1;
        let mut next = vec![left];
        for (y, above) in b.iter().zip(row.iter().skip(1)) {
            let cost = diagonal + usize::from(x != *y);
            left = cost.min(above + 1).min(left + 1);
            next.push(left);
            diagonal = *above;
        }
        row = next;
    }
    row.last().copied().unwrap_or(0)
}
