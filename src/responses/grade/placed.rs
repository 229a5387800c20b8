//! Which units carry a treatment, what they stand in, and their grades as rows of a design.

use std::collections::BTreeSet;

use crate::error::Result;
use crate::math::dense::Qr;
use crate::math::design::entries_of;
use crate::math::regression::GradeRows;
use crate::math::search::RANK;
use crate::trial::{Factor, GradeCounts, UnitKind, Units};

/// Units of a treatment with their grades and columns.
pub(super) struct Placed {
    /// One row per unit: columns of the levels but the reference, then of what is taken out.
    pub(super) rows: GradeRows,
    /// The grade, from the lowest of the scale, that each grade held stands for; the first of them stands for all below.
    pub(super) held: Vec<i64>,
    /// Levels with a column, in the order of the columns.
    pub(super) levels: Vec<u32>,
    /// What is taken out.
    pub(super) within: Vec<String>,
    /// What the units are called.
    pub(super) unit: String,
}

/// Why all grades at once cannot be judged.
pub(super) enum Unplaced {
    /// Everybody holds one grade.
    OneGrade,
    /// A level stands in places that hold no other.
    Apart,
}

/// A unit: those of the trial it is made of.
type Group = Vec<usize>;

/// The level of a group where all of it has one.
fn level_of(factor: &Factor, group: &Group) -> Option<u32> {
    let mut codes = group.iter().filter_map(|unit| factor.codes.get(*unit).copied());
    let first = codes.next()?;
    codes.all(|code| code == first).then_some(first)
}

/// Columns of the levels of a factor that stand for it, each with its level.
fn columns(factor: &Factor, groups: &[Group], reference: u32) -> Option<Vec<(u32, Vec<f64>)>> {
    let codes: Vec<u32> = groups.iter().map(|group| level_of(factor, group)).collect::<Option<_>>()?;
    let found: BTreeSet<u32> = codes.iter().copied().filter(|code| *code != reference).collect();
    let column = |level: u32| codes.iter().map(|code| f64::from(u8::from(*code == level))).collect();
    Some(found.into_iter().map(|level| (level, column(level))).collect())
}

/// Units of a treatment, within the places in which it changes and beside the other treatments.
pub(super) fn placed(
    units: &Units,
    grades: &GradeCounts,
    (treatment, reference): (&Factor, u32),
) -> Result<std::result::Result<Placed, Unplaced>> {
    let graded: Vec<usize> = (0..units.len()).filter(|unit| grades.reaching(*unit, grades.lowest).1 > 0).collect();
    let (unit, groups) = match units.kind {
        UnitKind::Tray => units.experimental_units(treatment, &graded),
        UnitKind::Pooled => ("cutting".to_owned(), graded.iter().map(|unit| vec![*unit]).collect()),
    };
    let Some(own) = columns(treatment, &groups, reference) else { return Ok(Err(Unplaced::Apart)) };
    let places = [&units.season, &units.block, &units.whole_plot, &units.stock_plant].into_iter().flatten();
    let others = units.treatments.iter().filter(|one| one.name != treatment.name);
    let mut all: Vec<Vec<f64>> = vec![vec![1.0; groups.len()]];
    let mut within = Vec::new();
    for factor in places.filter(|place| place.name != unit).chain(others) {
        // A place that is a unit by another name, and a treatment that changes within units, say nothing here.
        let Some(found) = columns(factor, &groups, *factor.codes.first().unwrap_or(&0)) else { continue };
        if found.is_empty() || found.len() + 1 >= groups.len() {
            continue;
        }
        within.push(factor.name.clone());
        all.extend(found.into_iter().map(|(_, column)| column));
    }
    let before = all.len();
    all.extend(own.iter().map(|(_, column)| column.clone()));
    let qr = Qr::new(&all, RANK);
    if (before..all.len()).any(|column| !qr.kept.contains(&column)) {
        return Ok(Err(Unplaced::Apart));
    }
    let order = (before..all.len()).chain(qr.kept.iter().copied().filter(|at| (1..before).contains(at)));
    let kept: Vec<&Vec<f64>> = order.filter_map(|at| all.get(at)).collect();
    let row =
        |at: usize| entries_of(&kept.iter().map(|column| column.get(at).copied().unwrap_or(0.0)).collect::<Vec<_>>());
    let mut counts = Vec::new();
    for group in &groups {
        let mut sum = vec![0.0; usize::try_from(grades.highest - grades.lowest).unwrap_or(0) + 2];
        for own in group.iter().filter_map(|unit| grades.counts.get(*unit)) {
            sum.iter_mut().zip(own).for_each(|(sum, n)| *sum += *n as f64);
        }
        counts.extend(sum);
    }
    let all_grades = usize::try_from(grades.highest - grades.lowest).unwrap_or(0) + 2;
    let rows = GradeRows::new(kept.len(), all_grades, (0..groups.len()).map(row).collect(), counts)?;
    let (rows, lowest) = rows.held();
    if rows.grades() < 2 {
        return Ok(Err(Unplaced::OneGrade));
    }
    let held = lowest.into_iter().map(|at| grades.lowest - 1 + at as i64).collect();
    let levels = own.into_iter().map(|(level, _)| level).collect();
    Ok(Ok(Placed { rows, held, levels, within, unit }))
}
