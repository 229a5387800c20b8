//! How much faster one group goes than another, from conditional binomials between visits: the grouped-time model of proportional hazards.

use std::sync::Arc;

use super::table::{Cell, Ending};
use crate::control::Control;
use crate::error::{Error, Result};
use crate::math::design::{Block, Codes, Columns};
use crate::math::regression::{Link, Regression, Restriction};

/// The ratio of the rates of two groups.
#[derive(Debug, Clone, PartialEq)]
pub struct RateRatio {
    /// Its logarithm, second group over first.
    pub log: f64,
    /// Its standard error for plants that stand alone.
    pub se: f64,
    /// All coefficients, from which a neighbouring fit starts.
    pub(super) coef: Vec<f64>,
}

/// Fits `ln(-ln(1 - h)) = visit + stratum + group` to the share `h` of those at risk to which `ending` happens between two visits, so that
/// rates are proportional whatever the days of the visits. None where one of the groups shows nothing of the kind, or everything.
///
/// # Errors
/// [`Error::Interrupted`] when stopped.
///
/// # References
/// Prentice and Gloeckler 1978, Biometrics 34:57-67.
pub fn rate_ratio(strata: &[[Vec<Cell>; 2]], ending: Ending, control: &Control) -> Result<Option<RateRatio>> {
    fitted(strata, ending, None, control)
}

/// The same from known coefficients on.
pub(super) fn fitted(
    strata: &[[Vec<Cell>; 2]],
    ending: Ending,
    start: Option<&[f64]>,
    control: &Control,
) -> Result<Option<RateRatio>> {
    let rows = rows(strata, ending);
    let sums = |group: u32| {
        let of = rows.iter().filter(|row| row.group == group);
        of.fold((0.0, 0.0), |(ended, waiting), row| (ended + row.ended, waiting + row.at_risk - row.ended))
    };
    if [0, 1].map(sums).iter().any(|(ended, waiting)| *ended <= 0.0 || *waiting <= 0.0) {
        return Ok(None);
    }
    let (cells, strata) = (named(rows.iter().map(|row| row.cell)), named(rows.iter().map(|row| row.stratum)));
    let codes = |of: &dyn Fn(&Row) -> u32, size: usize| {
        Some(Arc::new(Codes::of(&rows.iter().map(of).collect::<Vec<_>>(), size)))
    };
    let place = |names: &[u32], name: u32| names.iter().position(|one| *one == name).unwrap_or_default() as u32;
    let (width, others) = (cells.len() + strata.len(), strata.len() - 1);
    let by_cell = codes(&|row| place(&cells, row.cell), cells.len());
    let by_stratum = codes(&|row| place(&strata, row.stratum), strata.len());
    let by_group = codes(&|row| row.group, 2);
    let blocks = vec![
        Block::new(by_cell, (0..cells.len()).map(Some).collect(), vec![]),
        Block::new(
            by_stratum,
            std::iter::once(None).chain((0..others).map(|at| Some(cells.len() + at))).collect(),
            vec![],
        ),
        Block::new(by_group, vec![None, Some(width - 1)], vec![]),
    ];
    let columns = Columns::new(rows.len(), width, blocks);
    let (ended, at_risk): (Vec<f64>, Vec<f64>) = rows.iter().map(|row| (row.ended, row.at_risk)).unzip();
    let regression = Regression {
        columns: &columns,
        rooted: &ended,
        stuck: &at_risk,
        offset: &[],
        weights: &[],
        link: Link::ComplementaryLogLog,
        penalised: false,
        control,
    };
    let start = match start.filter(|start| start.len() == width) {
        Some(start) => start.to_vec(),
        None => started(&cells, &rows, width),
    };
    match regression.solve(&start, &Restriction::none(width)) {
        Ok(found) if found.converged && found.runaway.is_empty() => {
            let variance = found.information.as_ref().and_then(|one| one.covariance().last()?.last().copied());
            let log = found.coef.last().copied();
            Ok(log.zip(variance).map(|(log, variance)| RateRatio { log, se: variance.sqrt(), coef: found.coef }))
        }
        Err(Error::Interrupted) => Err(Error::Interrupted),
        _ => Ok(None),
    }
}

/// One binomial of the fit.
struct Row {
    cell: u32,
    stratum: u32,
    group: u32,
    ended: f64,
    at_risk: f64,
}

/// Ends over missed visits that were shared out leave traces of plants; fewer than this tell nothing.
const NEXT_TO_NONE: f64 = 1e-4;

/// Cells and strata in which nothing happened, or everything, say nothing of the ratio.
fn rows(strata: &[[Vec<Cell>; 2]], ending: Ending) -> Vec<Row> {
    let mut rows = Vec::new();
    for (stratum, groups) in strata.iter().enumerate() {
        let all = groups.iter().flatten().map(|cell| cell.of(ending)).sum::<f64>();
        for (group, cells) in groups.iter().enumerate().filter(|_| all > 0.0) {
            let there = cells.iter().enumerate().filter(|(_, cell)| cell.at_risk > 1e-9);
            rows.extend(there.map(|(cell, one)| Row {
                cell: cell as u32,
                stratum: stratum as u32,
                group: group as u32,
                ended: one.of(ending),
                at_risk: one.at_risk,
            }));
        }
    }
    let cells = named(rows.iter().map(|row| row.cell));
    let tells = |cell: &u32| {
        let of = rows.iter().filter(|row| row.cell == *cell);
        let (ended, at_risk) = of.fold((0.0, 0.0), |sum, row| (sum.0 + row.ended, sum.1 + row.at_risk));
        ended > NEXT_TO_NONE && ended < at_risk - NEXT_TO_NONE
    };
    let telling: Vec<u32> = cells.into_iter().filter(tells).collect();
    rows.retain(|row| telling.binary_search(&row.cell).is_ok());
    rows
}

/// Each number once, in order.
fn named(of: impl Iterator<Item = u32>) -> Vec<u32> {
    let mut found: Vec<u32> = of.collect();
    found.sort_unstable();
    found.dedup();
    found
}

/// A start at the share of each cell over all groups.
fn started(cells: &[u32], rows: &[Row], width: usize) -> Vec<f64> {
    let mut start = vec![0.0; width];
    for (entry, cell) in start.iter_mut().zip(cells) {
        let of = rows.iter().filter(|row| row.cell == *cell);
        let (ended, at_risk) = of.fold((0.0, 0.0), |sum, row| (sum.0 + row.ended, sum.1 + row.at_risk));
        *entry = (-(-ended / at_risk).ln_1p()).ln();
    }
    start
}
