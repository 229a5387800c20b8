//! The treatment sum of squares as a quadratic form.

use super::deck::Deck;
use crate::math::dense::dot;

/// Treatments in several strata beyond this number would take much memory and are not tested.
const MOST_TREATMENTS: usize = 2000;

/// The treatment sum of squares as a quadratic form in the treatment totals of centred rates; fixed under re-dealing.
pub(super) enum Form {
    /// In one stratum: one over the trays of each treatment, 0 for absent ones.
    Single(Vec<f64>),
    /// In several: rows of the triangular root `L` of the information `C = sum (diag(n) - n n' / N)`, for the treatments kept.
    Several { kept: Vec<usize>, rows: Vec<Vec<f64>> },
}

impl Form {
    /// `None` without a contrast, or with more treatments in several strata than are held.
    pub(super) fn new(decks: &[Deck], treatments: usize) -> Option<Self> {
        if let [deck] = decks {
            let mut weights = vec![0.0; treatments];
            for (treatment, size) in &deck.hands {
                if let Some(weight) = weights.get_mut(*treatment) {
                    *weight = 1.0 / *size as f64;
                }
            }
            return (deck.hands.len() > 1).then_some(Self::Single(weights));
        }
        (treatments <= MOST_TREATMENTS)
            .then(|| Self::root(&information(decks, treatments)))
            .filter(|form| form.df() > 0)
    }

    /// Cholesky's root, row by row; a treatment whose contrasts with those before it are all known is left out.
    fn root(information: &[Vec<f64>]) -> Self {
        let (mut kept, mut rows): (Vec<usize>, Vec<Vec<f64>>) = (Vec::new(), Vec::new());
        for (at, line) in information.iter().enumerate() {
            let right: Vec<f64> = kept.iter().map(|place: &usize| line.get(*place).copied().unwrap_or(0.0)).collect();
            let mut row = solve(&rows, &right);
            let own = line.get(at).copied().unwrap_or(0.0);
            let left = own - dot(&row, &row);
            if left > 1e-9 * own {
                row.push(left.sqrt());
                rows.push(row);
                kept.push(at);
            }
        }
        Self::Several { kept, rows }
    }

    pub(super) fn df(&self) -> usize {
        match self {
            Self::Single(weights) => weights.iter().filter(|weight| **weight > 0.0).count().saturating_sub(1),
            Self::Several { kept, .. } => kept.len(),
        }
    }

    pub(super) fn square(&self, totals: &[f64]) -> f64 {
        match self {
            Self::Single(weights) => weights.iter().zip(totals).map(|(weight, total)| weight * total * total).sum(),
            Self::Several { kept, rows } => {
                let right: Vec<f64> = kept.iter().map(|at| totals.get(*at).copied().unwrap_or(0.0)).collect();
                let solved = solve(rows, &right);
                dot(&solved, &solved)
            }
        }
    }
}

/// `L^-1 b` by substitution; row `i` of the triangle holds `i + 1` entries.
fn solve(rows: &[Vec<f64>], right: &[f64]) -> Vec<f64> {
    let mut found: Vec<f64> = Vec::with_capacity(right.len());
    for (row, value) in rows.iter().zip(right) {
        let own = row.last().copied().unwrap_or(1.0);
        found.push((value - dot(row, &found)) / own);
    }
    found
}

fn information(decks: &[Deck], treatments: usize) -> Vec<Vec<f64>> {
    let mut found = vec![vec![0.0; treatments]; treatments];
    for deck in decks {
        let n = deck.rates.len() as f64;
        for (first, size) in &deck.hands {
            for (second, other) in &deck.hands {
                let own = if first == second { *size as f64 } else { 0.0 };
                if let Some(entry) = found.get_mut(*first).and_then(|row| row.get_mut(*second)) {
                    *entry += own - *size as f64 * *other as f64 / n;
                }
            }
        }
    }
    found
}
