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

/// What a tray has more of the share by visit `at` than the plants of its place give it, in plants: its part of the first-order change of
/// the incidence, times all started. Of a tray that is followed to the visit it is its ends less its plants times the share.
///
/// # References
/// Marubini and Valsecchi 1995, chapter 10 (from memory), for the derivatives that the variance rests on.
pub(super) fn share_score(tray: &[Cell], whole: &[Cell], ending: Ending, at: usize) -> f64 {
    let shares = incidence(whole);
    let Some(end) = shares.get(at).or(shares.last()).map(|now| now.of(ending)) else { return 0.0 };
    let all = whole.first().map_or(0.0, |cell| cell.at_risk);
    let (mut waiting, mut score) = (1.0, 0.0);
    for ((own, cell), now) in tray.iter().zip(whole).zip(&shares).take(at + 1) {
        if cell.at_risk > 0.0 {
            let left = 1.0 - cell.share(Ending::Rooted) - cell.share(Ending::Dead);
            let later = if left > 1e-12 { (end - now.of(ending)) / left } else { 0.0 };
            let more = |ending: Ending| own.of(ending) - own.at_risk * cell.share(ending);
            let both = more(Ending::Rooted) + more(Ending::Dead);
            score += all / cell.at_risk * (waiting * more(ending) - later * both);
        }
        waiting = now.waiting;
    }
    score
}

#[cfg(test)]
mod tests {
    use super::{Cell, Ending, incidence, share_score};

    fn cells(of: &[[f64; 3]]) -> Vec<Cell> {
        of.iter().map(|[at_risk, rooted, dead]| Cell { at_risk: *at_risk, rooted: *rooted, dead: *dead }).collect()
    }

    #[test]
    fn a_trays_score_is_the_slope_of_the_share() {
        // The share with a trace more of the tray's plants, over that trace, for plants that leave early as well.
        let (tray, others) = (
            cells(&[[20.0, 6.0, 1.0], [11.0, 2.0, 3.0], [6.0, 2.0, 1.0]]),
            cells(&[[30.0, 4.0, 2.0], [22.0, 7.0, 1.0], [9.0, 1.0, 2.0]]),
        );
        let with = |weight: f64| -> Vec<Cell> {
            let sum = |(one, two): (&Cell, &Cell)| Cell {
                at_risk: one.at_risk * weight + two.at_risk,
                rooted: one.rooted * weight + two.rooted,
                dead: one.dead * weight + two.dead,
            };
            tray.iter().zip(&others).map(sum).collect()
        };
        let whole = with(1.0);
        for ending in [Ending::Rooted, Ending::Dead] {
            for at in 0..3 {
                let share = |weight: f64| incidence(&with(weight)).get(at).map_or(0.0, |now| now.of(ending));
                let slope = (share(1.0 + 1e-6) - share(1.0 - 1e-6)) / 2e-6 * 50.0;
                let score = share_score(&tray, &whole, ending, at);
                assert!((score - slope).abs() < 1e-7, "{score} {slope}");
                let other = share_score(&others, &whole, ending, at);
                assert!((score + other).abs() < 1e-10, "{score} {other}");
            }
        }
        // All followed to the end: ends of the tray less its plants times the share.
        let followed = cells(&[[20.0, 6.0, 1.0], [13.0, 2.0, 3.0]]);
        let all = cells(&[[50.0, 10.0, 3.0], [37.0, 9.0, 4.0]]);
        assert!((share_score(&followed, &all, Ending::Rooted, 1) - (8.0 - 20.0 * 19.0 / 50.0)).abs() < 1e-10);
    }
}
