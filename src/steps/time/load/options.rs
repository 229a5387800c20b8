//! What the columns of visits are.

use serde::{Deserialize, Serialize};

use crate::trial::BadRows;

/// The questions that `checked=` answers.
pub(super) const QUESTIONS: [&str; 1] = ["similar_levels"];

/// How to read visits.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct VisitsOptions {
    /// Column of days since setting: of the visit, or on which the end of a plant was seen.
    pub day: String,
    /// Column of the tray.
    pub tray: Option<String>,
    /// Column of plants started in the tray, where each row is a tray at a visit.
    pub started: Option<String>,
    /// Column of plants rooted so far.
    pub rooted: Option<String>,
    /// Column of plants dead so far.
    pub dead: Option<String>,
    /// Column of plants taken away so far, alive and without roots.
    pub sampled: Option<String>,
    /// Column that says what became of a plant, where each row is a plant.
    pub became: Option<String>,
    /// Column of the last day on which a plant was seen waiting.
    pub last_without: Option<String>,
    /// Column that names a plant.
    pub plant: Option<String>,
    /// Columns of treatments.
    pub treatments: Vec<String>,
    /// Column of the block.
    pub block: Option<String>,
    /// Days by which visits may lie apart that count as one.
    pub same_visit: u64,
    /// What to do with rows that cannot be used.
    pub bad_rows: BadRows,
    /// Codes of questions that the user has looked into.
    pub checked: Vec<String>,
    /// Numbers of rows to leave out.
    pub leave_out: Vec<u64>,
    /// Row of the column names.
    pub header_row: Option<u64>,
}

impl VisitsOptions {
    /// One row per tray and visit.
    ///
    /// ```
    /// use rootling::steps::VisitsOptions;
    /// let options = VisitsOptions::counts("tray", "day", "started", "rooted").with_treatments(&["strength"]);
    /// assert_eq!(options.roles().len(), 5);
    /// ```
    #[must_use]
    pub fn counts(tray: &str, day: &str, started: &str, rooted: &str) -> Self {
        Self {
            tray: Some(tray.to_owned()),
            day: day.to_owned(),
            started: Some(started.to_owned()),
            rooted: Some(rooted.to_owned()),
            ..Self::default()
        }
    }

    /// One row per plant.
    ///
    /// ```
    /// use rootling::steps::VisitsOptions;
    /// assert_eq!(VisitsOptions::plants("last_without", "day", "became").roles().len(), 3);
    /// ```
    #[must_use]
    pub fn plants(last_without: &str, day: &str, became: &str) -> Self {
        Self {
            day: day.to_owned(),
            last_without: Some(last_without.to_owned()),
            became: Some(became.to_owned()),
            ..Self::default()
        }
    }

    /// The same with these treatments.
    #[must_use]
    pub fn with_treatments(self, columns: &[&str]) -> Self {
        Self { treatments: columns.iter().map(|one| (*one).to_owned()).collect(), ..self }
    }

    /// The same with deaths.
    #[must_use]
    pub fn with_dead(self, column: &str) -> Self {
        Self { dead: Some(column.to_owned()), ..self }
    }

    /// True where each row is a plant.
    #[must_use]
    pub fn by_plant(&self) -> bool {
        self.became.is_some() || self.last_without.is_some()
    }

    /// All named columns with the part they play.
    #[must_use]
    pub fn roles(&self) -> Vec<(&'static str, &str)> {
        let named = [
            ("tray", &self.tray),
            ("started", &self.started),
            ("rooted", &self.rooted),
            ("dead", &self.dead),
            ("sampled", &self.sampled),
            ("became", &self.became),
            ("last_without", &self.last_without),
            ("plant", &self.plant),
            ("block", &self.block),
        ];
        let mut roles = vec![("day", self.day.as_str())];
        roles.extend(named.into_iter().filter_map(|(role, name)| name.as_deref().map(|name| (role, name))));
        roles.extend(self.treatments.iter().map(|name| ("treatments", name.as_str())));
        roles
    }
}
