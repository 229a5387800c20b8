//! All grades at once: the test of a treatment, odds ratios of a better grade, and whether one serves all grades.

use super::judged::{GradeF, JudgedGrades, LogOdds};
use super::numbers::{AllGrades, GradeOdds, GradeRatio, GradeTest, RatioAtGrade};
use super::placed::{Placed, Unplaced, placed};
use crate::control::Control;
use crate::error::Result;
use crate::math::regression::GradeRows;
use crate::trial::{Factor, GradeCounts, UnitKind, Units};

/// What is said where all grades at once cannot be judged.
const FEW: &str = "too few units to judge all grades at once: none is left to show how units differ";
const APART: &str = "a level stands only in places that hold no other level, so grades there say nothing of it";
const ONE: &str = "every cutting holds the same grade, so there is nothing to tell apart";

fn tested(found: GradeF, error_df: f64) -> GradeTest {
    let GradeF { statistic, df, p } = found;
    GradeTest { statistic, df, error_df: Some(error_df).filter(|df| df.is_finite()), p }
}

fn ratio(found: LogOdds) -> GradeRatio {
    let LogOdds { value, low, high, p } = found;
    GradeRatio { value: value.map(f64::exp), low: low.map(f64::exp), high: high.map(f64::exp), p }
}

/// The same rows with grades parted at a cut alone.
fn parted(rows: &GradeRows, cut: usize) -> Result<GradeRows> {
    let mut counts = Vec::with_capacity(2 * rows.len());
    for (_, _, own) in rows.iter() {
        counts.push(own.iter().take(cut).sum());
        counts.push(own.iter().skip(cut).sum());
    }
    GradeRows::new(rows.width(), 2, rows.iter().map(|(x, ..)| x.clone()).collect(), counts)
}

/// The treatment judged by all grades at once, or why it is not.
pub(super) fn all_grades(
    units: &Units,
    grades: &GradeCounts,
    (treatment, reference): (&Factor, u32),
    (confidence, control): (f64, &Control),
) -> Result<(String, std::result::Result<AllGrades, &'static str>)> {
    let Placed { rows, held, levels, within, unit } = match placed(units, grades, (treatment, reference))? {
        Ok(placed) => placed,
        Err(why) => {
            let unit = if units.kind == UnitKind::Tray { "tray" } else { "cutting" };
            return Ok((unit.to_owned(), Err(if matches!(why, Unplaced::OneGrade) { ONE } else { APART })));
        }
    };
    let counted = units.kind == UnitKind::Pooled;
    if !counted && rows.len() < rows.width() + 2 {
        return Ok((unit, Err(FEW)));
    }
    let judged = JudgedGrades::of(&rows, counted)?;
    let own: Vec<usize> = (0..levels.len()).collect();
    let name = |code: u32| treatment.levels.get(code as usize).cloned().unwrap_or_default();
    let against = name(reference);
    let one_of =
        |at: usize| -> Vec<f64> { (0..rows.width()).map(|column| f64::from(u8::from(column == at))).collect() };
    let alone: Vec<JudgedGrades> =
        (1..rows.grades()).map(|cut| JudgedGrades::of(&parted(&rows, cut)?, counted)).collect::<Result<_>>()?;
    let mut odds = Vec::with_capacity(levels.len());
    for (at, level) in levels.iter().enumerate() {
        let mut by_grade = Vec::with_capacity(alone.len());
        for (grade, one) in held.iter().skip(1).zip(&alone) {
            control.step()?;
            by_grade.push(RatioAtGrade { at_least: *grade, ratio: ratio(one.log_odds(&one_of(at), confidence)?) });
        }
        let ratio = ratio(judged.log_odds(&one_of(at), confidence)?);
        odds.push(GradeOdds { level: name(*level), against: against.clone(), ratio, by_grade });
    }
    let found = AllGrades {
        test: tested(judged.test(&own)?, judged.error_df),
        odds,
        one_slope: judged.one_slope(&own).map(|found| tested(found, judged.error_df)),
        correlation: judged.correlation,
        within,
        joined: (grades.lowest..=grades.highest).filter(|grade| !held.contains(grade)).collect(),
        steadied: judged.fit.steadied,
        n_units: rows.len() as u64,
    };
    Ok((unit, Ok(found)))
}
