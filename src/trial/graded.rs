//! What a trial is asked of grades: how many cuttings hold each, and the trial whose counts are those that reach one.

use std::sync::{Arc, OnceLock};

use super::columns::Units;
use super::held::Trial;
use super::reached::{GradeCounts, GradesOf, Reached};
use super::responses::ResponseKind;
use crate::error::{GradeError, Result};

impl Trial {
    /// The grade whose share the counts are, of a trial made by [`Trial::reaching`].
    ///
    /// ```
    /// use rootling::prelude::*;
    /// use rootling::trial::{GradesOf, Response};
    /// # let mut csv = "strength,tray,rooted,grade\n".to_owned();
    /// # for (strength, tray, grades) in
    /// #     [("0", "a", "01120031"), ("0", "b", "00211013"), ("2500", "c", "34215443"), ("2500", "d", "24354133")]
    /// # {
    /// #     for grade in grades.chars() {
    /// #         csv += &format!("{strength},{tray},{},{grade}\n", u8::from(grade > '0'));
    /// #     }
    /// # }
    /// # let options = LoadOptions {
    /// #     rooted: "rooted".into(), tray: Some("tray".into()), treatments: vec!["strength".into()],
    /// #     responses: vec![Response::grade("grade", 0, 5)], ..LoadOptions::default()
    /// # };
    /// let trial = read_csv(csv.as_bytes(), &options)?;
    /// let share = trial.reaching("grade", 3, GradesOf::Stuck)?;
    /// assert_eq!(share.reached().unwrap().name(), "grade 3 or better");
    /// assert!(trial.reached().is_none());
    /// # Ok::<(), rootling::Error>(())
    /// ```
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
    ///
    /// ```
    /// use rootling::prelude::*;
    /// use rootling::trial::{GradesOf, Response};
    /// # let mut csv = "strength,tray,rooted,grade\n".to_owned();
    /// # for (strength, tray, grades) in
    /// #     [("0", "a", "01120031"), ("0", "b", "00211013"), ("2500", "c", "34215443"), ("2500", "d", "24354133")]
    /// # {
    /// #     for grade in grades.chars() {
    /// #         csv += &format!("{strength},{tray},{},{grade}\n", u8::from(grade > '0'));
    /// #     }
    /// # }
    /// # let options = LoadOptions {
    /// #     rooted: "rooted".into(), tray: Some("tray".into()), treatments: vec!["strength".into()],
    /// #     responses: vec![Response::grade("grade", 0, 5)], ..LoadOptions::default()
    /// # };
    /// let trial = read_csv(csv.as_bytes(), &options)?;
    /// let grades = trial.grade_counts("grade", GradesOf::Stuck)?;
    /// assert_eq!(grades.counts[0], [0, 3, 3, 1, 1, 0, 0]); // none ungraded, then grades 0 to 5
    /// # Ok::<(), rootling::Error>(())
    /// ```
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
    ///
    /// ```
    /// use rootling::prelude::*;
    /// use rootling::trial::{GradesOf, Response};
    /// # let mut csv = "strength,tray,rooted,grade\n".to_owned();
    /// # for (strength, tray, grades) in
    /// #     [("0", "a", "01120031"), ("0", "b", "00211013"), ("2500", "c", "34215443"), ("2500", "d", "24354133")]
    /// # {
    /// #     for grade in grades.chars() {
    /// #         csv += &format!("{strength},{tray},{},{grade}\n", u8::from(grade > '0'));
    /// #     }
    /// # }
    /// # let options = LoadOptions {
    /// #     rooted: "rooted".into(), tray: Some("tray".into()), treatments: vec!["strength".into()],
    /// #     responses: vec![Response::grade("grade", 0, 5)], ..LoadOptions::default()
    /// # };
    /// let trial = read_csv(csv.as_bytes(), &options)?;
    /// let share = trial.reaching("grade", 3, GradesOf::Stuck)?;
    /// assert_eq!(share.units().rooted, [1, 1, 6, 6]); // of 8 each
    /// # Ok::<(), rootling::Error>(())
    /// ```
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
