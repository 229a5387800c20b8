//! Grades per unit, and a grade that cuttings reach or not: its share is a count of a count, which every question of takes can be asked.

use serde::{Deserialize, Serialize};

use crate::answer::{Answer, Cells};
use crate::choice::choice;

/// Which cuttings grades are of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum GradesOf {
    /// All cuttings: one that did not root and got no grade is below every grade.
    #[default]
    Stuck,
    /// Those that rooted.
    Rooted,
}

choice!(
    GradesOf, "what grades are of":
    Stuck = "stuck",
    Rooted = "rooted",
);

/// A grade that cuttings reach or not.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct Reached {
    /// The response's column.
    pub response: String,
    /// The grade that is reached, or a better one.
    pub at_least: i64,
    /// The best grade of the scale.
    pub highest: i64,
    /// Which cuttings are counted.
    #[serde(default)]
    pub of: GradesOf,
}

impl Reached {
    /// "grade 3 or better", with the scale's best grade "grade 5".
    #[must_use]
    pub fn name(&self) -> String {
        let better = if self.at_least < self.highest { " or better" } else { "" };
        format!("grade {}{better}", self.at_least)
    }

    /// A text about "the grade or better" that names it.
    #[must_use]
    pub(crate) fn said(&self, text: &str) -> String {
        let name = self.name();
        let call = format!(", response={:?}, at_least={}", self.response, self.at_least);
        let text = text.replace(", outcome=\"grade-reached\"", &call);
        // "... has more at the grade or better than 2500 mg/L": what is better than the other is the level, not the grade.
        let text = text.replace("the grade or better than ", &format!("{name}, against "));
        let text = text.replace("the grade or better", &name);
        match self.of {
            GradesOf::Stuck => text,
            GradesOf::Rooted => {
                text.replace("100 cuttings", "100 rooted cuttings").replace(" per 100", " per 100 rooted")
            }
        }
    }

    /// An answer on the counts of this grade, which names it and says how it was asked.
    pub(crate) fn named<T>(&self, mut answer: Answer<T>) -> Answer<T> {
        answer.sentence = self.said(&answer.sentence);
        answer.details.iter_mut().for_each(|line| *line = self.said(line));
        answer.notes.iter_mut().for_each(|note| note.text = self.said(&note.text));
        answer.methods = self.said(&answer.methods);
        for column in &mut answer.table.columns {
            column.head = column.head.take().map(|head| self.said(&head));
            if let Cells::Text(cells) = &mut column.values {
                cells.iter_mut().flatten().for_each(|cell| *cell = self.said(cell));
            }
        }
        let known = |(name, _): &(String, String)| name == "response";
        if !answer.made_with.options.iter().any(known) {
            let asked = [
                ("response", self.response.clone()),
                ("at_least", self.at_least.to_string()),
                ("grades_of", self.of.name().to_owned()),
            ];
            answer.made_with.options.extend(asked.map(|(name, value)| (name.to_owned(), value)));
        }
        answer
    }
}

/// Cuttings of each grade in every unit of a trial.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct GradeCounts {
    /// The response's column.
    pub response: String,
    /// The lowest grade of the scale.
    pub lowest: i64,
    /// The highest.
    pub highest: i64,
    /// For every unit: cuttings that did not root and got no grade, then those of each grade from the lowest on.
    pub counts: Vec<Vec<u64>>,
    /// Which cuttings these are.
    pub of: GradesOf,
}

impl GradeCounts {
    /// Cuttings of a unit that reach a grade, and all of them.
    #[must_use]
    pub fn reaching(&self, unit: usize, at_least: i64) -> (u64, u64) {
        let counts = self.counts.get(unit).map_or(&[][..], Vec::as_slice);
        let below = usize::try_from(at_least - self.lowest).unwrap_or(0) + 1;
        (counts.iter().skip(below).sum(), counts.iter().sum())
    }
}
