//! What of a difference between two levels is the mix of other levels, and what the yields of like batches.

use std::collections::{BTreeMap, BTreeSet};

use super::numbers::YieldMix;
use super::side::{Piece, Side, together};
use crate::counts::{Cells, parts};
use crate::math::distributions::student_t;
use crate::steps::chain::{Judged, Part, Rate, judged};
use crate::steps::held::Steps;

/// The parts of a difference.
pub(super) struct Mixed {
    pub(super) rates: f64,
    pub(super) limits: Option<(f64, f64)>,
    pub(super) mix: Vec<YieldMix>,
    pub(super) without_partner: f64,
    pub(super) overlap: f64,
}

/// A batch by its cell of other levels: plants at the start and at the end.
type Placed = (Vec<u32>, f64, f64);

/// Takes the difference apart by the other columns in which batches differ; None where there is none, where the two have nothing in
/// common, where plants left alive on the way, so that what came to the end is no rate of what started, or where parts of a batch differ in
/// another column.
pub(super) fn mixed(
    steps: &Steps,
    (at, from): (usize, usize),
    sides: [&Side<'_>; 2],
    confidence: f64,
) -> Option<Mixed> {
    if sides.iter().any(|side| !side.takes.is_closed()) {
        return None;
    }
    let all = || sides.iter().flat_map(|side| side.batches.iter());
    if all().any(|piece| piece.labels.is_none()) {
        return None;
    }
    let label = |piece: &Piece<'_>, column: usize| -> Option<String> { piece.labels?.get(column).cloned() };
    let levels = |column: usize| -> Vec<String> {
        let found: BTreeSet<String> = all().filter_map(|piece| label(piece, column)).collect();
        found.into_iter().collect()
    };
    let columns: Vec<usize> =
        (0..steps.level_columns().len()).filter(|column| *column != at && levels(*column).len() > 1).collect();
    if columns.is_empty() {
        return None;
    }
    let known: Vec<Vec<String>> = columns.iter().map(|column| levels(*column)).collect();
    let placed = |batch: &Piece<'_>| -> Placed {
        let code = |(column, known): (&usize, &Vec<String>)| {
            known.binary_search(&label(batch, *column).unwrap_or_default()).unwrap_or_default() as u32
        };
        let started = batch.steps.get(from).copied().flatten().map_or(0.0, |one| one.reached as f64);
        let end = batch.steps.last().copied().flatten().map_or(0.0, |one| one.passed as f64);
        (columns.iter().zip(&known).map(code).collect(), started, end)
    };
    let [one, two] = sides.map(|side| side.batches.iter().map(placed).collect::<Vec<Placed>>());
    let (before, after) = (cells(&one), cells(&two));
    let found = parts(&before, &after, columns.len())?;
    let spread = error(&one, &before, &after).zip(error(&two, &after, &before));
    let limits = spread.map(|(one, two)| {
        let (variance, df) = together(one, two);
        let reach = student_t::quantile(f64::midpoint(1.0, confidence), df) * variance.sqrt();
        (found.rates - reach, found.rates + reach)
    });
    let names = columns.iter().filter_map(|column| steps.level_columns().get(*column));
    let mix = names.zip(&found.mix).map(|(column, value)| YieldMix { column: column.column.clone(), value: *value });
    Some(Mixed {
        rates: found.rates,
        limits,
        mix: mix.collect(),
        without_partner: found.without_partner,
        overlap: found.overlap,
    })
}

fn cells(placed: &[Placed]) -> Cells {
    let mut found = Cells::new();
    for (cell, started, end) in placed {
        let sums = found.entry(cell.clone()).or_insert((0.0, 0.0));
        *sums = (sums.0 + started, sums.1 + end);
    }
    found
}

/// How well one side's part of the rates is known: batches about the yield of their cell, weighted as the part is. None where a cell has one
/// batch.
fn error(placed: &[Placed], own: &Cells, other: &Cells) -> Option<Judged> {
    let shared = |cells: &Cells| -> f64 {
        cells.iter().filter(|(cell, _)| own.contains_key(*cell) && other.contains_key(*cell)).map(|(_, (n, _))| n).sum()
    };
    let (here, there) = (shared(own), shared(other));
    let mut groups = BTreeMap::<&Vec<u32>, (usize, usize)>::new();
    for (cell, ..) in placed.iter().filter(|one| other.contains_key(&one.0)) {
        let next = groups.len();
        groups.entry(cell).or_insert((next, 0)).1 += 1;
    }
    if groups.values().any(|(_, batches)| *batches < 2) {
        return None;
    }
    let mut alone = 0.0;
    let (mut value, mut plants) = (0.0, 0.0);
    let mut found = Vec::new();
    for (cell, started, end) in placed {
        let (Some((n, y)), Some((others, _)), Some((group, _))) = (own.get(cell), other.get(cell), groups.get(cell))
        else {
            continue;
        };
        let weight = f64::midpoint(n / here, others / there);
        let rate = y / n;
        let share = weight * weight * rate * (1.0 - rate) / n * started / n;
        (alone, value, plants) = (alone + share, value + end, plants + started);
        found.push(Part { group: *group, residual: weight * (end - started * rate) / n, share });
    }
    found.iter_mut().for_each(|part| part.share /= if alone > 0.0 { alone } else { 1.0 });
    (alone > 0.0).then(|| judged(&found, Rate { value: value / plants, plants, alone }))
}
