//! Trays of a trial as units of a response: what each holds, its sum and its sum of squares.

use super::numbers::MeanOf;
use crate::error::{ResponseError, Result};
use crate::trial::{Measured, ResponseKind, Trial, UnitKind, Units};

/// A unit of one or several trays.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct Held {
    /// Cuttings that the mean is over.
    pub(super) size: f64,
    /// The sum over them.
    pub(super) total: f64,
    /// The sum of squares.
    pub(super) squares: f64,
    pub(super) stuck: u64,
    pub(super) rooted: u64,
    pub(super) measured: u64,
    /// Trays in which cuttings rooted and none was measured.
    pub(super) left_out: u64,
    /// Trays that enter.
    pub(super) trays: u64,
}

impl Held {
    /// The mean, where there is one.
    pub(super) fn mean(&self) -> Option<f64> {
        (self.size > 0.0).then(|| self.total / self.size)
    }
}

/// A response of a trial whose trays count.
#[derive(Debug, Clone, Copy)]
pub(super) struct Gathered<'a> {
    pub(super) units: &'a Units,
    pub(super) measured: &'a Measured,
}

impl<'a> Gathered<'a> {
    /// The response, which has to have means and trays.
    pub(super) fn of(trial: &'a Trial, response: &str) -> Result<Self> {
        let (units, measured) = (trial.units(), trial.measured(response)?);
        let name = response.to_owned();
        if measured.response.kind == ResponseKind::Grade {
            return Err(ResponseError::GradesHaveNoMean { name }.into());
        }
        if units.kind != UnitKind::Tray {
            return Err(ResponseError::NoTrays { name }.into());
        }
        if measured.values.is_empty() {
            let rooted = units.rooted.iter().any(|rooted| *rooted > 0);
            return Err(ResponseError::NothingMeasured { name, rooted }.into());
        }
        Ok(Self { units, measured })
    }

    /// What some trays hold together, for means over `of`.
    pub(super) fn held(&self, trays: &[usize], of: MeanOf) -> Held {
        let mut held = Held::default();
        for tray in trays {
            let (Some(count), (values, times)) = (self.units.count(*tray), self.measured.of(*tray)) else { continue };
            let number: u64 = times.iter().sum();
            held.stuck += count.stuck;
            held.rooted += count.rooted;
            held.measured += number;
            if number == 0 && count.rooted > 0 {
                held.left_out += 1;
                continue;
            }
            held.trays += 1;
            // Rooted cuttings that were not measured are taken to be like those that were.
            let each = match of {
                MeanOf::Rooted => 1.0,
                MeanOf::Stuck if number > 0 => count.rooted as f64 / number as f64,
                MeanOf::Stuck => 0.0,
            };
            held.size += match of {
                MeanOf::Rooted => number as f64,
                MeanOf::Stuck => count.stuck as f64,
            };
            for (value, times) in values.iter().zip(times) {
                held.total += each * value * *times as f64;
                held.squares += each * value * value * *times as f64;
            }
        }
        held
    }

    /// What one more rooted cutting, or one more of what is counted, would add to a level that has none.
    pub(super) fn least(&self) -> f64 {
        if self.measured.response.kind == ResponseKind::Count {
            return 1.0;
        }
        let number: u64 = self.measured.times.iter().sum();
        let total: f64 = (0..self.measured.len()).map(|unit| self.measured.total(unit)).sum();
        total / number.max(1) as f64
    }
}
