//! How many rows of one problem are listed: where every row of a long file is wrong, all of them would take more room than the file.

use crate::error::{Issue, Severity};

/// Rows listed of one problem in one column.
const MOST: u64 = 10_000;

/// Lines so far of each problem in each column, and the rows behind those that are not listed; there are few of these.
#[derive(Debug, Default)]
pub(crate) struct Listed(Vec<(Issue, u64, u64)>);

impl Listed {
    /// Counts the issue of a row; false where enough like it are listed.
    pub(crate) fn has_room(&mut self, issue: &Issue) -> bool {
        self.has_room_for(issue, 1)
    }

    /// The same for a line that stands for so many rows.
    pub(crate) fn has_room_for(&mut self, issue: &Issue, rows: u64) -> bool {
        let same = |(one, ..): &&mut (Issue, u64, u64)| one.code == issue.code && one.column == issue.column;
        let Some((_, lines, beyond)) = self.0.iter_mut().find(same) else {
            self.0.push((issue.clone(), 1, 0));
            return true;
        };
        *lines += 1;
        let room = *lines <= MOST;
        *beyond += if room { 0 } else { rows };
        room
    }

    /// What tells of the rows that are not listed, once for each problem.
    pub(crate) fn beyond(&self) -> Vec<Issue> {
        let long = self.0.iter().filter(|(_, lines, _)| *lines > MOST);
        long.map(|(one, _, more)| {
            let reason = format!(
                "{more} more rows have the problem {:?}, beyond the first {MOST}, which are listed with their numbers",
                one.code
            );
            let hint = "what holds for those holds for them";
            let issue = Issue::of_input("more_rows", reason, hint).graded(Severity::Information);
            Issue { column: one.column.clone(), ..issue }.with_value(more.to_string())
        })
        .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_rows_beyond_are_counted_for_each_problem_and_column() {
        let mut listed = Listed::default();
        let wrong = |column: &str| Issue::of_input("not_a_number", "no", "yes").in_column(column);
        let kept = (0..MOST + 7).filter(|_| listed.has_room(&wrong("a"))).count() as u64;
        assert!(listed.has_room(&wrong("b")));
        let [beyond] = listed.beyond().try_into().unwrap();
        assert_eq!((kept, beyond.value.as_deref(), beyond.column.as_deref()), (MOST, Some("7"), Some("a")));
    }
}
