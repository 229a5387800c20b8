//! What the columns of a chain are.

use serde::{Deserialize, Serialize};

use crate::trial::BadRows;

/// Plants that left the chain alive after a step: sold, sampled, moved.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TakenAway {
    /// The step after which they left, by its column.
    pub step: String,
    /// Column of how many left.
    pub column: String,
}

/// The day on which plants came to a step, or were started.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct StepDate {
    /// The step, by its column; with `last_step` also that column, for the day on which a plant was last seen.
    pub step: String,
    /// Column of the day.
    pub column: String,
}

/// A treatment that plants get as they come to a step.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct StepTreatment {
    /// Column of the treatment.
    pub column: String,
    /// The step before which it is given, by its column.
    pub step: String,
}

/// The questions that `checked=` answers.
pub(super) const QUESTIONS: [&str; 3] = ["odd_year", "similar_levels", "total_row"];

/// How to read counts of a chain.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct StepsOptions {
    /// Columns that name a batch together; none where each row is one.
    pub batch: Vec<String>,
    /// Columns of plants that reached each step, in the order of the chain; the first is what was started. With `last_step` their names.
    pub steps: Vec<String>,
    /// Columns of states beside the chain, as callus: at most what was started, in no order with the steps.
    pub states: Vec<String>,
    /// Plants that left alive after a step: no losses.
    pub taken_away: Vec<TakenAway>,
    /// Column of the last step that a plant reached, where each row is a plant.
    pub last_step: Option<String>,
    /// Column that names a plant.
    pub plant: Option<String>,
    /// Column that says why a plant is followed no further though it did not fail: young, sold, sampled, moved.
    pub left: Option<String>,
    /// Column of how many plants a row stands for, where plants that are alike in all that is named share one.
    pub times: Option<String>,
    /// Column of the seedling (nurse plant).
    pub seedling: Option<String>,
    /// Column of the rootstock.
    pub rootstock: Option<String>,
    /// Column of the scion.
    pub scion: Option<String>,
    /// Column of the season.
    pub season: Option<String>,
    /// Column of the room.
    pub room: Option<String>,
    /// Column of who did the grafting.
    pub grafter: Option<String>,
    /// Columns of other levels that batches differ in.
    pub levels: Vec<String>,
    /// Treatments of one step, followed to the end.
    pub treatments: Vec<StepTreatment>,
    /// Days of start and steps.
    pub dates: Vec<StepDate>,
    /// Column of the batch, or batches joined by +, that this one was split from or merged of.
    pub parent: Option<String>,
    /// True where 3/4/2026 is the third of April.
    pub day_first: Option<bool>,
    /// What to do with rows that cannot be used.
    pub bad_rows: BadRows,
    /// Codes of questions that the user has looked into.
    pub checked: Vec<String>,
    /// Numbers of rows to leave out.
    pub leave_out: Vec<u64>,
    /// Row of the column names.
    pub header_row: Option<u64>,
}

impl StepsOptions {
    /// A chain of these columns.
    ///
    /// ```
    /// use rootling::steps::StepsOptions;
    /// let options = StepsOptions::columns(&["grafted", "taken", "rooted"]).with_batch(&["batch"]);
    /// assert_eq!((options.steps.len(), options.batch.len()), (3, 1));
    /// ```
    #[must_use]
    pub fn columns(steps: &[&str]) -> Self {
        Self { steps: steps.iter().map(|one| (*one).to_owned()).collect(), ..Self::default() }
    }

    /// The same with these columns naming a batch together.
    #[must_use]
    pub fn with_batch(self, columns: &[&str]) -> Self {
        Self { batch: columns.iter().map(|one| (*one).to_owned()).collect(), ..self }
    }

    pub(super) fn has_checked(&self, code: &str) -> bool {
        self.checked.iter().any(|checked| checked == code)
    }

    /// For each column of levels the column of the chain from which on it can differ: treatments begin before the step they are given for.
    pub(super) fn begins(&self) -> Vec<usize> {
        let from = |column: &str| {
            let given = self.treatments.iter().find(|one| one.column == column)?;
            Some(self.steps.iter().position(|step| *step == given.step)?.saturating_sub(1))
        };
        let each = self.levels().into_iter();
        each.map(|(role, column)| if role == "treatments" { from(column).unwrap_or_default() } else { 0 }).collect()
    }

    /// The columns of levels with the part they play.
    pub(super) fn levels(&self) -> Vec<(&'static str, &str)> {
        let named = [
            ("seedling", &self.seedling),
            ("rootstock", &self.rootstock),
            ("scion", &self.scion),
            ("season", &self.season),
            ("room", &self.room),
            ("grafter", &self.grafter),
        ];
        let single = named.into_iter().filter_map(|(role, name)| name.as_deref().map(|name| (role, name)));
        let more = self.levels.iter().map(|name| ("levels", name.as_str()));
        single.chain(more).chain(self.treatments.iter().map(|one| ("treatments", one.column.as_str()))).collect()
    }

    /// All named columns with the part they play.
    #[must_use]
    pub fn roles(&self) -> Vec<(&'static str, &str)> {
        let mut roles: Vec<(&'static str, &str)> = self.batch.iter().map(|name| ("batch", name.as_str())).collect();
        if self.last_step.is_none() {
            roles.extend(self.steps.iter().map(|name| ("steps", name.as_str())));
        }
        let of_plants =
            [("last_step", &self.last_step), ("plant", &self.plant), ("left", &self.left), ("times", &self.times)];
        roles.extend(of_plants.into_iter().filter_map(|(role, name)| name.as_deref().map(|name| (role, name))));
        roles.extend(self.states.iter().map(|name| ("states", name.as_str())));
        roles.extend(self.taken_away.iter().map(|one| ("taken_away", one.column.as_str())));
        roles.extend(self.dates.iter().map(|one| ("dates", one.column.as_str())));
        roles.extend(self.parent.as_deref().map(|name| ("parent", name)));
        roles.extend(self.levels());
        roles
    }
}
