//! Letter groups: levels that share a letter are not shown to differ.

use crate::answer::Note;
use crate::choice::choice;
use crate::error::{NumericError, Result};
use serde::{Deserialize, Serialize};

/// Which level gets the first letter.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum LetterOrder {
    /// "a" goes to the highest mean.
    #[default]
    Descending,
    /// "a" goes to the lowest mean.
    Ascending,
}

choice!(
    LetterOrder, "order of letters":
    Descending = "descending",
    Ascending = "ascending",
);

/// Letters of every level.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct LetterGroups {
    /// The letters of each level, in the order the levels were given.
    pub letters: Vec<String>,
    /// The levels of each letter, positions in rank order.
    pub groups: Vec<Vec<usize>>,
    /// True when no smaller number of letters can do; false only when the search was cut short (very many levels in a pattern far
    /// from that of ordered means).
    pub fewest: bool,
}

/// Most groups held while splitting; beyond it groups are grown pair by pair.
const MOST_COLUMNS: usize = 2_000;
/// Most branches of the search for the fewest letters.
const MOST_BRANCHES: usize = 200_000;

/// Letters for levels with the given means, such that two levels share a letter if and only if they are not shown to differ.
///
/// `differs[i][j]` is true when levels i and j are shown to differ (either half of the matrix counts; the diagonal does not).
/// One group of all levels is split at every shown difference and groups inside others are dropped (insert and absorb), which
/// leaves all largest groups without a difference inside. Of these the fewest that still join every pair not shown to differ are
/// kept, by branch and bound. Letters are given in the order of the best-ranked level of each group.
///
/// Not for deciding anything: a shared letter is no proof of equality, and for a strength axis the curve says more.
///
/// # Errors
/// [`NumericError::Lengths`] when the matrix does not have one row and column per mean.
///
/// # References
/// Piepho 2004, J. Comput. Graph. Statist. 13:456-466 (insert and absorb); Gramm et al. 2008, J. Exp. Algorithmics 13:2.2 (fewest).
///
/// ```
/// use rootling::effects::{LetterOrder, letter_groups};
/// // Highest and lowest differ, the middle one is shown to differ from neither.
/// let differs = [vec![false, false, true], vec![false, false, false], vec![true, false, false]];
/// let found = letter_groups(&[0.8, 0.6, 0.4], &differs, LetterOrder::Descending)?;
/// assert_eq!(found.letters, ["a", "ab", "b"]);
/// # Ok::<(), rootling::Error>(())
/// ```
pub fn letter_groups(means: &[f64], differs: &[Vec<bool>], order: LetterOrder) -> Result<LetterGroups> {
    let size = means.len();
    let lengths = std::iter::once(differs.len()).chain(differs.iter().map(Vec::len));
    for given in lengths {
        if given != size {
            return Err(
                NumericError::Lengths { what: "rows or columns of shown differences", expected: size, given }.into()
            );
        }
    }
    let mut ranked: Vec<(usize, f64)> = means.iter().copied().enumerate().collect();
    ranked.sort_by(|a, b| match order {
        LetterOrder::Descending => b.1.total_cmp(&a.1),
        LetterOrder::Ascending => a.1.total_cmp(&b.1),
    });
    let ranked: Vec<usize> = ranked.into_iter().map(|(level, _)| level).collect();
    let graph = Graph::new(&ranked, differs);
    let (mut columns, fewest) = graph.fewest();
    columns.sort();
    let groups: Vec<Vec<usize>> =
        columns.iter().map(|column| column.iter().filter_map(|rank| ranked.get(*rank)).copied().collect()).collect();
    let mut letters = vec![String::new(); size];
    for (number, group) in groups.iter().enumerate() {
        for level in group {
            if let Some(text) = letters.get_mut(*level) {
                text.push_str(&letter(number));
            }
        }
    }
    Ok(LetterGroups { letters, groups, fewest })
}

/// Letters of levels from what was found of their pairs, which stand in the order of the levels: whether a pair is shown to differ, none where
/// it was not tested. A level has its value and whether it was tried; one that was not, or stands in no pair that was tested, gets none. True
/// beside them when no smaller number of letters can do.
pub(crate) fn letters_of_pairs(
    levels: &[(f64, bool)],
    pairs: &[Option<bool>],
    order: LetterOrder,
) -> Result<(Vec<Option<String>>, bool)> {
    let width = levels.len();
    let places = (0..width).flat_map(|i| (i + 1..width).map(move |j| (i, j)));
    let (mut differs, mut tested) = (vec![vec![false; width]; width], vec![false; width]);
    for ((i, j), pair) in places.zip(pairs) {
        let tried = [i, j].iter().all(|level| levels.get(*level).is_some_and(|(_, tried)| *tried));
        let Some(differ) = pair.filter(|_| tried) else { continue };
        for level in [i, j] {
            tested.get_mut(level).into_iter().for_each(|known| *known = true);
        }
        differs.get_mut(i).and_then(|row| row.get_mut(j)).into_iter().for_each(|place| *place = differ);
    }
    // Levels that cannot be compared stand aside.
    let kept: Vec<usize> = (0..width).filter(|level| tested.get(*level) == Some(&true)).collect();
    let pick = |row: &Vec<bool>| kept.iter().filter_map(|level| row.get(*level).copied()).collect::<Vec<bool>>();
    let shown: Vec<Vec<bool>> = kept.iter().filter_map(|level| differs.get(*level)).map(pick).collect();
    let values: Vec<f64> = kept.iter().filter_map(|level| levels.get(*level)).map(|(value, _)| *value).collect();
    let groups = letter_groups(&values, &shown, order)?;
    let letters = |level: usize| {
        let place = kept.iter().position(|known| *known == level)?;
        groups.letters.get(place).cloned()
    };
    Ok(((0..width).map(letters).collect(), groups.fewest))
}

/// What letters say and do not say, and what is told where some level has none or more letters are in use than needed.
pub(crate) fn letter_notes(by: &str, within: Option<&str>, all: bool, fewest: bool) -> Vec<Note> {
    let open = "How large a difference remains possible stands in the contrasts.";
    let text = match within {
        Some(within) => format!(
            "Letters start afresh in each level of {within} and compare levels of {by} within it, never across. Those that share a letter there are not shown to differ; that is no proof that they are alike. {open}"
        ),
        None => {
            format!("Levels that share a letter are not shown to differ; that is no proof that they are alike. {open}")
        }
    };
    let mut notes = vec![Note::new("letters", text)];
    if !all {
        let text = "Levels without a letter cannot be tested against any other in this layout, or were not tried.";
        notes.push(Note::new("no_letters", text));
    }
    if !fewest {
        let text = "With so many levels the search for the fewest letters was cut short; the letters are right, perhaps more than needed.";
        notes.push(Note::new("letters_not_fewest", text));
    }
    notes
}

/// a to z, A to Z, then numbers in brackets.
fn letter(number: usize) -> String {
    let alphabet = ('a'..='z').chain('A'..='Z');
    alphabet.into_iter().nth(number).map_or_else(|| format!("[{}]", number + 1), String::from)
}

/// Levels by rank and the pairs shown to differ.
struct Graph {
    size: usize,
    /// Row by row.
    differs: Vec<bool>,
}

impl Graph {
    fn new(ranked: &[usize], differs: &[Vec<bool>]) -> Self {
        let at = |i: usize, j: usize| differs.get(i).and_then(|row| row.get(j)).copied().unwrap_or(false);
        let pairs = ranked.iter().flat_map(|i| ranked.iter().map(move |j| i != j && (at(*i, *j) || at(*j, *i))));
        Self { size: ranked.len(), differs: pairs.collect() }
    }

    fn differ(&self, i: usize, j: usize) -> bool {
        self.differs.get(i * self.size + j).copied().unwrap_or(false)
    }

    /// Pairs i <= j that must share a letter; a level with itself, so that everyone has one.
    fn joined(&self) -> Vec<(usize, usize)> {
        let pairs = (0..self.size).flat_map(|i| (i..self.size).map(move |j| (i, j)));
        pairs.filter(|(i, j)| !self.differ(*i, *j)).collect()
    }

    /// All largest groups without a difference inside; none when there are too many.
    fn largest(&self) -> Option<Vec<Vec<usize>>> {
        let mut columns: Vec<Vec<usize>> = vec![(0..self.size).collect()];
        for i in 0..self.size {
            for j in (i + 1..self.size).filter(|j| self.differ(i, *j)) {
                columns = split(columns, i, j);
                if columns.len() > MOST_COLUMNS {
                    return None;
                }
            }
        }
        Some(columns)
    }

    /// Groups grown from each pair that no earlier one joins: a valid answer, though perhaps not the shortest.
    fn grown(&self) -> Vec<Vec<usize>> {
        let mut columns: Vec<Vec<usize>> = Vec::new();
        for (i, j) in self.joined() {
            if columns.iter().any(|column| column.contains(&i) && column.contains(&j)) {
                continue;
            }
            let mut column = vec![i];
            for level in std::iter::once(j).chain(0..self.size) {
                if !column.contains(&level) && column.iter().all(|other| !self.differ(*other, level)) {
                    column.push(level);
                }
            }
            column.sort_unstable();
            columns.push(column);
        }
        columns
    }

    fn fewest(&self) -> (Vec<Vec<usize>>, bool) {
        let Some(columns) = self.largest() else { return (self.grown(), false) };
        let mut search = Search::new(&columns, &self.joined());
        search.branch(&mut Vec::new(), search.all.clone());
        let proved = search.branches < MOST_BRANCHES;
        let best = if search.best.is_empty() { (0..columns.len()).collect() } else { search.best };
        (best.iter().filter_map(|index| columns.get(*index)).cloned().collect(), proved)
    }
}

/// Splits every group that holds both i and j, then drops groups inside others.
fn split(columns: Vec<Vec<usize>>, i: usize, j: usize) -> Vec<Vec<usize>> {
    let (both, mut kept): (Vec<_>, Vec<_>) = columns.into_iter().partition(|c| c.contains(&i) && c.contains(&j));
    let without =
        |column: &[usize], level: usize| column.iter().copied().filter(|one| *one != level).collect::<Vec<_>>();
    let parts: Vec<Vec<usize>> = both.iter().flat_map(|column| [without(column, i), without(column, j)]).collect();
    // A group that was not split cannot lie inside a part of one: it would have lain inside the whole.
    for part in parts {
        if !kept.iter().any(|other| inside(&part, other)) {
            kept.retain(|other| !inside(other, &part));
            kept.push(part);
        }
    }
    kept
}

fn inside(part: &[usize], whole: &[usize]) -> bool {
    part.iter().all(|level| whole.binary_search(level).is_ok())
}

/// Branch and bound for the fewest groups that join all pairs.
struct Search {
    /// For each pair to be joined the groups that do.
    joining: Vec<Vec<usize>>,
    /// For each group the pairs it joins.
    joins: Vec<Vec<usize>>,
    all: Vec<usize>,
    best: Vec<usize>,
    branches: usize,
}

impl Search {
    fn new(columns: &[Vec<usize>], pairs: &[(usize, usize)]) -> Self {
        let holds = |column: &[usize], (i, j): &(usize, usize)| {
            column.binary_search(i).is_ok() && column.binary_search(j).is_ok()
        };
        let positions = |list: Vec<bool>| list.iter().enumerate().filter(|(_, yes)| **yes).map(|(at, _)| at).collect();
        let joining = pairs.iter().map(|pair| positions(columns.iter().map(|c| holds(c, pair)).collect())).collect();
        let joins = columns.iter().map(|c| positions(pairs.iter().map(|pair| holds(c, pair)).collect())).collect();
        Self { joining, joins, all: (0..pairs.len()).collect(), best: Vec::new(), branches: 0 }
    }

    fn branch(&mut self, chosen: &mut Vec<usize>, open: Vec<usize>) {
        if open.is_empty() {
            self.best.clone_from(chosen);
            return;
        }
        self.branches += 1;
        let most = self.joins.iter().map(std::vec::Vec::len).max().unwrap_or(1).max(1);
        let needed = chosen.len() + open.len().div_ceil(most);
        let bounded = !self.best.is_empty() && needed >= self.best.len();
        if bounded || (self.branches >= MOST_BRANCHES && !self.best.is_empty()) {
            return;
        }
        // The pair with the fewest choices first; of its groups the one that joins most.
        let choices = |pair: &usize| self.joining.get(*pair).map_or(0, Vec::len);
        let Some(pair) = open.iter().copied().min_by_key(choices) else { return };
        let left = |group: usize| {
            let joined = self.joins.get(group).map_or(&[][..], Vec::as_slice);
            open.iter().copied().filter(|pair| joined.binary_search(pair).is_err()).collect::<Vec<usize>>()
        };
        let mut next: Vec<(usize, Vec<usize>)> =
            self.joining.get(pair).into_iter().flatten().map(|group| (*group, left(*group))).collect();
        next.sort_by_key(|(_, left)| left.len());
        for (group, left) in next {
            chosen.push(group);
            self.branch(chosen, left);
            chosen.pop();
        }
    }
}
