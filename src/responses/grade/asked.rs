//! What a trial is asked of its grades.

use super::all_grades::all_grades;
use super::lead::Lead;
use super::numbers::{GradeLevel, GradeOptions, Grades};
use super::told::told;
use crate::answer::Answer;
use crate::compare::{AllOptions, CompareOptions};
use crate::control::Control;
use crate::error::{GradeError, Result};
use crate::estimate::check_level;
use crate::rates::TakeRatesOptions;
use crate::trial::{Factor, GradeCounts, Outcome, Trial};

impl Trial {
    /// Grades at the levels of a treatment: the share of cuttings that reach a grade leads, with its limits and its decision as a comparison of the
    /// levels has it ([`Trial::compare`], [`Trial::compare_all`]); all grades at once follow, by a cumulative logit on effective cuttings.
    ///
    /// The unit is what carries the treatment; places within which it changes and the other treatments are taken out. `logit P(grade >= j) = cut_j +
    /// effects`, one odds ratio for all grades, whose fit is tested; the ratio at each grade alone stands beside it. Grades nobody holds are joined with
    /// the next below. A level of which all cuttings hold one end has a bound and no estimate.
    ///
    /// # Errors
    /// A response that was not declared or is no grade; a grade outside the scale; a treatment of one level; unknown names with their nearest.
    ///
    /// # References
    /// `McCullagh` (1980), J. R. Stat. Soc. B 42:109-142; Peterson and Harrell (1990), Applied Statistics 39:205-217.
    ///
    /// ```
    /// use rootling::prelude::*;
    /// use rootling::responses::grade::GradeOptions;
    /// use rootling::trial::Response;
    /// let mut csv = "strength,tray,rooted,grade\n".to_owned();
    /// for (strength, tray, grades) in
    ///     [("0", "a", "01120031"), ("0", "b", "00211013"), ("2500", "c", "34215443"), ("2500", "d", "24354133")]
    /// {
    ///     for grade in grades.chars() {
    ///         csv += &format!("{strength},{tray},{},{grade}\n", u8::from(grade > '0'));
    ///     }
    /// }
    /// let options = LoadOptions {
    ///     rooted: "rooted".into(), tray: Some("tray".into()), treatments: vec!["strength".into()],
    ///     responses: vec![Response::grade("grade", 0, 5)], ..LoadOptions::default()
    /// };
    /// let trial = read_csv(csv.as_bytes(), &options)?;
    /// let asked = GradeOptions { response: "grade".into(), at_least: 3, ..GradeOptions::default() };
    /// let found = trial.grades("strength", &asked, &Control::new())?;
    /// assert_eq!(found.numbers.levels[1].counts, [0, 0, 2, 2, 5, 5, 2]);
    /// assert!(found.sentence.contains("grade 3 or better"), "{}", found.sentence);
    /// # Ok::<(), rootling::Error>(())
    /// ```
    pub fn grades(&self, treatment: &str, options: &GradeOptions, control: &Control) -> Result<Answer<Grades>> {
        let confidence = check_level(options.confidence)?;
        let share = self.reaching(&options.response, options.at_least, options.of)?;
        let grades = self.grade_counts(&options.response, options.of)?;
        let units = self.units();
        let Some(factor) = units.treatments.iter().find(|one| one.name == treatment) else {
            let known: Vec<&str> = units.treatments.iter().map(|one| one.name.as_str()).collect();
            return Err(crate::error::ChoiceError::new("treatment", treatment, &known).into());
        };
        let rates = share.take_rates(
            &[treatment],
            &TakeRatesOptions { confidence, outcome: Outcome::GradeReached, ..TakeRatesOptions::default() },
        )?;
        let levels: Vec<GradeLevel> = rates
            .numbers
            .rates
            .iter()
            .map(|rate| {
                let level = rate.levels.concat();
                let counts = counts_at(factor, &level, &grades);
                GradeLevel {
                    median: median(&counts, grades.lowest),
                    n_cuttings: counts.iter().sum(),
                    n_units: rate.n_units,
                    value: rate.value,
                    low: rate.low,
                    high: rate.high,
                    level,
                    counts,
                }
            })
            .collect();
        let lead = lead(&share, (treatment, &levels), options, control)?;
        let reference = reference(self, factor, &levels, options)?;
        let (unit, found) = all_grades(units, &grades, (factor, reference), (confidence, control))?;
        let (all, withheld) = match found {
            Ok(all) => (Some(all), None),
            Err(why) => (None, Some(why.to_owned())),
        };
        let numbers = Grades {
            response: options.response.clone(),
            factor: treatment.to_owned(),
            lowest: grades.lowest,
            highest: grades.highest,
            at_least: options.at_least,
            of: options.of,
            unit,
            confidence,
            levels,
            all_grades: all,
            withheld,
        };
        let said = self.options().spoken(treatment);
        let notes = rates.notes;
        Ok(self.signed(told(numbers, (lead, notes), (&said, units), options)))
    }
}

/// Cuttings of each grade at a level.
fn counts_at(factor: &Factor, level: &str, grades: &GradeCounts) -> Vec<u64> {
    let mut sum = vec![0; grades.counts.first().map_or(0, Vec::len)];
    for (_, counts) in grades.counts.iter().enumerate().filter(|(unit, _)| factor.label(*unit) == Some(level)) {
        sum.iter_mut().zip(counts).for_each(|(sum, n)| *sum += n);
    }
    sum
}

/// The grade of the middle cutting (the lower of the two in the middle).
fn median(counts: &[u64], lowest: i64) -> Option<i64> {
    let half = counts.iter().sum::<u64>().div_ceil(2);
    let mut below = 0;
    let at = counts.iter().position(|n| {
        below += n;
        below >= half
    })?;
    (at > 0).then(|| lowest + at as i64 - 1)
}

/// The decision by the share: of two levels a comparison, of more all of them.
fn lead(
    share: &Trial,
    (treatment, levels): (&str, &[GradeLevel]),
    options: &GradeOptions,
    control: &Control,
) -> Result<Lead> {
    let compare = CompareOptions {
        confidence: options.confidence,
        nearly: options.nearly,
        seed: options.seed,
        outcome: Outcome::GradeReached,
        ..CompareOptions::default()
    };
    match levels {
        [] | [_] => Err(GradeError::OneLevel { treatment: treatment.to_owned() }.into()),
        [first, second] => {
            let (first, second) = match &options.against {
                Some(against) if *against == second.level => (second, first),
                _ => (first, second),
            };
            share.compare(treatment, (&first.level, &second.level), &compare, control).map(Lead::of_two)
        }
        _ => {
            let all = AllOptions { against: options.against.clone(), compare, ..AllOptions::default() };
            share.compare_all(treatment, &all, control).map(Lead::of)
        }
    }
}

/// The level that odds ratios are set against.
fn reference(trial: &Trial, factor: &Factor, levels: &[GradeLevel], options: &GradeOptions) -> Result<u32> {
    let known: Vec<&str> = levels.iter().map(|one| one.level.as_str()).collect();
    let control = trial.controls().get(&factor.name).filter(|level| known.contains(&level.as_str()));
    let wanted = match &options.against {
        Some(level) if !known.contains(&level.as_str()) => {
            return Err(crate::error::ChoiceError::new(&format!("level of {}", factor.name), level, &known).into());
        }
        Some(level) => Some(level.as_str()),
        None => control.map(String::as_str).or_else(|| known.first().copied()),
    };
    Ok(factor.levels.iter().position(|level| Some(level.as_str()) == wanted).unwrap_or(0) as u32)
}
