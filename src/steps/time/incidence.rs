//! The share to which each of two things has happened by each visit, where the one rules out the other.

use super::table::{Cell, Ending};

/// Shares of all that were started, by a visit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Incidence {
    /// Rooted so far.
    pub rooted: f64,
    /// Dead so far.
    pub dead: f64,
    /// Neither.
    pub waiting: f64,
}

impl Incidence {
    /// One of the shares.
    #[must_use]
    pub fn of(&self, ending: Ending) -> f64 {
        match ending {
            Ending::Rooted => self.rooted,
            Ending::Dead => self.dead,
            Ending::Waiting => self.waiting,
        }
    }
}

/// Cumulative incidence after each cell: with `n` at risk, `r` rooted and `d` dead in it, `rooted += waiting r / n`, `dead += waiting d / n`,
/// `waiting *= 1 - (r + d) / n`. It ends where nobody is followed any longer. Without deaths `waiting` is the product-limit estimate.
///
/// # References
/// Aalen and Johansen 1978, Scand. J. Statist. 5:141-150; Kaplan and Meier 1958, JASA 53:457-481.
///
/// ```
/// use rootling::steps::{VisitCell, incidence};
/// // Of 100, 40 root and 30 die; of the 30 that wait, 5 root.
/// let cells = [(100.0, 40.0, 30.0), (30.0, 5.0, 0.0)];
/// let cells = cells.map(|(at_risk, rooted, dead)| VisitCell { at_risk, rooted, dead });
/// let end = incidence(&cells)[1];
/// assert_eq!((end.rooted, end.dead, end.waiting), (0.45, 0.3, 0.25));
/// ```
#[must_use]
pub fn incidence(cells: &[Cell]) -> Vec<Incidence> {
    let mut now = Incidence { rooted: 0.0, dead: 0.0, waiting: 1.0 };
    let mut found = Vec::with_capacity(cells.len());
    for cell in cells {
        if cell.at_risk <= 0.0 && now.waiting > 1e-12 {
            break;
        }
        let (rooted, dead) = (cell.share(Ending::Rooted), cell.share(Ending::Dead));
        now.rooted += now.waiting * rooted;
        now.dead += now.waiting * dead;
        now.waiting *= 1.0 - rooted - dead;
        found.push(now);
    }
    found
}

/// The variance of each [`incidence`] of `ending` for plants that stand alone.
///
/// With `F` the share by the visit asked for, `S` the share waiting before cell `j`, `n` at risk there, `d` ends of either kind and `e` of
/// this kind: `sum ((F - F_j)^2 d / (n (n - d)) + S^2 (n - e) e / n^3 - 2 (F - F_j) S e / n^2)`. Without plants that leave early it is
/// `F (1 - F) / n`.
///
/// # References
/// Marubini and Valsecchi 1995, Analysing Survival Data from Clinical Trials and Observational Studies, section 10.4 (from memory).
#[must_use]
pub fn incidence_variance(cells: &[Cell], ending: Ending) -> Vec<f64> {
    let found = incidence(cells);
    // Of each cell: what stands beside the squared, the single and no power of F.
    let (mut squared, mut single, mut plain) = (0.0, 0.0, 0.0);
    let (mut waiting, mut variances) = (1.0, Vec::with_capacity(found.len()));
    for (cell, now) in cells.iter().zip(&found) {
        let (n, e) = (cell.at_risk, cell.of(ending));
        let d = cell.rooted + cell.dead;
        let here = now.of(ending);
        if n > 0.0 {
            // Where none is left waiting nothing comes after, so that F - F_j is 0.
            let spread = if n - d > 1e-9 * n { d / (n * (n - d)) } else { 0.0 };
            let slope = waiting * e / (n * n);
            squared += spread;
            single += -2.0 * here * spread - 2.0 * slope;
            plain += here * here * spread + 2.0 * here * slope + waiting * waiting * (n - e) * e / (n * n * n);
        }
        waiting = now.waiting;
        variances.push((here * here * squared + here * single + plain).max(0.0));
    }
    variances
}
