//! Plants at risk between two visits, and what became of them: one trinomial per cell.

use serde::Serialize;

/// What became of plants.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
pub enum Ending {
    /// They rooted.
    Rooted,
    /// They died before they rooted.
    Dead,
    /// They were followed no further, alive and without roots.
    Waiting,
}

/// What happened between a visit and the one before.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Cell {
    /// Plants that were waiting at the visit before, and seen again.
    pub at_risk: f64,
    /// Of these, rooted at the visit.
    pub rooted: f64,
    /// Of these, dead at the visit.
    pub dead: f64,
}

impl Cell {
    /// Plants to which this happened.
    #[must_use]
    pub fn of(&self, ending: Ending) -> f64 {
        match ending {
            Ending::Rooted => self.rooted,
            Ending::Dead => self.dead,
            Ending::Waiting => self.at_risk - self.rooted - self.dead,
        }
    }

    /// The share of those at risk to which this happened; 0 where none was at risk.
    #[must_use]
    pub fn share(&self, ending: Ending) -> f64 {
        if self.at_risk > 0.0 { self.of(ending) / self.at_risk } else { 0.0 }
    }

    pub(super) fn add(&mut self, ending: Ending, count: f64) {
        match ending {
            Ending::Rooted => self.rooted += count,
            Ending::Dead => self.dead += count,
            Ending::Waiting => {}
        }
    }

    /// This cell less another.
    pub(super) fn less(&self, other: &Self) -> Self {
        Self { at_risk: self.at_risk - other.at_risk, rooted: self.rooted - other.rooted, dead: self.dead - other.dead }
    }

    /// The largest difference of any count.
    pub(super) fn farthest(&self, other: &Self) -> f64 {
        let less = self.less(other);
        less.at_risk.abs().max(less.rooted.abs()).max(less.dead.abs())
    }
}
