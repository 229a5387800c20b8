//! What is known of shares and rates, from trays left out one by one; never more than plants alone would tell.

use super::histories::{Ending, History, Tally};
use super::incidence::{Incidence, incidence, incidence_variance};
use super::table::Cell;
use crate::math::distributions::{normal, student_t};
use crate::rates::wilson;
use crate::steps::without_one::standard_error;

/// A level's trays: who was started, what became of them, and what is left of it without each tray.
pub(super) struct Followed {
    /// Plants at risk and ends of all trays.
    pub(super) table: Vec<Cell>,
    /// The same without each tray; empty where there are no trays.
    pub(super) without: Vec<Vec<Cell>>,
    /// Shares so far, by visit.
    pub(super) shares: Vec<Incidence>,
    /// Shares so far without each tray.
    shares_without: Vec<Vec<Incidence>>,
    /// Plants started.
    started: f64,
    /// Plants of a tray.
    size: f64,
}

/// A share with its limits; they are open where trays were recorded and fewer than two are followed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Limits {
    pub(super) value: f64,
    pub(super) ends: Option<(f64, f64)>,
}

/// The correlation of plants of a tray that plants are held to where hardly anything happened: this over 2 and the plants to which it did.
const CORRELATION: f64 = 0.1;

impl Followed {
    /// Follows the histories of each tray of a level; `trays` is false where plants stand alone.
    pub(super) fn of(histories: &[&[History]], cells: usize, trays: bool) -> Self {
        let mut tally = Tally::of(cells, histories.iter().copied());
        let table = tally.table();
        let mut without = Vec::new();
        if trays && histories.len() > 1 {
            for tray in histories {
                tally.add(tray, -1.0);
                without.push(tally.table());
                tally.add(tray, 1.0);
            }
        }
        let started: f64 = histories.iter().copied().flatten().map(|one| one.count).sum();
        let shares_without = without.iter().map(|table| incidence(table)).collect();
        let size = if trays { started / histories.len().max(1) as f64 } else { 1.0 };
        Self { shares: incidence(&table), shares_without, table, without, started, size }
    }

    /// The share by each visit with limits: the wider of Wilson's on the plants that would say as much as the trays do, by t, and of
    /// Wilson's on plants that stand alone. Degrees of freedom are those of trays less one where none are given.
    ///
    /// # References
    /// Wilson 1927; Korn and Graubard 1998; Tukey 1958 for what is learnt by leaving out trays.
    pub(super) fn limits(&self, ending: Ending, confidence: f64, trays: bool, df: Option<f64>) -> Vec<Limits> {
        let tail = 0.5 * (1.0 - confidence);
        let variances = incidence_variance(&self.table, ending);
        let mut known = self.started;
        let mut found = Vec::with_capacity(self.shares.len());
        for (at, (now, variance)) in self.shares.iter().zip(&variances).enumerate() {
            let value = now.of(ending).clamp(0.0, 1.0);
            let alone = if *variance > 0.0 { value * (1.0 - value) / variance } else { known };
            let of_plants = |plants: f64| wilson(value * plants, plants, normal::isf(tail));
            let ends = if trays {
                self.spread(at, ending).map(|se| {
                    let events = alone * value.min(1.0 - value);
                    let plants = of_plants(alone / (1.0 + (self.size - 1.0) * CORRELATION / (2.0 + events)));
                    if se <= 0.0 {
                        return plants;
                    }
                    let critical = student_t::quantile(1.0 - tail, df.unwrap_or(self.without.len() as f64 - 1.0));
                    let effective = value * (1.0 - value) / (se * se);
                    let (low, high) = wilson(value * effective, effective, critical);
                    (low.min(plants.0), high.max(plants.1))
                })
            } else {
                Some(of_plants(alone))
            };
            found.push(Limits { value, ends });
            if let Some(cell) = self.table.get(at) {
                let next = self.table.get(at + 1).map_or(0.0, |next| next.at_risk);
                known -= (cell.at_risk - cell.rooted - cell.dead - next).max(0.0);
            }
        }
        found
    }

    /// The standard error of a share by leaving out trays; None where some tray is all that is followed.
    pub(super) fn spread(&self, at: usize, ending: Ending) -> Option<f64> {
        let left: Vec<Option<f64>> =
            self.shares_without.iter().map(|shares| shares.get(at).map(|one| one.of(ending))).collect();
        standard_error(&left)
    }
}

/// Degrees of freedom of a sum of two variances, each with those of its units less one.
///
/// # References
/// Welch 1947, Biometrika 34:28-35.
pub(super) fn degrees(variances: [f64; 2], units: [usize; 2]) -> f64 {
    let [one, two] = variances;
    let [first, second] = units.map(|units| units as f64 - 1.0);
    if one + two <= 0.0 { first + second } else { (one + two).powi(2) / (one * one / first + two * two / second) }
}

/// The limits of a difference of two shares, second minus first, from the limits of each.
///
/// # References
/// Newcombe 1998, Stat. Med. 17:873-890, method 10; Zou and Donner 2008, Stat. Med. 27:1693-1702.
pub(super) fn difference(first: Limits, second: Limits) -> Limits {
    let value = second.value - first.value;
    let ends = first.ends.zip(second.ends).map(|((l1, u1), (l2, u2))| {
        let down = ((second.value - l2).powi(2) + (u1 - first.value).powi(2)).sqrt();
        let up = ((u2 - second.value).powi(2) + (first.value - l1).powi(2)).sqrt();
        ((value - down).max(-1.0), (value + up).min(1.0))
    });
    Limits { value, ends }
}
