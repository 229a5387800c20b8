//! Grades per unit, and a grade that cuttings reach or not: its share is a count of a count, which every question of takes can be asked.

use std::sync::{Arc, OnceLock};

use serde::{Deserialize, Serialize};

use super::columns::Units;
use super::held::Trial;
use super::responses::ResponseKind;
use crate::answer::{Answer, Cells};
use crate::choice::choice;
use crate::error::{GradeError, Result};

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

    /// A text about "the grade" that names it.
    #[must_use]
    pub(crate) fn said(&self, text: &str) -> String {
        let name = self.name();
        let call = format!(", response={:?}, at_least={}", self.response, self.at_least);
        let text = text.replace(", outcome=\"grade-reached\"", &call);
        // "... of 100 cuttings at the grade than 2500 mg/L": what is better is the level, not the grade.
        let text = text.replace("the grade than ", &format!("{name}, against "));
        let text = text.replace("the grade or below it", &format!("{name} or below it")).replace("the grade", &name);
        match self.of {
            GradesOf::Stuck => text,
            GradesOf::Rooted => text.replace("of 100 cuttings", "of 100 rooted cuttings"),
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
                ("of", self.of.name().to_owned()),
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

impl Trial {
    /// The grade whose share the counts are, of a trial made by [`Trial::reaching`].
    #[must_use]
    pub fn reached(&self) -> Option<&Reached> {
        self.reached.as_ref()
    }

    /// Cuttings of each grade in every unit.
    ///
    /// A cutting that did not root and has no grade is below every grade where grades are `of` all cuttings stuck. Where they are of rooted cuttings alone,
    /// those that did not root are taken out of the lowest grade.
    ///
    /// # Errors
    /// A response that was not declared, or is no grade ([`GradeError::NotGrades`]); [`GradeError::NothingGraded`]; [`GradeError::RootedUnknown`]
    /// where a unit has more grades above the lowest than rooted cuttings.
    pub fn grade_counts(&self, response: &str, of: GradesOf) -> Result<GradeCounts> {
        let measured = self.measured(response)?;
        let (ResponseKind::Grade, Some((lowest, highest))) =
            (measured.response.kind, measured.response.lowest.zip(measured.response.highest))
        else {
            return Err(GradeError::NotGrades { response: response.to_owned() }.into());
        };
        let grades = usize::try_from(highest - lowest).unwrap_or(0) + 1;
        let units = self.units();
        let mut counts = Vec::with_capacity(units.len());
        for unit in 0..units.len() {
            let mut own = vec![0_u64; grades + 1];
            let (values, times) = measured.of(unit);
            for (value, times) in values.iter().zip(times) {
                // Grades were checked to be whole numbers of the scale.
                if let Some(count) = own.get_mut((value - lowest as f64) as usize + 1) {
                    *count += times;
                }
            }
            let rooted = units.rooted.get(unit).copied().unwrap_or(0);
            let stuck = units.stuck.get(unit).copied().unwrap_or(0);
            let graded: u64 = own.iter().sum();
            match of {
                GradesOf::Stuck => {
                    let ungraded = stuck.saturating_sub(graded).min(stuck.saturating_sub(rooted));
                    own.iter_mut().take(1).for_each(|first| *first = ungraded);
                }
                GradesOf::Rooted => {
                    let others = graded.saturating_sub(rooted);
                    let held = own.get_mut(1).filter(|lowest| **lowest >= others);
                    let Some(held) = held else {
                        let unit = unit_name(units, unit);
                        return Err(GradeError::RootedUnknown { unit, graded, rooted }.into());
                    };
                    *held -= others;
                }
            }
            counts.push(own);
        }
        if counts.iter().flatten().all(|count| *count == 0) {
            return Err(GradeError::NothingGraded { response: response.to_owned() }.into());
        }
        Ok(GradeCounts { response: response.to_owned(), lowest, highest, counts, of })
    }

    /// The trial whose counts are cuttings that reach a grade, of all that were graded: every question of takes can be asked of it, with the outcome
    /// [`Outcome::GradeReached`](super::Outcome::GradeReached). Units without a graded cutting are left out.
    ///
    /// # Errors
    /// As [`Trial::grade_counts`]; [`GradeError::OutOfScale`].
    pub fn reaching(&self, response: &str, at_least: i64, of: GradesOf) -> Result<Self> {
        let grades = self.grade_counts(response, of)?;
        let GradeCounts { lowest, highest, .. } = grades;
        // Where unrooted cuttings are below every grade, so is the lowest grade something to reach.
        let below = grades.counts.iter().any(|counts| counts.first().is_some_and(|count| *count > 0));
        if at_least > highest || at_least < lowest || (at_least == lowest && !below) {
            return Err(GradeError::OutOfScale { at_least, lowest, highest }.into());
        }
        let found: Vec<(u64, u64)> = (0..grades.counts.len()).map(|unit| grades.reaching(unit, at_least)).collect();
        let kept: Vec<usize> = (0..found.len()).filter(|unit| found.get(*unit).is_some_and(|one| one.1 > 0)).collect();
        let (rooted, stuck) = found.into_iter().unzip();
        let units = Units { rooted, stuck, earlier: None, ..self.units().clone() }.only(&kept);
        let rows = kept.iter().filter_map(|unit| self.rows.get(*unit).copied()).collect();
        let reached = Reached { response: response.to_owned(), at_least, highest, of };
        Ok(Self {
            units: Arc::new(units),
            dead: None,
            measured: Vec::new(),
            rows,
            prepared: OnceLock::new(),
            reached: Some(reached),
            ..self.clone()
        })
    }
}

/// "tray T07".
fn unit_name(units: &Units, unit: usize) -> String {
    let tray = units.tray.as_ref().and_then(|tray| tray.label(unit));
    tray.map_or_else(|| format!("unit {}", unit + 1), |label| format!("tray {label}"))
}
