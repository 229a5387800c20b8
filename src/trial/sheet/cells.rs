//! Columns of text cells with the row numbers a spreadsheet shows.

/// Columns of text cells under their names; an empty cell is empty text.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub(in crate::trial) struct Sheet {
    /// Column names.
    pub names: Vec<String>,
    /// One list of cells per name, all of one length.
    pub columns: Vec<Vec<String>>,
    /// The number of each row, as the spreadsheet shows it.
    pub numbers: Vec<u64>,
}

impl Sheet {
    /// The cells of a column.
    #[must_use]
    pub(in crate::trial) fn column(&self, name: &str) -> Option<&[String]> {
        let at = self.names.iter().position(|known| known == name)?;
        self.columns.get(at).map(Vec::as_slice)
    }

    /// A name that no column has: the first of those wished for, else one with a number behind it.
    #[must_use]
    pub(in crate::trial) fn free_name(&self, wished: &[&str]) -> String {
        let free = |name: &&&str| !self.names.iter().any(|known| known == **name);
        if let Some(name) = wished.iter().find(free) {
            return (*name).to_owned();
        }
        let first = wished.first().copied().unwrap_or("column");
        (2..=self.names.len() + 2)
            .map(|number| format!("{first} {number}"))
            .find(|name| !self.names.contains(name))
            .unwrap_or_default()
    }

    /// Adds a column.
    pub(in crate::trial) fn add(&mut self, name: &str, cells: Vec<String>) {
        self.names.push(name.to_owned());
        self.columns.push(cells);
    }

    /// True when the row has no entry.
    #[must_use]
    pub(in crate::trial) fn is_blank(&self, row: usize) -> bool {
        self.columns.iter().all(|column| column.get(row).is_none_or(|cell| cell.trim().is_empty()))
    }
}
