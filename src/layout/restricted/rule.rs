//! What is asked of the order of trays in a row.

/// Restrictions on rows; none of them where both are left open.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::layout) struct Rule {
    /// Trays of one combination one after another, at most.
    pub(in crate::layout) longest_run: Option<usize>,
    /// True where the ends of a row have to differ.
    pub(in crate::layout) different_ends: bool,
}

/// Trays on a bench by rows: so many in each but the last.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::layout) struct Rows {
    pub(in crate::layout) trays: usize,
    pub(in crate::layout) columns: usize,
}

impl Rows {
    /// True where a row begins here.
    pub(super) fn begins(self, at: usize) -> bool {
        at.is_multiple_of(self.columns.max(1))
    }

    /// True where a row of more than one tray ends here.
    pub(super) fn ends(self, at: usize) -> bool {
        !self.begins(at) && (self.begins(at + 1) || at + 1 == self.trays)
    }
}

impl Rule {
    pub(in crate::layout) fn is_none(self) -> bool {
        self.longest_run.is_none() && !self.different_ends
    }

    /// Whether an order of combinations meets it.
    pub(super) fn is_met(self, rows: Rows, order: &[usize]) -> bool {
        order.chunks(rows.columns.max(1)).all(|row| {
            let ends = row.len() < 2 || row.first() != row.last();
            let longest = row.chunk_by(|a, b| a == b).map(<[usize]>::len).max().unwrap_or(0);
            (ends || !self.different_ends) && self.longest_run.is_none_or(|most| longest <= most)
        })
    }

    /// In words, to begin a sentence with.
    pub(in crate::layout) fn words(self) -> String {
        let run = self.longest_run.map(|most| match most {
            1 => "no treatment twice in a row (longest_run=1)".to_owned(),
            most => format!("no treatment more than {most} times in a row (longest_run={most})"),
        });
        let ends = self.different_ends.then(|| "no treatment at both ends of a row (different_ends=True)".to_owned());
        [run, ends].into_iter().flatten().collect::<Vec<_>>().join(" and ")
    }
}
