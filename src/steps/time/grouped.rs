//! How much faster one group goes than another, from what happened between visits: proportional rates of two endings that rule each other out.

use std::collections::{BTreeMap, BTreeSet};

use super::table::{Cell, Ending};
use super::trinomial::{Counts, Trinomials};
use crate::control::Control;
use crate::error::{Error, Result};
use crate::math::search::approach;

/// The ratio of the rates of two groups.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RateRatio {
    /// Its logarithm, second group over first.
    pub log: f64,
    /// Its standard error for plants that stand alone.
    pub se: f64,
}

/// The ratios of both endings, fitted together.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Ratios {
    of: [Option<RateRatio>; 2],
    columns: Vec<(Column, usize)>,
    coef: Vec<f64>,
}

impl Ratios {
    pub(super) fn of(&self, ending: Ending) -> Option<RateRatio> {
        self.of.get(usize::from(ending == Ending::Dead)).copied().flatten()
    }
}

/// The ratio of the rates of `ending`, of plants still waiting, second group over first; pairs of tables are strata.
///
/// Between two visits a plant roots, dies or waits: a trinomial. With rates that stay in proportion between them, and `a` and `b` their sums
/// over that time, `1 - exp(-a - b)` of those at risk come to an end, `a / (a + b)` of these by roots. Each of `ln a` and `ln b` is a sum of a
/// term for the visit, one for the stratum and one for the group. Without deaths that is the model of proportional rates in grouped time,
/// `ln(-ln(1 - h)) = visit + stratum + group`. Conditional binomials of each ending alone would take a plant that died between two visits for
/// one that was at risk of rooting all the time, so with wide visits a level that dies more would seem to root more slowly. None where one of
/// the groups shows nothing of the kind, or nobody in it is left waiting.
///
/// # Errors
/// [`Error::Interrupted`] when stopped.
///
/// # References
/// Prentice and Gloeckler 1978, Biometrics 34:57-67; Kalbfleisch and Prentice 2002, The Statistical Analysis of Failure Time Data, chapter 8,
/// for rates of several endings (from memory).
///
/// ```
/// use rootling::control::Control;
/// use rootling::steps::{Ending, VisitCell, rate_ratio};
/// // One visit: of 100, 40 come to an end in either group; 30 and 20 of these have rooted.
/// let cell = |rooted, dead| vec![VisitCell { at_risk: 100.0, rooted, dead }];
/// let found = rate_ratio(&[[cell(30.0, 10.0), cell(20.0, 20.0)]], Ending::Rooted, &Control::new())?;
/// assert!(found.is_some_and(|ratio| (ratio.log.exp() - 2.0 / 3.0).abs() < 1e-9));
/// # Ok::<(), rootling::Error>(())
/// ```
pub fn rate_ratio(strata: &[[Vec<Cell>; 2]], ending: Ending, control: &Control) -> Result<Option<RateRatio>> {
    Ok(ratios(strata, None, control)?.and_then(|found| found.of(ending)))
}

/// The search ends here: a change of a thousandth of a standard error from a near start, rounding else.
const NEARLY: f64 = 1e-7;
const EXACTLY: f64 = 1e-18;

/// Both ratios; `near` is a fit to nearly the same plants, from which the search starts.
pub(super) fn ratios(strata: &[[Vec<Cell>; 2]], near: Option<&Ratios>, control: &Control) -> Result<Option<Ratios>> {
    let rows = telling(rows(strata));
    let waits = |group: u32| rows.iter().filter(|row| row.group == group).map(|row| row.waiting).sum::<f64>();
    if [0, 1].map(waits).iter().any(|waiting| *waiting <= NEXT_TO_NONE) {
        return Ok(None);
    }
    let laid = Laid::out(&rows);
    let start = match near.filter(|near| near.columns == laid.columns) {
        Some(near) => near.coef.clone(),
        None => laid.started(&rows),
    };
    let free: Vec<usize> = (0..start.len()).collect();
    let mut law = Trinomials { rows: laid.rows, size: start.len() };
    let enough = if near.is_some() { NEARLY } else { EXACTLY };
    let top = match approach(&mut law, &start, &free, enough, control) {
        Ok(top) if top.converged => top,
        Err(Error::Interrupted) => return Err(Error::Interrupted),
        _ => return Ok(None),
    };
    let of = [0, 1].map(|ending| {
        let place = laid.columns.iter().position(|column| *column == (Column::Group, ending))?;
        // Fits from a near start serve their estimate alone.
        let se = if near.is_some() { 0.0 } else { law.standard_error(&top.at, place)? };
        Some(RateRatio { log: *top.at.get(place)?, se })
    });
    Ok(Some(Ratios { of, columns: laid.columns, coef: top.at }))
}

/// A term of the logarithm of a rate; visits first, since most terms are theirs and none of them meets another.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Column {
    Visit(u32),
    Stratum(u32),
    Group,
}

/// Plants of one group in one stratum between two visits.
#[derive(Debug, Clone, Copy)]
struct Row {
    visit: u32,
    stratum: u32,
    group: u32,
    ended: [f64; 2],
    waiting: f64,
}

/// Ends over missed visits that were shared out leave traces of plants; fewer than this tell nothing.
const NEXT_TO_NONE: f64 = 1e-4;

fn rows(strata: &[[Vec<Cell>; 2]]) -> Vec<Row> {
    let mut rows = Vec::new();
    for (stratum, groups) in strata.iter().enumerate() {
        for (group, cells) in groups.iter().enumerate() {
            let there = cells.iter().enumerate().filter(|(_, cell)| cell.at_risk > 1e-9);
            rows.extend(there.map(|(visit, one)| Row {
                visit: visit as u32,
                stratum: stratum as u32,
                group: group as u32,
                ended: [one.rooted, one.dead],
                waiting: (one.at_risk - one.rooted - one.dead).max(0.0),
            }));
        }
    }
    rows
}

/// Visits and strata in which nothing happened, or all came to an end, say nothing of the ratio.
fn telling(mut rows: Vec<Row>) -> Vec<Row> {
    loop {
        let before = rows.len();
        for key in [(|row: &Row| row.visit) as fn(&Row) -> u32, |row| row.stratum] {
            let mut sums: BTreeMap<u32, (f64, f64)> = BTreeMap::new();
            for row in &rows {
                let sum = sums.entry(key(row)).or_default();
                *sum = (sum.0 + row.ended.iter().sum::<f64>(), sum.1 + row.waiting);
            }
            let tells = |sum: &(f64, f64)| sum.0 > NEXT_TO_NONE && sum.1 > NEXT_TO_NONE;
            rows.retain(|row| sums.get(&key(row)).is_some_and(tells));
        }
        if rows.len() == before {
            return rows;
        }
    }
}

/// What of the model is there to be fitted.
struct Laid {
    columns: Vec<(Column, usize)>,
    rows: Vec<Counts>,
}

impl Laid {
    fn out(rows: &[Row]) -> Self {
        // Where an ending happens: a visit, a stratum, a group without it has a rate of 0.
        let happens = [0, 1].map(|ending| {
            let mut sums: BTreeMap<(usize, u32), f64> = BTreeMap::new();
            for row in rows {
                let count = row.ended.get(ending).copied().unwrap_or_default();
                for key in [(0, row.visit), (1, row.stratum), (2, row.group)] {
                    *sums.entry(key).or_default() += count;
                }
            }
            sums.into_iter().filter(|(_, sum)| *sum > NEXT_TO_NONE).map(|(key, _)| key).collect::<BTreeSet<_>>()
        });
        let mut columns = Vec::new();
        for (ending, there) in happens.iter().enumerate() {
            columns.extend(there.iter().filter(|key| key.0 == 0).map(|key| (Column::Visit(key.1), ending)));
            columns.extend(there.iter().filter(|key| key.0 == 1).skip(1).map(|key| (Column::Stratum(key.1), ending)));
            columns.extend((there.iter().filter(|key| key.0 == 2).count() == 2).then_some((Column::Group, ending)));
        }
        columns.sort_unstable();
        let place = |column: Column, ending: usize| columns.binary_search(&(column, ending)).ok();
        let counts = |row: &Row| Counts {
            terms: [0, 1].map(|ending| {
                let there = happens.get(ending)?;
                let all = [(0, row.visit), (1, row.stratum), (2, row.group)].iter().all(|key| there.contains(key));
                let group = if row.group == 1 { place(Column::Group, ending) } else { None };
                all.then(|| {
                    [place(Column::Visit(row.visit), ending), place(Column::Stratum(row.stratum), ending), group]
                })
            }),
            ended: row.ended,
            waiting: row.waiting,
        };
        let rows = rows.iter().map(counts).filter(|row| row.terms.iter().any(Option::is_some)).collect();
        Self { columns, rows }
    }

    /// A start at the share of each visit over all groups and strata.
    fn started(&self, rows: &[Row]) -> Vec<f64> {
        let mut sums: BTreeMap<u32, ([f64; 2], f64)> = BTreeMap::new();
        for row in rows {
            let sum = sums.entry(row.visit).or_default();
            sum.0 = [0, 1].map(|at| sum.0.get(at).unwrap_or(&0.0) + row.ended.get(at).unwrap_or(&0.0));
            sum.1 += row.waiting;
        }
        let begun = |(column, ending): &(Column, usize)| -> Option<f64> {
            let Column::Visit(visit) = column else { return None };
            let (ended, waiting) = sums.get(visit)?;
            let all: f64 = ended.iter().sum();
            Some((((all + waiting) / waiting).ln() * ended.get(*ending)? / all).ln())
        };
        self.columns.iter().map(|column| begun(column).unwrap_or(0.0)).collect()
    }
}
